"""Clearing paths, judged by an independent bitmap simulation of the fitted moves, and against closed forms.

Closed forms, from plane geometry of a disc of radius r: a straight side cut of depth ae engages acos(1 - ae/r); on a
circular path of radius p inside a wall of radius W, cos(phi) = (W^2 - p^2 - r^2)/(2 p r). The judge is itself tried on
both before it judges.
"""

from __future__ import annotations

import sys
import time
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, Point, Polygon, box

from sparwright.cutting.arcfit import Moves
from sparwright.cutting.clearing import ClearingError, ClearPath, clear_outline
from sparwright.cutting.model import ARC_CCW, LINE

sys.path.insert(0, str(Path(__file__).parent))
import judge as judging


def regular(count: int, side: float) -> Polygon:
    """Regular polygon about the origin."""
    t = np.arange(count) * 2 * np.pi / count + np.pi / 2
    big = side / (2 * np.sin(np.pi / count))
    return Polygon(big * np.column_stack([np.cos(t), np.sin(t)]))


def rounded(shape: Polygon, radius: float) -> Polygon:
    """The shape with its corners rounded inside."""
    return shape.buffer(-radius, quad_segs=32).buffer(radius, quad_segs=32)


TRIANGLE = rounded(regular(3, 35.34), 2.1)
OFF_THE_END = box(-30, -30, 0, 30)
SHAPES = {
    "hexagon": (regular(6, 24 / np.sqrt(3)), 3.0, 0.9, 0.0, None),
    "square": (box(0, 0, 24, 24), 3.0, 0.9, 0.0, None),
    "sharp triangle": (regular(3, 30), 3.0, 0.9, 0.0, None),
    "round": (Point(3, 5).buffer(12, quad_segs=64), 3.0, 0.9, 0.0, None),
    "slot": (box(-30, -6, 30, 6), 3.0, 0.9, 0.0, None),
    "triangle": (TRIANGLE, 3.175, 0.9525, 0.2, None),
    "island": (box(0, 0, 40, 34).difference(Point(18, 16).buffer(5)), 3.175, 0.9525, 0.0, None),
    "open notch": (box(-10, -7, 20, 7), 3.175, 0.9525, 0.2, OFF_THE_END),
}
LONGEST = {"sharp triangle": 1.30, "open notch": 1.40, "slot": 1.30}


@cache
def cleared_and_judged(name: str) -> tuple[ClearPath, judging.Verdict]:
    shape, radius, depth, stock, ground = SHAPES[name]
    path = clear_outline(shape, radius, np.arccos(1 - depth / radius), cleared=ground, wall_stock=stock)
    entry = judging.entry_places(path)
    return path, judging.judge(shape, radius, path.passes, path.links, entry, ground, stock=stock)


def line(a, b) -> Moves:
    """One straight move."""
    return Moves(np.array([LINE]), np.array([a], float), np.array([b], float), np.full((1, 2), np.nan))


@pytest.mark.parametrize(("radius", "depth"), [(3, 0.3), (3, 0.9), (3, 1.5), (3, 3.0), (1.5875, 0.476)])
def test_judge_reads_straight_side_cuts(radius, depth):
    x = depth - radius
    seen = judging.judge(box(0, 0, 20, 30), radius, [line((x, -8), (x, 35))], ["up"])
    middle = np.degrees(seen.angles[150:300])
    assert middle == pytest.approx(np.degrees(np.arccos(1 - depth / radius)), abs=0.6)
    assert seen.right_share == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize(("rho", "step"), [(5, 0.5), (10, 0.6)])
def test_judge_reads_inside_laps(rho, step):
    t = np.arange(0, 2 * np.pi + 0.01, 0.005)
    free = (rho - step) * np.column_stack([np.cos(t), np.sin(t)])
    ends = np.array([[rho, 0.0], [-rho, 0.0], [rho, 0.0]])
    lap = Moves(np.array([ARC_CCW] * 2), ends[:-1], ends[1:], np.zeros((2, 2)))
    seen = judging.judge(Point(0, 0).buffer(20), 3.0, [lap], ["up"], free)
    wall = rho - step + 3.0
    expected = np.degrees(np.arccos((wall**2 - rho**2 - 9) / (6 * rho)))
    assert np.degrees(seen.angles[20:-60]).mean() == pytest.approx(expected, abs=0.6)


@pytest.mark.parametrize("name", SHAPES)
def test_engagement_is_held(name):
    _, radius, depth, _, _ = SHAPES[name]
    _, seen = cleared_and_judged(name)
    target = np.arccos(1 - depth / radius)
    assert seen.over(1.10 * target) <= 0.001
    assert np.percentile(seen.angles, 95) <= 1.0 * target
    if name != "island":
        assert seen.angles.max() <= 1.10 * target


@pytest.mark.parametrize("name", SHAPES)
def test_all_is_cleared_and_no_wall_is_touched(name):
    _, _, _, stock, _ = SHAPES[name]
    path, seen = cleared_and_judged(name)
    assert seen.gouge <= 0.005 - stock
    assert seen.left_in_reach <= 0.25
    assert seen.left_blob <= 0.1
    assert path.missed_mm2 <= 0.25


@pytest.mark.parametrize("name", SHAPES)
def test_paths_are_short_and_of_few_blocks(name):
    path, seen = cleared_and_judged(name)
    assert seen.length == pytest.approx(path.length, rel=1e-6)
    assert path.bound <= seen.length <= LONGEST.get(name, 1.25) * path.bound
    assert seen.air <= 0.05
    assert seen.blocks_per_mm <= 0.9
    assert seen.shortest >= 0.1


@pytest.mark.parametrize("name", SHAPES)
def test_links_keep_clear_and_cutting_is_climb(name):
    path, seen = cleared_and_judged(name)
    assert seen.link_hits == 0
    assert path.links.count("up") <= 0.05 * len(path.links) + 1
    assert seen.right_share >= 0.99


def test_own_reading_of_the_peak_agrees_with_the_judge():
    for name in ("hexagon", "triangle", "slot"):
        path, seen = cleared_and_judged(name)
        assert path.peak_engagement == pytest.approx(seen.angles.max(), rel=0.05)


def test_area_removed_per_travel_follows_the_identity():
    """Area = sum of r(1 - cos phi) ds for arcs square to the motion: the judge's pixels against its own angles."""
    path, seen = cleared_and_judged("hexagon")
    predicted = (3.0 * (1 - np.cos(seen.angles))).mean() * seen.length
    assert predicted == pytest.approx(seen.removed, rel=0.03)
    assert path.bound * 0.9 == pytest.approx(seen.removed, rel=0.01)


def test_round_pocket_is_the_closed_form_spiral():
    """Lap by lap the radius follows p = -r cos(phi) + sqrt(W^2 - r^2 sin^2(phi)), W the wall left a lap before.

    phi is the target less the tilt of the spiral.
    """
    radius, target = 3.0, np.arccos(0.7)
    path = clear_outline(Point(0, 0).buffer(25, quad_segs=128), radius, target)
    longest = max(path.passes, key=lambda m: m.lengths.sum())
    xyh, _, _ = longest.sampled(0.1)
    polar = np.unwrap(np.arctan2(xyh[:, 1], xyh[:, 0]))
    rho = np.hypot(xyh[:, 0], xyh[:, 1])
    marks = np.arange(polar[0] + 2 * np.pi, polar[-1], 0.5)
    before, after = np.interp(marks - 2 * np.pi, polar, rho), np.interp(marks, polar, rho)
    spiral = (after < 21.9) & (marks > polar[0] + 4 * np.pi)
    assert spiral.sum() > 100
    phi = 0.985 * target - (after - before) / (2 * np.pi * after)
    closed = -radius * np.cos(phi) + np.sqrt((before + radius) ** 2 - (radius * np.sin(phi)) ** 2)
    growth = (after - before)[spiral] / (closed - before)[spiral]
    assert growth.mean() == pytest.approx(1.0, abs=0.03)
    assert growth.std() < 0.03


def test_rest_clearing_visits_only_the_corners():
    rough, _ = cleared_and_judged("triangle")
    radius, target = 1.5875, np.arccos(0.7)
    rest = clear_outline(TRIANGLE, radius, target, cleared=rough.cleared, wall_stock=0.2)
    seen = judging.judge(
        TRIANGLE, radius, rest.passes, rest.links, (), rough.cleared, stock=0.2, rounding=0.2, px=0.01
    )
    assert rest.entry == "outside"
    assert seen.over(1.10 * target) == 0
    assert seen.left_in_reach <= 0.05
    assert seen.gouge <= 0.005 - 0.2
    assert seen.link_hits == 0
    assert seen.length < 0.2 * rough.length
    corners = regular(3, 35.34).exterior.coords[:3]
    for moves in rest.passes:
        assert min(np.hypot(*(moves.end[-1] - np.array(c))) for c in corners) < 10
    again = clear_outline(TRIANGLE, radius, target, cleared=rest.cleared, wall_stock=0.2)
    assert sum(m.lengths.sum() for m in again.passes) < 0.05 * rest.length


def test_smaller_cutter_reaches_the_part_behind_a_neck():
    shape = box(0, 0, 20, 20).union(box(19, 8.5, 31, 13)).union(box(30, 0, 50, 20))
    target = np.arccos(0.7)
    rough = clear_outline(shape, 3.175, target)
    assert rough.missed_mm2 > 350
    rest = clear_outline(shape, 1.5875, target, cleared=rough.cleared)
    assert rest.missed_mm2 < 0.3
    left = shape.buffer(-1.5875 * 1.15).buffer(1.5875 * 1.15 - 0.05).difference(rest.cleared)
    assert left.area < 0.5


def test_two_like_outlines_have_like_paths_and_runs_repeat():
    shape, radius, depth, stock, _ = SHAPES["triangle"]
    first, _ = cleared_and_judged("triangle")
    again = clear_outline(shape, radius, np.arccos(1 - depth / radius), wall_stock=stock)
    for a, b in zip(first.passes, again.passes, strict=True):
        assert np.array_equal(a.end, b.end)
    far = clear_outline(translate(shape, 1000, 200), radius, np.arccos(1 - depth / radius), wall_stock=stock)
    assert far.length == pytest.approx(first.length, rel=0.05)
    shifted = first.passes[0].shifted(10, -5)
    assert np.allclose(shifted.end, first.passes[0].end + np.array([10, -5]))
    assert np.allclose(shifted.lengths, first.passes[0].lengths)


def test_exact_slot_is_a_ramp_alone():
    path = clear_outline(LineString([(0, 0), (40, 0)]).buffer(3.18), 3.175, 0.79)
    assert path.entry == "ramp"
    assert not path.passes
    assert path.left_over_mm2 < 2
    assert abs(np.hypot(*(path.entry_line[1] - path.entry_line[0])) - 40) < 0.1


@pytest.mark.parametrize(
    ("shape", "options", "message"),
    [
        (box(0, 0, 5, 20), {}, r"6\.350 mm .*5\.0.*needs 6\.350 mm"),
        (box(0, 0, 6.6, 20), {"wall_stock": 0.2}, r"needs 6\.750 mm"),
        (box(0, 0, 6.4, 6.4), {}, "no room to enter by helix or ramp"),
        (Polygon([(0, 0), (50, 0), (50, 7), (7, 7), (7, 50), (0, 50)]), {}, "lanes so narrow"),
        (box(0, 0, 20, 20), {"wall_stock": 9.0}, "wall stock 9.0 mm is outside"),
        (box(0, 0, 20, 20), {"tolerance": 1.0}, "tolerance 1.0 mm is outside"),
        (Polygon([(0, 0), (20, 20), (20, 0), (0, 20)]), {}, "does not cross itself"),
    ],
)
def test_what_cannot_be_cleared_is_refused_with_sizes(shape, options, message):
    with pytest.raises(ClearingError, match=message):
        clear_outline(shape, 3.175, 0.795, **options)


def test_bad_cutters_and_angles_are_refused():
    with pytest.raises(ClearingError, match=r"outside 0\.05 to 100 mm"):
        clear_outline(box(0, 0, 20, 20), 0.0, 0.8)
    with pytest.raises(ClearingError, match=r"outside 5\.7 to 90 deg"):
        clear_outline(box(0, 0, 20, 20), 3.0, 2.0)


def random_shape(seed: int) -> Polygon:
    """A star-shaped outline of 4 to 10 corners, every third with an island."""
    draw = np.random.default_rng(seed)
    while True:
        t = np.sort(draw.uniform(0, 2 * np.pi, draw.integers(4, 11)))
        gaps = np.diff(np.append(t, t[0] + 2 * np.pi))
        if gaps.min() > 0.25 and gaps.max() < 2.6:
            break
    r = draw.uniform(12, 30, len(t))
    shape = Polygon(np.column_stack([r * np.cos(t), r * np.sin(t)]))
    island = Point(draw.uniform(-4, 4, 2)).buffer(draw.uniform(2, 4))
    return shape.difference(island) if seed % 3 == 0 and shape.buffer(-1).contains(island) else shape


@pytest.mark.parametrize(
    "seed",
    [
        1,
        2,
        3,
        pytest.param(4, marks=pytest.mark.slow),
        *[pytest.param(s, marks=pytest.mark.slow) for s in range(5, 25)],
    ],
)
def test_random_shapes(seed):
    shape, radius = random_shape(seed), 3.0
    target = np.arccos(0.7)
    path = clear_outline(shape, radius, target)
    seen = judging.judge(shape, radius, path.passes, path.links, judging.entry_places(path))
    assert seen.over(1.10 * target) <= 0.001
    assert seen.gouge <= 0.0055
    assert seen.link_hits == 0
    assert seen.length <= 1.30 * path.bound
    assert path.missed_mm2 > 20 or seen.left_in_reach <= 0.6
    assert shapely.is_valid(path.cleared)


@pytest.mark.slow
def test_plate_takes_seconds():
    plate = box(0, 0, 160, 100).difference(Point(50, 50).buffer(12)).difference(box(100, 30, 125, 60))
    clear_outline(regular(6, 12), 3.175, 0.795)
    began = time.process_time()
    path = clear_outline(plate, 3.175, 0.795)
    # The goal is 5 s on a quiet core; 6.5 s were seen with another test beside it.
    assert time.process_time() - began < 10
    assert path.length <= 1.25 * path.bound


def test_a_hairline_edge_does_not_open_the_outline():
    """A ring with two points a hair apart across a row of the grid: the row still knows inside from outside."""
    from sparwright.cutting.grid import edges_of, room_of

    hair = 1e-10
    square = Polygon([(0, 0), (8, 0), (8, 4 - hair), (8, 4 + hair), (8, 8), (0, 8)])
    edges = edges_of(square)
    assert np.array_equal(edges[:, 2:], np.roll(edges[:, :2], -1, axis=0))
    room = room_of(Polygon([(0, 0), (8, 0), (8, 8), (0, 8)]), 1.0)
    rows = 4.0 - room.grid.y0 - np.round((4.0 - room.grid.y0) / room.grid.step) * room.grid.step
    shifted = Polygon([(x, y - rows) for x, y in square.exterior.coords])
    inside = room_of(shifted, 1.0).grid.values > 0
    assert inside.any(axis=1).sum() == pytest.approx(8.0 / room.grid.step, abs=1.5)
    counts = inside.sum(axis=1)
    assert counts[counts > 0].min() >= counts.max() - 1
