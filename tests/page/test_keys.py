"""The page worked by keys alone in a real browser, at three widths: what has the focus is always seen."""

from __future__ import annotations

import re

import pytest

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = pytest.mark.xdist_group("browser")
WIDTHS = (1280, 1920, 390)
FOCUSED = """(element) => {
  if (element !== document.activeElement) return null;
  const [box, style] = [element.getBoundingClientRect(), getComputedStyle(element)];
  return { seen: box.top < innerHeight && box.bottom > 0 && box.left >= 0 && box.right <= innerWidth, outline: style.outlineStyle, width: style.outlineWidth };
}"""


def go_to(tab, wanted, back: bool = False) -> None:
    """Tab until it has the focus, which must be on the screen and drawn round."""
    for _ in range(150):
        found = wanted.evaluate(FOCUSED)
        if found:
            assert found == {"seen": True, "outline": "solid", "width": "3px"}
            return
        tab.keyboard.press("Shift+Tab" if back else "Tab")
    raise AssertionError("150 steps with the Tab key do not lead there")


def open_band(tab, question: int) -> None:
    button = tab.locator(f"#question-{question} button")
    go_to(tab, button)
    tab.keyboard.press("Enter")
    playwright.expect(button).to_have_attribute("aria-expanded", "true")


@pytest.fixture
def tab(opened, planned, request):
    """The page at a width; the job is put back afterwards."""
    text = planned.job.read_text()
    yield opened(planned.address, request.param)
    if planned.job.read_text() != text:
        planned.job.write_text(text)
    planned.until(lambda s: not s["work"]["running"] and all(b["by"] == "plan" for b in s["bands"]), 400)


@pytest.mark.parametrize("tab", WIDTHS, indirect=True)
def test_values_are_changed_taken_back_and_a_plan_stopped_by_keys(tab, planned):
    expect = playwright.expect
    expect.set_options(timeout=60_000)
    text = planned.job.read_text()
    open_band(tab, 1)
    skin = tab.get_by_label("skin", exact=True)
    go_to(tab, skin)
    tab.keyboard.press("Control+a")
    tab.keyboard.type("1.5")
    tab.keyboard.press("Enter")
    undo, redo = tab.locator("#undo"), tab.locator("#redo")
    expect(undo).to_have_attribute("aria-label", "Undo: field[1].skin")
    assert planned.job.read_text() == text.replace("skin = 1.2", "skin = 1.5")
    stop = tab.get_by_role("button", name="Stop", exact=True)
    expect(stop).to_be_visible()
    go_to(tab, stop, back=True)
    tab.keyboard.press("Enter")
    expect(tab.locator("#work")).to_contain_text("Stopped; quick answers only.")
    pattern = tab.get_by_label("pattern", exact=True)
    go_to(tab, pattern)
    tab.keyboard.press("ArrowDown")
    expect(undo).to_have_attribute("aria-label", re.compile(r"field\[1\].pocket"))
    assert 'pocket = "triangle"' not in planned.job.read_text()
    go_to(tab, undo, back=True)
    tab.keyboard.press("Enter")
    expect(pattern).to_have_value("triangle")
    tab.keyboard.press("Enter")
    expect(skin).to_have_value("1.2")
    assert planned.job.read_text() == text
    go_to(tab, redo)
    tab.keyboard.press("Enter")
    expect(skin).to_have_value("1.5")
    go_to(tab, undo, back=True)
    tab.keyboard.press("Enter")
    expect(skin).to_have_value("1.2")
    assert planned.job.read_text() == text


@pytest.mark.parametrize("tab", WIDTHS, indirect=True)
def test_the_pose_is_moved_and_a_program_played_by_keys(tab, planned):
    expect = playwright.expect
    text = planned.job.read_text()
    open_band(tab, 2)
    bed = tab.locator("figure[data-picture=bed]")
    expect(bed).to_have_attribute("data-ready", re.compile("."), timeout=60_000)
    x = bed.get_by_label("datum end at X")
    before = float(x.input_value())
    go_to(tab, bed.locator(".pose"))
    for _ in range(3):
        tab.keyboard.press("ArrowRight")
    expect(x).to_have_value(str(round(before + 3, 3)).removesuffix(".0"))
    tab.keyboard.press("Escape")
    assert float(x.input_value()) == before
    tab.keyboard.press("ArrowRight")
    tab.keyboard.press("Enter")
    expect(tab.locator("#undo")).to_have_attribute("aria-label", re.compile("placing"), timeout=60_000)
    assert "at = [" in planned.job.read_text().replace(text, "")
    tab.keyboard.press("Control+z")
    expect(tab.locator("#undo")).not_to_have_attribute("aria-label", re.compile("placing"), timeout=60_000)
    assert planned.job.read_text() == text
    open_band(tab, 5)
    figure = tab.locator("figure[data-picture=playback]")
    expect(figure).to_have_attribute("data-ready", re.compile("."), timeout=90_000)
    slider = figure.get_by_role("slider")
    all_cut = int(slider.get_attribute("aria-valuenow"))
    go_to(tab, figure.get_by_role("button", name="Run"))
    tab.keyboard.press("Enter")
    for _ in range(200):
        if 0 < int(slider.get_attribute("aria-valuenow")) < all_cut:
            break
        tab.wait_for_timeout(50)
    tab.keyboard.press("Enter")
    expect(figure.get_by_role("button", name="Run")).to_be_visible()
    assert 0 < int(slider.get_attribute("aria-valuenow")) < all_cut
    go_to(tab, slider)
    tab.keyboard.press("End")
    assert slider.get_attribute("aria-valuenow") == slider.get_attribute("aria-valuemax")
    tab.keyboard.press("ArrowLeft")
    assert int(slider.get_attribute("aria-valuenow")) == int(slider.get_attribute("aria-valuemax")) - 1
