"""Fitting lines and arcs: what is fitted stays within its tolerance, nearly tangent, and of few pieces."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.cutting.arcfit import Moves, fit_moves
from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE


def circle(radius: float, sweep: float, step: float, centre=(2.0, -1.0)) -> tuple[np.ndarray, np.ndarray]:
    """Places and headings along an arc."""
    t = np.linspace(0, sweep, max(int(abs(sweep) * radius / step), 3) + 1)
    xy = np.array(centre) + radius * np.column_stack([np.cos(t), np.sin(t)])
    return xy, t + np.sign(sweep) * np.pi / 2


def worst_gap(points: np.ndarray, moves: Moves) -> float:
    """Greatest distance from a point to the fitted moves, by dense sampling."""
    dense, _, _ = moves.sampled(0.002)
    gap = 0.0
    for p in points:
        gap = max(gap, float(np.hypot(*(dense[:, :2] - p).T).min()))
    return gap


def test_a_straight_run_is_one_line():
    x = np.arange(0, 20.05, 0.2)
    moves = fit_moves(np.column_stack([x, 2 * x]), np.full(len(x), np.arctan(2)))
    assert list(moves.kind) == [LINE]
    assert moves.lengths[0] == pytest.approx(np.hypot(20, 40), abs=1e-9)


@pytest.mark.parametrize(
    ("sweep", "kind", "pieces"), [(2.5, ARC_CCW, 1), (-2.5, ARC_CW, 1), (6.0, ARC_CCW, 3)]
)
def test_an_arc_is_found_whole_and_split_below_half_a_turn(sweep, kind, pieces):
    xy, heading = circle(7.0, sweep, 0.18)
    moves = fit_moves(xy, heading)
    assert len(moves) <= pieces
    assert moves.kind[0] == kind
    assert moves.lengths[moves.kind == kind].sum() > 0.9 * abs(sweep) * 7
    assert np.abs(moves.sweeps).max() < np.pi
    assert np.nanmax(np.hypot(*(moves.centre - [2, -1]).T)) < 0.02
    assert moves.lengths.sum() == pytest.approx(abs(sweep) * 7, rel=1e-3)


def test_noise_within_the_tolerance_costs_few_pieces():
    draw = np.random.default_rng(5)
    xy, heading = circle(9.0, 3.0, 0.18)
    moves = fit_moves(xy + draw.normal(0, 0.001, xy.shape), heading)
    assert len(moves) <= 4


@settings(max_examples=25, deadline=None)
@given(
    bends=st.lists(st.tuples(st.floats(-1.2, 1.2), st.floats(0.5, 6)), min_size=1, max_size=6),
    tolerance=st.sampled_from([0.002, 0.005, 0.02]),
)
def test_any_smooth_run_stays_within_tolerance(bends, tolerance):
    """Runs of random curvature (arc after arc, tangent): points within tolerance, ends met, no short pieces."""
    heading, place = 0.3, np.zeros(2)
    points, ways = [place], [heading]
    for curvature, length in bends:
        for _ in range(max(int(length / 0.1), 1)):
            middle = heading + 0.05 * curvature
            place = place + 0.1 * np.array([np.cos(middle), np.sin(middle)])
            heading += 0.1 * curvature
            points.append(place)
            ways.append(heading)
    xy, ways = np.array(points), np.array(ways)
    moves = fit_moves(xy, ways, tolerance)
    assert worst_gap(xy, moves) <= tolerance + 0.0015
    assert np.array_equal(moves.start[0], xy[0])
    assert np.array_equal(moves.end[-1], xy[-1])
    assert np.array_equal(moves.start[1:], moves.end[:-1])
    if moves.lengths.sum() > 0.25:
        assert moves.lengths.min() >= 0.1
    radius = np.hypot(*(moves.start - moves.centre).T)
    other = np.hypot(*(moves.end - moves.centre).T)
    arcs = moves.kind != LINE
    assert np.allclose(radius[arcs], other[arcs], atol=1e-6)


def test_kinks_at_joints_are_small():
    t = np.linspace(0, 4 * np.pi, 700)
    rho = 4 + 0.3 * t
    xy = rho[:, None] * np.column_stack([np.cos(t), np.sin(t)])
    heading = np.unwrap(np.arctan2(*np.gradient(xy, axis=0).T[::-1]))
    moves = fit_moves(xy, heading)
    dense, index, _ = moves.sampled(0.01)
    turn = np.abs(np.diff(np.unwrap(dense[:, 2])))
    joints = np.diff(index) != 0
    assert turn[joints].max() < 0.13
    assert len(moves) < 40


def test_samples_lie_on_the_moves_and_give_their_length():
    xy, heading = circle(5.0, -2.0, 0.2)
    moves = fit_moves(xy, heading)
    places, index, travel = moves.sampled(0.05)
    assert np.hypot(places[:, 0] - 2, places[:, 1] + 1) == pytest.approx(5.0, abs=0.005)
    assert travel[-1] == pytest.approx(10.0, rel=1e-3)
    assert index[0] == 0
    assert index[-1] == len(moves) - 1


def test_one_point_is_refused():
    with pytest.raises(ValueError, match="two points"):
        fit_moves(np.zeros((1, 2)), np.zeros(1))
