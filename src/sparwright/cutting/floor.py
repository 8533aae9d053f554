"""The floor pass: the last layer over a pocket's floor, from inside out, off the walls."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparwright.cutting.entry import helix_moves
from sparwright.cutting.model import Path
from sparwright.cutting.paths import NEAR, Rates, Trace, ramp_pitch
from sparwright.cutting.paths_outline import TINY, Outline, Segment

STEPOVER = 0.65  # of the cutter's diameter at most
ENTRY = 0.5  # radius of the entry helix over the cutter's
ROUNDING = 0.2  # corners of the laps over the cutter's radius: inside what clearing has emptied


@dataclass(frozen=True)
class Floor:
    """A floor pass: radius of the cutter, stock on the floor and on the wall, depth of the finished floor, mm."""

    radius: float
    floor_stock: float
    wall_stock: float
    depth: float
    rates: Rates


def stepover(outline: Outline, radius: float) -> float:
    """Distance between laps, mm: 0.65 D, less where a sharp corner would leave a cusp between two laps.

    Two laps `step` apart, the inner one rounded by q, leave nothing at a corner of half angle a while
    step <= r (1 + sin a) - q (1 - sin a) (geometry).
    """
    sine = outline.sharpest
    return min(STEPOVER * 2 * radius, 0.95 * radius * (1 + sine - ROUNDING * (1 - sine)))


def floor_laps(outline: Outline, floor: Floor) -> list[tuple[Segment, ...]]:
    """The laps from inside out, each a closed loop of the cutter's centre, evenly spaced.

    Empty where the cutter does not fit. Every point of the floor lies within `radius` of a lap, save the
    strip of `wall_stock` along the walls and the rounding of the corners.
    """
    outer = floor.radius + floor.wall_stock
    _, inscribed = outline.inscribed
    room = inscribed - outer
    if room < -TINY:
        return []
    step = stepover(outline, floor.radius)
    inner = max(0.0, room - 0.9 * floor.radius)
    count = math.ceil(inner / step - 1e-9)
    gaps = [outer + inner * i / count for i in range(count, -1, -1)] if count else [outer]
    least = ROUNDING * floor.radius
    return [loop for loop in (outline.inset(gap, least) for gap in gaps) if loop]


def floor_pass(outline: Outline, floor: Floor) -> Path:
    """The floor pass from clearance height and back: a shallow helix at the centre, then laps from inside out.

    Raises ValueError where the cutter does not fit inside the walls' stock.
    """
    laps = floor_laps(outline, floor)
    centre, inscribed = outline.inscribed
    room = inscribed - floor.radius - floor.wall_stock
    if room < -TINY:
        raise ValueError(
            f"a cutter of {2 * floor.radius:g} mm has no room on a floor of {2 * inscribed:.2f} mm across"
        )
    r = floor.rates
    entry = max(0.0, min(ENTRY * floor.radius, room))
    trace = Trace(centre[0] + entry, centre[1], r.clearance)
    trace.down(min(r.clearance, NEAR - (floor.depth - floor.floor_stock)), r.quick)
    if entry > 0.1:
        feed = r.feed * entry / (entry + floor.radius)
        trace.extend(helix_moves(centre, entry, trace.here[2], -floor.depth, ramp_pitch(entry), feed))
    else:
        trace.down(-floor.depth, r.plunge)
    for lap in laps:
        run = _nearest_start(lap, trace.here[:2])
        trace.line(*run[0].start, -floor.depth, r.feed)
        trace.follow(run, r.feed)
    trace.lift(r.clearance)
    return trace.path()


def _nearest_start(loop: tuple[Segment, ...], here: tuple[float, float]) -> tuple[Segment, ...]:
    """The loop started at the joint nearest to `here`."""
    i = min(range(len(loop)), key=lambda k: math.dist(loop[k].start, here))
    return loop[i:] + loop[:i]
