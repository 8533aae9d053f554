"""Stiffness of one period by solid finite elements: macroscopic strain plus a displacement that repeats.

The member is taken as endless. A stretch, two curvatures and a twist are put on one period; the displacement
that repeats from period to period settles so that the stored energy is least, which gives a 4 x 4 stiffness.
Shear follows from curvature that grows along x: its own first-order fields load a second set of solutions.
(Asymptotic homogenisation of a periodic beam; own derivation, with the intact prism as its check: there it is
Saint-Venant's flexure exactly.)

Where planes mirror the period into itself, the part between them is enough: each load is even or odd about each
plane, which holds one or two components of the displacement there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sparwright.stiffness.flexure import shear_from_fields
from sparwright.stiffness.mirror import Mirrors

# Whether each load keeps its sign (1) or changes it (-1) in a mirror across x, y and z: stretch, curvature with
# strain -y, curvature with strain z, twist; then the shear that goes with each curvature.
PARITY = ((1, 1, 1), (1, -1, 1), (1, 1, -1), (-1, -1, -1))
SHEAR_PARITY = ((-1, -1, 1), (-1, 1, -1))


@dataclass(frozen=True)
class PeriodStiffness:
    """What one period gives, about the mesh's own y and z zero.

    volume of metal mm³. C: symmetric (4, 4) for stretch, curvature with strain -y, curvature with strain z, twist; N, N mm, N mm².
    shear_centre (y, z) mm. compliance: of shear, (2, 2), 1/N. balance: greatest relative miss of the shear force
    against the slope of the bending moment, which is zero for an exact solution.
    """

    volume: float
    C: np.ndarray
    shear_centre: tuple[float, float]
    compliance: np.ndarray
    balance: float


def solve_period(
    mesh: Any, period: float, modulus: float, poisson: float, order: int, mirrors: Mirrors
) -> PeriodStiffness:
    """Stiffness of the period meshed, modulus in MPa.

    mesh: of the whole period from x = 0 to `period` mm with its ends tied together; or of the part between the
    mirror planes, its faces on them named "x", "y", "z", tied only where x is not mirrored.
    """
    import ngsolve as ng

    cell = Cell(mesh, period, modulus, poisson, order, mirrors)
    volume = cell.copies * ng.Integrate(ng.CF(1), mesh, order=order)
    loads = [cell.load(-cell.stress(e)) for e in cell.macro]
    fields = [cell.solve(f, parity) for f, parity in zip(loads, PARITY, strict=True)]
    macro = cell.products([cell.stress(e) for e in cell.macro], cell.macro, PARITY)
    relief = np.array([[ng.InnerProduct(f.vec, u.vec) for u in fields] for f in loads]) * cell.copies
    relief *= cell.alike(PARITY, PARITY)
    C = (macro - (relief + relief.T) / 2) / period
    centre, compliance, balance = _shear(cell, fields, C, period)
    return PeriodStiffness(float(volume), C, (float(centre[0]), float(centre[1])), compliance, balance)


class Cell:
    """The problem on one mesh: one matrix, a factorisation for each kind of load, many loads."""

    def __init__(
        self, mesh: Any, period: float, modulus: float, poisson: float, order: int, mirrors: Mirrors
    ) -> None:
        import ngsolve as ng

        self.ng, self.mesh, self.order, self.axes = ng, mesh, order, mirrors.axes
        self.copies = mirrors.copies
        # Curved elements want a little more than the straight ones the default is made for.
        self.dx = ng.dx(bonus_intorder=2)
        self.mu = modulus / (2 * (1 + poisson))
        self.lam = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
        self.macro = [_macro(ng, share) for share in np.eye(4)]
        # One unknown of three components a node makes the factorisation quicker, where no plane holds some of them.
        self._vector = ng.VectorH1(mesh, order=order) if mirrors.axes else ng.H1(mesh, order=order, dim=3)
        self.space = self._vector if mirrors.x is not None else ng.Periodic(self._vector)
        u, v = self.space.TnT()
        self.pin = 1e-7 * self.mu / period**2
        form = ng.BilinearForm(self.space, symmetric=True)
        # The last term holds the free motions; every load balances, so it changes nothing else.
        form += (ng.InnerProduct(self.stress(_strain(ng, u)), _strain(ng, v)) + self.pin * u * v) * self.dx
        form.Assemble()
        self.matrix = form.mat
        self._inverses: dict[tuple[int, ...], Any] = {}

    def _sort(self, parity: tuple[int, ...]) -> tuple[int, ...]:
        """A load's signs about the planes this part has."""
        return tuple(parity[a] for a in self.axes)

    def alike(self, some: tuple[Any, ...], others: tuple[Any, ...]) -> np.ndarray:
        """Which pairs of fields can share energy: those with the same signs about every plane; 1 or 0."""
        return np.array([[float(self._sort(a) == self._sort(b)) for b in others] for a in some])

    def free(self, parity: tuple[int, ...]) -> Any:
        """Unknowns that are free under a load of this sort.

        An even load leaves a plane in its place: nothing moves across it. An odd one moves it across only.
        """
        free = _bits(self.space.FreeDofs())
        for axis, sign in zip(self.axes, self._sort(parity), strict=True):
            region = self.mesh.Boundaries("xyz"[axis])
            for i, part in enumerate(self._vector.components):
                if (i == axis) == (sign > 0):
                    own = self._vector.Range(i)
                    free[own.start : own.stop] &= ~_bits(part.GetDofs(region))
        return self.ng.BitArray(free.tolist())

    def inverse(self, parity: tuple[int, ...]) -> Any:
        """The factorisation for loads of this sort, made once."""
        sort = self._sort(parity)
        if sort not in self._inverses:
            held = self.free(parity) if self.axes else self.space.FreeDofs()
            self._inverses[sort] = self.matrix.Inverse(held, inverse="sparsecholesky")
        return self._inverses[sort]

    def stress(self, strain: Any) -> Any:
        """Stress of a strain, both 3 x 3."""
        return 2 * self.mu * strain + self.lam * self.ng.Trace(strain) * self.ng.Id(3)

    def strain(self, field: Any) -> Any:
        """Strain of a displacement field."""
        return _strain(self.ng, field)

    def load(self, stress: Any, force: Any = None) -> Any:
        """The linear form of stress : strain(v), plus body force . v where given."""
        v = self.space.TestFunction()
        form = self.ng.LinearForm(self.space)
        form += self.ng.InnerProduct(stress, _strain(self.ng, v)) * self.dx
        if force is not None:
            form += force * v * self.dx
        form.Assemble()
        return form

    def solve(self, load: Any, parity: tuple[int, ...]) -> Any:
        """The displacement that repeats, under a load."""
        field = self.ng.GridFunction(self.space)
        field.vec.data = self.inverse(parity) * load.vec
        return field

    def products(self, stresses: list[Any], strains: list[Any], parities: tuple[Any, ...]) -> np.ndarray:
        """Integrals of stress : strain over the period, of every pair, shape (len(stresses), len(strains))."""
        alike = self.alike(parities, parities)
        rows, columns = np.nonzero(alike)
        values = self.integrals(
            [self.ng.InnerProduct(stresses[i], strains[j]) for i, j in zip(rows, columns, strict=True)]
        )
        alike[rows, columns] = values
        return alike

    def integrals(self, densities: list[Any]) -> np.ndarray:
        """Integrals of scalar densities over the period, even about every plane; shape (len(densities),)."""
        together = self.ng.CF(tuple(densities)).Compile()
        return self.copies * np.array(self.ng.Integrate(together, self.mesh, order=2 * self.order))


def _bits(bits: Any) -> np.ndarray:
    """A bit array as booleans."""
    return np.fromiter(bits, dtype=bool, count=len(bits))


def _tensor(ng: Any, exx: Any = 0, gxy: Any = 0, gxz: Any = 0) -> Any:
    """A 3 x 3 strain from its stretch and engineering shears."""
    return ng.CF((exx, gxy / 2, gxz / 2, gxy / 2, 0, 0, gxz / 2, 0, 0), dims=(3, 3))


def _macro(ng: Any, shares: np.ndarray) -> Any:
    """Strain of stretch, the two curvatures and twist together, in these shares, shape (4,)."""
    stretch, bend_y, bend_z, twist = (float(c) for c in shares)
    return _tensor(
        ng, exx=ng.CF(stretch - bend_y * ng.y + bend_z * ng.z), gxy=-twist * ng.z, gxz=twist * ng.y
    )


def _strain(ng: Any, u: Any) -> Any:
    return ng.Sym(ng.Grad(u))


def _shear(
    cell: Cell, fields: list[Any], C: np.ndarray, period: float
) -> tuple[np.ndarray, np.ndarray, float]:
    """Shear centre, shear compliance and balance from the first-order fields."""
    ng = cell.ng
    pure = _pure(C)
    # Strains and repeating displacements of: twist alone, and each curvature without axial force or torque.
    strains, moves = [], []
    for row in pure:
        move = ng.GridFunction(cell.space)
        for share, field in zip(row, fields, strict=True):
            move.vec.data += float(share) * field.vec
        moves.append(move)
        strains.append(_macro(ng, row) + cell.strain(move))
    second = [strains[0]]
    for strain, move, parity in zip(strains[1:], moves[1:], SHEAR_PARITY, strict=True):
        growing = _tensor(ng, exx=move[0], gxy=move[1], gxz=move[2])
        pull = cell.stress(strain)
        load = cell.load(-cell.stress(growing), ng.CF((pull[0, 0], pull[1, 0], pull[2, 0])))
        second.append(growing + cell.strain(cell.solve(load, parity)))
    stresses = [cell.stress(e) for e in second]
    sorts = (PARITY[3], *SHEAR_PARITY)
    energy = cell.products(stresses, second, sorts) / period
    forces = np.array([cell.integrals(_resultants(ng, s)) for s in stresses[1:]]) / period
    forces *= cell.alike(SHEAR_PARITY, (*SHEAR_PARITY, PARITY[3]))
    slope = np.linalg.inv(np.linalg.inv(C)[1:3, 1:3])
    expected = np.array([[-slope[0, 0], slope[0, 1]], [-slope[1, 0], slope[1, 1]]])
    balance = float(np.abs(forces[:, :2] - expected).max() / np.abs(expected).max())
    centre, compliance = shear_from_fields(energy, forces)
    return centre, compliance, balance


def _pure(C: np.ndarray) -> np.ndarray:
    """Macroscopic strains, rows: unit twist with nothing else held; unit curvatures free of force and torque."""
    S = np.linalg.inv(C)
    twist = S[:, 3] / S[3, 3]
    curvatures = S[:, 1:3] @ np.linalg.inv(S[1:3, 1:3])
    return np.vstack([twist, curvatures.T])


def _resultants(ng: Any, stress: Any) -> list[Any]:
    """Densities of Vy, Vz and the torque about the origin."""
    sxy, sxz = stress[0, 1], stress[0, 2]
    return [sxy, sxz, ng.y * sxz - ng.z * sxy]
