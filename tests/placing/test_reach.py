"""Cutter-centre positions of features, and the order of the sides."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Point, Polygon

from sparwright.job.models import Job
from sparwright.placing.lying import lie_down, slot_order
from sparwright.placing.reach import bored, circle, feature_positions
from sparwright.stock.model import Member

Maker = Callable[..., tuple[Member, Job]]


def of(name: str, member: Member, face: str, job: Job) -> np.ndarray:
    needed = feature_positions(member, face, job.cutters)
    return needed.points[[n.startswith(name) for n in needed.names]]


def test_a_pocket_needs_its_outline_less_the_smallest_cutters_radius(small_job: Maker) -> None:
    text = '\n[[pocket]]\nname = "p"\nface = "top"\npocket = "{}"\nat = [200, 5]\nsize = 30\ndepth = 3\nedge_break = {}\n'
    member, job = small_job(text.format("round", 0))
    points = of("p", member, "top", job)
    distance = np.hypot(*(points - (200, 5)).T)
    assert distance == pytest.approx(np.full(len(points), 15 - 1.5875 / 2), abs=0.02)
    member, job = small_job(text.format("square", 0.4))
    # With a broken edge the vee runs on the outline itself.
    assert np.ptp(of("p", member, "top", job), axis=0) == pytest.approx((30, 30), abs=0.01)


def test_a_hole_needs_the_circle_its_boring_cutter_runs_on(small_job: Maker) -> None:
    member, job = small_job(
        '\n[[hole]]\nname = "h"\nface = "top"\nkind = "drilled"\ndiameter = 9\nat = [[100, 3]]\n'
        '\n[[hole]]\nname = "c"\nface = "top"\nkind = "counterbored"\nthread = "M5"\nat = [[200, 3]]\n'
    )
    radius = (9 - 1.5875) / 2
    ring = Polygon(of("h", member, "top", job))
    assert ring.contains(Point(100, 3).buffer(radius - 1e-6))
    assert ring.area == pytest.approx(np.pi * radius**2, rel=0.02)
    counterbored = next(h for h in member.holes if h.id.startswith("c"))
    assert counterbored.counterbore is not None
    wide = np.ptp(of("c", member, "top", job), axis=0)[0]
    assert wide == pytest.approx(counterbored.counterbore[0] - 1.5875, rel=0.03)


def test_a_listed_drill_needs_the_holes_centre_alone(small_job: Maker) -> None:
    member, job = small_job(
        '\n[[hole]]\nname = "h"\nface = "top"\nkind = "drilled"\ndiameter = 9\nat = [[100, 3]]\n'
    )
    drill = job.cutters[0].model_copy(
        update={"kind": "drill", "diameter": 9.0, "number": 9, "included_angle": 118.0}
    )
    points = feature_positions(member, "top", [*job.cutters, drill]).points
    assert points.tolist() == [[100, 3]]


@pytest.mark.parametrize("end", ["datum", "far"])
def test_a_notch_is_entered_from_outside_the_end(small_job: Maker, end: str) -> None:
    member, job = small_job(
        f'\n[[notch]]\nname = "n"\nface = "top"\nend = "{end}"\nwidth = 14\ndepth = 8\nat = 4\n'
    )
    x, s = of("n", member, "top", job).T
    outside, wall = -(6.35 / 2 + 1), 8 - 1.5875 / 2
    expected = (outside, wall) if end == "datum" else (500 - wall, 500 - outside)
    assert (x.min(), x.max()) == pytest.approx(expected)
    assert (s.min(), s.max()) == pytest.approx((4 - 7 + 1.5875 / 2, 4 + 7 - 1.5875 / 2))


@settings(max_examples=50, deadline=None)
@given(st.floats(0.1, 20), st.floats(-50, 50))
def test_the_polygon_for_a_circle_holds_all_of_it(radius: float, x: float) -> None:
    assert (
        MultiPoint(circle((x, 3.0), radius)).convex_hull.buffer(1e-9).contains(Point(x, 3.0).buffer(radius))
    )


def test_a_hole_is_bored_with_the_largest_cutter_that_enters() -> None:
    at = (10.0, 0.0)
    assert np.hypot(*(bored(at, 8.5, (1.5, 3.0, 6.0)) - at).T).min() * np.cos(np.pi / 16) == pytest.approx(
        1.25
    )
    assert bored(at, 1.0, (1.5, 3.0)).tolist() == [[10, 0]]


def test_the_demo_lies_flat_and_central_on_either_side(demo: tuple[Member, Job]) -> None:
    member, job = demo
    for side in ("front", "back"):
        lying = lie_down(member, side, 4.0, job.cutters)
        assert lying.height == pytest.approx(50)
        assert lying.slot == pytest.approx((-50, 50))
        assert lying.centre == pytest.approx(0)
        # A rounded corner of 4 mm, 0.05 mm up: 50 - 4 + sqrt(4² - 3.95²), its arc drawn as chords.
        assert lying.rest[1] == pytest.approx(46 + np.sqrt(16 - 3.95**2), abs=0.05)


def test_slots_about_one_middle_are_cut_in_rising_width() -> None:
    slots = [("a", (-30.0, 30.0)), ("b", (-5.0, 5.0)), ("c", (-20.0, 20.0))]
    assert slot_order(slots, ["a", "c", "b"]) == (("b", "c", "a"), True)


def test_one_shared_wall_keeps_the_order_of_widths_and_equal_slots_that_of_preference() -> None:
    assert slot_order([("a", (0.0, 30.0)), ("b", (0.0, 10.0))], ["a", "b"]) == (("b", "a"), True)
    assert slot_order([("a", (0.0, 30.0)), ("b", (0.0, 30.0))], ["b", "a"]) == (("b", "a"), True)


def test_offset_slots_of_one_width_spoil_each_other() -> None:
    assert slot_order([("a", (0.0, 30.0)), ("b", (5.0, 35.0))], ["a", "b"]) == (("a", "b"), False)
