"""What a move meets in the map before it is cut."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import AHEAD, ARC, ASIDE, FLAT, RAYS, inner, span
from sparwright.proof.kernels.paths import travel
from sparwright.proof.kernels.runs import capsule_span, disc_span, first_cell, metal_between, past_cell
from sparwright.proof.kernels.shapes import line_low, radius_at


@inner
def touch_disc(H, grid, x, s, n, radius):
    """How far metal stands above n within a disc: (height, x, s); negative where nothing does."""
    worst, wx, ws = -np.inf, x, s
    rows, cols = H.shape
    for j in range(
        first_cell(s - radius, grid.s0, grid.cell, rows), past_cell(s + radius, grid.s0, grid.cell, rows)
    ):
        y = grid.s0 + (j + 0.5) * grid.cell
        low, high = disc_span(y, x, s, radius)
        if low > high:
            continue
        a = first_cell(low, grid.x0, grid.cell, cols)
        for i in range(a, past_cell(high, grid.x0, grid.cell, cols)):
            if H[j, i] - n > worst:
                worst, wx, ws = H[j, i] - n, grid.x0 + (i + 0.5) * grid.cell, y
    return worst, wx, ws


@inner
def touch_line(H, grid, start, end, tools, t, grow):
    """How far metal stands into the space a cutter sweeps along a line: (height, x, s)."""
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    ax, ay, bx, by = start[0], start[1], end[0], end[1]
    length = span(bx - ax, by - ay)
    n0, n1 = start[2], end[2]
    ux, uy = 1.0, 0.0
    if length > 1e-9:
        ux, uy = (bx - ax) / length, (by - ay) / length
    else:
        n0 = n1 = min(n0, n1)
    reach = radius + grow
    worst, wx, ws = -np.inf, bx, by
    rows, cols = H.shape
    j0 = first_cell(min(ay, by) - reach, grid.s0, grid.cell, rows)
    j1 = past_cell(max(ay, by) + reach, grid.s0, grid.cell, rows)
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        low, high = capsule_span(y, ax, ay, bx, by, reach)
        if low > high:
            continue
        a = first_cell(low, grid.x0, grid.cell, cols)
        for i in range(a, past_cell(high, grid.x0, grid.cell, cols)):
            x = grid.x0 + (i + 0.5) * grid.cell - ax
            u, v = x * ux + (y - ay) * uy, (y - ay) * ux - x * uy
            above = H[j, i] - line_low(form, u, v, length, n0, n1, radius, tip, slope, grow)
            if above > worst:
                worst, wx, ws = above, x + ax, y
    return worst, wx, ws


@inner
def meet(H, grid, metal, x, s, n, dx, ds, radius, look, weights):
    """What the leading half circle of a cutter meets, of metal that stands above `look`.

    Returns nine figures. The greatest cosine to the direction of travel (the chip's thickness is the feed per tooth
    times it) and the greatest length of metal above the tip at n, mm; a single direction without a neighbour is
    cell noise and counts in neither tooth nor cosine. Then, added up over the directions: the engaged angle,
    radians; the width met across the travel, mm; the area met across it, mm2; the pull, that is depth times
    `weights` over the angle, mm; the mean of it over the engaged directions; the greatest of it; and the
    mean sine of the engaged directions, positive where metal lies to the left of the travel.

    Places half a cell ahead of the rim are looked at, from the middle outward. Within 0.71 of a cell of the path's
    edge a cell may belong to the wall beside it, so there metal counts only where it reaches further in.
    """
    best, deep, tooth = 0.0, 0.0, 0.0
    count, wide, area, pull, lean = 0, 0.0, 0.0, 0.0, 0.0
    per_mm = 1.0 / grid.cell
    ring = radius * per_mm
    u, v = (x - grid.x0) * per_mm + 0.5 * dx, (s - grid.s0) * per_mm + 0.5 * ds
    rows, cols = H.shape
    fx, fs = ring * dx, ring * ds
    half = RAYS // 2
    middle, middle_part = False, 0.0
    for side in range(2):
        before, last = middle, middle_part
        for step in range(half):
            r = half + step if side == 0 else half - 1 - step
            c, w = AHEAD[r], ASIDE[r]
            p, q = u + fx * c - fs * w, v + fs * c + fx * w
            here, part = False, 0.0
            if p >= 0.0 and q >= 0.0 and p < cols and q < rows and (before or ring * (1.0 - abs(w)) >= 0.71):
                i, j = int(p), int(q)
                up = H[j, i]
                if up > look + 0.01:
                    depth = up - n
                    if n < metal.bottoms[j, 0] or up > metal.tops[j, 0]:
                        depth = metal_between(metal.tops, metal.bottoms, j, n, up)
                    if depth > 0.01:
                        here, part = True, depth * weights[r]
                        count += 1
                        wide += c
                        area += depth * c
                        pull += part
                        lean += w
                        deep = max(deep, depth)
                        if before:
                            best = max(best, c)
                            tooth = max(tooth, min(part, last))
            before, last = here, part
            if side == 0 and step == 0:
                middle, middle_part = here, part
    share, turn = 1.0 / max(count, 1), math.pi / RAYS
    return (
        best,
        deep,
        count * turn,
        wide * turn * radius,
        area * turn * radius,
        pull * turn,
        pull * share,
        tooth,
        lean * share,
    )


@inner
def watch_sweep(H, grid, metal, sweeps, k, tools, top, own, weights, points, row, at, met):
    """Look at what sweep k meets before it is cut, at places with x within own (from, to).

    Fills row (6,): chip cosine, depth, rapid touch, plunge depth, shank touch, holder touch (see cut_tile); at: (x, s)
    of the worst touch; met (10,): see cut_tile.
    """
    t = sweeps.tool[k]
    start, end, turn, centre = sweeps.start[k], sweeps.end[k], sweeps.turn[k], sweeps.centre[k]
    if sweeps.rapid[k]:
        row[2], at[0], at[1] = touch_line(H, grid, start, end, tools, t, -0.5 * grid.cell)
        return
    here = points[0]
    length = span(end[0] - start[0], end[1] - start[1])
    if sweeps.kind[k] == ARC:
        length = abs(turn) * span(start[0] - centre[0], start[1] - centre[1])
    elif length < 1e-9 and end[2] < start[2]:
        row[3], at[0], at[1] = touch_line(H, grid, start, end, tools, t, -0.5 * grid.cell)
    steps = math.ceil(min(max(length, 1.0), 2000.0))
    low = min(start[2], end[2])
    for i in range(steps):
        share = (i + 1) / steps
        travel(sweeps, k, share, here)
        if not own[0] <= here[0] < own[1]:
            continue
        # looks ahead go from a cell before, so that at the end they do not meet what the sweep never cuts
        dx, ds = travel(sweeps, k, max(share - grid.cell / max(length, grid.cell), 0.0), here)
        if dx != 0.0 or ds != 0.0:
            n = here[2]
            half = 0.5 * max(-n, 0.0) if tools.form[t] != FLAT else 0.0
            radius = radius_at(tools, t, half) if half > 0.0 else tools.radius[t]
            c, deep, angle, wide, area, pull, mean, tooth, lean = meet(
                H, grid, metal, here[0], here[1], n, dx, ds, radius, n + half, weights
            )
            row[0], row[1] = max(row[0], c), max(row[1], deep)
            met[0], met[1], met[2] = max(met[0], angle), max(met[1], wide), max(met[2], area)
            met[4], met[5] = max(met[4], mean), max(met[5], tooth)
            if pull > met[3]:
                met[3], met[6], met[7], met[8] = pull, lean, here[0], here[1]
        travel(sweeps, k, share, here)
        if low + tools.flute[t] < top and tools.shank[t] > 0.0:
            up, x, s = touch_disc(H, grid, here[0], here[1], here[2] + tools.flute[t], tools.shank[t])
            if up > row[4]:
                row[4], at[0], at[1] = up, x, s
        if low + tools.stick[t] < top:
            up, x, s = touch_disc(H, grid, here[0], here[1], here[2] + tools.stick[t], tools.holder[t])
            if up > row[5]:
                row[5], at[0], at[1] = up, x, s
