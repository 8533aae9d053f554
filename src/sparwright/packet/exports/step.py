"""Solids as STEP, arcs as true arcs: the member."""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from sparwright.packet.exports.notes import edge_note
from sparwright.packet.whole import write_whole
from sparwright.stock.model import Face, Member, NotchCut, Pocket
from sparwright.stock.outlines import arc_middle, with_bulges
from sparwright.stock.solids import OVER


def has_step() -> bool:
    """Whether the geometry kernel that writes STEP is there (it has no build for Linux on ARM)."""
    return importlib.util.find_spec("netgen") is not None


def write_step(member: Member, path: Path) -> None:
    """The member as STEP, mm, arcs as true arcs; edge breaks are left out, which the file says."""
    write_shape(step_shape(member), member.title, edge_note(member), path)


def write_shape(shape: Any, title: str, note: str, path: Path) -> None:
    """A solid of the geometry kernel as STEP. title: name of the product. note: its description, and the file's."""

    def write(p: Path) -> None:
        shape.WriteStep(str(p))
        p.write_text(_plain_header(p.read_text(encoding="utf-8"), title, note), encoding="utf-8")

    write_whole(path, write)


def _quoted(text: str) -> str:
    """Text as a string of ISO 10303-21: plain ASCII without backslashes, which would be control directives; quotes doubled."""
    plain = re.sub(r"[^ -~]", "?", text).replace("\\", "/")
    return "'" + plain.replace("'", "''") + "'"


def _plain_header(text: str, title: str, note: str) -> str:
    """STEP text with a header and a product of ours in place of the kernel's dated ones (ISO 10303-21, header section)."""
    name, told = _quoted(title), _quoted(note)
    for pattern, ours in (
        (r"FILE_DESCRIPTION\(.*?\);\s*\n", f"FILE_DESCRIPTION(({told}),'2;1');\n"),
        (
            r"FILE_NAME\(.*?\);\s*\n",
            f"FILE_NAME({name},'1970-01-01T00:00:00',(''),(''),'','Sparwright','');\n",
        ),
        (r"PRODUCT\('[^']*',\s*'[^']*',\s*''", f"PRODUCT({name},{name},{told}"),
    ):
        text, found = re.subn(pattern, ours, text, count=1, flags=re.DOTALL)
        if not found:
            raise RuntimeError(f"the geometry kernel's STEP does not match {pattern}")
    return text


def step_shape(member: Member) -> Any:
    """The member as a solid of the geometry kernel (netgen.occ), without edge breaks."""
    from netgen.occ import Compound, Vec

    section = member.section.shape
    profile = _plane_face(shapely.get_coordinates(section.exterior)[:-1], _in_section)
    for ring in section.interiors:
        profile = profile - _plane_face(shapely.get_coordinates(ring)[:-1], _in_section)
    shape = profile.Extrude(Vec(member.length, 0, 0))
    first = [*_recess_tools(member)]
    for face in member.section.faces:
        first += _hole_tools(member, face)
        if first:
            shape = shape - Compound(first)
        first = []
    return shape


def _in_section(points: np.ndarray) -> np.ndarray:
    """(y, z) of the section at the datum end, (k, 3)."""
    return np.column_stack([np.zeros(len(points)), points])


def _plane_face(ring: np.ndarray, place: Callable[[np.ndarray], np.ndarray]) -> Any:
    """A plane face bounded by a ring (k, 2), arcs as true arcs; `place` takes plane points to space, (k, 3)."""
    from netgen import occ

    vertices = with_bulges(ring)
    corners = np.array([v[:2] for v in vertices])
    middles = np.array(
        [
            arc_middle((x, y), (nx, ny), bulge)
            for (x, y, bulge), (nx, ny, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True)
        ]
    )
    ends = [occ.Pnt(*p) for p in place(corners).tolist()]
    halves = [occ.Pnt(*p) for p in place(middles).tolist()]
    edges = []
    for i, (_, _, bulge) in enumerate(vertices):
        a, b = ends[i], ends[(i + 1) % len(ends)]
        edges.append(occ.ArcOfCircle(a, halves[i], b) if bulge else occ.Segment(a, b))
    return occ.Face(occ.Wire(edges))


def _recess_tools(member: Member) -> list[Any]:
    """A prism for every pocket and notch, standing out over the face and under what it goes through."""
    from netgen.occ import Vec

    tools = []
    recesses: tuple[Pocket | NotchCut, ...] = (*member.pockets, *member.notches)
    for feature in recesses:
        face = member.section.face(feature.face)
        through = isinstance(feature, NotchCut) or feature.window

        def place(points: np.ndarray, face: Face = face) -> np.ndarray:
            return face.to_member(np.column_stack([points, np.full(len(points), OVER)]))

        height = OVER + feature.depth + (OVER if through else 0.0)
        ring = shapely.get_coordinates(feature.outline.exterior)[:-1]
        tools.append(_plane_face(ring, place).Extrude(Vec(0, *(-height * face.normal).tolist())))
    return tools


def _hole_tools(member: Member, face: Face) -> list[Any]:
    """A cylinder for every hole of a face, two for a counterbored one."""
    from netgen.occ import Cylinder, Dir, Pnt

    tools = []
    inward = Dir(0, *(-face.normal).tolist())
    for hole in member.holes:
        if hole.face != face.name:
            continue
        top = Pnt(*face.to_member(np.array([[*hole.at, OVER]]))[0].tolist())
        end = hole.depth + (0.0 if hole.through == "blind" else OVER)
        tool = Cylinder(top, inward, hole.diameter / 2, OVER + end)
        if hole.counterbore:
            wide, depth = hole.counterbore
            tool = tool + Cylinder(top, inward, wide / 2, OVER + depth)
        tools.append(tool)
    return tools
