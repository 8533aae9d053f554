"""One wall as a periodic flat strip: its mesh, and the plain integrals every plate and membrane form is made of.

A strip lies in (x, s): x along the member over one period, s across from corner line to corner line, 0 halfway.
All forms of the plate cell are sums of six integrals of one scalar field's shapes, taken over the full wall and
over each kind of pocket, so they are computed once an outline and only weighted anew when a thickness changes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
import shapely
from numpy.polynomial import Legendre
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.stiffness.strip_mesh import StripMesh, Topology, strip_mesh

# Integrals kept; one strip takes about 5 MB.
KEPT = 24
# Polynomials across a wall without pockets.
PLAIN_TERMS = 14
# Greatest miss of a region's area over the strip's: chords read back as arcs change it a little.
AREA_MISS = 5e-3
# Steps of the margins a mesh is made for, per doubling: a wall in between moves the mesh's edge lines.
STEPS = 2


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

    values: (regions, 6, entries) on the pattern of `topology`, region 0 the full wall and
    then each kind that is no window; of rows i and columns j the integral of i,x j,x;
    i,x j,s; i,s j,s; i j,x; i j,s; i j. one, s: the functions 1 and s as
    coefficients. lines: the integral of every shape along the low and the high corner line.
    """

    period: float
    topology: Topology
    values: np.ndarray
    one: np.ndarray
    s: np.ndarray
    lines: tuple[np.ndarray, np.ndarray]

    @property
    def areas(self) -> np.ndarray:
        """Area of every region, mm², shape (regions,)."""
        rows, columns = self.topology.rows, self.topology.pattern[1]
        return np.asarray((self.values[:, 5] * self.one[rows] * self.one[columns]).sum(axis=1))


@lru_cache(maxsize=KEPT)
def strip_integrals(shape: StripShape) -> Integrals:
    """Integrals of a strip with pockets; kept for the last strips asked for.

    Raises what the mesher raises, or ValueError where the strip's ends do not match.
    """
    low, high = _margins(shape)
    meshed = (_step(low), _step(high))
    down = low - shape.width / 2
    kinds = tuple(tuple(_moved(o, -down) for o in kind) for kind in shape.kinds)
    span = round(shape.width - low - high, 6)
    mesh = strip_mesh(shape.period, span, meshed, kinds, shape.through, round(shape.size, 6))
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


def _moved(outline: Polygon, by: float) -> Polygon:
    return shapely.transform(outline, lambda p: np.round(p + np.array([0.0, by]), 6))


# --- integrals ------------------------------------------------------------------------------------------


def _assembled(
    meshed: StripMesh, shape: StripShape, margins: tuple[float, float], made: tuple[float, float]
) -> Integrals:
    """The integrals, with the margins stretched from those the mesh was made for to the true ones."""
    import ngsolve as ng

    mesh, space = meshed.mesh, meshed.space
    u, v = space.TnT()
    du, dv = ng.grad(u), ng.grad(v)
    forms = (dv[0] * du[0], dv[0] * du[1], dv[1] * du[1], v * du[0], v * du[1], v * u)
    values = np.zeros((len(meshed.regions), len(forms), len(meshed.topology.pattern[1])))
    mesh.SetDeformation(_deformation(mesh, shape.width - sum(margins), margins, made))
    try:
        for r, (region, (kept, places)) in enumerate(zip(meshed.regions, meshed.places, strict=True)):
            for k, form in enumerate(forms):
                matrix = ng.BilinearForm(space, check_unused=False)
                matrix += form * ng.dx(region, bonus_intorder=2)
                matrix.Assemble()
                values[r, k, places] = np.array(matrix.mat.CSR()[0])[kept]
        functions = []
        for function in (ng.CF(1), ng.y + margins[0] - shape.width / 2):
            field = ng.GridFunction(space)
            field.Set(function)
            functions.append(field.vec.FV().NumPy()[meshed.used])
        for name in ("low", "high"):
            line = ng.LinearForm(space)
            line += v * ng.ds(name)
            line.Assemble()
            functions.append(line.vec.FV().NumPy()[meshed.used])
    finally:
        mesh.UnsetDeformation()
    one, s, low, high = functions
    answer = Integrals(shape.period, meshed.topology, values, one, s, (low, high))
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


def _plain_topology() -> Topology:
    count = PLAIN_TERMS
    transpose = np.arange(count * count).reshape(count, count).T.ravel()
    pattern = np.arange(count + 1) * count, np.tile(np.arange(count), count)
    return Topology(pattern, transpose, (np.array([0]), np.array([1])))


PLAIN = _plain_topology()


@lru_cache(maxsize=1)
def _unit_integrals() -> np.ndarray:
    """The six integrals across a wall 1 mm wide, shape (6, entries)."""
    points, weights = np.polynomial.legendre.leggauss(PLAIN_TERMS + 1)
    terms = [Legendre.basis(k) for k in range(PLAIN_TERMS)]
    # The first two carry the edges' values, all others vanish there.
    shapes = [(terms[0] - terms[1]) / 2, (terms[0] + terms[1]) / 2]
    shapes += [terms[k] - terms[k - 2] for k in range(2, PLAIN_TERMS)]
    value = np.array([f(points) for f in shapes])
    slope = np.array([f.deriv()(points) for f in shapes]) * 2
    w = weights / 2
    zero = np.zeros((PLAIN_TERMS, PLAIN_TERMS))
    matrices = (zero, zero, slope * w @ slope.T, zero, value * w @ slope.T, value * w @ value.T)
    return np.array([m.ravel() for m in matrices])


def plain_integrals(width: float) -> Integrals:
    """The same for a wall without pockets, where nothing changes along x: polynomials across it, period 1 mm."""
    one, s = np.zeros(PLAIN_TERMS), np.zeros(PLAIN_TERMS)
    one[:2], s[:2] = 1.0, (-width / 2, width / 2)
    scale = np.array([0, 0, 1 / width, 0, 1, width])
    edges = np.eye(PLAIN_TERMS)[:2]
    return Integrals(1.0, PLAIN, (_unit_integrals() * scale[:, None])[None], one, s, (edges[0], edges[1]))
