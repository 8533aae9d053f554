"""The paths of sweeps: places along them, and boxes that hold them."""

from __future__ import annotations

import math

from sparwright.proof.kernels.base import ARC, CHORD, inner, span


@inner
def put(out, point):
    """Copy a point (3,), number by number: whole-array assignment costs seconds to compile."""
    for i in range(3):
        out[i] = point[i]


@inner
def arc_chords(rho, turn):
    """Number of chords that keep within CHORD of an arc."""
    if rho <= CHORD:
        return 1
    return math.ceil(abs(turn) / (2.0 * math.acos(1.0 - CHORD / rho)))


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
        rho = span(ax, ay)
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
    size = span(dx, ds)
    if size <= 1e-9:
        return 0.0, 0.0
    return dx / size, ds / size
