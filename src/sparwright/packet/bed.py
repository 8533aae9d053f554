"""Drawings of the bed from above: the reach, the pads, the member at its angle, clamps; and each pad by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon, box

from sparwright.job.models import Bed
from sparwright.packet.canvas import Canvas
from sparwright.packet.faces import TEXT, Place, face_outline, scale_for, scale_name
from sparwright.packet.figures import METRIC, Display, mm
from sparwright.placing.model import Clamp, Pad, Pose, Setup
from sparwright.stock.model import Member

CLAMP_LETTERS = "abcdefghjkmnpq"
"""Marks of the clamps on the drawing of the bed and in its table."""


def on_bed(pose: Pose, shape: Polygon) -> Polygon:
    """A polygon in the face's (x, s) as it lies on the bed."""
    return Polygon(pose.to_bed(np.asarray(shape.exterior.coords)[:, :2]))


def pad_sheet_outline(pad: Pad) -> Polygon:
    """A pad's sheet in (x, s)."""
    return box(pad.x[0], pad.s[0], pad.x[1], pad.s[1])


def pad_corners(pad: Pad, pose: Pose) -> list[tuple[float, float]]:
    """The four corners of a pad on the bed, X and Y in mm, from the one nearest the bed's left front corner, counter-clockwise."""
    corners = np.asarray(on_bed(pose, pad_sheet_outline(pad)).exterior.coords)[:4]
    if Polygon(corners).exterior.is_ccw is False:
        corners = corners[::-1]
    first = int(np.argmin(corners.sum(axis=1)))
    return [(float(x), float(y)) for x, y in np.roll(corners, -first, axis=0)]


def bed_drawing(
    member: Member,
    setup: Setup,
    bed: Bed,
    show: Display = METRIC,
    *,
    width: float = 180.0,
    height: float = 112.0,
) -> tuple[str, str]:
    """The bed from above with everything on it for one side; (SVG, scale)."""
    pose = setup.pose
    body = on_bed(pose, face_outline(member, member.section.face(setup.face)))
    reach = box(0, 0, bed.reach[0], bed.reach[1])
    table = box(
        bed.bed_offset[0],
        bed.bed_offset[1],
        bed.bed_offset[0] + bed.bed_size[0],
        bed.bed_offset[1] + bed.bed_size[1],
    )
    everything = [body, reach, table, *(on_bed(pose, pad_sheet_outline(p)) for p in setup.pads)]
    low_x = min(g.bounds[0] for g in everything)
    low_y = min(g.bounds[1] for g in everything)
    high_x = max(g.bounds[2] for g in everything)
    high_y = max(g.bounds[3] for g in everything)
    scale = min(scale_for(high_x - low_x, width - 24), scale_for(high_y - low_y, height - 14))
    sheet = Canvas(width, height)
    x0 = (width - (low_x + high_x) * scale) / 2
    y0 = (height - (low_y + high_y) * scale) / 2

    def paper(shape: Polygon) -> Polygon:
        return Polygon(
            [(x0 + x * scale, y0 + y * scale) for x, y in np.asarray(shape.exterior.coords)[:, :2]]
        )

    sheet.area(paper(table), "faint")
    sheet.area(paper(reach), "hidden")
    words = f"reach {show.length(bed.reach[0])} x {show.size(bed.reach[1])}"
    sheet.text((x0 + bed.reach[0] * scale - 1.5, y0 + 1.4), words, TEXT, anchor="end", halo=True)
    for i, pad in enumerate(setup.pads, 1):
        outline = paper(on_bed(pose, pad_sheet_outline(pad)))
        sheet.area(outline, "thin", "#efefef")
        corner = np.asarray(outline.exterior.coords)[:4]
        out = corner[np.argmax(corner[:, 1] - corner[:, 0])]
        sheet.text((out[0] - 1, out[1] + 1), f"pad {i}", TEXT, anchor="end", bold=True, halo=True)
    sheet.area(paper(body), "visible", "#fff")
    for feature in member.on_face(setup.face):
        outline = getattr(feature, "outline", None)
        if outline is not None:
            sheet.area(paper(on_bed(pose, outline)), "faint")
        else:
            (x, y) = pose.to_bed(np.array([feature.at]))[0]
            sheet.circle(
                (x0 + x * scale, y0 + y * scale), max(feature.diameter * scale / 2, 0.35), "thin", "#000"
            )
    for letter, clamp in zip(CLAMP_LETTERS, setup.clamps, strict=False):
        shape = paper(on_bed(pose, clamp.footprint))
        sheet.hatch(shape, 1.0, 45)
        sheet.area(shape, "visible")
        sheet.text((shape.centroid.x + 2.5, shape.centroid.y - 3.2), letter, 3.6, bold=True, halo=True)
    if setup.dowel is not None:
        (x, y) = pose.to_bed(np.array([setup.dowel]))[0]
        sheet.circle((x0 + x * scale, y0 + y * scale), 0.9, "thin", "#fff")
        sheet.leader((x0 + x * scale, y0 + y * scale), (x0 + x * scale + 14, 2.5), "dowel", size=TEXT)
    for pad in setup.pads:
        if pad.stop is not None:
            (x, y) = pose.to_bed(np.array([pad.stop]))[0]
            sheet.circle((x0 + x * scale, y0 + y * scale), 0.9, "thin", "#000")
            sheet.text(
                (x0 + x * scale - 1.6, y0 + y * scale - 3.2), "stop pin", TEXT, anchor="end", halo=True
            )
    _axes(sheet, (x0, y0))
    a = pose.to_bed(np.array([[0.0, 0.0], [member.length, 0.0]]))
    end = (x0 + a[0][0] * scale, y0 + a[0][1] * scale)
    far = (x0 + a[1][0] * scale, y0 + a[1][1] * scale)
    sheet.line(end, far, "axis")
    middle = ((end[0] + far[0]) / 2, (end[1] + far[1]) / 2)
    sheet.text(
        middle,
        f"{mm(math.degrees(pose.angle), 3)}° from X",
        TEXT,
        anchor="middle",
        angle=_upright(pose.angle),
        halo=True,
    )
    near = (end[0] + 0.16 * (far[0] - end[0]), end[1] + 0.16 * (far[1] - end[1]))
    sheet.text(near, "datum end", TEXT, anchor="middle", angle=_upright(pose.angle), halo=True)
    return sheet.svg(), scale_name(scale)


def _upright(angle: float) -> float:
    degrees = math.degrees(angle) % 180
    return degrees - 180 if degrees > 90 else degrees


def _axes(sheet: Canvas, origin: tuple[float, float]) -> None:
    x, y = origin
    sheet.circle(origin, 1.1, "visible", "#fff")
    sheet.circle(origin, 0.35, "visible", "#000")
    for end, angle, name in (((x + 16, y), 0.0, "X"), ((x, y + 16), math.pi / 2, "Y")):
        sheet.line(origin, end, "heavy")
        sheet.arrow(end, angle, 2.6)
        sheet.text((end[0] + 1, end[1] + 1), name, 3.6, bold=True)
    sheet.text((x + 1, y - 4), "X0 Y0", TEXT, anchor="end", bold=True)


def pad_drawing(
    pad: Pad, number: int, side: str, show: Display = METRIC, *, width: float = 89.0, height: float = 70.0
) -> tuple[str, str]:
    """One pad by itself, its slot and holes measured from its own corner; (SVG, scale)."""
    length, across = pad.x[1] - pad.x[0], pad.s[1] - pad.s[0]
    scale = min(scale_for(length, height - 32), scale_for(across, width - 12))
    sheet = Canvas(width, height)
    x0, y0 = width - 1.5 - across * scale, 24.0

    def at(x: float, s: float) -> tuple[float, float]:
        # The pad is drawn with the member running up the sheet: s to the left, as seen looking along +x.
        return (x0 + (pad.s[1] - s) * scale, y0 + (x - pad.x[0]) * scale)

    sheet.polyline(
        [at(pad.x[0], pad.s[0]), at(pad.x[0], pad.s[1]), at(pad.x[1], pad.s[1]), at(pad.x[1], pad.s[0])],
        close=True,
    )
    low, high = pad.slot[side]
    slot = Polygon([at(pad.x[0], low), at(pad.x[0], high), at(pad.x[1], high), at(pad.x[1], low)])
    sheet.hatch(slot, 3.0)
    sheet.area(slot, "thin")
    sheet.line(at(pad.x[0], 0), at(pad.x[1] + 3 / scale, 0), "axis")
    corner = at(pad.x[0], pad.s[1])
    sheet.dimension(corner, at(pad.x[0], pad.s[0]), -17, show.length(across), size=TEXT)
    sheet.dimension(at(pad.x[0], high), at(pad.x[0], low), -6, f"slot {show.length(high - low)}", size=TEXT)
    sheet.dimension(corner, at(pad.x[0], high), -11.5, show.length(pad.s[1] - high), size=TEXT)
    sheet.dimension(corner, at(pad.x[1], pad.s[1]), 4, show.length(length), size=TEXT)
    _pad_holes(sheet, pad, show, at, scale, (at(pad.x[0], high)[0], at(pad.x[0], low)[0]))
    sheet.circle(corner, 1.0, "visible", "#000")
    kind = "locates" if pad.locates else "carries only"
    words = f"Pad {number}: {kind}, slot {show.size(pad.slot_depth)} deep, scale {scale_name(scale)}"
    sheet.text((0.5, height - 4.0), words, 3.5, bold=True)
    return sheet.svg(), scale_name(scale)


def _pad_holes(
    sheet: Canvas, pad: Pad, show: Display, at: Place, scale: float, slot: tuple[float, float]
) -> None:
    """The holes of a pad, each with where it lies from the pad's marked corner: across, along.

    slot: from and to of the slot on the sheet, mm; words beside it end before it.
    """
    radius = pad.insert_diameter * scale / 2
    holes = [(hole, radius, True, "") for hole in pad.inserts]
    holes += [(hole, radius, False, " by hand") for hole in pad.by_hand]
    if pad.stop is not None:
        holes.append((pad.stop, pad.stop_diameter * scale / 2, True, " stop"))
    for (x, s), r, bored, word in holes:
        place = at(x, s)
        if bored:
            sheet.circle(place, r, "visible", "#fff")
        sheet.cross(place, r + 1.2)
        words = f"{show.length(pad.s[1] - s, 1)}, {show.length(x - pad.x[0], 1)}{word}"
        below = place[1] + r + 6 > at(pad.x[1], s)[1]
        height = place[1] + (-r - 4.4 if below else r + 2.0)
        if place[0] < slot[0]:
            sheet.text((slot[0] - 1.0, height), words, TEXT, anchor="end", halo=True)
        elif place[0] > slot[1]:
            sheet.text((slot[1] + 1.0, height), words, TEXT, halo=True)
        else:
            sheet.text((place[0], height), words, TEXT, anchor="middle", halo=True)


def pad_table(setup: Setup, show: Display = METRIC) -> list[dict[str, str]]:
    """Where each pad goes on the bed and where its holes come out: text rows for the sheets."""

    def places(points: Sequence[tuple[float, float]], word: str = "") -> list[str]:
        found = setup.pose.to_bed(np.array(points)) if points else np.empty((0, 2))
        return [f"({show.length(x, 1)}, {show.length(y, 1)}){word}" for x, y in found]

    rows = []
    for i, pad in enumerate(setup.pads, 1):
        corners = pad_corners(pad, setup.pose)
        stop = [pad.stop] if pad.stop is not None else []
        bored = f" Ø{show.length(pad.insert_diameter)}"
        holes = places(pad.inserts, bored) + places(stop, f" Ø{show.length(pad.stop_diameter)} stop")
        rows.append(
            {
                "pad": str(i),
                "corners": ", ".join(f"({show.length(x, 1)}, {show.length(y, 1)})" for x, y in corners),
                "holes": ", ".join(holes + places(pad.by_hand, f"{bored} by hand")) or "none",
                "use": "locates" if pad.locates else "carries",
            }
        )
    return rows


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
