"""Random programs, and readings compared to the last bit."""

from __future__ import annotations

from typing import Any
from unittest import mock

from hypothesis import strategies as st

from sparwright.program import plain, reader
from sparwright.program.model import Reading

ARRAYS = (
    "kind",
    "path",
    "centre",
    "feed",
    "line",
    "plane",
    "rpm",
    "spindle",
    "tool",
    "length",
    "cycle",
    "work",
)
REST = ("blocks", "dwell_seconds", "ended", "errors", "stops", "messages", "passed", "rapid")


def by_words(text: str | bytes, **options: Any) -> Reading:
    """The reading word by word."""
    with mock.patch.object(reader, "compiled_lines", return_value=None):
        return reader.read_program(text, **options)


def compiled(text: str | bytes, **options: Any) -> Reading:
    """The reading by compiled code, in turns with the other."""
    with mock.patch.object(reader, "compiled_lines", return_value=plain.read_compiled):
        return reader.read_program(text, **options)


def same(a: Reading, b: Reading) -> None:
    """Assert that two readings are the same to the last bit, and in every message."""
    for name in REST:
        assert getattr(a, name) == getattr(b, name), name
    for name in ARRAYS:
        one, other = getattr(a, name), getattr(b, name)
        assert one.dtype == other.dtype, name
        assert one.tobytes() == other.tobytes(), (name, one, other)


_small = st.decimals(-50, 50, places=3).map(str)
_figures = st.one_of(
    _small,
    _small,
    st.integers(-3, 60).map(str),
    st.floats(-1e12, 1e12).map(lambda v: f"{v:.6f}"),
    st.sampled_from(
        ["0", "-0", ".5", "5.", "+.25", "-.5", ".", "+", "-", "--1", "1.2.3", "1 2", "1\t.5", "0.1234567890123456", "00000000000000001"]
    ),
    st.sampled_from(["1e9", "#1", "[1/3]", "[2**[0-0.5]]", "sin[30]", "atan[1]/[0]", "##5220", "999999999999999", "1000000000", "1000000001"]),
)  # fmt: skip
_g = st.sampled_from(
    [
        "0",
        "1",
        "2",
        "3",
        "00",
        "01",
        "02",
        "03",
        "80",
        "17",
        "18",
        "19",
        "20",
        "21",
        "90",
        "91",
        "93",
        "94",
        "98",
        "99",
        "40",
        "49",
        "61",
        "61.1",
        "64",
        "54",
        "55",
        "59.3",
        "4",
        "10",
        "28",
        "30",
        "38.2",
        "43",
        "53",
        "81",
        "82",
        "83",
        "85",
        "92",
        "92.1",
        "92.2",
        "92.3",
        "41",
        "5",
        "100",
        "1.0",
        "-1",
        "+1",
        "0.0",
    ]
)
_m = st.sampled_from(
    ["0", "1", "2", "3", "4", "5", "6", "7", "8", "9", "30", "48", "49", "60", "03", "98", "3.0", "+3", "-3"]
)
_letter = st.sampled_from("XYZIJKRFST" * 4 + "PQLHDNABOE#")
_case = st.sampled_from([str.upper, str.lower])
_word = st.one_of(
    st.tuples(_case, _letter, st.sampled_from(["", "", " ", "\t"]), _figures).map(lambda p: p[0](p[1] + p[2] + p[3])),
    _g.map("G".__add__),
    _m.map("M".__add__),
)  # fmt: skip
_plain = st.tuples(st.sampled_from("XYZIJKRFS"), _small).map("".join)
_comment = st.sampled_from(
    [
        "(a)",
        "( msg, x)",
        "(MSG,y)",
        "(msgs)",
        "(ms)",
        "(é)",
        "(\u00a0msg, z)",
        "(",
        ")",
        "(a(b))",
        "()",
        "(m(",
        "(Message, no)",
    ]
)
_extra = st.one_of(
    _comment, st.sampled_from([" ", "\t", ";", "%", "/", "$", "é", "\x00", "@", "`", "{", "["])
)
_piece = st.one_of(_word, _plain, _plain, _plain, _extra)
_start = st.sampled_from(
    [""] * 8 + ["N12 ", "n7", "N00001", "n123456", "/", " / ", "%", "N", "N1 2 ", "n1.5", "n(c)5"]
)
_modal = st.sampled_from(
    [
        "G0 ",
        "G1 ",
        "G2 ",
        "G3 ",
        "G1 F100 ",
        "G1F25.5",
        "G91",
        "G90 ",
        "G18 ",
        "G19 ",
        "G17 ",
        "G20 ",
        "G21 ",
        "",
    ]
)
line = st.tuples(_start, _modal, st.lists(_piece, max_size=5), st.sampled_from(["", " "])).map(
    lambda p: p[0] + p[1] + p[3].join(p[2])
)
_half = st.integers(1, 20)
arcs = st.one_of(
    st.tuples(st.sampled_from(["G2", "G3"]), _half).map(lambda p: f"G17 G91\n{p[0]} X{2 * p[1]} I{p[1]} F100"),
    st.tuples(st.sampled_from(["G2", "G3"]), _half, _small).map(lambda p: f"G18 G91\n{p[0]} X{2 * p[1]} Y{p[2]} I{p[1]} F9"),
    st.tuples(st.sampled_from(["G2", "G3"]), _half, _small).map(lambda p: f"G19 G91\n{p[0]} Y{2 * p[1]} J{p[1]}.0009 F9"),
    st.tuples(st.sampled_from(["G2", "G3"]), _small, _small, _small).map(lambda p: f"{p[0]} X{p[1]} Y{p[2]} R{p[3]}"),
    st.tuples(st.sampled_from(["G2", "G3"]), _small).map(lambda p: f"G90 G17 G0 X1 Y1\n{p[0]} X1 Y1 I{p[1]} F5"),
    st.tuples(st.sampled_from(["G17", "G18", "G19"]), _small, _small).map(
        lambda p: f"{p[0]} G91 G2 X{p[1]} Y{p[1]} Z{p[1]} R{p[2]}"
    ),
)  # fmt: skip
_ends = st.sampled_from(["\n"] * 6 + ["\r\n", "\r", "\n\n"])
programs = st.lists(st.tuples(st.one_of(line, line, line, arcs), _ends), max_size=25).map(
    lambda parts: "".join(text + end for text, end in parts)
)
