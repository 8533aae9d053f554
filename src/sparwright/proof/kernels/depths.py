"""Exact looks straight down: how low the cutters come over single places."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import FLAT, LINE, inner, kernel, span
from sparwright.proof.kernels.cuts import helix_share
from sparwright.proof.kernels.paths import arc_chords, arc_point, put
from sparwright.proof.kernels.shapes import line_low, rise


@inner
def line_depth(tools, t, a, b, x, s):
    """Lowest height of cutter t moved from a to b, (3,) both, over the place (x, s); inf where it does not pass."""
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    dx, dy = b[0] - a[0], b[1] - a[1]
    length = span(dx, dy)
    n0, n1, ux, uy = a[2], b[2], 1.0, 0.0
    if length > 1e-9:
        ux, uy = dx / length, dy / length
    else:
        n0 = n1 = min(n0, n1)
    px, py = x - a[0], s - a[1]
    return line_low(form, px * ux + py * uy, py * ux - px * uy, length, n0, n1, radius, tip, slope, 0.0)


@inner
def sweep_depth(sweeps, tools, k, x, s, points):
    """As line_depth, for sweep k. points: (2, 3) room for work."""
    t = sweeps.tool[k]
    start, end = sweeps.start[k], sweeps.end[k]
    if sweeps.kind[k] == LINE:
        return line_depth(tools, t, start, end, x, s)
    cx, cy, turn = sweeps.centre[k, 0], sweeps.centre[k, 1], sweeps.turn[k]
    ax, ay, bx, by = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    p, q, rho = x - cx, s - cy, span(ax, ay)
    if start[2] == end[2]:
        sign = 1.0 if turn > 0.0 else -1.0
        if sign * (ax * q - ay * p) >= 0.0 and sign * (p * by - q * bx) >= 0.0:
            d = abs(span(p, q) - rho)
        else:
            d = min(span(p - ax, q - ay), span(p - bx, q - by))
        if d > tools.radius[t]:
            return np.inf
        return end[2] + rise(tools.form[t], d, tools.radius[t], tools.tip[t], tools.slope[t], 0.0)
    if tools.form[t] == FLAT:
        share = helix_share(p, q, math.atan2(ay, ax), turn, rho, tools.radius[t], end[2] < start[2])
        return start[2] + (end[2] - start[2]) * share if share >= 0.0 else np.inf
    best, a, b = np.inf, points[0], points[1]
    put(a, start)
    chords = arc_chords(rho, turn)
    for i in range(chords):
        arc_point(start, end, sweeps.centre[k], turn, (i + 1) / chords, b)
        best = min(best, line_depth(tools, t, a, b, x, s))
        put(a, b)
    return best


@kernel
def depths(places, buckets, sweeps, tools, low, who):
    """For places (m, 2) of (x, s): how low any cutter comes there, n, and the sweep that does it.

    low: (m,), inf where none passes; who: (m,), -1 there.
    """
    points = np.empty((2, 3))
    down = (buckets.first.size - 1) // buckets.across
    for m in range(places.shape[0]):
        x, s = places[m, 0], places[m, 1]
        low[m], who[m] = np.inf, -1
        i, j = math.floor((x - buckets.x0) / buckets.size), math.floor((s - buckets.s0) / buckets.size)
        if i < 0 or j < 0 or i >= buckets.across or j >= down:
            continue
        b = j * buckets.across + i
        for q in range(buckets.first[b], buckets.first[b + 1]):
            k = buckets.sweep[q]
            if buckets.hull[k, 3] < low[m]:
                n = sweep_depth(sweeps, tools, k, x, s, points)
                if n < low[m]:
                    low[m], who[m] = n, k
