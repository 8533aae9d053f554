"""Programs of any size, from any file: bounded memory, no compiler for small ones, nothing harmful on the screen."""

from __future__ import annotations

import subprocess
import sys
import tracemalloc
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from programs_help import by_words, compiled, same

from sparwright.program import kernels  # noqa: F401 (loaded, so that plain lines go through it)
from sparwright.program.figures import summary
from sparwright.program.model import Motion
from sparwright.program.reader import read_pieces, read_program
from sparwright.program.streaming import LONGEST_KEPT, blocks_of, whole_lines

CORPUS = sorted((Path(__file__).parent / "corpus").iterdir())


@pytest.mark.parametrize("path", CORPUS, ids=lambda p: p.name)
def test_the_corpus_reads_the_same_both_ways(path: Path) -> None:
    data = path.read_bytes()
    for block_delete in (False, True):
        same(by_words(data, block_delete=block_delete), compiled(data, block_delete=block_delete))


def test_good_programs_of_the_corpus_have_no_errors() -> None:
    # Those named grown-... were made by benchmarks/fuzz_reader.py and are broken on purpose.
    faulty = {p.name for p in CORPUS if read_program(p.read_bytes()).errors and "grown" not in p.name}
    assert faulty == {"expressions.nc", "refused.nc"}


def test_pieces_end_with_whole_lines() -> None:
    def lines(*blocks: bytes) -> list[bytes]:
        return [piece[:stop] for piece, stop in whole_lines(blocks)]

    assert lines(b"a\nb", b"c\n", b"d") == [b"a\n", b"bc\n", b"d\n"]
    assert lines(b"a\r", b"\nb\r", b"c") == [b"a\r\n", b"b\r", b"c\n"]
    assert lines(b"", b"\r\n") == [b"\r\n"]
    assert lines() == []
    long = b"x" * (3 * LONGEST_KEPT)
    assert lines(long, long, b"\ny") == [long[:LONGEST_KEPT] + b"\n", b"y\n"]
    assert list(blocks_of(BytesIO(b"ab"))) == [b"ab"]


def test_a_line_without_end_holds_no_memory() -> None:
    tracemalloc.start()
    pieces = list(read_pieces(b"G1 X" + b"1" * 99_996 for _ in range(500)))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert [(e.line, e.message) for p in pieces for e in p.errors] == [
        (1, "the line is longer than 256 characters, the most a line may have")
    ]
    assert peak < 20e6


def long_program(blocks: int) -> Iterator[bytes]:
    yield b"g91 f600\ng1 z-1\n"
    for _ in range(blocks):
        yield b"g1 x0.001 y0.002\ng2 x1 i.5\ng3 x-1 r0.5\n" * 10_000


def test_a_long_program_in_bounded_memory() -> None:
    figures = []
    for blocks in (4, 12):
        tracemalloc.start()
        figures.append((summary(read_pieces(long_program(blocks))), tracemalloc.get_traced_memory()[1]))
        tracemalloc.stop()
    (_, small), (long, large) = figures
    assert long["blocks"] == 360_002
    assert long["motions"] == 360_001
    assert long["errors"] == []
    assert large < 1.3 * small < 60e6


def test_figures_of_pieces_are_those_of_the_whole() -> None:
    data = b"".join(long_program(2)) + b"g4 p3\ng0 x5\n"
    whole = summary(read_program(data, rapid=900.0))
    parts = summary(read_pieces((data[i : i + 99_999] for i in range(0, len(data), 99_999)), rapid=900.0))
    assert parts.keys() == whole.keys()
    for key, value in whole.items():
        if isinstance(value, float):
            assert parts[key] == pytest.approx(value, rel=1e-12)
        else:
            assert parts[key] == value


def test_small_programs_do_without_the_compiler() -> None:
    code = (
        "import sys; from sparwright.program.reader import read_program; "
        "r = read_program('g0 x1\\n' * 5000); assert len(r.kind) == 5000; print('numba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def test_messages_hold_nothing_that_harms_a_screen() -> None:
    reading = read_program(b"G0 X1\x1b[2J\n\xef\xbb\xbfG0 X1\nG0 X\x07\nG0 \xff\n(msg, a\xffb)")
    assert [e.message for e in reading.errors] == [
        "the character U+001B cannot start a word",
        "the character U+FEFF means nothing outside a comment",
        "a value is wanted after X, not the character U+0007",
        "the byte 0xFF, which is no text, means nothing outside a comment",
    ]
    assert reading.messages == ((5, "a?b"),)
    for error in reading.errors:
        error.message.encode("utf-8")


def test_one_motion_as_an_object() -> None:
    reading = read_program("t3 m3 s900 g1 x1 f50\ng18 g3 z2 k1 f60\ng1 y1")
    assert list(reading.motions()) == [reading.motion(k) for k in range(3)]
    assert reading.motion(1) == Motion(
        kind=3,
        start=(1, 0, 0),
        end=(1, 0, 2),
        centre=(1, 0, 1),
        plane=18,
        feed=60,
        rpm=900,
        spindle=1,
        tool=3,
        line=2,
        cycle=0,
    )
    assert reading.motion(2).centre is None
    assert np.shares_memory(reading.start, reading.end)
