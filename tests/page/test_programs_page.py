"""The pictures of the programs on the real page, behind its own rules on what it may load, from a whole plan."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = pytest.mark.xdist_group("browser")
CONTRAST = (Path(__file__).parent / "contrast.js").read_text()


def soon(tab, true) -> None:
    """Wait until it is so; the page forbids what a browser's own waiting would evaluate."""
    for _ in range(100):
        if true():
            return
        tab.wait_for_timeout(50)
    raise AssertionError("not within five seconds")


@pytest.mark.parametrize(("question", "names"), [(4, ("paths",)), (5, ("playback", "thickness"))])
def test_pictures_of_the_programs_are_drawn_and_cut_off_nowhere(opened, planned, question, names):
    expect = playwright.expect
    tab = opened(planned.address)
    tab.locator(f"#question-{question} button").click()
    for name in names:
        expect(tab.locator(f"figure[data-picture={name}]")).to_have_attribute(
            "data-ready", re.compile("."), timeout=90_000
        )
    for width in (1920, 1280, 390):
        tab.set_viewport_size({"width": width, "height": 900})
        soon(
            tab,
            lambda: tab.evaluate(
                "document.documentElement.scrollWidth <= document.documentElement.clientWidth"
            ),
        )
    assert tab.evaluate(CONTRAST)["weak"] == []


def test_a_program_is_played_on_the_page(opened, planned):
    tab = opened(planned.address)
    tab.locator("#question-5 button").click()
    figure = tab.locator("figure[data-picture=playback]")
    playwright.expect(figure).to_have_attribute("data-ready", re.compile("."), timeout=90_000)
    slider = figure.get_by_role("slider")
    all_cut = int(slider.get_attribute("aria-valuenow"))
    figure.get_by_label("how fast").select_option("600")
    figure.get_by_role("button", name="Run").click()
    soon(tab, lambda: 20 < int(slider.get_attribute("aria-valuenow")) < all_cut)
    figure.get_by_role("button", name="Stop").click()
    slider.press("End")
    assert slider.get_attribute("aria-valuenow") == slider.get_attribute("aria-valuemax")
