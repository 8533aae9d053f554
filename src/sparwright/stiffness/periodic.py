"""Stiffness of one period by solid finite elements: macroscopic strain plus a displacement that repeats.

The member is taken as endless. A stretch, two curvatures and a twist are put on one period; the displacement
that repeats from period to period settles so that the stored energy is least, which gives a 4 x 4 stiffness.
Shear follows from curvature that grows along x: its own first-order fields load a second set of solutions.
(Asymptotic homogenisation of a periodic beam; own derivation, with the intact prism as its check: there it is
Saint-Venant's flexure exactly.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sparwright.stiffness.flexure import shear_from_fields


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


def solve_period(mesh: Any, period: float, modulus: float, poisson: float, order: int) -> PeriodStiffness:
    """Stiffness of the period meshed, periodic from x = 0 to `period` mm; modulus in MPa."""
    import ngsolve as ng

    cell = _Cell(mesh, modulus, poisson, order)
    volume = float(ng.Integrate(ng.CF(1), mesh, order=order))
    loads = [cell.load(stress=-cell.stress(e)) for e in cell.macro]
    fields = [cell.solve(f) for f in loads]
    macro = cell.products([cell.stress(e) for e in cell.macro], cell.macro)
    relief = np.array([[ng.InnerProduct(f.vec, u.vec) for u in fields] for f in loads])
    C = (macro - (relief + relief.T) / 2) / period
    centre, compliance, balance = _shear(cell, fields, C, period)
    return PeriodStiffness(volume, C, (float(centre[0]), float(centre[1])), compliance, balance)


class _Cell:
    """The periodic problem on one mesh: one factorisation, many loads."""

    def __init__(self, mesh: Any, modulus: float, poisson: float, order: int) -> None:
        import ngsolve as ng

        self.ng, self.mesh, self.order = ng, mesh, order
        # Curved elements want a little more than the straight ones the default is made for.
        self.dx = ng.dx(bonus_intorder=2)
        self.mu = modulus / (2 * (1 + poisson))
        self.lam = modulus * poisson / ((1 + poisson) * (1 - 2 * poisson))
        self.macro = [_macro(ng, share) for share in np.eye(4)]
        # One unknown of three components a node: the factorisation is twice as quick as with three spaces.
        self.space = ng.Periodic(ng.H1(mesh, order=order, dim=3))
        u, v = self.space.TnT()
        low, high = mesh.ngmesh.bounding_box
        pin = 1e-7 * self.mu / (high[0] - low[0]) ** 2
        form = ng.BilinearForm(self.space, symmetric=True)
        # The last term holds the four free motions; every load balances, so it changes nothing else.
        form += (ng.InnerProduct(self.stress(_strain(ng, u)), _strain(ng, v)) + pin * u * v) * self.dx
        form.Assemble()
        self.inverse = form.mat.Inverse(self.space.FreeDofs(), inverse="sparsecholesky")

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

    def solve(self, load: Any) -> Any:
        """The displacement that repeats, under a load."""
        field = self.ng.GridFunction(self.space)
        field.vec.data = self.inverse * load.vec
        return field

    def products(self, stresses: list[Any], strains: list[Any]) -> np.ndarray:
        """Integrals of stress : strain over the period, of every pair, shape (len(stresses), len(strains))."""
        pairs = [self.ng.InnerProduct(s, e) for s in stresses for e in strains]
        return np.reshape(self.integrals(pairs), (len(stresses), len(strains)))

    def integrals(self, densities: list[Any]) -> np.ndarray:
        """Integrals of scalar densities over the period, shape (len(densities),)."""
        together = self.ng.CF(tuple(densities)).Compile()
        return np.array(self.ng.Integrate(together, self.mesh, order=2 * self.order + 2))


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
    cell: _Cell, fields: list[Any], C: np.ndarray, period: float
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
    for strain, move in zip(strains[1:], moves[1:], strict=True):
        growing = _tensor(ng, exx=move[0], gxy=move[1], gxz=move[2])
        pull = cell.stress(strain)
        load = cell.load(-cell.stress(growing), ng.CF((pull[0, 0], pull[1, 0], pull[2, 0])))
        second.append(growing + cell.strain(cell.solve(load)))
    stresses = [cell.stress(e) for e in second]
    energy = cell.products(stresses, second) / period
    forces = np.array([cell.integrals(_resultants(ng, s)) for s in stresses[1:]]) / period
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
