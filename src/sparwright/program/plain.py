"""When plain lines take the compiled way, and how the two ways take turns."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Protocol

import numpy as np

from sparwright.program.handover import (
    BLOCKS,
    DELETE,
    DONE,
    FLOATS,
    HAND,
    SEEN,
    WHOLES,
    lend,
    take_back,
)
from sparwright.program.machine import Machine
from sparwright.program.streaming import as_text

# Bytes from which the compiled way is quicker: where its code is loaded; where it has to be loaded (half a
# second); where the compiler must be loaded too (as much again); and from where it pays to compile it first (9 s, once).
LOADED, KEPT, COLD, NOT_COMPILED = 1_000, 300_000, 600_000, 1_000_000


class Lines(Protocol):
    """What the compiled way needs of a program being read; `reader.Run` in practice."""

    m: Machine
    block_delete: bool
    blocks: int
    seen: bool

    def line(self, text: str) -> None:
        """Carry out the next line, word by word."""


def compiled_lines(
    size: int, say: Callable[[str], None] | None = None
) -> Callable[[Lines, bytes, int], None] | None:
    """The compiled way through a program of which `size` bytes are known, or None where word by word is quicker."""
    if size < LOADED or (size < COLD and "numba" not in sys.modules):
        return None
    if "sparwright.program.kernels" not in sys.modules:
        if size < KEPT:
            return None
        from sparwright.program import kernels  # loads the compiler

        if not kernels.is_kept():
            if size < NOT_COMPILED:
                return None
            if say is not None:
                say("compiling the reader, once, about 10 s")
    return read_compiled


def read_compiled(run: Lines, piece: bytes, stop: int) -> None:
    """Carry out the lines of `piece` up to `stop`: plain ones compiled, the others by `run`, in turns."""
    from sparwright.program.kernels import run_lines

    m = run.m
    text = np.frombuffer(piece, np.uint8)
    floats, wholes = np.zeros(FLOATS), np.zeros(WHOLES, np.int64)
    at = 0
    while True:
        lend(m, floats, wholes)
        wholes[BLOCKS], wholes[SEEN], wholes[DELETE] = run.blocks, run.seen, run.block_delete
        t = m.tape
        found, at, end, after = run_lines(
            text, at, stop, floats, wholes, t.kind, t.line, t.feed, t.centre, t.path, t.marks_at, t.marks
        )
        take_back(m, floats, wholes)
        run.blocks, run.seen = int(wholes[BLOCKS]), bool(wholes[SEEN])
        if found == DONE:
            return
        if found == HAND:
            run.line(as_text(piece[at:end]))
            at = after
            if m.ended:
                return
        else:
            t.make_room()
