"""Moves as lines of text: only words that change are written."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparwright.cutting.model import ARC_CW
from sparwright.program.moves import UNKNOWN, Moves, arm_decimals, extents_of


def numbers(values: np.ndarray, decimals: int) -> list[str]:
    """Integers in steps of the last decimal as the shortest plain numbers: 12500 at 3 decimals is 12.5."""
    steps = 10**decimals
    return [f"{v / steps:.{decimals}f}".rstrip("0").rstrip(".") for v in values.tolist()]


def feed_word(feed: float) -> str:
    """A feed in mm/min, rounded down so that no limit is passed: whole from 10 up, tenths below."""
    if feed >= 10:
        return f"F{math.floor(feed + 1e-6)}"
    return f"F{max(math.floor(feed * 10 + 1e-6), 1) / 10:.1f}"


class Pen:
    """The lines of one program as they are written, and what the controller knows at that point.

    at: (3,) int64, place in steps of the last decimal, UNKNOWN where the program has not said it. low, high: reached so far, mm.
    """

    def __init__(self, decimals: int) -> None:
        self.decimals = decimals
        self.lines: list[str] = []
        self.at = np.full(3, UNKNOWN, dtype=np.int64)
        self.low = np.full(3, math.inf)
        self.high = np.full(3, -math.inf)
        self._mode = -1
        self._feed = ""

    def say(self, *lines: str) -> None:
        """Add lines as they stand."""
        self.lines.extend(lines)

    def forget(self) -> None:
        """After a stop or a tool change nothing is taken for known: the next moves say everything again."""
        self.at = np.full(3, UNKNOWN, dtype=np.int64)
        self._mode = -1
        self._feed = ""

    def cycle(self, line: str, at: np.ndarray, bottom: float) -> None:
        """Add a line under a canned cycle that ends at `at`, (3,) in steps, and goes down to `bottom`, mm."""
        self.lines.append(line)
        self._mode = -1
        self._feed = ""
        self.at = at
        here = at / 10.0**self.decimals
        self._widen(np.append(here[:2], bottom), here)

    def lift(self, height: float) -> None:
        """A rapid in Z alone, also where X and Y are not known yet."""
        z = round(height * 10**self.decimals)
        if z == self.at[2]:
            return
        self.at[2] = z
        word = "Z" + numbers(np.array([z]), self.decimals)[0]
        self.lines.append(word if self._mode == 0 else f"G0 {word}")
        self._mode = 0
        if self.at[0] != UNKNOWN:
            self._widen(self.at / 10.0**self.decimals, self.at / 10.0**self.decimals)

    def _widen(self, low: np.ndarray, high: np.ndarray) -> None:
        self.low, self.high = np.minimum(self.low, low), np.maximum(self.high, high)

    def write(self, moves: Moves, notes: Sequence[str] = ()) -> None:
        """Add moves. notes: a comment line for each piece, written before its first move, or none at all."""
        if len(moves.kind) == 0:
            return
        columns = [self._places(moves, axis) for axis in range(3)]
        arcs = np.flatnonzero(moves.kind >= ARC_CW)
        arms = [""] * len(moves.kind)
        i_words, j_words = (numbers(moves.arm[arcs, k], arm_decimals(self.decimals)) for k in range(2))
        for row, i, j in zip(arcs.tolist(), i_words, j_words, strict=True):
            arms[row] = f" I{i} J{j}"
        feeds = {f: feed_word(f) for f in np.unique(moves.feed[moves.kind > 0]).tolist()}
        mode, feed, piece = self._mode, self._feed, -1
        add = self.lines.append
        rows = zip(
            moves.kind.tolist(), *columns, arms, moves.feed.tolist(), moves.piece.tolist(), strict=True
        )
        for kind, x, y, z, arm, speed, of in rows:
            if of != piece:
                piece = of
                if notes:
                    add(notes[of])
            line = x + y + z + arm
            if kind and feeds[speed] != feed:
                feed = feeds[speed]
                line = f"{line} {feed}"
            if kind != mode:
                mode = kind
                add(f"G{kind}{line}")
            else:
                add(line[1:])
        self._mode, self._feed = mode, feed
        self.at = moves.end[-1].copy()
        self._widen(*extents_of(moves, self.decimals))

    def _places(self, moves: Moves, axis: int) -> list[str]:
        """The X, Y or Z words of every move, each led by a space; empty where the place stays."""
        said = moves.end[:, axis] != moves.start[:, axis]
        if axis < 2:
            said |= moves.kind >= ARC_CW
        words = [""] * len(said)
        rows = np.flatnonzero(said)
        texts = numbers(moves.end[rows, axis], self.decimals)
        for row, text in zip(rows.tolist(), texts, strict=True):
            words[row] = f" {'XYZ'[axis]}{text}"
        return words
