"""A straight member as a chain of shear-flexible beam elements: statics, energies and free vibration.

Units inside: mm, N, tonne, s. One plane at a time (deflection w, rotation), and twist as a chain of shafts. The
element's shape functions are the exact static ones of a Timoshenko beam with Phi = 12 EI / (GA L^2); the
consistent mass follows from them by Gauss quadrature, with rotary inertia (Przemieniecki, Theory of Matrix
Structural Analysis, ch. 5 and 11, from memory; tested against closed forms).
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg

from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

_XI, _WEIGHT = np.polynomial.legendre.leggauss(4)
_XI, _WEIGHT = (_XI + 1) / 2, _WEIGHT / 2


@dataclass(frozen=True)
class Chain:
    """Nodes and element constants of a member.

    x: (n + 1,) node places, mm. EI, GA, GJ: (n,) N mm2, N, N mm2. mass: (n,) t/mm; rotary, polar: (n,) t mm.
    """

    x: np.ndarray
    EI: np.ndarray
    GA: np.ndarray
    GJ: np.ndarray
    mass: np.ndarray
    rotary: np.ndarray
    polar: np.ndarray

    @property
    def lengths(self) -> np.ndarray:
        """Element lengths, mm, (n,)."""
        return np.diff(self.x)

    def node_at(self, x: float) -> int:
        """The node at a place; it must be one."""
        i = int(np.argmin(np.abs(self.x - x)))
        if abs(self.x[i] - x) > 1e-6:
            raise ValueError(f"no node at x = {x:g} mm")
        return i


def worked_spans(member: Member) -> list[tuple[float, float]]:
    """Where along x the section is reworked: the union of the fields' spans."""
    spans: list[tuple[float, float]] = []
    for low, high in sorted(b.span for b in member.bays):
        if spans and low <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], high))
        else:
            spans.append((low, high))
    return spans


def chain(
    length: float,
    plain: BeamProperties,
    worked: BeamProperties | None = None,
    spans: Sequence[tuple[float, float]] = (),
    places: Sequence[float] = (),
    *,
    plane: str = "z",
    elements: int = 80,
) -> Chain:
    """A member of `length` mm with `worked` constants within `spans` and `plain` ones elsewhere.

    plane: "z" for moving in z (EIy, GAz), "y" for moving in y (EIz, GAy). places: x where nodes are wanted.
    """
    marks = sorted(
        {
            0.0,
            length,
            *(p for s in spans for p in s if 0 < p < length),
            *(p for p in places if 0 < p < length),
        }
    )
    nodes = [marks[0]]
    for a, b in itertools.pairwise(marks):
        count = max(1, round(elements * (b - a) / length))
        nodes += list(np.linspace(a, b, count + 1)[1:])
    x = np.array(nodes)
    middle = (x[:-1] + x[1:]) / 2
    inside = np.zeros(len(middle), dtype=bool)
    for a, b in spans:
        inside |= (middle > a) & (middle < b)
    if worked is None:
        worked = plain

    def pick(name: str) -> np.ndarray:
        return np.where(inside, getattr(worked, name), getattr(plain, name))

    EI, GA = (pick("EIy"), pick("GAz")) if plane == "z" else (pick("EIz"), pick("GAy"))
    mass = pick("mass_kg_per_m") * 1e-6
    # Radii of gyration of the metal, taken from stiffness over stretch stiffness: exact for one metal throughout.
    polar = mass * (plain.EIy + plain.EIz) / plain.EA
    rotary = mass * (plain.EIy if plane == "z" else plain.EIz) / plain.EA
    return Chain(x, EI, GA, pick("GJ"), mass, rotary, polar)


def _bending_element(
    EI: float, GA: float, mass: float, rotary: float, L: float
) -> tuple[np.ndarray, np.ndarray]:
    phi = 12 * EI / (GA * L * L)
    k = EI / ((1 + phi) * L**3)
    K = k * np.array(
        [
            [12, 6 * L, -12, 6 * L],
            [6 * L, (4 + phi) * L * L, -6 * L, (2 - phi) * L * L],
            [-12, -6 * L, 12, -6 * L],
            [6 * L, (2 - phi) * L * L, -6 * L, (4 + phi) * L * L],
        ]
    )
    s = _XI
    N = np.array(
        [
            1 - 3 * s**2 + 2 * s**3 + phi * (1 - s),
            L * (s - 2 * s**2 + s**3 + phi / 2 * (s - s**2)),
            3 * s**2 - 2 * s**3 + phi * s,
            L * (s**3 - s**2 - phi / 2 * (s - s**2)),
        ]
    ) / (1 + phi)
    T = np.array(
        [
            6 / L * (s**2 - s),
            1 - 4 * s + 3 * s**2 + phi * (1 - s),
            6 / L * (s - s**2),
            3 * s**2 - 2 * s + phi * s,
        ]
    ) / (1 + phi)
    M = L * ((N * _WEIGHT) @ N.T * mass + (T * _WEIGHT) @ T.T * rotary)
    return K, M


def bending_matrices(c: Chain) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness and mass (2 (n + 1))^2 of bending; unknowns w, rotation by node."""
    size = 2 * len(c.x)
    K, M = np.zeros((size, size)), np.zeros((size, size))
    for i, L in enumerate(c.lengths):
        k, m = _bending_element(c.EI[i], c.GA[i], c.mass[i], c.rotary[i], L)
        at = slice(2 * i, 2 * i + 4)
        K[at, at] += k
        M[at, at] += m
    return K, M


def twist_matrices(c: Chain) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness and mass (n + 1)^2 of twist; unknowns are the angles at the nodes."""
    size = len(c.x)
    K, M = np.zeros((size, size)), np.zeros((size, size))
    for i, L in enumerate(c.lengths):
        at = slice(i, i + 2)
        K[at, at] += c.GJ[i] / L * np.array([[1, -1], [-1, 1]])
        M[at, at] += c.polar[i] * L / 6 * np.array([[2, 1], [1, 2]])
    return K, M


def bending_energies(c: Chain, u: np.ndarray) -> tuple[float, float]:
    """Strain energies (bending, shear), N mm, of nodal displacements u."""
    bending = shear = 0.0
    for i, L in enumerate(c.lengths):
        k, _ = _bending_element(c.EI[i], c.GA[i], c.mass[i], c.rotary[i], L)
        f = k @ u[2 * i : 2 * i + 4]
        a, b, force = f[1], -f[3], f[0]
        bending += L * (a * a + a * b + b * b) / (6 * c.EI[i])
        shear += force * force * L / (2 * c.GA[i])
    return bending, shear


def frequencies(
    K: np.ndarray, M: np.ndarray, count: int = 3, rigid: int = 0
) -> tuple[np.ndarray, np.ndarray]:
    """The first natural frequencies, Hz, (count,), and their shapes (dof, count), past `rigid` body modes."""
    values, shapes = scipy.linalg.eigh(K, M, subset_by_index=[rigid, rigid + count - 1])
    return np.sqrt(np.maximum(values, 0.0)) / (2 * np.pi), shapes
