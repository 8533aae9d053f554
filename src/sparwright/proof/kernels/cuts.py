"""One sweep of a cutter cut into the map, in closed form."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import FLAT, LINE, inner, span
from sparwright.proof.kernels.paths import arc_chords, arc_point, put, sweep_box
from sparwright.proof.kernels.runs import (
    capsule_span,
    first_cell,
    half_plane,
    lower_run,
    metal_between,
    past_cell,
)
from sparwright.proof.kernels.shapes import line_low, rise


@inner
def cut_level_line(H, L, grid, metal, start, end, radius, joined, k):
    """A flat cutter along a level line; with `joined` the disc at the start is known to be cut already.

    Along a row the swept area is one span: of the discs at both ends and of the two edges between them.
    """
    ax, ay, bx, by = start[0], start[1], end[0], end[1]
    n, cut = np.float32(end[2]), 0.0
    rows, cols = H.shape
    dx, dy = bx - ax, by - ay
    length = span(dx, dy)
    slanted = dy != 0.0 and length > 0.0
    rise = 1.0 / dy if slanted else 0.0
    px, py = (radius * dx / length, radius * dy / length) if slanted else (0.0, 0.0)
    r2 = radius * radius
    j0 = first_cell(min(ay, by) - radius, grid.s0, grid.cell, rows)
    j1 = past_cell(max(ay, by) + radius, grid.s0, grid.cell, rows)
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        low, high = np.inf, -np.inf
        qa, qb = r2 - (y - ay) * (y - ay), r2 - (y - by) * (y - by)
        wa = math.sqrt(max(qa, 0.0))
        if qa >= 0.0:
            low, high = ax - wa, ax + wa
        if qb >= 0.0:
            wb = math.sqrt(qb)
            low, high = min(low, bx - wb), max(high, bx + wb)
        if slanted:
            t = (y - ay - px) * rise
            if 0.0 <= t <= 1.0:
                x = ax - py + t * dx
                low, high = min(low, x), max(high, x)
            t = (y - ay + px) * rise
            if 0.0 <= t <= 1.0:
                x = ax + py + t * dx
                low, high = min(low, x), max(high, x)
        if low > high:
            continue
        a = first_cell(low, grid.x0, grid.cell, cols)
        b = past_cell(high, grid.x0, grid.cell, cols)
        if joined and qa >= 0.0:
            c = first_cell(ax - wa, grid.x0, grid.cell, cols)
            d = past_cell(ax + wa, grid.x0, grid.cell, cols)
            if c < d:
                if a < c:
                    cut += lower_run(H, L, j, a, c, n, k, metal)
                if d < b:
                    cut += lower_run(H, L, j, d, b, n, k, metal)
                continue
        if a < b:
            cut += lower_run(H, L, j, a, b, n, k, metal)
    return cut


@inner
def cut_half_disc(H, L, grid, metal, at, dx, dy, side, radius, k):
    """The half of a flat cutter's disc on one side of the line from the arc's centre, (dx, dy) back, to `at`.

    side: 1 for the clockwise half, -1 for the other.
    """
    n, cut = np.float32(at[2]), 0.0
    rows, cols = H.shape
    j0 = first_cell(at[1] - radius, grid.s0, grid.cell, rows)
    for j in range(j0, past_cell(at[1] + radius, grid.s0, grid.cell, rows)):
        y = grid.s0 + (j + 0.5) * grid.cell - at[1]
        q = radius * radius - y * y
        if q < 0.0:
            continue
        w = math.sqrt(q)
        # side * (dx * y - dy * p) <= 0
        low, high = half_plane(-w, w, -side * dy, -side * dx * y)
        if low <= high:
            a = first_cell(low + at[0], grid.x0, grid.cell, cols)
            b = past_cell(high + at[0], grid.x0, grid.cell, cols)
            if a < b:
                cut += lower_run(H, L, j, a, b, n, k, metal)
    return cut


@inner
def cut_level_arc(H, L, grid, metal, start, end, centre, turn, radius, joined, k):
    """A flat cutter along a level arc of at most half a turn: ring sector by rows, and the end discs."""
    cx, cy = centre[0], centre[1]
    if turn > 0.0:
        ax, ay, bx, by = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    else:
        ax, ay, bx, by = end[0] - cx, end[1] - cy, start[0] - cx, start[1] - cy
    rho = span(ax, ay)
    outer, inner = rho + radius, max(rho - radius, 0.0)
    n, cut = np.float32(end[2]), 0.0
    rows, cols = H.shape
    # of each end's disc the half beyond the sector is enough: the other half lies in the sector or in the other disc
    back = 1.0 if turn > 0.0 else -1.0
    if not joined:
        dx, dy = start[0] - cx, start[1] - cy
        cut += cut_half_disc(H, L, grid, metal, start, dx, dy, back, radius, k)
    dx, dy = end[0] - cx, end[1] - cy
    cut += cut_half_disc(H, L, grid, metal, end, dx, dy, -back, radius, k)
    j0 = first_cell(cy - outer, grid.s0, grid.cell, rows)
    j1 = past_cell(cy + outer, grid.s0, grid.cell, rows)
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell - cy
        q = outer * outer - y * y
        if q < 0.0:
            continue
        w = math.sqrt(q)
        low, high = half_plane(-w, w, ay, ax * y)
        low, high = half_plane(low, high, -by, -bx * y)
        if low > high:
            continue
        q = inner * inner - y * y
        if q <= 0.0:
            a = first_cell(low + cx, grid.x0, grid.cell, cols)
            b = past_cell(high + cx, grid.x0, grid.cell, cols)
            cut += lower_run(H, L, j, a, b, n, k, metal)
            continue
        w = math.sqrt(q)
        if low < -w:
            a = first_cell(low + cx, grid.x0, grid.cell, cols)
            b = past_cell(min(high, -w) + cx, grid.x0, grid.cell, cols)
            cut += lower_run(H, L, j, a, b, n, k, metal)
        if high > w:
            a = first_cell(max(low, w) + cx, grid.x0, grid.cell, cols)
            b = past_cell(high + cx, grid.x0, grid.cell, cols)
            cut += lower_run(H, L, j, a, b, n, k, metal)
    return cut


@inner
def cut_line(H, L, grid, metal, start, end, tools, t, grow, k):
    """Any cutter along any straight line, cell by cell; an upright line cuts where it is lowest."""
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    ax, ay, bx, by = start[0], start[1], end[0], end[1]
    length = span(bx - ax, by - ay)
    n0, n1 = start[2], end[2]
    ux, uy = 1.0, 0.0
    if length > 1e-9:
        ux, uy = (bx - ax) / length, (by - ay) / length
    else:
        n0 = n1 = min(n0, n1)
    lowest, cut, reach = min(n0, n1), 0.0, radius + grow
    rows, cols = H.shape
    j0 = first_cell(min(ay, by) - reach, grid.s0, grid.cell, rows)
    j1 = past_cell(max(ay, by) + reach, grid.s0, grid.cell, rows)
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        low, high = capsule_span(y, ax, ay, bx, by, reach)
        if low > high:
            continue
        a = first_cell(low, grid.x0, grid.cell, cols)
        b = past_cell(high, grid.x0, grid.cell, cols)
        for i in range(a, b):
            if H[j, i] <= lowest:
                continue
            x = grid.x0 + (i + 0.5) * grid.cell - ax
            u, v = x * ux + (y - ay) * uy, (y - ay) * ux - x * uy
            n = np.float32(line_low(form, u, v, length, n0, n1, radius, tip, slope, grow))
            if n < H[j, i]:
                if metal.first <= i < metal.past:
                    cut += metal_between(metal.tops, metal.bottoms, j, n, H[j, i])
                H[j, i] = n
                L[j, i] = k
    return cut


@inner
def helix_share(p, q, begin, turn, rho, reach, falling):
    """Share of a rising or falling arc at which a flat cutter over the point (p, q) is lowest; -1 where it never is.

    p, q: from the centre. The cutter covers the point while the cosine of the angle between them is at least
    (r^2 + rho^2 - reach^2) / (2 r rho).
    """
    r = span(p, q)
    half = math.pi
    if r * rho > 0.0:
        cosine = (r * r + rho * rho - reach * reach) / (2.0 * r * rho)
        if cosine > 1.0:
            return -1.0
        if cosine <= -1.0:
            return 1.0 if falling else 0.0
        half = math.acos(cosine)
    elif max(r, rho) > reach:
        return -1.0
    whole = abs(turn)
    way = (math.atan2(q, p) - begin) * (1.0 if turn > 0.0 else -1.0)
    way -= 2.0 * math.pi * math.floor(way / (2.0 * math.pi))
    best = -1.0
    for middle in (way, way - 2.0 * math.pi):
        low, high = max(middle - half, 0.0), min(middle + half, whole)
        if low <= high:
            share = (high if falling else low) / whole
            best = share if best < 0.0 else (max(best, share) if falling else min(best, share))
    return best


@inner
def cut_arc(H, L, grid, metal, sweeps, k, tools, grow):
    """Arcs that are not level ones of flat cutters, cell by cell: level with any cutter, or rising with a flat one."""
    t = sweeps.tool[k]
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    start, end, turn = sweeps.start[k], sweeps.end[k], sweeps.turn[k]
    cx, cy = sweeps.centre[k, 0], sweeps.centre[k, 1]
    ax, ay, bx, by = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    rho, begin, reach = span(ax, ay), math.atan2(ay, ax), radius + grow
    level, sign = start[2] == end[2], 1.0 if turn > 0.0 else -1.0
    deepest, cut = min(start[2], end[2]), 0.0
    xa, xb, ya, yb = sweep_box(sweeps, k)
    rows, cols = H.shape
    a = first_cell(xa - reach, grid.x0, grid.cell, cols)
    b = past_cell(xb + reach, grid.x0, grid.cell, cols)
    for j in range(
        first_cell(ya - reach, grid.s0, grid.cell, rows), past_cell(yb + reach, grid.s0, grid.cell, rows)
    ):
        q = grid.s0 + (j + 0.5) * grid.cell - cy
        for i in range(a, b):
            if H[j, i] <= deepest:
                continue
            p = grid.x0 + (i + 0.5) * grid.cell - cx
            if level:
                if sign * (ax * q - ay * p) >= 0.0 and sign * (p * by - q * bx) >= 0.0:
                    d = abs(span(p, q) - rho)
                else:
                    d = min(span(p - ax, q - ay), span(p - bx, q - by))
                if d > reach:
                    continue
                n = np.float32(end[2] + rise(form, d, radius, tip, slope, grow))
            else:
                share = helix_share(p, q, begin, turn, rho, reach, end[2] < start[2])
                if share < 0.0:
                    continue
                n = np.float32(start[2] + (end[2] - start[2]) * share)
            if n < H[j, i]:
                if metal.first <= i < metal.past:
                    cut += metal_between(metal.tops, metal.bottoms, j, n, H[j, i])
                H[j, i] = n
                L[j, i] = k
    return cut


@inner
def cut_sweep(H, L, grid, metal, sweeps, k, tools, grow, points):
    """Cut one sweep into the map; returns the metal cut away, summed over the cells, mm. points: (2, 3) room for work."""
    t = sweeps.tool[k]
    start, end = sweeps.start[k], sweeps.end[k]
    level, radius = start[2] == end[2], tools.radius[t] + grow
    if sweeps.kind[k] == LINE:
        joined = sweeps.joined[k]
        if tools.form[t] == FLAT and start[0] == end[0] and start[1] == end[1] and not level:
            if end[2] > start[2]:
                end = start
            start, level, joined = end, True, False
        if tools.form[t] == FLAT and level:
            return cut_level_line(H, L, grid, metal, start, end, radius, joined, k)
        return cut_line(H, L, grid, metal, start, end, tools, t, grow, k)
    centre, turn = sweeps.centre[k], sweeps.turn[k]
    if tools.form[t] == FLAT and level:
        return cut_level_arc(H, L, grid, metal, start, end, centre, turn, radius, sweeps.joined[k], k)
    if tools.form[t] == FLAT or level:
        return cut_arc(H, L, grid, metal, sweeps, k, tools, grow)
    a, b, cut = points[0], points[1], 0.0
    put(a, start)
    chords = arc_chords(span(start[0] - centre[0], start[1] - centre[1]), turn)
    for i in range(chords):
        arc_point(start, end, centre, turn, (i + 1) / chords, b)
        cut += cut_line(H, L, grid, metal, a, b, tools, t, grow, k)
        put(a, b)
    return cut
