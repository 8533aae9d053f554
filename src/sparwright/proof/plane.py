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

SAG = 0.001  # of the chords that stand for arcs, mm
QUARTER = 16  # chords in a quarter of a round end: 0.0012 of the radius off the circle
SAME = 1e-4  # heights closer than this are the same, mm
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
    """Runs of joined level moves of one flat cutter at one height below the stock's top: indices of their sweeps."""
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
    return np.split(k, np.flatnonzero(~joined[k])[1:])


def _line(case: Case, run: np.ndarray) -> np.ndarray:
    """Points (m, 2) along a run, arcs by chords."""
    sweeps = case.sweeps
    if not (sweeps.kind[run] == ARC).any():
        return np.vstack([sweeps.start[run[:1], :2], sweeps.end[run, :2]])
    points = [sweeps.start[run[0], :2][None]]
    for k in run:
        end = sweeps.end[k, :2]
        if sweeps.kind[k] == ARC:
            centre, turn = sweeps.centre[k], float(sweeps.turn[k])
            off = sweeps.start[k, :2] - centre
            radius = math.hypot(*off)
            step = 2 * math.acos(1 - SAG / radius) if radius > SAG else math.pi
            count = math.ceil(abs(turn) / step)
            angle = turn * np.arange(1, count) / max(count, 1)
            c, s = np.cos(angle), np.sin(angle)
            points.append(centre + np.column_stack([off[0] * c - off[1] * s, off[0] * s + off[1] * c]))
        points.append(end[None])
    return np.concatenate(points)


def second_look(case: Case, cut: Cutaway) -> Second:
    """Compare the simulation's map with one filled from swept areas."""
    runs = level_runs(case)
    of = sum(len(r) for r in runs)
    every = max(1, math.ceil(of / MOST_MOVES))
    taken = runs[::every]
    heights = case.scene.before.copy()
    rows, cols = heights.shape
    for run in taken:
        points = _line(case, run)
        radius = float(case.tools.radius[case.sweeps.tool[run[0]]])
        moves = np.any(points != points[0], axis=1).any()
        shape = shapely.LineString(points) if moves else shapely.Point(points[0])
        area = shape.buffer(radius, quad_segs=QUARTER)
        rings = [np.asarray(r.coords) for r in (area.exterior, *area.interiors)]
        starts = np.cumsum([0, *(len(r) for r in rings)])
        cells = kernels.outline_runs(np.concatenate(rings), starts, case.scene.grid, rows, cols)
        kernels.lower_runs(heights, cells, np.float32(case.sweeps.end[run[0], 2]))
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
                f"{second.moves}{share} level moves cut the same by plane geometry, cell by cell",
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
            f"s {at[1]:.2f}; this is a fault of the program that proves, so do not trust this proof, and report it",
            program=program,
            line=line,
            at=at,
            value=float(len(wrong)),
            limit=0.0,
            unit="cells",
        )
    ]
