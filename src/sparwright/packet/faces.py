"""Dimensioned views on the faces of the member, after the habits of ISO 128 and ISO 129, and their hole table."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon, box

from sparwright.packet.canvas import Canvas
from sparwright.packet.figures import METRIC, Display
from sparwright.stock.model import Face, Hole, Member

Place = Callable[[float, float], tuple[float, float]]

SCALES = (5.0, 2.0, 1.0, 1 / 2, 1 / 2.5, 1 / 5, 1 / 10, 1 / 20, 1 / 50)
"""Drawing scales of ISO 5455, largest first (1:2.5 is its permitted in-between)."""


TEXT = 3.2
"""Size of drawing text, mm: 9 pt."""


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


def _what(hole: Hole, show: Display) -> str:
    through = {
        "wall": "through the wall",
        "all": "through all",
        "blind": f"{show.size(hole.depth)} deep",
    }[hole.through]
    if hole.kind == "tapped":
        return f"tap {hole.thread}, {through}"
    if hole.kind == "counterbored" and hole.counterbore is not None:
        wide, deep = hole.counterbore
        return f"clearance {hole.thread}, counterbore Ø{show.size(wide)}, {show.size(deep)} deep, {through}"
    if hole.kind == "clearance":
        return f"clearance {hole.thread}, {through}"
    return f"drilled, {through}"


def face_edge(member: Member, face: Face) -> float:
    """Where the member's lower outline edge lies across the face, s in mm: the datum edge of the drawing."""
    corners = np.array(member.section.shape.exterior.coords)[:, :2] - np.asarray(face.centre)
    return float((corners @ face.across).min())


def hole_rows(member: Member, show: Display = METRIC) -> tuple[HoleRow, ...]:
    """All holes, marked A1, A2, ... by face and in order along the member."""
    rows = []
    for letter, name in zip("ABCDEFGHJKLMNP", member.worked_faces, strict=False):
        face = member.section.face(name)
        edge = face_edge(member, face)
        holes = sorted((h for h in member.holes if h.face == name), key=lambda h: (h.at[0], h.at[1]))
        rows += [
            HoleRow(
                f"{letter}{i}",
                h.id,
                name,
                h.at[0],
                h.at[1],
                h.at[1] - edge,
                h.diameter,
                _what(h, show),
                h.depth,
            )
            for i, h in enumerate(holes, 1)
        ]
    return tuple(rows)


def face_outline(member: Member, face: Face) -> Polygon:
    """The member's outline as seen on a face, in (x, s)."""
    corners = np.array(member.section.shape.exterior.coords)[:, :2] - np.asarray(face.centre)
    across = corners @ face.across
    return box(0.0, float(across.min()), member.length, float(across.max()))


def face_scale(member: Member, name: str, width: float = 258.0) -> float:
    """The scale of the view on a face, on a sheet `width` mm wide."""
    _, low, _, high = face_outline(member, member.section.face(name)).bounds
    return min(scale_for(member.length, width - 22), scale_for(high - low, 52))


def face_drawing(
    member: Member,
    name: str,
    show: Display = METRIC,
    *,
    width: float = 258.0,
    framed: tuple[float, float] | None = None,
) -> tuple[str, str]:
    """The view on one face with its main dimensions; (SVG text, scale in words).

    framed: from where to where along the member (x, mm) a detail Z shows more.
    """
    face = member.section.face(name)
    outline = face_outline(member, face)
    low_s, high_s = outline.bounds[1], outline.bounds[3]
    scale = face_scale(member, name, width)
    height = (high_s - low_s) * scale + 46
    sheet = Canvas(width, height)
    x0, y0 = (width - member.length * scale) / 2 + 2.5, height / 2 - (low_s + high_s) / 2 * scale + 5

    def at(x: float, s: float) -> tuple[float, float]:
        return (x0 + x * scale, y0 + s * scale)

    def paper(shape: Polygon) -> Polygon:
        return affinity.affine_transform(shape, [scale, 0, 0, scale, x0, y0])

    body = outline
    for notch in (f for f in member.notches if f.face == name):
        body = body.difference(notch.outline)
    sheet.area(paper(body))
    for y in (-face.width / 2, face.width / 2):
        if abs(y - low_s) > 0.2 and abs(y - high_s) > 0.2:
            sheet.line(at(0, y), at(member.length, y), "faint")
    sheet.line(at(-6 / scale, 0), at(member.length + 4 / scale, 0), "axis")
    for pocket in (p for p in member.pockets if p.face == name):
        outline = paper(pocket.outline)
        sheet.area(outline, "thin", "#fff" if pocket.window else "#e4e4e4")
        if pocket.window:  # a window is crossed corner to corner, as an opening is
            low_x, low, high_x, high = outline.bounds
            sheet.line((low_x, low), (high_x, high), "hair")
            sheet.line((low_x, high), (high_x, low), "hair")
    _marks(sheet, at, member, name, scale)
    _face_dimensions(sheet, at, member, name, (low_s, high_s), show)
    if framed is not None:
        (left, low), (right, high) = at(framed[0], low_s), at(framed[1], high_s)
        sheet.area(box(left - 1.2, low - 1.2, right, high + 1.2), "thin")
        marked = any(
            h.at[1] < 0 and abs(h.at[0] - framed[1]) * scale < 8 for h in member.holes if h.face == name
        )
        sheet.text((right + 0.8, high + 1.0 if marked else low - 3.6), "Z", TEXT, bold=True, halo=True)
    return sheet.svg(), scale_name(scale)


def _marks(sheet: Canvas, at: Place, member: Member, name: str, scale: float) -> None:
    """Holes with their marks on leaders that end above or below the face; marks stand side by side, never on another."""
    bounds = face_outline(member, member.section.face(name)).bounds
    free = {1: -1e9, -1: -1e9}
    for row in (r for r in hole_rows(member) if r.face == name):
        x, y = at(row.x, row.s)
        radius = max(row.drill * scale / 2, 0.5)
        sheet.circle((x, y), radius, "visible", "#fff")
        sheet.cross((x, y), radius + 0.9)
        side = 1 if row.s >= 0 else -1
        foot = max(x, free[side] + 6.5)
        free[side] = foot
        edge = at(row.x, bounds[3] if side > 0 else bounds[1])[1] + side * 1.6
        sheet.line((x, y + side * radius), (foot, edge), "thin")
        sheet.text(
            (foot, edge + (0.6 if side > 0 else -2.9)), row.mark, TEXT, anchor="middle", bold=True, halo=True
        )


def _face_dimensions(
    sheet: Canvas, at: Place, member: Member, name: str, across: tuple[float, float], show: Display
) -> None:
    pockets = [p for p in member.pockets if p.face == name]
    notches = [n for n in member.notches if n.face == name]
    low_s, high_s = across
    length = member.length
    sheet.dimension(at(0, low_s), at(length, low_s), -20, show.length(length), size=TEXT)
    sheet.dimension(at(length, low_s), at(length, high_s), -7, show.length(high_s - low_s), size=TEXT)
    if pockets:
        first = min(p.outline.bounds[0] for p in pockets)
        last = max(p.outline.bounds[2] for p in pockets)
        sheet.dimension(at(0, low_s), at(first, low_s), -11, show.length(first), size=TEXT)
        sheet.dimension(at(last, low_s), at(length, low_s), -11, show.length(length - last), size=TEXT)
    for notch in notches:
        low_x, low, high_x, high = notch.outline.intersection(box(0, low_s, length, high_s)).bounds
        end_x = low_x if notch.end == "datum" else high_x
        inner = high_x if notch.end == "datum" else low_x
        out = 7 if notch.end == "datum" else -15
        sheet.dimension(at(end_x, low), at(end_x, high), out, show.length(high - low), size=TEXT)
        a, b = sorted((end_x, inner))
        text = f"{notch.id} {show.length(b - a)}"
        sheet.dimension(at(a, high_s), at(b, high_s), 10, text, size=TEXT)
    sheet.circle(at(0, low_s), 1.0, "visible", "#000")
    sheet.text((at(0, low_s)[0] - 2.2, at(0, low_s)[1] - 4.2), "datum", TEXT, anchor="end", bold=True)
