"""Pieces that hang on nothing for a while, before a later cut takes them away: looked for by cutting again.

Only grounds that end up cut right through, and are wide enough to hold a piece with the cutter's groove round it, are
cut a second time, with grown cutters, and looked at after every so many of the cuts that go through.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, named
from sparwright.proof.joined import FOIL, pieces
from sparwright.proof.kernels import AIR, RAYS, Grid, Metal
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway, half_diagonal

LOOKS = 24  # times each ground is looked at, evenly over the cuts that go through
PIECE = 5.0  # a piece smaller than this over the face is milled to chips, mm2
ROUND = 3  # cells round a ground


@dataclass
class _Ground:
    """A stretch of columns cut again. first, past: its columns. rows: of the ground itself. heights, by: (all rows, past -
    first) as cut so far.
    """

    first: int
    past: int
    rows: slice
    heights: np.ndarray
    by: np.ndarray


def check_freed(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Pieces cut free and only later cut up, one finding for each ground."""
    scene, cell = case.scene, case.scene.grid.cell
    stock = scene.before > AIR / 2
    gone = stock & (cut.grown <= scene.bottoms[:, :1] + FOIL)
    labels, _ = ndimage.label(gone, structure=np.ones((3, 3)))
    findings: list[ProofFinding] = []
    for k, place in enumerate(ndimage.find_objects(labels), 1):
        mine = labels[place] == k
        if mine.sum() * cell**2 < PIECE:
            continue
        wide = float(ndimage.distance_transform_edt(np.pad(mine, 1)).max()) * cell
        by = cut.grown_by[place][mine]
        narrowest = float(case.tools.radius[case.sweeps.tool[by[by >= 0]]].min(initial=math.inf))
        if wide > 2 * narrowest + math.sqrt(PIECE) / 4:
            findings += _watched(case, cut, place, mine)
    return findings


def _watched(case: Case, cut: Cutaway, place: tuple[slice, ...], mine: np.ndarray) -> list[ProofFinding]:
    """The first loose piece seen while one ground is cut again; place, mine: where it ends up cut through."""
    scene, sweeps = case.scene, case.sweeps
    first, past = max(place[1].start - ROUND, 0), min(place[1].stop + ROUND, scene.before.shape[1])
    heights = scene.before[:, first:past].copy()
    ground = _Ground(first, past, place[0], heights, np.full(heights.shape, -1, dtype=np.int32))
    later = np.zeros(heights.shape, dtype=bool)
    later[place[0], place[1].start - first : place[1].stop - first] = mine
    low = np.minimum(sweeps.start[:, 2], sweeps.end[:, 2])
    under = low < float(scene.before.max())
    hull = cut.buckets.hull
    x0, x1 = (scene.grid.x0 + i * scene.grid.cell for i in (first, past))
    reach = np.where(under, hull[:, 2], 0.0) + half_diagonal(case)
    near = (
        under
        & (np.where(under, hull[:, 0], math.inf) + reach > x0)
        & (np.where(under, hull[:, 0], -math.inf) - reach < x1)
    )
    which = np.flatnonzero(near)
    floor = float(scene.bottoms[place[0], 0].max())
    through = np.flatnonzero(low[which] <= floor + FOIL)
    stops = np.unique(through[np.linspace(0, len(through) - 1, min(LOOKS, len(through))).astype(int)]) + 1
    done = 0
    for stop in stops:
        _cut_on(case, ground, which[done:stop].astype(np.int32))
        done = int(stop)
        found = _loose_now(case, ground, later)
        if found is not None:
            return _finding(case, ground, found)
    return []


def _cut_on(case: Case, ground: _Ground, which: np.ndarray) -> None:
    """Cut the sweeps `which` into a ground."""
    grid = case.scene.grid
    nothing = np.empty((len(case.scene.tops), 0), dtype=np.float32)
    seen, at, met = (np.zeros((len(which), c), dtype=np.float32) for c in (6, 2, 10))
    kernels.cut_tile(
        ground.heights,
        ground.by,
        Grid(grid.x0 + ground.first * grid.cell, grid.s0, grid.cell),
        Metal(nothing, nothing, 0, ground.past - ground.first),
        case.sweeps,
        which,
        case.tools,
        half_diagonal(case),
        float(case.scene.before.max()),
        False,
        (-math.inf, math.inf),
        np.zeros(RAYS),
        seen,
        at,
        met,
    )


def _loose_now(case: Case, ground: _Ground, later: np.ndarray) -> np.ndarray | None:
    """Cells of a piece that hangs on nothing now and is cut away later, bool over the ground; None for none."""
    scene = case.scene
    near = slice(max(ground.rows.start - ROUND, 0), ground.rows.stop + ROUND)
    metal = (scene.before[near, ground.first : ground.past] > AIR / 2) & (
        ground.heights[near] > scene.bottoms[near, :1] + FOIL
    )
    if not (metal & later[near]).any():
        return None
    least = PIECE / scene.grid.cell**2
    found, count = ndimage.label(metal)
    sizes = np.bincount(found.ravel(), minlength=count + 1)
    kept = np.bincount(found[metal & ~later[near]], minlength=count + 1)
    islands = np.flatnonzero((sizes >= least) & (kept == 0))
    islands = islands[islands > 0]
    if len(islands) == 0:
        return None
    labels = np.zeros(ground.heights.shape, dtype=found.dtype)
    labels[near] = found
    joined = pieces(ground.heights, scene.tops, scene.bottoms)
    body = int(joined.bulk.argmax())
    for island in islands:
        here = labels == island
        if (joined.top[here] != body).all() and not _clamped(case, ground, here):
            return here
    return None


def _places(case: Case, ground: _Ground, here: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    grid = case.scene.grid
    rows, cols = np.nonzero(here)
    return grid.x0 + (ground.first + cols + 0.5) * grid.cell, grid.s0 + (rows + 0.5) * grid.cell


def _clamped(case: Case, ground: _Ground, here: np.ndarray) -> bool:
    x, s = _places(case, ground, here)
    return any(o.kind == "clamp" and shapely.contains_xy(o.outline, x, s).any() for o in case.scene.obstacles)


def _finding(case: Case, ground: _Ground, here: np.ndarray) -> list[ProofFinding]:
    cell = case.scene.grid.cell
    x, s = _places(case, ground, here)
    rim = ndimage.binary_dilation(here, iterations=2) & ~here
    program, line = case.line_of_sweep(int(ground.by[rim].max(initial=-1)))
    middle = float(x.mean()), float(s.mean())
    feature = case.feature_near(*middle)
    near = f" near {feature}" if feature else ""
    size = f"{np.ptp(x) + cell:.1f} by {np.ptp(s) + cell:.1f} mm"
    return [
        ProofFinding(
            "loose piece",
            Verdict.NO_GO,
            f"{named(program, line)} cuts free a piece of {size}{near} that later cuts go through. Clear it from its "
            "middle outward, or leave tabs",
            feature=feature,
            program=program,
            line=line,
            at=(*middle, 0.0),
            value=float(here.sum()) * cell**2,
            limit=PIECE,
            unit="mm2",
        )
    ]
