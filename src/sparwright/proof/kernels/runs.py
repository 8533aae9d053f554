"""Runs of cells along rows: where shapes cross a row, and how its cells are lowered."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import inner, span, summing

BLOCK = 16  # cells looked at together for whether any stands over a height
FEW = 24  # runs up to this many cells are lowered one by one


@inner
def first_cell(x, x0, cell, count):
    """Index of the first cell whose centre is at or past x, within 0..count."""
    return math.ceil(min(max((x - x0) / cell - 0.5, 0.0), float(count)))


@inner
def past_cell(x, x0, cell, count):
    """Index one past the last cell whose centre is at or before x, within 0..count."""
    return math.floor(min(max((x - x0) / cell - 0.5, -1.0), float(count - 1))) + 1


@inner
def metal_between(tops, bottoms, j, low, high):
    """Length of metal between two heights in the intervals of row j (tops and bottoms (rows, m), outermost first)."""
    total = 0.0
    for m in range(tops.shape[1]):
        total += max(0.0, min(tops[j, m], high) - max(bottoms[j, m], low))
    return total


@inner
def lower_plain(H, L, j, a, b, n, k):
    """Lower cells a..b of row j to n and mark those that changed with k."""
    for i in range(a, b):
        old = H[j, i]
        lower = n < old
        H[j, i] = n if lower else old
        L[j, i] = k if lower else L[j, i]


@summing
def lower_counted(H, L, j, a, b, n, k, tops, bottoms):
    """As lower_plain; returns the length of metal cut away, summed over the cells, mm.

    Metal never stands over the first interval's top, so where n is in the first wall the sum needs no intervals.
    """
    total = np.float32(0.0)
    if n >= bottoms[j, 0]:
        for i in range(a, b):
            old = H[j, i]
            lower = n < old
            new = n if lower else old
            total += old - new
            H[j, i] = new
            L[j, i] = k if lower else L[j, i]
        return total
    for q in range(tops.shape[1]):
        top, low = tops[j, q], max(bottoms[j, q], n)
        if low < top:
            for i in range(a, b):
                total += max(min(H[j, i], top) - low, np.float32(0.0))
    lower_plain(H, L, j, a, b, n, k)
    return total


@inner
def lower_few(H, L, j, a, b, n, k, metal):
    """As lower_run, cell by cell."""
    cut = 0.0
    for i in range(a, b):
        old = H[j, i]
        if n < old:
            H[j, i] = n
            L[j, i] = k
            if metal.first <= np.int64(i) < metal.past:
                cut += metal_between(metal.tops, metal.bottoms, j, n, old)
    return cut


@inner
def stands_over(H, j, at, n):
    """Whether any of BLOCK cells of row j from `at` on stands over n."""
    found = False
    for i in range(np.uint64(BLOCK)):
        found |= H[j, at + i] > n
    return found


@inner
def lower_run(H, L, j, a, b, n, k, metal):
    """Lower the cells a..b of row j to n, marked with k; returns the metal cut away in counted columns, mm.

    Blocks at both ends that are cut already are passed over: of a move beside earlier ones most cells are. Unsigned
    places and no slices: an index that cannot be negative needs no look, and each slice counts its holders up and down.
    """
    mark, row, low, high = np.int32(k), np.uint64(j), np.uint64(max(a, 0)), np.uint64(max(b, 0))
    block, few = np.uint64(BLOCK), np.uint64(FEW)
    while low + block <= high and not stands_over(H, row, low, n):
        low += block
    while low + block <= high and not stands_over(H, row, high - block, n):
        high -= block
    if low + few >= high:
        return lower_few(H, L, row, low, high, n, mark, metal)
    first = min(max(low, np.uint64(max(metal.first, 0))), high)
    past = max(min(high, np.uint64(max(metal.past, 0))), first)
    if metal.tops.shape[1] == 0 or first == past:
        lower_plain(H, L, row, low, high, n, mark)
        return 0.0
    lower_plain(H, L, row, low, first, n, mark)
    lower_plain(H, L, row, past, high, n, mark)
    return float(lower_counted(H, L, row, first, past, n, mark, metal.tops, metal.bottoms))


@inner
def disc_span(y, ax, ay, radius):
    """From and to of a disc along the row at y; from > to where it misses the row."""
    q = radius * radius - (y - ay) ** 2
    if q < 0.0:
        return np.inf, -np.inf
    w = math.sqrt(q)
    return ax - w, ax + w


@inner
def capsule_span(y, ax, ay, bx, by, radius):
    """From and to, along the row at y, of a disc moved from a to b (convex, so one span)."""
    low, high = disc_span(y, ax, ay, radius)
    low2, high2 = disc_span(y, bx, by, radius)
    low, high = min(low, low2), max(high, high2)
    length = span(bx - ax, by - ay)
    if length > 0.0 and by != ay:
        ux, uy = (bx - ax) / length, (by - ay) / length
        for side in (-1.0, 1.0):
            t = (y - ay - side * radius * ux) / (by - ay)
            if 0.0 <= t <= 1.0:
                x = ax - side * radius * uy + t * (bx - ax)
                low, high = min(low, x), max(high, x)
    return low, high


@inner
def half_plane(low, high, a, b):
    """Clip the span of p to a * p <= b."""
    if a > 0.0:
        return low, min(high, b / a)
    if a < 0.0:
        return max(low, b / a), high
    if b < 0.0:
        return np.inf, -np.inf
    return low, high
