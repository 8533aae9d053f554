"""Drawings of the pads: each by itself, its slot and holes measured from its own corner, and their tables."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.packet.bed import TEXT, on_bed, pad_sheet_outline
from sparwright.packet.canvas import Canvas
from sparwright.packet.faces import Place, scale_for, scale_name
from sparwright.packet.figures import METRIC, Display
from sparwright.placing.model import Pad, Pose, Setup


@dataclass(frozen=True)
class PadHole:
    """A hole of a pad. mark: pad's number and a letter. at: (x, s) in mm. bored: by the machine, else by hand."""

    mark: str
    use: str
    at: tuple[float, float]
    diameter: float
    bored: bool


def holes_of(pad: Pad, number: int) -> tuple[PadHole, ...]:
    """The holes of one pad with their marks: 1a, 1b, ..."""
    found = [("clamp screw", at, pad.insert_diameter, True) for at in pad.inserts]
    found += [("clamp screw", at, pad.insert_diameter, False) for at in pad.by_hand]
    found += [("stop pin", pad.stop, pad.stop_diameter, True)] if pad.stop is not None else []
    letters = "abcdefghjkmnpqrstuvwxyz"
    return tuple(
        PadHole(f"{number}{letter}", use, at, diameter, bored)
        for letter, (use, at, diameter, bored) in zip(letters, found, strict=False)
    )


def pad_corners(pad: Pad, pose: Pose) -> list[tuple[float, float]]:
    """The four corners of a pad on the bed, X and Y in mm, from the one nearest the bed's left front corner, counter-clockwise."""
    corners = np.asarray(on_bed(pose, pad_sheet_outline(pad)).exterior.coords)[:4]
    if Polygon(corners).exterior.is_ccw is False:
        corners = corners[::-1]
    first = int(np.argmin(corners.sum(axis=1)))
    return [(float(x), float(y)) for x, y in np.roll(corners, -first, axis=0)]


def pad_drawing(
    pad: Pad, number: int, side: str, show: Display = METRIC, *, width: float = 89.0, height: float = 66.0
) -> tuple[str, str]:
    """One pad by itself, its slot and holes measured from its own corner; (SVG, scale)."""
    length, across = pad.x[1] - pad.x[0], pad.s[1] - pad.s[0]
    scale = min(scale_for(length, height - 30), scale_for(across, width - 12))
    sheet = Canvas(width, height)
    x0, y0 = width - 1.5 - across * scale, 20.5

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
    sheet.dimension(corner, at(pad.x[0], pad.s[0]), -16, show.length(across), size=TEXT)
    sheet.dimension(at(pad.x[0], high), at(pad.x[0], low), -5.5, f"slot {show.length(high - low)}", size=TEXT)
    sheet.dimension(corner, at(pad.x[0], high), -10.75, show.length(pad.s[1] - high), size=TEXT)
    sheet.dimension(corner, at(pad.x[1], pad.s[1]), 4, show.length(length), size=TEXT)
    _holes(sheet, holes_of(pad, number), at, scale, at(pad.x[1], low)[1])
    sheet.circle(corner, 1.0, "visible", "#000")
    kind = "locates" if pad.locates else "carries only"
    words = f"Pad {number}: {kind}, slot {show.size(pad.slot_depth)} deep, scale {scale_name(scale)}"
    sheet.text((0.5, height - 4.0), words, 3.5, bold=True)
    return sheet.svg(), scale_name(scale)


def _holes(sheet: Canvas, holes: tuple[PadHole, ...], at: Place, scale: float, top: float) -> None:
    """The holes of a pad, each with its mark; top: of the pad on the sheet, mm."""
    for hole in holes:
        x, y = at(*hole.at)
        r = hole.diameter * scale / 2
        if hole.bored:
            sheet.circle((x, y), r, "visible", "#fff")
        sheet.cross((x, y), r + 1.2)
        below = y + r + 6 > top
        sheet.text(
            (x, y + (-r - 4.6 if below else r + 2.0)), hole.mark, TEXT, anchor="middle", bold=True, halo=True
        )


def pad_table(setup: Setup, show: Display = METRIC) -> list[dict[str, object]]:
    """Where each pad goes on the bed: its number, use and four corners, lengths without their unit."""
    return [
        {
            "pad": str(i),
            "use": "locates" if pad.locates else "carries",
            "corners": [f"{show.length(x, 1)}, {show.length(y, 1)}" for x, y in pad_corners(pad, setup.pose)],
        }
        for i, pad in enumerate(setup.pads, 1)
    ]


def pad_hole_table(setup: Setup, show: Display = METRIC) -> list[dict[str, str]]:
    """Every hole of the pads, from the pad's marked corner and on the bed, lengths without their unit."""
    rows = []
    for i, pad in enumerate(setup.pads, 1):
        for hole in holes_of(pad, i):
            x, y = setup.pose.to_bed(np.array([hole.at]))[0]
            rows.append(
                {
                    "mark": hole.mark,
                    "use": hole.use,
                    "diameter": show.length(hole.diameter),
                    "across": show.length(pad.s[1] - hole.at[1]),
                    "along": show.length(hole.at[0] - pad.x[0]),
                    "x": show.length(x),
                    "y": show.length(y),
                    "made": "the machine" if hole.bored else "hand",
                }
            )
    return rows
