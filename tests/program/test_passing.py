"""Words refused by name and line, or passed over where the caller says so."""

from __future__ import annotations

import pytest

from sparwright.program.passing import words_to_pass_over
from sparwright.program.reader import read_program


def test_refused_by_name_and_line_unless_passed_over() -> None:
    text = "g21 g90\no100 sub\ng0 x1 a5\nm98 p3\ng0 x2 ; to the right (\ng5.1 q1\ng0 x3"
    refused = read_program(text)
    assert [(e.line, e.message) for e in refused.errors] == [
        (2, "O words (subprograms and loops) are refused: they are not part of NIST IR 6556"),
        (3, "A is a rotary axis; this reader follows the straight axes X, Y and Z"),
        (4, "M98 is not an M word of NIST IR 6556"),
        (5, 'the comment is not closed: a ")" is missing'),
        (6, "G5.1 is not a G word of NIST IR 6556"),
    ]
    assert refused.end[:, 0].tolist() == [3]
    passed = read_program(text, pass_over=["O", "a", "M098", ";", "g5.1"])
    assert passed.errors == ()
    assert passed.end[:, 0].tolist() == [1, 2, 3]
    assert passed.passed == (
        (2, "O100SUB"),
        (3, "A5"),
        (4, "M98"),
        (4, "P3"),
        (5, '";" and what follows it'),
        (6, "G5.1"),
        (6, "Q1"),
    )


def test_axis_words_of_a_word_passed_over_move_nothing() -> None:
    reading = read_program("g1 f100 x1\ng5 x9 y9\nx2", pass_over=["G5"])
    assert reading.end[:, 0].tolist() == [1, 2]
    assert [(e.line, e.message) for e in reading.errors] == [
        (2, "G5 is passed over, but X on its line would then move as another word says")
    ]


def test_a_word_with_a_meaning_cannot_be_passed_over() -> None:
    for name in ("G1", "G41", "g04", "M6", "m03", "G59.1"):
        with pytest.raises(ValueError, match="has a meaning in NIST IR 6556 and cannot be passed over"):
            words_to_pass_over([name])
    for name in ("X", "F", "N", "", "G", "G1.23", "%", "AB", "M-1"):
        with pytest.raises(ValueError, match=r"name one of the letters A, B, C, E, O, U, V, W"):
            words_to_pass_over([name])


def test_the_names_are_taken_as_they_are_written() -> None:
    assert words_to_pass_over([" g05 ", "M098", "G0.1", "a", ";"]) == {"G5", "M98", "G0.1", "a", ";"}
    assert read_program("g0 x1 e1 u2 b[1+1]", pass_over="eub").passed == ((1, "E1"), (1, "U2"), (1, "B2"))


def test_what_is_passed_over_is_capped() -> None:
    reading = read_program("a1\n" * 1500 + "g0 x1", pass_over=["A"])
    assert len(reading.passed) == 1000
    assert reading.blocks == 1
    assert reading.errors == ()
