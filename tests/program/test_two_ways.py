"""Going word by word and going by compiled code are one reader: same motions to the last bit, same messages."""

from __future__ import annotations

import ast
import random
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from programs_help import by_words, compiled, programs, same

from sparwright.program import kernels, limits, plain, reader
from sparwright.program.model import Reading
from sparwright.program.reader import read_pieces, read_program

OPTIONS = {"offsets": {"G54": (1.5, -2.0, 3.0), "G55": (4.0, 5.0, 6.0)}, "start": (0.5, 0.25, 2.0)}


@settings(max_examples=400, deadline=None)
@given(programs, st.booleans())
@example("G1 F100 X1\nG2 X0 Y0 I0 J0\nG3 I1 J0\nG3 X0 I1", False)
@example("/G0 X1\n/" + " " * 300 + "\n" + " " * 300 + "\n(" + "c" * 300 + ")", True)
@example("G0 X1(c)2\nX(c)3\nX1 (m\nsg, x)", False)
@example("G91 G0 X1\n" * 40 + "M2\nX5", False)
@example("t5 g0 x1 m6\nt7 x2\nm6 x3 s5 m4\ng43 h3 x1\nx2\ng49 x3", False)
@example("g93 g1 x1 f2\nf3\ng94 x2\nx3 f4", False)
def test_both_ways_agree(text: str, deleted: bool) -> None:
    same(by_words(text, block_delete=deleted, **OPTIONS), compiled(text, block_delete=deleted, **OPTIONS))


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=300))
@example(b"G0 X1\xff\nG0 X2 (\xff)\nG0 X3 (msg, \xff)\n\xef\xbb\xbfG0 X4")
def test_both_ways_agree_on_any_bytes(data: bytes) -> None:
    same(by_words(data), compiled(data))


@settings(max_examples=150, deadline=None)
@given(programs, st.integers(0, 2**32))
def test_any_cut_into_blocks_reads_the_same(text: str, seed: int) -> None:
    data = text.encode()
    draw = random.Random(seed)
    blocks, at = [], 0
    while at < len(data):
        step = draw.randint(1, 40)
        blocks.append(data[at : at + step])
        at += step
    whole, pieces = read_program(data), list(read_pieces(blocks))
    for name in ("kind", "end", "centre", "feed", "line", "rpm", "spindle", "tool", "plane", "cycle", "work"):
        joined = np.concatenate([getattr(p, name) for p in pieces])
        assert joined.tobytes() == getattr(whole, name).tobytes(), name
    for name in ("errors", "stops", "messages"):
        assert sum((getattr(p, name) for p in pieces), ()) == getattr(whole, name)
    assert sum(p.blocks for p in pieces) == whole.blocks
    assert pieces[-1].end_position == whole.end_position
    assert pieces[-1].ended == whole.ended


def test_most_lines_of_an_ordinary_program_are_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    met: list[str] = []
    monkeypatch.setattr(plain, "as_text", lambda line: met.append(line.decode()) or line.decode())
    text = "G21 G90 G94 G17 G40 G49 G80\nT1 M3 S9000\nG0 X1 Y2 (to the start)\nN5 G1 Z-1. F200\n\n"
    text += "G2 X3 I1\nG3 X1 R1.5 Y0\nG18 G2 X3 I1 Y1\nM8\nG98 G0 X.5 Y-.5\nM5 M9\n"
    assert compiled(text).errors == ()
    assert met == []
    compiled(text + "G4 P1\nM30\n")
    assert met == ["G4 P1", "M30"]


def numbers_of(values: list[str]) -> Reading:
    return compiled("\n".join(f"G0 X{v}" for v in values))


def test_numbers_are_rounded_once() -> None:
    draw = random.Random(5)
    values = [
        f"{draw.randint(0, 10 ** draw.randint(1, 8))}.{draw.randint(0, 10**7 - 1):07d}" for _ in range(3000)
    ]
    assert numbers_of(values).end[:, 0].tolist() == [float(v) for v in values]


def test_a_tape_that_runs_out_grows() -> None:
    text = "g81 x1 z-1 r1\n" + "x2 l40\n" * 20 + "g0 x1\n" * 500
    same(by_words(text), compiled(text))
    marks = "".join(f"s{n} g0 x{n}\n" for n in range(1500))
    same(by_words(marks), compiled(marks))


def test_which_way_hangs_on_the_size() -> None:
    assert plain.compiled_lines(plain.LOADED - 1) is None
    assert (
        plain.compiled_lines(plain.LOADED) is plain.read_compiled
    )  # its code is loaded: this file imports it


def test_the_size_from_which_code_is_loaded_or_compiled(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[str] = []
    monkeypatch.delitem(sys.modules, kernels.__name__)
    monkeypatch.setattr(kernels, "is_kept", lambda: False)
    # Loading it anew would make other kernels of the same name; the package still holds these.
    assert plain.compiled_lines(plain.KEPT - 1, told.append) is None
    assert plain.compiled_lines(plain.NOT_COMPILED - 1, told.append) is None
    assert told == []
    assert plain.compiled_lines(plain.NOT_COMPILED, told.append) is plain.read_compiled
    assert told == ["compiling the reader, once, about 10 s"]
    monkeypatch.setattr(kernels, "is_kept", lambda: True)
    assert plain.compiled_lines(plain.KEPT, told.append) is plain.read_compiled
    assert len(told) == 1


def test_blocks_add_up_to_the_size(monkeypatch: pytest.MonkeyPatch) -> None:
    sizes: list[int] = []
    monkeypatch.setattr(reader, "compiled_lines", lambda size, say: sizes.append(size))
    assert len(list(read_pieces([b"g0 x1\n", b"x2\n", b"x3"]))) == 4
    assert sizes == [6, 9, 12]


def test_everything_compiled_in_is_in_the_key() -> None:
    """Functions and constants come only from modules whose text is part of the key of what is kept on disk."""
    tree = ast.parse(Path(kernels.__file__).read_text(encoding="utf-8"))
    used = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module == "sparwright.program":
            used |= {f"{alias.name}.py" for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sparwright.program."):
            used.add(f"{node.module.rpartition('.')[2]}.py")
    assert used | {"kernels.py"} == {Path(source).name for source in kernels.SOURCES}
    for name in (kernels.circle.__file__, limits.__file__):
        inside = ast.parse(Path(name).read_text(encoding="utf-8"))
        modules = {n.module for n in ast.walk(inside) if isinstance(n, ast.ImportFrom)}
        assert modules <= {"__future__", "sparwright.program.limits"}
