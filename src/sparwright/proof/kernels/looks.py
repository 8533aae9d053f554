"""Exact looks at single points: the distance to all that is cut away."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import AHEAD, ARC, ASIDE, FLAT, LINE, RAYS, Buckets, inner, kernel, span
from sparwright.proof.kernels.paths import arc_chords, arc_point, put, sweep_box, travel
from sparwright.proof.kernels.shapes import radius_at


@inner
def bucket_of(distance, size, count):
    """Index of the bucket at a distance from the first one's start; the end ones take all that lies beyond."""
    return math.floor(min(max(distance / size, 0.0), count - 1.0))


@kernel
def fill_buckets(sweeps, tools, reach, top, x0, s0, size, across, down):
    """Sort the sweeps that go below `top` into square buckets, each sweep grown by its cutter and `reach`."""
    first = np.zeros(across * down + 1, np.int64)
    sweep = np.empty(0, np.int32)
    hull = np.empty((sweeps.kind.size, 4))
    for counting in (True, False):
        for k in range(sweeps.kind.size):
            low = min(sweeps.start[k, 2], sweeps.end[k, 2])
            if low >= top:
                continue
            t = sweeps.tool[k]
            widest = max(tools.radius[t], tools.shank[t])
            pad = widest + reach
            xa, xb, sa, sb = sweep_box(sweeps, k)
            hull[k, 0], hull[k, 1] = 0.5 * (xa + xb), 0.5 * (sa + sb)
            hull[k, 2], hull[k, 3] = 0.5 * span(xb - xa, sb - sa) + widest, low
            i0, i1 = bucket_of(xa - pad - x0, size, across), bucket_of(xb + pad - x0, size, across)
            j0, j1 = bucket_of(sa - pad - s0, size, down), bucket_of(sb + pad - s0, size, down)
            for j in range(j0, j1 + 1):
                for i in range(i0, i1 + 1):
                    b = j * across + i
                    if counting:
                        first[b + 1] += 1
                    else:
                        sweep[first[b]] = k
                        first[b] += 1
        if counting:
            for b in range(across * down):
                first[b + 1] += first[b]
            sweep = np.empty(first[across * down], np.int32)
    for b in range(across * down, 0, -1):
        first[b] = first[b - 1]
    first[0] = 0
    return Buckets(x0, s0, size, across, first, sweep, hull)


@inner
def line_gap(tools, t, ax, ay, an, bx, by, bn, x, s, n):
    """Signed distance from a point at height n to the cutter moved along a line; negative where it is cut away."""
    dx, dy, dn = bx - ax, by - ay, bn - an
    length2 = dx * dx + dy * dy
    px, py = x - ax, s - ay
    if length2 < 1e-18:
        return span(px, py) - radius_at(tools, t, n - min(an, bn))
    t0, t1 = 0.0, 1.0
    if dn != 0.0:
        share = (n - an) / dn
        if dn > 0.0:
            t1 = min(t1, share)
        else:
            t0 = max(t0, share)
        if t0 > t1:
            return np.inf
    near = min(max((px * dx + py * dy) / length2, t0), t1)
    if dn == 0.0 or tools.form[t] == FLAT:
        return span(px - near * dx, py - near * dy) - radius_at(tools, t, n - (an + near * dn))
    a, b = t0, t1
    best = np.inf
    for _ in range(60):
        c, d = a + (b - a) / 3.0, b - (b - a) / 3.0
        gc = span(px - c * dx, py - c * dy) - radius_at(tools, t, n - (an + c * dn))
        gd = span(px - d * dx, py - d * dy) - radius_at(tools, t, n - (an + d * dn))
        best = min(best, gc, gd)
        if gc < gd:
            b = d
        else:
            a = c
    return best


@inner
def arc_gap(tools, sweeps, k, x, s, n):
    """As line_gap, for sweep k, an arc of at most half a turn: level with any cutter, or rising with a flat one."""
    t, turn = sweeps.tool[k], sweeps.turn[k]
    cx, cy, an = sweeps.centre[k, 0], sweeps.centre[k, 1], sweeps.start[k, 2]
    t0, t1 = 0.0, 1.0
    dn = sweeps.end[k, 2] - an
    if dn != 0.0:
        share = (n - an) / dn
        if dn > 0.0:
            t1 = min(t1, share)
        else:
            t0 = max(t0, share)
        if t0 > t1:
            return np.inf
    ax, ay = sweeps.start[k, 0] - cx, sweeps.start[k, 1] - cy
    bx, by = sweeps.end[k, 0] - cx, sweeps.end[k, 1] - cy
    if t0 > 0.0:
        c, w = math.cos(turn * t0), math.sin(turn * t0)
        ax, ay = ax * c - ay * w, ax * w + ay * c
    if t1 < 1.0:
        c, w = math.cos(turn * (t1 - 1.0)), math.sin(turn * (t1 - 1.0))
        bx, by = bx * c - by * w, bx * w + by * c
    px, py = x - cx, s - cy
    r = radius_at(tools, t, n - min(an + t0 * dn, an + t1 * dn))
    sign = 1.0 if turn > 0.0 else -1.0
    if sign * (ax * py - ay * px) >= 0.0 and sign * (px * by - py * bx) >= 0.0:
        return abs(span(px, py) - span(ax, ay)) - r
    return min(span(px - ax, py - ay), span(px - bx, py - by)) - r


@inner
def chorded_gap(tools, sweeps, k, x, s, n, points):
    """As line_gap, for sweep k, a rising arc of a pointed or ball cutter, by chords."""
    a, b, centre, turn = sweeps.start[k], sweeps.end[k], sweeps.centre[k], sweeps.turn[k]
    best = np.inf
    chords = arc_chords(span(a[0] - centre[0], a[1] - centre[1]), turn)
    p, q = points[0], points[1]
    put(p, a)
    for i in range(chords):
        arc_point(a, b, centre, turn, (i + 1) / chords, q)
        gap = line_gap(tools, sweeps.tool[k], p[0], p[1], p[2], q[0], q[1], q[2], x, s, n)
        best = min(best, gap)
        put(p, q)
    return best


@inner
def sweep_gap(sweeps, tools, k, x, s, n, points):
    """Signed distance from a point at height n to what sweep k cuts away. points: (2, 3) room for work."""
    t = sweeps.tool[k]
    an, bn = sweeps.start[k, 2], sweeps.end[k, 2]
    if min(an, bn) > n:
        return np.inf
    if sweeps.kind[k] == LINE:
        ax, ay, bx, by = sweeps.start[k, 0], sweeps.start[k, 1], sweeps.end[k, 0], sweeps.end[k, 1]
        return line_gap(tools, t, ax, ay, an, bx, by, bn, x, s, n)
    if an == bn or tools.form[t] == FLAT:
        return arc_gap(tools, sweeps, k, x, s, n)
    return chorded_gap(tools, sweeps, k, x, s, n, points)


@kernel
def gaps(probes, buckets, sweeps, tools, reach, gap, who):
    """For probes (m, 3) of (x, s, n): the least signed distance to all that is cut away, and the sweep that does it.

    gap is at most `reach`; who is -1 where no cutter comes within `reach`.
    """
    points = np.empty((2, 3))
    down = (buckets.first.size - 1) // buckets.across
    for m in range(probes.shape[0]):
        gap[m], who[m] = reach, -1
        i = int((probes[m, 0] - buckets.x0) // buckets.size)
        j = int((probes[m, 1] - buckets.s0) // buckets.size)
        if i < 0 or j < 0 or i >= buckets.across or j >= down:
            continue
        b = j * buckets.across + i
        # the last cuts come nearest to a wall: begun with them, most others are too far to matter
        for q in range(buckets.first[b + 1] - 1, buckets.first[b] - 1, -1):
            k = buckets.sweep[q]
            if buckets.hull[k, 3] > probes[m, 2]:
                continue
            dx, ds = probes[m, 0] - buckets.hull[k, 0], probes[m, 1] - buckets.hull[k, 1]
            bound = buckets.hull[k, 2] + gap[m]
            if bound < 0.0 or dx * dx + ds * ds > bound * bound:
                continue
            g = sweep_gap(sweeps, tools, k, probes[m, 0], probes[m, 1], probes[m, 2], points)
            if g < gap[m]:
                gap[m], who[m] = g, k


@inner
def stands(buckets, sweeps, tools, x, s, n, before, points):
    """Whether no sweep before number `before` cuts the point at height n away."""
    down = (buckets.first.size - 1) // buckets.across
    i, j = math.floor((x - buckets.x0) / buckets.size), math.floor((s - buckets.s0) / buckets.size)
    if i < 0 or j < 0 or i >= buckets.across or j >= down:
        return True
    b = j * buckets.across + i
    for q in range(buckets.first[b], buckets.first[b + 1]):
        k = buckets.sweep[q]
        if k >= before:
            break
        dx, ds, bound = x - buckets.hull[k, 0], s - buckets.hull[k, 1], buckets.hull[k, 2]
        if buckets.hull[k, 3] > n or dx * dx + ds * ds > bound * bound:
            continue
        if sweep_gap(sweeps, tools, k, x, s, n, points) <= 0.0:
            return False
    return True


@inner
def lowest_metal(tops, bottoms, n):
    """The lowest height at or over n where a row's intervals hold metal; inf where there is none."""
    best = np.inf
    for m in range(tops.size):
        if tops[m] > n:
            best = min(best, max(bottoms[m], n))
    return best


@kernel
def meet_exactly(H, grid, tops, bottoms, buckets, sweeps, tools, which, cosine):
    """The cosine that thins the chip (see `meet`) for the sweeps `which`, by exact looks 0.02 mm outside the cutter.

    H: the stock before any cut. Only flat cutters are looked at; cosine of others is left as it is.
    """
    points, here = np.empty((2, 3)), np.empty(3)
    for w in range(which.size):
        k = which[w]
        t = sweeps.tool[k]
        if tools.form[t] != FLAT:
            continue
        start, end, turn, centre = sweeps.start[k], sweeps.end[k], sweeps.turn[k], sweeps.centre[k]
        length = span(end[0] - start[0], end[1] - start[1])
        if sweeps.kind[k] == ARC:
            length = abs(turn) * span(start[0] - centre[0], start[1] - centre[1])
        if length < 1e-9:
            continue
        steps = math.ceil(min(max(length, 1.0), 2000.0))
        best = 0.0
        for step in range(steps):
            dx, ds = travel(sweeps, k, (step + 1) / steps, here)
            for r in range(RAYS):
                if AHEAD[r] <= best:
                    continue
                ring = tools.radius[t] + 0.02
                x = here[0] + ring * (dx * AHEAD[r] - ds * ASIDE[r])
                s = here[1] + ring * (ds * AHEAD[r] + dx * ASIDE[r])
                i, j = math.floor((x - grid.x0) / grid.cell), math.floor((s - grid.s0) / grid.cell)
                if i < 0 or j < 0 or j >= H.shape[0] or i >= H.shape[1]:
                    continue
                look = lowest_metal(tops[j], bottoms[j], here[2]) + 0.01
                if look < H[j, i] and stands(buckets, sweeps, tools, x, s, look, k, points):
                    best = AHEAD[r]
        cosine[w] = best
