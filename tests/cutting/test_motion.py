"""Motion time against values worked by hand from plane kinematics (trapezoids, triangles, the corner circle)."""

from __future__ import annotations

import numpy as np
import pytest

from sparwright.cutting.entry import helix_moves, ramp_moves
from sparwright.cutting.model import ARC_CCW, LINE, RAPID
from sparwright.cutting.motion import move_seconds, path_seconds
from sparwright.job.models import Bed


def bed(accel=(200, 200, 200), limit=(60000, 60000, 60000), **controller) -> Bed:
    """A machine with the limits under test and nothing else in the way."""
    settings = {"blocks_per_second": 10000, "look_ahead": 100, "junction_deviation": 0.02} | controller
    return Bed.model_validate(
        {
            "name": "test bed",
            "reach": [900, 900, 90],
            "throat": 900,
            "bridge_clearance": 100,
            "nose_height": 100,
            "bed_size": [900, 900],
            "rapid": limit,
            "feed_limit": limit,
            "acceleration": accel,
            "spindle": {
                "power": 1000,
                "slowest": 8000,
                "fastest": 24000,
                "full_power_at": 18000,
            },
            "controller": settings,
        }
    )


def lines(points, feed, machine, kind=LINE) -> np.ndarray:
    """Seconds of each of the straight moves through points (k + 1, 3)."""
    p = np.array(points, float)
    k = len(p) - 1
    return move_seconds(
        np.full(k, kind), p[0], p[1:], np.full((k, 2), np.nan), np.full(k, float(feed)), machine
    )


@pytest.mark.parametrize(
    ("length", "speed", "accel", "seconds"),
    [
        (100, 20, 200, 5.100),
        (1, 20, 200, 0.141421),
        (100, 50, 500, 2.1),
        (5, 50, 500, 0.2),
        (2, 50, 500, 0.126491),
    ],
)
def test_one_line_from_rest_to_rest(length, speed, accel, seconds):
    got = lines([(0, 0, 0), (length, 0, 0)], speed * 60, bed((accel,) * 3))
    assert got.sum() == pytest.approx(seconds, abs=1e-5)


def test_right_angle_corner():
    """Two legs of 50 mm at 20 mm/s and 200 mm/s2, deviation 0.02: corner at 3.108 mm/s, 5.1713 s in all."""
    got = lines([(0, 0, 0), (50, 0, 0), (50, 50, 0)], 1200, bed())
    assert got.sum() == pytest.approx(5.1713, abs=5e-5)
    corner = np.sqrt(200 * 0.02 * np.cos(np.pi / 4) / (1 - np.cos(np.pi / 4)))
    assert corner == pytest.approx(3.108, abs=5e-4)
    leg = (20 / 200) + (20 - corner) / 200 + (50 - 20**2 / 400 - (20**2 - corner**2) / 400) / 20
    assert got == pytest.approx([leg, leg], abs=1e-9)


def test_straight_joint_costs_nothing_and_reversal_is_a_full_stop():
    one = lines([(0, 0, 0), (20, 0, 0)], 1200, bed())
    two = lines([(0, 0, 0), (7, 0, 0), (20, 0, 0)], 1200, bed())
    assert two.sum() == pytest.approx(one.sum(), abs=1e-9)
    back = lines([(0, 0, 0), (20, 0, 0), (0, 0, 0)], 1200, bed())
    assert back.sum() == pytest.approx(2 * one.sum(), abs=1e-9)


def test_full_stops_between_short_segments():
    """100 segments of 10 mm at 20 mm/s and 300 mm/s2 with stops at each joint: 56.6667 s, without: 50.0667 s."""
    machine = bed((300,) * 3)
    x = np.arange(101) * 10.0
    straight = np.column_stack([x, 0 * x, 0 * x])
    assert lines(straight, 1200, machine).sum() == pytest.approx(50.0667, abs=5e-5)
    to_and_fro = np.column_stack([np.arange(101) % 2 * 10.0, 0 * x, 0 * x])
    assert lines(to_and_fro, 1200, machine).sum() == pytest.approx(56.6667, abs=5e-5)


def test_arc_is_held_to_its_centripetal_limit():
    """sqrt(500 * 3) = 38.73 mm/s on a 3 mm arc; a straight feed of 60 mm/s is not reached there."""
    machine = bed((500,) * 3)
    p = np.array([[3.0, 0, 0], [-3.0, 0, 0]])
    args = (np.array([ARC_CCW]), p[0], p[1:], np.zeros((1, 2)), np.array([3600.0]), machine)
    top, way = np.sqrt(1500), np.pi * 3
    assert path_seconds(*args) == pytest.approx(way / top + top / 500, abs=1e-9)
    slow = move_seconds(*args[:4], np.array([600.0]), machine)
    assert slow.sum() == pytest.approx(way / 10 + 10 / 500, abs=1e-9)


def test_block_rate_and_look_ahead_hold_chords_back():
    x = np.arange(0, 40.05, 0.1)
    chords = np.column_stack([x, 0 * x, 0 * x])
    free = lines(chords, 1200, bed()).sum()
    rate = lines(chords, 1200, bed(blocks_per_second=100)).sum()
    assert rate == pytest.approx(40 / 10 + 10 / 200, abs=0.01)
    near = lines(chords, 1200, bed(look_ahead=4)).sum()
    top = np.sqrt(2 * 200 * 0.1 * 4)
    assert free < near
    assert near == pytest.approx(40 / top, rel=0.08)


def test_axis_limits_scale_with_direction():
    """At 45 degrees both axes work: the path may be faster by the square root of two. A slow axis alone holds it."""
    limit = (1200, 1200, 300)
    d = 100 / np.sqrt(2)
    got = lines([(0, 0, 0), (d, d, 0)], 99999, bed(limit=limit), kind=RAPID).sum()
    v, a = 20 * np.sqrt(2), 200 * np.sqrt(2)
    assert got == pytest.approx(100 / v + v / a, abs=1e-9)
    down = lines([(0, 0, 0), (0, 0, -10)], 99999, bed((200, 200, 50), limit)).sum()
    assert down == pytest.approx(10 / 5 + 5 / 50, abs=1e-9)


def test_moves_without_length_take_no_time():
    assert lines([(0, 0, 0), (0, 0, 0), (10, 0, 0)], 600, bed())[0] == 0.0
    assert len(lines([(0, 0, 0)], 600, bed())) == 0


def test_helix_falls_evenly_then_laps_level():
    path = helix_moves((5, 7), 2.0, 1.0, -2.6, 0.5)
    assert len(path.kind) == 2 * 8 + 2
    assert np.allclose(path.start, [7, 7, 1.0])
    assert np.allclose(path.end[-1], [7, 7, -2.6])
    assert np.allclose(np.hypot(*(path.end[:, :2] - path.centre).T), 2.0)
    fall = -np.diff(np.append(path.start[2], path.end[:, 2]))
    assert np.allclose(fall[:-2], 3.6 / 16)
    assert np.allclose(fall[-2:], 0)
    with pytest.raises(ValueError, match="rises"):
        helix_moves((0, 0), 2.0, 0.0, 1.0, 0.5)


def test_ramp_keeps_its_slope_and_ends_level_where_it_began():
    path = ramp_moves([(0, 0), (10, 0)], 0.0, -2.2, 0.05)
    z = np.append(0.0, path.end[:, 2])
    assert (-np.diff(z) <= 0.05 * 10 + 1e-9).all()
    assert z[-1] == z[-2] == -2.2
    assert np.allclose(path.end[-1, :2], [0, 0])
    level = ramp_moves([(0, 0), (10, 0)], 0.0, 0.0, 0.05)
    assert len(level.kind) == 2
    with pytest.raises(ValueError, match="length"):
        ramp_moves([(0, 0), (0, 0)], 0.0, -1.0, 0.05)
