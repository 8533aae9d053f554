"""The fit against closed forms, a fine scan and generated sets of points."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.placing.fit import (
    Uprights,
    longest_strip,
    margin_between_uprights,
    reach_margin,
    search,
    search_reach,
    sides_that_hold,
    upright_gaps,
)


def box(length: float, width: float) -> np.ndarray:
    return np.array([(0, 0), (length, 0), (length, width), (0, width)], dtype=float)


def scanned(points: np.ndarray, reach: tuple[float, float], step_deg: float = 0.002) -> tuple[float, float]:
    """Greatest margin by turning the points through 180 degrees in small steps; (margin, angle)."""
    best = (-math.inf, 0.0)
    for part in np.array_split(np.radians(np.arange(0, 180, step_deg)), 200):
        c, s = np.cos(part)[:, None], np.sin(part)[:, None]
        w = np.ptp(points[:, 0] * c - points[:, 1] * s, axis=1)
        h = np.ptp(points[:, 0] * s + points[:, 1] * c, axis=1)
        m = np.minimum((reach[0] - w) / 2, (reach[1] - h) / 2)
        if m.max() > best[0]:
            best = (float(m.max()), float(part[m.argmax()]))
    return best


@pytest.mark.parametrize(
    ("reach", "width", "length", "angle"),
    [
        # Derived by hand: the strip touches all four sides; A sin t - B cos t + w cos 2t = 0.
        ((400, 300), 0, 500.000, 36.870),
        ((400, 300), 20, 480.905, 36.175),
        ((400, 300), 40, 462.071, 35.356),
        ((400, 300), 80, 425.668, 33.196),
        ((400, 300), 120, 400.0, 0.0),
        ((300, 180), 40, 316.605, 27.136),
        ((800, 600), 80, 924.142, 35.356),
        ((300, 300), 40, 384.264, 45.0),
    ],
)
def test_the_longest_strip_touches_its_reach(
    reach: tuple[float, float], width: float, length: float, angle: float
) -> None:
    found, at = longest_strip(width, reach)
    assert found == pytest.approx(length, abs=6e-4)
    assert math.degrees(at) == pytest.approx(angle, abs=6e-4)
    # The search finds the same strip: just fitting, and nothing longer.
    result = search_reach(box(found, width), reach)
    assert result.best.margin == pytest.approx(0, abs=1e-6)
    assert search_reach(box(found + 0.01, width), reach).best.margin < -1e-4


@settings(max_examples=150, deadline=None)
@given(st.floats(50, 900), st.floats(5, 300), st.floats(60, 700), st.floats(20, 700))
def test_a_turned_rectangle_fits_exactly_where_the_closed_form_says(
    p: float, q: float, a: float, b: float
) -> None:
    """p x q in a x b with p > a: fits iff b >= (2pqa + (p²-q²) sqrt(p²+q²-a²)) / (p²+q²) (known since 1957; from memory)."""
    p, q = max(p, q), min(p, q)
    if p <= a or q > a:
        return
    needed = (2 * p * q * a + (p * p - q * q) * math.sqrt(p * p + q * q - a * a)) / (p * p + q * q)
    straight_up = q <= a and p <= b
    if abs(b - needed) < 1e-6 or abs(b - p) < 1e-6:
        return
    assert bool(search_reach(box(p, q), (a, b)).angles) == (b > needed or straight_up)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-300, 300), st.floats(-80, 80)), min_size=1, max_size=12),
    st.floats(150, 700),
    st.floats(100, 700),
)
def test_no_angle_of_a_fine_scan_beats_the_exact_search(
    points: list[tuple[float, float]], a: float, b: float
) -> None:
    cloud = np.array(points)
    result = search_reach(cloud, (a, b))
    margin, _ = scanned(cloud, (a, b), 0.02)
    assert margin <= result.best.margin + 1e-9
    assert result.best.margin - margin < 0.12
    held = sides_that_hold(result.best, cloud, (a, b))
    assert min(gap for gap, _ in held.values()) == pytest.approx(result.best.margin, abs=1e-7)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-300, 300), st.floats(-80, 80)), min_size=3, max_size=10),
    st.floats(150, 700),
    st.floats(100, 700),
)
def test_the_allowed_intervals_are_those_of_a_scan(
    points: list[tuple[float, float]], a: float, b: float
) -> None:
    cloud = np.array(points)
    angles = np.radians(np.arange(0, 180.01, 0.5))
    margins = reach_margin(cloud, (a, b), angles)
    intervals = search_reach(cloud, (a, b)).angles
    for angle, margin in zip(angles, margins, strict=True):
        inside = any(low - 1e-9 <= angle <= high + 1e-9 for low, high in intervals)
        if abs(margin) > 1e-6:
            assert inside == (margin > 0)
    for interval in intervals:
        assert reach_margin(cloud, (a, b), np.array(interval)).min() > -1e-7


def test_one_point_and_points_in_a_line_are_searched_too() -> None:
    one = search_reach(np.array([[3.0, 4.0]]), (100, 50))
    assert one.angles == ((0.0, math.pi),)
    assert (one.best.margin, one.best.angle) == (25, 0)
    line = search_reach(np.array([(0.0, 0.0), (500.0, 0.0), (250.0, 0.0)]), (400, 300))
    assert line.best.margin == pytest.approx(0, abs=1e-9)
    assert math.degrees(line.best.angle) == pytest.approx(36.8699, abs=1e-4)
    assert len(line.angles) == 2
    assert all(high - low < 1e-6 for low, high in line.angles)


def test_equal_margins_take_the_angle_nearest_straight() -> None:
    assert search_reach(box(100, 100), (300, 300)).best.angle == 0
    square = search_reach(box(300, 40), (300, 300))
    assert math.degrees(square.best.angle) == pytest.approx(45)


def test_uprights_close_angles_the_tool_alone_would_allow() -> None:
    """Points 430 x 10, bar 1000 x 40, reach 400 x 300: figures of an independent scan."""
    points = box(430, 10) - (215, 5)
    bar = box(1000, 40) - (500, 20)

    def fit(throat: float):  # type: ignore[no-untyped-def]
        return search(points, bar, (400, 300), Uprights(200 - throat / 2, 200 + throat / 2, -50, 350))

    wide = fit(5000)
    assert np.degrees(wide.angles[0]) == pytest.approx([22.90, 42.89], abs=0.005)
    assert wide.best.margin == pytest.approx(21.66, abs=0.005)
    assert math.degrees(wide.best.angle) == pytest.approx(35.31, abs=0.005)
    tight = fit(520)
    assert np.degrees(tight.angles[0]) == pytest.approx([41.06, 42.89], abs=0.005)
    # A long bar across a band H high: sin(t - atan(H / T)) >= b / hypot(H, T).
    closed = math.atan2(400, 520) + math.asin(40 / math.hypot(400, 520))
    assert tight.angles[0][0] == pytest.approx(closed, abs=1e-7)
    assert min(upright_gaps(tight.best, bar, Uprights(-60, 460, -50, 350))) == pytest.approx(
        tight.best.margin, abs=1e-6
    )
    none = fit(460)
    assert none.angles == ()
    assert none.best.margin < 0


@settings(max_examples=15, deadline=None)
@given(
    st.floats(100, 420),
    st.floats(2, 60),
    st.floats(450, 1100),
    st.floats(20, 90),
    st.floats(380, 700),
    st.floats(-30, 30),
    st.floats(0.01, 3.13),
)
def test_the_offset_at_one_angle_is_the_best_of_a_scan(
    length: float, width: float, bar: float, across: float, throat: float, aside: float, angle: float
) -> None:
    points = box(length, width) - (0.4 * length, width / 2)
    body = box(bar, across) - (0.45 * bar, across / 2)
    middle = 200 + aside
    uprights = Uprights(middle - throat / 2, middle + throat / 2, -50, 350)
    best, at = margin_between_uprights(points, body, (400, 300), uprights, np.array([angle]))

    def margin(y: float) -> float:
        c, s = math.cos(angle), math.sin(angle)
        px, py = points @ (c, -s), points @ (s, c) + y
        # The body cut to the band by hand: crossings of its edges and the corners inside.
        q = np.column_stack([body @ (c, -s), body @ (s, c) + y])
        xs = [x for x, yy in q if -50 <= yy <= 350]
        for (x0, y0), (x1, y1) in zip(q, np.roll(q, -1, axis=0), strict=True):
            for level in (-50.0, 350.0):
                if (y0 - level) * (y1 - level) < 0:
                    xs.append(x0 + (x1 - x0) * (level - y0) / (y1 - y0))
        lows, highs = [px.min()], [400 - px.max()]
        if xs:
            lows.append(min(xs) - uprights.left)
            highs.append(uprights.right - max(xs))
        return min(py.min(), 300 - py.max(), (min(lows) + min(highs)) / 2)

    scan = max(margin(y) for y in np.linspace(at[0] - 700, at[0] + 700, 1401))
    assert best[0] >= scan - 1e-6
    assert max(margin(at[0] + d) for d in (-1e-6, 0.0, 1e-6)) == pytest.approx(best[0], abs=1e-4)
