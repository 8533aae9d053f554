"""Holes and notches: sizes from the printed tables, depths from the metal, and refusals at their lines."""

from itertools import pairwise

import pytest

from sparwright.job.reading import JobError
from sparwright.stock.threads import thread, thread_names

BAR = 'shape = "flat bar"\nwidth = 100\nthickness = 12\n'

# Printed drills of a data handbook (7.1), ISO 273 fine / medium / coarse (7.2), ISO 4762 heads (7.7) and
# counterbores (7.8).
DRILLS = {"M3": 2.5, "M4": 3.3, "M5": 4.2, "M6": 5.0, "M8": 6.8, "M10": 8.5, "M12": 10.2}
CLEARANCE = {
    "M3": (3.2, 3.4, 3.6),
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0),
}
HEADS = {"M3": (5.5, 3), "M4": (7, 4), "M5": (8.5, 5), "M6": (10, 6), "M8": (13, 8), "M10": (16, 10)}
COUNTERBORES = {"M3": 6.5, "M4": 8, "M5": 10, "M6": 11, "M8": 15, "M10": 18}


def hole(**keys):
    lines = {
        "name": '"h"',
        "face": '"front"',
        "kind": '"drilled"',
        "diameter": "6",
        "at": "[[100, 0]]",
    } | keys
    return "[[hole]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items() if v is not None)


def threaded(kind, size, **keys):
    return hole(kind=f'"{kind}"', thread=f'"{size}"', diameter=None, **keys)


def notch(**keys):
    lines = {"name": '"n"', "face": '"front"', "end": '"datum"', "width": "14", "depth": "8"} | keys
    return "[[notch]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items())


# --- thread table ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "drill"), DRILLS.items())
def test_tap_drill_is_the_printed_one_to_its_rounding(name, drill):
    assert thread(name).tap_drill == pytest.approx(drill, abs=0.0501)


@pytest.mark.parametrize(("name", "sizes"), CLEARANCE.items())
def test_clearance_holes_of_iso_273(name, sizes):
    assert tuple(thread(name).clearance[s] for s in ("fine", "medium", "coarse")) == sizes


@pytest.mark.parametrize("name", HEADS)
def test_heads_and_their_counterbores(name):
    row = thread(name)
    assert (row.head_diameter, row.head_height) == HEADS[name]
    assert row.counterbore == COUNTERBORES[name]
    assert row.counterbore > row.head_diameter


def test_flush_depths():
    """M6 6.4, M8 8.6 (7.8)."""
    assert thread("M6").counterbore_depth == 6.4
    assert thread("M8").counterbore_depth == 8.6


def test_table_has_every_thread_a_job_may_name():
    assert thread_names() == ("M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12")
    sizes = [thread(n) for n in thread_names()]
    assert all(a.diameter < b.diameter and a.pitch < b.pitch for a, b in pairwise(sizes))


# --- holes ----------------------------------------------------------------------------------------------


def test_tapped_hole_goes_through_the_wall_at_tap_size(member_of):
    (h,) = member_of(threaded("tapped", "M6")).holes
    assert (h.id, h.diameter, h.depth, h.through, h.thread) == ("h/1", 5, 4, "wall", "M6")


def test_hole_through_all_ends_at_the_far_side(member_of):
    (h,) = member_of(hole(through='"all"')).holes
    assert h.depth == pytest.approx(50)


def test_clearance_and_counterbore(member_of):
    (h,) = member_of(threaded("clearance", "M5", fit='"fine"')).holes
    assert h.diameter == 5.3
    (h,) = member_of(threaded("counterbored", "M5", face='"top"'), section=BAR).holes
    assert (h.diameter, h.counterbore, h.depth) == (5.5, (10, 5.4), 12)


def test_blind_hole_keeps_its_depth(member_of):
    (h,) = member_of(hole(face='"top"', depth="7"), section=BAR).holes
    assert (h.depth, h.through) == (7, "blind")


def test_blind_hole_through_the_wall_is_refused(job_of, member_of):
    with pytest.raises(JobError, match="a blind hole 4 mm deep goes through the 4 mm of metal") as fault:
        member_of(hole(depth="4"))
    assert fault.value.key == "hole[1].depth"
    assert fault.value.line > 0


def test_counterbore_without_a_seat_is_refused(member_of):
    with pytest.raises(JobError, match=r"leaves 0\.60 mm under the head"):
        member_of(threaded("counterbored", "M3"))


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ("[[100, 44]]", "runs over the edge of front"),
        ("[[2, 0]]", "runs over the end of the member"),
        ("[[100, 0], [598, 0]]", "x from 3.000 to 597.000"),
    ],
)
def test_holes_off_the_face_are_refused(member_of, at, words):
    with pytest.raises(JobError, match=words):
        member_of(hole(at=at))


def test_overlapping_holes_are_refused(member_of):
    with pytest.raises(JobError, match=r"h/2 cuts into h/1: their edges overlap by 1\.000 mm") as fault:
        member_of(hole(at="[[100, 0], [105, 0]]"))
    assert fault.value.key == "hole[1].at[2]"


def test_holes_of_opposite_faces_may_share_an_axis_but_not_overlap(member_of):
    through = hole(through='"all"', at="[[100, 10]]")
    other = 'name = "k"'
    same_axis = hole(face='"back"', at="[[100, -10]]").replace('name = "h"', other)
    assert len(member_of(through + same_axis).holes) == 2
    aside = hole(face='"back"', at="[[104, -10]]").replace('name = "h"', other)
    with pytest.raises(JobError, match=r"k/1 cuts into h/1: their edges overlap by 2\.000 mm"):
        member_of(through + aside)
    assert len(member_of(hole(at="[[100, 10]]") + aside).holes) == 2


def test_a_face_that_is_not_there_lists_those_that_are(member_of):
    with pytest.raises(JobError, match="top, bottom, front, back"):
        member_of(hole(face='"left"'))
    with pytest.raises(JobError, match="no outer flat"):
        member_of(hole(), section='shape = "round tube"\ndiameter = 50\nwall = 4\n')


def test_hole_over_a_web_is_refused(member_of):
    channel = 'shape = "channel"\nwidth = 50\nheight = 100\nweb = 5\nflange = 6\nroot_radius = 3\n'
    place = f"[[100, {-25 + 5}]]"
    with pytest.raises(JobError, match="stands over a web or a fillet"):
        member_of(hole(face='"top"', at=place), section=channel)
    (h,) = member_of(hole(face='"top"', at=place, through='"all"'), section=channel).holes
    assert h.depth == pytest.approx(100)


# --- notches --------------------------------------------------------------------------------------------


def test_notch_of_the_bridge_beam(bridge_member):
    """14 x 8 from the datum end: area inside 14 x 8 less two corners of radius 1.3 x 3.175 / 2."""
    import math

    import shapely

    (n,) = bridge_member.notches
    assert n.corner_radius == pytest.approx(1.3 * 3.175 / 2)
    inside = n.outline.intersection(shapely.box(0, -50, 100, 50))
    assert inside.area == pytest.approx(14 * 8 - 2 * (1 - math.pi / 4) * n.corner_radius**2, abs=0.02)
    assert n.outline.bounds[0] < 0
    assert n.depth == 4


def test_notch_at_the_far_end_opens_there(member_of):
    (n,) = member_of(notch(end='"far"', at="10")).notches
    x0, s0, x1, s1 = n.outline.bounds
    assert (x0, s0, s1) == pytest.approx((592, 3, 17))
    assert x1 > 600


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"width": "93"}, "runs over the edge of front"),
        ({"depth": "700"}, "reaches 700 mm into a member 600 mm long"),
        ({"corner_radius": "0.5"}, "cannot be cut in notch n"),
        ({"width": "1.2"}, "too small for the smallest flat cutter"),
    ],
)
def test_notches_that_cannot_be_are_refused(member_of, keys, words):
    with pytest.raises(JobError, match=words):
        member_of(notch(**keys))


def test_notch_into_a_hole_is_refused(member_of):
    with pytest.raises(JobError, match="notch n cuts into hole h/1"):
        member_of(hole(at="[[9, 0]]") + notch())
