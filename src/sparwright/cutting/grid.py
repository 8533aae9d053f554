"""Where a cutter may go inside an outline, and the grids a march reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.geometry.polygon import orient

from sparwright.cutting.march import Grid, distance_grid

CELLS_PER_RADIUS = 16
SHARPEST = 0.15
"""Smallest radius of the centre's path in a corner, as a share of the cutter's radius."""


@dataclass(frozen=True)
class Room:
    """Where the cutter's centre may be: polygon, its edges (k, 4) mm, and its signed distance on a grid."""

    region: Polygon | MultiPolygon
    edges: np.ndarray
    grid: Grid


def parts_of(shape: shapely.Geometry) -> list[Polygon]:
    """The polygons of any geometry, largest first."""
    found = [g for g in shapely.get_parts(shape) if g.geom_type == "Polygon" and g.area > 0]
    return sorted(found, key=lambda g: -g.area)


def edges_of(shape: shapely.Geometry) -> np.ndarray:
    """All edges of the polygons in a geometry, (k, 4): x, y of start and of end, mm."""
    rows = []
    for part in parts_of(shape):
        for ring in (part.exterior, *part.interiors):
            # Points that all but coincide become one: leaving out the short edge alone would open the ring, and rows
            # that pass through the gap would take inside for outside.
            xy = np.asarray(ring.coords)[:-1, :2]
            xy = xy[np.hypot(*(xy - np.roll(xy, 1, axis=0)).T) > 1e-9]
            rows.append(np.hstack([xy, np.roll(xy, -1, axis=0)]))
    return np.ascontiguousarray(np.vstack(rows)) if rows else np.empty((0, 4))


def centre_region(outline: Polygon, radius: float, wall_stock: float) -> Polygon | MultiPolygon:
    """Outline shrunk by radius and stock, its corners rounded so that the centre never turns sharper than SHARPEST.

    Where a lane would be lost to that rounding it is done with a smaller radius, down to none. Empty where the cutter does not fit.
    """
    bare = outline.buffer(-(radius + wall_stock), quad_segs=32)
    if bare.is_empty:
        return bare
    rho = SHARPEST * radius
    for _ in range(8):
        opened = bare.buffer(-rho, quad_segs=16).buffer(rho, quad_segs=16)
        lost = bare if opened.is_empty else bare.difference(opened.buffer(5 * rho))
        if lost.area <= 1e-6 * bare.area:
            return shapely.simplify(opened, 2e-4)
        rho *= 0.5
    return bare


def empty_grid(box: tuple[float, float, float, float], margin: float, step: float, value: float) -> Grid:
    """A grid over a box (x0, y0, x1, y1) and a margin around it, filled with one value."""
    x0, y0, x1, y1 = box
    shape = (int((y1 - y0 + 2 * margin) / step) + 2, int((x1 - x0 + 2 * margin) / step) + 2)
    return Grid(np.full(shape, value), x0 - margin, y0 - margin, step)


def room_of(region: Polygon | MultiPolygon, radius: float) -> Room:
    """The region with its edges and distance grid."""
    step = radius / CELLS_PER_RADIUS
    grid = empty_grid(region.bounds, radius + 2 * step, step, 0.0)
    edges = edges_of(region)
    distance_grid(grid, edges)
    return Room(region, edges, grid)


def full_metal(room: Room, cleared: Polygon | MultiPolygon | None) -> Grid:
    """Metal everywhere but in the cleared region, on the room's grid."""
    grid = room.grid
    cap = 3.0 * grid.step
    metal = Grid(np.full(grid.values.shape, cap), grid.x0, grid.y0, grid.step)
    if cleared is not None and not cleared.is_empty:
        distance_grid(metal, edges_of(cleared))
        np.minimum(-metal.values, cap, out=metal.values)
    return metal


def standing(metal: Grid, room: Room, radius: float) -> Polygon | MultiPolygon:
    """The metal still standing within the cutter's reach, as squares about its nodes."""
    h = metal.step
    rows, cols = np.nonzero((metal.values > 0) & (room.grid.values > -radius))
    x, y = metal.x0 + cols * h, metal.y0 + rows * h
    return shapely.union_all(shapely.box(x - h, y - h, x + h, y + h))


def widest_place(region: Polygon | MultiPolygon, radius: float) -> tuple[np.ndarray, float]:
    """Centre (2,) and radius of the largest circle inside the region, mm."""
    best = parts_of(region)[0]
    line = shapely.maximum_inscribed_circle(best, tolerance=0.005 * radius)
    return np.asarray(line.coords[0][:2]), float(line.length)


def long_axis(room: Room, through: np.ndarray) -> np.ndarray:
    """The line inside the room through a place, along the long side of the room's tightest box, (2, 2) mm.

    Where that is much shorter than the longest line through the place, the longest line, to a degree.
    """
    x, y = np.asarray(room.region.minimum_rotated_rectangle.exterior.coords)[:, :2].T
    dx, dy = np.diff(x), np.diff(y)
    k = int(np.argmax(np.hypot(dx, dy)))
    t = np.append(np.arange(0, np.pi, np.pi / 180), np.arctan2(dy[k], dx[k]))
    way = np.column_stack([np.cos(t), np.sin(t)])
    a, d = room.edges[:, :2] - through, room.edges[:, 2:] - room.edges[:, :2]
    with np.errstate(divide="ignore", invalid="ignore"):
        span = way[:, :1] * d[None, :, 1] - way[:, 1:] * d[None, :, 0]
        along = (a[:, 0] * d[:, 1] - a[:, 1] * d[:, 0])[None, :] / span
        share = (a[None, :, 0] * way[:, 1:] - a[None, :, 1] * way[:, :1]) / span
    hit = (share >= 0) & (share <= 1)
    ahead = np.where(hit & (along > 0), along, np.inf).min(axis=1)
    behind = np.where(hit & (along < 0), along, -np.inf).max(axis=1)
    total = np.where(np.isfinite(ahead) & np.isfinite(behind), ahead - behind, 0.0)
    k = int(np.argmax(total))
    k = len(t) - 1 if total[-1] > 0.8 * total[k] else k
    if total[k] <= 0:
        return np.array([through, through], float)
    return np.array([through + behind[k] * way[k], through + ahead[k] * way[k]])


def border_runs(region: shapely.Geometry, step: float) -> list[np.ndarray]:
    """The region's border as runs of places (n, 3: x, y, heading rad) `step` mm apart, what lies outside on the right."""
    runs = []
    for part in parts_of(region):
        turned = orient(part)
        for ring in (turned.exterior, *turned.interiors):
            count = max(int(ring.length / step), 8)
            at = np.arange(count + 1) * (ring.length / count)
            xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
            ahead = np.diff(xy, axis=0)
            heading = np.arctan2(ahead[:, 1], ahead[:, 0])
            runs.append(np.column_stack([xy[:-1], heading]))
    return runs


def back_along_wall(room: Room, place: np.ndarray, distance: float) -> np.ndarray | None:
    """For a place at the wall: x, y and heading of the wall there, wall on the right, and the same `distance` back.

    (6,) mm and rad; None for a place more than a hundredth of `distance` off the wall.
    """
    here = Point(place)
    for part in parts_of(room.region):
        turned = orient(part)
        for ring in (turned.exterior, *turned.interiors):
            if ring.distance(here) > 0.01 * distance:
                continue
            at = np.array([0.0, 0.01 * distance, -distance, -0.99 * distance]) + ring.project(here)
            xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, np.mod(at, ring.length)))
            ahead = xy[1::2] - xy[::2]
            heading = np.arctan2(ahead[:, 1], ahead[:, 0])
            return np.array([*xy[0], heading[0], *xy[2], heading[1]])
    return None
