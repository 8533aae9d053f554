"""Peak stress in a patterned wall: one period of the wall as a flat membrane in two-dimensional finite elements.

The strip lies in (x, s) of its face, from the middle of one side wall to the middle of the other. A stretch along x and a shear are put
on it; the displacement that repeats from period to period settles. Along both side lines the wall keeps its u_x,
because the walls beside it carry it; u_s is free there. A skin is a region of its own thickness in the same membrane,
so the bending that comes of its lying off the wall's middle is not in here: strength.py puts a factor on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from sparwright.answers import BadInput
from sparwright.stiffness.peak_mesh import Strip, check_strip, strip_mesh

ORDER = 4
# Where the strip is cut open, as a share of the period, until a mesh comes out.
SHIFTS = (0.0, 0.37, 0.21, 0.61)
# Points along a triangle's side at which stress is looked at.
LOOK = 7
KEPT = 64


@dataclass(frozen=True)
class StripPeaks:
    """Stresses of a strip under unit loads.

    shear: peak von Mises stress in the full wall over sqrt(3) times the gross shear stress q/t; axial: over the gross axial
    stress n/t. shear_at, axial_at: (x, s) of those peaks, mm. skin_peak_shear, skin_peak_axial: the same peaks in the skins.
    shear_kept, axial_kept: stiffness of the strip over the plain wall's.
    skin_shear: greatest mean shear stress of one skin per q/t; skin_axial: greatest mean direct stress of a skin, along x or s, per n/t;
    skin_mixed: the same that the shear flow leaves, per q/t. What is of the skins is 0 for windows. elements: in the mesh.
    """

    shear: float
    axial: float
    shear_at: tuple[float, float]
    axial_at: tuple[float, float]
    skin_peak_shear: float
    skin_peak_axial: float
    shear_kept: float
    axial_kept: float
    skin_shear: float
    skin_axial: float
    skin_mixed: float
    elements: int


@lru_cache(maxsize=KEPT)
def strip_peaks(strip: Strip, poisson: float, order: int = ORDER, size: float = 1.0) -> StripPeaks:
    """Peaks under unit shear flow and under unit axial force per width, plane stress.

    size scales the mesh. The modulus drops out. Kept by geometry, so that each distinct pattern is computed once.
    Raises BadInput for a pocket with a sharp corner, which has no finite peak, for pockets past the strip, and where no mesh comes out.
    """
    found = _solution(strip, poisson, order, size)
    axial, shear = _peaks(found)
    skin = _skins(found) if strip.skin > 0 and strip.outlines else (0.0, 0.0, 0.0)
    return StripPeaks(
        shear=shear.wall / math.sqrt(3),
        axial=axial.wall,
        shear_at=((shear.at[0] + found.shift) % strip.period, shear.at[1]),
        axial_at=((axial.at[0] + found.shift) % strip.period, axial.at[1]),
        skin_peak_shear=shear.skin / math.sqrt(3),
        skin_peak_axial=axial.skin,
        shear_kept=found.kept[1],
        axial_kept=found.kept[0],
        skin_shear=skin[0],
        skin_axial=skin[1],
        skin_mixed=skin[2],
        elements=int(found.mesh.ne),
    )


@lru_cache(maxsize=KEPT)
def strip_kept(strip: Strip, poisson: float, order: int = 3, size: float = 1.5) -> tuple[float, float]:
    """Share of the plain wall's stiffness kept, axial and in shear, on a coarser mesh than peaks want; raises as strip_peaks."""
    return _solution(strip, poisson, order, size).kept


@dataclass(frozen=True)
class _Solution:
    """Strains (e_x, e_s, gamma) of the stretch and of the shear put on the strip, and how they make up unit forces.

    shares: rows the strains' shares in n/t = 1 and q/t = 1, modulus 1. stress: plane-stress matrix (3, 3). kept: axial, shear.
    """

    mesh: Any
    shift: float
    order: int
    strains: list[Any]
    shares: np.ndarray
    stress: np.ndarray
    kept: tuple[float, float]


def _solution(strip: Strip, nu: float, order: int, size: float) -> _Solution:
    check_strip(strip)
    trouble = ""
    for shift in SHIFTS:
        try:
            return _solved(strip, shift * strip.period, nu, order, size)
        except _failures() as fault:
            trouble = str(fault).strip().splitlines()[0] if str(fault).strip() else type(fault).__name__
    raise BadInput(
        f"the wall's pattern could not be meshed for its peak stress ({trouble}); look for pockets that touch or leave "
        "slivers thinner than 0.1 mm, and change rib or cell a little"
    )


def _failures() -> tuple[type[BaseException], ...]:
    from netgen.meshing import NgException
    from netgen.occ import OCCException

    return (NgException, OCCException, RuntimeError, ValueError, np.linalg.LinAlgError)


def _solved(strip: Strip, shift: float, nu: float, order: int, size: float) -> _Solution:
    mesh = strip_mesh(strip, shift, order, size)
    stress = np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]]) / (1 - nu**2)
    strains, shares = _unit_fields(mesh, strip, stress, order, held=True)
    if not strip.held:
        free, loose = _unit_fields(mesh, strip, stress, order, held=False)
        strains, shares = [free[0], strains[1]], np.diag([loose[0, 0], shares[1, 1]])
    if not (shares[0, 0] > 0 and shares[1, 1] > 0):
        raise ValueError("the strip has no stiffness in some direction: it may be cut apart")
    kept = (float(1 / shares[0, 0]), float(2 * (1 + nu) / shares[1, 1]))
    return _Solution(mesh, shift, order, strains, shares, stress, kept)


def _unit_fields(
    mesh: Any, strip: Strip, stress: np.ndarray, order: int, held: bool
) -> tuple[list[Any], np.ndarray]:
    """Strains under unit stretch and unit shear, and the inverse of the stiffness (2, 2); without held sides of the stretch alone."""
    import ngsolve as ng

    skins = {f"skin{i}": strip.skin for i in range(len(strip.outlines))}
    t = mesh.MaterialCF({"wall": strip.thickness, **skins}, default=strip.thickness)
    along = ng.H1(mesh, order=order, dirichlet="side" if held else "")
    space = ng.Periodic(along) * ng.Periodic(ng.H1(mesh, order=order))
    (u, w), (du, dw) = space.TnT()

    def strain(a: Any, b: Any) -> Any:
        return ng.CF((ng.grad(a)[0], ng.grad(b)[1], ng.grad(a)[1] + ng.grad(b)[0]))

    plane = ng.CF(tuple(float(v) for v in stress.ravel()), dims=(3, 3))
    area = strip.period * strip.width
    form = ng.BilinearForm(space, symmetric=True)
    # The last term only pins free shifts: the loads balance, so the answer is unchanged.
    form += t * (plane * strain(u, w)) * strain(du, dw) * ng.dx
    form += 1e-9 * strip.thickness / area * (u * du + w * dw) * ng.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
    strains = []
    for macro in (ng.CF((1, 0, 0)), ng.CF((0, 0, 1)))[: 2 if held else 1]:
        load = ng.LinearForm(space)
        load += -t * (plane * macro) * strain(du, dw) * ng.dx
        load.Assemble()
        found = ng.GridFunction(space)
        found.vec.data = inverse * load.vec
        strains.append(macro + strain(*found.components))
    means = [ng.Integrate(t * e, mesh, order=2 * order) for e in strains]
    wanted = (0, 2)[: len(strains)]
    stiffness = (np.array(means) @ stress)[:, wanted] / area / strip.thickness
    return strains, np.linalg.inv(stiffness)


@dataclass(frozen=True)
class _Peak:
    """Greatest von Mises stress in the full wall, where, and in the skins."""

    wall: float
    at: tuple[float, float]
    skin: float


def _peaks(found: _Solution) -> list[_Peak]:
    """The peaks under unit axial force and under unit shear flow, over a net of points in every element."""
    import ngsolve as ng

    n = LOOK - 1
    net = [(i / n, j / n) for i in range(n + 1) for j in range(n + 1 - i)]
    points = found.mesh.MapToAllElements({ng.ET.TRIG: ng.IntegrationRule(net, [0.0] * len(net))}, ng.VOL)
    full = found.mesh.MaterialCF({"wall": 1.0}, default=0.0)
    values = np.asarray(ng.CF((ng.x, ng.y, full, *found.strains))(points))
    strains = values[:, 3:].reshape(-1, len(found.strains), 3)
    wall = values[:, 2] > 0.5
    out = []
    for row in found.shares:
        sx, ss, tau = (np.tensordot(strains, row, (1, 0)) @ found.stress).T
        mises = np.sqrt(sx**2 - sx * ss + ss**2 + 3 * tau**2)
        best = int(np.argmax(np.where(wall, mises, 0.0)))
        at = (float(values[best, 0]), float(values[best, 1]))
        out.append(_Peak(float(mises[best]), at, float(mises[~wall].max(initial=0.0))))
    return out


def _skins(found: _Solution) -> tuple[float, float, float]:
    """Mean stresses of the worst skin: shear and direct ones as StripPeaks names them."""
    import ngsolve as ng

    flat = ng.CF((1, *found.strains))
    out = []
    for name in sorted({n for n in found.mesh.GetMaterials() if n.startswith("skin")}):
        sums = np.array(
            ng.Integrate(flat, found.mesh, order=2 * found.order, definedon=found.mesh.Materials(name))
        )
        means = (sums[1:] / sums[0]).reshape(-1, 3)
        axial, shear = np.abs(found.shares @ means @ found.stress)
        out.append((shear[2], axial[:2].max(), shear[:2].max()))
    worst = np.max(out, axis=0)
    return float(worst[0]), float(worst[1]), float(worst[2])
