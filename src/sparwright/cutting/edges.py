"""Edge breaks with a vee cutter: where its point may run, and the laps.

The cone's radius at height z above its tip is d_t/2 + z tan(beta), beta half the included angle, d_t the flat at
the tip. A chamfer of width w on the face, cut at a distance e from the wall, needs the tip at the depth
p = (e + w - d_t/2) / tan(beta); the chamfer is w / tan(beta) deep (plane geometry). All lengths mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparwright.cutting.model import Path
from sparwright.cutting.paths import NEAR, Rates, Trace
from sparwright.cutting.paths_outline import Outline, Segment, longest_straight
from sparwright.job.models import Cutter

BELOW = 0.25  # mm the tip stays under the chamfer's lower edge; at least 0.2 to 0.3
CLEAR = 0.2  # mm the cone stays off floors and the far edge
LAST = 0.05  # mm of width left for the last of several passes
WIDEST_PASS = 0.5  # mm of chamfer width to a pass; common practice, no source
OVERLAP = 0.75  # mm a lap runs past its start


class NoWindow(ValueError):
    """No distance from the wall lets this cutter break this edge; the message gives the figures."""


@dataclass(frozen=True)
class Rim:
    """An edge to break. width: of the chamfer on the face. across: of the narrowest part inside the edge.

    depth: of the floor below, infinite where there is none. fillet: least inside corner radius.
    """

    width: float
    across: float
    depth: float
    fillet: float


def half_tangent(cutter: Cutter) -> float:
    """tan of half the included angle of a vee cutter."""
    return math.tan(cutter.half_angle)


def tip_depth(cutter: Cutter, distance: float, width: float) -> float:
    """Depth p = (e + w - d_t/2)/tan(beta) of the tip that cuts `width` at `distance` from the wall."""
    return (distance + width - cutter.tip / 2) / half_tangent(cutter)


def window(cutter: Cutter, rim: Rim) -> tuple[float, float]:
    """Least and greatest distance e of the vee's axis from the wall.

    Least: the tip stays BELOW under the chamfer. Greatest: the cone clears the far edge and the floor, is as
    wide as the chamfer needs, cuts on its flutes, and follows the inside corners. Raises NoWindow, naming what
    closes it.
    """
    t = half_tangent(cutter)
    low = cutter.tip / 2 + BELOW * t
    limits = {
        f"the far edge, {rim.across:.2f} mm across": (rim.across - rim.width) / 2 - CLEAR,
        f"the floor {rim.depth:.2f} mm down": (rim.depth - CLEAR) * t + cutter.tip / 2 - rim.width,
        f"the cutter's diameter {cutter.diameter:g} mm": cutter.diameter / 2 - rim.width,
        f"its flutes, {cutter.flute_length:g} mm long": cutter.flute_length * t + cutter.tip / 2 - rim.width,
        f"the inside corners of {rim.fillet:.2f} mm": rim.fillet,
    }
    reason = min(limits, key=lambda k: limits[k])
    if limits[reason] < low - 1e-9:
        raise NoWindow(
            f"an edge break of {rim.width:g} mm needs the vee's axis at least {low:.2f} mm from the wall. "
            f"No more than {limits[reason]:.2f} mm is left by {reason}: make the edge break narrower or take a smaller vee cutter"
        )
    return low, limits[reason]


def pass_widths(width: float) -> tuple[float, ...]:
    """Chamfer widths after each pass: passes of equal area, w sqrt(k/n), the last taking LAST.

    One pass up to 0.15 mm of width.
    """
    if width <= 3 * LAST:
        return (width,)
    before = width - LAST
    n = max(1, math.ceil(before / WIDEST_PASS - 1e-9))
    return (*(before * math.sqrt(k / n) for k in range(1, n + 1)), width)


@dataclass(frozen=True)
class Break:
    """How an edge is broken: distance of the axis from the wall, and the tip's heights, highest first."""

    distance: float
    levels: tuple[float, ...]


def edge_break(cutter: Cutter, rim: Rim) -> Break:
    """The middle of the window, and a level for each pass. Raises NoWindow."""
    low, high = window(cutter, rim)
    e = (low + high) / 2
    return Break(e, tuple(-tip_depth(cutter, e, w) for w in pass_widths(rim.width)))


def plunge_break(cutter: Cutter, diameter: float, width: float) -> Break:
    """Both edges of a hole at once, straight down its middle: e = D/2. Raises NoWindow where the vee is too small."""
    e = diameter / 2
    wide, deep = e + width, tip_depth(cutter, e, width)
    if wide > cutter.diameter / 2 + 1e-9 or deep > cutter.flute_length + 1e-9:
        raise NoWindow(
            f"an edge break of {width:g} mm on a {diameter:g} mm hole is {2 * wide:.2f} mm across and needs the tip "
            f"{deep:.2f} mm down; the vee cutter is {cutter.diameter:g} mm with {cutter.flute_length:g} mm of flutes: make "
            "the edge break narrower or take a larger vee cutter"
        )
    return Break(e, (-deep,))


def rim_of(outline: Outline, width: float, depth: float) -> Rim:
    """The rim of a pocket; depth is infinite for a window."""
    _, inscribed = outline.inscribed
    return Rim(width, 2 * inscribed, depth, outline.radius)


def break_laps(outline: Outline, brk: Break, rates: Rates) -> Path:
    """Laps round an inside edge, counter-clockwise (climb), one a level, from clearance height and back.

    The cutter comes down and leaves on a quarter arc inside the edge, shrunk to what the outline has room for.
    """
    loop = outline.inset(brk.distance)
    i = longest_straight(loop)
    first, second = loop[i].split(0.5)
    run = [second, *loop[i + 1 :], *loop[:i], first]
    over, _ = second.split(min(1.0, OVERLAP / second.length))
    _, inscribed = outline.inscribed
    rho = min(1.0, 0.45 * (inscribed - brk.distance))
    return _laps(run, over, rho, brk, rates)


def chain_break(chain: tuple[Segment, ...], brk: Break, rates: Rates) -> Path:
    """Passes along an open edge whose chain, already at the break's distance, starts and ends off the metal."""
    trace = Trace(*chain[0].start, rates.clearance)
    for i, level in enumerate(brk.levels):
        if i:
            trace.lift(rates.clearance)
            trace.rapid(*chain[0].start, rates.clearance)
        trace.down(level, rates.quick)
        trace.follow(chain, rates.feed)
    trace.lift(rates.clearance)
    return trace.path()


def break_plunge(at: tuple[float, float], brk: Break, rates: Rates) -> Path:
    """Straight down at a hole's middle and up again."""
    trace = Trace(*at, rates.clearance)
    trace.down(NEAR, rates.quick)
    trace.down(brk.levels[-1], rates.plunge)
    trace.lift(rates.clearance)
    return trace.path()


def hole_break(
    cutter: Cutter, at: tuple[float, float], diameter: float, width: float, depth: float, rates: Rates
) -> Path:
    """The edge break of a hole: laps where the vee has room inside, else one plunge. Raises NoWindow."""
    try:
        brk = edge_break(cutter, Rim(width, diameter, depth, diameter / 2))
        return break_laps(Outline((), diameter / 2, at), brk, rates)
    except NoWindow:
        brk = plunge_break(cutter, diameter, width)
        if -brk.levels[-1] > depth - CLEAR:
            raise
        return break_plunge(at, brk, rates)


def _laps(run: list[Segment], over: Segment, rho: float, brk: Break, rates: Rates) -> Path:
    m, t0 = run[0].start, run[0].heading(0.0)
    end, t1 = over.end, over.heading(1.0)
    c0 = (m[0] - rho * t0[1], m[1] + rho * t0[0])
    c1 = (end[0] - rho * t1[1], end[1] + rho * t1[0])
    a = (c0[0] - rho * t0[0], c0[1] - rho * t0[1])
    b = (c1[0] + rho * t1[0], c1[1] + rho * t1[1])
    trace = Trace(*a, rates.clearance)
    for level in brk.levels:
        trace.down(min(NEAR, rates.clearance), rates.quick)
        trace.down(level, rates.plunge)
        trace.arc((*m, level), c0, rates.feed)
        trace.follow([*run, over], rates.feed)
        trace.arc((*b, level), c1, rates.feed)
        if level != brk.levels[-1]:
            trace.line(*a, level, rates.feed)
    trace.lift(rates.clearance)
    return trace.path()
