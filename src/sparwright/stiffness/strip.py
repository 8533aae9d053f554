"""One wall as a periodic flat strip: its mesh, and the plain integrals every plate and membrane form is made of.

A strip lies in (x, s): x along the member over one period, s across from corner line to corner line, 0 halfway.
All forms of the plate cell are sums of six integrals of one scalar field's shapes, taken over the full wall and
over each kind of pocket, so they are computed once an outline and only weighted anew when a thickness changes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.polynomial import Legendre
from scipy import sparse
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.stiffness.outline import polygon_edges
from sparwright.stiffness.quiet import quiet

ORDER = 3
# Meshes and integrals kept; one strip takes about 5 MB.
KEPT = 24
# Polynomials across a wall without pockets.
PLAIN_TERMS = 14
GRADING = 0.5
# Greatest miss of a region's area over the strip's: chords read back as arcs change it a little.
AREA_MISS = 5e-3
CURVES = 0.7
# Steps of the margins a mesh is made for, per doubling: a wall in between moves the mesh's edge lines.
STEPS = 2
INTEGRALS = ("xx", "xs", "ss", "x", "s", "one")


@dataclass(frozen=True)
class StripShape:
    """Outline of a strip, mm.

    width: from corner line to corner line. kinds: pockets of one depth each, outlines in (x, s), x within a period or
    across its ends. through: kinds that are windows. size: of the elements.
    """

    period: float
    width: float
    kinds: tuple[tuple[Polygon, ...], ...]
    through: tuple[bool, ...]
    size: float

    def shifted(self, by: float) -> StripShape:
        """The same strip cut open `by` mm further along x."""
        moved = tuple(
            tuple(shapely.transform(translate(o, -by), lambda p: np.round(p, 6)) for o in k)
            for k in self.kinds
        )
        return replace(self, kinds=moved)


@dataclass(frozen=True)
class Integrals:
    """The six integrals over each region, on one sparse pattern of the scalar shapes.

    pattern: indptr, indices of the rows' shapes, square. values: (regions, 6, entries), region 0 the full wall and
    then each kind that is no window; of rows i and columns j, in the order of INTEGRALS: the integral of i,x j,x;
    i,x j,s; i,s j,s; i j,x; i j,s; i j. transpose: entry (j, i) of entry (i, j). one, s: the functions 1 and s as
    coefficients. edges: shapes on the low and the high corner line. lines: the integral of every shape along each.
    """

    period: float
    pattern: tuple[np.ndarray, np.ndarray]
    values: np.ndarray
    transpose: np.ndarray
    one: np.ndarray
    s: np.ndarray
    edges: tuple[np.ndarray, np.ndarray]
    lines: tuple[np.ndarray, np.ndarray]

    @property
    def areas(self) -> np.ndarray:
        """Area of every region, mm², shape (regions,)."""
        indptr, indices = self.pattern
        rows = np.repeat(np.arange(len(self.one)), np.diff(indptr))
        return np.asarray((self.values[:, 5] * self.one[rows] * self.one[indices]).sum(axis=1))


def strip_integrals(shape: StripShape) -> Integrals:
    """Integrals of a strip with pockets; kept for the last strips asked for.

    Raises what the mesher raises, or ValueError where the strip's ends do not match.
    """
    return _integrals(shape)


@lru_cache(maxsize=KEPT)
def _integrals(shape: StripShape) -> Integrals:
    low, high = _margins(shape)
    meshed = (_step(low), _step(high))
    down = low - shape.width / 2
    kinds = tuple(tuple(_moved(o, -down) for o in kind) for kind in shape.kinds)
    span = round(shape.width - low - high, 6)
    mesh = _mesh(shape.period, span, meshed, kinds, shape.through, round(shape.size, 6))
    return _assembled(mesh, shape, (low, high), meshed)


def _margins(shape: StripShape) -> tuple[float, float]:
    """Metal between the outermost pockets and the corner lines, low and high, mm."""
    bounds = np.array([o.bounds for kind in shape.kinds for o in kind])
    low, high = float(bounds[:, 1].min() + shape.width / 2), float(shape.width / 2 - bounds[:, 3].max())
    if min(low, high) <= 0:
        raise ValueError(
            f"pockets reach {-min(low, high):.2f} mm over the edge of a strip {shape.width:g} mm wide"
        )
    return low, high


def _step(margin: float) -> float:
    """The margin a mesh is made for: the nearest step of a geometric series, so that near walls share a mesh."""
    return float(2 ** (round(STEPS * math.log2(margin)) / STEPS))


# --- mesh -----------------------------------------------------------------------------------------------


def _moved(outline: Polygon, by: float) -> Polygon:
    return shapely.transform(outline, lambda p: np.round(p + np.array([0.0, by]), 6))


@lru_cache(maxsize=KEPT)
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


# --- integrals ------------------------------------------------------------------------------------------


def _assembled(
    mesh: Any, shape: StripShape, margins: tuple[float, float], meshed: tuple[float, float]
) -> Integrals:
    """The integrals, with the corner lines moved from the meshed margins to the true ones."""
    import ngsolve as ng

    deform = _deformation(mesh, shape.width - sum(margins), margins, meshed)
    space = ng.Periodic(ng.H1(mesh, order=ORDER))
    u, v = space.TnT()
    du, dv = ng.grad(u), ng.grad(v)
    forms = (dv[0] * du[0], dv[0] * du[1], dv[1] * du[1], v * du[0], v * du[1], v * u)
    regions = ["wall"] + [f"kind{k + 1}" for k, hole in enumerate(shape.through) if not hole]
    mesh.SetDeformation(deform)
    try:
        found = [
            [_matrix(space, form * ng.dx(region, bonus_intorder=2)) for form in forms] for region in regions
        ]
        functions = []
        for function in (ng.CF(1), ng.y + margins[0] - shape.width / 2):
            field = ng.GridFunction(space)
            field.Set(function)
            functions.append(field.vec.FV().NumPy().copy())
        for name in ("low", "high"):
            line = ng.LinearForm(space)
            line += v * ng.ds(name)
            line.Assemble()
            functions.append(line.vec.FV().NumPy().copy())
    finally:
        mesh.UnsetDeformation()
    used = np.flatnonzero(_mask(space.FreeDofs()))
    low_edge, high_edge = (
        np.flatnonzero(_mask(space.GetDofs(mesh.Boundaries(n)))[used]) for n in ("low", "high")
    )
    matrices = [[m[used][:, used] for m in row] for row in found]
    pattern, values, transpose = _on_one_pattern(matrices)
    one, s, low, high = (f[used] for f in functions)
    edges = (low_edge, high_edge)
    answer = Integrals(shape.period, pattern, values, transpose, one, s, edges, (low, high))
    _check(answer, shape)
    return answer


def _check(integrals: Integrals, shape: StripShape) -> None:
    """Raise ValueError where the mesh does not fill the strip or a kind of pocket."""
    kept = [sum(o.area for o in k) for k, hole in zip(shape.kinds, shape.through, strict=True) if not hole]
    holes = sum(o.area for k, hole in zip(shape.kinds, shape.through, strict=True) if hole for o in k)
    expected = np.array([shape.period * shape.width - holes - sum(kept), *kept])
    if np.abs(integrals.areas - expected).max() > AREA_MISS * shape.period * shape.width:
        raise ValueError(
            f"the mesh holds {integrals.areas.sum():.1f} mm² of the strip's {expected.sum():.1f} mm²"
        )


def _deformation(mesh: Any, span: float, margins: tuple[float, float], meshed: tuple[float, float]) -> Any:
    """A move of the vertices that stretches the two margins evenly to their true width; pockets stay as they are."""
    import ngsolve as ng

    deform = ng.GridFunction(ng.VectorH1(mesh, order=1))
    y = np.array([v.point[1] for v in mesh.vertices])
    stretch = [true / made - 1 for true, made in zip(margins, meshed, strict=True)]
    move = np.minimum(y, 0) * stretch[0] + np.maximum(y - span, 0) * stretch[1]
    deform.vec.FV().NumPy()[len(y) :] = move
    return deform


def _matrix(space: Any, form: Any) -> sparse.csr_matrix:
    import ngsolve as ng

    matrix = ng.BilinearForm(space, check_unused=False)
    matrix += form
    matrix.Assemble()
    values, columns, starts = (np.array(a) for a in matrix.mat.CSR())
    return sparse.csr_matrix((values, columns, starts), shape=(space.ndof, space.ndof))


def _mask(bits: Any) -> np.ndarray:
    return np.fromiter(bits, dtype=bool)


def _on_one_pattern(
    matrices: list[list[sparse.csr_matrix]],
) -> tuple[tuple[np.ndarray, np.ndarray], np.ndarray, np.ndarray]:
    """All matrices as values on the pattern of their sum, and where each entry's transpose stands."""
    count = matrices[0][0].shape[0]
    together = sparse.csr_matrix((count, count))
    for row in matrices:
        plain = row[0].copy()
        plain.data = np.ones_like(plain.data)
        together = together + plain
    together.sort_indices()
    rows = np.repeat(np.arange(count), np.diff(together.indptr))
    keys = rows * count + together.indices
    values = np.zeros((len(matrices), len(INTEGRALS), len(keys)))
    for r, row in enumerate(matrices):
        for k, matrix in enumerate(row):
            entries = matrix.tocoo()
            values[r, k, np.searchsorted(keys, entries.row * count + entries.col.astype(np.int64))] = (
                entries.data
            )
    transpose = np.searchsorted(keys, together.indices.astype(np.int64) * count + rows)
    return (together.indptr, together.indices), values, transpose


@lru_cache(maxsize=KEPT)
def plain_integrals(width: float) -> Integrals:
    """The same for a wall without pockets, where nothing changes along x: polynomials across it, period 1 mm."""
    points, weights = np.polynomial.legendre.leggauss(PLAIN_TERMS + 1)
    terms = [Legendre.basis(k) for k in range(PLAIN_TERMS)]
    # The first two carry the edges' values, all others vanish there.
    shapes = [(terms[0] - terms[1]) / 2, (terms[0] + terms[1]) / 2]
    shapes += [terms[k] - terms[k - 2] for k in range(2, PLAIN_TERMS)]
    value = np.array([f(points) for f in shapes])
    slope = np.array([f.deriv()(points) for f in shapes]) * 2 / width
    w = weights * width / 2
    zero = np.zeros((PLAIN_TERMS, PLAIN_TERMS))
    matrices = (zero, zero, slope * w @ slope.T, zero, value * w @ slope.T, value * w @ value.T)
    count = PLAIN_TERMS
    indices = np.tile(np.arange(count), count)
    one, s = np.zeros(count), np.zeros(count)
    one[:2], s[:2] = 1.0, (-width / 2, width / 2)
    return Integrals(
        period=1.0,
        pattern=(np.arange(count + 1) * count, indices),
        values=np.array([[m.ravel() for m in matrices]]),
        transpose=np.arange(count * count).reshape(count, count).T.ravel(),
        one=one,
        s=s,
        edges=(np.array([0]), np.array([1])),
        lines=(np.eye(count)[0], np.eye(count)[1]),
    )
