"""Clearing the metal inside an outline with a flat cutter at a bounded engagement, in the plane of one depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from sparwright.answers import BadInput
from sparwright.cutting import grid as grids
from sparwright.cutting.arcfit import Moves, fit_moves
from sparwright.cutting.march import (
    Grid,
    Rules,
    backed_up,
    carve,
    close_starts,
    crosses,
    fill,
    march,
    metal_area,
    rerun,
    stamp,
    way_is_clear,
)

STEP = 0.06
"""Step of the march, as a share of the cutter's radius."""
MARGIN = 0.985
"""The march aims at this share of the target."""
HELIX = 0.6
"""Radius of the centre's path in a helix entry, as a share of the cutter's radius; at least LEAST_HELIX."""
LEAST_HELIX = 0.3
SLENDER = 3.0
NARROW = 1.5
"""An outline this many times longer than wide, its room no wider than NARROW diameters, is entered by a ramp."""
FILM = 0.03
"""Where part is cleared already, metal thinner than this (mm) on its borders is left to the finishing cut."""


GENTLE = 0.6
"""Share of the target a march keeps, where it can, when it got stuck at the full target."""
MUCH = 40
"""A march that got stuck is no failure once it removed this many times the least area."""
BACK = 0.005
"""A place this near the wall, in radii, touches it."""
FINE = 64
MOST_NODES = 4e7


class ClearingError(BadInput):
    """The outline cannot be cleared with this cutter; the message gives the sizes."""


@dataclass(frozen=True)
class ClearPath:
    """A clearing path in the plane.

    entry: "helix" (circle of entry_radius about entry_centre, counter-clockwise, from and back to
    entry_centre + (entry_radius, 0)), "ramp" (to and fro along entry_line, (2, 2) mm, from and back to its first point,
    the cutter in a full slot) or "outside" (straight down at entry_centre, in ground free of metal).
    passes: tables of moves, metal on the right of travel (climb cutting for a cutter turning clockwise seen from above).
    angles: engaged angle at its greatest on each move of each pass, rad, as simulated after fitting.
    links: how to reach the start of each pass from the end of the one before (of the entry, for the first): "clear" is
    straight at depth through cleared ground, "up" goes over the top. length: of the passes, mm. bound: the least
    length any path of this engagement needs, (area - entry area)/radial depth, mm. left_over_mm2: metal left inside the
    outline less the wall stock, corners the cutter does not reach included; missed_mm2: the part of it that the
    cutter could reach. cleared: ground that is free of metal afterwards.
    """

    entry: str
    entry_centre: np.ndarray
    entry_radius: float
    entry_line: np.ndarray
    passes: tuple[Moves, ...]
    angles: tuple[np.ndarray, ...]
    links: tuple[str, ...]
    radius: float
    engagement: float
    length: float
    bound: float
    link_length: float
    peak_engagement: float
    left_over_mm2: float
    missed_mm2: float
    cleared: Polygon | MultiPolygon


@dataclass(frozen=True)
class _Entry:
    kind: str
    centre: np.ndarray
    radius: float
    line: np.ndarray
    runs: list[np.ndarray]
    cuts: np.ndarray
    area: float


def clear_outline(
    outline: Polygon,
    radius: float,
    engagement: float,
    *,
    cleared: Polygon | MultiPolygon | None = None,
    wall_stock: float = 0.0,
    tolerance: float = 0.005,
) -> ClearPath:
    """Path that clears the inside of an outline with a flat cutter of `radius` mm.

    outline: finished outline, mm; its holes are islands that stay. engagement: target of the engaged angle, rad,
    acos(1 - ae/radius) for a radial depth ae; it is exceeded at most by what line and arc fitting to `tolerance` mm
    brings (see docs/cutting-paths.md for what was measured). cleared: ground free of metal already, from a larger
    cutter or beyond an open side; the path then starts there. wall_stock: left on all walls, mm. Where the cutter
    cannot get from one part of the outline to another, the largest part is cleared and the rest counted in missed_mm2;
    a smaller cutter given the cleared ground may reach it.
    Raises ClearingError where the cutter does not fit, where a figure is out of range or where the march gets stuck.
    """
    _check(outline, radius, engagement, wall_stock, tolerance)
    region = grids.centre_region(outline, radius, wall_stock)
    if region.is_empty:
        widest = 2 * shapely.maximum_inscribed_circle(outline, tolerance=0.01 * radius).length
        raise ClearingError(
            f"a cutter of {2 * radius:.3f} mm leaving {wall_stock:.2f} mm on the walls cannot enter an outline whose"
            f" widest circle is {widest:.3f} mm across: it needs {2 * (radius + wall_stock):.3f} mm; take a smaller cutter"
        )
    free = None
    if cleared is not None:
        free = cleared.buffer(-(radius + 0.002), quad_segs=32).intersection(region)
        free = None if free.is_empty or free.area < 1e-6 else free
    whole, apart = region, 0.0
    if free is None:
        region = grids.parts_of(region)[0]
        apart = whole.difference(region).buffer(radius, quad_segs=32).difference(region.buffer(radius)).area
    room = grids.room_of(region, radius)
    entry = _entry(room, radius, free)
    rules = _rules(radius, engagement, film=FILM if free is not None else 0.0)
    metal = grids.full_metal(room, cleared)
    area = _metal_in_reach(metal, room, radius)
    for x, y in entry.cuts:
        stamp(metal, x, y, radius, radius)
    depth = radius * (1 - np.cos(engagement))
    bound = max(area - entry.area, 0.0) / depth
    runs, links, here = _march_all(metal, room, rules, entry, bound, depth)
    passes = tuple(fit_moves(r[:, :2], _node_headings(r), 0.8 * tolerance) for r in runs)
    proven = _proven(passes, links, outline, cleared, entry, radius)
    missed = _metal_in_reach(metal, room, radius) + apart
    swept = region.buffer(radius, quad_segs=32)
    corners = max(outline.buffer(-wall_stock, quad_segs=32).difference(swept).area - apart, 0.0)
    angles = _simulate(passes, room, cleared, entry, radius)
    start = np.asarray(passes[0].start[0]) if entry.kind == "outside" and passes else entry.centre
    ground = swept.buffer(-0.01) if cleared is None else swept.buffer(-0.01).union(cleared)
    return ClearPath(
        entry=entry.kind,
        entry_centre=start,
        entry_radius=entry.radius,
        entry_line=entry.line,
        passes=passes,
        angles=angles,
        links=proven,
        radius=radius,
        engagement=engagement,
        length=float(sum(p.lengths.sum() for p in passes)),
        bound=float(bound),
        link_length=float(here),
        peak_engagement=max((float(a.max()) for a in angles), default=0.0),
        left_over_mm2=float(corners + missed),
        missed_mm2=float(missed),
        cleared=ground,
    )


def _check(outline: Polygon, radius: float, engagement: float, stock: float, tolerance: float) -> None:
    if outline.is_empty or not outline.is_valid or outline.geom_type != "Polygon":
        raise ClearingError("the outline to clear must be one closed shape that does not cross itself")
    if not 0.05 <= radius <= 100:
        raise ClearingError(f"cutter radius {radius} mm is outside 0.05 to 100 mm")
    if not 0.1 <= engagement <= np.pi / 2:
        raise ClearingError(f"engaged angle {np.degrees(engagement):.1f} deg is outside 5.7 to 90 deg")
    if not 0 <= stock <= radius:
        raise ClearingError(f"wall stock {stock} mm is outside 0 to {radius} mm, the cutter's radius")
    if not 0.001 <= tolerance <= 0.1:
        raise ClearingError(f"tolerance {tolerance} mm is outside 0.001 to 0.1 mm")


def _rules(radius: float, engagement: float, film: float) -> Rules:
    step = STEP * radius
    depth = radius * (1 - np.cos(engagement))
    thin = max(0.02 * depth, film)
    return Rules(
        radius=radius,
        target=MARGIN * engagement,
        most=MARGIN * engagement,
        least=float(np.arccos(1 - thin / radius)),
        step=step,
        right=step / (0.8 * radius),
        left=step / (0.14 * radius),
        air=0.5 * radius,
        approach=3.0 * radius,
    )


def _metal_in_reach(metal: Grid, room: grids.Room, radius: float) -> float:
    return float(metal_area(metal, room.grid, -radius + 0.5 * metal.step, 1e9))


def _entry(room: grids.Room, radius: float, free: shapely.Geometry | None) -> _Entry:
    step = STEP * radius
    none = np.empty((0, 2))
    if free is not None:
        runs = [_opened(room, r, radius) for r in grids.border_runs(free, step)]
        return _Entry("outside", runs[0][0, :2], 0.0, none, runs, none, 0.0)
    centre, widest = grids.widest_place(room.region, radius)
    line = grids.long_axis(room, centre)
    long = float(np.hypot(*(line[1] - line[0])))
    slender = widest < NARROW * radius and long + 2 * radius > SLENDER * 2 * (widest + radius)
    if widest >= LEAST_HELIX * radius and not slender:
        rho = min(HELIX * radius, widest)
        count = max(int(2 * np.pi * rho / step), 16)
        t = np.arange(count + 1) * 2 * np.pi / count
        xy = centre + rho * np.column_stack([np.cos(t), np.sin(t)])
        run = np.column_stack([xy, t + np.pi / 2])
        return _Entry("helix", centre, rho, none, [run], xy, np.pi * (rho + radius) ** 2)
    count = max(int(long / step), 1)
    t = np.arange(count + 1)[:, None] / count
    there = line[0] + t * (line[1] - line[0])
    d = line[1] - line[0]
    heading = float(np.arctan2(d[1], d[0]))
    area = np.pi * radius**2 + 2 * radius * long
    return _Entry("ramp", line[0], 0.0, line, [_around_line(there, heading)], there, area)


def _opened(room: grids.Room, run: np.ndarray, radius: float) -> np.ndarray:
    """A closed run turned so that it starts in the middle of its longest stretch along walls of the room."""
    bare = np.ones(len(run), dtype=bool)
    everywhere = room.grid._replace(values=np.full_like(room.grid.values, 1e9))
    close_starts(everywhere, room.grid, run, bare, radius, 0.05 * radius)
    if bare.all() or not bare.any():
        return run
    shift = int(np.argmax(bare))
    turned = np.roll(bare, -shift)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], ~turned, [False]]).astype(int)))
    lengths = edges[1::2] - edges[::2]
    k = int(np.argmax(lengths))
    return np.roll(run, -(shift + int(edges[2 * k] + lengths[k] // 2)), axis=0)


def _around_line(there: np.ndarray, heading: float) -> np.ndarray:
    """One run of places round a slot cut along places (n, 2): to, a half turn on the spot, fro, a half turn."""
    turn = np.linspace(0, np.pi, 32)[1:-1]
    first = np.column_stack([np.tile(there[0], (30, 1)), heading - np.pi + turn])
    last = np.column_stack([np.tile(there[-1], (30, 1)), heading + turn])
    out = np.column_stack([there, np.full(len(there), heading)])
    back = np.column_stack([there[::-1], np.full(len(there), heading + np.pi)])
    return np.concatenate([first, out, last, back])


class _Places:
    """All places the centre has been, with the run of each and whether metal still stands just right of it."""

    def __init__(self, runs: list[np.ndarray]) -> None:
        self.xyh = np.empty((0, 3))
        self.run = np.empty(0, dtype=np.int64)
        self.active = np.empty(0, dtype=bool)
        self.runs = 0
        for run in runs:
            self.add(run)

    def add(self, run: np.ndarray) -> None:
        self.xyh = np.concatenate([self.xyh, run])
        self.run = np.concatenate([self.run, np.full(len(run), self.runs)])
        self.active = np.concatenate([self.active, np.ones(len(run), dtype=bool)])
        self.runs += 1

    def open_stretches(self) -> np.ndarray:
        """First and last index of each stretch of neighbouring active places, (n, 2)."""
        edge = np.concatenate([[True], self.run[1:] != self.run[:-1]])
        before = np.concatenate([[False], self.active[:-1]])
        first = np.flatnonzero(self.active & (edge | ~before))
        after = np.concatenate([self.active[1:], [False]])
        end = np.concatenate([edge[1:], [True]])
        last = np.flatnonzero(self.active & (end | ~after))
        return np.column_stack([first, last])


def _march_all(
    metal: Grid, room: grids.Room, rules: Rules, entry: _Entry, bound: float, depth: float
) -> tuple[list[np.ndarray], list[str], float]:
    """All passes: rows (x, y, heading, angle) of each, the link to each, and the length of the straight links."""
    places = _Places(entry.runs)
    probes = [0.2 * depth, 0.04 * depth]
    probe = probes.pop(0)
    here = places.xyh[0, :2]
    passes: list[np.ndarray] = []
    links: list[str] = []
    travel = 0.0
    limit = 100 + int(6 * bound / rules.radius)
    out = np.empty((max(1000, int(3 * bound / rules.step)), 4))
    for _ in range(limit):
        close_starts(metal, room.grid, places.xyh, places.active, rules.radius, probe)
        stretches = places.open_stretches()
        if not len(stretches):
            if not probes:
                return passes, links, travel
            probe = probes.pop(0)
            places.active[:] = True
            continue
        first, last = _next_start(metal, room, places, stretches, here, rules)
        before = metal.values.copy()
        n, cut0, cut1 = _attempt(metal, room, rules, places, first, out)
        if n == 0:
            places.active[first : min(first + 5, last + 1)] = False
            continue
        places.add(out[:n, :3].copy())
        kept = out[max(cut0 - 3, 0) : min(cut1 + 2, n)].copy()
        earlier = metal._replace(values=before)
        clear = not passes and entry.kind == "outside"
        clear = clear or way_is_clear(earlier, room.grid, *here, *kept[0, :2], rules.radius)
        if not clear and way_is_clear(earlier, room.grid, *here, *out[0, :2], rules.radius):
            kept, clear = out[: min(cut1 + 2, n)].copy(), True
        links.append("clear" if clear else "up")
        travel += float(np.hypot(*(kept[0, :2] - here)))
        passes.append(kept)
        here = kept[-1, :2]
    raise ClearingError(f"clearing did not end within {limit} passes; take another cutter or radial depth")


def _attempt(
    metal: Grid, room: grids.Room, rules: Rules, places: _Places, first: int, out: np.ndarray
) -> tuple[int, int, int]:
    """One march for the stretch from `first`: rows used, first and last row that cut; (0, 0, 0) if none is of use.

    A start further back along the wall is preferred if it gets anywhere. Where the march gets stuck early, a gentler
    approach is taken if it removes much more.
    """
    before = metal.values.copy()
    least = 0.02 * rules.radius**2 * (1 - np.cos(rules.most))
    gentle = rules._replace(target=GENTLE * rules.most)
    touch = places.xyh[_start(room, places, first, rules)]

    def run(start: np.ndarray, way: Rules) -> tuple[int, int, int, float, bool]:
        metal.values[:] = before
        return march(metal, room.grid, room.edges, way, start, out)

    for start in _from_along(metal, room, rules, touch):
        for way in (rules, gentle):
            n, cut0, cut1, area, stuck = run(start, way)
            if area > (MUCH if stuck else 1) * least:
                return n, cut0, cut1
    for start in (touch, places.xyh[first]):
        n, cut0, cut1, area, stuck = run(start, rules)
        if stuck and area < MUCH * least:
            found = run(start, gentle)
            if found[3] > max(3 * area, least):
                return found[:3]
            n, cut0, cut1, area, stuck = run(start, rules)
        if area > least:
            return n, cut0, cut1
    metal.values[:] = before
    return 0, 0, 0


def _from_along(metal: Grid, room: grids.Room, rules: Rules, start: np.ndarray) -> list[np.ndarray]:
    """A start a radius back along the wall, for one at the wall that does not head along it."""
    found = grids.back_along_wall(room, start[:2], rules.radius)
    if found is None or abs(np.mod(found[2] - start[2] + np.pi, 2 * np.pi) - np.pi) < 0.3:
        return []
    return [found[3:]] if way_is_clear(metal, room.grid, *start[:2], *found[3:5], rules.radius) else []


def _next_start(
    metal: Grid, room: grids.Room, places: _Places, stretches: np.ndarray, here: np.ndarray, rules: Rules
) -> tuple[int, int]:
    """The open stretch whose start is nearest to here, straight ways first."""
    starts = np.array([_start(room, places, int(a), rules) for a in stretches[:, 0]])
    gap = np.hypot(*(places.xyh[starts, :2] - here).T)
    order = np.argsort(gap, kind="stable")
    for k in order[:12]:
        if way_is_clear(metal, room.grid, *here, *places.xyh[starts[k], :2], rules.radius):
            return int(stretches[k, 0]), int(stretches[k, 1])
    return int(stretches[order[0], 0]), int(stretches[order[0], 1])


def _start(room: grids.Room, places: _Places, first: int, rules: Rules) -> int:
    """The place from which a pass for the stretch from `first` starts: back along its run to the wall."""
    step = rules.step / rules.radius
    near = BACK * rules.radius
    return int(backed_up(room.grid, places.xyh, places.run, first, int(1.5 / step), int(0.3 / step), near))


def _node_headings(rows: np.ndarray) -> np.ndarray:
    """Direction of a run at each of its places: the mean of the headings before and after."""
    heading = np.unwrap(rows[:, 2])
    after = np.append(heading[1:], heading[-1])
    return 0.5 * (heading + after) if len(rows) > 1 else heading


def _proven(
    passes: tuple[Moves, ...],
    links: list[str],
    outline: Polygon,
    cleared: shapely.Geometry | None,
    entry: _Entry,
    radius: float,
) -> tuple[str, ...]:
    """The links, those that would touch metal on a fine grid made "up": the fitted moves are cut afresh on it.

    The grid is FINE nodes to the radius (coarser for very large outlines); a link keeps clear of all metal that
    stands more than one cell deep in its way.
    """
    x0, y0, x1, y1 = outline.bounds
    pitch = max(radius / FINE, np.sqrt((x1 - x0) * (y1 - y0) / MOST_NODES))
    empty = grids.empty_grid(outline.bounds, pitch, pitch, 0.0)
    image = empty._replace(values=empty.values.astype(np.uint8))
    fill(image, grids.edges_of(outline), 1)
    if cleared is not None:
        fill(image, grids.edges_of(cleared), 0)
    carve(image, entry.cuts, radius)
    found = []
    here = entry.cuts[0] if len(entry.cuts) else None
    for moves, link in zip(passes, links, strict=True):
        if here is not None and link == "clear" and crosses(image, *here, *moves.start[0], radius - pitch):
            link = "up"
        found.append(link)
        carve(image, moves.sampled(STEP * radius)[0], radius)
        here = moves.end[-1]
    return tuple(found)


def _simulate(
    passes: tuple[Moves, ...],
    room: grids.Room,
    cleared: shapely.Geometry | None,
    entry: _Entry,
    radius: float,
) -> tuple[np.ndarray, ...]:
    """Engaged angle at its greatest on every move of the fitted passes, cut afresh on a full grid."""
    metal = grids.full_metal(room, cleared)
    for x, y in entry.cuts:
        stamp(metal, x, y, radius, radius)
    found = []
    step = STEP * radius
    for moves in passes:
        places, index, _ = moves.sampled(step)
        angle = np.empty(len(places))
        rerun(metal, places, radius, 0.02 * step, angle)
        most = np.zeros(len(moves))
        np.maximum.at(most, index, angle)
        found.append(most)
    return tuple(found)
