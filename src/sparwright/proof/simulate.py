"""Cutting the programs into the stock: three height maps, and what each move met on its way."""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from sparwright.proof import kernels
from sparwright.proof.case import Case
from sparwright.proof.kernels import Buckets
from sparwright.proof.stockforce import stock_force
from sparwright.proof.tiles import VOLUME, cut_tiles


@dataclass(frozen=True)
class Cutaway:
    """What is left after the programs have run.

    after: (rows, cols) heights with cutters as they are; cut_by: the sweep that cut each cell last, -1 for none.
    grown, grown_by: the same with cutters grown by half a cell's diagonal, so that a point is cut only if its
    cell's centre is cut here. shrunk: with cutters shrunk by as much, so that a cell whose centre is cut here is
    cut all over. seen, at: (m, 6), (m, 2), what each sweep met (see kernels.cut_tile). buckets: sweeps by
    place, good for looks up to `reach` mm from a cutter. met: (m, 10), what each sweep took on (see
    kernels.cut_tile). removed_mm3: metal cut away.
    """

    after: np.ndarray
    cut_by: np.ndarray
    grown: np.ndarray
    grown_by: np.ndarray
    shrunk: np.ndarray
    seen: np.ndarray
    at: np.ndarray
    met: np.ndarray
    buckets: Buckets
    reach: float
    removed_mm3: float


LOOK = 0.6  # how far from a cutter the exact looks at walls search, mm
BUCKET = 3.0  # size of a bucket of sweeps, mm
MANY = 100  # looks that take long enough to be shared between two threads


def half_diagonal(case: Case) -> float:
    """Greatest distance of a point from its cell's centre, mm."""
    return case.scene.grid.cell / math.sqrt(2)


def buckets_of(case: Case, top: float, reach: float = LOOK) -> Buckets:
    """Sweeps below `top` sorted by place over the scene."""
    grid = case.scene.grid
    rows, cols = case.scene.before.shape
    across = math.ceil(cols * grid.cell / BUCKET) + 1
    down = math.ceil(rows * grid.cell / BUCKET) + 1
    buckets: Buckets = kernels.fill_buckets(
        case.sweeps, case.tools, reach, top, grid.x0, grid.s0, BUCKET, across, down
    )
    return buckets


def gaps_at(case: Case, cut: Cutaway, probes: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Signed distance from places (m, 3) of (x, s, n) to all that is cut away, at most cut.reach, and the sweep
    that comes nearest, -1 where none comes within reach.
    """
    probes = np.ascontiguousarray(probes)
    gap, who = np.empty(len(probes)), np.empty(len(probes), dtype=np.int64)

    def look(k: slice) -> None:
        kernels.gaps(probes[k], cut.buckets, case.sweeps, case.tools, cut.reach, gap[k], who[k])

    _side_by_side(look, len(probes))
    return gap, who


def _side_by_side(call: Callable[[slice], None], count: int) -> None:
    """Call for both halves of so many places, at the same time where they are many: kernels let go of the interpreter."""
    half = count // 2
    if half < MANY:
        call(slice(0, count))
        return
    with ThreadPoolExecutor(1) as pool:
        other = pool.submit(call, slice(half, count))
        call(slice(0, half))
        other.result()


def depths_at(case: Case, cut: Cutaway, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How low the cutters come over places (m, 2) of (x, s), n, exactly on ramps too, inf where none passes; and the
    sweep that does it, -1 for none.
    """
    low, who = np.empty(len(places)), np.empty(len(places), dtype=np.int64)
    kernels.depths(np.ascontiguousarray(places), cut.buckets, case.sweeps, case.tools, low, who)
    return low, who


def simulate(case: Case, threads: int = 2) -> Cutaway:
    """Cut every program of the case, in order, into its stock, tile by tile along x."""
    scene, sweeps = case.scene, case.sweeps
    top = float(scene.before.max())
    cut = cut_tiles(
        scene.before,
        scene.grid,
        scene.tops,
        scene.bottoms,
        sweeps,
        case.tools,
        half_diagonal(case),
        stock_force(case).exponent,
        threads,
    )
    return Cutaway(
        after=cut.after,
        cut_by=cut.cut_by,
        grown=cut.grown,
        grown_by=cut.grown_by,
        shrunk=cut.shrunk,
        seen=cut.seen,
        at=cut.at,
        met=cut.met,
        buckets=buckets_of(case, top),
        reach=LOOK,
        removed_mm3=float(cut.met[:, VOLUME].sum(dtype=float)),
    )
