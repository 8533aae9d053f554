"""The page judged by axe-core in a real browser, all bands open and all pictures drawn, at three widths."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

playwright = pytest.importorskip("playwright.sync_api")
judge = pytest.importorskip("axe_playwright_python.sync_playwright")
pytestmark = pytest.mark.xdist_group("browser")
WIDTHS = (1280, 1920, 390)
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()  # axe leaves words in drawings undecided
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PICTURES = ("kept", "member", "section", "served", "bed", "error", "paths", "playback", "thickness")


def violations(tab: object) -> list[str]:
    """What axe-core holds against the page as it stands, each with the first element it means."""
    found = judge.Axe().run(tab, options={"runOnly": {"type": "tag", "values": TAGS}}).response
    assert len(found["passes"]) > 20, "it looked at next to nothing"
    return [f"{v['impact']} {v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]]


def open_all(tab: object, pictures: tuple[str, ...]) -> None:
    """Open all six bands and wait until the pictures are drawn."""
    for question in range(1, 7):
        tab.locator(f"#question-{question} button").click()
    for name in pictures:
        figure = tab.locator(f"figure[data-picture={name}]")
        playwright.expect(figure).to_have_attribute("data-ready", re.compile("."), timeout=120_000)


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_held_against_a_page_with_its_whole_plan(opened, planned, width):
    tab = opened(planned.address, width)
    open_all(tab, PICTURES)
    assert violations(tab) == []
    found = tab.evaluate(CONTRAST)
    assert found["weak"] == []
    assert found["inDrawings"] > 40


def test_nothing_is_held_against_the_page_of_a_broken_job(opened, page):
    text = page.job.read_text()
    tab = opened(page.address)
    try:
        page.job.write_text(text.replace("rib = 5", "rip = 5"))
        playwright.expect(tab.get_by_role("alert")).to_contain_text("rip")
        assert violations(tab) == []
    finally:
        page.job.write_text(text)
        playwright.expect(tab.get_by_role("alert")).to_be_hidden()


def test_a_fault_put_in_is_seen(opened, planned):
    tab = opened(planned.address)
    open_all(tab, ("section",))
    tab.locator("#inside-1 input[type=number]").first.evaluate("(box) => box.labels[0].remove()")
    tab.locator(".headline").first.evaluate("(words) => { words.style.color = '#c8c8c0'; }")
    assert {v.split(":")[0].split()[1] for v in violations(tab)} == {"label", "color-contrast"}
    words = tab.locator("figure[data-picture=section] text").filter(has_text="front")
    words.first.evaluate("(text) => { text.style.fill = '#a0a09a'; }")
    headline = tab.locator(".headline").first.inner_text()
    assert {w.split(" ", 1)[1] for w in tab.evaluate(CONTRAST)["weak"]} == {headline[:40], "front: 4"}
