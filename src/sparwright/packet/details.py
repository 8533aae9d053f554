"""The section cut through, and a detail of each kind of pocket, dimensioned."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from sparwright.packet.canvas import Canvas
from sparwright.packet.faces import TEXT, scale_for, scale_name
from sparwright.packet.figures import METRIC, Display
from sparwright.stock.model import Member, Pocket, Section


def section_drawing(
    section: Section,
    show: Display = METRIC,
    *,
    named: Collection[str] = (),
    width: float = 96.0,
    height: float = 150.0,
) -> tuple[str, str]:
    """The section, hatched, with its outside dimensions, its wall, and the names of the faces `named`; (SVG, scale)."""
    _, _, w, h = section.shape.bounds
    scale = min(scale_for(w, width - 44), scale_for(h, height - 44))
    sheet = Canvas(width, height)
    x0, y0 = (width - w * scale) / 2, (height - h * scale) / 2 + 2
    shape = affinity.affine_transform(section.shape, [scale, 0, 0, scale, x0, y0])
    sheet.hatch(shape, 1.4)
    sheet.area(shape)
    sheet.dimension((x0, y0), (x0 + w * scale, y0), -11, show.length(w), size=TEXT)
    sheet.dimension((x0 + w * scale, y0), (x0 + w * scale, y0 + h * scale), -11, show.length(h), size=TEXT)
    walls = _thinnest_wall(section)
    if walls is not None:
        (a, b), thickness = walls
        sheet.leader(
            ((x0 + a[0] * scale + x0 + b[0] * scale) / 2, (y0 + a[1] * scale + y0 + b[1] * scale) / 2),
            (x0 + w * scale + 4, y0 + h * scale + 10),
            f"wall {show.length(thickness)}",
            size=TEXT,
        )
    for face in (f for f in section.faces if f.name in named):
        n = face.normal
        px, py = x0 + face.centre[0] * scale + n[0] * 2.2, y0 + face.centre[1] * scale + n[1] * 2.2
        turn = 90.0 if abs(n[0]) > abs(n[1]) else 0.0
        shift = (-0.3 * n[0] if n[0] < 0 else 2.2 * n[0], -2.2 if n[1] < -0.5 else 0.0)
        sheet.text((px + shift[0], py + shift[1]), face.name, TEXT, anchor="middle", angle=turn, halo=True)
    return sheet.svg(), scale_name(scale)


def _thinnest_wall(section: Section) -> tuple[tuple[tuple[float, float], tuple[float, float]], float] | None:
    best: tuple[tuple[tuple[float, float], tuple[float, float]], float, float] | None = None
    for face in section.faces:
        start = np.asarray(face.centre)
        ray = LineString([start, start - face.normal * 1000.0]).intersection(section.shape)
        first = min(getattr(ray, "geoms", [ray]), key=lambda g: g.distance(Point(start)))
        if first.length > 0 and (
            best is None
            or first.length < best[1] - 1e-6
            or (first.length < best[1] + 1e-6 and start.sum() > best[2])
        ):
            a, b = first.coords[0], first.coords[-1]
            best = (((a[0], a[1]), (b[0], b[1])), float(first.length), float(start.sum()))
    return None if best is None else best[:2]


def pocket_detail(
    pocket: Pocket, wall: float, show: Display = METRIC, *, width: float = 118.0, height: float = 78.0
) -> tuple[str, str]:
    """One pocket seen from above and cut through, with radius, size, depth, skin and edge break; (SVG, scale)."""
    shape = affinity.translate(pocket.outline, -pocket.origin[0], -pocket.origin[1])
    low_x, low_s, high_x, high_s = shape.bounds
    w, h = high_x - low_x, high_s - low_s
    scale = min(scale_for(w, width - 56), scale_for(h + wall, height - 32))
    sheet = Canvas(width, height)
    x0, y0 = 22 - low_x * scale, height - 11 - high_s * scale
    paper = affinity.affine_transform(shape, [scale, 0, 0, scale, x0, y0])
    if pocket.edge_break > 0:
        sheet.area(
            affinity.affine_transform(shape.buffer(pocket.edge_break), [scale, 0, 0, scale, x0, y0]), "thin"
        )
    sheet.area(paper, "visible", "#f2f2f2")
    a, low, b, high = paper.bounds
    sheet.dimension((a, high), (b, high), 6, show.length(w), size=TEXT)
    sheet.dimension((b, low), (b, high), -11, show.length(h), size=TEXT)
    coords = np.asarray(paper.exterior.coords)
    corner = coords[np.argmax(coords[:, 0] - coords[:, 1])]
    text = (
        f"{len(pocket.corners)} x R{show.length(pocket.corner_radius)}"
        if pocket.corners
        else f"Ø{show.length(w)}"
    )
    sheet.leader(tuple(corner), (b + 13, low - 5), text, size=TEXT)  # clear of arrows outside a low pocket
    _cut_through(sheet, pocket, show, (a, b, low - 15), (wall, scale))
    return sheet.svg(), scale_name(scale)


def _cut_through(
    sheet: Canvas,
    pocket: Pocket,
    show: Display,
    place: tuple[float, float, float],
    metal: tuple[float, float],
) -> None:
    """The cut through a pocket. place: left and right of it and the face's height on paper. metal: wall in mm, scale."""
    (a, b, top), (wall, scale) = place, metal
    t, d, e = wall * scale, pocket.depth * scale, pocket.edge_break * scale
    left, right = a - 7.0, b + 7.0
    near = [(left, top), (a - e, top), (a, top - e)]
    far = [(b, top - e), (b + e, top), (right, top)]
    if pocket.window:
        rings = [[*near, (a, top - t), (left, top - t)], [*far, (right, top - t), (b, top - t)]]
    else:
        rings = [[*near, (a, top - d), (b, top - d), *far, (right, top - t), (left, top - t)]]
    for ring in rings:
        sheet.hatch(Polygon(ring), 1.2)
        sheet.polyline(ring, close=True)
    sheet.dimension((left, top - t), (left, top), 6, show.length(wall), size=TEXT)
    if not pocket.window:
        quarter = a + (b - a) / 4
        sheet.dimension((quarter, top - d), (quarter, top), 0.6, show.length(pocket.depth), size=TEXT)
        sheet.leader(
            ((a + b) / 2 + (b - a) * 0.3, top - (d + t) / 2),
            (right + 5, top - d - 5),
            f"skin {show.length(pocket.skin)}",
            size=TEXT,
        )
    if pocket.edge_break:
        sheet.leader(
            (b + e / 2, top - e / 2),
            (right + 5, top + 4),
            f"{show.length(pocket.edge_break)} x 45°",
            size=TEXT,
        )


def distinct_pockets(member: Member) -> tuple[tuple[Pocket, int], ...]:
    """One pocket of every size and depth (turned copies count as one), with how many there are of it."""
    seen: dict[tuple[float, ...], tuple[Pocket, int]] = {}
    for p in member.pockets:
        key = (round(p.outline.area, 2), round(p.outline.length, 2), round(p.depth, 4), round(p.skin, 4))
        first, count = seen.get(key, (p, 0))
        seen[key] = (first, count + 1)
    return tuple(seen.values())
