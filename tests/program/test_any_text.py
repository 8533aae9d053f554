"""No text at all stops the reader, and the short way through plain lines is the long one."""

from __future__ import annotations

import time

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from sparwright.program.reader import read_program, summary

letters = "GMXYZIJKRFSTPQLHDNOABUE#=[]()/%;.+-*"
numbers = st.one_of(
    st.integers(-10, 100).map(str),
    st.floats(-1e12, 1e12).map(lambda v: f"{v:.4f}"),
    st.sampled_from(["0", "1", "2", "3", "17", "38.2", "54", "81", "83", "87", "92", "1e9", "#1", "[1/0]"]),
    st.sampled_from(
        ["sin[30]", "[2**[0-0.5]]", "atan[1]/[0]", "##5220", "[10**300*10**300]", ".", "-.5", "+"]
    ),
)
words = st.tuples(st.sampled_from(letters), numbers).map("".join)
lines = st.lists(
    st.one_of(words, st.text(max_size=6), st.sampled_from(["(msg, x)", " ", "\t", "g1", "g2", "g91"]))
)
programs = st.lists(lines.map(" ".join), max_size=25).map("\n".join)


def check(text: str) -> None:
    reading = read_program(text, rapid=3000.0)
    count = len(reading.kind)
    for column in (reading.feed, reading.rpm, reading.spindle, reading.tool, reading.line, reading.cycle):
        assert column.shape == (count,)
    assert np.isfinite(reading.end).all()
    assert np.isfinite(reading.start).all()
    assert np.isfinite(reading.centre[reading.kind >= 2]).all()
    assert (reading.start[1:] == reading.end[:-1]).all()
    if count:
        assert tuple(reading.end[-1]) == reading.end_position
    lines_in_all = text.count("\n") + text.count("\r") + 1
    assert all(1 <= e.line <= lines_in_all and e.message for e in reading.errors)
    figures = summary(reading)
    assert figures["seconds"] >= 0
    assert figures["cutting_length_mm"] >= 0


@settings(max_examples=300, deadline=None)
@given(programs)
@example("[" * 255)
@example("g0x" + "[" * 120 + "1" + "]" * 120)
@example("g0x" + "#" * 250 + "1")
@example("g0x" + "sin[" * 50 + "1" + "]" * 50)
@example("x" * 300)
@example("(" * 200 + "\n" + ")" * 200)
@example("g1 x[10**308] y[10**308] f1")
@example("g92 x999999999\n" * 50 + "g0 x999999999")
@example("g0" + "x1234567.1234567 " * 14)
@example("G01X1234567Y1234567Z1234567I1234567J1234567F1234567!")
@example("\x00\x0b\x0c\u2028\u0661")
def test_nothing_stops_the_reader(text: str) -> None:
    check(text)


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=400))
def test_nor_does_any_text(text: str) -> None:
    check(text)


def test_a_line_without_end_is_judged_at_once() -> None:
    begun = time.process_time()
    reading = read_program("G1 X1" + "0" * 5_000_000)
    assert time.process_time() - begun < 2.0
    assert "longer than 256 characters" in reading.errors[0].message
