"""How far motions reach along each axis."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sparwright.proof.motion import PLANE_AXES, Moves

BLOCK = 1 << 16  # motions looked at together


def extents(moves: Moves) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest X, Y, Z of each motion, arcs by their quadrant points; two arrays (k, 3)."""
    low, high = np.minimum(moves.start, moves.end), np.maximum(moves.start, moves.end)
    for code, (a, b) in PLANE_AXES.items():
        k = np.flatnonzero((moves.turn != 0) & (moves.plane == code))
        da, db = (moves.start[k, i] - moves.centre[k, i] for i in (a, b))
        radius, begin = np.hypot(da, db), np.arctan2(db, da)
        for quarter in range(4):
            angle = quarter * math.pi / 2
            way = ((angle - begin) * np.sign(moves.turn[k])) % (2 * math.pi)
            hit = way <= np.abs(moves.turn[k])
            met = k[hit]
            for axis, part in ((a, math.cos(angle)), (b, math.sin(angle))):
                value = moves.centre[met, axis] + radius[hit] * part
                low[met, axis] = np.minimum(low[met, axis], value)
                high[met, axis] = np.maximum(high[met, axis], value)
    return low, high


@dataclass(frozen=True)
class Extents:
    """Extents of motions without the places a program starts from, which nobody knows: of its first motion in Z, and
    of the first sideways one in X and Y, only the end counts; before it nothing does (inf to -inf).

    They are worked out when asked for: kept, they would take as much room as the motions. first, sideways: (programs,)
    the first motion of each program, and the first that goes sideways (the last where none does).
    """

    moves: Moves
    first: np.ndarray
    sideways: np.ndarray

    def of(self, k: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest X, Y, Z of the motions k, (m,), two arrays (m, 3)."""
        moves = self.moves.part(k)
        low, high = extents(moves)
        first, sideways = self.first[moves.program], self.sideways[moves.program]
        for here, axes in ((k == first, slice(2, 3)), (k == sideways, slice(0, 2))):
            low[here, axes] = high[here, axes] = moves.end[here, axes]
        low[k < sideways, :2], high[k < sideways, :2] = np.inf, -np.inf
        return low, high

    def blocks(self, program: int | None = None) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """All motions in order, or those of one program, some at a time: their indices, (m,), and their extents."""
        first, past = 0, len(self.moves.line)
        if program is not None:
            first, past = np.searchsorted(self.moves.program, (program, program + 1))
        for a in range(first, past, BLOCK):
            k = np.arange(a, min(a + BLOCK, past))
            yield (k, *self.of(k))

    def along(self, axis: int) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest place of every motion along one axis, two arrays (k,)."""
        least, greatest = np.empty(len(self.moves.line)), np.empty(len(self.moves.line))
        for k, low, high in self.blocks():
            least[k], greatest[k] = low[:, axis], high[:, axis]
        return least, greatest

    def box(self, program: int | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest X, Y, Z of all motions together, or of one program's, (3,) each; inf to -inf where there
        are none.
        """
        least, greatest = np.full(3, np.inf), np.full(3, -np.inf)
        for _, low, high in self.blocks(program):
            least, greatest = np.minimum(least, low.min(axis=0)), np.maximum(greatest, high.max(axis=0))
        return least, greatest


def extents_of(moves: Moves) -> Extents:
    """The extents of the motions of programs in the order they are run."""
    count = int(moves.program.max(initial=-1)) + 1
    first, past = (np.searchsorted(moves.program, np.arange(count), side=side) for side in ("left", "right"))
    goes = (moves.start[:, :2] != moves.end[:, :2]).any(axis=1)
    sideways = np.array(
        [a + int(goes[a:b].argmax()) if goes[a:b].any() else b - 1 for a, b in zip(first, past, strict=True)],
        dtype=np.int64,
    )
    return Extents(moves, first, sideways)
