"""Stiffness of the intact section: two-dimensional finite elements on its outline.

Torsion by Saint-Venant's warping function, shear by his flexure solution for the material's Poisson's ratio;
cells need no care, because the warping displacement itself is the unknown and has one value everywhere.
Formulas: Timoshenko and Goodier, Theory of Elasticity, chapters on torsion and on bending of bars (from memory);
the shear centre after Trefftz (1935, from memory): shear and twist share no energy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Material
from sparwright.stiffness.flexure import shear_from_fields
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.outline import Edge, inner_corners, polygon_edges
from sparwright.stock.model import Section

ORDER = 5
# Most elements a section is cut into, so that a thin wall round a large section stays quick.
MOST_ELEMENTS = 3000
# Most sharp inner corners that are given a finer mesh.
MOST_CORNERS = 40


@dataclass(frozen=True)
class SectionFigures:
    """Figures of a section alone, about its centroid unless said otherwise.

    area mm²; centroid, shear_centre (y, z) mm in the section's frame; Iy = integral of z², Iz = of y²,
    Iyz = of y z, torsion constant J, greatest and least second moments I_max, I_min, all mm⁴;
    angle: of the axis with I_max from +y toward +z, radians, in (-pi/2, pi/2]; warping: constant about the shear
    centre, mm⁶. shear_y, shear_z: shear stiffness over G times area, for the Poisson's ratio given.
    """

    area: float
    centroid: tuple[float, float]
    Iy: float
    Iz: float
    Iyz: float
    J: float
    shear_centre: tuple[float, float]
    warping: float
    shear_y: float
    shear_z: float

    @property
    def I_max(self) -> float:
        """Greatest second moment of area, mm⁴."""
        return (self.Iy + self.Iz) / 2 + math.hypot((self.Iy - self.Iz) / 2, self.Iyz)

    @property
    def I_min(self) -> float:
        """Least second moment of area, mm⁴."""
        return self.Iy + self.Iz - self.I_max

    @property
    def angle(self) -> float:
        """Angle of the bending axis with the greatest second moment, from +y toward +z, radians."""
        return math.atan2(-2 * self.Iyz, self.Iy - self.Iz) / 2


def section_properties(section: Section, material: Material) -> BeamProperties:
    """Constants of the beam with this section, method "section"; see section_with_figures."""
    return section_with_figures(section, material)[0]


def section_with_figures(section: Section, material: Material) -> tuple[BeamProperties, SectionFigures]:
    """Constants of the beam with this section, and the figures they come from.

    GAy and GAz are energy-based: a shear force V stores V²/(2 GA) per length, with the Poisson's ratio of the
    material in the flexure solution; with Iyz not zero each is for a force along that axis alone.
    spread: difference to two orders lower on the same mesh (GJ, GA), of mesh area to drawn area (EA, EI).
    """
    figures, coarse = _solved(section.shape, material.poisson, 2 * section.chord + 1e-3)
    E, G = material.modulus, material.shear_modulus
    drawn = abs(figures.area / section.shape.area - 1)
    spread = {key: drawn for key in ("EA", "EIy", "EIz")}
    spread |= {
        "GJ": abs(coarse.J / figures.J - 1),
        "GAy": abs(coarse.shear_y / figures.shear_y - 1),
        "GAz": abs(coarse.shear_z / figures.shear_z - 1),
    }
    properties = BeamProperties(
        method="section",
        mass_kg_per_m=material.density * figures.area * 1e-6,
        EA=E * figures.area,
        EIy=E * figures.Iy,
        EIz=E * figures.Iz,
        EIyz=E * figures.Iyz,
        GJ=G * figures.J,
        GAy=G * figures.area * figures.shear_y,
        GAz=G * figures.area * figures.shear_z,
        centroid=figures.centroid,
        shear_centre=figures.shear_centre,
        spread=spread,
    )
    return properties, figures


def section_figures(section: Section, poisson: float) -> SectionFigures:
    """Figures of the section; see SectionFigures. poisson only enters shear_y and shear_z."""
    return _solved(section.shape, poisson, 2 * section.chord + 1e-3)[0]


def wall_scale(shape: Polygon) -> float:
    """Mean thickness of a section, twice its area over all its edges, mm."""
    edge = shape.exterior.length + sum(r.length for r in shape.interiors)
    return float(2 * shape.area / edge)


def _solved(shape: Polygon, poisson: float, sagitta: float) -> tuple[SectionFigures, SectionFigures]:
    """Figures at ORDER and at two orders lower, on one mesh."""
    origin = (shape.centroid.x, shape.centroid.y)
    maxh = max(0.7 * wall_scale(shape), math.sqrt(2 * shape.area / MOST_ELEMENTS))
    mesh = _mesh(polygon_edges(shape, sagitta), origin, maxh)
    return _figures(mesh, poisson, origin, ORDER), _figures(mesh, poisson, origin, ORDER - 2)


def _mesh(rings: tuple[tuple[Edge, ...], ...], origin: tuple[float, float], maxh: float) -> Any:
    """Curved triangles on the section, shifted by -origin."""
    from netgen import occ
    from ngsolve import Mesh

    from sparwright.stiffness.shapes import wire

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0] - origin[0], p[1] - origin[1], 0.0)

    face = occ.Face(wire(rings[0], place))
    for ring in rings[1:]:
        face = face - occ.Face(wire(ring, place))
    corners = np.array([place(p) for p in inner_corners(rings)])
    if 0 < len(corners) <= MOST_CORNERS:
        for vertex in face.vertices:
            if np.linalg.norm(corners - np.array([*vertex.p]), axis=1).min() < 1e-6:
                vertex.maxh = maxh / 10
    geometry = occ.OCCGeometry(face, dim=2)
    options = {"maxh": maxh, "curvaturesafety": 1.5, "grading": 0.4, "parallel_meshing": False}
    mesh = Mesh(geometry.GenerateMesh(**options))
    mesh.Curve(ORDER)
    return mesh


def _figures(mesh: Any, nu: float, origin: tuple[float, float], order: int) -> SectionFigures:
    """Integrals and the three warping solutions on the mesh."""
    import ngsolve as ng

    area, sy, sz = ng.Integrate(ng.CF((1, ng.x, ng.y)), mesh, order=2 * order)
    yc, zc = sy / area, sz / area
    y, z = ng.x - yc, ng.y - zc
    Iz, Iy, Iyz = ng.Integrate(ng.CF((y * y, z * z, y * z)), mesh, order=2 * order)
    # Strain along x, and the in-plane displacement a free-sided bar of unit curvature takes on.
    strains = (-y, z)
    sideways = (nu * ng.CF(((y * y - z * z) / 2, y * z)), -nu * ng.CF((y * z, (z * z - y * y) / 2)))
    given = (ng.CF((-z, y)), *sideways)
    warps = _warps(mesh, order, given, (ng.CF(0), *(2 * (1 + nu) * e for e in strains)))
    shears = [ng.grad(w) + g for w, g in zip(warps, given, strict=True)]

    def products(fields: list[Any], others: list[Any]) -> np.ndarray:
        flat = ng.CF(tuple(ng.InnerProduct(a, b) for a in fields for b in others))
        return np.reshape(ng.Integrate(flat, mesh, order=2 * order), (len(fields), len(others)))

    energy = products(shears, shears)
    forces = products(shears[1:], [ng.CF((1, 0)), ng.CF((0, 1)), ng.CF((-z, y))])
    J = float(energy[0, 0])
    centre, compliance = shear_from_fields(energy, forces)
    warp = warps[0] - centre[1] * y + centre[0] * z
    mean = ng.Integrate(warp, mesh, order=2 * order) / area
    return SectionFigures(
        area=area,
        centroid=(yc + origin[0], zc + origin[1]),
        Iy=Iy,
        Iz=Iz,
        Iyz=Iyz,
        J=J,
        shear_centre=(float(centre[0] + yc + origin[0]), float(centre[1] + zc + origin[1])),
        warping=ng.Integrate((warp - mean) ** 2, mesh, order=2 * order),
        shear_y=float(1 / (compliance[0, 0] * area)),
        shear_z=float(1 / (compliance[1, 1] * area)),
    )


def _warps(mesh: Any, order: int, given: tuple[Any, ...], sources: tuple[Any, ...]) -> list[Any]:
    """Displacements along x, one a load: integral of (grad u + given) . grad v = of source v for all v."""
    import ngsolve as ng

    fes = ng.H1(mesh, order=order)
    u, v = fes.TnT()
    scale = ng.Integrate(ng.CF(1), mesh)
    stiffness = ng.BilinearForm(fes, symmetric=True)
    # The last term only pins the free constant: the loads balance, so the answer is unchanged.
    stiffness += ng.grad(u) * ng.grad(v) * ng.dx + 1e-9 / scale * u * v * ng.dx
    stiffness.Assemble()
    inverse = stiffness.mat.Inverse(fes.FreeDofs(), inverse="sparsecholesky")
    warps = []
    for shear, source in zip(given, sources, strict=True):
        load = ng.LinearForm(fes)
        load += source * v * ng.dx - shear * ng.grad(v) * ng.dx
        load.Assemble()
        warp = ng.GridFunction(fes)
        warp.vec.data = inverse * load.vec
        warps.append(warp)
    return warps
