"""Paths by kind of cut: what is shown, hidden and picked is what the programs say."""

from __future__ import annotations

import re

import numpy as np
import pytest
from picture_help import bare_page

from sparwright.page.pictures.paths import build
from sparwright.page.simulated import KINDS
from sparwright.proof.motion import nominal_seconds

pytestmark = pytest.mark.xdist_group("browser")


@pytest.fixture(scope="module")
def data(short_runs):
    return build(short_runs)


def test_minutes_and_metres_of_the_kinds_are_those_of_the_programs(data, short_runs):
    for run, meta in zip(short_runs, data.meta["sides"], strict=True):
        whole = nominal_seconds(run.case.moves, run.case.job.bed)
        assert sum(meta["minutes"]) == pytest.approx(whole / 60, abs=0.01)
        assert sum(meta["metres"]) == pytest.approx(run.case.moves.length.sum() / 1000, abs=0.01)
    assert {"clear", "floor", "wall", "edge break"} <= {
        k for k, m in zip(KINDS, data.meta["sides"][1]["metres"], strict=True) if m > 0
    }


def shades(tab) -> set[tuple[int, ...]]:
    """Colours on the canvas that many of its points have."""
    flat = tab.evaluate(
        """() => { const c = document.querySelector("canvas[role=img]"), gl = c.getContext("webgl2");
        const p = new Uint8Array(4 * c.width * c.height); gl.readPixels(0, 0, c.width, c.height, gl.RGBA, gl.UNSIGNED_BYTE, p);
        const n = new Map(); for (let i = 0; i < p.length; i += 4) { const k = p.slice(i, i + 3).join(); n.set(k, (n.get(k) ?? 0) + 1); }
        return [...n].filter(([, m]) => m > 30).map(([k]) => k); }"""
    )
    return {tuple(int(v) for v in k.split(",")) for k in flat}


def has_hue(found: set[tuple[int, ...]], wanted: tuple[int, int, int]) -> bool:
    """Whether a colour, or it on paper, is among those found."""
    tints = [np.array(wanted) * a + np.array((255, 254, 251)) * (1 - a) for a in np.linspace(0.7, 1, 31)]
    return any(np.abs(np.array(c) - t).max() <= 4 for c in found for t in tints)


def drawn(tab) -> None:
    """Wait until what was asked for is painted."""
    tab.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def test_a_kind_is_hidden_and_shown_again_by_keys(data, opened):
    with bare_page("paths", data) as address:
        tab = opened(address)
        tab.wait_for_selector("body[data-ready]")
        drawn(tab)
        blue, orange = (0, 114, 178), (213, 94, 0)
        assert has_hue(shades(tab), blue)
        assert has_hue(shades(tab), orange)
        box = tab.get_by_label(re.compile("^clear,"))
        box.focus()
        tab.keyboard.press("Space")
        drawn(tab)
        assert not has_hue(shades(tab), blue)
        assert has_hue(shades(tab), orange)
        tab.keyboard.press("Space")
        drawn(tab)
        assert has_hue(shades(tab), blue)
        assert not tab.get_by_label(re.compile("^rapid,")).is_checked()


@pytest.mark.parametrize("width", [390, 1280])
def test_what_is_picked_is_told_with_its_line_as_written(data, short_runs, opened, width):
    with bare_page("paths", data) as address:
        tab = opened(address, width)
        tab.wait_for_selector("body[data-ready]")
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        canvas, words = tab.locator("canvas[role=img]"), tab.locator(".moment")
        side = tab.get_by_label("side", exact=True).evaluate("e => e.selectedOptions[0].text")
        run = next(r for r in short_runs if r.side == side)
        canvas.focus()
        tab.keyboard.press("Enter")
        first = words.inner_text()
        line, program = re.search(r"line (\d+) of ([\w.-]+);", first).groups()
        text = run.case.texts[run.case.names.index(program)].split("\n")[int(line) - 1]
        assert tab.locator(".moment code").inner_text() == text
        grid = data.meta["sides"][[s["side"] for s in data.meta["sides"]].index(side)]
        middle = [(a + b) / 2 for a, b in zip(grid["low"], grid["high"], strict=True)]
        k = [s["side"] for s in data.meta["sides"]].index(side)
        points, ends = data.arrays[f"{k}.points"], data.arrays[f"{k}.ends"].astype(int)
        owner = np.searchsorted(ends, np.arange(1, len(points)))
        fine = np.linspace(0, 1, 201)[:, None, None]
        near = points[:-1, :2] + (points[1:, :2] - points[:-1, :2]) * fine
        far = np.hypot(*np.moveaxis(near - middle, -1, 0)).min(axis=0)
        far[run.kinds[owner] == 0] = np.inf
        at = np.flatnonzero(far < far.min() + 0.02)
        assert (program, int(line)) in {run.case.line_of(int(m)) for m in owner[at]}
        tab.keyboard.press("Period")
        assert words.inner_text() != first
        tab.keyboard.press("Comma")
        assert words.inner_text() == first
        box = canvas.bounding_box()
        canvas.scroll_into_view_if_needed()
        tab.keyboard.press("ArrowRight")
        drawn(tab)
        canvas.click(position={"x": box["width"] - 3, "y": box["height"] - 3})
        assert words.inner_text() != first
