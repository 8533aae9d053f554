"""Figures of a machine with one state of the member: tip stiffness over the working area, shares, modes, masses."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparwright.job.machine_parts import DrivePart, JointPart, RunnerPart, ServedMachine, link_of
from sparwright.loop.frame import Displaced, Prepared, compliance, frame_mass, solve
from sparwright.loop.machine import Loaded, Position, prepared
from sparwright.loop.machine_modes import AXES, MachineMode, grouped, machine_modes
from sparwright.stiffness.model import SectionForces

PLAIN_SPREAD = 0.05
"""Half-width of a plain beam's stiffness: walls and modulus; common practice, no source."""
MODES = 6
KIND_SPREADS = {"stretch": ("EA",), "bending": ("EIy", "EIz"), "shear": ("GAy", "GAz"), "twist": ("GJ",)}


@dataclass(frozen=True)
class Place:
    """The tool at one place of the working area.

    at: of each axis, mm along its rail (a general machine's from where its points are stated). compliance: (3, 3)
    mm/N of the tool against the work in machine axes.
    """

    at: Mapping[str, float]
    compliance: np.ndarray

    @property
    def principal(self) -> tuple[np.ndarray, np.ndarray]:
        """Principal compliances mm/N, softest first, (3,), and their directions as rows (3, 3)."""
        values, vectors = np.linalg.eigh(self.compliance)
        return values[::-1], vectors[:, ::-1].T

    @property
    def stiffness(self) -> np.ndarray:
        """(3, 3) tip stiffness N/mm, the compliance inverted."""
        return np.linalg.inv(self.compliance)

    def as_dict(self) -> dict[str, Any]:
        """The place with units in its keys."""
        values, directions = self.principal
        return {
            "at_mm": dict(self.at),
            "compliance_um_per_N": (1e3 * self.compliance).round(6).tolist(),
            "stiffness_N_per_mm": self.stiffness.round(3).tolist(),
            "principal_N_per_mm": (1 / values).round(3).tolist(),
            "principal_directions": directions.round(4).tolist(),
        }


@dataclass(frozen=True)
class MachineState:
    """One state of the machine.

    places: the working area's grid. worst, middle, best: of these, by the deflection in the service directions.
    direction: the service direction that yields most. tip_mm: deflection there along the force. tips_mm: along every
    service direction, each at its own softest place. shares: by service
    direction at the worst place, share of the tip's compliance by link; each adds up to 1. member: the member's own
    share there by kind ("bending", "shear", "twist", "stretch"). modes: at the place where the first is lowest,
    `modes_at`. moving_kg: by axis. spread: half-widths of "tip_mm" and "first_Hz". forces: in the member at the worst
    place and in the middle, under the service force in every service direction in turn.
    """

    places: tuple[Place, ...]
    worst: Place
    middle: Place
    best: Place
    direction: str
    tip_mm: float
    tips_mm: Mapping[str, float]
    shares: Mapping[str, Mapping[str, float]]
    member: Mapping[str, float]
    modes: tuple[MachineMode, ...]
    modes_at: Mapping[str, float]
    moving_kg: Mapping[str, float]
    spread: Mapping[str, float]
    forces: tuple[SectionForces, ...]

    @property
    def first_Hz(self) -> float:
        """The first natural frequency, Hz."""
        return self.modes[0].frequency

    @property
    def weakest(self) -> str:
        """The link that gives most of the tip's deflection."""
        return next(iter(self.shares[self.direction]))

    def as_dict(self) -> dict[str, Any]:
        """The state with units in its keys."""
        return {
            "tip_mm": self.tip_mm,
            "tip_direction": self.direction,
            "tips_mm": dict(self.tips_mm),
            "worst": self.worst.as_dict(),
            "middle": self.middle.as_dict(),
            "best": self.best.as_dict(),
            "shares": {d: dict(s) for d, s in self.shares.items()},
            "member_shares": dict(self.member),
            "weakest": self.weakest,
            "modes": [
                {
                    "frequency_Hz": m.frequency,
                    "words": m.words,
                    "driver": m.driver,
                    "strain_shares": dict(m.strain),
                    "tip": list(m.tip),
                }
                for m in self.modes
            ],
            "modes_at_mm": dict(self.modes_at),
            "moving_kg": dict(self.moving_kg),
            "spread": dict(self.spread),
        }


def link_spreads(machine: ServedMachine, measured: Mapping[str, float] | None = None) -> dict[str, float]:
    """Relative half-width of every link's stiffness but the member's; measured: those a push test has given."""
    out = {link_of(b.name): PLAIN_SPREAD for b in machine.beams if b.section is not None}
    parts: tuple[RunnerPart | DrivePart | JointPart, ...] = (
        *machine.runners,
        *machine.drives,
        *machine.joints,
    )
    out |= {link_of(part.name): part.spread for part in parts}
    return out | dict(measured or {})


def grid(machine: ServedMachine) -> list[dict[str, float]]:
    """Offsets of every axis at both ends of its travel and in the middle, all together."""
    marks = [sorted({a.low, (a.low + a.high) / 2, a.high}) for a in machine.axes]
    names = [a.name for a in machine.axes]
    return [dict(zip(names, at, strict=True)) for at in itertools.product(*marks)]


def rail_places(machine: ServedMachine, position: Position) -> dict[str, float]:
    """Where each axis stands along its rail, mm."""
    return {a.name: a.zero + position.get(a.name, 0.0) for a in machine.axes}


def tip_loads(machine: ServedMachine, direction: str, force: float) -> dict[str, list[float]]:
    """The service force between tool and work."""
    load = [0.0] * 6
    load[AXES.index(direction)] = force
    loads = {"tool": load}
    if machine.work is not None:
        loads[machine.work] = [-v for v in load]
    return loads


def yields_most(place: np.ndarray, directions: tuple[str, ...]) -> tuple[float, str]:
    """Greatest compliance along a service direction, mm/N, and which."""
    return max((float(place[i, i]), d) for d in directions for i in (AXES.index(d),))


def machine_state(loaded: Loaded, spreads: Mapping[str, float]) -> MachineState:
    """All figures of one state. spreads: of the links but the member, as `link_spreads` gives them.

    Raises BadInput for a machine that hangs together badly.
    """
    machine, service = loaded.machine, loaded.machine.service
    directions: tuple[str, ...] = service.directions
    positions = grid(machine)
    ready = [prepared(loaded, p) for p in positions]
    places = [
        Place(rail_places(machine, p), compliance(r, "tool", machine.work))
        for p, r in zip(positions, ready, strict=True)
    ]
    soft = [yields_most(p.compliance, directions) for p in places]
    worst = max(range(len(places)), key=lambda i: soft[i][0])
    best = min(range(len(places)), key=lambda i: soft[i][0])
    middle = len(places) // 2
    direction = soft[worst][1]
    found = {d: solve(ready[worst], tip_loads(machine, d, service.force)) for d in directions}
    also = [solve(ready[middle], tip_loads(machine, d, service.force)) for d in directions]
    shares = {d: grouped(f.shares) for d, f in found.items()}
    kinds = _member_kinds(machine, found[direction])
    slowest = min(range(len(ready)), key=lambda i: machine_modes(machine, ready[i], 1)[0].frequency)
    modes = machine_modes(machine, ready[slowest], MODES)
    tip = service.force * soft[worst][0]
    own = member_spreads(loaded)
    widest = max(own.values(), default=0.0)
    spreads = {b.name: widest for b in machine.beams if b.section is None and not b.plain} | dict(spreads)
    spread = {
        "tip_mm": tip * tip_spread(shares[direction], kinds, machine.member, spreads, own),
        "first_Hz": modes[0].frequency
        / 2
        * _root_sum(s * spreads.get(n, 0.0) for n, s in modes[0].strain.items()),
    }
    return MachineState(
        places=tuple(places),
        worst=places[worst],
        middle=places[middle],
        best=places[best],
        direction=direction,
        tip_mm=tip,
        tips_mm={
            d: service.force * max(yields_most(p.compliance, (d,))[0] for p in places) for d in directions
        },
        shares=shares,
        member=kinds,
        modes=modes,
        modes_at=places[slowest].at,
        moving_kg=moving_masses(machine, ready[middle]),
        spread=spread,
        forces=tuple(f for d in (*found.values(), *also) for f in d.forces[machine.member]),
    )


def _member_kinds(machine: ServedMachine, found: Displaced) -> dict[str, float]:
    """The member's share of the compliance by kind, of the whole."""
    whole = sum(found.energy.values())
    return {kind: part / whole for kind, part in found.kinds[machine.member].items()}


def member_spreads(loaded: Loaded) -> dict[str, float]:
    """The stiffness model's own half-width by kind of strain, the widest of the member's stretches."""
    return {
        kind: max((s.properties.spread.get(k, 0.0) for s in loaded.stretches for k in keys), default=0.0)
        for kind, keys in KIND_SPREADS.items()
    }


def tip_spread(
    shares: Mapping[str, float],
    kinds: Mapping[str, float],
    member: str,
    spreads: Mapping[str, float],
    own: Mapping[str, float],
) -> float:
    """Relative half-width of a compliance: each link's share times its spread, root of the sum of squares.

    A share is the derivative of the compliance by the link's own compliance, both relative, so this is exact to
    the first order.
    """
    links = [share * spreads.get(name, 0.0) for name, share in shares.items() if name != member]
    return _root_sum([*links, *(share * own.get(kind, 0.0) for kind, share in kinds.items())])


def _root_sum(parts: Any) -> float:
    return math.sqrt(sum(p * p for p in parts))


def moving_masses(machine: ServedMachine, ready: Prepared) -> dict[str, float]:
    """Mass that moves with each axis, kg."""
    axes = {p.name: p.axes for p in machine.points}
    carried = {b.name: set(axes[b.start]) & set(axes[b.end]) for b in machine.beams}
    carried |= {f"mass of {m.name}": set(axes[m.point]) for m in machine.masses}
    kg = frame_mass(ready)
    return {a.name: sum(kg[n] for n, on in carried.items() if a.name in on) for a in machine.axes}
