"""Sections from measured points: radii, hollows, bores, and refusals that name the corner and its line."""

import math

import pytest

from sparwright.job.models import PointsSection
from sparwright.job.reading import JobError
from sparwright.stock.member import build_member
from sparwright.stock.points import read_points
from sparwright.stock.rings import OutlineError
from sparwright.stock.section import make_section

BOX = [[0, 0], [40, 0], [40, 20], [0, 20]]
INNER = [[3, 3], [37, 3], [37, 17], [3, 17]]


def points(outer, **keys):
    return read_points(PointsSection(shape="points", outer=outer, **keys), 1e-4)


def test_corners_either_way_round_closed_or_not_from_any_origin():
    for outer in (BOX, BOX[::-1], [*BOX, BOX[0]], [[y - 7, z + 9] for y, z in BOX]):
        shape = points(outer)
        assert shape.area == pytest.approx(800)
        assert shape.exterior.is_ccw
    section = make_section(PointsSection(shape="points", outer=[[y - 7, z + 9] for y, z in BOX]), ".")
    assert section.shape.bounds == pytest.approx((0, 0, 40, 20))
    assert section.drawing == "section from measured points"
    assert {f.name: f.width for f in section.faces} == {"top": 40, "bottom": 40, "front": 20, "back": 20}


def test_radii_round_outer_and_inner_corners():
    """Each outer corner loses r² (1 - pi/4), each inner one gains it."""
    lost = 1 - math.pi / 4
    shape = points([[0, 0, 4], [40, 0], [40, 20, 2], [0, 20]])
    assert shape.area == pytest.approx(800 - (16 + 4) * lost, rel=1e-5)
    angle = points([[0, 0], [60, 0], [60, 5], [5, 5, 4], [5, 40], [0, 40]])
    assert angle.area == pytest.approx(60 * 5 + 35 * 5 + 16 * lost, rel=1e-5)


def test_hollows_and_bores():
    shape = points(BOX, holes=[[[3, 3, 1], [18, 3, 1], [18, 17, 1], [3, 17, 1]]], bores=[[29, 10, 8]])
    hollow = 15 * 14 - (4 - math.pi)
    assert shape.area == pytest.approx(800 - hollow - math.pi * 16, rel=1e-5)
    assert len(shape.interiors) == 2


def test_numbers_may_carry_units():
    spec = PointsSection(shape="points", outer=[["0 in", 0], ["1-1/2 in", 0], [38.1, "1 in", "1/8 in"]])
    assert spec.outer[1] == pytest.approx((38.1, 0))
    assert spec.outer[2] == pytest.approx((38.1, 25.4, 3.175))


@pytest.mark.parametrize(
    ("outer", "keys", "blamed", "words"),
    [
        ([[0, 0], [40, 20], [40, 0], [0, 20]], {}, ("outer",), r"outer: the outline crosses itself at \(20\.000, 10\.000\); draw it .*; list its corners in order round it"),
        ([[0, 0], [40, 0], [0, 0]], {}, ("outer",), "outer has 2 different corners; at least 3 enclose metal"),
        ([[0, 0], [40, 0], [80, 0]], {}, ("outer",), "crosses itself|goes out and back"),
        ([[0, 0], [40, 0], [40, 0], [0, 20]], {}, ("outer", 2), r"corner 3 at \(40\.000, 0\.000\) repeats the one before it"),
        ([[0, 0], [40, 0, -2], [40, 20]], {}, ("outer", 1), "corner 2 has the radius -2; a radius is at least 0 mm"),
        ([[0, 0], [40, 0], [40, 20, 25], [0, 20]], {}, ("outer", 2), r"corner 3 at \(40\.000, 20\.000\): a corner radius of 25 mm needs 25\.000 mm of a side 20\.000 mm long; at most 20\.000 mm fits; make it smaller"),
        ([[0, 0, 12], [40, 0], [40, 20], [0, 20, 11]], {}, ("outer", 0), r"corner 1 .* at most 10\.435 mm fits"),
        (BOX, {"holes": [[[50, 3], [60, 3], [60, 9]]]}, ("holes", 0), "hole 1 lies outside the outline; a hollow lies wholly inside"),
        (BOX, {"holes": [INNER, [[30, 5], [45, 5], [45, 9]]]}, ("holes", 1), r"hole 2 reaches through the outline, or touches it, near \(4"),
        (BOX, {"holes": [[[0, 3], [9, 3], [9, 9]]]}, ("holes", 0), r"touches it, near \(0\.000, 3\.000\)"),
        (BOX, {"holes": [[[-1, -1], [41, -1], [41, 21], [-1, 21]]]}, ("holes", 0), "hole 1 lies round the outline"),
        (BOX, {"holes": [INNER, [[5, 5], [9, 5], [9, 9]]]}, ("holes", 1), "hole 2: an outline lies loose inside a hole"),
        (BOX, {"holes": [INNER, [[30, 5], [38, 5], [38, 9]]]}, ("holes", 1), r"hole 2: two outlines cross or touch at \(37\.000"),
        (BOX, {"bores": [[20, 10, 8], [24, 10, 8]]}, ("bores", 1), "bore 2: two outlines cross or touch"),
        (BOX, {"bores": [[20, 10, 25]]}, ("bores", 0), "bore 1 reaches through the outline"),
        (BOX, {"bores": [[20, 10, 0]]}, ("bores", 0), r"bore 1 has the diameter 0; it must be above 0 mm"),
        ([[0, 0], [1.5, 0], [1.5, 0.5]], {}, ("outer",), r"measures 1\.5 x 0\.5 mm; sides of 2 to 2000 mm are taken; give the points in mm"),
        ([[0, 0], [9000, 0], [9000, 50]], {}, ("outer",), "measures 9000 x 50 mm; sides of 2 to 2000 mm"),
    ],
)  # fmt: skip
def test_points_that_give_no_section_are_refused(outer, keys, blamed, words):
    with pytest.raises(OutlineError, match=words) as fault:
        points(outer, **keys)
    assert fault.value.keys == blamed


def test_rounding_that_makes_the_outline_cross_itself():
    """A deep notch with a tight bottom: the fillet of the neighbour bulges into the notch's other side."""
    outer = [[0, 0], [40, 0], [40, 20], [21, 20], [20, 1], [19.9, 20], [0, 20]]
    assert points(outer).area > 0
    ring = [[0, 0, 9.9], [40, 0], [40, 20], [0, 20]]
    hollow = [[0.5, 0.5], [5, 0.5], [5, 5], [0.5, 5]]
    with pytest.raises(OutlineError, match="hole 1 reaches through the outline"):
        points(ring, holes=[hollow])


@pytest.mark.parametrize(
    ("section", "line", "words"),
    [
        ("outer = [\n  [0, 0],\n  [40, 0],\n  [40, 20, 25],\n  [0, 20],\n]\n", 17, "stock.section.outer[3]: outer: corner 3 at"),
        ("outer = [[0, 0], [40, 0]]\n", 14, "outer: [[0, 0], [40, 0]] is too short. Allowed: a list of at least 3 lists, each a list of 2 or 3 numbers in mm"),
        ("outer = [[0, 0], [40], [40, 20]]\n", 14, "outer[2]: [40] is too short. Allowed: a list of 2 or 3 numbers in mm"),
        ("outer = [[0, 0], [40, 0, 1, 1], [40, 20]]\n", 14, "is too long. Allowed: a list of 2 or 3 numbers in mm"),
        ("outer = [[0, 0], [40, 0], [40, 20]]\nholes = [\n[[10, 1], [12, 1], [12, 2]],\n[[60, 1], [62, 1], [62, 2]]]\n", 17, "stock.section.holes[2]: hole 2 lies outside the outline"),
        ("outer = 7\n", 14, "stock.section.outer: 7 is of the wrong kind"),
        ('outer = [[0, "x"], [40, 0], [40, 20]]\n', 14, "stock.section.outer[1][2]"),
    ],
)  # fmt: skip
def test_a_job_tells_the_fault_with_its_line(member_of, section, line, words):
    with pytest.raises(JobError) as fault:
        member_of("", section='shape = "points"\n' + section)
    assert fault.value.line == line
    assert words in str(fault.value)


def test_a_job_with_measured_points_is_built(job_of):
    section = 'shape = "points"\nouter = [[0, 0, 2], [50, 0, 2], [50, 100, 2], [0, 100, 2]]\nholes = [[[4, 4], [46, 4], [46, 96], [4, 96]]]\n'
    member = build_member(job_of("", section=section))
    assert member.section.shape.area == pytest.approx(50 * 100 - 42 * 92 - (4 - math.pi) * 4, rel=1e-4)
