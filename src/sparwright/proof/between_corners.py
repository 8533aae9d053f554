"""Two sides at an angle to each other: where what they really cut meets inside the member.

Near the corner the two share, the metal one side takes out is looked at in layers a cell thick, and each piece of a layer is
looked up in the other side's map. The piece counts as met where any of it may be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from sparwright.proof.sidecut import SideCut
from sparwright.stock.model import Member


@dataclass(frozen=True)
class Meeting:
    """A place where cuts of two sides meet and the design has metal. at: (x, s, n) on the first side's face. cells: the
    row and column in either map. length: of the meeting along the member, mm.
    """

    at: tuple[float, float, float]
    cells: tuple[tuple[int, int], tuple[int, int]]
    length: float


@dataclass(frozen=True)
class _Layers:
    """Pieces of layers near the corner: rows and middles of the first side's map, (k,) n of their middles, rows of the
    other's map and n there, (k,).
    """

    rows: np.ndarray
    s: np.ndarray
    n: np.ndarray
    others: np.ndarray
    there: np.ndarray


def _layers(member: Member, one: SideCut, other: SideCut) -> _Layers:
    """Where the ground of both sides overlaps in the section, and metal stands in the stock."""
    here, there = member.section.face(one.face), member.section.face(other.face)
    cell, rows = one.grid.cell, one.least.shape[0]
    deep = float(one.least.min())
    count = max(1, int(np.ceil((float(one.wanted.max()) - deep) / cell)))
    j, k = (a.ravel() for a in np.meshgrid(np.arange(rows), np.arange(count), indexing="ij"))
    s, n = one.grid.s0 + (j + 0.5) * cell, deep + (k + 0.5) * cell
    yz = here.to_member(np.column_stack([np.zeros(len(s)), s, n]))
    p = there.from_member(yz)
    row = np.floor((p[:, 1] - other.grid.s0) / cell).astype(int)
    near = (row >= 0) & (row < other.least.shape[0]) & (p[:, 2] > float(other.least.min()) - cell)
    near[near] &= shapely.contains_xy(member.section.shape, yz[near, 1], yz[near, 2])
    return _Layers(j[near], s[near], n[near], row[near], p[near, 2])


def meetings(member: Member, one: SideCut, other: SideCut, tolerance: float) -> list[Meeting]:
    """Stretches along the member where two sides at an angle meet in metal that is to stay. tolerance: by which each may be deeper
    than its features, mm.
    """
    cell = one.grid.cell
    shift = round((one.grid.x0 - other.grid.x0) / cell)
    a, b = max(0, -shift), min(one.least.shape[1], other.least.shape[1] - shift)
    if b <= a or one.least.size == 0 or other.least.size == 0:
        return []
    # a piece reaches into the rows beside the one its middle is in
    low = ndimage.minimum_filter(other.least[:, a + shift : b + shift], size=(3, 1), mode="nearest")
    wanted = ndimage.minimum_filter(other.wanted[:, a + shift : b + shift], size=(3, 1), mode="nearest")
    pieces = _layers(member, one, other)
    turn = abs(float(np.dot(member.section.face(one.face).normal, member.section.face(other.face).normal)))
    half = cell / 2
    reach = half * (turn + np.sqrt(1 - turn**2))
    met = np.full(b - a, -1, dtype=np.int64)
    for k, (j, n, row, there) in enumerate(
        zip(pieces.rows, pieces.n, pieces.others, pieces.there, strict=True)
    ):
        gone = (one.least[j, a:b] < n + half) & (low[row] < there + reach)
        if gone.any():
            right = (one.wanted[j, a:b] < n + half + tolerance) & (wanted[row] < there + reach + tolerance)
            met[gone & ~right] = k
    return _stretches(one, pieces, met, a, shift)


def _stretches(one: SideCut, pieces: _Layers, met: np.ndarray, first: int, shift: int) -> list[Meeting]:
    labels, _ = ndimage.label(met >= 0)
    found = []
    for (span,) in ndimage.find_objects(labels):
        i = (span.start + span.stop) // 2
        k = int(met[i])
        x = one.grid.x0 + (first + i + 0.5) * one.grid.cell
        cells = (
            (int(pieces.rows[k]), first + int(i)),
            (int(pieces.others[k]), first + int(i) + shift),
        )
        at = (round(float(x), 6), round(float(pieces.s[k]), 6), round(float(pieces.n[k]), 6))
        length = (span.stop - span.start) * one.grid.cell
        found.append(Meeting(at, cells, round(length, 6)))
    return found
