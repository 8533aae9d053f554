"""Faces and the section of the member as DXF."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import shapely
from ezdxf.addons import r12writer

from sparwright.packet.exports.notes import edge_note
from sparwright.packet.whole import write_whole
from sparwright.stock.model import Face, Member
from sparwright.stock.outlines import with_bulges

NOTE_HEIGHT = 3.5  # mm, height of text in the drawing
UNITS = "Lengths in mm."  # this form of DXF has no place of its own for units


def write_section_dxf(member: Member, path: Path) -> None:
    """The cross-section in (y, z), mm, as closed polylines with true arcs: layers OUTLINE, CELLS and NOTES (the units)."""

    def write(p: Path) -> None:
        with r12writer(p) as dxf:
            shape = member.section.shape
            _closed(dxf, shapely.get_coordinates(shape.exterior)[:-1], "OUTLINE")
            for ring in shape.interiors:
                _closed(dxf, shapely.get_coordinates(ring)[:-1], "CELLS")
            dxf.add_text(
                UNITS, (shape.bounds[0], shape.bounds[1] - 2 * NOTE_HEIGHT), NOTE_HEIGHT, layer="NOTES"
            )

    write_whole(path, write)


def write_face_dxf(member: Member, face: Face, path: Path) -> None:
    """A face as seen from outside, x to the right and s up, mm, edge breaks left out.

    Layers: FACE (the flat), POCKETS, WINDOWS, NOTCHES, HOLES, COUNTERBORES, AXIS (the centre line s = 0), NOTES (lines
    of text under the face: the units, and which edge breaks are left out).
    """
    half = face.width / 2
    note = edge_note(member, face.name)
    flat = np.array([[0.0, -half], [member.length, -half], [member.length, half], [0.0, half]])

    def write(p: Path) -> None:
        with r12writer(p) as dxf:
            _closed(dxf, flat, "FACE")
            dxf.add_line((0.0, 0.0), (member.length, 0.0), layer="AXIS")
            for line, text in enumerate(filter(None, (UNITS, note)), 1):
                dxf.add_text(text, (0.0, -half - 2 * line * NOTE_HEIGHT), NOTE_HEIGHT, layer="NOTES")
            for pocket in member.pockets:
                if pocket.face == face.name:
                    layer = "WINDOWS" if pocket.window else "POCKETS"
                    _closed(dxf, shapely.get_coordinates(pocket.outline.exterior)[:-1], layer)
            for notch in member.notches:
                if notch.face == face.name:
                    _closed(dxf, shapely.get_coordinates(notch.outline.exterior)[:-1], "NOTCHES")
            for hole in member.holes:
                if hole.face == face.name:
                    dxf.add_circle(hole.at, hole.diameter / 2, layer="HOLES")
                    if hole.counterbore:
                        dxf.add_circle(hole.at, hole.counterbore[0] / 2, layer="COUNTERBORES")

    write_whole(path, write)


def _closed(dxf: Any, ring: np.ndarray, layer: str) -> None:
    dxf.add_polyline_2d(with_bulges(ring), format="xyb", closed=True, layer=layer)
