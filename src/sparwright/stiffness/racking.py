"""Racking: the section of a tube goes out of shape, and takes a part of every fast twist with it.

In an endless member the motion that is the same in every period (wave number nought) has modes: three rigid ones, and
distortions of the section above them. Twist that varies along the member shears the walls; where that shear
also works on a distortion, the two vibrate together and the frequency falls below the beam's. With the rotation of
the section and its distortions as unknowns, all of unit inertia, this is

    K = w² q q' + diag(0, w1², w2², ...),   q = (1, c1, c2, ...)

w: the beam's frequency of twist. (Own derivation: the walls' shear by the unit twist's stress, every
distortion growing along x; that the distortion itself warps is left out.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparwright.job.models import Material
from sparwright.stiffness.bay import ATTEMPTS, bay_mesh, failures, mesh_options
from sparwright.stiffness.mirror import NO_MIRRORS, find_mirrors
from sparwright.stiffness.pattern import BayError, Pattern
from sparwright.stiffness.periodic import PARITY, Cell
from sparwright.stiffness.section import wall_scale
from sparwright.stock.model import Section

ORDER = 2
# Mesh size over the bay's: frequencies need less than stiffness.
SIZE = 1.4
# Distortions given, and looked for among the motions of each sort.
MODES = 4
# Kinetic energy of motion along the member above which a mode is no distortion of the section.
ALONG = 0.5


@dataclass(frozen=True)
class Racking:
    """Distortions of an endless member's section at wave number nought.

    frequencies: Hz, lowest first, shape (n,). coupling: c of each to twist, without sign, shape (n,): 0 where twist leaves it alone.
    """

    frequencies: np.ndarray
    coupling: np.ndarray

    def torsion(self, beam_Hz: float) -> float:
        """The frequency of twist, Hz, that the beam without distortion puts at beam_Hz."""
        q = np.concatenate([[1.0], self.coupling])
        K = beam_Hz**2 * np.outer(q, q) + np.diag([0.0, *self.frequencies**2])
        return math.sqrt(max(float(np.linalg.eigvalsh(K)[0]), 0.0))

    @property
    def cutoff(self) -> float:
        """The frequency, Hz, that no first-branch twist passes however short its wave: distortion without shear."""
        return self.torsion(1e3 * float(self.frequencies.max()))


def racking(section: Section, material: Material, pattern: Pattern | None, order: int = ORDER) -> Racking:
    """The lowest distortions of the section and their part in twist; pattern None: the plain section.

    Raises BayError where no mesh could be made, or where no distortion is found.
    """
    if pattern is None:
        pattern = Pattern(2 * wall_scale(section.shape), 0.0, ())
    trouble = ""
    for mirrored, shift, size in ATTEMPTS:
        laid = pattern.shifted(pattern.clear_shift(shift))
        mirrors = find_mirrors(section, laid) if mirrored else NO_MIRRORS
        try:
            mesh = bay_mesh(section, laid, mesh_options(section, laid, SIZE * size, False), order, mirrors)
        except failures() as fault:
            trouble = (str(fault).strip() or type(fault).__name__).splitlines()[0]
            continue
        return _solved(Cell(mesh, laid.period, material.modulus, material.poisson, order, mirrors), material)
    raise BayError(
        f"the racking of one period of {pattern.period:.2f} mm could not be computed in {len(ATTEMPTS)} attempts; "
        f"the last trouble: {trouble}. Look for pockets that touch each other, and change rib or cell a little"
    )


def _solved(cell: Cell, material: Material) -> Racking:
    # tonne and second go with N and mm.
    modes = _Modes(cell, material.density * 1e-12)
    found = [
        mode
        for y in ((1, -1) if 1 in cell.axes else (1,))
        for z in ((1, -1) if 2 in cell.axes else (1,))
        for mode in modes.lowest((1, y, z))
    ]
    if not found:
        raise BayError(
            "no distortion of the section was found among its lowest modes; a compact bar has none that matters"
        )
    table = np.array(sorted(found)[:MODES])
    return Racking(np.sqrt(table[:, 0]) / (2 * math.pi), table[:, 1])


class _Modes:
    """Free motions of one cell that are alike in every period."""

    def __init__(self, cell: Cell, density: float) -> None:
        ng = cell.ng
        self.cell = cell
        # What the spring that holds the free motions adds to the square of every angular frequency.
        self.held = cell.pin / density
        u, v = cell.space.TnT()
        form = ng.BilinearForm(cell.space, symmetric=True)
        form += density * u * v * cell.dx
        form.Assemble()
        self.mass = form.mat
        twist = cell.macro[3]
        field = cell.solve(cell.load(-cell.stress(twist)), PARITY[3])
        stress = cell.stress(twist + cell.strain(field))
        self.pull = ng.CF((stress[0, 0], stress[1, 0], stress[2, 0]))
        every = cell.integrals([ng.CF(density), density * ng.y, density * ng.z])
        # Where a middle plane mirrors the section its centroid lies on it, and the part's own moment is no sign of it.
        y = ng.y - (0.0 if 1 in cell.axes else every[1] / every[0])
        z = ng.z - (0.0 if 2 in cell.axes else every[2] / every[0])
        inertia, torque = cell.integrals([density * (y * y + z * z), y * self.pull[2] - z * self.pull[1]])
        self.torque = float(torque / math.sqrt(inertia))

    def lowest(self, parity: tuple[int, int, int]) -> list[tuple[float, float]]:
        """Distortions of one sort: square of the angular frequency, and coupling to twist."""
        from scipy.sparse.linalg import LinearOperator, eigsh

        cell = self.cell
        given, result = self.mass.CreateColVector(), self.mass.CreateColVector()

        def operator(matrix: Any) -> Any:
            def apply(x: np.ndarray) -> np.ndarray:
                given.FV().NumPy()[:] = x.ravel()
                result.data = matrix * given
                return np.array(result.FV().NumPy())

            size = len(given.FV().NumPy())
            return LinearOperator((size, size), matvec=apply, dtype=float)

        mass, solve = operator(self.mass), operator(cell.inverse(parity))
        # A start of fixed numbers, so that the answer is the same every time.
        start = solve @ np.random.default_rng(1).standard_normal(mass.shape[0])
        # Four rigid motions at most lie below the distortions.
        count = MODES + 4 - len(cell.axes)
        values, vectors = eigsh(mass, k=count, M=mass, sigma=0.0, OPinv=solve, v0=start, tol=1e-5)
        found = []
        for value, vector in zip(values, vectors.T, strict=True):
            field = cell.ng.GridFunction(cell.space)
            field.vec.FV().NumPy()[:] = vector / math.sqrt(cell.copies)
            if value > 2 * self.held and self._along(field) < ALONG:
                found.append((float(value - self.held), self._coupling(field, parity)))
        return found

    def _along(self, field: Any) -> float:
        """Share of a motion's kinetic energy that is along the member."""
        along, every = self.cell.integrals([field[0] ** 2, self.cell.ng.InnerProduct(field, field)])
        return float(along / every)

    def _coupling(self, field: Any, parity: tuple[int, int, int]) -> float:
        """What the shear of a unit twist does on a motion that grows along x, over what it does on rotation."""
        growing = (-parity[0], *parity[1:])
        if not self.cell.alike((growing,), (PARITY[3],))[0, 0]:
            return 0.0
        return abs(float(self.cell.integrals([self.pull * field, field[0]])[0]) / self.torque)
