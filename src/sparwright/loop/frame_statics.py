"""A frame under loads: motions, strain energy by link, forces along the beams, and compliance at a node."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from sparwright.loop.frame_build import Built, BuiltBeam, build
from sparwright.loop.frame_free import free_motion
from sparwright.loop.frame_parts import Frame, FrameError
from sparwright.stiffness.model import SectionForces

# Smallest eigenvalue, over a stiffness scaled to ones on its diagonal, that is taken as held: below it rounding
# would rule the answer.
LOOSE = 1e-13


@dataclass(frozen=True)
class Displaced:
    """A loaded machine.

    motions: (6,) by node. energy: strain energy N mm by beam and spring; they add up to the work of the loads.
    kinds: of each beam's energy by "stretch", "bending", "shear", "twist" (left empty under acceleration).
    forces: along each beam, at both ends of every element in order of x, in the section's own frame.
    """

    motions: dict[str, np.ndarray]
    energy: dict[str, float]
    kinds: dict[str, dict[str, float]]
    forces: dict[str, tuple[SectionForces, ...]]
    work: float

    @property
    def shares(self) -> dict[str, float]:
        """Share of the strain energy by beam and spring; they add up to 1."""
        whole = sum(self.energy.values())
        return {name: part / whole for name, part in self.energy.items()}


@dataclass(frozen=True)
class Prepared:
    """A frame with its matrices, and its factorised stiffness kept from the first question on."""

    built: Built

    @cached_property
    def factor(self) -> Any:
        """Solver of the stiffness, scaled; raises FrameError for a mechanism."""
        return _factor(self.built)

    def answer(self, loads: np.ndarray) -> np.ndarray:
        """Full motions (6 points, ...) under loads of the same shape."""
        scale, solver = self.factor
        q = self.built.T.T @ loads
        moved = solver.solve(np.ascontiguousarray((q.T * scale).T))
        return np.asarray(self.built.T @ (moved.T * scale).T)


def prepare(frame: Frame | Prepared) -> Prepared:
    """The frame made ready. Raises FrameError where it hangs together badly."""
    return frame if isinstance(frame, Prepared) else Prepared(build(frame))


def solve(
    frame: Frame | Prepared,
    loads: Mapping[str, Sequence[float] | np.ndarray],
    acceleration: Sequence[float] = (0.0, 0.0, 0.0),
) -> Displaced:
    """The machine under loads (6,) at nodes, and under its own mass in a field of `acceleration` mm/s².

    A field (0, 0, -9810) is its own weight; a machine speeding up by a feels -a.
    Raises FrameError for a node that is not there, and for a mechanism.
    """
    ready = prepare(frame)
    built = ready.built
    F = np.zeros(6 * len(built.places))
    for name, load in loads.items():
        at = 6 * _index(built, name)
        F[at : at + 6] += np.asarray(load, dtype=float)
    field = np.zeros(6)
    field[:3] = acceleration
    F += built.whole_M @ np.tile(field, len(built.places))
    d = ready.answer(F)
    weighed = bool(field.any())
    energy = strain_energies(built, d)
    kinds = {} if weighed else {b.name: _kinds(b, d) for b in built.beams}
    forces = {b.name: _forces(b, d, field) for b in built.beams}
    return Displaced(node_motions(built, d), energy, kinds, forces, float(F @ d) / 2)


def compliance(frame: Frame | Prepared, node: str, against: str | None = None) -> np.ndarray:
    """(3, 3) mm/N: motion of a node per force on it; against another node, both pushed apart by the same force.

    Symmetric. Raises FrameError for a node that is not there, and for a mechanism.
    """
    ready = prepare(frame)
    built = ready.built
    F = np.zeros((6 * len(built.places), 3))
    at = 6 * _index(built, node)
    F[at : at + 3] += np.eye(3)
    if against is not None:
        other = 6 * _index(built, against)
        F[other : other + 3] -= np.eye(3)
    C = F.T @ ready.answer(F)
    return (C + C.T) / 2


def frame_mass(frame: Frame | Prepared) -> dict[str, float]:
    """Mass in kg by beam and lumped mass."""
    built = prepare(frame).built
    lift = np.array([1.0, 0, 0, 0, 0, 0])
    out = {}
    for beam in built.beams:
        ends = np.tile(lift, 2)
        out[beam.name] = 1e3 * float(sum(ends @ p.M @ ends for p in beam.pieces))
    return out | {m.name: m.mass_kg for m in built.frame.masses}


def _index(built: Built, name: str) -> int:
    if name not in built.index:
        raise FrameError(f'there is no node "{name}"; nodes: {", ".join(built.index)}')
    return built.index[name]


def node_motions(built: Built, d: np.ndarray) -> dict[str, np.ndarray]:
    """Motions (6,) by node, of all points' motions d."""
    return {name: d[6 * i : 6 * i + 6].copy() for name, i in built.index.items()}


def factorised(K: sp.csc_array) -> Any:
    """Solver of a symmetric matrix; RuntimeError where it is plainly singular."""
    return spl.splu(K, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})


def _factor(built: Built) -> tuple[np.ndarray, Any]:
    diagonal = built.K.diagonal()
    if len(diagonal) == 0:
        raise FrameError("every node is held: nothing of the machine can move; hold less")
    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    K = sp.csc_array(sp.diags_array(scale) @ built.K @ sp.diags_array(scale))
    try:
        if not (diagonal > 0).all():
            raise RuntimeError
        solver = spl.splu(
            K, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        # The smallest eigenvalue by a few steps of inverse iteration, from above.
        v = np.random.default_rng(1).standard_normal(len(scale))
        for _ in range(3):
            v /= np.linalg.norm(v)
            v = solver.solve(v)
        if not np.linalg.norm(v) < 1 / LOOSE:
            raise RuntimeError
    except RuntimeError:
        raise FrameError(free_motion(built, K.toarray(), scale, LOOSE)) from None
    return scale, solver


def beam_ends(beam: BuiltBeam, d: np.ndarray) -> np.ndarray:
    """(elements, 12) motions of the elements' ends in the beam's axes."""
    local = d.reshape(-1, 6)[list(beam.points)] @ beam.turn.T
    return np.hstack([local[:-1], local[1:]])


def strain_energies(built: Built, d: np.ndarray) -> dict[str, float]:
    """Strain energy N mm by beam and spring, of all points' motions d."""
    out = {}
    for beam in built.beams:
        K = np.array([p.K for p in beam.pieces])
        ends = beam_ends(beam, d)
        out[beam.name] = float(np.einsum("ei,eij,ej->", ends, K, ends)) / 2
    for spring in built.springs:
        s = spring.rows @ d.reshape(-1, 6)[list(spring.points)].ravel()
        out[spring.name] = float(s @ spring.stiffness @ s) / 2
    return out


def _carried(force: np.ndarray, back: float) -> np.ndarray:
    """Section forces `back` mm nearer the start, from those (N, Vy, Vz, T, My, Mz) at an element's end."""
    out = force.copy()
    out[4] -= back * force[2]
    out[5] += back * force[1]
    return out


def _kinds(beam: BuiltBeam, d: np.ndarray) -> dict[str, float]:
    """Strain energy by kind: the forces run linearly along an element, two Gauss places are exact."""
    out = np.zeros(6)
    for ends, piece in zip(beam_ends(beam, d), beam.pieces, strict=True):
        force = (piece.K @ ends)[6:]
        length = piece.x[1] - piece.x[0]
        for at in (0.5 - 0.5 / np.sqrt(3), 0.5 + 0.5 / np.sqrt(3)):
            own = piece.own @ _carried(force, at * length)
            out += own * (piece.flexibility @ own) * length / 4
    return {
        "stretch": float(out[0]),
        "bending": float(out[4] + out[5]),
        "shear": float(out[1] + out[2]),
        "twist": float(out[3]),
    }


def _forces(beam: BuiltBeam, d: np.ndarray, field: np.ndarray) -> tuple[SectionForces, ...]:
    """Forces at both ends of every element, about the section's own centroid and shear centre."""
    pull = np.tile(beam.turn @ field, 2)
    out = []
    for ends, piece in zip(beam_ends(beam, d), beam.pieces, strict=True):
        f = piece.K @ ends - piece.M @ pull
        for x, force in zip(piece.x, (-f[:6], f[6:]), strict=True):
            out.append(SectionForces(x, *(float(v) for v in piece.own @ force)))
    return tuple(_without_doubles(out))


def _without_doubles(found: list[SectionForces]) -> list[SectionForces]:
    """One entry where two elements meet and the forces agree; two where a load comes in or the section changes."""
    most = np.abs([_figures(f)[1:] for f in found]).max(axis=0)
    kept = found[:1]
    for a, b in itertools.pairwise(found):
        same_place = abs(a.x - b.x) < 1e-9
        if same_place and (np.abs(np.subtract(_figures(a), _figures(b))[1:]) <= 1e-9 * most).all():
            continue
        kept.append(b)
    return kept


def _figures(f: SectionForces) -> tuple[float, ...]:
    """x, N, Vy, Vz, T, My, Mz as a tuple."""
    return (f.x, f.N, f.Vy, f.Vz, f.T, f.My, f.Mz)
