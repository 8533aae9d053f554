"""A detail of a face's pattern at a larger scale, after the habits of ISO 128: framed and lettered on the view it is of."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from sparwright.packet.canvas import Canvas
from sparwright.packet.faces import TEXT, face_outline, hole_rows, scale_for, scale_name
from sparwright.packet.figures import METRIC, Display
from sparwright.stock.model import Member, Pocket

LETTER = "Z"
"""What the detail is called; holes take their letters from the beginning of the alphabet."""
LARGER = 1.9  # a detail shows things at least this many times larger than its view
SIDES, ENDS = (13.0, 15.0), (19.0, 14.0)  # mm of paper left and right of the face, below and above it
SAME = 1e-3  # lengths nearer than this are alike, mm


@dataclass(frozen=True)
class FaceDetail:
    """A drawing (SVG), its scale in words, and from where to where along the member it goes, x in mm."""

    svg: str
    scale: str
    span: tuple[float, float]


def face_detail(
    member: Member,
    name: str,
    view_scale: float,
    show: Display = METRIC,
    *,
    width: float,
    height: float = 92.0,
) -> FaceDetail | None:
    """The start of a face's pockets, larger than on its view at `view_scale`; None where it would be no larger.

    Shown: the pockets with their names, how far the first is from the datum end, the margins to the face's edges,
    the least rib and the pitch along a row, the holes with their marks. width, height: most mm of paper.
    """
    pockets = sorted((p for p in member.pockets if p.face == name), key=lambda p: p.outline.bounds[0])
    low, high = face_outline(member, member.section.face(name)).bounds[1::2]
    scale = scale_for(high - low, height - sum(ENDS))
    if not pockets or scale < LARGER * view_scale:
        return None
    room = (width - sum(SIDES)) / scale
    first = pockets[0].outline.bounds[0]
    start = 0.0 if first < 0.6 * room else first - 0.1 * room
    end = min(start + room, member.length)
    sheet = Canvas((end - start) * scale + sum(SIDES), (high - low) * scale + sum(ENDS))
    near = _Near(sheet, scale, (SIDES[0] - start * scale, ENDS[0] - low * scale), box(start, low, end, high))
    _metal(near, member, name)
    shown = [p for p in pockets if near.window.contains(p.outline)]
    for pocket in pockets:
        near.area(pocket.outline, "#fff" if pocket.window else "#e4e4e4")
    for pocket in shown:
        _name(near, pocket)
    for row in (r for r in hole_rows(member) if r.face == name and start < r.x < end):
        x, y = near.at(row.x, row.s)
        radius = max(row.drill * scale / 2, 0.6)
        sheet.circle((x, y), radius, "visible", "#fff")
        sheet.cross((x, y), radius + 1.2)
        sheet.text((x + radius + 0.8, y + 0.9), row.mark, TEXT, bold=True, halo=True)
    _sizes(near, shown, show)
    return FaceDetail(sheet.svg(), scale_name(scale), (start, end))


@dataclass(frozen=True)
class _Near:
    """The detail on its sheet: paper = scale * (x, s) + shift; window: what of the face it shows."""

    sheet: Canvas
    scale: float
    shift: tuple[float, float]
    window: Polygon

    def at(self, x: float, s: float) -> tuple[float, float]:
        return self.shift[0] + x * self.scale, self.shift[1] + s * self.scale

    def paper(self, shape: BaseGeometry) -> BaseGeometry:
        return affinity.affine_transform(shape, [self.scale, 0, 0, self.scale, *self.shift])

    def area(self, shape: Polygon, fill: str) -> None:
        """A pocket, its outline left open where the detail ends."""
        for part in shapely.get_parts(shape.intersection(self.window)):
            if part.geom_type == "Polygon":
                self.sheet.area(self.paper(part), "none", fill)
        line = shapely.line_merge(shape.exterior.intersection(self.window))
        self.sheet.polylines((self.paper(p).coords for p in shapely.get_parts(line)), "visible")


def _metal(near: _Near, member: Member, name: str) -> None:
    """The face's outline with its notches, and a zigzag where the detail breaks off."""
    body = face_outline(member, member.section.face(name))
    for notch in (n for n in member.notches if n.face == name):
        body = body.difference(notch.outline)
    start, low, end, high = near.window.bounds
    breaks = [x for x, broken in ((start, start > 0), (end, end < member.length)) if broken]
    edges = body.exterior.intersection(near.window)
    for x in breaks:
        edges = edges.difference(LineString([(x, low), (x, high)]).buffer(SAME))
    lines = [p for p in shapely.get_parts(shapely.line_merge(edges)) if p.geom_type == "LineString"]
    near.sheet.polylines((near.paper(p).coords for p in lines), "visible")
    near.sheet.line(near.at(start, 0), near.at(end, 0), "axis")
    for x in breaks:
        (px, bottom), (_, top) = near.at(x, low), near.at(x, high)
        middle = (bottom + top) / 2
        turns = [(0, bottom - 2), (0, middle - 2.5), (1.6, middle - 1), (-1.6, middle + 1), (0, middle + 2.5)]
        near.sheet.polyline([*((px + dx, y) for dx, y in turns), (px, top + 2)], "thin")


def _name(near: _Near, pocket: Pocket) -> None:
    """The pocket's name in its field, where there is room for it."""
    text = pocket.id.rsplit("/", 1)[-1]
    shape = near.paper(pocket.outline)
    half, rise = 0.26 * TEXT * len(text), TEXT / 2
    x, y = shape.centroid.coords[0]
    if shape.buffer(0.2).contains(box(x - half, y - rise, x + half, y + rise)):
        near.sheet.text((x, y - 0.35 * TEXT), text, TEXT, anchor="middle")


def _sizes(near: _Near, shown: list[Pocket], show: Display) -> None:
    """First pocket, margins to the edges, pitch of a row, and the least rib."""
    if not shown:
        return
    sheet = near.sheet
    start, low, end, high = near.window.bounds
    bounds = np.array([p.outline.bounds for p in shown])
    if start == 0.0:
        first = float(bounds[:, 0].min())
        sheet.dimension(near.at(0, low), near.at(first, low), -9, show.length(first), size=TEXT)
    for edge, nearest in ((low, float(bounds[:, 1].min())), (high, float(bounds[:, 3].max()))):
        a, b = sorted((edge, nearest))
        if b - a > SAME:
            sheet.dimension(near.at(end, a), near.at(end, b), -6, show.length(b - a), size=TEXT)
    pairs = list(combinations(shown, 2))
    rows = [
        (abs(b.origin[0] - a.origin[0]), a, b)
        for a, b in pairs
        if abs(a.origin[1] - b.origin[1]) < SAME and abs(a.outline.area - b.outline.area) < SAME
    ]
    if rows:
        pitch, a, b = min(rows, key=lambda r: (round(r[0], 3), -r[1].origin[1], r[1].origin[0]))
        left, right = sorted((a.origin[0], b.origin[0]))
        s = a.origin[1]
        lift = near.at(0, high)[1] - near.at(0, s)[1] + 7
        sheet.dimension(near.at(left, s), near.at(right, s), lift, f"pitch {show.length(pitch)}", size=TEXT)
    ribs = [(a.outline.distance(b.outline), a, b) for a, b in pairs]
    if ribs:
        rib, a, b = min(ribs, key=lambda r: (round(r[0], 3), min(r[1].origin[1], r[2].origin[1])))
        ends = np.array([p.coords[0] for p in nearest_points(a.outline, b.outline)])
        tip = near.at(*(float(v) for v in ends.mean(axis=0)))
        words = f"least rib {show.length(rib)}"
        right = tip[0] + 8 + 0.5 * TEXT * len(words) + 1 < sheet.width - 2
        knee = (tip[0] + (8 if right else -8), near.at(0, low)[1] - 14)
        sheet.leader(tip, knee, words, size=TEXT)
