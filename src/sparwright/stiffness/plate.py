"""The plate cell: stiffness of one wall against five generalised strains, and its shear under growing strain.

Membrane and shear-flexible (Reissner-Mindlin) plate together; a pocket's skin has its own middle surface off the
wall's, which couples the two (the ABD of a laminate: Jones, Mechanics of Composite Materials, from memory).
The wall's strain is one of five given ones plus what a displacement adds that repeats from period to period.
Every strain field is a pair (d, v) of displacement fields of five components (u_x, u_s, w, b_x, b_s), with w along the
outward normal n and u + n b the motion at n: v is strained as it stands, d as it would be if it grew along x at one
unit a mm. The given strains and the shear solutions are such pairs, so three matrices K, G and X do it all.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from sparwright.stiffness.strip import Integrals, StripShape, plain_integrals, strip_integrals
from sparwright.stiffness.strip_mesh import Topology

FIELDS = UX, US, W, BX, BS = range(5)
# Given strains: stretch, in-plane bending (strain s), plate bending (strain n), shear, twist (strain -2 n of shear... see _given).
STRETCH, INPLANE, PLATE, SHEAR, TWIST = range(5)
SHEAR_SHARE = 5 / 6
# Least stiffness that holds free motions, over the membrane's own.
PIN = 1e-9
KEPT = 64


@dataclass(frozen=True)
class WallStiffness:
    """Stiffness of a wall a unit of modulus, per length along x.

    K: (5, 5) of the strains STRETCH, INPLANE, PLATE, SHEAR, TWIST; mm² and up. own: (7, 7), mixed (7, 5), given
    (7, 5): products of the seven shear fields, which strains and warping growing along x call up (five strains,
    then warping even and linear over the wall), with each other, with the five strain fields in full, and with the
    five given strains alone. area: of metal across the wall, mean along x, mm².
    """

    width: float
    K: np.ndarray
    own: np.ndarray
    mixed: np.ndarray
    given: np.ndarray
    area: float


@lru_cache(maxsize=KEPT)
def patterned_wall(
    shape: StripShape,
    thickness: float,
    depths: tuple[float, ...],
    poisson: float,
    free: tuple[bool, bool] = (False, False),
) -> WallStiffness:
    """Stiffness of a wall with pockets cut from its +n side, a unit of modulus; kept for the last ones asked for.

    depths: of each kind of pocket in `shape`, mm; those of windows are not used. free: whether the low and the high
    edge is a free one instead of a corner line. At a corner line u_x, w and the rotation b_x follow the
    section, u_s and b_s are free. Raises what strip_integrals raises.
    """
    kept = [d for d, hole in zip(depths, shape.through, strict=True) if not hole]
    metal = np.array([thickness, *(thickness - d for d in kept)])
    off = np.array([0.0, *(-d / 2 for d in kept)])
    return _solved(strip_integrals(shape), free, shape.width, metal, off, poisson)


@lru_cache(maxsize=KEPT)
def plain_wall(
    width: float, thickness: float, poisson: float, free: tuple[bool, bool] = (False, False)
) -> WallStiffness:
    """The same for a wall without pockets."""
    return _solved(plain_integrals(width), free, width, np.array([thickness]), np.zeros(1), poisson)


@dataclass(frozen=True)
class _Structure:
    """What the mesh alone decides.

    unknowns: in the order they are eliminated. gather: where the matrix of the unknowns, of this pattern, takes its
    entries from the blocks.
    """

    unknowns: np.ndarray
    gather: np.ndarray
    pattern: tuple[np.ndarray, np.ndarray]


@lru_cache(maxsize=KEPT)
def _structure(topology: Topology, free: tuple[bool, bool]) -> _Structure:
    """An order of elimination that keeps the factors small, and the pattern in it."""
    (indptr, columns), rows, count = topology.pattern, topology.rows, topology.count
    # Any matrix of this pattern that is safe to factor gives the order.
    scalar = sparse.csc_matrix((np.where(rows == columns, 1e3, 1.0), columns, indptr), shape=(count, count))
    order = np.argsort(splu(scalar, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).perm_c)
    held = np.zeros((count, 5), dtype=bool)
    for edge, loose in zip(topology.edges, free, strict=True):
        if not loose:
            held[edge, UX] = held[edge, W] = held[edge, BX] = True
    unknowns = (order[:, None] * 5 + np.arange(5))[~held[order]]
    number = np.full(count * 5, -1)
    number[unknowns] = np.arange(len(unknowns))
    block = np.arange(5)
    down = np.broadcast_to(number[(rows * 5)[:, None, None] + block[:, None]], (len(rows), 5, 5)).ravel()
    across = np.broadcast_to(number[(columns * 5)[:, None, None] + block], (len(rows), 5, 5)).ravel()
    taken = np.flatnonzero((down >= 0) & (across >= 0))
    shape = (len(unknowns), len(unknowns))
    # Entries are numbered from 1: a zero would be lost on the way.
    part = sparse.coo_matrix((taken + 1.0, (down[taken], across[taken])), shape=shape).tocsc()
    part.sort_indices()
    return _Structure(unknowns, part.data.astype(int) - 1, (part.indptr, part.indices))


def _still_motions(
    integrals: Integrals, free: tuple[bool, bool]
) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    """Motions that strain nothing, each with the load that balances it."""
    one, s = integrals.one, integrals.s
    if all(free):
        motions = ({US: one}, {UX: one}, {W: one}, {W: s, BS: -one})
        return tuple((_field(integrals, f),) * 2 for f in motions)
    # The section holds a wall sideways at its corner lines.
    line = sum((x for x, loose in zip(integrals.lines, free, strict=True) if not loose), 0 * one)
    return ((_field(integrals, {US: one}), _field(integrals, {US: line})),)


def _solved(
    integrals: Integrals,
    free: tuple[bool, bool],
    width: float,
    metal: np.ndarray,
    off: np.ndarray,
    poisson: float,
) -> WallStiffness:
    """All strain fields and their products. metal, off: thickness and offset of its middle in every region, mm."""
    K, G, X = _matrices(integrals, metal, off, poisson, width)
    indptr, indices = integrals.topology.pattern
    Gt = sparse.bsr_matrix((G.data[integrals.topology.transpose].transpose(0, 2, 1), indices, indptr))
    solve = _solver(_structure(integrals.topology, free), _still_motions(integrals, free), K.data)
    d, v = _given(integrals)
    Kv, Gv, Gtd, Xd = _still(K, v), _still(G, v), Gt @ d, X @ d
    # First the given strains, each with the displacement w that settles under it.
    pull = Kv + Gtd
    w, _ = solve(-pull)
    strains = d.T @ (Xd + Gv) + v.T @ pull + pull.T @ w
    strains = (strains + strains.T) / 2
    # Then the same growing along x: their displacements are strained as they grow, and a second one settles.
    growing = w.copy()
    growing[:, TWIST] += _field(integrals, {BX: integrals.s})
    along, across, Xg = Xd + Gv + G @ w, Gt @ growing, X @ growing
    second, load = solve(along - across)
    # The second displacements are free ones, so the settled strains do no work on them.
    mixed = growing.T @ along
    given = growing.T @ (Xd + Gv) + second.T @ pull
    cross = across.T @ second
    own = np.zeros((7, 7))
    own[:5, :5] = growing.T @ Xg + cross + cross.T + second.T @ load
    # Warping that grows along x, even or linear over the wall, is stretch or in-plane bending itself.
    mixed, given = np.vstack([mixed, strains[:2]]), np.vstack([given, strains[:2]])
    own[5:, :5] = mixed[:5, :2].T
    own[:5, 5:] = mixed[:5, :2]
    own[5:, 5:] = strains[:2, :2]
    period = integrals.period
    area = float(integrals.areas @ metal / period)
    return WallStiffness(
        width, strains / period, (own + own.T) / (2 * period), mixed / period, given / period, area
    )


def _still(matrix: sparse.bsr_matrix, v: np.ndarray) -> np.ndarray:
    """The matrix on the given still displacements, of which only those of shear and twist are not zero."""
    out = np.zeros_like(v)
    out[:, SHEAR:] = matrix @ v[:, SHEAR:]
    return out


def _given(integrals: Integrals) -> tuple[np.ndarray, np.ndarray]:
    """The five given strains as pairs, one a column.

    TWIST is w = -x s with the rotations that leave a thin plate no shear: a curvature of 2 between x and s.
    """
    one, s = integrals.one, integrals.s
    grown: list[dict[int, np.ndarray]] = [{UX: one}, {UX: s}, {BX: one}, {}, {BS: one, W: -s}]
    still: list[dict[int, np.ndarray]] = [{}, {}, {}, {UX: s}, {BX: s}]
    return (
        np.column_stack([_field(integrals, f) for f in grown]),
        np.column_stack([_field(integrals, f) for f in still]),
    )


def _field(integrals: Integrals, parts: dict[int, np.ndarray]) -> np.ndarray:
    field = np.zeros((len(integrals.one), 5))
    for component, values in parts.items():
        field[:, component] = values
    return field.ravel()


def _solver(
    structure: _Structure, still: tuple[tuple[np.ndarray, np.ndarray], ...], blocks: np.ndarray
) -> Any:
    """A function from loads to the repeating displacements they cause, and to the loads balanced at the edges."""
    indptr, indices = structure.pattern
    matrix = sparse.csc_matrix((blocks.ravel()[structure.gather], indices, indptr))
    factors = splu(
        matrix,
        permc_spec="NATURAL",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True, "Equil": False},
    )

    def solve(loads: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        for motion, hold in still:
            loads = loads - np.outer(hold, motion @ loads) / (motion @ hold)
        out = np.zeros_like(loads)
        out[structure.unknowns] = factors.solve(loads[structure.unknowns])
        return out, loads

    return solve


def _matrices(
    integrals: Integrals, metal: np.ndarray, off: np.ndarray, poisson: float, width: float
) -> tuple[sparse.bsr_matrix, sparse.bsr_matrix, sparse.bsr_matrix]:
    """K, G and X as 5 x 5 blocks on the scalar pattern, a unit of modulus."""
    nu = poisson
    plate = 1 / (1 - nu**2)
    weights = plate * np.array([metal, metal * off, metal**3 / 12 + metal * off**2])
    shear = SHEAR_SHARE / (2 * (1 + nu)) * metal
    a = np.tensordot(weights, integrals.values, axes=1)
    xx, _, ss, x, s, one = np.tensordot(shear, integrals.values, axes=1)
    turned = integrals.topology.transpose
    half = (1 - nu) / 2
    K, G, X = (np.zeros((a.shape[2], 5, 5)) for _ in range(3))
    for which, rows, columns in ((0, 0, 0), (1, 0, 3), (1, 3, 0), (2, 3, 3)):
        axx, axs, ass, ax, as_, aone = a[which]
        K[:, rows, columns] = axx + half * ass
        K[:, rows + 1, columns + 1] = ass + half * axx
        K[:, rows, columns + 1] = nu * axs + half * axs[turned]
        K[:, rows + 1, columns] = nu * axs[turned] + half * axs
        G[:, rows, columns] = ax
        G[:, rows, columns + 1] = nu * as_
        G[:, rows + 1, columns] = half * as_
        G[:, rows + 1, columns + 1] = half * ax
        X[:, rows, columns] = aone
        X[:, rows + 1, columns + 1] = half * aone
    K[:, W, W] = xx + ss
    K[:, W, BX], K[:, BX, W] = x[turned], x
    K[:, W, BS], K[:, BS, W] = s[turned], s
    K[:, BX, BX] += one
    K[:, BS, BS] += one
    G[:, W, W], G[:, W, BX] = x, one
    X[:, W, W] = one
    pin = PIN * a[0, 5] / width**2
    for field in (UX, US, W):
        K[:, field, field] += pin
    indptr, indices = integrals.topology.pattern
    return tuple(sparse.bsr_matrix((m, indices, indptr)) for m in (K, G, X))  # type: ignore[return-value]
