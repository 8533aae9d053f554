"""The finishing lap round a wall: offset by exactly the cutter's radius, with true arcs in the corners."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.cutting.model import Path
from sparwright.cutting.paths import NEAR, Rates, Trace
from sparwright.cutting.paths_outline import TINY, Outline, Segment, longest_straight, within

OVERLAP = 0.75  # mm the lap runs past its own start; 0.5 to 1 mm
SLOWEST = 0.2  # least share of the feed in a corner
LEAST_LEAD = 0.3  # lead-in radius over the cutter's radius, at the least
WANTED_FILLET = 1.3  # inside corner radius over the cutter's radius, for an even load
CORNER_ROUNDING = 0.15  # clearing never turns sharper than this share of the cutter's radius


def cleared_by(outline: Outline, radius: float, stock: float) -> Polygon:
    """The ground that clearing with a cutter of `radius`, leaving `stock` on the walls, has emptied.

    The outline less the stock, opened by a disc of 1.15 radius: clearing paths are rounded by 0.15 radius.
    """
    reach = radius * (1 + CORNER_ROUNDING)
    centre = outline.inset_shape(stock + reach)
    return centre.buffer(reach, quad_segs=64)


def engaged(points: np.ndarray, headings: np.ndarray, radius: float, cleared: Polygon) -> np.ndarray:
    """Angle of the cutter's front half that stands in metal, radians, shape (k,).

    points, headings: (k, 2), the headings unit vectors. Metal is all that lies outside `cleared`.
    """
    samples = 360
    turn = (np.arange(samples) + 0.5) / samples * math.pi - math.pi / 2
    base = np.arctan2(headings[:, 1], headings[:, 0])
    a = base[:, None] + turn[None, :]
    x = points[:, 0:1] + radius * np.cos(a)
    s = points[:, 1:2] + radius * np.sin(a)
    shapely.prepare(cleared)
    in_metal = ~shapely.contains_xy(cleared, x, s)
    return np.asarray(in_metal.sum(axis=1) * (math.pi / samples))


def corner_feed(wanted: float, met: float) -> float:
    """Share of the feed in a corner: (1 - cos wanted) / (1 - cos met), between 0.2 and 1.

    Holds the metal removed per time where the engaged angle rises from `wanted` to `met`, radians.
    """
    if met <= wanted:
        return 1.0
    return max(SLOWEST, (1 - math.cos(wanted)) / (1 - math.cos(min(met, math.pi))))


@dataclass(frozen=True)
class Lap:
    """What a finishing lap needs to know besides the outline.

    radius: of the cutter. stock: metal on the wall. levels: heights n of the laps, highest first. ground: where the
    cutter's centre may stand without touching metal. cleared: ground already empty.
    """

    radius: float
    stock: float
    levels: tuple[float, ...]
    ground: Polygon
    cleared: Polygon
    rates: Rates


def wall_lap(outline: Outline, lap: Lap) -> Path:
    """The finishing lap, counter-clockwise (climb), from clearance height and back.

    Starts and ends on quarter arcs tangent at the middle of the longest straight, overlaps its own start, and slows
    in corners by the corner law. Raises ValueError where the corners are tighter than the cutter.
    """
    if outline.radius < lap.radius - TINY:
        raise ValueError(
            f"a cutter of {2 * lap.radius:g} mm cannot finish corners of {outline.radius:g} mm radius"
        )
    loop = outline.inset(lap.radius)
    if not loop:
        raise ValueError(f"a cutter of {2 * lap.radius:g} mm does not fit inside the outline")
    run = _from_middle(loop)
    run, shares = _slowed(run, lap, closed=True)
    lead = _lead(run[0].start, run[0].heading(0.0), lap)
    return _drawn(run, shares, lead, lap)


def _drawn(run: Sequence[Segment], shares: Sequence[float], lead: tuple[float, bool], lap: Lap) -> Path:
    """The lap at every level, entered and left by quarter arcs (or straight in at half feed)."""
    rho, on_arc = lead
    r = lap.rates
    m, t0 = run[0].start, run[0].heading(0.0)
    over, _ = run[0].split(min(1.0, OVERLAP / run[0].length))
    end, t1 = over.end, over.heading(1.0)
    into, out_of = _inward(m, t0, rho), _inward(end, t1, rho)
    a = (into[0] - rho * t0[0], into[1] - rho * t0[1]) if on_arc else into
    b = (out_of[0] + rho * t1[0], out_of[1] + rho * t1[1]) if on_arc else out_of
    trace = Trace(*a, r.clearance)
    for level in lap.levels:
        trace.down(min(NEAR + level, r.clearance), r.quick)
        trace.down(level, r.plunge)
        if on_arc:
            trace.arc((*m, level), into, r.feed)
        else:
            trace.line(*m, level, r.feed / 2)
        trace.follow([*run, over], [*(r.feed * f for f in shares), r.feed * shares[0]])
        if on_arc:
            trace.arc((*b, level), out_of, r.feed)
        else:
            trace.line(*b, level, r.feed)
        if level != lap.levels[-1]:
            trace.line(*a, level, r.feed)
    trace.lift(r.clearance)
    return trace.path()


def _from_middle(loop: tuple[Segment, ...]) -> list[Segment]:
    """The loop cut open at the middle of its longest straight."""
    i = longest_straight(loop)
    first, second = loop[i].split(0.5)
    return [second, *loop[i + 1 :], *loop[:i], first]


def _inward(p: tuple[float, float], t: tuple[float, float], distance: float) -> tuple[float, float]:
    """The point `distance` to the left of travel."""
    return p[0] - distance * t[1], p[1] + distance * t[0]


def _lead(m: tuple[float, float], t: tuple[float, float], lap: Lap) -> tuple[float, bool]:
    """Radius of the lead-in arc and whether an arc fits; else how far in a straight entry starts."""
    steps = np.linspace(max(min(2.0, lap.radius), LEAST_LEAD * lap.radius), LEAST_LEAD * lap.radius, 8)
    for rho in map(float, steps):
        c = _inward(m, t, rho)
        ends = (
            (c[0] - rho * t[0], c[1] - rho * t[1]),
            (c[0] + (rho + OVERLAP) * t[0], c[1] + (rho + OVERLAP) * t[1]),
        )
        if all(within(p, lap.ground) for p in ends):
            return rho, True
    for rho in (2 * lap.stock, lap.stock + 0.02):
        if within(_inward(m, t, rho), lap.ground):
            return rho, False
    return lap.stock, False


def _slowed(run: list[Segment], lap: Lap, *, closed: bool) -> tuple[list[Segment], list[float]]:
    """The run with its straights split one cutter radius off each corner, and the share of the feed on each part.

    Corners are arcs, or joints of straights that turn.
    """
    wanted = math.acos(max(-1.0, 1 - lap.stock / lap.radius))
    factor = [_arc_share(seg, lap, wanted) for seg in run]
    out: list[Segment] = []
    shares: list[float] = []
    k = len(run)
    for i, seg in enumerate(run):
        if seg.centre is not None:
            out.append(seg)
            shares.append(factor[i])
            continue
        before = _joint_share(run, factor, i - 1, wanted) if closed or i > 0 else 1.0
        after = _joint_share(run, factor, i, wanted) if closed or i < k - 1 else 1.0
        for part, share in _split_straight(seg, before, after, lap.radius):
            out.append(part)
            shares.append(share)
    return out, shares


def _arc_share(seg: Segment, lap: Lap, wanted: float) -> float:
    if seg.centre is None:
        return 1.0
    at = [seg.at(f) for f in np.linspace(0, 1, 9)]
    heads = [seg.heading(f) for f in np.linspace(0, 1, 9)]
    return corner_feed(wanted, float(np.max(engaged(np.array(at), np.array(heads), lap.radius, lap.cleared))))


def _joint_share(run: list[Segment], factor: list[float], i: int, wanted: float) -> float:
    """Share of the feed at the joint after segment i: the neighbouring arc's, or by the turn between straights."""
    a, b = run[i], run[(i + 1) % len(run)]
    if a.centre is not None or b.centre is not None:
        return min(factor[i], factor[(i + 1) % len(run)])
    u, v = a.heading(1.0), b.heading(0.0)
    turn = math.acos(max(-1.0, min(1.0, u[0] * v[0] + u[1] * v[1])))
    return corner_feed(wanted, wanted + turn) if turn > 1e-3 else 1.0


def _split_straight(seg: Segment, before: float, after: float, length: float) -> list[tuple[Segment, float]]:
    """A straight in up to three parts: `length` at the share before, the middle at full feed, `length` after."""
    if before >= 1.0 and after >= 1.0:
        return [(seg, 1.0)]
    whole = seg.length
    cut = min(length, whole / 2)
    parts: list[tuple[Segment, float]] = []
    if before < 1.0:
        head, seg = seg.split(cut / whole)
        parts.append((head, before))
    if after >= 1.0:
        return [*parts, (seg, 1.0)]
    if seg.length - cut < TINY:
        return [*parts, (seg, after)]
    middle, tail = seg.split(1 - cut / seg.length)
    return [*parts, (middle, 1.0), (tail, after)]


def open_lap(chain: tuple[Segment, ...], lap: Lap) -> Path:
    """A finishing lap along a chain that starts and ends clear of the metal, at every level, slowed in its corners."""
    run, shares = _slowed(list(chain), lap, closed=False)
    r = lap.rates
    start, end = chain[0].start, chain[-1].end
    trace = Trace(*start, r.clearance)
    for i, level in enumerate(lap.levels):
        if i:
            trace.lift(r.clearance)
            trace.rapid(*start, r.clearance)
        trace.down(level, r.quick)
        trace.follow(run, [r.feed * f for f in shares])
    trace.lift(r.clearance)
    assert trace.here[:2] == end
    return trace.path()
