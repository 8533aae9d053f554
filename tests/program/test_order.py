"""Modal groups, order of execution, state. Outside checks: NIST IR 6556, table 4, table 8 and section 3.4 to 3.6."""

from __future__ import annotations

import math

import pytest
from tests_program_help import clean, error_of

from sparwright.program.reader import read_program

# Table 4: every pair of different words of one group on a line is an error.
SAME_GROUP = [
    ("g0 g1 x1", "G0 and G1 on one line: two words of one group (motion)"),
    ("g1 g81 x1", "G1 and G81 on one line: two words of one group (motion)"),
    ("g80 g0 x1", "G80 and G0 on one line: two words of one group (motion)"),
    ("g0 g38.2 x1", "G0 and G38.2 on one line: two words of one group (motion)"),
    ("g17 g18", "G17 and G18 on one line: two words of one group (plane)"),
    ("g90 g91", "G90 and G91 on one line: two words of one group (distance)"),
    ("g93 g94", "G93 and G94 on one line: two words of one group (feed mode)"),
    ("g20 g21", "G20 and G21 on one line: two words of one group (units)"),
    ("g40 g41", "G40 and G41 on one line: two words of one group (cutter compensation)"),
    ("g43 h1 g49", "G43 and G49 on one line: two words of one group (tool length)"),
    ("g98 g99", "G98 and G99 on one line: two words of one group (cycle return)"),
    ("g54 g59.3", "G54 and G59.3 on one line: two words of one group (coordinate system)"),
    ("g61 g64", "G61 and G64 on one line: two words of one group (path control)"),
    ("g4 p1 g92 x1", "G4 and G92 on one line: two words of one group (one line only)"),
    ("g0 g0 x1", "G0 and G0 on one line: two words of one group (motion)"),
    ("m0 m30", "M0 and M30 on one line: two words of one group (stopping)"),
    ("m3 m5", "M3 and M5 on one line: two words of one group (spindle)"),
    ("m7 m9", "M7 and M9 on one line: two words of one group (coolant)"),
    ("m48 m49", "M48 and M49 on one line: two words of one group (override)"),
]


@pytest.mark.parametrize(("text", "message"), SAME_GROUP)
def test_two_words_of_one_group(text: str, message: str) -> None:
    assert error_of(text) == message


def test_one_word_of_each_group_may_stand_together() -> None:
    reading = clean("g1 g17 g90 g94 g21 g40 g49 g99 g54 g64 m7 m8 m3 m48 f100 s500 t1 x1")
    assert len(reading.kind) == 1


AXIS_WORDS = [
    ("g1 g92 x1", "G1 and G92 on one line: both take X, Y and Z"),
    ("g0 g28 x1", "G0 and G28 on one line: both take X, Y and Z"),
    ("g81 g10 l2 p1 x1", "G81 and G10 on one line: both take X, Y and Z"),
    ("x1", "X without a motion: G80 is in force; say G0, G1, G2, G3 or a canned cycle"),
    ("g80 y1", "Y without a motion: G80 is in force; say G0, G1, G2, G3 or a canned cycle"),
    ("g0", "G0 needs X, Y or Z"),
    ("g1 f100", "G1 needs X, Y or Z"),
    ("g92", "G92 needs X, Y or Z"),
    ("g53 g0", "G53 needs X, Y or Z"),
    ("g53 x1", "X without a motion: G80 is in force; say G0, G1, G2, G3 or a canned cycle"),
    ("g2 g53 x1 i1", "G53 goes with G0 or G1 alone, not with G2"),
    ("g91 g53 g0 x1", "G53 names places on the machine and cannot be used with G91"),
    (
        "g41 d1",
        "G41: cutter compensation is refused, since the path then hangs on a diameter that is not in the "
        "program; write the path of the cutter's centre and G40",
    ),
    ("g0 x1 d1", "D is not used on this line; it goes with G41 or G42"),
    ("g0 x1 h1", "H is not used on this line; it goes with G43"),
    ("g1 x1 i1", "I is not used on this line; it goes with G2, G3 or G87"),
    ("g0 x1 l2", "L is not used on this line; it goes with G10 or a canned cycle"),
    ("g0 x1 p2", "P is not used on this line; it goes with G4, G10, G82, G86, G88 or G89"),
    ("g81 x1 z-1 r1 q1", "Q is not used on this line; it goes with G83"),
    ("g0 x1 r2", "R is not used on this line; it goes with G2, G3 or a canned cycle"),
    ("g43", "G43 needs H, the number of the tool length"),
    ("g4", "G4 needs P, the seconds to wait"),
    ("g4 p-1", "P-1: a dwell cannot be negative"),
    ("g10 p1 x1", "G10 needs L2: it sets the origin of a coordinate system, nothing else"),
    ("g10 l2 x1", "G10 L2 needs P1 to P9, the coordinate system to set"),
    ("g10 l2 p10 x1", "G10 L2 needs P1 to P9, the coordinate system to set"),
    ("f0 g1 x1", "G1 at a feed of zero would never end"),
    ("g93 g1 x1", "under G93 every G1 line needs its own F"),
    ("g93 g1 x1 f0", "F0 under G93: the move would never end"),
    ("g93 g38.2 x5 f1", "G38.2 cannot be used with G93"),
    ("g38.2 x0.25 f10", "G38.2 must move at least 0.254 mm (0.01 in)"),
]


@pytest.mark.parametrize(("text", "message"), AXIS_WORDS)
def test_words_that_miss_or_clash(text: str, message: str) -> None:
    assert error_of(text) == message


def test_a_line_refused_changes_nothing() -> None:
    reading = read_program("g1 f100 x1\ng0 g91 m3 s99 x1 q4\nx3")
    assert reading.kind.tolist() == [1, 1]
    assert reading.end[:, 0].tolist() == [1, 3]
    assert reading.spindle.tolist() == [0, 0]


# --- table 8 --------------------------------------------------------------------------------------------


def test_spindle_stops_before_the_move() -> None:
    reading = clean("m3 s1000\ng1 x10 f300 m5")
    assert reading.spindle.tolist() == [0]
    assert reading.feed.tolist() == [300]


def test_program_end_comes_after_the_move() -> None:
    reading = clean("m2 g1 x4\ng1 x9")
    assert reading.end.tolist() == [[4, 0, 0]]
    assert reading.ended


def test_units_plane_distance_and_system_come_before_the_move() -> None:
    reading = clean("g0 x1\nx1 g20 g91\ng54 g90 x1 g21", offsets={"G54": (0, 5, 0)})
    assert reading.end[:, 0].tolist() == pytest.approx([1, 26.4, 1])
    arc = clean("x2 z0 i1 g18 g2 f10")
    assert arc.plane.tolist() == [18]
    assert arc.end.tolist() == [[2, 0, 0]]


def test_dwell_comes_before_the_move_on_its_line() -> None:
    reading = clean("g4 p1.5 g0 x1\ng4 p0.5")
    assert reading.dwell_seconds == 2.0
    assert len(reading.kind) == 1


def test_stops_and_their_lines() -> None:
    reading = clean("g0 x1 m0\nm1\nm60\nm30")
    assert reading.stops == (1, 2, 3)


# --- state ----------------------------------------------------------------------------------------------


def test_spindle_speed_tool_and_feed_of_each_motion() -> None:
    reading = clean("t1 m6\nm3 s8000\ng1 x1 f200\nt2\nx2 s9000\nm4 x3\nm6\nx4 f50")
    assert reading.tool.tolist() == [1, 1, 1, 2]
    assert reading.rpm.tolist() == [8000, 9000, 9000, 9000]
    assert reading.spindle.tolist() == [1, 1, -1, 0]  # M6 stops the spindle (section 3.6.3)
    assert reading.feed.tolist() == [200, 200, 200, 50]


def test_without_a_changer_the_tool_word_names_the_cutter() -> None:
    assert clean("g0 x1\nt3\ng0 x2\nm0\nt4\ng0 x3").tool.tolist() == [0, 3, 4]


def test_rapids_carry_no_feed_and_feed_may_be_unset() -> None:
    reading = clean("g1 x1\ng0 x2\ng1 x3 f10")
    assert [math.isnan(f) for f in reading.feed] == [True, True, False]


def test_inches() -> None:
    reading = clean("g20\ng1 x1 y-2 f10\ng3 x3 i1\ng21 g1 x1")
    assert reading.end.tolist() == [[25.4, -50.8, 0], pytest.approx([76.2, -50.8, 0]), [1, -50.8, 0]]
    assert reading.centre[1].tolist() == pytest.approx([50.8, -50.8, 0])
    assert reading.feed.tolist() == [254, 254, 254]
    # A feed on the line that changes the unit is taken in the new unit.
    assert clean("g20 g1 x1 f10").feed.tolist() == [254]


def test_length_parameters_are_seen_in_the_unit_in_force() -> None:
    reading = clean("g10 l2 p1 x25.4\ng20\ng0 x#5221")
    assert reading.end[0, 0] == pytest.approx(50.8)  # 1 in from an origin at 1 in


def test_incremental() -> None:
    assert clean("g91 g0 x1 y2\nx1\ng1 z-1 f10").end.tolist() == [[1, 2, 0], [2, 2, 0], [2, 2, -1]]


def test_g43_g61_g64_are_taken() -> None:
    assert clean("g43 h1 g61\ng64 g0 x1\ng49 g61.1").end.tolist() == [[1, 0, 0]]


def test_the_tool_length_in_force_is_kept_by_its_number() -> None:
    # Section 3.5.15. The number a builder gets wrong drives the tool into the work, so every motion carries it.
    reading = clean("t2 m6\ng0 x1\ng43 h2 z5\nx2\ng43 h[1+2] x3\ng49 x4")
    assert reading.length.tolist() == [0, 2, 2, 3, 0]
    assert error_of("g43 h-1") == "H-1 cannot be negative"
    assert error_of("g43 h1.5") == "H must be a whole number, not 1.5"


def test_empty_program() -> None:
    for text in ("", "\n\n", "(only words)\n", "%\n%"):
        reading = read_program(text)
        assert reading.errors == ()
        assert reading.blocks == 0
        assert reading.kind.shape == (0,)
        assert (
            reading.end.shape == reading.start.shape == reading.centre.shape == reading.work.shape == (0, 3)
        )
        assert reading.end_position == (0, 0, 0)


def test_blocks_are_lines_with_words() -> None:
    assert clean("(c)\n\nn10\n/\ng0 x1 (c)\n#1=3\nm30").blocks == 3
