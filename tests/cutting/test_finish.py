"""Finishing laps and floor passes judged by what the cutter sweeps, and the corner law by trial figures.

The engaged angles in corners (65.8, 50.5, 37.8 degrees for fillets of 3.5, 4 and 5 mm; turning angle plus
acos(1 - stock / r) where the fillet equals the radius) were measured on a bitmap simulation of a 6 mm cutter
with 0.2 mm of stock, independent of this code.
"""

import itertools
import math

import numpy as np
import pytest
from shapely.geometry import Point

from sparwright.cutting.finish import Lap, cleared_by, corner_feed, engaged, open_lap, wall_lap
from sparwright.cutting.floor import Floor, floor_laps, floor_pass
from sparwright.cutting.model import ARC_CCW, LINE, RAPID
from sparwright.cutting.paths import Rates
from sparwright.cutting.paths_outline import Outline, Segment, outline_of, rounded

RATES = Rates(feed=600, plunge=150, quick=1500, clearance=6)


def rectangle(x, s, radius):
    return Outline(((x[0], s[0]), (x[1], s[0]), (x[1], s[1]), (x[0], s[1])), radius)


def regular(sides, inradius, radius, turn=0.3):
    outer = inradius / math.cos(math.pi / sides)
    a = turn + 2 * math.pi * np.arange(sides) / sides
    return Outline(tuple((outer * math.cos(t), outer * math.sin(t)) for t in a), radius)


SHAPES = {
    "triangle": regular(3, 10.2, 2.1),
    "tight triangle": regular(3, 8, 1.5875),
    "hexagon": regular(6, 12, 2.5),
    "square": regular(4, 12, 4.0),
    "slot": rectangle((-20, 20), (-4, 4), 4.0),
    "long rectangle": rectangle((-30, 30), (-5, 5), 2.2),
    "round": Outline((), 9.0, (1.0, -2.0)),
    "lopsided": Outline(((0, 0), (30, 2), (26, 14), (3, 20)), 2.3),
}


def lap_for(outline, radius, stock=0.2, levels=(-2.8,), clearing_radius=None):
    cleared = cleared_by(outline, clearing_radius or radius, stock)
    return Lap(radius, stock, levels, outline.inset_shape(radius + stock), cleared, RATES)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("radius", [1.5875, 0.79375])
def test_lap_leaves_exactly_the_outline(judge, name, radius):
    outline = SHAPES[name]
    lap = lap_for(outline, radius)
    path = wall_lap(outline, lap)
    swept = judge.swept(path, radius, -2.8)
    assert swept.difference(outline.shape.buffer(0.003)).area < 1e-9, "gouge"
    skirt = outline.shape.exterior.buffer(0.15, single_sided=False).intersection(outline.shape)
    left = skirt.difference(swept.buffer(0.003))
    assert left.area < 1e-9, f"{left.area:.5f} mm² left on the wall"
    judge.check_rapids(path, 6, -2.8)
    assert path.start[2] == path.end[-1, 2] == 6
    assert np.allclose(path.start[:2], path.start[:2])
    # comes down and goes up where clearing has left nothing
    down = path.start[:2]
    up = path.end[-1, :2]
    assert lap.ground.buffer(1e-6).covers(Point(down))
    assert lap.ground.buffer(1e-6).covers(Point(up))


@pytest.mark.parametrize("name", SHAPES)
def test_lap_is_climb_and_smooth(judge, name):
    """Counter-clockwise, its lead-in tangent to the wall, no kink but at corners as tight as the cutter."""
    outline = SHAPES[name]
    path = wall_lap(outline, lap_for(outline, 1.5875))
    moves = [p for p, kind in zip(judge.points(path), path.kind, strict=True) if kind != RAPID]
    level = [p for p in moves if np.allclose(p[:, 2], -2.8)]
    ring = np.vstack(level)
    area = 0.5 * np.sum(ring[:-1, 0] * ring[1:, 1] - ring[1:, 0] * ring[:-1, 1])
    assert area > 0
    if outline.radius > 1.6:
        for a, b in itertools.pairwise(level):
            u, v = a[-1, :2] - a[-2, :2], b[1, :2] - b[0, :2]
            turn = math.atan2(u[0] * v[1] - u[1] * v[0], u @ v)
            assert abs(turn) < 0.15  # chords of small arcs


def test_corners_are_true_arcs():
    path = wall_lap(SHAPES["square"], lap_for(SHAPES["square"], 3.0))
    arcs = path.kind == ARC_CCW
    starts = np.vstack([path.start, path.end[:-1]])
    radii = np.hypot(*(starts[arcs, :2] - path.centre[arcs]).T)
    assert np.sum(np.isclose(radii, 1.0)) == 4  # fillet 4 less cutter radius 3
    assert np.sum(path.kind == LINE) >= 4


@pytest.mark.parametrize(("fillet", "degrees"), [(3.5, 65.8), (4.0, 50.5), (5.0, 37.8)])
def test_corner_load_as_measured(fillet, degrees):
    square = regular(4, 12, fillet)
    corner = next(seg for seg in square.inset(3.0) if seg.centre is not None)
    shares = np.linspace(0, 1, 41)
    points = np.array([corner.at(f) for f in shares])
    heads = np.array([corner.heading(f) for f in shares])
    before = regular(
        4, 11.8, fillet
    ).shape  # stock of even depth, corners of the same fillet, as in the trial
    met = np.degrees(engaged(points, heads, 3.0, before).max())
    assert met == pytest.approx(degrees, abs=2.5)


@pytest.mark.parametrize(("sides", "degrees"), [(6, 80.8), (4, 110.8), (3, 141.0)])
def test_tight_corner_slows_by_the_turning_law(sides, degrees):
    """Fillet = cutter radius: peak = turning angle + acos(1 - stock / r)."""
    outline = regular(sides, 12, 3.0)
    wanted = math.acos(1 - 0.2 / 3)
    share = corner_feed(wanted, math.radians(degrees))
    path = wall_lap(outline, lap_for(outline, 3.0))
    assert np.nanmin(path.feed[path.kind != RAPID][2:]) == pytest.approx(RATES.feed * share, rel=0.02)


def test_feed_is_slow_one_radius_either_side_of_a_corner():
    outline = regular(4, 12, 3.0)
    path = wall_lap(outline, lap_for(outline, 3.0))
    starts = np.vstack([path.start, path.end[:-1]])
    level = (path.kind == LINE) & np.isclose(path.end[:, 2], -2.8) & np.isclose(starts[:, 2], -2.8)
    slow = level & (path.feed < 590)
    lengths = np.hypot(*(path.end[slow, :2] - starts[slow, :2]).T)
    assert np.allclose(lengths, 3.0)
    assert slow.sum() == 8


def test_two_levels_where_the_flutes_are_short(judge):
    outline = SHAPES["hexagon"]
    path = wall_lap(outline, lap_for(outline, 1.5875, levels=(-2.0, -4.4)))
    for level in (-2.0, -4.4):
        at = [
            p
            for p, k in zip(judge.points(path), path.kind, strict=True)
            if k != RAPID and np.allclose(p[:, 2], level)
        ]
        assert sum(np.hypot(*np.diff(p[:, :2], axis=0).T).sum() for p in at) > 2 * math.pi * 10
    judge.check_rapids(path, 6, -4.4)


def test_cutter_larger_than_the_corner_refused():
    with pytest.raises(ValueError, match="cannot finish corners"):
        wall_lap(regular(4, 12, 2.0), lap_for(regular(4, 12, 3.2), 3.0))


def test_open_lap_follows_its_chain(judge):
    chain = (
        Segment((-5, -4), (6, -4)),
        Segment((6, -4), (7, -3), (6, -3)),
        Segment((7, -3), (7, 3)),
        Segment((7, 3), (6, 4), (6, 3)),
        Segment((6, 4), (-5, 4)),
    )
    notch = rectangle((-20, 8.5875), (-5.5875, 5.5875), 2.5875)
    path = open_lap(chain, Lap(1.5875, 0.2, (-4.4,), notch.shape, cleared_by(notch, 1.5875, 0.2), RATES))
    assert judge.swept(path, 1.5875, -4.4).difference(notch.shape.buffer(0.003)).area < 1e-9
    judge.check_rapids(path, 6, -4.4)


# --- floors -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("radius", [1.5875, 0.79375])
def test_floor_is_covered_off_the_wall(judge, name, radius):
    outline = SHAPES[name]
    floor = Floor(radius, 0.2, 0.2, 2.8, RATES)
    path = floor_pass(outline, floor)
    swept = judge.swept(path, radius, -2.8)
    assert swept.difference(outline.inset_shape(0.2).buffer(0.002)).area < 1e-9, "touches the wall's stock"
    # what a finishing lap and this pass leave of the floor: nothing
    lap = judge.swept(wall_lap(outline, lap_for(outline, radius)), radius, -2.8)
    left = outline.shape.difference(swept.union(lap).buffer(0.003))
    assert left.area < 1e-9, f"{left.area:.4f} mm² of floor left"
    judge.check_rapids(path, 6, -2.8)


@pytest.mark.parametrize("name", SHAPES)
def test_floor_never_meets_uncleared_metal(judge, name):
    """At full depth the pass stays on ground that clearing with the same cutter has emptied above the floor stock."""
    outline = SHAPES[name]
    path = floor_pass(outline, Floor(1.5875, 0.2, 0.2, 2.8, RATES))
    cleared = cleared_by(outline, 1.5875, 0.2)
    assert judge.swept(path, 1.5875, -2.6).difference(cleared.buffer(0.01)).area < 1e-9


def test_laps_go_outward_and_keep_the_stepover():
    outline = SHAPES["hexagon"]
    laps = floor_laps(outline, Floor(1.5875, 0.2, 0.2, 2.8, RATES))
    sizes = [sum(seg.length for seg in lap) for lap in laps]
    assert sizes == sorted(sizes)
    radii = [min(math.hypot(*seg.at(0.5)) for seg in lap) for lap in laps]
    assert np.all(np.diff(radii) <= 0.65 * 3.175 + 1e-9)


def test_floor_too_small_for_the_cutter_refused():
    with pytest.raises(ValueError, match="no room"):
        floor_pass(regular(4, 1.7, 1.6), Floor(1.5875, 0.2, 0.2, 2.8, RATES))


# --- outlines ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHAPES)
def test_inset_is_the_erosion(name):
    outline = SHAPES[name]
    for d in (0.5, 1.2, 2.0, 3.0):
        want = outline.shape.buffer(-d, quad_segs=256)
        got = outline.inset_shape(d)
        assert got.symmetric_difference(want).area < 0.002 * got.length


def test_outline_of_a_pocket_is_checked_against_its_polygon():
    outline = SHAPES["triangle"]
    assert outline_of(outline.corners[::-1], 2.1, outline.shape).radius == 2.1
    assert outline_of((), 9.0, SHAPES["round"].shape).centre == pytest.approx((1.0, -2.0), abs=1e-3)
    with pytest.raises(ValueError, match="do not agree"):
        outline_of(outline.corners, 3.1, outline.shape)
    with pytest.raises(ValueError, match="not convex"):
        Outline(((0, 0), (10, 0), (4, 3), (0, 10)), 1.0)


def test_rounded_ring_closes():
    loop = rounded(np.array([[0, 0], [10, 0], [10, 8], [0, 8]], float), 2.0)
    for a, b in zip(loop, loop[1:] + loop[:1], strict=True):
        assert a.end == pytest.approx(b.start, abs=1e-9)
