"""A straight member as shear-flexible beam elements in space: stiffness, mass, free vibration.

Units inside: mm, N, tonne, s. Every node has six unknowns (u, v, w, tx, ty, tz): shifts along x, y, z and
rotations about them, of the reference axis; a point (y, z) off that axis moves by u + ty z - tz y, v - tx z,
w + tx y. So bending in both planes, stretch and twist are coupled as the centroid, the shear centre and EIyz
couple them, and stretches of different section join on one axis.

An element is exact for forces at its ends, however long: its stiffness is the inverse of the flexibility that
its section forces give, and the same deflected shapes make its consistent mass, rotary inertia included
(flexibility method: Przemieniecki, Theory of Matrix Structural Analysis, ch. 5 and 11, from memory; held by
tests to closed forms).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg

from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

U, V, W, TX, TY, TZ = range(6)

# How a rotation at one end carries a point a length further on: v grows by tz, w falls by ty.
_LEVER = np.zeros((6, 6))
_LEVER[V, TZ], _LEVER[W, TY] = 1.0, -1.0

# Shift of the eigenvalue problem, so that a member free in space can be solved too.
_SHIFT_HZ = 5.0

Span = tuple[float, float]


@dataclass(frozen=True)
class Stretch:
    """A part of the member of one section: from and to along x in mm, stiffness constants, and inertia."""

    start: float
    end: float
    properties: BeamProperties
    inertia: Inertia


@dataclass(frozen=True)
class Beam:
    """A member cut into elements on a reference axis.

    x: (n + 1,) places of the nodes, mm. K, M: (6 (n + 1), 6 (n + 1)) stiffness and mass, free at both ends.
    """

    x: np.ndarray
    K: np.ndarray
    M: np.ndarray

    def unknown(self, x: float, which: int) -> int:
        """Index of an unknown (U to TZ) at a place, which must be a node; ValueError otherwise."""
        i = int(np.argmin(np.abs(self.x - x)))
        if abs(self.x[i] - x) > 1e-6:
            raise ValueError(f"no node at x = {x:g} mm")
        return 6 * i + which


@dataclass(frozen=True)
class Mode:
    """A natural mode: frequency in Hz, shape (n + 1, 6), and the share of its kinetic energy by kind.

    shares: "bend_y" (moving in y), "bend_z" (moving in z), "twist", "stretch"; they add up to 1 where the kinds
    do not couple through the mass.
    """

    frequency: float
    shape: np.ndarray
    shares: dict[str, float]

    @property
    def kind(self) -> str:
        """The kind with the greatest share."""
        return max(self.shares, key=lambda kind: self.shares[kind])


def own_strains(p: BeamProperties, axis: tuple[float, float]) -> np.ndarray:
    """(6, 6) matrix from section strains on the reference axis to those about centroid and shear centre.

    Strains: stretch, shears (v' - tz, w' + ty), twist rate, curvatures (ty', tz').
    """
    yc, zc = p.centroid[0] - axis[0], p.centroid[1] - axis[1]
    ys, zs = p.shear_centre[0] - axis[0], p.shear_centre[1] - axis[1]
    A = np.eye(6)
    A[U, TY], A[U, TZ] = zc, -yc
    A[V, TX], A[W, TX] = -zs, ys
    return A


def own_flexibility(p: BeamProperties) -> np.ndarray:
    """(6, 6) flexibility of a section to (N, Vy, Vz, T, My, Mz) about its own centroid and shear centre."""
    S = np.diag([1 / p.EA, 1 / p.GAy, 1 / p.GAz, 1 / p.GJ, 0.0, 0.0])
    S[TY:, TY:] = np.linalg.inv(np.array([[p.EIy, -p.EIyz], [-p.EIyz, p.EIz]]))
    return S


def _gauss(count: int, length: float) -> list[tuple[float, float]]:
    """Gauss places and weights on [0, length]."""
    at, weight = np.polynomial.legendre.leggauss(count)
    return [(float(a + 1) * length / 2, float(w) * length / 2) for a, w in zip(at, weight, strict=True)]


def _carry(length: float) -> np.ndarray:
    """(6, 6) rigid motion of a point a length further along x."""
    return np.eye(6) + length * _LEVER


def _bend(S: np.ndarray, x: float, length: float) -> np.ndarray:
    """(6, 6) motion at x of an element held at its start, per force at its end."""
    return sum(
        (w * _carry(x - a) @ S @ _carry(length - a).T for a, w in _gauss(2, x)),
        start=np.zeros((6, 6)),
    )


def element(S: np.ndarray, mass: np.ndarray, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness and consistent mass, (12, 12) each, of an element with section flexibility S and mass (6, 6)."""
    whole = _carry(length)
    stiff = np.linalg.inv(_bend(S, length, length))
    ends = np.hstack([-whole, np.eye(6)])
    K = ends.T @ stiff @ ends
    M = np.zeros((12, 12))
    for x, weight in _gauss(4, length):
        by_force = _bend(S, x, length) @ stiff
        shape = np.hstack([_carry(x) - by_force @ whole, by_force])
        M += weight * shape.T @ mass @ shape
    return (K + K.T) / 2, (M + M.T) / 2


def _nodes(stretches: Sequence[Stretch], places: Sequence[float], elements: int) -> np.ndarray:
    start, end = stretches[0].start, stretches[-1].end
    marks = {start, end, *(s.end for s in stretches), *(p for p in places if start < p < end)}
    nodes = [start]
    for a, b in itertools.pairwise(sorted(marks)):
        count = max(1, round(elements * (b - a) / (end - start)))
        nodes += list(np.linspace(a, b, count + 1)[1:])
    return np.array(nodes)


def build_beam(
    stretches: Sequence[Stretch],
    axis: tuple[float, float],
    places: Sequence[float] = (),
    elements: int = 40,
) -> Beam:
    """Stretches that follow one another, cut into about `elements` elements with nodes at `places`."""
    x = _nodes(stretches, places, elements)
    size = 6 * len(x)
    K, M = np.zeros((size, size)), np.zeros((size, size))
    made: dict[tuple[int, float], tuple[np.ndarray, np.ndarray]] = {}
    for i, (a, b) in enumerate(itertools.pairwise(x)):
        owner = next(j for j, s in enumerate(stretches) if (a + b) / 2 < s.end)
        key = (owner, round(float(b - a), 9))
        if key not in made:
            s = stretches[owner]
            inverse = np.linalg.inv(own_strains(s.properties, axis))
            flexibility = inverse @ own_flexibility(s.properties) @ inverse.T
            made[key] = element(flexibility, s.inertia.about(axis), float(b - a))
        at = slice(6 * i, 6 * i + 12)
        K[at, at] += made[key][0]
        M[at, at] += made[key][1]
    return Beam(x, K, M)


def natural(K: np.ndarray, M: np.ndarray, count: int, rigid: int = 0) -> tuple[np.ndarray, np.ndarray]:
    """First natural frequencies, Hz, (count,), and shapes (unknowns, count), past `rigid` motions without strain.

    Solved for the greatest 1 / (omega^2 + shift), so that a small rotary inertia does no harm to the lowest modes.
    """
    shift = (2 * np.pi * _SHIFT_HZ) ** 2
    size = len(K)
    first, last = size - rigid - count, size - rigid - 1
    values, vectors = scipy.linalg.eigh(M, K + shift * M, subset_by_index=[first, last])
    squares = np.maximum(1 / values[::-1] - shift, 0.0)
    return np.sqrt(squares) / (2 * np.pi), vectors[:, ::-1]


def modes(K: np.ndarray, M: np.ndarray, count: int, rigid: int = 0) -> list[Mode]:
    """The first modes of a Beam, springs and masses added to its K and M, as `natural` finds them."""
    frequencies, vectors = natural(K, M, count, rigid)
    found = []
    for frequency, vector in zip(frequencies, vectors.T, strict=True):
        momentum = (M @ vector).reshape(-1, 6)
        kinetic = (momentum * vector.reshape(-1, 6)).sum(axis=0) / (vector @ M @ vector)
        shares = {
            "bend_y": float(kinetic[V] + kinetic[TZ]),
            "bend_z": float(kinetic[W] + kinetic[TY]),
            "twist": float(kinetic[TX]),
            "stretch": float(kinetic[U]),
        }
        found.append(Mode(float(frequency), vector.reshape(-1, 6), shares))
    return found


def first_of(found: Sequence[Mode], kind: str) -> Mode:
    """The lowest mode of a kind; where none is mostly of that kind, the one with the greatest share of it."""
    own = [mode for mode in found if mode.kind == kind]
    return own[0] if own else max(found, key=lambda mode: mode.shares[kind])
