"""What hangs together: the metal of a section under a height map, as pieces.

Every row of the map has its intervals of metal (a hollow section more than one). What a map leaves of an interval
stands on its underside, so along x neighbours of one interval always touch; across rows two intervals touch where they
overlap in height.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from sparwright.proof.kernels import AIR

FOIL = 1e-3  # metal thinner than this holds nothing, mm


@dataclass(frozen=True)
class Pieces:
    """Metal in pieces. top: (rows, cols) int32, the piece that stands highest in each cell, -1 for none. bulk: (count,)
    metal of each over a cell's area, mm. cells: (count,) cells over the face that each stands in, those under
    another piece too. of: (count,) the piece of the whole stock it came from, where that was asked for.
    """

    top: np.ndarray
    bulk: np.ndarray
    cells: np.ndarray
    of: np.ndarray


@dataclass(frozen=True)
class _Runs:
    """Metal in a row, interval by interval: runs (k, 3) of first cell, one past the last, interval; names: from which on
    they are counted.
    """

    first: np.ndarray
    past: np.ndarray
    interval: np.ndarray
    start: int


def _row_runs(left: np.ndarray, start: int) -> _Runs:
    """left: (m, cols) bool, cells in which an interval holds metal."""
    edge = np.diff(np.pad(left, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    interval, first = np.nonzero(edge > 0)
    _, past = np.nonzero(edge < 0)
    return _Runs(first, past, interval, start)


def _names(runs: _Runs, shape: tuple[int, int]) -> np.ndarray:
    """Number of the run over every cell of every interval, (m, cols), -1 where there is none."""
    names = np.full(shape, -1, dtype=np.int64)
    for k, (m, a, b) in enumerate(zip(runs.interval, runs.first, runs.past, strict=True)):
        names[m, a:b] = runs.start + k
    return names


def _touching(
    upper: tuple[np.ndarray, np.ndarray, np.ndarray], lower: tuple[np.ndarray, np.ndarray, np.ndarray]
) -> list[np.ndarray]:
    """Pairs of runs of two neighbouring rows that overlap in height; each row: names, heights and undersides."""
    found = []
    for one, high, base in zip(*upper, strict=True):
        for two, other, floor in zip(*lower, strict=True):
            over = np.minimum(high, other) - max(base, floor) > FOIL
            both = over & (one >= 0) & (two >= 0)
            if both.any():
                code = one[both] * (1 << 32) + two[both]
                code = code[np.flatnonzero(np.diff(code, prepend=-1))]
                found.append(np.stack([code >> 32, code & 0xFFFFFFFF]))
    return found


def pieces(
    heights: np.ndarray, tops: np.ndarray, bottoms: np.ndarray, whole: np.ndarray | None = None
) -> Pieces:
    """The pieces of metal under a map (rows, cols), the stock's intervals (rows, m) being `tops` and `bottoms`.

    whole: highest piece of the stock before any cut, (rows, cols).
    """
    rows, cols = heights.shape
    runs: list[_Runs] = []
    pairs = [np.empty((2, 0), dtype=np.int64)]
    names_of, bulk, size = [], [], []
    before = None
    count = 0
    for j in range(rows):
        real = np.flatnonzero(tops[j] > AIR / 2)
        high = np.minimum(tops[j, real, None], heights[j])
        left = high - bottoms[j, real, None] > FOIL
        here = _row_runs(left, count)
        count += len(here.first)
        names = _names(here, left.shape)
        row = (names, high, bottoms[j, real])
        if before is not None:
            pairs += _touching(before, row)
        metal = np.where(left, high - bottoms[j, real, None], 0.0)
        bulk += [
            float(metal[m, a:b].sum()) for m, a, b in zip(here.interval, here.first, here.past, strict=True)
        ]
        size += list(here.past - here.first)
        runs.append(here)
        names_of.append(_highest(names, cols))
        before = row
    pair = np.concatenate(pairs, axis=1)
    graph = coo_array((np.ones(pair.shape[1], dtype=bool), (pair[0], pair[1])), shape=(count, count))
    found, piece = connected_components(graph, directed=False) if count else (0, np.empty(0, dtype=np.int32))
    top = np.full((rows, cols), -1, dtype=np.int32)
    for j in range(rows):
        known = names_of[j] >= 0
        top[j, known] = piece[names_of[j][known]]
    of = np.zeros(found, dtype=np.int64)
    if whole is not None and count:
        row_of = np.repeat(np.arange(rows), [len(r.first) for r in runs])
        of[piece] = whole[row_of, np.concatenate([r.first for r in runs])]
    cells = np.bincount(piece, np.array(size), minlength=found)
    return Pieces(top, np.bincount(piece, np.array(bulk), minlength=found), cells, of)


def _highest(names: np.ndarray, cols: int) -> np.ndarray:
    """The highest run over each cell, (cols,), -1 for none; intervals come from the outside in."""
    top = np.full(cols, -1, dtype=np.int64)
    for row in names[::-1]:
        top = np.where(row >= 0, row, top)
    return top
