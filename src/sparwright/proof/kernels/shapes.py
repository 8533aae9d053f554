"""Cutters as shapes: how high their lower surface stands, and how wide they are at a height."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import BALL, CONE, FLAT, inner, span


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
        return n0 + rise(form, span(t - u, v), radius, tip, slope, grow)
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
            if span(off, v) < flat:
                off = math.sqrt(flat * flat - v * v)
            t = u + off if g < 0.0 else u - off
    elif grow == 0.0:
        off = abs(g) * w / math.sqrt(1.0 + g * g)
        t = u + off if g < 0.0 else u - off
    else:
        a, b = low, high
        for _ in range(60):
            c, d = a + (b - a) / 3.0, b - (b - a) / 3.0
            fc = g * c + rise(form, span(c - u, v), radius, tip, slope, grow)
            fd = g * d + rise(form, span(d - u, v), radius, tip, slope, grow)
            if fc < fd:
                b = d
            else:
                a = c
        t = 0.5 * (a + b)
    t = min(max(t, low), high)
    return n0 + g * t + rise(form, span(t - u, v), radius, tip, slope, grow)
