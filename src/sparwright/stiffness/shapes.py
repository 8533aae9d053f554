"""Outlines and bays as solid-modeller shapes; loaded only when a mesh is wanted, because the modeller takes time to import."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from netgen import occ

from sparwright.stiffness.mirror import NO_MIRRORS, Mirrors, part_between
from sparwright.stiffness.outline import Edge, Point, polygon_edges
from sparwright.stiffness.pattern import Cut, Pattern
from sparwright.stock.model import Section

Place = Callable[[Point], tuple[float, float, float]]


def wire(edges: Sequence[Edge], place: Place) -> Any:
    """A closed wire; `place` carries a point of the outline's plane into space, mm."""
    parts = []
    for edge in edges:
        start, end = occ.Pnt(*place(edge.start)), occ.Pnt(*place(edge.end))
        if edge.middle is None:
            parts.append(occ.Segment(start, end))
        else:
            parts.append(occ.ArcOfCircle(start, occ.Pnt(*place(edge.middle)), end))
    return occ.Wire(parts)


def prism(rings: Sequence[Sequence[Edge]], place: Place, along: tuple[float, float, float]) -> Any:
    """The solid swept by a flat figure with holes (outer ring first) moved by the vector `along`, mm."""
    face = occ.Face(wire(rings[0], place))
    for ring in rings[1:]:
        face = face - occ.Face(wire(ring, place))
    return face.Extrude(occ.Vec(*along))


def bay_solid(
    section: Section, pattern: Pattern, origin: tuple[float, float], mirrors: Mirrors = NO_MIRRORS
) -> Any:
    """One period of the member from x = 0, or the part of it between its mirror planes; y and z from `origin`, mm."""
    y0, z0 = origin
    length = pattern.period
    if mirrors.x is not None:
        pattern, length = pattern.shifted(mirrors.x / pattern.period), pattern.period / 2
    solid = prism(
        polygon_edges(part_between(section, mirrors), 2 * section.chord + 1e-3),
        lambda p: (0.0, p[0] - y0, p[1] - z0),
        (length, 0.0, 0.0),
    )
    tools = [_tool(c, origin) for c in pattern.copies() if c.outline.bounds[0] < length]
    return solid - occ.Compound(tools) if tools else solid


def name_planes(solid: Any, mirrors: Mirrors, length: float) -> None:
    """Name the faces on the mirror planes "x", "y" and "z" after their normals; length: of the solid, mm."""
    places = {0: (0.0, length), 1: (0.0,), 2: (0.0,)}
    for face in solid.faces:
        low, high = face.bounding_box
        for axis in mirrors.axes:
            if any(abs(low[axis] - at) < 1e-4 and abs(high[axis] - at) < 1e-4 for at in places[axis]):
                face.name = "xyz"[axis]


def _tool(cut: Cut, origin: tuple[float, float]) -> Any:
    """The body a pocket takes away, from a little over the face to its floor."""
    over = 0.5
    face = cut.face

    def place(p: Point) -> tuple[float, float, float]:
        x, y, z = face.to_member(np.array([[p[0], p[1], over]]))[0]
        return (float(x), float(y) - origin[0], float(z) - origin[1])

    down = -(cut.depth + over) * face.normal
    return prism([polygon_edges(cut.outline)[0]], place, (0.0, float(down[0]), float(down[1])))


def identify_ends(solid: Any, period: float) -> int:
    """Tie every face of the end x = 0 to its partner at x = period, found by its centre; how many pairs.

    Raises ValueError where a face has no partner.
    """
    ends: tuple[list[Any], list[Any]] = ([], [])
    for face in solid.faces:
        low, high = face.bounding_box
        for faces, x in zip(ends, (0.0, period), strict=True):
            if abs(low.x - x) < 1e-4 and abs(high.x - x) < 1e-4:
                faces.append(face)
    far = np.array([[f.center.y, f.center.z] for f in ends[1]])
    if len(ends[0]) != len(ends[1]) or not ends[0]:
        raise ValueError(f"{len(ends[0])} faces at one end, {len(ends[1])} at the other")
    for face in ends[0]:
        gap = np.linalg.norm(far - np.array([face.center.y, face.center.z]), axis=1)
        if gap.min() > 1e-3:
            raise ValueError("an end face has no partner at the other end")
        shift = occ.gp_Trsf.Translation(occ.gp_Vec(period, 0, 0))
        face.Identify(ends[1][int(gap.argmin())], "period", occ.IdentificationType.PERIODIC, shift)
    return len(ends[0])
