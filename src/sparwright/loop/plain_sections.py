"""Stiffness and mass of the machine's plain beams, by closed forms.

Shear coefficients: Cowper, J. Appl. Mech. 33 (1966) 335 (thin box from memory, held by a test to its square case and
to finite elements). Torsion: the rectangle's series; Bredt's formula for closed tubes. Metals: EN 1993-1-1 3.2.6 for
steel; EN 1999-1-1 3.2.5 for aluminium.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from sparwright.job.links import BeamSection
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties


@dataclass(frozen=True)
class _Metal:
    """Modulus MPa, Poisson's ratio, density kg/m³."""

    E: float
    nu: float
    rho: float

    @property
    def G(self) -> float:
        return self.E / (2 * (1 + self.nu))


METALS = {"aluminium": _Metal(70000, 0.3, 2700), "steel": _Metal(210000, 0.3, 7850)}


@lru_cache(maxsize=256)
def plain_section(s: BeamSection) -> tuple[BeamProperties, Inertia]:
    """Constants and inertia of a plain beam's section: width along its y, height along its z."""
    metal = METALS[s.metal]
    if s.shape == "stated":
        return _stated(s)
    if s.shape == "round tube":
        assert s.diameter is not None
        assert s.wall is not None
        return _round_tube(s.diameter, s.wall, metal)
    assert s.width is not None
    assert s.height is not None
    if s.shape == "flat bar":
        return _bar(s.width, s.height, metal)
    assert s.wall is not None
    return _tube(s.width, s.height, s.wall, metal)


def _made(
    metal: _Metal,
    area: float,
    Iy: float,
    Iz: float,
    J: float,
    shear: tuple[float, float],
    size: tuple[float, float],
) -> tuple[BeamProperties, Inertia]:
    """shear: coefficients for y and z. size: of the bounding box; the centroid is in its middle."""
    middle = (size[0] / 2, size[1] / 2)
    properties = BeamProperties(
        method="section",
        mass_kg_per_m=area * metal.rho * 1e-6,
        EA=metal.E * area,
        EIy=metal.E * Iy,
        EIz=metal.E * Iz,
        EIyz=0.0,
        GJ=metal.G * J,
        GAy=metal.G * area * shear[0],
        GAz=metal.G * area * shear[1],
        centroid=middle,
        shear_centre=middle,
    )
    return properties, _inertia(
        area * metal.rho * 1e-12, Iz * metal.rho * 1e-12, Iy * metal.rho * 1e-12, middle
    )


def _inertia(mass: float, yy: float, zz: float, middle: tuple[float, float]) -> Inertia:
    """Mass t/mm with its second moments about the middle carried to the frame's origin."""
    y, z = middle
    return Inertia(mass, (mass * y, mass * z), (yy + mass * y * y, zz + mass * z * z, mass * y * z))


def _bar(width: float, height: float, metal: _Metal) -> tuple[BeamProperties, Inertia]:
    k = 10 * (1 + metal.nu) / (12 + 11 * metal.nu)
    long, short = max(width, height), min(width, height)
    series = sum(math.tanh(n * math.pi * long / (2 * short)) / n**5 for n in range(1, 12, 2))
    J = long * short**3 / 3 * (1 - 192 / math.pi**5 * short / long * series)
    return _made(
        metal,
        width * height,
        width * height**3 / 12,
        height * width**3 / 12,
        J,
        (k, k),
        (width, height),
    )


def box_shear(along: float, across: float, nu: float) -> float:
    """Cowper's coefficient of a thin box of even wall, `along` deep the way the force acts and `across` wide."""
    m = n = across / along
    top = 10 * (1 + nu) * (1 + 3 * m) ** 2
    below = 12 + 72 * m + 150 * m**2 + 90 * m**3 + nu * (11 + 66 * m + 135 * m**2 + 90 * m**3)
    return top / (below + 10 * n**2 * ((3 + nu) * m + 3 * m**2))


def _tube(width: float, height: float, wall: float, metal: _Metal) -> tuple[BeamProperties, Inertia]:
    b, h = width - 2 * wall, height - 2 * wall
    area = width * height - b * h
    bm, hm = width - wall, height - wall
    J = 4 * (bm * hm) ** 2 * wall / (2 * (bm + hm))
    return _made(
        metal,
        area,
        (width * height**3 - b * h**3) / 12,
        (height * width**3 - h * b**3) / 12,
        J,
        (box_shear(bm, hm, metal.nu), box_shear(hm, bm, metal.nu)),
        (width, height),
    )


def _round_tube(diameter: float, wall: float, metal: _Metal) -> tuple[BeamProperties, Inertia]:
    inner = diameter - 2 * wall
    m2, nu = (inner / diameter) ** 2, metal.nu
    k = 6 * (1 + nu) * (1 + m2) ** 2 / ((7 + 6 * nu) * (1 + m2) ** 2 + (20 + 12 * nu) * m2)
    area = math.pi / 4 * (diameter**2 - inner**2)
    second = math.pi / 64 * (diameter**4 - inner**4)
    return _made(metal, area, second, second, 2 * second, (k, k), (diameter, diameter))


def _stated(s: BeamSection) -> tuple[BeamProperties, Inertia]:
    """Stated stiffnesses; shear is left out of account, the rotary inertia taken as that of the bending stiffness."""
    assert s.EA is not None
    assert s.EI is not None
    assert s.GJ is not None
    mass = s.mass_per_metre * 1e-6
    across_width, across_height = s.EI
    properties = BeamProperties(
        "section",
        s.mass_per_metre,
        s.EA,
        across_height,
        across_width,
        0.0,
        s.GJ,
        1e3 * s.EA,
        1e3 * s.EA,
        (0.0, 0.0),
        (0.0, 0.0),
    )
    return properties, _inertia(mass, mass * across_width / s.EA, mass * across_height / s.EA, (0.0, 0.0))
