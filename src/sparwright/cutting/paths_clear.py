"""A clearing path cut level by level: entry, passes, links, with a feed on every move."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparwright.cutting.arcfit import Moves
from sparwright.cutting.clearing import ClearPath
from sparwright.cutting.entry import helix_moves, ramp_moves
from sparwright.cutting.finish import corner_feed
from sparwright.cutting.model import Path
from sparwright.cutting.paths import NEAR, RAMP, Rates, Trace, ramp_pitch

LIFT = 0.3  # mm over the cut floor on links through ground proven clear
SLOW_ENDS = 0.5  # mm at either end of a quick link, where metal stands close, that keep the cutting feed
NO_LIFT = 2.0  # mm: shorter links stay at depth


def clearing_path(
    clear: ClearPath, levels: Sequence[float], slot_feed: float, rates: Rates, travel: float
) -> Path:
    """The whole clearing of one pocket, from clearance height and back.

    levels: heights n of the tip, highest first. slot_feed: mm/min with the whole width engaged, for entries.
    travel: mm/min through ground proven clear, a little above its floor.
    """
    start = _entry_start(clear)
    trace = Trace(*start, rates.clearance)
    above = 0.0
    for level in levels:
        if trace.here != (*start, rates.clearance):
            trace.lift(rates.clearance)
            trace.rapid(*start, rates.clearance)
        _enter(trace, clear, above, level, slot_feed, rates)
        for moves, angles, link in zip(clear.passes, clear.angles, clear.links, strict=True):
            _link(trace, moves, link, rates, travel)
            shares = [corner_feed(clear.engagement, float(a)) for a in angles]
            trace.extend(_at_height(moves, level, rates.feed * np.array(shares)))
        above = level
    trace.lift(rates.clearance)
    return trace.path()


def levels_to(depth: float, deepest_pass: float) -> tuple[float, ...]:
    """Heights of equal passes down to `depth`, each at most `deepest_pass` mm, highest first."""
    count = max(1, math.ceil(depth / deepest_pass - 1e-9))
    return tuple(-depth * i / count for i in range(1, count + 1))


def _entry_start(clear: ClearPath) -> tuple[float, float]:
    x, s = map(float, clear.entry_centre)
    return (x + clear.entry_radius, s) if clear.entry == "helix" else (x, s)


def _enter(
    trace: Trace, clear: ClearPath, above: float, level: float, slot_feed: float, rates: Rates
) -> None:
    """Down to the level: quickly through air, then by helix, by ramp, or straight where there is no metal."""
    if clear.entry == "outside":
        trace.down(min(level + NEAR, rates.clearance), rates.quick)
        trace.down(level, rates.plunge)
        return
    top = min(above + NEAR, rates.clearance)
    trace.down(top, rates.quick)
    if clear.entry == "helix":
        rho = clear.entry_radius
        feed = slot_feed * rho / (rho + clear.radius)
        trace.extend(helix_moves(clear.entry_centre, rho, top, level, ramp_pitch(rho), feed))
    else:
        slope = math.tan(math.radians(RAMP))
        trace.extend(ramp_moves(clear.entry_line, top, level, slope, slot_feed))


def _link(trace: Trace, moves: Moves, link: str, rates: Rates, travel: float) -> None:
    """To the start of the next pass: at depth, with a small lift, or over the top."""
    x, s = map(float, moves.start[0])
    level = trace.here[2]
    gap = math.dist(trace.here[:2], (x, s))
    if link == "up":
        trace.lift(rates.clearance)
        trace.rapid(x, s, rates.clearance)
        trace.down(min(level + NEAR, rates.clearance), rates.quick)
        trace.down(level, rates.plunge)
    elif gap < NO_LIFT:
        trace.line(x, s, level, rates.feed)
    else:
        a, share = trace.here, SLOW_ENDS / gap
        trace.down(level + LIFT, rates.quick)
        for part, feed in ((share, rates.feed), (1 - share, travel), (1.0, rates.feed)):
            trace.line(a[0] + part * (x - a[0]), a[1] + part * (s - a[1]), level + LIFT, feed)
        trace.down(level, rates.plunge)


def _at_height(moves: Moves, n: float, feeds: np.ndarray) -> Path:
    height = np.full(len(moves), n)
    start = np.append(moves.start[0], n)
    return Path(start, moves.kind, np.column_stack([moves.end, height]), moves.centre, feeds)
