"""The mesh of a strip, and the sparse pattern that everything on it shares."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.stiffness.outline import polygon_edges
from sparwright.stiffness.quiet import quiet

ORDER = 3
GRADING = 0.5
CURVES = 0.7
# Meshes kept.
KEPT = 24


@dataclass(frozen=True, eq=False)
class Topology:
    """Sparse pattern of the scalar shapes, square: indptr, indices; where the transpose of every entry stands; and
    the shapes on the low and the high corner line. Two are the same only if they are one object."""

    pattern: tuple[np.ndarray, np.ndarray]
    transpose: np.ndarray
    edges: tuple[np.ndarray, np.ndarray]

    @property
    def count(self) -> int:
        """Number of shapes."""
        return len(self.pattern[0]) - 1

    @property
    def rows(self) -> np.ndarray:
        """Row of every entry, shape (entries,)."""
        return np.repeat(np.arange(self.count), np.diff(self.pattern[0]))


@dataclass(frozen=True, eq=False)
class StripMesh:
    """A mesh with its scalar space, the shapes `used` of it, and for every region where the entries of a matrix
    assembled over it belong: which of them, and their places on the pattern."""

    mesh: Any
    space: Any
    used: np.ndarray
    regions: tuple[str, ...]
    places: tuple[tuple[np.ndarray, np.ndarray], ...]
    topology: Topology


@lru_cache(maxsize=KEPT)
def strip_mesh(
    period: float,
    span: float,
    margins: tuple[float, float],
    kinds: tuple[tuple[Polygon, ...], ...],
    through: tuple[bool, ...],
    size: float,
) -> StripMesh:
    """The mesh for these margins, y counted from the low edge of the pockets, `span` mm from their other edge.

    Kept for the last ones asked for. Raises what the mesher raises, or ValueError where the ends do not match.
    """
    import ngsolve as ng

    mesh = _mesh(period, span, margins, kinds, through, size)
    space = ng.Periodic(ng.H1(mesh, order=ORDER))
    u, v = space.TnT()
    regions = ("wall", *(f"kind{k + 1}" for k, hole in enumerate(through) if not hole))
    used = np.flatnonzero(_mask(space.FreeDofs()))
    number = np.full(space.ndof, -1)
    number[used] = np.arange(len(used))
    entries = []
    for region in regions:
        form = ng.BilinearForm(space, check_unused=False)
        form += v * u * ng.dx(region)
        form.Assemble()
        _, columns, starts = (np.array(a).astype(np.int64) for a in form.mat.CSR())
        rows = np.repeat(np.arange(space.ndof), starts[1:] - starts[:-1])
        entries.append((number[rows], number[columns]))
    pattern, transpose, places = _on_one_pattern(entries, len(used))
    edges = tuple(np.flatnonzero(_mask(space.GetDofs(mesh.Boundaries(n)))[used]) for n in ("low", "high"))
    topology = Topology(pattern, transpose, (edges[0], edges[1]))
    return StripMesh(mesh, space, used, regions, places, topology)


def _mask(bits: Any) -> np.ndarray:
    return np.fromiter(bits, dtype=bool)


def _on_one_pattern(
    entries: list[tuple[np.ndarray, np.ndarray]], count: int
) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray, tuple[tuple[np.ndarray, np.ndarray], ...]]:
    """The pattern of all regions together with its transpose, and of each region which entries go where on it."""
    kept = [np.flatnonzero((rows >= 0) & (columns >= 0)) for rows, columns in entries]
    keyed = [rows[k] * count + columns[k] for k, (rows, columns) in zip(kept, entries, strict=True)]
    keys = np.unique(np.concatenate(keyed))
    rows, columns = keys // count, keys % count
    indptr = np.searchsorted(rows, np.arange(count + 1))
    transpose = np.searchsorted(keys, columns * count + rows)
    places = tuple((k, np.searchsorted(keys, key)) for k, key in zip(kept, keyed, strict=True))
    return (indptr, columns), transpose, places


def _mesh(
    period: float,
    span: float,
    margins: tuple[float, float],
    kinds: tuple[tuple[Polygon, ...], ...],
    through: tuple[bool, ...],
    size: float,
) -> Any:
    """The mesh for stepped margins, y counted from the low edge of the pockets, `span` mm from their other edge."""
    from netgen import occ
    from ngsolve import Mesh

    from sparwright.stiffness.shapes import wire

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0], p[1], 0.0)

    bottom, top = -margins[0], span + margins[1]
    rest = occ.WorkPlane().MoveTo(0, bottom).Rectangle(period, top - bottom).Face()
    parts = []
    for number, (kind, hole) in enumerate(zip(kinds, through, strict=True), start=1):
        outlines = [o for outline in kind for o in _copies(outline, period)]
        pockets = occ.Compound([occ.Face(wire(polygon_edges(o)[0], place)) for o in outlines])
        if not hole:
            inside = rest * pockets
            inside.faces.name = f"kind{number}"
            parts.append(inside)
        rest = rest - pockets
    rest.faces.name = "wall"
    whole = occ.Glue([rest, *parts]) if parts else rest
    _identify(whole, period, (bottom, top))
    options = {"maxh": size, "grading": GRADING, "curvaturesafety": CURVES, "parallel_meshing": False}
    with quiet():
        mesh = Mesh(occ.OCCGeometry(whole, dim=2).GenerateMesh(**options))
        mesh.Curve(ORDER)
    return mesh


def _copies(outline: Polygon, period: float) -> Iterator[Polygon]:
    """Every copy of an outline that reaches into 0..period."""
    low, _, high, _ = outline.bounds
    first = math.floor(-high / period + 1e-9) + 1
    last = math.ceil((period - low) / period - 1e-9) - 1
    for turn in range(first, last + 1):
        yield translate(outline, turn * period)


def _identify(whole: Any, period: float, edges: tuple[float, float]) -> None:
    """Name the corner lines, and tie every edge of the end x = 0 to its partner at x = period."""
    from netgen import occ

    ends: tuple[list[Any], list[Any]] = ([], [])
    for edge in whole.edges:
        low, high = edge.bounding_box
        for found, x in zip(ends, (0.0, period), strict=True):
            if abs(low.x - x) < 1e-5 and abs(high.x - x) < 1e-5:
                found.append(edge)
        for name, y in zip(("low", "high"), edges, strict=True):
            if abs(low.y - y) < 1e-5 and abs(high.y - y) < 1e-5:
                edge.name = name
    far = np.array([e.center.y for e in ends[1]])
    if len(ends[0]) != len(ends[1]) or not ends[0]:
        raise ValueError(f"{len(ends[0])} edges at one end of the strip, {len(ends[1])} at the other")
    shift = occ.gp_Trsf.Translation(occ.gp_Vec(period, 0, 0))
    for edge in ends[0]:
        gap = np.abs(far - edge.center.y)
        if gap.min() > 1e-4:
            raise ValueError("an edge at one end of the strip has no partner at the other")
        edge.Identify(ends[1][int(gap.argmin())], "period", occ.IdentificationType.PERIODIC, shift)
