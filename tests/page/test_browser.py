"""The page in a real browser: opened, changed, broken from outside, mended, worked by keys alone, at three widths."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_help import Page, copy_job, serve

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = pytest.mark.xdist_group("browser")
WIDTHS = (390, 1280, 1920)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    yield from serve(copy_job(tmp_path_factory.mktemp("browser")), "--plan-when-asked")


@pytest.fixture
def sheet(chromium, served) -> Iterator[object]:
    """The page at 1280 px with its first answers there; what the console said must be nothing."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page, said = context.new_page(), []
    page.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: said.append(str(e)))
    page.set_default_timeout(60_000)
    page.goto(served.address)
    playwright.expect.set_options(timeout=60_000)
    band = page.locator(".band").first
    playwright.expect(band).to_have_attribute("data-status", "fresh")
    yield page
    context.close()
    # Software rendering reads pixels back slowly and says so; that is this machine's, not the page's.
    assert [s for s in said if "GPU stall" not in s and "swiftshader" not in s.lower()] == []


def figure(sheet, name: str) -> float:
    """The value of a finding as it stands on the screen."""
    row = sheet.locator("#inside-1 .findings tr").filter(
        has=sheet.get_by_role("rowheader", name=name, exact=True)
    )
    return float(row.locator(".figure").first.inner_text().split()[0])


def open_band(sheet, question: int) -> None:
    sheet.locator(f"#question-{question} button").click()


def test_changing_the_skin_changes_the_figures_and_the_file(sheet, served):
    expect = playwright.expect
    open_band(sheet, 1)
    before, text = figure(sheet, "twist kept"), served.job.read_text()
    skin = sheet.get_by_label("skin", exact=True)
    skin.fill("2.5")
    skin.press("Enter")
    expect(sheet.locator("#undo")).to_have_attribute("aria-label", "Undo: field[1].skin")
    expect(sheet.locator(".band").first).to_have_attribute("data-status", "fresh")
    assert figure(sheet, "twist kept") > before + 3
    assert served.job.read_text() == text.replace("skin = 1.2", "skin = 2.5")
    sheet.locator("#undo").click()
    expect(skin).to_have_value("1.2")
    assert served.job.read_text() == text


def test_moving_the_slider_tries_and_letting_go_writes(sheet, served):
    expect = playwright.expect
    open_band(sheet, 1)
    text = served.job.read_text()
    slider = sheet.get_by_label("isogrid: skin, slider")
    box = slider.bounding_box()
    at = (box["x"] + 0.25 * box["width"], box["y"] + box["height"] / 2)
    sheet.mouse.move(*at)
    sheet.mouse.down()
    sheet.mouse.move(at[0] + 0.3 * box["width"], at[1], steps=5)
    expect(sheet.locator(".band").first).to_have_attribute("data-status", "tried")
    assert served.job.read_text() == text
    sheet.mouse.up()
    expect(sheet.locator("#undo")).to_be_enabled()
    expect(sheet.locator(".band").first).to_have_attribute("data-status", "fresh")
    assert served.job.read_text() != text
    sheet.locator("#undo").click()
    expect(sheet.get_by_label("skin", exact=True)).to_have_value("1.2")
    assert served.job.read_text() == text


def test_a_moved_slider_tells_the_mass_before_the_rest(sheet, served):
    expect = playwright.expect
    open_band(sheet, 1)
    mass, twist = figure(sheet, "mass out"), figure(sheet, "twist kept")
    held = []

    def hold(route):
        """Keeps back what was asked for after the first figures."""
        if route.request.post_data_json["first"]:
            route.continue_()
        else:
            held.append(route)

    sheet.route("**/try", hold)
    slider = sheet.get_by_label("isogrid: skin, slider")
    slider.evaluate("(s) => { s.value = 2.5; s.dispatchEvent(new Event('input')); }")
    expect(sheet.locator(".band").first.locator(".note")).to_contain_text("the rest follows")
    assert figure(sheet, "mass out") < mass - 0.05
    assert figure(sheet, "twist kept") == twist
    sheet.wait_for_timeout(100)
    held.pop().continue_()
    expect(sheet.locator(".band").first.locator(".note")).to_have_text("Tried, not yet written")
    assert figure(sheet, "twist kept") > twist + 3
    sheet.unroute("**/try")
    slider.evaluate("(s) => { s.value = 1.2; s.dispatchEvent(new Event('change')); }")


def test_a_mistake_from_outside_is_shown_with_its_line_and_mended(sheet, served):
    expect = playwright.expect
    text = served.job.read_text()
    headline = sheet.locator(".headline").first.inner_text()
    served.job.write_text(text.replace("rib = 5", "rip = 5"))
    expect(sheet.get_by_role("alert")).to_contain_text("job.toml, line 27: field[1].rip: unknown key")
    expect(sheet.locator(".band").first.locator(".note")).to_have_text("As of before this mistake.")
    assert sheet.locator(".headline").first.inner_text() == headline
    served.job.write_text(text)
    expect(sheet.get_by_role("alert")).to_be_hidden()
    expect(sheet.locator(".band").first).to_have_attribute("data-status", "fresh")


def test_a_value_out_of_range_is_refused_in_words(sheet, served):
    expect = playwright.expect
    open_band(sheet, 1)
    text = served.job.read_text()
    rib = sheet.get_by_label("rib", exact=True)
    rib.fill("-4")
    rib.press("Enter")
    expect(sheet.get_by_role("alert")).to_contain_text("out of range")
    assert served.job.read_text() == text
    expect(rib).to_have_value("5")


def test_both_first_pictures_are_drawn(sheet):
    expect = playwright.expect
    open_band(sheet, 1)
    member = sheet.locator("figure[data-picture=member]")
    expect(member).to_have_attribute("data-ready", served_digest(sheet))
    expect(member.locator("canvas")).to_have_attribute("data-drawn", re.compile(r"[1-9]"))
    sheet.wait_for_timeout(500)
    drawn = int(member.locator("canvas").get_attribute("data-drawn"))
    shades = member.locator("canvas").screenshot()
    assert len(shades) > 3000, "a picture of one colour would be smaller"
    section = sheet.locator("figure[data-picture=section] svg").first
    assert "Walls: " in (section.get_attribute("aria-label") or "")
    canvas = member.locator("canvas")
    canvas.focus()
    sheet.keyboard.press("ArrowLeft")
    expect(canvas).to_have_attribute("data-drawn", str(drawn + 1))
    assert canvas.screenshot() != shades


def served_digest(sheet) -> str:
    return sheet.evaluate("fetch('state').then((r) => r.json()).then((s) => s.digest)")


def test_two_pages_follow_each_other(sheet, chromium, served):
    expect = playwright.expect
    other = chromium.new_page()
    other.goto(served.address)
    for page in (sheet, other):
        expect(page.locator("#title")).to_have_text("Bridge beam")
        open_band(page, 1)
    text = served.job.read_text()
    rib = other.get_by_label("rib", exact=True)
    rib.fill("6")
    rib.press("Enter")
    expect(sheet.get_by_label("rib", exact=True)).to_have_value("6")
    sheet.locator("#undo").click()
    expect(rib).to_have_value("5")
    assert served.job.read_text() == text
    other.close()


def test_every_control_is_reached_by_keys_and_shows_where_one_is(sheet):
    open_band(sheet, 1)
    playwright.expect(sheet.locator("figure[data-picture=member] canvas")).to_be_visible()
    sheet.evaluate("document.activeElement.blur()")
    wanted = sheet.locator("button:visible:enabled, input:visible, select:visible, canvas:visible").count()
    seen, outlines = set(), set()
    for _ in range(wanted + 12):
        sheet.keyboard.press("Tab")
        found = sheet.evaluate(
            """() => { const e = document.activeElement, all = [...document.querySelectorAll("button, input, select, canvas")];
            return [all.indexOf(e), getComputedStyle(e).outlineStyle, getComputedStyle(e).outlineWidth]; }"""
        )
        if found[0] >= 0:
            seen.add(found[0])
            outlines.add(tuple(found[1:]))
    assert len(seen) == wanted
    assert outlines == {("solid", "3px")}
    button = sheet.locator("#question-2 button")
    button.focus()
    sheet.keyboard.press("Enter")
    assert button.get_attribute("aria-expanded") == "true"
    assert sheet.locator("#inside-2").is_visible()


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_cut_off_at_any_width(sheet, width):
    sheet.set_viewport_size({"width": width, "height": 844})
    open_band(sheet, 1)
    playwright.expect(sheet.locator("figure[data-picture=section] svg").first).to_be_visible()
    wide = sheet.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert wide[0] <= wide[1]
    out = sheet.evaluate(
        """() => [...document.querySelectorAll("button, input, select, h1, h2, p, td, th")]
        .filter((e) => e.offsetParent && (e.getBoundingClientRect().right > innerWidth + 1 || e.scrollWidth > e.clientWidth + 2 && getComputedStyle(e).overflow !== "visible"))
        .map((e) => e.outerHTML.slice(0, 80))"""
    )
    assert out == []


CONTRAST = (Path(__file__).parent / "contrast.js").read_text()


def test_words_stand_out_from_their_ground(sheet):
    open_band(sheet, 1)
    assert sheet.evaluate(CONTRAST)["weak"] == []
