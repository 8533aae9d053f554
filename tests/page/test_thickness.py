"""Maps of the metal left: what is on the screen is what simulation left."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from picture_help import bare_page

from sparwright.page.pictures.thickness import NONE, build

pytestmark = pytest.mark.xdist_group("browser")


@pytest.fixture(scope="module")
def data(short_runs):
    return build(short_runs)


def test_floors_have_their_skin_and_the_rest_its_wall(data, short_plan):
    assert [s["side"] for s in data.meta["sides"]] == [s.side for s in short_plan.placement.setups]
    wall = short_plan.job.file.stock.section.wall
    for k, setup in enumerate(short_plan.placement.setups):
        left, meta = data.arrays[f"{k}.left"], data.meta["sides"][k]
        x0, s0, cell = meta["grid"]
        assert meta["top_mm"] == pytest.approx(wall)
        pockets = [p for p in short_plan.member.pockets if p.face == setup.face]
        assert pockets
        for pocket in pockets:
            middle = shapely.centroid(pocket.outline)
            there = left[int((middle.y - s0) / cell), int((middle.x - x0) / cell)]
            assert there == pytest.approx(pocket.skin, abs=0.02)
        assert np.isclose(left, wall, atol=1e-3).mean() > 0.3
        assert ((left >= 0) | (left == NONE)).all()
        assert {round(s[2], 1) for s in meta["spots"]} >= {1.2}
        lines = data.arrays[f"{k}.lines"]
        long = sum(p.outline.length for p in pockets)
        assert np.hypot(lines[:, 2] - lines[:, 0], lines[:, 3] - lines[:, 1]).sum() >= long * 0.999


@pytest.mark.parametrize("width", [390, 1280, 1920])
def test_a_place_is_read_off_by_keys_and_pointer(data, opened, width):
    with bare_page("thickness", data) as address:
        tab = opened(address, width)
        tab.wait_for_selector("body[data-ready]")
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        canvas, read = tab.locator("canvas[role=img]").first, tab.locator(".read").first
        canvas.focus()
        for _ in range(2):
            tab.keyboard.press("Shift+ArrowRight")
        tab.keyboard.press("ArrowUp")
        words = read.inner_text()
        meta, left = data.meta["sides"][0], data.arrays["0.left"]
        x = (meta["low"][0] + meta["high"][0]) / 2 + 20
        s = (meta["low"][1] + meta["high"][1]) / 2 + 1
        x0, s0, cell = meta["grid"]
        wanted = left[int((s - s0) / cell), int((x - x0) / cell)]
        assert words.startswith(f"x {x:.1f}, s {s:.1f} mm")
        assert f"{wanted:.2f} mm of metal left" in words
        canvas.hover(position={"x": 60, "y": 30})
        assert read.inner_text() != words
