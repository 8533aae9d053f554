"""Holes: drilled where a drill of their size is listed, else bored down a helix by a flat cutter. Lengths mm."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sparwright.cutting.entry import helix_moves
from sparwright.cutting.feeds import Feed, Limits, feed_for, power_at, specific_force, spindle_speed
from sparwright.cutting.model import Path
from sparwright.cutting.paths import NEAR, Rates, Trace, ramp_pitch
from sparwright.job.models import Bed, Cutter, Material
from sparwright.stock.model import Face, Hole, Section
from sparwright.stock.section import metal_below

DRILL_MATCH = 0.05  # a drill within this of the wanted diameter will do
FINISH_STOCK = 0.1  # left by the helix for the finishing lap
NOSE_GAP = 1.0  # the collet nut stays this far off the face
MOST_PUSH = 0.015  # mean push off the wall on the finishing lap
LEAST_ROOM = 1.2  # hole over cutter diameter for a helix
NECK = 0.05  # a shank this much thinner than the hole goes in behind the flutes
STEP_SHARE = 0.5  # width of a further ring over the cutter's diameter
SPOT_SHARE = 0.5  # width of a spot over the drill's diameter; common practice, no source
PECK = 1.0  # depth between retracts over the drill's diameter, in aluminium; common practice, no source


class OutOfReach(ValueError):
    """No listed cutter can make this hole; the message says what would."""


@dataclass(frozen=True)
class Bore:
    """How a round recess is made by one cutter.

    diameter: finished. spans: (top, bottom) heights of the metal to cut, outermost first, the bottoms as far as the
    tip goes. rings: radii of the centre's helices, smallest first; last: radius of the finishing lap.
    """

    cutter: Cutter
    diameter: float
    spans: tuple[tuple[float, float], ...]
    rings: tuple[float, ...]
    last: float

    @property
    def depth(self) -> float:
        """How deep the tip goes below the face."""
        return -self.spans[-1][1]


@dataclass(frozen=True)
class Drilling:
    """A hole made by a drill: heights as for Bore; the tip goes deeper by its point where it goes through."""

    cutter: Cutter
    diameter: float
    spans: tuple[tuple[float, float], ...]

    @property
    def depth(self) -> float:
        """How deep the tip goes below the face."""
        return -self.spans[-1][1]


def metal_spans(
    section: Section, face: Face, hole: Hole, break_through: float
) -> tuple[tuple[float, float], ...]:
    """Heights (top, bottom) of the metal a hole's cutter meets, outermost first.

    Blind holes end at their depth; others go `break_through` past each wall. "all" takes every wall under the
    whole width of the hole.
    """
    if hole.through == "blind":
        return ((0.0, -hole.depth),)
    if hole.through == "wall":
        return ((0.0, -hole.depth - break_through),)
    rim = hole.diameter / 2
    met: list[list[float]] = []
    each = [metal_below(section, face, hole.at[1] + rim * k / 2) for k in (-2, -1, 0, 1, 2)]
    for top, bottom in sorted((s for spans in each for s in spans), reverse=True):
        if met and top >= met[-1][1] - 2 * break_through:
            met[-1][1] = min(met[-1][1], bottom)
        else:
            met.append([top, bottom])
    return tuple((top, bottom - break_through) for top, bottom in met)


def what_stops(cutter: Cutter, diameter: float, spans: Sequence[tuple[float, float]]) -> str:
    """Why this cutter cannot cut these spans in a hole of `diameter`, "" where it can."""
    depth, thick = -spans[-1][1], max(top - bottom for top, bottom in spans)
    if thick > cutter.flute_length + 1e-9:
        return f"{cutter.name} has {cutter.flute_length:g} mm of flutes for {thick:.1f} mm of metal"
    if depth > cutter.stick_out - NOSE_GAP + 1e-9:
        return (
            f"{cutter.name} sticks out {cutter.stick_out:g} mm, and the hole takes {depth + NOSE_GAP:.1f} mm"
        )
    spare = diameter if cutter.kind == "drill" else cutter.diameter
    if depth > cutter.flute_length + 1e-9 and cutter.shank > spare - NECK + 1e-9:
        return (
            f"{cutter.name} has a shank of {cutter.shank:g} mm that does not follow its flutes into the hole"
        )
    return ""


def plan_hole(
    diameter: float,
    spans: tuple[tuple[float, float], ...],
    cutters: Sequence[Cutter],
    pilot: float = 0.0,
    by_milling: bool = True,
) -> Bore | Drilling:
    """A drill of that size if one is listed, else the largest flat cutter that leaves no core.

    pilot: diameter of a hole already there (0 for none). Raises OutOfReach with what stands in the way.
    """
    reasons = []
    for drill in sorted((c for c in cutters if c.kind == "drill"), key=lambda c: abs(c.diameter - diameter)):
        if abs(drill.diameter - diameter) <= DRILL_MATCH and not pilot:
            stop = what_stops(drill, diameter, spans)
            if not stop:
                return Drilling(drill, diameter, spans)
            reasons.append(stop)
    flats = (
        [c for c in cutters if c.kind == "flat" and diameter >= LEAST_ROOM * c.diameter] if by_milling else []
    )
    able = []
    for cutter in sorted(flats, key=lambda c: -c.diameter):
        stop = what_stops(cutter, diameter, spans)
        if stop:
            reasons.append(stop)
        else:
            able.append(cutter)
    if not able:
        why = "; ".join(reasons) if reasons else "no drill of that size and no smaller flat cutter is listed"
        raise OutOfReach(
            f"a hole of {diameter:g} mm goes {-spans[-1][1]:.1f} mm below the face: {why}. List a drill of {diameter:g} mm or a flat "
            f"cutter up to {diameter / LEAST_ROOM:.1f} mm that reaches, or drill it by hand"
        )
    rough = (diameter - able[0].diameter) / 2 - FINISH_STOCK
    last = (diameter - able[0].diameter) / 2
    return Bore(able[0], diameter, spans, _rings(able[0], max(rough, 0.5 * last), pilot), last)


def _rings(cutter: Cutter, outer: float, pilot: float) -> tuple[float, ...]:
    """Radii of the helices out to `outer`: the first leaves no core, the others widen by STEP_SHARE of the cutter."""
    radius = cutter.diameter / 2
    first = min(outer, max(radius, pilot / 2 + radius) * 0.98)
    count = math.ceil((outer - first) / (STEP_SHARE * cutter.diameter) - 1e-9)
    return tuple(first + (outer - first) * i / count for i in range(count + 1)) if count else (outer,)


def helix_pitch(cutter: Cutter, radius: float, depth_share: float) -> float:
    """Fall in a turn: the ramp angle's, at most `depth_share` of the cutter's diameter."""
    return min(ramp_pitch(radius), depth_share * cutter.diameter)


def bore_path(
    at: tuple[float, float], bore: Bore, rates: Rates, finish_feed: float, depth_share: float
) -> Path:
    """Helices ring by ring down each span, then one lap at full diameter and depth, entered and left on half circles.

    rates.feed and finish_feed are the rim's, mm/min; the centre moves at feed x centre radius / (centre radius
    + cutter radius), so that the outermost point moves at the feed.
    """
    r = bore.cutter.diameter / 2
    x, s = at
    trace = Trace(x, s, rates.clearance)
    for top, bottom in bore.spans:
        height = min(rates.clearance, top + NEAR)
        for rho in bore.rings:
            if trace.here[2] < height:
                trace.lift(height)
            trace.down(height, rates.quick)
            trace.line(x + rho, s, height, rates.quick)
            pitch = helix_pitch(bore.cutter, rho, depth_share)
            trace.extend(helix_moves(at, rho, height, bottom, pitch, rates.feed * rho / (rho + r)))
        _finish_lap(trace, at, bore.last, bottom, finish_feed * bore.last / (bore.last + r))
    trace.lift(rates.clearance)
    return trace.path()


def _finish_lap(trace: Trace, at: tuple[float, float], rho: float, bottom: float, feed: float) -> None:
    """From wherever the last ring ended to the middle, half circle out, one full turn and a little, half circle in."""
    x, s = at
    trace.line(x, s, bottom, feed)
    trace.arc((x + rho, s, bottom), (x + rho / 2, s), feed)
    trace.arc((x - rho, s, bottom), at, feed)
    trace.arc((x + rho, s, bottom), at, feed)
    over = min(0.75 / rho, 0.5)
    out = (x + rho * math.cos(over), s + rho * math.sin(over))
    trace.arc((*out, bottom), at, feed)
    trace.arc((x, s, bottom), ((x + out[0]) / 2, (s + out[1]) / 2), feed)


def point_length(drill: Cutter) -> float:
    """Height of a drill's point, mm."""
    return drill.diameter / 2 / math.tan(drill.half_angle)


def drill_path(at: tuple[float, float], drilling: Drilling, through: bool, rates: Rates) -> Path:
    """Straight down in pecks, out over the face between them; past the far side by the drill's point."""
    trace = Trace(*at, rates.clearance)
    peck = PECK * drilling.cutter.diameter
    for top, bottom in drilling.spans:
        end = bottom - (point_length(drilling.cutter) if through else 0.0)
        count = max(1, math.ceil((top - end) / peck - 1e-9))
        for i in range(count):
            trace.down(min(rates.clearance, top - (top - end) * i / count + NEAR), rates.quick)
            trace.down(top - (top - end) * (i + 1) / count, rates.feed)
            trace.lift(rates.clearance)
    return trace.path()


def drill_feed(drill: Cutter, material: Material, bed: Bed, thrust: float) -> Feed:
    """Feed of a drill: its chip load, lowered until the thrust is within `thrust` N and the power lasts.

    Thrust 0.5 kc (D/2) f sin(kappa), torque kc D² f / 8000 with h = f_z sin(kappa), kappa half the point angle
    (catalogue forms, from memory).
    """
    rpm = spindle_speed(drill, bed)
    kc11, mc = material.cutting_force * (1 + material.cutting_spread), material.cutting_exponent
    sine = math.sin(drill.half_angle)

    def figures(fz: float) -> tuple[float, float]:
        kc = specific_force(kc11, mc, fz * sine)
        turn = fz * drill.flutes
        force = 0.5 * kc * drill.diameter / 2 * turn * sine
        return force, kc * drill.diameter**2 * turn / 8000 * 2 * math.pi * rpm / 60

    fz, limited, available = drill.chip, "chip load", power_at(bed, rpm)
    force, power = figures(fz)
    for cap, word in (
        (fz * (thrust / force) ** (1 / (1 - mc)), "cutting force"),
        (fz * (available / power) ** (1 / (1 - mc)), "spindle power"),
        (bed.feed_limit[2] / (drill.flutes * rpm), "the bed's feed limit"),
    ):
        if cap < fz:
            fz, limited = cap, word
    force, power = figures(fz)
    feed = fz * drill.flutes * rpm
    area = math.pi / 4 * drill.diameter**2
    return Feed(
        feed,
        feed,
        rpm,
        fz,
        fz * sine,
        force,
        force,
        power,
        available,
        0.0,
        force / bed.frame_stiffness,
        area * feed,
        limited,
    )


def bore_feeds(
    bore: Bore, material: Material, bed: Bed, force: float, depth_share: float
) -> tuple[Feed, Feed]:
    """Feeds of the helix (the cutter's whole width engaged, one pitch deep) and of the finishing lap."""
    c = bore.cutter
    pitch = max(helix_pitch(c, rho, depth_share) for rho in bore.rings)
    limits = Limits(force, deflection_mm=FINISH_STOCK / 2)
    thick = max(top - bottom for top, bottom in bore.spans)
    stock = max(bore.last - bore.rings[-1], 0.02)
    # The lap begins straight out into the wall, at the centre's own feed.
    inward = bore.last / (bore.last + c.diameter / 2)
    lap = Limits(force, deflection_mm=FINISH_STOCK, push_mm=MOST_PUSH, head_on=inward)
    return (
        feed_for(c, material, bed, c.diameter, pitch, limits),
        feed_for(c, material, bed, stock, thick, lap),
    )


def spot_depth(vee: Cutter, diameter: float) -> float:
    """Depth of the vee's tip for a spot half as wide as the drill."""
    return max(0.1, (SPOT_SHARE * diameter / 2 - vee.tip / 2) / math.tan(vee.half_angle))
