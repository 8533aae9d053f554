"""Figures of a candidate on its machine in a few hundredths of a second, for sweeps.

Where the tool is softest and where the first mode is lowest hardly move from one candidate to the next, so both are
looked for once, and every candidate is judged there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

from shapely.geometry import Polygon

from sparwright.job.machine_parts import ServedMachine
from sparwright.loop.elements import Stretch
from sparwright.loop.frame import compliance, frame_modes
from sparwright.loop.inertia import plain_inertia
from sparwright.loop.machine import Loaded, prepared
from sparwright.loop.machine_state import grid, link_spreads, moving_masses, yields_most
from sparwright.loop.push import infer
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member, Section


@dataclass(frozen=True)
class Basis:
    """Where candidates are judged: offsets of the axes for the tip and for the first mode; what push tests found."""

    softest: Mapping[str, float]
    slowest: Mapping[str, float]
    scales: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class QuickFigures:
    """Deflection at the tip under the service force, mm, along the direction that yields most; first frequency, Hz;
    mass that moves with each axis, kg."""

    tip_mm: float
    direction: str
    first_Hz: float
    moving_kg: Mapping[str, float]


def quick_basis(machine: ServedMachine, plain: Sequence[Stretch]) -> Basis:
    """Found once with the plain member. Raises BadInput for a machine that hangs together badly."""
    loaded = Loaded(machine, tuple(plain), tuple(plain), plain[0].properties.centroid)
    found = infer(loaded, loaded, link_spreads(machine))
    scales = {p.link: p.factor for p in found if p.told}
    loaded = Loaded(machine, tuple(plain), tuple(plain), plain[0].properties.centroid, scales)
    ready = [(at, prepared(loaded, at)) for at in grid(machine)]
    directions = machine.service.directions
    softest = max(ready, key=lambda r: yields_most(compliance(r[1], "tool", machine.work), directions)[0])
    slowest = min(ready, key=lambda r: frame_modes(r[1], 1)[0].frequency)
    return Basis(softest[0], slowest[0], scales)


def quick_figures(
    stretches: Sequence[Stretch], machine: ServedMachine, member: Member, basis: Basis | None = None
) -> QuickFigures:
    """Figures of a member of these stretches on its machine.

    basis: where to look (`quick_basis`); without one it is found with rough constants of the plain section, and kept.
    Raises BadInput for a machine that hangs together badly.
    """
    rough = _rough_of(member)
    basis = basis or _kept_basis(machine, _Same(rough, _key(rough)))
    loaded = Loaded(machine, tuple(stretches), rough, rough[0].properties.centroid, basis.scales)
    ready = prepared(loaded, basis.softest)
    service = machine.service
    soft, direction = yields_most(compliance(ready, "tool", machine.work), service.directions)
    slow = ready if basis.slowest == basis.softest else prepared(loaded, basis.slowest)
    return QuickFigures(
        tip_mm=service.force * soft,
        direction=direction,
        first_Hz=frame_modes(slow, 1)[0].frequency,
        moving_kg=moving_masses(machine, ready),
    )


def check_served(machine: ServedMachine, member: Member) -> None:
    """Whether the machine holds together, before anything long is begun; a few hundredths of a second.

    Raises BadInput, with the line of the machine file, for a mechanism and for whatever else cannot be.
    """
    rough = _rough_of(member)
    loaded = Loaded(machine, rough, rough, rough[0].properties.centroid)
    for end in (0.0, 1.0):
        prepared(loaded, {a.name: a.low + end * (a.high - a.low) for a in machine.axes})


class _Same:
    """Stretches that count as equal where their key does, so that a cache can hold what was found with them."""

    def __init__(self, stretches: tuple[Stretch, ...], key: tuple[object, ...]) -> None:
        self.stretches, self.key = stretches, key

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.key == self.key

    def __hash__(self) -> int:
        return hash(self.key)


def _key(stretches: tuple[Stretch, ...]) -> tuple[float, ...]:
    p = stretches[0].properties
    return (stretches[-1].end, p.mass_kg_per_m, p.EA, p.EIy, p.EIz, p.GJ, *p.centroid)


@lru_cache(maxsize=8)
def _kept_basis(machine: ServedMachine, plain: _Same) -> Basis:
    return quick_basis(machine, plain.stretches)


def _rough_of(member: Member) -> tuple[Stretch, ...]:
    metal = member.material
    return _rough(member.section, metal.modulus, metal.poisson, metal.density, member.length)


def _rough(section: Section, E: float, nu: float, density: float, length: float) -> tuple[Stretch, ...]:
    """The plain member with constants good enough to look with: torsion by Bredt's formula or Saint-Venant's estimate."""
    inertia = plain_inertia(section.shape, density * 1e-12)
    rho = density * 1e-12
    area, (sy, sz) = inertia.mass / rho, (inertia.first[0] / inertia.mass, inertia.first[1] / inertia.mass)
    Iz = inertia.second[0] / rho - area * sy * sy
    Iy = inertia.second[1] / rho - area * sz * sz
    G = E / (2 * (1 + nu))
    properties = BeamProperties(
        "section",
        inertia.mass * 1e6,
        E * area,
        E * Iy,
        E * Iz,
        0.0,
        G * _rough_torsion(section.shape, area, Iy + Iz),
        G * area / 3,
        G * area / 3,
        (sy, sz),
        (sy, sz),
    )
    return (Stretch(0.0, length, properties, inertia),)


def _rough_torsion(shape: Polygon, area: float, polar: float) -> float:
    if not shape.interiors:
        return area**4 / (40 * polar)
    outer = Polygon(shape.exterior)
    middle = (outer.area + sum(Polygon(hole).area for hole in shape.interiors)) / 2
    around = outer.exterior.length
    return 4 * middle**2 * (area / around) / around
