"""Notches: entered from outside, their three walls exact, nothing left and nothing gouged."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from sparwright.cutting.finish import Lap, cleared_by, open_lap
from sparwright.cutting.notch import clear_notch, mouth_of, open_chain
from sparwright.cutting.paths import Rates
from sparwright.cutting.paths_clear import clearing_path, levels_to
from sparwright.cutting.paths_outline import Outline
from sparwright.stock.model import NotchCut

RATES = Rates(600, 150, 1500, 6)
LENGTH, R = 300.0, 1.5875


def rectangle(x, s, radius):
    return Outline(((x[0], s[0]), (x[1], s[0]), (x[1], s[1]), (x[0], s[1])), radius)


def notch(end, radius=2.064):
    """A 14 x 8 mm notch off the middle, its outline 5 mm past the end."""
    outline = rectangle((-30, 8), (-5, 9), radius).shape.intersection(box(-5, -50, 9, 50))
    if end == "far":
        outline = shapely.affinity.scale(outline, -1, 1, origin=(LENGTH / 2, 0))
    return NotchCut("cable", "front", end, Polygon(outline), radius, 4.0, 0.4)


@pytest.mark.parametrize("end", ["datum", "far"])
def test_notch_is_cut_exactly(judge, end):
    cut = notch(end)
    mouth = mouth_of(cut, LENGTH)
    member = box(0, -30, LENGTH, 30)
    clear = clear_notch(cut, mouth, R, math.acos(1 - 0.3), 0.2)
    assert clear.entry == "outside"
    levels = levels_to(4.4, 1.5)
    rough = clearing_path(clear, levels, 200, RATES, 3000)
    chain = open_chain(mouth, R, R + 1)
    ground = rectangle((-20, 8), (-5, 9), 2.064)
    lap = open_lap(chain, Lap(R, 0.2, (-4.4,), ground.shape, cleared_by(ground, R, 0.2), RATES))
    for path in (rough, lap):
        judge.check_rapids(path, 6, -4.4)
        swept = judge.swept(path, R, -4.4).intersection(member)
        assert swept.difference(cut.outline.buffer(0.003)).area < 1e-6
    both = judge.swept(rough, R, -4.4).union(judge.swept(lap, R, -4.4))
    left = cut.outline.intersection(member).difference(both.buffer(0.01))
    assert left.area < 1e-6, f"{left.area:.4f} mm² left: a slug or a wall"


@pytest.mark.parametrize("end", ["datum", "far"])
def test_cutter_goes_down_off_the_end(judge, end):
    cut = notch(end)
    mouth = mouth_of(cut, LENGTH)
    member = box(0, -30, LENGTH, 30)
    path = clearing_path(clear_notch(cut, mouth, R, math.acos(1 - 0.3), 0.2), (-2.2, -4.4), 200, RATES, 3000)
    assert np.hypot(*(shapely.distance(member, shapely.Point(path.start[:2])), 0)) >= R
    start = open_chain(mouth, R, R + 1)[0].start
    assert shapely.distance(member, shapely.Point(start)) == pytest.approx(R + 1)


def test_metal_is_on_the_right():
    """Climb: to the right of travel lies the wall."""
    for end in ("datum", "far"):
        cut = notch(end)
        for seg in open_chain(mouth_of(cut, LENGTH), R, R + 1):
            p, (hx, hs) = seg.at(0.5), seg.heading(0.5)
            right = (p[0] + (R + 0.05) * hs, p[1] - (R + 0.05) * hx)
            assert not cut.outline.buffer(-0.01).covers(shapely.Point(right))
