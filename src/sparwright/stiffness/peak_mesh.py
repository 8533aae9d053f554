"""A patterned wall's strip: one period of it in (x, s) of its face, and triangles on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from shapely.geometry import Polygon

from sparwright.answers import BadInput
from sparwright.stiffness.outline import Edge, Point, inner_corners, polygon_edges

# Elements on a circle's radius, and the fewest over the strip's shorter measure.
CURVES = 2.0
COARSE = 4
GRADING = 0.4
# Greatest relative miss of the strip's area that a mesh may have.
AREA_MISS = 0.003


@dataclass(frozen=True)
class Strip:
    """One period of a patterned wall: x from 0 to period, s from low to high, mm.

    thickness: of the plain wall, mm. outlines: pockets of one period with their true corner radii; one that reaches over an end is
    listed once. skin: metal left in them, 0 for windows. held: whether walls beside carry the side lines; if not, as at the edges of a
    flat bar, they are free under axial force.
    """

    period: float
    low: float
    high: float
    thickness: float
    skin: float
    outlines: tuple[Polygon, ...]
    held: bool = True

    @property
    def width(self) -> float:
        """From side line to side line, mm."""
        return self.high - self.low


def make_strip(
    period: float,
    sides: tuple[float, float],
    thickness: float,
    skin: float,
    outlines: Sequence[Polygon],
    held: bool = True,
) -> Strip:
    """A strip with its measures rounded to 1e-6 mm, so that copies of a pattern are known as one."""
    rounded = tuple(Polygon(np.round(o.exterior.coords, 6) + 0.0) for o in outlines)
    low, high = (round(s, 6) for s in sides)
    return Strip(round(period, 6), low, high, round(thickness, 6), round(max(skin, 0.0), 6), rounded, held)


def check_strip(strip: Strip) -> None:
    """Raises BadInput for a pocket with a sharp corner, and for pockets that reach past the strip."""
    for outline in strip.outlines:
        if inner_corners((_seen_from_metal(_edges(outline)),)):
            raise BadInput(
                "a pocket with a sharp corner has no finite peak stress: give it a corner radius above 0, at least that of the cutter"
            )
    if not strip.outlines:
        return
    bottom, top = min(o.bounds[1] for o in strip.outlines), max(o.bounds[3] for o in strip.outlines)
    if bottom <= strip.low or top >= strip.high:
        raise BadInput(
            f"pockets reach from s = {bottom:.2f} to {top:.2f} mm, and the wall from {strip.low:.2f} to {strip.high:.2f} mm: "
            "keep them inside the wall"
        )


@lru_cache(maxsize=256)
def _edges(outline: Polygon) -> tuple[Edge, ...]:
    return polygon_edges(outline)[0]


def _seen_from_metal(edges: tuple[Edge, ...]) -> tuple[Edge, ...]:
    """A pocket's edges the other way round, metal on the left."""
    return tuple(Edge(e.end, e.start, e.middle) for e in reversed(edges))


def _moved(edges: tuple[Edge, ...], dx: float) -> tuple[Edge, ...]:
    def move(p: Point) -> Point:
        return (p[0] + dx, p[1])

    return tuple(
        replace(e, start=move(e.start), end=move(e.end), middle=None if e.middle is None else move(e.middle))
        for e in edges
    )


def _copies(strip: Strip, shift: float) -> list[tuple[int, tuple[Edge, ...]]]:
    """Every copy of every outline that reaches into the period, with the outline's number."""
    out = []
    for i, outline in enumerate(strip.outlines):
        low, _, high, _ = outline.bounds
        first = math.floor((shift - high) / strip.period + 1e-9) + 1
        last = math.ceil((shift + strip.period - low) / strip.period - 1e-9) - 1
        out += [(i, _moved(_edges(outline), k * strip.period - shift)) for k in range(first, last + 1)]
    return out


def strip_mesh(strip: Strip, shift: float, order: int, size: float) -> Any:
    """Curved triangles on the strip, its ends tied, side lines named "side", skins "skin0", "skin1" ...

    shift: where along x the period is cut open, mm. Raises ValueError where the mesh does not fill the strip, or what the mesher raises.
    """
    from netgen import occ
    from ngsolve import Mesh

    from sparwright.stiffness.shapes import wire

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0], p[1], 0.0)

    P = strip.period
    sheet = occ.WorkPlane().MoveTo(0, strip.low).Rectangle(P, strip.width).Face()
    tools = [(i, occ.Face(wire(e, place))) for i, e in _copies(strip, shift)]
    wall = sheet - occ.Compound([t for _, t in tools]) if tools else sheet
    wall.faces.name = "wall"
    parts = [*wall.faces]
    if strip.skin > 0:
        for i, tool in tools:
            floor = tool * sheet
            floor.faces.name = f"skin{i}"
            parts += [*floor.faces]
    shape = occ.Glue(parts) if len(parts) > 1 else wall
    ends: tuple[list[Any], list[Any]] = ([], [])
    for edge in shape.edges:
        box_low, box_high = edge.bounding_box
        for edges, x in zip(ends, (0.0, P), strict=True):
            if abs(box_low.x - x) < 1e-5 and abs(box_high.x - x) < 1e-5:
                edges.append(edge)
        for s in (strip.low, strip.high):
            if abs(box_low.y - s) < 1e-5 and abs(box_high.y - s) < 1e-5:
                edge.name = "side"
    if len(ends[0]) != len(ends[1]) or not ends[0]:
        raise ValueError(f"{len(ends[0])} edges at one end, {len(ends[1])} at the other")
    move = occ.gp_Trsf.Translation(occ.gp_Vec(P, 0, 0))
    for edge in ends[0]:
        partner = min(ends[1], key=lambda e: abs(e.center.y - edge.center.y))
        edge.Identify(partner, "period", occ.IdentificationType.PERIODIC, move)
    options = {
        "maxh": size * min(P, strip.width) / COARSE,
        "curvaturesafety": CURVES / size,
        "grading": GRADING,
        "parallel_meshing": False,
    }
    mesh = Mesh(occ.OCCGeometry(shape, dim=2).GenerateMesh(**options))
    mesh.Curve(order)
    _check_area(strip, mesh, order)
    return mesh


def _check_area(strip: Strip, mesh: Any, order: int) -> None:
    """Raises ValueError where the mesh does not fill the strip."""
    from ngsolve import CF, Integrate

    left = strip.period * strip.width
    if strip.skin <= 0:
        left -= sum(o.area for o in strip.outlines)
    found = float(Integrate(CF(1), mesh, order=2 * order))
    if abs(found / left - 1) > AREA_MISS:
        raise ValueError(f"the mesh covers {found:.0f} mm² of {left:.0f} mm²")
