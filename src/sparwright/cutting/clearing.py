"""Clearing the metal inside an outline with a flat cutter at a bounded engagement, in the plane of one depth."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from sparwright.cutting import grid as grids
from sparwright.cutting.arcfit import Moves, fit_moves
from sparwright.cutting.clearing_check import engaged_angles, proven_links
from sparwright.cutting.clearing_entry import ClearingError, choose_entry
from sparwright.cutting.clearing_passes import FILM, all_passes, march_rules
from sparwright.cutting.march import Grid, metal_area, stamp

__all__ = ["ClearPath", "ClearingError", "clear_outline"]


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
    peak_engagement: float
    left_over_mm2: float
    missed_mm2: float
    cleared: Polygon | MultiPolygon


@lru_cache(maxsize=64)  # both faces, and a sweep over depths, ask for the same outline again
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
    region = _region(outline, radius, wall_stock)
    free = None if cleared is None else _free(cleared, region, radius)
    apart = 0.0
    if free is None:
        whole, region = region, grids.parts_of(region)[0]
        apart = float(whole.buffer(radius).difference(region.buffer(radius)).area)
    room = grids.room_of(region, radius)
    entry = choose_entry(room, radius, free)
    metal = grids.full_metal(room, cleared)
    swept = region.buffer(radius, quad_segs=32)
    area = (swept if cleared is None else swept.difference(cleared.buffer(FILM))).area
    for x, y in entry.cuts:
        stamp(metal, x, y, radius, radius)
    depth = radius * (1 - np.cos(engagement))
    bound = max(area - entry.area, 0.0) / depth
    rules = march_rules(radius, engagement, film=FILM if free is not None else 0.0)
    runs, links = all_passes(metal, room, rules, entry, bound, depth)
    passes = tuple(fit_moves(r[:, :2], _node_headings(r), 0.8 * tolerance) for r in runs)
    angles = engaged_angles(passes, room, cleared, entry, radius)
    missed = _metal_in_reach(metal, room, radius)
    _refuse_lanes(missed, area - entry.area, radius)
    corners = outline.buffer(-wall_stock, quad_segs=32).difference(swept).area - apart
    ground = swept.buffer(-0.01)
    if missed > 0.01 * radius**2:
        ground = ground.difference(grids.standing(metal, room, radius))
    return ClearPath(
        entry=entry.kind,
        entry_centre=passes[0].start[0] if entry.kind == "outside" and passes else entry.centre,
        entry_radius=entry.radius,
        entry_line=entry.line,
        passes=passes,
        angles=angles,
        links=proven_links(passes, links, outline, cleared, entry, radius),
        radius=radius,
        engagement=engagement,
        length=float(sum(p.lengths.sum() for p in passes)),
        bound=float(bound),
        peak_engagement=max((float(a.max()) for a in angles), default=0.0),
        left_over_mm2=max(float(corners), 0.0) + missed + apart,
        missed_mm2=missed + apart,
        cleared=ground if cleared is None else ground.union(cleared),
    )


def _region(outline: Polygon, radius: float, wall_stock: float) -> Polygon | MultiPolygon:
    """Where the centre may be; raises ClearingError where that is nowhere."""
    region = grids.centre_region(outline, radius, wall_stock)
    if region.is_empty:
        widest = 2 * shapely.maximum_inscribed_circle(outline, tolerance=0.01 * radius).length
        raise ClearingError(
            f"a cutter of {2 * radius:.3f} mm leaving {wall_stock:.2f} mm on the walls cannot enter an outline whose"
            f" widest circle is {widest:.3f} mm across: it needs {2 * (radius + wall_stock):.3f} mm; take a smaller cutter"
        )
    return region


def _free(
    cleared: Polygon | MultiPolygon, region: Polygon | MultiPolygon, radius: float
) -> Polygon | MultiPolygon | None:
    """Where the centre may be without touching metal, None for nowhere."""
    free = cleared.buffer(-(radius + 0.002), quad_segs=32).intersection(region)
    return None if free.is_empty or free.area < 1e-6 else free


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


def _refuse_lanes(missed: float, area: float, radius: float) -> None:
    if missed > 0.2 * area and missed > 0.2 * radius**2:
        raise ClearingError(
            f"{missed:.1f} of {area:.1f} mm2 lie in lanes so narrow that a cutter of {2 * radius:.3f} mm would cut its"
            " whole width there; take a smaller cutter, or widen the lanes to 1.5 of its diameter"
        )


def _metal_in_reach(metal: Grid, room: grids.Room, radius: float) -> float:
    return float(metal_area(metal, room.grid, -radius + 0.5 * metal.step, 1e9))


def _node_headings(rows: np.ndarray) -> np.ndarray:
    """Direction of a run at each of its places: the mean of the headings before and after."""
    heading = np.unwrap(rows[:, 2])
    after = np.append(heading[1:], heading[-1])
    return 0.5 * (heading + after) if len(rows) > 1 else heading
