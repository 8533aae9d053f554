"""A second way of working out what level passes cut, by plane geometry, held against the height map.

Each run of joined level moves of a flat cutter is one line; what the cutter sweeps is the area within its radius of
that line, made by a geometry library that knows nothing of cells or of the simulation's closed forms. Filled into a map
of its own it must be what the simulation found, but for the cells along an edge.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, named, passed
from sparwright.proof.kernels import ARC, FLAT
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway

SAG = 0.005  # of the chords that stand for arcs, mm: a fortieth of a cell
QUARTER = 8  # chords in a quarter of a round end
OFF = 0.01  # of the radius: by so much the library may thin out a line, and twice what these chords lie off the circle
SAME = 1e-4  # heights closer than this are the same, mm
TOGETHER = 10_000  # moves made into areas at a time
LONGEST = 500  # moves widened as one line: one that often crosses itself costs the square of its length
MOST_MOVES = 200_000  # compared in one proof; of longer programs every second, third... run is taken


@dataclass(frozen=True)
class Second:
    """What the comparison showed. moves: compared, of all level ones. cells: lowered by these in the second map.
    too_high, too_low: cells (j, i) where the simulation left more, or cut deeper, than plane geometry says, (m, 2).
    """

    moves: int
    of: int
    cells: int
    too_high: np.ndarray
    too_low: np.ndarray


def level_runs(case: Case) -> list[np.ndarray]:
    """Runs of joined level moves of one flat cutter at one height below the stock's top: indices of their sweeps.

    Longer runs than LONGEST come in parts; a part's round end is where the next one begins.
    """
    sweeps, tools = case.sweeps, case.tools
    top = float(case.scene.before.max())
    level = (
        (sweeps.start[:, 2] == sweeps.end[:, 2])
        & (np.asarray(tools.form)[sweeps.tool] == FLAT)
        & (sweeps.end[:, 2] < top)
    )
    if not level.any():
        return []
    joined = np.zeros(len(level), dtype=bool)
    joined[1:] = (
        level[1:]
        & level[:-1]
        & (sweeps.tool[1:] == sweeps.tool[:-1])
        & (sweeps.start[1:] == sweeps.end[:-1]).all(axis=1)
    )
    k = np.flatnonzero(level)
    starts = np.flatnonzero(~joined[k])
    since = np.arange(len(k)) - np.repeat(starts, np.diff(np.append(starts, len(k))))
    return np.split(k, np.flatnonzero(since % LONGEST == 0)[1:])


def _lines(case: Case, runs: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Points (m, 2) along runs, arcs by chords, and the run each belongs to (m,)."""
    sweeps = case.sweeps
    run = np.concatenate(runs)
    own = np.repeat(np.arange(len(runs)), [len(r) for r in runs])
    first = np.array([r[0] for r in runs])
    start, end = sweeps.start[run, :2], sweeps.end[run, :2]
    arcs = sweeps.kind[run] == ARC
    centre = np.where(arcs[:, None], sweeps.centre[run], end)
    turn = np.where(arcs, sweeps.turn[run], 0.0)
    off = start - centre
    radius = np.where(arcs, np.hypot(off[:, 0], off[:, 1]), 0.0)
    step = np.where(radius > SAG, 2 * np.arccos(1 - SAG / np.maximum(radius, SAG)), np.pi)
    count = np.maximum(1, np.ceil(np.abs(turn) / step).astype(np.int64))
    which = np.repeat(np.arange(len(run)), count)
    last = np.cumsum(count) - 1
    chord = np.arange(1, len(which) + 1) - np.repeat(last + 1 - count, count)
    angle = turn[which] * chord / count[which]
    c, s, o = np.cos(angle), np.sin(angle), off[which]
    points = centre[which] + np.column_stack([o[:, 0] * c - o[:, 1] * s, o[:, 0] * s + o[:, 1] * c])
    points[last] = end
    owner = np.concatenate([np.arange(len(runs)), own[which]])
    order = np.argsort(owner, kind="stable")  # the start of a run comes before its moves
    return np.concatenate([sweeps.start[first, :2], points])[order], owner[order]


def _swept(case: Case, runs: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """What the cutter sweeps in these runs, as polygons (k,), and their heights, (k,).

    The widening of a line that all but closes on itself goes wrong now and then, in the library: pieces are lost or a
    hole is filled. Where it is not one sound polygon as wide as the line and the cutter, the moves of the run are
    widened one by one.
    """
    shapes, lines, radii = _widened(case, runs)
    box = shapely.bounds(lines) + radii[:, None] * np.array([-1.0, -1.0, 1.0, 1.0])
    sound = shapely.is_valid(shapes) & (shapely.get_type_id(shapes) == shapely.GeometryType.POLYGON)
    sound &= (abs(shapely.bounds(shapes) - box) <= SAG + OFF * radii[:, None]).all(axis=1)
    sound &= shapely.area(shapes) <= 2 * radii * shapely.length(lines) + np.pi * radii**2 + SAG
    single = [np.array([k]) for i in np.flatnonzero(~sound) for k in runs[i]]
    heights = case.sweeps.end[[r[0] for r in runs], 2]
    if single:
        shapes = np.concatenate([shapes[sound], _widened(case, single)[0]])
        heights = np.concatenate([heights[sound], case.sweeps.end[[r[0] for r in single], 2]])
    return shapes, heights


def _widened(case: Case, runs: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The lines of runs widened by the cutter's radius, the lines, and the radii, (k,) each."""
    points, owner = _lines(case, runs)
    lines = shapely.linestrings(points, indices=owner)
    still = shapely.length(lines) == 0
    if still.any():
        lines[still] = shapely.points(points[np.searchsorted(owner, np.flatnonzero(still))])
    radii = np.asarray(case.tools.radius, dtype=float)[case.sweeps.tool[[r[0] for r in runs]]]
    return np.asarray(shapely.buffer(lines, radii, quad_segs=QUARTER)), lines, radii


def second_look(case: Case, cut: Cutaway) -> Second:
    """Compare the simulation's map with one filled from swept areas."""
    runs = level_runs(case)
    of = sum(len(r) for r in runs)
    every = max(1, math.ceil(of / MOST_MOVES))
    taken = runs[::every]
    heights = case.scene.before.copy()
    rows, cols = heights.shape
    lots = np.cumsum([len(r) for r in taken]) // TOGETHER
    for lot in np.unique(lots):
        some = taken[np.searchsorted(lots, lot) : np.searchsorted(lots, lot, side="right")]
        areas, levels = _swept(case, some)
        rings, area = shapely.get_rings(areas, return_index=True)
        points, ring = shapely.get_coordinates(rings, return_index=True)
        ends = np.searchsorted(ring, np.arange(len(rings) + 1))
        firsts = np.searchsorted(area, np.arange(len(areas) + 1))
        for k, level in enumerate(levels):
            starts = ends[firsts[k] : firsts[k + 1] + 1]
            corners = points[starts[0] : starts[-1]]
            cells = kernels.outline_runs(corners, starts - starts[0], case.scene.grid, rows, cols)
            kernels.lower_runs(heights, cells, np.float32(level))
    cells = int((heights < case.scene.before).sum())
    too_high = cut.after > ndimage.maximum_filter(heights, 3) + SAME
    too_low = np.zeros_like(too_high)
    if every == 1 and of:
        level = np.zeros(len(case.sweeps.kind) + 1, dtype=bool)  # the last stands for "never cut"
        level[np.concatenate(runs)] = True
        too_low = level[cut.cut_by] & (cut.after < ndimage.minimum_filter(heights, 3) - SAME)
    return Second(sum(len(r) for r in taken), of, cells, np.argwhere(too_high), np.argwhere(too_low))


def check_second(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Whether both ways agree; where they do not, the simulation cannot be trusted and the proof fails."""
    second = second_look(case, cut)
    if second.of == 0:
        return []
    wrong = np.concatenate([second.too_high, second.too_low])
    if len(wrong) == 0:
        share = "" if second.moves == second.of else f" of {second.of}"
        return [
            passed(
                "second way",
                f"{second.moves}{share} level moves, cut again by plane geometry, agree cell by cell",
                0.0,
                0.0,
                "cells",
            )
        ]
    j, i = (int(v) for v in wrong[0])
    grid = case.scene.grid
    at = (grid.x0 + (i + 0.5) * grid.cell, grid.s0 + (j + 0.5) * grid.cell, float(cut.after[j, i]))
    program, line = case.line_of_sweep(int(cut.cut_by[j, i]))
    return [
        ProofFinding(
            "second way",
            Verdict.NO_GO,
            f"{named(program, line)}: simulation and plane geometry disagree on {len(wrong)} cells, first at x {at[0]:.2f}, "
            f"s {at[1]:.2f}. This is a fault of the program that proves. Do not trust this proof, and report it",
            program=program,
            line=line,
            at=at,
            value=float(len(wrong)),
            limit=0.0,
            unit="cells",
        )
    ]
