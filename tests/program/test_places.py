"""Offsets, homes, probing, inverse time. Outside checks: NIST IR 6556, sections 3.2.1, 3.5.4 to 3.5.19, appendix A."""

from __future__ import annotations

import pytest
from tests_program_help import clean, error_of

from sparwright.program.reader import read_program, summary


def test_axis_offsets_of_section_3_5_18() -> None:
    # At machine X4, "G92 x7" makes 5211 -3; then, still there, "G92 x9" makes it -5.
    first = clean("g0 x4\ng92 x7\ng53 g0 y#5211\ng0 x7")
    assert first.end.tolist() == [[4, 0, 0], [4, -3, 0], [4, -3, 0]]
    second = clean("g0 x4\ng92 x7\ng92 x9\ng53 g0 y#5211\ng0 x0")
    assert second.end.tolist() == [[4, 0, 0], [4, -5, 0], [-5, -5, 0]]
    assert second.work.tolist() == [[0, 0, 0], [-5, 0, 0], [-5, 0, 0]]


def test_axis_offsets_cancelled_and_taken_up_again() -> None:
    kept = clean("g92 x10\ng92.2\ng0 x1\ng92.3\ng0 x1")
    assert kept.end[:, 0].tolist() == [1, -9]
    gone = clean("g92 x10\ng92.1\ng0 x1\ng92.3\ng0 x1")
    assert gone.end[:, 0].tolist() == [1, 1]


def test_coordinate_systems() -> None:
    offsets = {"G54": (1, 2, 3), "g59.3": (10.0, 0.0, 0.0)}
    reading = clean("g0 x0 y0 z0\ng59.3 x1\ng55 x0 z1", offsets=offsets)
    assert reading.end.tolist() == [[1, 2, 3], [11, 2, 3], [0, 2, 1]]
    assert reading.work.tolist() == [[1, 2, 3], [10, 0, 0], [0, 0, 0]]
    with pytest.raises(ValueError, match="G60"):
        read_program("", offsets={"G60": (0, 0, 0)})


def test_origins_live_in_parameters() -> None:
    # Section 3.2.1: first X parameter of system n is 5221 + 20 (n - 1).
    assert clean("#5381=7\ng59.3 g0 x1").end[0, 0] == 8
    assert clean("#5221=7\ng0 x1\ng54 x1").end[:, 0].tolist() == [1, 8]


def test_g10_sets_an_origin_and_the_active_one_at_once() -> None:
    reading = clean("g10 l2 p1 x5\ng0 x1\ng10 l2 p2 y3\ng0 y0\ng55 y0")
    assert reading.end.tolist() == [[6, 0, 0], [6, 0, 0], [6, 3, 0]]


def test_machine_coordinates() -> None:
    reading = clean("g0 x1\ng53 x2\nx2\ng53 g1 z-1 f5", offsets={"G54": (10, 0, 0)})
    assert reading.end.tolist() == [[11, 0, 0], [2, 0, 0], [12, 0, 0], [12, 0, -1]]
    assert reading.kind.tolist() == [0, 0, 0, 1]


def test_homes() -> None:
    # Section 3.5.8: through the place named, then home; straight home where none is named.
    text = "#5161=1 #5162=2 #5163=3\n#5181=9\ng0 x50 y50 z5\ng28 z20\ng30\ng28"
    assert clean(text).end.tolist() == [[50, 50, 5], [50, 50, 20], [1, 2, 3], [9, 0, 0], [1, 2, 3]]
    assert error_of("#5161=1e9") == "E is not a word of NIST IR 6556"
    assert error_of("#5161=[10**12]\n g28") == "the place in #5161 to #5163 lies beyond ±1e+10 mm"
    assert error_of("#5241=[10**12]\ng55") == "G55: the place in #5241 to #5243 lies beyond ±1e+10 mm"


def test_probing_goes_to_its_far_end_and_keeps_the_place() -> None:
    reading = clean("g38.2 z-5 f100\ng0 z10\nx[#5063]", offsets={"G54": (0, 0, 1)})
    assert reading.kind.tolist() == [1, 0, 0]
    assert reading.cycle.tolist() == [38, 0, 0]
    assert reading.end.tolist() == [[0, 0, -4], [0, 0, 11], [-5, 0, 11]]


def test_inverse_time() -> None:
    # Section 3.5.19: under G93, F2 means the move takes half a minute.
    reading = clean("g93 g1 x30 f2\nx40 y0 f4\ng3 x40 y20 j10 f1\ng94 g1 f100 x0")
    assert reading.feed[:2].tolist() == [60, 40]
    assert summary(reading)["seconds"] == pytest.approx(
        30 + 15 + 60 + 60 * (1700**0.5 + 0) / 100 * 0 + 60 * (40) / 100
    )


def test_a_feed_does_not_outlive_its_mode() -> None:
    reading = clean("g94 g1 x1 f100\ng93 x2 f1\ng94 x3")
    assert reading.feed[:2].tolist() == [100, 1]
    assert reading.feed[2] != reading.feed[2]


def test_start_position() -> None:
    reading = clean("g91 g0 x1", start=(5, 6, 7))
    assert reading.start.tolist() == [[5, 6, 7]]
    assert reading.end_position == (6, 6, 7)
