"""Two sides that look away from each other: the metal between what their programs really cut, straight through.

Columns of one side's map are held against the columns of the other's over the same ground. Both maps are bounds: nothing
in a cell is cut lower than they say. Rows of the two maps need not line up, so that a row of one is held against every
row of the other it overlaps. Metal is counted in each of the section's intervals by itself: between two thin walls
lies air, and floors in different walls have nothing between them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from scipy import ndimage

from sparwright.proof.scene import metal_intervals
from sparwright.proof.sidecut import TOUCHED, SideCut
from sparwright.stock.model import Member

ROWS = 64  # of the map looked at together
EXACT = 1e-5  # what two heights in single precision may be off, mm


@dataclass(frozen=True)
class Bay:
    """Metal between a cut from here and a cut from there, at one place.

    metal: mm, negative where the two meet. wanted: what the design leaves. at, there: (x, s, n) on either face. cells:
    the row and column of the place in either map. count: how many cells in one stretch are as bad.
    """

    metal: float
    wanted: float
    at: tuple[float, float, float]
    there: tuple[float, float, float]
    cells: tuple[tuple[int, int], tuple[int, int]]
    count: int = 1


@dataclass(frozen=True)
class Facing:
    """least: the thinnest place of all that is to stay, None where nowhere the same metal is cut from both sides. thin:
    the worst place of every stretch that is thinner than the design leaves it, by more than the tolerance.
    """

    least: Bay | None
    thin: tuple[Bay, ...]


@dataclass(frozen=True)
class _Strip:
    """Some rows of one side and the row of the other that each is held against, over the columns both have.

    here, wanted: (rows, cols) heights of this side's cuts and of what its features allow. up, wanted_up: heights up to which the
    other side's come, on this face's axis. rows, others: (rows,) of the two maps.
    """

    here: np.ndarray
    wanted: np.ndarray
    up: np.ndarray
    wanted_up: np.ndarray
    rows: np.ndarray
    others: np.ndarray


@dataclass(frozen=True)
class _Spots:
    """Cells of the first side, (k,): row, column, the row of the other side, metal there and what the design leaves."""

    rows: np.ndarray
    cols: np.ndarray
    others: np.ndarray
    metal: np.ndarray
    wanted: np.ndarray


class _Pair:
    """Two sides' records on one grid."""

    def __init__(self, member: Member, one: SideCut, other: SideCut) -> None:
        self.member, self.one, self.other = member, one, other
        self.here, self.there = member.section.face(one.face), member.section.face(other.face)
        self.cell = one.grid.cell
        start = self.there.from_member(self.here.to_member(np.zeros((1, 3))))[0]
        self.turned, self.thick = (
            float(start[1]),
            float(-start[2]),
        )  # s there is turned - s here; n there is -thick - n
        shift = round((one.grid.x0 - other.grid.x0) / self.cell)
        self.first = max(0, -shift)
        self.past = min(one.least.shape[1], other.least.shape[1] - shift)
        self.shift = shift

    def strips(self) -> Iterator[_Strip]:
        """All rows that have any over against them, some at a time."""
        one, other, cell = self.one, self.other, self.cell
        if self.past <= self.first:
            return
        s = one.grid.s0 + (np.arange(one.least.shape[0]) + 0.5) * cell
        middle = (self.turned - s - other.grid.s0) / cell
        low, high = np.floor(middle - 0.5 + 1e-6), np.ceil(middle + 0.5 - 1e-6) - 1
        for k in range(int((high - low).max(initial=-1)) + 1):
            row = (low + k).astype(int)
            rows = np.flatnonzero((low + k <= high) & (row >= 0) & (row < other.least.shape[0]))
            for a in range(0, len(rows), ROWS):
                yield self._strip(rows[a : a + ROWS], row[rows[a : a + ROWS]])

    def _strip(self, rows: np.ndarray, others: np.ndarray) -> _Strip:
        a, b, c = self.first, self.past, self.shift
        return _Strip(
            self.one.least[rows, a:b],
            self.one.wanted[rows, a:b],
            -self.thick - self.other.least[others, a + c : b + c],
            -self.thick - self.other.wanted[others, a + c : b + c],
            rows,
            others,
        )

    def bay(self, spots: _Spots, k: int, count: int = 1) -> Bay:
        """The bay at one of the spots."""
        row, col, other = int(spots.rows[k]), int(spots.cols[k]), int(spots.others[k])
        x, s = self.one.grid.x0 + (col + 0.5) * self.cell, self.one.grid.s0 + (row + 0.5) * self.cell
        here, there = float(self.one.least[row, col]), float(self.other.least[other, col + self.shift])
        return Bay(
            round(float(spots.metal[k]), 6),
            round(float(spots.wanted[k]), 6),
            (round(x, 6), round(s, 6), round(here, 6)),
            (round(x, 6), round(self.turned - s, 6), round(there, 6)),
            ((row, col), (other, col + self.shift)),
            count,
        )


def facing(member: Member, one: SideCut, other: SideCut, tolerance: float) -> Facing:
    """Hold two sides that look away from each other together.

    tolerance: by which what the design leaves may be thinner, mm.
    """
    pair = _Pair(member, one, other)
    s = one.grid.s0 + (np.arange(one.least.shape[0]) + 0.5) * one.grid.cell
    tops, bottoms = metal_intervals(member.section, pair.here, s)
    least: Bay | None = None
    thin: list[_Spots] = []
    for strip in pair.strips():
        for q in range(tops.shape[1]):
            top, low = tops[strip.rows, q, None], bottoms[strip.rows, q, None]
            both = _both(strip, top, low)
            if both is None:
                continue
            metal = np.clip(strip.here, low, top) - np.clip(strip.up, low, top)
            wanted = np.clip(strip.wanted, low, top) - np.clip(strip.wanted_up, low, top)
            stays = both & (wanted > tolerance)
            if not stays.any():
                continue
            left = np.where(stays, metal, np.inf)
            at = divmod(int(left.argmin()), left.shape[1])
            if least is None or left[at] < least.metal - EXACT:
                least = pair.bay(_spots(pair, strip, metal, wanted, (np.array(at[:1]), np.array(at[1:]))), 0)
            short = np.nonzero(left < wanted - tolerance - EXACT)
            if len(short[0]):
                thin.append(_spots(pair, strip, metal, wanted, short))
    return Facing(least, _stretches(pair, thin))


def _both(strip: _Strip, top: np.ndarray, low: np.ndarray) -> np.ndarray | None:
    """Cells in which both sides have cut one of the section's intervals; None where there is none. top, low: (rows, 1)."""
    some = (strip.here.min(axis=1) < top[:, 0]) & (strip.up.max(axis=1) > low[:, 0])
    if not (some & (top[:, 0] > low[:, 0])).any():
        return None
    both = (strip.here < top - TOUCHED) & (strip.up > low + TOUCHED) & (top > low)
    return both if both.any() else None


def _spots(
    pair: _Pair, strip: _Strip, metal: np.ndarray, wanted: np.ndarray, at: tuple[np.ndarray, ...]
) -> _Spots:
    j, i = np.asarray(at[0]).ravel(), np.asarray(at[1]).ravel()
    return _Spots(strip.rows[j], pair.first + i, strip.others[j], metal[j, i], wanted[j, i])


def _stretches(pair: _Pair, thin: list[_Spots]) -> tuple[Bay, ...]:
    """The worst place of every stretch of ground that hangs together, the worst stretch first."""
    if not thin:
        return ()
    spots = _Spots(*(np.concatenate([getattr(t, f.name) for t in thin]) for f in fields(_Spots)))
    ground = np.zeros(pair.one.least.shape, dtype=bool)
    ground[spots.rows, spots.cols] = True
    labels, _ = ndimage.label(ground, structure=np.ones((3, 3)))
    mine = labels[spots.rows, spots.cols]
    sizes = np.bincount(labels.ravel())
    order = np.argsort(spots.metal - spots.wanted, kind="stable")
    _, first = np.unique(mine[order], return_index=True)
    return tuple(pair.bay(spots, int(order[k]), int(sizes[mine[order[k]]])) for k in np.sort(first))
