"""Help in place in a real browser: opened by keys, read, followed to another page and back, closed."""

from __future__ import annotations

import pytest

playwright = pytest.importorskip("playwright.sync_api")
judge = pytest.importorskip("axe_playwright_python.sync_playwright")
pytestmark = pytest.mark.xdist_group("browser")
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def band(tab: object, question: int) -> None:
    """Open a band that has its answer."""
    expect = playwright.expect
    expect(tab.locator(".band").nth(question - 1)).to_have_attribute("data-status", "fresh", timeout=60_000)
    tab.locator(f"#question-{question} button").click()


@pytest.mark.parametrize("width", [1280, 390])
def test_a_figure_opens_its_paragraph_by_keys(opened, planned, width):
    expect, tab = playwright.expect, opened(planned.address, width)
    band(tab, 1)
    way = tab.get_by_role("button", name="how twist kept is found", exact=True)
    way.focus()
    tab.keyboard.press("Enter")
    dialog = tab.get_by_role("dialog", name="Stiffness of the member")
    expect(dialog).to_be_visible()
    meant = dialog.locator(".meant")
    expect(meant).to_be_focused()
    expect(meant).to_be_in_viewport()
    expect(meant).to_contain_text("Kept is the stiffness of the reworked member")
    found = judge.Axe().run(tab, options={"runOnly": {"type": "tag", "values": TAGS}}).response
    assert [f"{v['id']}: {v['nodes'][0]['html'][:160]}" for v in found["violations"]] == []
    assert dialog.evaluate("(d) => d.scrollWidth <= d.clientWidth && document.body.scrollWidth <= innerWidth")
    tab.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    expect(way).to_be_focused()


def test_a_link_leads_on_and_back(opened, planned):
    expect, tab = playwright.expect, opened(planned.address)
    band(tab, 2)
    tab.get_by_role("button", name="how this question is answered: 2").click()
    expect(tab.get_by_role("dialog", name="2. Does it fit?")).to_be_visible()
    assert tab.get_by_role("dialog").get_by_role("button", name="Back", exact=True).count() == 0
    tab.get_by_role("dialog").get_by_role("link", name="placing.md", exact=True).click()
    expect(tab.get_by_role("dialog", name="Placing: does it fit")).to_be_visible()
    expect(tab.locator(".meant")).to_have_text("The fit")
    tab.get_by_role("dialog").get_by_role("button", name="Back", exact=True).click()
    expect(tab.get_by_role("dialog", name="2. Does it fit?")).to_be_visible()
    tab.get_by_role("button", name="Close").click()
    expect(tab.get_by_role("dialog")).to_have_count(0)


def test_a_control_opens_what_is_told_of_its_value(opened, planned):
    expect, tab = playwright.expect, opened(planned.address)
    band(tab, 3)
    tab.get_by_role("button", name="more about clamp force").click()
    expect(tab.locator(".help-dialog .meant")).to_contain_text("force of one clamp on the member")
    tab.mouse.click(20, 400)
    expect(tab.get_by_role("dialog")).to_have_count(0)


def test_a_page_that_cannot_be_had_says_so(opened, planned):
    expect, tab = playwright.expect, opened(planned.address)
    band(tab, 1)
    tab.route("**/help/*", lambda route: route.fulfill(status=200, body=""))
    tab.get_by_role("button", name="how mass out is found").click()
    expect(tab.get_by_role("dialog")).to_contain_text("cannot be had")
