"""All compiled kernels of the cutting simulation, in one module so that one key guards them (see compiled.py).

A height map holds, for every cell over a face, how high the first metal stands: rows run along the member
(x), row j at s, cell i at x; `AIR` where there is none. A sweep is one move of a cutter: a straight line or an
arc of at most half a turn, level or rising or falling. Heights n are over the face, mm, negative in the metal.

Sweeps are cut in closed form: level lines and arcs of flat cutters as runs of cells along rows, everything
else by the lowest point of the moving cutter over each cell. No stepping along the path.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sparwright.compiled import kernel_compiler

kernel = kernel_compiler(__file__)
inner = kernel_compiler(__file__, inner=True)

LINE, ARC = 0, 1
FLAT, BALL, CONE = 0, 1, 2
AIR = np.float32(-1e6)
CHORD = 0.002  # greatest sag of the chords that stand for rising arcs of pointed and ball cutters, mm
RAYS = 64  # directions looked at over the leading half circle of a cutter
AHEAD = np.cos(np.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5))
ASIDE = np.sin(np.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5))


class Grid(NamedTuple):
    """Cells of a height map: left end of the first cell along x, along s, and the cell size, mm."""

    x0: float
    s0: float
    cell: float


class Sweeps(NamedTuple):
    """k moves of cutters. kind: LINE or ARC. tool: index into Tools. start, end: (k, 3) of (x, s, n).
    centre: (k, 2) of arcs. turn: (k,) signed angle of arcs, +counter-clockwise, at most pi. rapid: bool.
    joined: bool, the sweep before ended where this one starts, level, with the same cutter.
    """

    kind: np.ndarray
    tool: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    turn: np.ndarray
    rapid: np.ndarray
    joined: np.ndarray


class Tools(NamedTuple):
    """Cutters as stacked shapes, one entry each, mm. form: FLAT, BALL or CONE. radius: of the cutting part.
    tip: radius of a cone's flat point. slope: rise of a cone's flank over radius. flute: cutting length.
    shank: radius above the flutes. stick: tip to holder. holder: radius of the holder.
    """

    form: np.ndarray
    radius: np.ndarray
    tip: np.ndarray
    slope: np.ndarray
    flute: np.ndarray
    shank: np.ndarray
    stick: np.ndarray
    holder: np.ndarray


class Buckets(NamedTuple):
    """Sweeps by place: square buckets, `first[b]` to `first[b + 1]` index `sweep`. hull: (k, 4) of all sweeps, the
    middle (x, s) and radius of a disc that holds all it cuts, and how deep its tip goes.
    """

    x0: float
    s0: float
    size: float
    across: int
    first: np.ndarray
    sweep: np.ndarray
    hull: np.ndarray


# --- cutter shapes --------------------------------------------------------------------------------------


@inner
def rise(form, rho, radius, tip, slope, grow):
    """Height of the cutter's lower surface over its tip at distance rho, with the cutter grown by `grow`."""
    if form == FLAT:
        return 0.0
    d = rho - grow
    if form == BALL:
        d = max(d, 0.0)
        return radius - math.sqrt(max(radius * radius - d * d, 0.0))
    return slope * max(d - tip, 0.0)


@inner
def radius_at(tools, t, height):
    """Radius of cutter t, with its shank above the flutes, at a height over its tip."""
    if height > tools.flute[t]:
        return tools.shank[t]
    if tools.form[t] == FLAT:
        return tools.radius[t]
    if tools.form[t] == BALL:
        d = tools.radius[t] - min(height, tools.radius[t])
        return math.sqrt(tools.radius[t] ** 2 - d * d)
    return min(tools.tip[t] + height / tools.slope[t], tools.radius[t])


@inner
def line_low(form, u, v, length, n0, n1, radius, tip, slope, grow):
    """Lowest height of a cutter moved along a straight line over a point at u along it and v across it.

    Grown by `grow`; inf where the cutter does not pass over the point. The height is convex in the position
    along the line, so the lowest is at the stationary position clipped to the span that covers the point.
    """
    reach = radius + grow
    q = reach * reach - v * v
    if q < 0.0:
        return np.inf
    w = math.sqrt(q)
    low, high = max(0.0, u - w), min(length, u + w)
    if low > high:
        return np.inf
    if n0 == n1:
        t = min(max(u, low), high)
        return n0 + rise(form, math.hypot(t - u, v), radius, tip, slope, grow)
    g = (n1 - n0) / length
    down = high if g < 0.0 else low
    if form == FLAT:
        return n0 + g * down
    if form == CONE:
        ratio = abs(g) / slope
        if ratio >= 1.0:
            t = down
        else:
            off = abs(v) * ratio / math.sqrt(1.0 - ratio * ratio)
            flat = tip + grow
            if math.hypot(off, v) < flat:
                off = math.sqrt(flat * flat - v * v)
            t = u + off if g < 0.0 else u - off
    elif grow == 0.0:
        off = abs(g) * w / math.sqrt(1.0 + g * g)
        t = u + off if g < 0.0 else u - off
    else:
        a, b = low, high
        for _ in range(60):
            c, d = a + (b - a) / 3.0, b - (b - a) / 3.0
            fc = g * c + rise(form, math.hypot(c - u, v), radius, tip, slope, grow)
            fd = g * d + rise(form, math.hypot(d - u, v), radius, tip, slope, grow)
            if fc < fd:
                b = d
            else:
                a = c
        t = 0.5 * (a + b)
    t = min(max(t, low), high)
    return n0 + g * t + rise(form, math.hypot(t - u, v), radius, tip, slope, grow)


# --- runs of cells --------------------------------------------------------------------------------------


@inner
def first_cell(x, x0, cell, count):
    """Index of the first cell whose centre is at or past x, within 0..count."""
    return math.ceil(min(max((x - x0) / cell - 0.5, 0.0), float(count)))


@inner
def past_cell(x, x0, cell, count):
    """Index one past the last cell whose centre is at or before x, within 0..count."""
    return math.floor(min(max((x - x0) / cell - 0.5, -1.0), float(count - 1))) + 1


@inner
def lower_run(row, mark, a, b, n, k):
    """Lower the cells a..b of a row to n and mark those that changed with k."""
    r, m = row[a:b], mark[a:b]
    for i in range(r.size):
        old = r[i]
        lower = n < old
        r[i] = n if lower else old
        m[i] = k if lower else m[i]


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
    length = math.hypot(bx - ax, by - ay)
    if length > 0.0 and by != ay:
        ux, uy = (bx - ax) / length, (by - ay) / length
        for side in (-1.0, 1.0):
            t = (y - ay - side * radius * ux) / (by - ay)
            if 0.0 <= t <= 1.0:
                x = ax - side * radius * uy + t * (bx - ax)
                low, high = min(low, x), max(high, x)
    return low, high


# --- sweeps over the map --------------------------------------------------------------------------------


@inner
def cut_level_line(H, L, grid, start, end, radius, joined, k):
    """A flat cutter along a level line; with `joined` the disc at the start is known to be cut already."""
    ax, ay, bx, by = start[0], start[1], end[0], end[1]
    n = np.float32(end[2])
    rows, cols = H.shape
    j0 = first_cell(min(ay, by) - radius, grid.s0, grid.cell, rows)
    j1 = past_cell(max(ay, by) + radius, grid.s0, grid.cell, rows)
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        low, high = capsule_span(y, ax, ay, bx, by, radius)
        if low > high:
            continue
        a = first_cell(low, grid.x0, grid.cell, cols)
        b = past_cell(high, grid.x0, grid.cell, cols)
        if joined:
            dlow, dhigh = disc_span(y, ax, ay, radius)
            if dlow <= dhigh:
                c = first_cell(dlow, grid.x0, grid.cell, cols)
                d = past_cell(dhigh, grid.x0, grid.cell, cols)
                if c < d:
                    lower_run(H[j], L[j], a, c, n, k)
                    lower_run(H[j], L[j], d, b, n, k)
                    continue
        lower_run(H[j], L[j], a, b, n, k)


@inner
def cut_disc(H, L, grid, at, radius, k):
    """A flat cutter standing still at a place (x, s, n)."""
    n = np.float32(at[2])
    rows, cols = H.shape
    j0 = first_cell(at[1] - radius, grid.s0, grid.cell, rows)
    for j in range(j0, past_cell(at[1] + radius, grid.s0, grid.cell, rows)):
        low, high = disc_span(grid.s0 + (j + 0.5) * grid.cell, at[0], at[1], radius)
        if low <= high:
            a = first_cell(low, grid.x0, grid.cell, cols)
            b = past_cell(high, grid.x0, grid.cell, cols)
            lower_run(H[j], L[j], a, b, n, k)


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


@inner
def cut_level_arc(H, L, grid, start, end, centre, turn, radius, joined, k):
    """A flat cutter along a level arc of at most half a turn: ring sector by rows, and the end discs."""
    cx, cy = centre[0], centre[1]
    if turn > 0.0:
        ax, ay, bx, by = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    else:
        ax, ay, bx, by = end[0] - cx, end[1] - cy, start[0] - cx, start[1] - cy
    rho = math.hypot(ax, ay)
    outer, inner = rho + radius, max(rho - radius, 0.0)
    n = np.float32(end[2])
    rows, cols = H.shape
    if not joined:
        cut_disc(H, L, grid, start, radius, k)
    cut_disc(H, L, grid, end, radius, k)
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
            lower_run(H[j], L[j], a, b, n, k)
            continue
        w = math.sqrt(q)
        if low < -w:
            a = first_cell(low + cx, grid.x0, grid.cell, cols)
            b = past_cell(min(high, -w) + cx, grid.x0, grid.cell, cols)
            lower_run(H[j], L[j], a, b, n, k)
        if high > w:
            a = first_cell(max(low, w) + cx, grid.x0, grid.cell, cols)
            b = past_cell(high + cx, grid.x0, grid.cell, cols)
            lower_run(H[j], L[j], a, b, n, k)


@inner
def cut_line(H, L, grid, start, end, tools, t, grow, k):
    """Any cutter along any straight line, cell by cell; an upright line cuts where it is lowest."""
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    ax, ay, bx, by = start[0], start[1], end[0], end[1]
    length = math.hypot(bx - ax, by - ay)
    n0, n1 = start[2], end[2]
    ux, uy = 1.0, 0.0
    if length > 1e-9:
        ux, uy = (bx - ax) / length, (by - ay) / length
    else:
        n0 = n1 = min(n0, n1)
    reach = radius + grow
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
        row, mark = H[j, a:b], L[j, a:b]
        for i in range(row.size):
            x = grid.x0 + (a + i + 0.5) * grid.cell - ax
            u, v = x * ux + (y - ay) * uy, (y - ay) * ux - x * uy
            n = np.float32(line_low(form, u, v, length, n0, n1, radius, tip, slope, grow))
            if n < row[i]:
                row[i] = n
                mark[i] = k


@inner
def arc_chords(rho, turn):
    """Number of chords that keep within CHORD of an arc."""
    if rho <= CHORD:
        return 1
    return math.ceil(abs(turn) / (2.0 * math.acos(1.0 - CHORD / rho)))


@inner
def put(out, point):
    """Copy a point (3,), number by number: whole-array assignment costs seconds to compile."""
    for i in range(3):
        out[i] = point[i]


@inner
def arc_point(start, end, centre, turn, share, out):
    """The point at a share (0 to 1) of an arc, into out (3,)."""
    if share >= 1.0:
        put(out, end)
        return
    c, s = math.cos(turn * share), math.sin(turn * share)
    dx, dy = start[0] - centre[0], start[1] - centre[1]
    out[0] = centre[0] + dx * c - dy * s
    out[1] = centre[1] + dx * s + dy * c
    out[2] = start[2] + (end[2] - start[2]) * share


@inner
def sweep_box(sweeps, k):
    """Bounding box of the cutter's axis in (x, s) over sweep k: (x from, x to, s from, s to)."""
    start, end = sweeps.start[k], sweeps.end[k]
    xa, xb = min(start[0], end[0]), max(start[0], end[0])
    sa, sb = min(start[1], end[1]), max(start[1], end[1])
    if sweeps.kind[k] == ARC:
        cx, cy = sweeps.centre[k, 0], sweeps.centre[k, 1]
        ax, ay, turn = start[0] - cx, start[1] - cy, sweeps.turn[k]
        rho = math.hypot(ax, ay)
        begin = math.atan2(ay, ax)
        for quarter in range(4):
            way = (quarter * 0.5 * math.pi - begin) * (1.0 if turn > 0.0 else -1.0)
            if way % (2.0 * math.pi) <= abs(turn):
                x, y = (
                    cx + rho * math.cos(quarter * 0.5 * math.pi),
                    cy + rho * math.sin(quarter * 0.5 * math.pi),
                )
                xa, xb, sa, sb = min(xa, x), max(xb, x), min(sa, y), max(sb, y)
    return xa, xb, sa, sb


@inner
def helix_share(p, q, begin, turn, rho, reach, falling):
    """Share of a rising or falling arc at which a flat cutter over the point (p, q) is lowest; -1 where it never is.

    p, q: from the centre. The cutter covers the point while the cosine of the angle between them is at least
    (r^2 + rho^2 - reach^2) / (2 r rho).
    """
    r = math.hypot(p, q)
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
def cut_arc(H, L, grid, sweeps, k, tools, grow):
    """Arcs that are not level ones of flat cutters, cell by cell: level with any cutter, or rising with a flat one."""
    t = sweeps.tool[k]
    form, radius, tip, slope = tools.form[t], tools.radius[t], tools.tip[t], tools.slope[t]
    start, end, turn = sweeps.start[k], sweeps.end[k], sweeps.turn[k]
    cx, cy = sweeps.centre[k, 0], sweeps.centre[k, 1]
    ax, ay, bx, by = start[0] - cx, start[1] - cy, end[0] - cx, end[1] - cy
    rho, begin, reach = math.hypot(ax, ay), math.atan2(ay, ax), radius + grow
    level, sign = start[2] == end[2], 1.0 if turn > 0.0 else -1.0
    deepest = min(start[2], end[2])
    xa, xb, ya, yb = sweep_box(sweeps, k)
    rows, cols = H.shape
    a = first_cell(xa - reach, grid.x0, grid.cell, cols)
    b = past_cell(xb + reach, grid.x0, grid.cell, cols)
    for j in range(
        first_cell(ya - reach, grid.s0, grid.cell, rows), past_cell(yb + reach, grid.s0, grid.cell, rows)
    ):
        q = grid.s0 + (j + 0.5) * grid.cell - cy
        row, mark = H[j, a:b], L[j, a:b]
        for i in range(row.size):
            if row[i] <= deepest:
                continue
            p = grid.x0 + (a + i + 0.5) * grid.cell - cx
            if level:
                if sign * (ax * q - ay * p) >= 0.0 and sign * (p * by - q * bx) >= 0.0:
                    d = abs(math.hypot(p, q) - rho)
                else:
                    d = min(math.hypot(p - ax, q - ay), math.hypot(p - bx, q - by))
                if d > reach:
                    continue
                n = np.float32(end[2] + rise(form, d, radius, tip, slope, grow))
            else:
                share = helix_share(p, q, begin, turn, rho, reach, end[2] < start[2])
                if share < 0.0:
                    continue
                n = np.float32(start[2] + (end[2] - start[2]) * share)
            if n < row[i]:
                row[i] = n
                mark[i] = k


@inner
def cut_sweep(H, L, grid, sweeps, k, tools, grow, points):
    """Cut one sweep into the map. points: (2, 3) room for work."""
    t = sweeps.tool[k]
    start, end = sweeps.start[k], sweeps.end[k]
    level = start[2] == end[2]
    if sweeps.kind[k] == LINE:
        if tools.form[t] == FLAT and level:
            cut_level_line(H, L, grid, start, end, tools.radius[t] + grow, sweeps.joined[k], k)
        elif tools.form[t] == FLAT and start[0] == end[0] and start[1] == end[1]:
            cut_disc(H, L, grid, end if end[2] < start[2] else start, tools.radius[t] + grow, k)
        else:
            cut_line(H, L, grid, start, end, tools, t, grow, k)
        return
    centre, turn = sweeps.centre[k], sweeps.turn[k]
    if tools.form[t] == FLAT and level:
        cut_level_arc(H, L, grid, start, end, centre, turn, tools.radius[t] + grow, sweeps.joined[k], k)
        return
    if tools.form[t] == FLAT or level:
        cut_arc(H, L, grid, sweeps, k, tools, grow)
        return
    a, b = points[0], points[1]
    put(a, start)
    chords = arc_chords(math.hypot(start[0] - centre[0], start[1] - centre[1]), turn)
    for i in range(chords):
        arc_point(start, end, centre, turn, (i + 1) / chords, b)
        cut_line(H, L, grid, a, b, tools, t, grow, k)
        put(a, b)


@kernel
def cut_all(H, L, grid, sweeps, tools, grow, top):
    """Cut every sweep into the map H with cutters grown by `grow`; L keeps the sweep that cut each cell last.

    Sweeps that stay at or above `top` are in the air and passed over.
    """
    points = np.empty((2, 3))
    for k in range(sweeps.kind.size):
        if min(sweeps.start[k, 2], sweeps.end[k, 2]) < top:
            cut_sweep(H, L, grid, sweeps, k, tools, grow, points)


# --- looking at the metal a move meets ------------------------------------------------------------------


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
    length = math.hypot(bx - ax, by - ay)
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
def metal_between(tops, bottoms, low, high):
    """Length of metal between two heights in one row's intervals (tops and bottoms, outermost first)."""
    total = 0.0
    for m in range(tops.size):
        total += max(0.0, min(tops[m], high) - max(bottoms[m], low))
    return total


@inner
def meet(H, grid, tops, bottoms, x, s, n, dx, ds, radius, look):
    """What the leading half circle of a cutter meets: (greatest cosine to the direction of travel, depth).

    The cosine is that of a direction in which metal stands above `look`; the chip's thickness is the feed
    per tooth times it. A single direction without a neighbour is taken as cell noise. Depth is the greatest length
    of metal met above the tip at n.
    """
    best, deep, before = 0.0, 0.0, False
    ring = radius + 0.5 * grid.cell
    for r in range(RAYS):
        c, w = AHEAD[r], ASIDE[r]
        i = math.floor((x + ring * (dx * c - ds * w) - grid.x0) / grid.cell)
        j = math.floor((s + ring * (ds * c + dx * w) - grid.s0) / grid.cell)
        here = False
        if 0 <= j < H.shape[0] and 0 <= i < H.shape[1] and H[j, i] > look + 0.01:
            depth = metal_between(tops[j], bottoms[j], n, H[j, i])
            if depth > 0.01:
                here = True
                deep = max(deep, depth)
                if before:
                    best = max(best, min(c, AHEAD[r - 1]))
        before = here
    return best, deep


@inner
def travel(sweeps, k, share, here):
    """Where the tip is at a share of sweep k, into here (3,), and the level direction it goes; zero where upright."""
    start, end = sweeps.start[k], sweeps.end[k]
    if sweeps.kind[k] == ARC:
        centre, turn = sweeps.centre[k], sweeps.turn[k]
        arc_point(start, end, centre, turn, share, here)
        dx, ds = here[0] - centre[0], here[1] - centre[1]
        dx, ds = (-ds, dx) if turn > 0.0 else (ds, -dx)
    else:
        for i in range(3):
            here[i] = start[i] + (end[i] - start[i]) * share
        dx, ds = end[0] - start[0], end[1] - start[1]
    size = math.hypot(dx, ds)
    if size <= 1e-9:
        return 0.0, 0.0
    return dx / size, ds / size


@inner
def watch_sweep(H, grid, tops, bottoms, sweeps, k, tools, top, points, row, at):
    """Look at what sweep k meets before it is cut. Fills row: chip cosine, depth, rapid touch, plunge depth,
    shank touch, holder touch (see cut_watched); at: (x, s) of the worst touch.
    """
    t = sweeps.tool[k]
    start, end, turn, centre = sweeps.start[k], sweeps.end[k], sweeps.turn[k], sweeps.centre[k]
    if sweeps.rapid[k]:
        row[2], at[0], at[1] = touch_line(H, grid, start, end, tools, t, -0.5 * grid.cell)
        return
    here = points[0]
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    if sweeps.kind[k] == ARC:
        length = abs(turn) * math.hypot(start[0] - centre[0], start[1] - centre[1])
    elif length < 1e-9 and end[2] < start[2]:
        row[3], at[0], at[1] = touch_line(H, grid, start, end, tools, t, -0.5 * grid.cell)
    steps = math.ceil(min(max(length, 1.0), 2000.0))
    low = min(start[2], end[2])
    for i in range(steps):
        dx, ds = travel(sweeps, k, (i + 1) / steps, here)
        if dx != 0.0 or ds != 0.0:
            n = here[2]
            half = 0.5 * max(-n, 0.0) if tools.form[t] != FLAT else 0.0
            c, deep = meet(
                H, grid, tops, bottoms, here[0], here[1], n, dx, ds,
                radius_at(tools, t, half) if half > 0.0 else tools.radius[t], n + half,
            )  # fmt: skip
            row[0], row[1] = max(row[0], c), max(row[1], deep)
        if low + tools.flute[t] < top and tools.shank[t] > 0.0:
            up, x, s = touch_disc(H, grid, here[0], here[1], here[2] + tools.flute[t], tools.shank[t])
            if up > row[4]:
                row[4], at[0], at[1] = up, x, s
        if low + tools.stick[t] < top:
            up, x, s = touch_disc(H, grid, here[0], here[1], here[2] + tools.stick[t], tools.holder[t])
            if up > row[5]:
                row[5], at[0], at[1] = up, x, s


@kernel
def cut_watched(H, L, grid, tops, bottoms, sweeps, tools, top, seen, at):
    """Cut every sweep in order, looking first at what it meets.

    tops, bottoms: (rows, m) metal intervals of each row. seen: (k, 6), filled with the cosine that thins the
    chip, the depth of metal met, and how far metal stood into a rapid, under a plunge, into the shank and
    into the holder (mm, zero or less where it did not). at: (k, 2), where.
    """
    points = np.empty((2, 3))
    for k in range(sweeps.kind.size):
        if min(sweeps.start[k, 2], sweeps.end[k, 2]) < top:
            watch_sweep(H, grid, tops, bottoms, sweeps, k, tools, top, points, seen[k], at[k])
            cut_sweep(H, L, grid, sweeps, k, tools, 0.0, points)


# --- areas ----------------------------------------------------------------------------------------------


@kernel
def outline_runs(points, rings, grid, rows, cols):
    """Cells inside a polygon by the even-odd rule, as runs (m, 3) of row, first cell, one past the last.

    points: (p, 2) vertices of all rings, each closed; rings: (r + 1,) where each ring starts.
    """
    low, high = np.inf, -np.inf
    for i in range(points.shape[0]):
        low, high = min(low, points[i, 1]), max(high, points[i, 1])
    j0, j1 = first_cell(low, grid.s0, grid.cell, rows), past_cell(high, grid.s0, grid.cell, rows)
    runs = np.empty(((j1 - j0) * (points.shape[0] // 2 + 1), 3), np.int64)
    count = 0
    crossings = np.empty(points.shape[0])
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        c = 0
        for r in range(rings.size - 1):
            for i in range(rings[r], rings[r + 1] - 1):
                ya, yb = points[i, 1], points[i + 1, 1]
                if (ya <= y) != (yb <= y):
                    x = points[i, 0] + (y - ya) / (yb - ya) * (points[i + 1, 0] - points[i, 0])
                    at = c
                    while at > 0 and crossings[at - 1] > x:
                        crossings[at] = crossings[at - 1]
                        at -= 1
                    crossings[at] = x
                    c += 1
        for i in range(0, c - 1, 2):
            a = first_cell(crossings[i], grid.x0, grid.cell, cols)
            b = past_cell(crossings[i + 1], grid.x0, grid.cell, cols)
            if a < b:
                runs[count, 0], runs[count, 1], runs[count, 2] = j, a, b
                count += 1
    return runs[:count]


@kernel
def lower_runs(H, runs, n):
    """Lower the cells of the runs to n."""
    for r in range(runs.shape[0]):
        row = H[runs[r, 0], runs[r, 1] : runs[r, 2]]
        for i in range(row.size):
            row[i] = min(row[i], n)


@kernel
def run_figures(H, base, allowed, n, runs):
    """Figures of heights over `base` (rows,) in runs of cells, passing over cells allowed to go below n.

    Returns (9,): cells, cells lowered below -0.01, least, mean and greatest height, then row and cell of the
    least and of the greatest.
    """
    out = np.zeros(9)
    out[2], out[4] = np.inf, -np.inf
    for r in range(runs.shape[0]):
        j = runs[r, 0]
        for i in range(runs[r, 1], runs[r, 2]):
            if allowed[j, i] < n - 1e-4:
                continue
            height = H[j, i] - base[j]
            out[0] += 1.0
            if H[j, i] < -0.01:
                out[1] += 1.0
            out[3] += height
            if height < out[2]:
                out[2], out[5], out[6] = height, j, i
            if height > out[4]:
                out[4], out[7], out[8] = height, j, i
    if out[0] > 0.0:
        out[3] /= out[0]
    return out


@kernel
def metal_lost(upper, lower, tops, bottoms, limit):
    """Metal between two maps where `lower` is below `upper`: (volume over cell area, cells over limit).

    Returns the sum over all cells of the metal's length, mm, and a map of the length where it passes `limit`, else zero.
    """
    rows, cols = upper.shape
    over = np.zeros((rows, cols), np.float32)
    total = 0.0
    for j in range(rows):
        for i in range(cols):
            if lower[j, i] < upper[j, i]:
                lost = metal_between(tops[j], bottoms[j], lower[j, i], upper[j, i])
                total += lost
                if lost > limit:
                    over[j, i] = lost
    return total, over


# --- exact looks at single points -----------------------------------------------------------------------


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
            hull[k, 2], hull[k, 3] = 0.5 * math.hypot(xb - xa, sb - sa) + widest, low
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
        return math.hypot(px, py) - radius_at(tools, t, n - min(an, bn))
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
        return math.hypot(px - near * dx, py - near * dy) - radius_at(tools, t, n - (an + near * dn))
    a, b = t0, t1
    best = np.inf
    for _ in range(60):
        c, d = a + (b - a) / 3.0, b - (b - a) / 3.0
        gc = math.hypot(px - c * dx, py - c * dy) - radius_at(tools, t, n - (an + c * dn))
        gd = math.hypot(px - d * dx, py - d * dy) - radius_at(tools, t, n - (an + d * dn))
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
        return abs(math.hypot(px, py) - math.hypot(ax, ay)) - r
    return min(math.hypot(px - ax, py - ay), math.hypot(px - bx, py - by)) - r


@inner
def chorded_gap(tools, sweeps, k, x, s, n, points):
    """As line_gap, for sweep k, a rising arc of a pointed or ball cutter, by chords."""
    a, b, centre, turn = sweeps.start[k], sweeps.end[k], sweeps.centre[k], sweeps.turn[k]
    best = np.inf
    chords = arc_chords(math.hypot(a[0] - centre[0], a[1] - centre[1]), turn)
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
        length = math.hypot(end[0] - start[0], end[1] - start[1])
        if sweeps.kind[k] == ARC:
            length = abs(turn) * math.hypot(start[0] - centre[0], start[1] - centre[1])
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
