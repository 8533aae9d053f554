"""Dimensioned drawings of the member: each face, the section, and a detail of each kind of pocket."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from sparwright.packet.canvas import Canvas
from sparwright.stock.model import Face, Hole, Member, Pocket, Section

Place = Callable[[float, float], tuple[float, float]]

SCALES = (5.0, 2.0, 1.0, 1 / 2, 1 / 2.5, 1 / 5, 1 / 10, 1 / 20, 1 / 50)
"""Drawing scales of ISO 5455, largest first (1:2.5 is its permitted in-between)."""


def scale_for(size: float, room: float) -> float:
    """The largest standard scale at which `size` mm of part fits into `room` mm of paper."""
    return next((s for s in SCALES if size * s <= room), SCALES[-1])


def scale_name(scale: float) -> str:
    """A scale in words: 2:1, 1:5."""
    return f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"


@dataclass(frozen=True)
class HoleRow:
    """One line of the hole table: its mark on the drawing and all a drill press needs. Lengths mm."""

    mark: str
    name: str
    face: str
    x: float
    s: float
    from_edge: float
    drill: float
    what: str
    depth: float


def mm(value: float, decimals: int = 2) -> str:
    """A length as drawings print it: no trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _what(hole: Hole) -> str:
    through = {"wall": "through the wall", "all": "through all", "blind": f"{mm(hole.depth)} deep"}[
        hole.through
    ]
    if hole.kind == "tapped":
        return f"tap {hole.thread}, {through}"
    if hole.kind == "counterbored" and hole.counterbore is not None:
        return f"clearance {hole.thread}, counterbore Ø{mm(hole.counterbore[0])} x {mm(hole.counterbore[1])} deep, {through}"
    if hole.kind == "clearance":
        return f"clearance {hole.thread}, {through}"
    return f"drilled, {through}"


def face_edge(member: Member, face: Face) -> float:
    """Where the member's lower outline edge lies across the face, s in mm: the datum edge of the drawing."""
    corners = np.array(member.section.shape.exterior.coords)[:, :2] - np.asarray(face.centre)
    return float((corners @ face.across).min())


def hole_rows(member: Member) -> tuple[HoleRow, ...]:
    """All holes, marked A1, A2, ... by face and in order along the member."""
    rows = []
    for letter, name in zip("ABCDEFGHJKLMNP", member.worked_faces, strict=False):
        face = member.section.face(name)
        edge = face_edge(member, face)
        holes = sorted((h for h in member.holes if h.face == name), key=lambda h: (h.at[0], h.at[1]))
        rows += [
            HoleRow(
                f"{letter}{i}", h.id, name, h.at[0], h.at[1], h.at[1] - edge, h.diameter, _what(h), h.depth
            )
            for i, h in enumerate(holes, 1)
        ]
    return tuple(rows)


def face_outline(member: Member, face: Face) -> Polygon:
    """The member's outline as seen on a face, in (x, s)."""
    corners = np.array(member.section.shape.exterior.coords)[:, :2] - np.asarray(face.centre)
    across = corners @ face.across
    return box(0.0, float(across.min()), member.length, float(across.max()))


def face_drawing(member: Member, name: str, width: float = 268.0, height: float = 88.0) -> tuple[str, str]:
    """The view on one face with its main dimensions; (SVG text, scale in words)."""
    face = member.section.face(name)
    outline = face_outline(member, face)
    low_s, high_s = outline.bounds[1], outline.bounds[3]
    scale = min(scale_for(member.length, width - 30), scale_for(high_s - low_s, height - 44))
    sheet = Canvas(width, height)
    x0, y0 = (width - member.length * scale) / 2, height / 2 - (low_s + high_s) / 2 * scale + 2

    def at(x: float, s: float) -> tuple[float, float]:
        return (x0 + x * scale, y0 + s * scale)

    def paper(shape: Polygon) -> Polygon:
        return affinity.affine_transform(shape, [scale, 0, 0, scale, x0, y0])

    notches = [f for f in member.notches if f.face == name]
    body = outline
    for notch in notches:
        body = body.difference(notch.outline)
    sheet.area(paper(body))
    for y in (-face.width / 2, face.width / 2):
        if abs(y - low_s) > 0.2 and abs(y - high_s) > 0.2:
            sheet.line(at(0, y), at(member.length, y), "faint")
    sheet.line(at(-6 / scale, 0), at(member.length + 6 / scale, 0), "axis")
    pockets = [p for p in member.pockets if p.face == name]
    for pocket in pockets:
        sheet.area(paper(pocket.outline), "thin", "#e4e4e4" if not pocket.window else "#fff")
    for row in hole_rows(member):
        if row.face == name:
            sheet.circle(at(row.x, row.s), max(row.drill * scale / 2, 0.5), "visible", "#fff")
            sheet.text(
                (at(row.x, row.s)[0] + 1.2, at(row.x, row.s)[1] + 1.0), row.mark, 2.5, bold=True, halo=True
            )
    _face_dimensions(sheet, at, member, name, (low_s, high_s))
    return sheet.svg(), scale_name(scale)


def _face_dimensions(
    sheet: Canvas, at: Place, member: Member, name: str, across: tuple[float, float]
) -> None:
    pockets = [p for p in member.pockets if p.face == name]
    notches = [n for n in member.notches if n.face == name]
    low_s, high_s = across
    length = member.length
    sheet.dimension(at(0, low_s), at(length, low_s), -17, mm(length))
    sheet.dimension(at(length, low_s), at(length, high_s), -9, mm(high_s - low_s))
    if pockets:
        first = min(p.outline.bounds[0] for p in pockets)
        last = max(p.outline.bounds[2] for p in pockets)
        sheet.dimension(at(0, low_s), at(first, low_s), -9, mm(first))
        sheet.dimension(at(last, low_s), at(length, low_s), -9, mm(length - last))
    for notch in notches:
        low_x, low, high_x, high = notch.outline.intersection(box(0, low_s, length, high_s)).bounds
        end_x = low_x if notch.end == "datum" else high_x
        inner = high_x if notch.end == "datum" else low_x
        sheet.dimension(at(end_x, low), at(end_x, high), 9 if notch.end == "datum" else -16, mm(high - low))
        a, b = sorted((end_x, inner))
        sheet.dimension(at(a, high_s), at(b, high_s), 6, f"{notch.id} {mm(b - a)}")
    holes = sorted({h.at[0] for h in member.holes if h.face == name})
    if holes:
        sheet.text(
            (at(0, high_s)[0], at(0, high_s)[1] + 16),
            "Holes: see the hole table; x from the datum end, at the left.",
            2.8,
        )
    sheet.circle(at(0, low_s), 1.0, "visible", "#000")
    sheet.text((at(0, low_s)[0] - 2.2, at(0, low_s)[1] - 4.2), "datum", 2.6, anchor="end")


def section_drawing(section: Section, width: float = 92.0, height: float = 92.0) -> tuple[str, str]:
    """The section, hatched, with its outside dimensions and the names of its faces; (SVG, scale)."""
    _, _, w, h = section.shape.bounds
    scale = scale_for(max(w, h), min(width, height) - 40)
    sheet = Canvas(width, height)
    x0, y0 = (width - w * scale) / 2, (height - h * scale) / 2 + 2
    shape = affinity.affine_transform(section.shape, [scale, 0, 0, scale, x0, y0])
    sheet.hatch(shape, 1.4)
    sheet.area(shape)
    sheet.dimension((x0, y0), (x0 + w * scale, y0), -9, mm(w))
    sheet.dimension((x0 + w * scale, y0), (x0 + w * scale, y0 + h * scale), -9, mm(h))
    walls = _thinnest_wall(section)
    if walls is not None:
        (a, b), thickness = walls
        sheet.leader(
            ((x0 + a[0] * scale + x0 + b[0] * scale) / 2, (y0 + a[1] * scale + y0 + b[1] * scale) / 2),
            (width - 17, height - 8),
            f"wall {mm(thickness)}",
        )
    for face in section.faces:
        n = face.normal
        px, py = x0 + face.centre[0] * scale + n[0] * 2.2, y0 + face.centre[1] * scale + n[1] * 2.2
        turn = 90.0 if abs(n[0]) > abs(n[1]) else 0.0
        shift = (-0.3 * n[0] if n[0] < 0 else 2.2 * n[0], -2.2 if n[1] < -0.5 else 0.0)
        sheet.text((px + shift[0], py + shift[1]), face.name, 2.8, anchor="middle", angle=turn, halo=True)
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
    member: Member, pocket: Pocket, wall: float, width: float = 128.0, height: float = 92.0
) -> tuple[str, str]:
    """One pocket seen from above and cut through, with radius, size, depth, skin and edge break; (SVG, scale)."""
    shape = affinity.translate(pocket.outline, -pocket.origin[0], -pocket.origin[1])
    low_x, low_s, high_x, high_s = shape.bounds
    w, h = high_x - low_x, high_s - low_s
    scale = min(scale_for(w, width - 62), scale_for(h + 3 * wall, height - 34))
    sheet = Canvas(width, height)
    x0, y0 = 16 - low_x * scale, height - 14 - high_s * scale
    paper = affinity.affine_transform(shape, [scale, 0, 0, scale, x0, y0])
    if pocket.edge_break > 0:
        sheet.area(
            affinity.affine_transform(shape.buffer(pocket.edge_break), [scale, 0, 0, scale, x0, y0]), "thin"
        )
    sheet.area(paper, "visible", "#f2f2f2")
    a, b = paper.bounds[0], paper.bounds[2]
    sheet.dimension((a, paper.bounds[3]), (b, paper.bounds[3]), 6, mm(w))
    sheet.dimension((b, paper.bounds[1]), (b, paper.bounds[3]), -14, mm(h))
    coords = np.asarray(paper.exterior.coords)
    corner = coords[np.argmax(coords[:, 0] - coords[:, 1])]
    sheet.leader(
        tuple(corner),
        (width - 30, paper.bounds[1] - 1),
        f"{len(pocket.corners) or 1} x R{mm(pocket.corner_radius)}",
    )
    metal = 6.0 / scale if scale >= 1 else 6.0
    top = paper.bounds[1] - 12
    t, d, e = wall * scale, pocket.depth * scale, pocket.edge_break * scale
    left, right = a - metal * scale, b + metal * scale
    if pocket.window:
        pieces = [
            [(left, top), (a, top), (a, top - t), (left, top - t)],
            [(b, top), (right, top), (right, top - t), (b, top - t)],
        ]
        for ring in pieces:
            sheet.hatch(Polygon(ring), 1.2)
            sheet.polyline(ring, close=True)
    else:
        ring = [
            (left, top),
            (a - e, top),
            (a, top - e),
            (a, top - d),
            (b, top - d),
            (b, top - e),
            (b + e, top),
            (right, top),
            (right, top - t),
            (left, top - t),
        ]
        sheet.hatch(Polygon(ring), 1.2)
        sheet.polyline(ring, close=True)
        middle = (a + b) / 2
        sheet.dimension((middle, top - t), (middle, top - d), -8 - (b - middle), f"skin {mm(pocket.skin)}")
        sheet.dimension((a + (b - a) * 0.25, top - d), (a + (b - a) * 0.25, top), 0.6, mm(pocket.depth))
    sheet.dimension((left, top - t), (left, top), 5, mm(wall))
    return sheet.svg(), scale_name(scale)


def distinct_pockets(member: Member) -> tuple[tuple[Pocket, int], ...]:
    """One pocket of every size and depth (turned copies count as one), with how many there are of it."""
    seen: dict[tuple[float, ...], tuple[Pocket, int]] = {}
    for p in member.pockets:
        key = (round(p.outline.area, 2), round(p.outline.length, 2), round(p.depth, 4), round(p.skin, 4))
        first, count = seen.get(key, (p, 0))
        seen[key] = (first, count + 1)
    return tuple(seen.values())
