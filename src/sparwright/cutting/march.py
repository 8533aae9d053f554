"""The engagement-held march: compiled kernels that drive a cutter through metal on a distance grid.

The metal is a grid of m(x) = distance from x to the nearest place the cutter's centre has been, less the cutter's
radius: positive where metal stands, read between nodes by bilinear interpolation, so that the edge of the metal is
known to a small part of a cell. A march takes, step by step, the right-most heading that keeps the engaged angle
under its target and the centre inside its allowed region. All kernels live in this one module, so that the
compiler's file cache never pairs a new kernel with an old one.

Lengths in mm, angles in radians, arrays float64. Formulation: own; the engagement identity "area removed per unit
of travel = r(1 - cos(phi))" holds where the engaged arc ends square to the motion.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit

RING = 44
"""Points on the front half of the cutter at which the metal is read."""


class Grid(NamedTuple):
    """Values (rows along y, columns along x) at nodes x0 + i*step, y0 + j*step."""

    values: np.ndarray
    x0: float
    y0: float
    step: float


class Rules(NamedTuple):
    """What a march keeps: radius; target, greatest angle where none keeps the target, and least that
    counts as cutting; step, turn limits;
    travel without cutting that ends a pass, and that may precede one."""

    radius: float
    target: float
    most: float
    least: float
    step: float
    right: float
    left: float
    air: float
    approach: float


@njit(cache=True, inline="always")
def _read(grid, x, y):
    """Bilinear reading; points beyond the edge take the edge's value."""
    rows, cols = grid.values.shape
    u = min(max((x - grid.x0) / grid.step, 0.0), cols - 1.000001)
    v = min(max((y - grid.y0) / grid.step, 0.0), rows - 1.000001)
    i, j = int(u), int(v)
    a, b = u - i, v - j
    f = grid.values
    low = f[j, i] * (1.0 - a) + f[j, i + 1] * a
    high = f[j + 1, i] * (1.0 - a) + f[j + 1, i + 1] * a
    return low * (1.0 - b) + high * b


@njit(cache=True)
def signed_distance(x, y, edges):
    """Distance from (x, y) to the edges (k, 4) of a polygon, positive inside (even-odd rule)."""
    best = 1e300
    inside = False
    for k in range(edges.shape[0]):
        ax, ay, bx, by = edges[k, 0], edges[k, 1], edges[k, 2], edges[k, 3]
        dx, dy = bx - ax, by - ay
        px, py = x - ax, y - ay
        t = (px * dx + py * dy) / (dx * dx + dy * dy)
        t = min(max(t, 0.0), 1.0)
        ex, ey = px - t * dx, py - t * dy
        best = min(best, ex * ex + ey * ey)
        if (ay > y) != (by > y) and px < dx * py / dy:
            inside = not inside
    return np.sqrt(best) if inside else -np.sqrt(best)


@njit(cache=True)
def _row_insides(y, edges, x0, step, inside, mark):
    """Write `mark` to the nodes of one row that lie inside the polygon (even-odd rule)."""
    n = 0
    hits = np.empty(edges.shape[0])
    for k in range(edges.shape[0]):
        ay, by = edges[k, 1], edges[k, 3]
        if (ay > y) != (by > y):
            hits[n] = edges[k, 0] + (y - ay) / (by - ay) * (edges[k, 2] - edges[k, 0])
            n += 1
    hits = np.sort(hits[:n])
    for m in range(0, n - 1, 2):
        first = max(int(np.ceil((hits[m] - x0) / step)), 0)
        last = min(int(np.floor((hits[m + 1] - x0) / step)), inside.shape[0] - 1)
        inside[first : last + 1] = mark


@njit(cache=True)
def _edge_distance2(x, y, edges, k):
    ax, ay = edges[k, 0], edges[k, 1]
    dx, dy = edges[k, 2] - ax, edges[k, 3] - ay
    px, py = x - ax, y - ay
    t = min(max((px * dx + py * dy) / (dx * dx + dy * dy), 0.0), 1.0)
    ex, ey = px - t * dx, py - t * dy
    return ex * ex + ey * ey


@njit(cache=True)
def distance_grid(grid, edges):
    """Fill a grid with the signed distance to a polygon's edges, positive inside.

    Block by block: only edges that can be nearest to a place in the block are looked at.
    """
    rows, cols = grid.values.shape
    block = 8
    count = edges.shape[0]
    near, far = np.empty(count, np.int64), np.empty(count)
    half = 0.5 * (block - 1) * grid.step
    for j0 in range(0, rows, block):
        for i0 in range(0, cols, block):
            x, y = grid.x0 + i0 * grid.step + half, grid.y0 + j0 * grid.step + half
            best = 1e300
            for k in range(count):
                far[k] = np.sqrt(_edge_distance2(x, y, edges, k))
                best = min(best, far[k])
            n = 0
            for k in range(count):
                if far[k] <= best + 2.0 * np.sqrt(2.0) * half + 1e-9:
                    near[n] = k
                    n += 1
            for j in range(j0, min(j0 + block, rows)):
                for i in range(i0, min(i0 + block, cols)):
                    d2 = 1e300
                    for m in range(n):
                        d2 = min(
                            d2,
                            _edge_distance2(grid.x0 + i * grid.step, grid.y0 + j * grid.step, edges, near[m]),
                        )
                    grid.values[j, i] = np.sqrt(d2)
    inside = np.empty(cols, np.bool_)
    for j in range(rows):
        inside[:] = False
        _row_insides(grid.y0 + j * grid.step, edges, grid.x0, grid.step, inside, True)
        for i in range(cols):
            if not inside[i]:
                grid.values[j, i] = -grid.values[j, i]


@njit(cache=True)
def _inside(room, edges, x, y):
    """Whether the centre may be here: by the grid where that is plain, exactly near the border."""
    near = _read(room, x, y)
    if near > room.step:
        return True
    if near < -room.step:
        return False
    return signed_distance(x, y, edges) >= -1e-6


@njit(cache=True)
def stamp(metal, x, y, radius, band):
    """Take the cutter's disc at (x, y) out of the metal.

    Only nodes within `band` inside the rim are written: enough where the disc a step before is out already.
    """
    rows, cols = metal.values.shape
    h = metal.step
    reach = radius + 1.5 * h
    core = max(radius - band, 0.0)
    j0 = max(int(np.ceil((y - reach - metal.y0) / h)), 0)
    j1 = min(int((y + reach - metal.y0) / h), rows - 1)
    for j in range(j0, j1 + 1):
        dy = metal.y0 + j * h - y
        half = reach * reach - dy * dy
        if half <= 0.0:
            continue
        half = np.sqrt(half)
        i0 = max(int(np.ceil((x - half - metal.x0) / h)), 0)
        i1 = min(int((x + half - metal.x0) / h), cols - 1)
        hollow = core * core - dy * dy
        skip0, skip1 = i1 + 1, i1 + 1
        if hollow > 0.0:
            hollow = np.sqrt(hollow)
            skip0 = max(int(np.ceil((x - hollow - metal.x0) / h)), i0)
            skip1 = max(int((x + hollow - metal.x0) / h) + 1, skip0)
        i = i0
        while i <= i1:
            if i == skip0 and skip1 > skip0:
                i = skip1
                continue
            dx = metal.x0 + i * h - x
            d = np.sqrt(dx * dx + dy * dy) - radius
            if d < metal.values[j, i]:
                metal.values[j, i] = d
            i += 1


@njit(cache=True)
def engaged(metal, x, y, heading, radius, film, enough):
    """Total angle of the cutter's front half that stands in metal thicker than `film`; stops counting past `enough`."""
    turn = np.pi / RING
    c, s = np.cos(heading - np.pi / 2), np.sin(heading - np.pi / 2)
    ct, st = np.cos(turn), np.sin(turn)
    before = _read(metal, x + radius * c, y + radius * s) - film
    total = 0.0
    for _ in range(RING):
        c, s = c * ct - s * st, s * ct + c * st
        now = _read(metal, x + radius * c, y + radius * s) - film
        if now > 0.0:
            total += turn if before > 0.0 else turn * now / (now - before)
            if total > enough:
                break
        elif before > 0.0:
            total += turn * before / (before - now)
        before = now
    return total


@njit(cache=True)
def _allowed(metal, room, edges, rules, limit, x, y, heading):
    nx, ny = x + rules.step * np.cos(heading), y + rules.step * np.sin(heading)
    if not _inside(room, edges, nx, ny):
        return False
    return engaged(metal, nx, ny, heading, rules.radius, 0.02 * rules.step, limit) <= limit


@njit(cache=True)
def _between(metal, room, edges, rules, x, y, low, high, times):
    """By halving, the border between a heading not allowed and one allowed to its left."""
    for _ in range(times):
        middle = 0.5 * (low + high)
        if _allowed(metal, room, edges, rules, rules.target, x, y, middle):
            high = middle
        else:
            low = middle
    return high


@njit(cache=True)
def _heading(metal, room, edges, rules, x, y, heading, turn):
    """The right-most heading that keeps the rules, and whether there is one; looks near the last turn first."""
    close = 0.03
    guess = heading + min(max(turn, close - rules.right), rules.left - close)
    if _allowed(metal, room, edges, rules, rules.target, x, y, guess):
        if not _allowed(metal, room, edges, rules, rules.target, x, y, guess - close):
            return _between(metal, room, edges, rules, x, y, guess - close, guess, 5), True
    elif _allowed(metal, room, edges, rules, rules.target, x, y, guess + close):
        return _between(metal, room, edges, rules, x, y, guess, guess + close, 5), True
    low = heading - rules.right
    if _allowed(metal, room, edges, rules, rules.target, x, y, low):
        return low, True
    width = rules.right + rules.left
    parts = 10
    for k in range(1, parts + 1):
        high = heading - rules.right + width * k / parts
        if _allowed(metal, room, edges, rules, rules.target, x, y, high):
            return _between(metal, room, edges, rules, x, y, low, high, 6), True
        low = high
    for k in range(parts, -1, -1):
        high = heading - rules.right + width * k / parts
        if rules.most > rules.target and _allowed(metal, room, edges, rules, rules.most, x, y, high):
            return high, True
    return heading, False


@njit(cache=True)
def march(metal, room, edges, rules, start, out):
    """March from start (x, y, heading) until nothing has been cut for a while or no heading is allowed.

    out: (n, 4) array filled with x, y, heading, engaged angle, one row a step, the start first. The metal is cut.
    Returns the number of rows used, the first and the last row that cut (both 0 where none did), the area removed, and
    whether no heading was left.
    """
    x, y, heading = start[0], start[1], start[2]
    out[0, 0], out[0, 1], out[0, 2], out[0, 3] = x, y, heading, 0.0
    first, last, n, area, turn = 0, 0, 1, 0.0, 0.0
    band = 2.5 * metal.step + rules.step
    while n < out.shape[0]:
        idle = (n - last) * rules.step
        if idle > (rules.air if first > 0 else rules.approach):
            break
        ahead, found = _heading(metal, room, edges, rules, x, y, heading, turn)
        if not found:
            return n, first, last, area, True
        heading, turn = ahead, ahead - heading
        x += rules.step * np.cos(heading)
        y += rules.step * np.sin(heading)
        angle = engaged(metal, x, y, heading, rules.radius, 0.02 * rules.step, 9.0)
        stamp(metal, x, y, rules.radius, band)
        out[n, 0], out[n, 1], out[n, 2], out[n, 3] = x, y, heading, angle
        if angle > rules.least:
            last = n
            if first == 0:
                first = n
            area += rules.radius * (1.0 - np.cos(angle)) * rules.step
        n += 1
    return n, first, last, area, False


@njit(cache=True)
def close_starts(metal, room, places, active, radius, probe):
    """Clear the active flag of places (n, 3: x, y, heading) that no longer have reachable metal just right of them."""
    for k in range(places.shape[0]):
        if not active[k]:
            continue
        px = places[k, 0] + (radius + probe) * np.sin(places[k, 2])
        py = places[k, 1] - (radius + probe) * np.cos(places[k, 2])
        active[k] = _read(metal, px, py) > 0.5 * probe and _read(room, px, py) > -radius + 0.25 * probe


@njit(cache=True)
def backed_up(room, places, run, first, most, little, near):
    """Index at or before `first`, on its run, at which the run last was within `near` of the wall.

    At most `most` places back; where there is none, `little` places back or the run's start.
    """
    k = first
    while _read(room, places[k, 0], places[k, 1]) >= near:
        if k == 0 or run[k - 1] != run[first] or first - k >= most:
            return max(k, first - little)
        k -= 1
    return k


@njit(cache=True)
def _rim_is_clear(metal, x, y, radius):
    turn = 2.0 * np.pi / (2 * RING)
    c, s, ct, st = 1.0, 0.0, np.cos(turn), np.sin(turn)
    for _ in range(2 * RING):
        if _read(metal, x + (radius - 0.01) * c, y + (radius - 0.01) * s) > 0.004:
            return False
        c, s = c * ct - s * st, s * ct + c * st
    return True


@njit(cache=True)
def way_is_clear(metal, room, ax, ay, bx, by, radius):
    """Whether the cutter can go straight from a to b without touching metal or leaving its allowed region.

    The rim is read at places half a cell apart, and no node under the cutter may hold metal.
    """
    dx, dy = bx - ax, by - ay
    length = np.sqrt(dx * dx + dy * dy)
    parts = int(length / (0.5 * metal.step)) + 1
    for k in range(parts + 1):
        x, y = ax + dx * k / parts, ay + dy * k / parts
        if _read(room, x, y) < -0.1 * metal.step or not _rim_is_clear(metal, x, y, radius):
            return False
    rows, cols = metal.values.shape
    reach = radius - 0.01
    j0 = max(int((min(ay, by) - reach - metal.y0) / metal.step), 0)
    j1 = min(int((max(ay, by) + reach - metal.y0) / metal.step) + 1, rows - 1)
    squared = max(dx * dx + dy * dy, 1e-12)
    for j in range(j0, j1 + 1):
        py = metal.y0 + j * metal.step - ay
        i0 = max(int((min(ax, bx) - reach - metal.x0) / metal.step), 0)
        i1 = min(int((max(ax, bx) + reach - metal.x0) / metal.step) + 1, cols - 1)
        for i in range(i0, i1 + 1):
            if metal.values[j, i] <= 0.004:
                continue
            px = metal.x0 + i * metal.step - ax
            t = min(max((px * dx + py * dy) / squared, 0.0), 1.0)
            ex, ey = px - t * dx, py - t * dy
            if ex * ex + ey * ey < reach * reach:
                return False
    return True


@njit(cache=True)
def metal_area(metal, room, least, most):
    """Area of metal at places whose reading of `room` lies between least and most, mm2."""
    rows, cols = metal.values.shape
    count = 0.0
    for j in range(rows):
        for i in range(cols):
            if least < room.values[j, i] < most:
                share = metal.values[j, i] / metal.step + 0.5
                count += min(max(share, 0.0), 1.0)
    return count * metal.step * metal.step


@njit(cache=True)
def rerun(metal, places, radius, film, out):
    """Cut along places (n, 3: x, y, heading) and write the engaged angle of each to out (n,)."""
    for k in range(places.shape[0]):
        out[k] = engaged(metal, places[k, 0], places[k, 1], places[k, 2], radius, film, 9.0)
        stamp(metal, places[k, 0], places[k, 1], radius, 4.0 * metal.step)


@njit(cache=True)
def fill(image, edges, value):
    """Write value to the nodes of a fine grid of bytes that lie inside a polygon given by its edges (k, 4)."""
    for j in range(image.values.shape[0]):
        _row_insides(image.y0 + j * image.step, edges, image.x0, image.step, image.values[j], value)


@njit(cache=True)
def _span(image, x, half2):
    """First and last node of a row within sqrt(half2) of x; empty (1, 0) where half2 is negative."""
    if half2 < 0.0:
        return 1, 0
    half = np.sqrt(half2)
    first = max(int(np.ceil((x - half - image.x0) / image.step)), 0)
    last = min(int(np.floor((x + half - image.x0) / image.step)), image.values.shape[1] - 1)
    return first, last


@njit(cache=True)
def carve(image, places, radius):
    """Write 0 to all nodes of a fine grid the cutter covers at places (n, 2 or more: x, y)."""
    rows = image.values.shape[0]
    for k in range(places.shape[0]):
        x, y = places[k, 0], places[k, 1]
        j0 = max(int(np.ceil((y - radius - image.y0) / image.step)), 0)
        j1 = min(int((y + radius - image.y0) / image.step), rows - 1)
        for j in range(j0, j1 + 1):
            yj = image.y0 + j * image.step
            first, last = _span(image, x, radius * radius - (yj - y) ** 2)
            if k > 0:
                dy = yj - places[k - 1, 1]
                was0, was1 = _span(image, places[k - 1, 0], radius * radius - dy * dy)
                if was0 <= was1:
                    image.values[j, first : min(last + 1, was0)] = 0
                    first = max(first, was1 + 1)
            if first <= last:
                image.values[j, first : last + 1] = 0


@njit(cache=True)
def crosses(image, ax, ay, bx, by, radius):
    """Whether a disc going straight from a to b covers a node of the fine grid that is not 0."""
    rows, cols = image.values.shape
    dx, dy = bx - ax, by - ay
    squared = max(dx * dx + dy * dy, 1e-12)
    j0 = max(int(np.ceil((min(ay, by) - radius - image.y0) / image.step)), 0)
    j1 = min(int((max(ay, by) + radius - image.y0) / image.step), rows - 1)
    i0 = max(int(np.ceil((min(ax, bx) - radius - image.x0) / image.step)), 0)
    i1 = min(int((max(ax, bx) + radius - image.x0) / image.step), cols - 1)
    for j in range(j0, j1 + 1):
        py = image.y0 + j * image.step - ay
        for i in range(i0, i1 + 1):
            if image.values[j, i] == 0:
                continue
            px = image.x0 + i * image.step - ax
            t = min(max((px * dx + py * dy) / squared, 0.0), 1.0)
            ex, ey = px - t * dx, py - t * dy
            if ex * ex + ey * ey < radius * radius:
                return True
    return False
