"""Runs of cells along rows: where shapes cross a row, and how its cells are lowered."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import inner, span, summing


@inner
def first_cell(x, x0, cell, count):
    """Index of the first cell whose centre is at or past x, within 0..count."""
    return math.ceil(min(max((x - x0) / cell - 0.5, 0.0), float(count)))


@inner
def past_cell(x, x0, cell, count):
    """Index one past the last cell whose centre is at or before x, within 0..count."""
    return math.floor(min(max((x - x0) / cell - 0.5, -1.0), float(count - 1))) + 1


@inner
def lower_plain(r, m, n, k):
    """Lower cells r to n and mark those that changed with k."""
    for i in range(r.size):
        old = r[i]
        lower = n < old
        r[i] = n if lower else old
        m[i] = k if lower else m[i]


@summing
def lower_counted(r, m, n, k, tops, bottoms):
    """As lower_plain; returns the length of metal cut away, summed over the cells, mm.

    Metal never stands over the first interval's top, so where n is in the first wall the sum needs no intervals.
    """
    total = np.float32(0.0)
    if n >= bottoms[0]:
        for i in range(r.size):
            old = r[i]
            lower = n < old
            new = n if lower else old
            total += old - new
            r[i] = new
            m[i] = k if lower else m[i]
        return total
    for q in range(tops.size):
        top, low = tops[q], max(bottoms[q], n)
        if low < top:
            for i in range(r.size):
                total += max(min(r[i], top) - low, np.float32(0.0))
    lower_plain(r, m, n, k)
    return total


@inner
def lower_run(H, L, j, a, b, n, k, metal):
    """Lower the cells a..b of row j to n, marked with k; returns the metal cut away in counted columns, mm."""
    mark = np.int32(k)
    c, d = max(a, metal.first), min(b, metal.past)
    if metal.tops.shape[1] == 0 or c >= d:
        lower_plain(H[j, a:b], L[j, a:b], n, mark)
        return 0.0
    if a < c:
        lower_plain(H[j, a:c], L[j, a:c], n, mark)
    if d < b:
        lower_plain(H[j, d:b], L[j, d:b], n, mark)
    return float(lower_counted(H[j, c:d], L[j, c:d], n, mark, metal.tops[j], metal.bottoms[j]))


@inner
def metal_between(tops, bottoms, low, high):
    """Length of metal between two heights in one row's intervals (tops and bottoms, outermost first)."""
    total = 0.0
    for m in range(tops.size):
        total += max(0.0, min(tops[m], high) - max(bottoms[m], low))
    return total


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
