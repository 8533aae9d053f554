"""Gross forces in a member's walls: shear flow and axial force per width under a face, from the forces in the section.

Shear flow is that of the plain section in two-dimensional finite elements: Saint-Venant torsion, and shear through the shear centre
in equilibrium with the slope of the bending stress (Poisson's ratio 0, which in thin walls changes next to nothing). In a
tube with one cell torsion gives T/(2A) whatever the walls' softness; between several cells, and in open profiles, a patterned wall
carries less than said here. In open profiles twist makes no flow, only stress that changes sign through the wall: its surface
value times the wall stands for the flow. Axial force is N/A + My z/Iy - Mz y/Iz on the section with its patterned walls softened.
Formulas: Timoshenko and Goodier, Theory of Elasticity (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely

from sparwright.stiffness.local_walls import hollow_walls, in_face
from sparwright.stiffness.outline import polygon_edges
from sparwright.stiffness.section import wall_scale
from sparwright.stock.model import Face, Section

ORDER = 3
MOST_ELEMENTS = 3000
# Places across and through a wall at which the flow is read.
ACROSS, THROUGH = 7, 8


@dataclass(frozen=True)
class Soft:
    """A stretch of wall under a face with a share `kept` of its axial stiffness; s from low to high, thickness, mm."""

    face: str
    low: float
    high: float
    thickness: float
    kept: float


@dataclass(frozen=True)
class WallFlow:
    """Greatest flow in a stretch of wall per unit of each force: shear flow per T, Vy, Vz; axial force per width per N, My, Mz.

    All magnitudes, so that sum adds the worst signs: 1/mm², 1/mm, 1/mm; 1/mm, 1/mm², 1/mm².
    """

    shear: tuple[float, float, float]
    axial: tuple[float, float, float]

    def of(self, T: float, Vy: float, Vz: float) -> float:
        """Shear flow, N/mm, the worst of all signs."""
        return float(np.dot(self.shear, np.abs([T, Vy, Vz])))

    def along(self, N: float, My: float, Mz: float) -> float:
        """Axial force per width, N/mm, the worst of all signs."""
        return float(np.dot(self.axial, np.abs([N, My, Mz])))


def wall_flow(
    section: Section, face: Face, low: float, high: float, thickness: float, soft: Sequence[Soft]
) -> WallFlow:
    """Greatest flows per unit force in the wall under `face` from s = low to high, mm; soft: every patterned wall there."""
    return WallFlow(
        _shear_flow(section, face, low, high, thickness), _axial(section, face, (low, high), thickness, soft)
    )


def _axial(
    section: Section, face: Face, ends: tuple[float, float], thickness: float, soft: Sequence[Soft]
) -> tuple[float, float, float]:
    """Axial force per width per N, My, Mz at the worse end of the stretch, in the middle of the wall."""
    area, first, second = _moments(section.shape)
    own = 1.0
    for wall in soft:
        other = section.face(wall.face)
        strip = shapely.box(wall.low, -wall.thickness, wall.high, 0.0).intersection(in_face(section, other))
        back = _from_face(other, strip)
        for part in shapely.get_parts(back):
            a, f, m = _moments(part)
            lost = 1 - wall.kept
            area, first, second = area - lost * a, first - lost * f, second - lost * m
        if wall.face == face.name and wall.low < sum(ends) / 2 < wall.high:
            own = wall.kept
    centre = first / area
    inverse = np.linalg.inv(second - area * np.outer(centre, centre))
    found = []
    for end in ends:
        at = np.asarray(face.centre) + end * face.across - thickness / 2 * face.normal - centre
        # Stress a y + b z with My = integral of z times it and Mz = minus that of y times it.
        found.append([1 / area, abs(float(inverse[:, 1] @ at)), abs(float(inverse[:, 0] @ at))])
    worst = np.max(found, axis=0) * own * thickness
    return (float(worst[0]), float(worst[1]), float(worst[2]))


def _moments(shape: Any) -> tuple[float, np.ndarray, np.ndarray]:
    """Area, first moments (2,) and second moments (2, 2) of a figure about the origin of its plane."""
    area, first, second = 0.0, np.zeros(2), np.zeros((2, 2))
    for part in shapely.get_parts(shape):
        if part.geom_type != "Polygon":
            continue
        for i, ring in enumerate((part.exterior, *part.interiors)):
            p = shapely.get_coordinates(ring)
            a, b = p[:-1], p[1:]
            cross = a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
            sign = np.sign(cross.sum()) * (-1 if i else 1)
            pair = a + b
            area += sign * cross.sum() / 2
            first += sign * cross @ pair / 6
            second += (
                sign
                * (pair.T @ (cross[:, None] * pair) + a.T @ (cross[:, None] * a) + b.T @ (cross[:, None] * b))
                / 24
            )
    return float(area), first, second


def _from_face(face: Face, shape: Any) -> Any:
    """A figure in the face's (s, n), in the section's (y, z)."""
    back = np.vstack([face.across, face.normal])
    return shapely.transform(shape, lambda p: p @ back + np.asarray(face.centre))


def _shear_flow(
    section: Section, face: Face, low: float, high: float, thickness: float
) -> tuple[float, float, float]:
    """Greatest flow along the wall per unit T, Vy and Vz, over ACROSS places, none nearer to an inner corner than the wall is thick."""
    mesh, origin, stresses = _shear_fields(section)
    gauss, weights = np.polynomial.legendre.leggauss(THROUGH)
    depths = -thickness * (1 + gauss) / 2
    worst = np.zeros(3)
    corners = [s for w in hollow_walls(section, face) for s in (w.low, w.high)]
    for s in np.linspace(low, high, ACROSS):
        if any(abs(s - c) < thickness for c in corners):
            continue
        flow, total = np.zeros(3), np.zeros(3)
        for n, weight in zip(depths, weights, strict=True):
            y, z = np.asarray(face.centre) + s * face.across + n * face.normal - origin
            point = mesh(float(y), float(z))
            taus = np.array([np.asarray(t(point)) @ face.across for t in stresses])
            flow += weight * thickness / 2 * taus
            total += weight * thickness / 2 * np.abs(taus)
        # Even flow as it is; stress that only turns over through the wall, as in open profiles, by its surface value.
        worst = np.maximum(worst, 2 * total - np.abs(flow))
    return (float(worst[0]), float(worst[1]), float(worst[2]))


@lru_cache(maxsize=16)
def _shear_fields(section: Section) -> tuple[Any, np.ndarray, tuple[Any, Any, Any]]:
    """Mesh about the centroid, the centroid, and the shear stress (y, z) per unit T, Vy, Vz."""
    import ngsolve as ng
    from netgen import occ

    from sparwright.stiffness.shapes import wire

    area, first, second = _moments(section.shape)
    origin = first / area
    rings = polygon_edges(section.shape, 2 * section.chord + 1e-3)

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0] - float(origin[0]), p[1] - float(origin[1]), 0.0)

    sheet = occ.Face(wire(rings[0], place))
    for ring in rings[1:]:
        sheet = sheet - occ.Face(wire(ring, place))
    maxh = max(wall_scale(section.shape), math.sqrt(2 * area / MOST_ELEMENTS))
    geometry = occ.OCCGeometry(sheet, dim=2)
    mesh = ng.Mesh(geometry.GenerateMesh(maxh=maxh, curvaturesafety=1.5, grading=0.4, parallel_meshing=False))
    mesh.Curve(ORDER)
    space = ng.H1(mesh, order=ORDER)
    u, v = space.TnT()
    form = ng.BilinearForm(space, symmetric=True)
    form += ng.grad(u) * ng.grad(v) * ng.dx + 1e-9 / area * u * v * ng.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")

    def solve(twist: Any, source: Any) -> Any:
        load = ng.LinearForm(space)
        load += source * v * ng.dx - twist * ng.grad(v) * ng.dx
        load.Assemble()
        field = ng.GridFunction(space)
        field.vec.data = inverse * load.vec
        return ng.grad(field) + twist

    turn = ng.CF((-ng.y, ng.x))
    torsion = solve(turn, ng.CF(0))
    J = ng.Integrate(ng.InnerProduct(torsion, torsion), mesh, order=2 * ORDER)
    about = np.linalg.inv(second - area * np.outer(origin, origin))
    still = ng.CF((0, 0))
    shears = [solve(still, float(about[0, k]) * ng.x + float(about[1, k]) * ng.y) for k in range(2)]
    return mesh, origin, (torsion / J, shears[0], shears[1])
