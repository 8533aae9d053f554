"""Cutting the programs into the stock: three height maps, and what each move met on its way."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from sparwright.proof import kernels
from sparwright.proof.case import Case
from sparwright.proof.kernels import Buckets


@dataclass(frozen=True)
class Cutaway:
    """What is left after the programs have run.

    after: (rows, cols) heights with cutters as they are; cut_by: the sweep that cut each cell last, -1 for none.
    grown, grown_by: the same with cutters grown by half a cell's diagonal, so that a point is cut only if its
    cell's centre is cut here. shrunk: with cutters shrunk by as much, so that a cell whose centre is cut here is
    cut all over. seen, at: (m, 6), (m, 2), what each sweep met (see kernels.cut_watched). buckets: sweeps by
    place, good for looks up to `reach` mm from a cutter. removed_mm3: metal cut away.
    """

    after: np.ndarray
    cut_by: np.ndarray
    grown: np.ndarray
    grown_by: np.ndarray
    shrunk: np.ndarray
    seen: np.ndarray
    at: np.ndarray
    buckets: Buckets
    reach: float
    removed_mm3: float


LOOK = 0.6  # how far from a cutter the exact looks at walls search, mm
BUCKET = 3.0  # size of a bucket of sweeps, mm


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
    gap, who = np.empty(len(probes)), np.empty(len(probes), dtype=np.int64)
    kernels.gaps(np.ascontiguousarray(probes), cut.buckets, case.sweeps, case.tools, cut.reach, gap, who)
    return gap, who


def simulate(case: Case) -> Cutaway:
    """Cut every program of the case, in order, into its stock."""
    scene, sweeps, tools = case.scene, case.sweeps, case.tools
    count = len(sweeps.kind)
    top = float(scene.before.max())
    half = half_diagonal(case)
    seen, at = np.zeros((count, 6)), np.zeros((count, 2))

    def blank() -> tuple[np.ndarray, np.ndarray]:
        return scene.before.copy(), np.full(scene.before.shape, -1, dtype=np.int32)

    def resized(grow: float) -> tuple[np.ndarray, np.ndarray]:
        heights, by = blank()
        kernels.cut_all(heights, by, scene.grid, sweeps, tools, grow, top)
        return heights, by

    with ThreadPoolExecutor(2) as pool:  # the kernels let go of the interpreter
        larger, smaller = pool.submit(resized, half), pool.submit(resized, -half)
        after, cut_by = blank()
        kernels.cut_watched(
            after, cut_by, scene.grid, scene.tops, scene.bottoms, sweeps, tools, top, seen, at
        )
        (grown, grown_by), (shrunk, _) = larger.result(), smaller.result()
    length, _ = kernels.metal_lost(scene.before, after, scene.tops, scene.bottoms, np.inf)
    return Cutaway(
        after=after,
        cut_by=cut_by,
        grown=grown,
        grown_by=grown_by,
        shrunk=shrunk,
        seen=seen,
        at=at,
        buckets=buckets_of(case, top),
        reach=LOOK,
        removed_mm3=float(length * scene.grid.cell**2),
    )
