"""Drawings of the bed from above: the reach, the pads, the member at its angle, clamps, and its datum end larger."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from sparwright.job.models import Bed
from sparwright.packet.canvas import Canvas, Line
from sparwright.packet.faces import face_outline, scale_for, scale_name
from sparwright.packet.figures import METRIC, Display, mm
from sparwright.packet.labels import Labels
from sparwright.placing.model import Clamp, Pad, Pose, Setup
from sparwright.stock.model import Member

CLAMP_LETTERS = "abcdefghjkmnpq"
"""Marks of the clamps on the drawing of the bed and in its table."""
TEXT = 3.6
"""Size of text on what is read at the machine, mm: 10 pt."""
WIDTH, DETAIL = 180.0, 58.0  # mm of paper: the whole picture, and the side of the detail's frame


def on_bed(pose: Pose, shape: Polygon) -> Polygon:
    """A polygon in the face's (x, s) as it lies on the bed."""
    return Polygon(pose.to_bed(np.asarray(shape.exterior.coords)[:, :2]))


def pad_sheet_outline(pad: Pad) -> Polygon:
    """A pad's sheet in (x, s)."""
    return box(pad.x[0], pad.s[0], pad.x[1], pad.s[1])


@dataclass
class _View:
    """A view of the bed on the sheet: paper = (x0, y0) + scale * bed. Only what lies in `window` (bed, mm) is drawn."""

    sheet: Canvas
    scale: float
    x0: float
    y0: float
    window: Polygon

    def at(self, point: np.ndarray) -> tuple[float, float]:
        """A point of the bed on the paper."""
        return self.x0 + float(point[0]) * self.scale, self.y0 + float(point[1]) * self.scale

    def paper(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape on the bed, as it is on the paper."""
        return shapely.transform(shape, lambda p: p * self.scale + (self.x0, self.y0))

    def area(self, shape: Polygon, pen: Line, fill: str = "none") -> None:
        """A shape's metal and its outline, as far as the window goes."""
        for part in shapely.get_parts(shape.intersection(self.window)):
            if part.geom_type == "Polygon" and fill != "none":
                self.sheet.area(self.paper(part), "none", fill)
        self.lines(shape.exterior, pen)

    def lines(self, line: BaseGeometry, pen: Line) -> None:
        """Lines, as far as the window goes."""
        inside = shapely.line_merge(line.intersection(self.window))
        self.sheet.polylines(
            (self.paper(part).coords for part in shapely.get_parts(inside) if part.geom_type == "LineString"),
            pen,
        )

    def holds(self, point: np.ndarray) -> bool:
        """Whether a point of the bed is in the window."""
        return bool(self.window.contains(Point(point)))


def _table(bed: Bed) -> Polygon:
    x, y = bed.bed_offset
    return box(x, y, x + bed.bed_size[0], y + bed.bed_size[1])


def _bounds(shapes: list[Polygon]) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = np.array([s.bounds for s in shapes]).T
    return low_x.min(), low_y.min(), high_x.max(), high_y.max()


def bed_drawing(member: Member, setup: Setup, bed: Bed, show: Display = METRIC) -> tuple[str, str, str]:
    """The bed from above with everything on it for one side; (SVG, scale, scale of the detail of the datum end or "")."""
    body = on_bed(setup.pose, face_outline(member, member.section.face(setup.face)))
    reach = box(0, 0, bed.reach[0], bed.reach[1])
    pads = [on_bed(setup.pose, pad_sheet_outline(p)) for p in setup.pads]
    low_x, low_y, high_x, high_y = _bounds([body, reach, _table(bed), *pads])
    scale = min(scale_for(high_x - low_x, WIDTH - 40), scale_for(high_y - low_y, 98.0))
    detail = _detail_scale(setup, scale) if (high_x - low_x) * scale < WIDTH - DETAIL - 20 else 0.0
    height = max((high_y - low_y) * scale + 14, DETAIL + 16 if detail else 0.0)
    sheet = Canvas(WIDTH, height)
    middle = (WIDTH - DETAIL - 4) / 2 + 6 if detail else WIDTH / 2
    everywhere = box(low_x - 1, low_y - 1, high_x + 1, high_y + 1)
    whole = _View(
        sheet,
        scale,
        middle - (low_x + high_x) * scale / 2,
        height / 2 - (low_y + high_y) * scale / 2,
        everywhere,
    )
    frame = _frame(setup, detail) if detail else None
    labels = Labels(
        sheet, (1.0, 1.0, WIDTH - (DETAIL + 4 if detail else 1.0), height - 1.0), Point(-1e3, -1e3), TEXT
    )
    _lay(whole, member, setup, bed)
    if frame is not None:
        sheet.area(whole.paper(frame), "thin")
        labels.soft(whole.paper(frame.exterior))
    _words(whole, labels, member, setup, (bed, show))
    if frame is not None:
        _label(whole, labels, np.array(frame.bounds[2:]), "Z", 1.0)
        low = np.array(frame.bounds[:2])
        corner = np.array([WIDTH - DETAIL - 1.0, height - DETAIL - 8.0])
        x0, y0 = (float(v) for v in corner - detail * low)
        near = _View(sheet, detail, x0, y0, frame)
        _detail(near, member, setup, bed)
        words = f"Z ({scale_name(detail)})"
        sheet.text((corner[0] + DETAIL / 2, height - 5.0), words, TEXT, anchor="middle", bold=True)
    return sheet.svg(), scale_name(scale), scale_name(detail) if detail else ""


def _detail_scale(setup: Setup, scale: float) -> float:
    """The largest scale at which the datum end's pad is inside the detail's frame; 0 where that shows no more."""
    first = min(setup.pads, key=lambda p: p.x[0], default=None)
    across = np.ptp(setup.body.bounds[1::2]) if first is None else max(p.s[1] - p.s[0] for p in (first,))
    found = scale_for(1.15 * across, DETAIL)
    return found if found > 1.5 * scale else 0.0


def _frame(setup: Setup, detail: float) -> Polygon:
    """What the detail shows: a square of the bed about the datum end."""
    x, y = setup.pose.to_bed(np.array([[0.35 * DETAIL / detail, 0.0]]))[0]
    half = DETAIL / detail / 2
    return box(x - half, y - half, x + half, y + half)


def _lay(view: _View, member: Member, setup: Setup, bed: Bed) -> None:
    """The bed, the pads, the member with what is cut on this side, and the clamps."""
    pose = setup.pose
    view.area(_table(bed), "faint")
    for pad in setup.pads:
        view.area(on_bed(pose, pad_sheet_outline(pad)), "thin", "#efefef")
    view.area(on_bed(pose, face_outline(member, member.section.face(setup.face))), "visible", "#fff")
    for feature in member.on_face(setup.face):
        outline = getattr(feature, "outline", None)
        if outline is not None:
            view.area(on_bed(pose, outline), "faint")
            continue
        place = pose.to_bed(np.array([feature.at]))[0]
        if view.holds(place):
            view.sheet.circle(view.at(place), max(feature.diameter * view.scale / 2, 0.35), "thin", "#000")
    view.lines(box(0, 0, bed.reach[0], bed.reach[1]).exterior, "hidden")
    view.lines(LineString(pose.to_bed(np.array([[0.0, 0.0], [member.length, 0.0]]))), "axis")
    for clamp in setup.clamps:
        shape = on_bed(pose, clamp.footprint).intersection(view.window)
        view.sheet.hatch(view.paper(shape), 1.0, 45)
        view.area(on_bed(pose, clamp.footprint), "visible")
    for stop, fill in _stops(setup):
        if view.holds(stop):
            view.sheet.circle(view.at(stop), 0.9, "thin", fill)
    corner = pose.to_bed(np.array([[0.0, setup.body.bounds[1]]]))[0]
    view.sheet.circle(view.at(corner), 0.9, "visible", "#000")
    _axes(view)


def _stops(setup: Setup) -> list[tuple[np.ndarray, str]]:
    """Where what stops the datum end stands on the bed, and how it is filled: a dowel open, a pin black."""
    stops = [(p.stop, "#000") for p in setup.pads if p.stop is not None]
    stops += [(setup.dowel, "#fff")] if setup.dowel is not None else []
    return [(setup.pose.to_bed(np.array([at]))[0], fill) for at, fill in stops]


def _axes(view: _View) -> None:
    origin = np.zeros(2)
    if not view.holds(origin):
        return
    x, y = view.at(origin)
    view.sheet.circle((x, y), 1.1, "visible", "#fff")
    view.sheet.circle((x, y), 0.35, "visible", "#000")
    for end, angle in (((x + 16, y), 0.0), ((x, y + 16), math.pi / 2)):
        view.sheet.line((x, y), end, "heavy")
        view.sheet.arrow(end, angle, 2.6)


def _keep_clear(view: _View, labels: Labels, member: Member, setup: Setup, bed: Bed) -> None:
    """Labels stay off the member, the clamps and the axes, and off the pads' edges where they can."""
    body = on_bed(setup.pose, face_outline(member, member.section.face(setup.face)))
    labels.keep_off(view.paper(body.intersection(view.window)))
    for clamp in setup.clamps:
        labels.keep_off(view.paper(on_bed(setup.pose, clamp.footprint)))
    for pad in setup.pads:
        labels.soft(view.paper(on_bed(setup.pose, pad_sheet_outline(pad)).exterior))
    labels.soft(view.paper(_table(bed).exterior))
    labels.soft(view.paper(box(0, 0, *bed.reach).exterior))
    for stop, _ in _stops(setup):
        labels.keep_off(Point(view.at(stop)).buffer(1.0))
    x, y = view.at(np.zeros(2))
    labels.keep_off(LineString([(x, y + 16), (x, y), (x + 16, y)]).buffer(1.2))


def _label(view: _View, labels: Labels, place: np.ndarray, text: str, off: float) -> None:
    if view.holds(place):
        labels.point_out(view.at(place), text, off, bold=True)


def _words(view: _View, labels: Labels, member: Member, setup: Setup, bench: tuple[Bed, Display]) -> None:
    """The words of the whole view. bench: the bed, and how figures are shown."""
    bed, show = bench
    pose = setup.pose
    _keep_clear(view, labels, member, setup, bed)
    _along(view, labels, member, setup)
    for letter, clamp in zip(CLAMP_LETTERS, setup.clamps, strict=False):
        _label(view, labels, np.array(on_bed(pose, clamp.footprint).centroid.coords[0]), letter, 2.6)
    for i, pad in enumerate(setup.pads, 1):
        corners = np.asarray(on_bed(pose, pad_sheet_outline(pad)).exterior.coords)[:4]
        _label(view, labels, corners[np.argmax(corners[:, 1] - corners[:, 0])], f"pad {i}", 1.0)
    x, y = view.at(np.zeros(2))
    labels.place((x + 16, y), "X", 2.0, bold=True)
    labels.place((x, y + 16), "Y", 2.0, bold=True)
    _label(view, labels, np.zeros(2), "X0 Y0", 2.0)
    words = f"reach {show.length(bed.reach[0])} x {show.size(bed.reach[1])}"
    labels.place(view.at(np.array([bed.reach[0], 0.0])), words, 1.5)


def _along(view: _View, labels: Labels, member: Member, setup: Setup) -> None:
    """The angle of the member and which end is the datum, written along it, beside it."""
    pose = setup.pose
    turn = _upright(pose.angle)
    flipped = abs(math.degrees(pose.angle) % 360 - turn % 360) > 90
    s = setup.body.bounds[1] if flipped else setup.body.bounds[3]
    words = f"{mm(math.degrees(pose.angle), 3)}° from X"
    edge = view.at(pose.to_bed(np.array([[member.length / 2, s]]))[0])
    up = np.array([-math.sin(math.radians(turn)), math.cos(math.radians(turn))])
    at = np.array(edge) + 1.6 * up
    view.sheet.text((at[0], at[1]), words, TEXT, anchor="middle", angle=turn, halo=True)
    half = 0.27 * TEXT * len(words) * np.array([up[1], -up[0]])
    labels.keep_off(LineString([at - half, at + half]).buffer(TEXT / 2))


def _detail(view: _View, member: Member, setup: Setup, bed: Bed) -> None:
    """The datum end larger: framed, with the words that are wanted there."""
    frame = view.paper(view.window)
    view.sheet.area(frame, "none", "#fff")
    _lay(view, member, setup, bed)
    view.sheet.area(frame, "thin")
    labels = Labels(view.sheet, frame.buffer(-0.5).bounds, Point(-1e3, -1e3), TEXT)
    _keep_clear(view, labels, member, setup, bed)
    for letter, clamp in zip(CLAMP_LETTERS, setup.clamps, strict=False):
        place = np.array(on_bed(setup.pose, clamp.footprint).centroid.coords[0])
        _label(view, labels, place, letter, 3.0)
    for stop, fill in _stops(setup):
        _label(view, labels, stop, "dowel" if fill == "#fff" else "stop pin", 1.8)
    _label(view, labels, np.zeros(2), "X0 Y0", 2.0)
    corner = setup.pose.to_bed(np.array([[0.0, setup.body.bounds[1]]]))[0]
    _label(view, labels, corner, "datum", 1.8)


def _upright(angle: float) -> float:
    degrees = math.degrees(angle) % 180
    return degrees - 180 if degrees > 90 else degrees


def clamp_rows(clamps: tuple[Clamp, ...], show: Display = METRIC) -> list[dict[str, str]]:
    """Clamps for the sheets: place along the member, screw, torque, force, each with its unit."""
    return [
        {
            "name": f"{letter}  {c.name}",
            "x": show.size(c.footprint.centroid.x, 0),
            "s": show.size(c.footprint.centroid.y, 0),
            "screw": c.screw,
            "torque": show.number(round(c.torque_Nm, 1), "N m"),
            "force": show.number(round(c.force_N), "N"),
        }
        for letter, c in zip(CLAMP_LETTERS, clamps, strict=False)
    ]
