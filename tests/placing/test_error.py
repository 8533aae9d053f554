"""The error budget against simulation: a machine with wrong scales and squareness cuts slot, stop and features."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sparwright.placing.error import (
    SEAT,
    Situation,
    combined,
    error_at,
    mismatch_at,
    tolerance,
)

SITUATION = Situation(
    angle=math.radians(38),
    stop=(0.0, -11.0),
    pads_x=(90.0, 1090.0),
    half=50.0,
    scale=3e-4,
    squareness=4e-4,
    backlash=0.015,
    runout=0.01,
    deflection=0.033,
    expansion=1.15e-4,
)


def even(rng: np.random.Generator, n: int, half: float) -> np.ndarray:
    return rng.uniform(-half, half, n)


def cut_one_side(
    s: Situation, e: np.ndarray, x: float, t: float, wall: float, rng: np.random.Generator
) -> np.ndarray:
    """Where a feature commanded at (x, t) comes out in the member, (n, 2), by following the machine step by step.

    e: (n, 2, 2) errors of the map. The member lies on its bearing wall as it was really cut and against the stop.
    """
    n = len(e)
    u = np.array([math.cos(s.angle), math.sin(s.angle)])
    v = np.array([-u[1], u[0]])

    def true(px: float, pt: float) -> np.ndarray:
        commanded = px * u + pt * v
        return commanded + e @ commanded

    slop = np.column_stack([even(rng, n, s.backlash), even(rng, n, s.backlash)])
    ends = [true(px, wall * s.half) + slop + even(rng, n, SEAT)[:, None] * v for px in s.pads_x]
    along = ends[1] - ends[0]
    along /= np.linalg.norm(along, axis=1)[:, None]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    stop = true(*s.stop) + slop
    place = true(x, t) + np.column_stack([even(rng, n, s.backlash), even(rng, n, s.backlash)])
    place += even(rng, n, s.runout)[:, None] * u + even(rng, n, s.runout)[:, None] * v
    place += even(rng, n, s.deflection)[:, None] * u + even(rng, n, s.deflection)[:, None] * v
    from_stop = np.sum((place - stop) * along, axis=1) + even(rng, n, SEAT)
    from_wall = np.sum((place - ends[0]) * across, axis=1)
    return np.column_stack([from_stop, from_wall])


def maps(s: Situation, rng: np.random.Generator, n: int) -> np.ndarray:
    e = np.zeros((n, 2, 2))
    e[:, 0, 0], e[:, 1, 1] = even(rng, n, s.scale), even(rng, n, s.scale)
    e[:, 0, 1] = even(rng, n, s.squareness)
    return e


@pytest.mark.parametrize("angle", [0.0, 38.0, 45.0, 90.0])
@pytest.mark.parametrize(("x", "t", "wall"), [(30.0, 10.0, 1.0), (600.0, -45.0, 1.0), (1150.0, 40.0, -1.0)])
def test_the_budget_is_the_scatter_of_a_simulated_machine(
    angle: float, x: float, t: float, wall: float
) -> None:
    s = Situation(**{**SITUATION.__dict__, "angle": math.radians(angle)})
    rng = np.random.default_rng(3)
    n = 40_000
    seen = cut_one_side(s, maps(s, rng, n), x, t, wall, rng)
    warm = even(rng, n, s.expansion)[:, None]
    seen = seen + warm * np.array([x, t - wall * s.half])
    assert np.std(seen, axis=0) == pytest.approx(error_at(s, x, t, wall), rel=0.025)


@pytest.mark.parametrize("angle", [0.0, 38.0, 45.0])
def test_the_mismatch_of_opposite_sides_is_that_of_a_simulated_flip(angle: float) -> None:
    s = Situation(**{**SITUATION.__dict__, "angle": math.radians(angle), "squareness": 2e-3, "scale": 2e-3})
    rng = np.random.default_rng(5)
    n, x, t = 40_000, 700.0, 42.0
    e = maps(s, rng, n)
    one = cut_one_side(s, e, x, t, 1.0, rng)
    other = cut_one_side(s, e, x, -t, -1.0, rng)
    # Turned about the long axis: x stays, the distance from the bearing edge changes sign.
    difference = np.column_stack([one[:, 0] - other[:, 0], one[:, 1] + other[:, 1]])
    assert np.std(difference, axis=0) == pytest.approx(mismatch_at(s, x, t), rel=0.025)


def test_squareness_doubles_between_sides_and_scale_cancels() -> None:
    quiet = dict.fromkeys(("scale", "squareness", "backlash", "runout", "deflection", "expansion"), 0.0)
    base = {**SITUATION.__dict__, **quiet, "angle": 0.0}
    seat = mismatch_at(Situation(**base), 500, 40)[0]
    square = mismatch_at(Situation(**{**base, "squareness": 1e-3}), 500, 40)[0]
    assert math.sqrt(square**2 - seat**2) == pytest.approx(2 * 1e-3 * 40 / math.sqrt(3))
    assert mismatch_at(Situation(**{**base, "scale": 1e-3}), 500, 40)[0] == pytest.approx(seat)


def test_contributions_combine_as_in_the_gauge_block_example() -> None:
    """JCGM 100:2008 annex H.1, first-order terms in nm: uc = 31.67 (printed 32)."""
    assert combined([25.0, 9.7, 2.88675, 16.5988]) == pytest.approx(31.6693, rel=1e-5)


@pytest.mark.parametrize(
    ("length", "printed"), [(6, 0.1), (30, 0.2), (100, 0.3), (399, 0.5), (1000, 0.8), (1180, 1.2)]
)
def test_general_tolerances_are_those_printed(length: float, printed: float) -> None:
    assert tolerance(length) == printed
