"""Stiffness of the intact section: two-dimensional finite elements on its outline.

Torsion by Saint-Venant's warping function, shear by his flexure solution for the material's Poisson's ratio;
cells need no care, because the warping displacement itself is the unknown and has one value everywhere.
Formulas: Timoshenko and Goodier, Theory of Elasticity, chapters on torsion and on bending of bars (from memory);
the shear centre after Trefftz (1935, from memory): shear and twist share no energy.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Material
from sparwright.stiffness.flexure import shear_from_fields
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.section_solve import ORDER, Warping, section_mesh, solve_warping, wall_scale
from sparwright.stock.model import Section

__all__ = [
    "SectionFigures",
    "section_figures",
    "section_properties",
    "section_with_figures",
    "wall_scale",
]

# Second moments that differ by less than this share of their sum are taken as equal.
SAME_MOMENT = 1e-7

Range = tuple[float, float]


@dataclass(frozen=True)
class SectionFigures:
    """Figures of a section alone, about its centroid unless said otherwise.

    area mm²; centroid, shear_centre (y, z) mm in the section's frame; Iy = integral of z², Iz = of y²,
    Iyz = of y z, torsion constant J, greatest and least second moments I_max, I_min, all mm⁴;
    angle: of the axis with I_max from +y toward +z, radians, in (-pi/2, pi/2]; warping: constant about the shear
    centre, mm⁶. shear_compliance: 2 x 2, rows and columns (y, z), 1/mm²: half V . c . V is G times the shear energy a
    length of the force V = (Vy, Vz) through the shear centre, for the Poisson's ratio given; the terms off the
    diagonal are the coupling of the two directions, nought for a section with an axis of symmetry along y or z.
    reach_y, reach_z: least and greatest y, z of the outline from the centroid; reach_max, reach_min: the same of the
    distance from the axis of I_max and of I_min, mm. torsion_peak: greatest shear stress on the outline over torque,
    1/mm³, at torsion_peak_at (y, z) in the section's frame; sharp_corners: how many ideally sharp inner corners the
    outline has, where theory gives no limit to the stress and which the peak leaves out by half the mean thickness.
    """

    area: float
    centroid: tuple[float, float]
    Iy: float
    Iz: float
    Iyz: float
    J: float
    shear_centre: tuple[float, float]
    warping: float
    shear_compliance: tuple[Range, Range]
    reach_y: Range
    reach_z: Range
    reach_max: Range
    reach_min: Range
    torsion_peak: float
    torsion_peak_at: tuple[float, float]
    sharp_corners: int

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
        """Angle of the bending axis with the greatest second moment, from +y toward +z, radians; 0 where all are equal."""
        return principal_angle(self.Iy, self.Iz, self.Iyz)

    @property
    def shear_y(self) -> float:
        """Shear stiffness over G times area for a force along y alone."""
        return 1 / (self.shear_compliance[0][0] * self.area)

    @property
    def shear_z(self) -> float:
        """Shear stiffness over G times area for a force along z alone."""
        return 1 / (self.shear_compliance[1][1] * self.area)

    @property
    def W_y(self) -> float:
        """Elastic section modulus Iy / greatest z, mm³; gives the stress of My alone where Iyz is nought."""
        return self.Iy / max(map(abs, self.reach_z))

    @property
    def W_z(self) -> float:
        """Elastic section modulus Iz / greatest y, mm³; gives the stress of Mz alone where Iyz is nought."""
        return self.Iz / max(map(abs, self.reach_y))

    @property
    def W_max(self) -> float:
        """Elastic section modulus about the axis of I_max, mm³."""
        return self.I_max / max(map(abs, self.reach_max))

    @property
    def W_min(self) -> float:
        """Elastic section modulus about the axis of I_min, mm³."""
        return self.I_min / max(map(abs, self.reach_min))

    @property
    def gyration(self) -> tuple[float, float, float]:
        """Radii of gyration about y, about z and the least of all, mm."""
        iy, iz, least = (math.sqrt(i / self.area) for i in (self.Iy, self.Iz, self.I_min))
        return (iy, iz, least)


def principal_angle(Iy: float, Iz: float, Iyz: float) -> float:
    """Angle of the axis of the greatest second moment from +y toward +z, in (-pi/2, pi/2]; 0 where all are equal.

    tan 2a = -2 Iyz / (Iy - Iz), any text on mechanics of materials.
    """
    least = SAME_MOMENT * (Iy + Iz)
    if abs(Iyz) < least:
        return math.pi / 2 if Iz - Iy > least else 0.0
    return math.atan2(-2 * Iyz, Iy - Iz) / 2


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


def _solved(shape: Polygon, poisson: float, sagitta: float) -> tuple[SectionFigures, SectionFigures]:
    """Figures at ORDER and at two orders lower, on one mesh."""
    mesh, corners = section_mesh(shape, sagitta)
    fine, coarse = (solve_warping(mesh, poisson, order, corners) for order in (ORDER, ORDER - 2))
    return _figures(fine, shape, len(corners)), _figures(coarse, shape, len(corners))


def _figures(found: Warping, shape: Polygon, sharp: int) -> SectionFigures:
    """The figures from the products of the stress fields; the mesh had the polygon's centroid at its origin."""
    centroid = (found.centroid[0] + shape.centroid.x, found.centroid[1] + shape.centroid.y)
    Iy, Iz, Iyz = found.second
    J = float(found.energy[0, 0])
    centre, compliance = shear_from_fields(found.energy, found.forces)
    coupling = float(compliance[0, 1] + compliance[1, 0]) / 2
    yc, zc = float(centre[0]), float(centre[1])
    square, wy, wz = found.squares
    # The warp about the shear centre is w - zc y + yc z, squared and integrated.
    warping = square + zc**2 * Iz + yc**2 * Iy - 2 * zc * wy + 2 * yc * wz - 2 * yc * zc * Iyz
    angle = principal_angle(Iy, Iz, Iyz)
    c, s = math.cos(angle), math.sin(angle)
    ring = np.asarray(shape.exterior.coords)[:, :2] - centroid

    def reach(direction: tuple[float, float]) -> Range:
        along = ring @ np.array(direction)
        return (float(along.min()), float(along.max()))

    return SectionFigures(
        area=found.area,
        centroid=centroid,
        Iy=Iy,
        Iz=Iz,
        Iyz=Iyz,
        J=J,
        shear_centre=(yc + centroid[0], zc + centroid[1]),
        warping=warping,
        shear_compliance=((float(compliance[0, 0]), coupling), (coupling, float(compliance[1, 1]))),
        reach_y=reach((1, 0)),
        reach_z=reach((0, 1)),
        reach_max=reach((-s, c)),
        reach_min=reach((c, s)),
        torsion_peak=found.peak / J,
        torsion_peak_at=(found.peak_at[0] + centroid[0], found.peak_at[1] + centroid[1]),
        sharp_corners=sharp,
    )
