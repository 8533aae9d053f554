"""The order of cuts and pieces against brute force."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.cutting.order import WAITS, ZONE, middle_out, schedule, tour, way_length


def keeps_waits(order):
    for i, (name, _) in enumerate(order):
        later = {n for n, _ in order[i + 1 :]}
        if later & set(WAITS[name]):
            return False
    return True


def blocks(order):
    return sum(1 for i, (_, c) in enumerate(order) if i == 0 or order[i - 1][1] != c)


@settings(max_examples=40, deadline=None)
@given(st.sets(st.tuples(st.sampled_from(sorted(WAITS)), st.integers(1, 3)), min_size=1, max_size=6))
def test_fewest_changes_that_keep_the_waits(cuts):
    made = schedule(tuple(cuts))
    assert sorted(made) == sorted(cuts)
    assert keeps_waits(made)
    best = min(blocks(p) for p in itertools.permutations(cuts) if keeps_waits(p))
    assert blocks(made) == best


def test_bridge_beam_takes_each_cutter_once():
    cuts = [
        ("clear pockets", 1), ("finish floors", 1), ("clear corners", 2), ("finish walls", 2), ("bore holes", 2),
        ("bore holes", 3), ("clear notches", 2), ("finish notches", 2), ("break edges", 4),
    ]  # fmt: skip
    made = schedule(tuple(cuts))
    assert blocks(made) == 4
    assert made[-1] == ("break edges", 4)
    names = [n for n, c in made if c == 2]
    assert names == ["bore holes", "clear corners", "finish walls", "clear notches", "finish notches"]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 20)), min_size=2, max_size=7, unique=True))
def test_tour_is_near_the_shortest(places):
    points = np.array(places, float)
    order = tour(points)
    assert sorted(order) == list(range(len(points)))
    first = int(np.argmin(points[:, 0]))
    assert points[order[0], 0] == points[first, 0]
    rest = [i for i in range(len(points)) if i != order[0]]
    best = min(way_length(points, np.array([order[0], *p])) for p in itertools.permutations(rest))
    assert best - 1e-9 <= way_length(points, order) <= 1.35 * best + 1e-9


def test_two_opt_leaves_no_crossing_worth_undoing():
    rng = np.random.default_rng(4)
    points = rng.uniform(0, 100, (60, 2))
    order = tour(points)
    length = way_length(points, order)
    for i, j in itertools.combinations(range(1, 60), 2):
        other = order.copy()
        other[i : j + 1] = other[i : j + 1][::-1]
        assert way_length(points, other) >= length - 1e-6


def test_middle_out_takes_the_sides_in_turn():
    x = np.linspace(60, 1120, 94)
    points = np.column_stack([x, np.where(np.arange(94) % 2, 5.0, -5.0)])
    order = middle_out(points, 590.0)
    assert sorted(order) == list(range(94))
    zones = np.floor(np.abs(points[order, 0] - 590) / ZONE)
    assert np.all(np.diff(zones) >= 0)
    done = np.cumsum(np.where(points[order, 0] >= 590, 1, -1))
    per_zone = ZONE / (x[1] - x[0]) + 1
    assert np.abs(done).max() <= per_zone + 1, "one side runs ahead of the other"


def test_unknown_name_is_a_key_error():
    with pytest.raises(KeyError):
        schedule((("polish", 1),))
