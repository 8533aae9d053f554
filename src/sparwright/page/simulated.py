"""The programs of a plan cut in simulation, kept as far as pictures need them.

The plan hands out the proof's verdict only; here its programs are read and cut again in the same scene, without the
judging. `events` tells when each place was lowered, so that the surface at any moment can be drawn without cutting.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from sparwright.cutting.model import SideCuts
from sparwright.plan.model import Plan
from sparwright.program.model import Program
from sparwright.program.reader import read_program
from sparwright.program.writer import plain
from sparwright.proof.case import Case, case_of
from sparwright.proof.kernels import Grid, Sweeps
from sparwright.proof.loads import Loads, loads_of
from sparwright.proof.motion import points_at, to_face
from sparwright.proof.prove import start_of
from sparwright.proof.scene import Scene, pads_scene, side_scene
from sparwright.proof.simulate import Cutaway, half_diagonal, simulate
from sparwright.proof.stockforce import stock_force
from sparwright.proof.tiles import cut_tiles

KINDS = ("rapid", "clear", "floor", "wall", "edge break", "bore", "drill", "outline", "slot", "other")
CHORD = 0.02
"""mm; arcs of a path as chords within this."""
Told = Callable[[str, int, int], None]
"""Told of a step of many alike: what is being done, how many are done of how many."""
LAYERS = 3
"""Times at most that a place is seen to be lowered; of more, the smallest steps are left out."""
MOST_CELLS = 800_000
LEVEL_SHARE = 0.05
"""Of a cut's level length at a height that makes it a level of its own."""
STEP = 1e-3
"""mm; less is no lowering."""


@dataclass(frozen=True)
class Run:
    """One side's programs (or the pads'), in the order they are run. kinds: of each motion, index into KINDS, (k,) uint8.
    cuts: of each motion, the number of the cut it belongs to, (k,)."""

    side: str
    case: Case
    cut: Cutaway
    loads: Loads
    kinds: np.ndarray
    cuts: np.ndarray


def runs_of(plan: Plan, tell: Told | None = None) -> tuple[Run, ...]:
    """The pads and every side, as cut. tell: told of each that begins."""
    placement, job = plan.placement, plan.job
    if not placement.setups:
        return ()
    scenes: list[tuple[str, Scene]] = [("pads", pads_scene(placement, job))]
    scenes += [(s.side, side_scene(plan.member, s, job, setups=placement.setups)) for s in placement.setups]
    found = []
    for k, (side, scene) in enumerate(scenes):
        if tell is not None:
            tell("cut in simulation", k, len(scenes))
        programs = [p for p in plan.programs if p.side == side or p.side.startswith(f"{side}-")]
        if programs:
            found.append(_run(side, programs, scene, plan))
    return tuple(found)


def _run(side: str, programs: list[Program], scene: Scene, plan: Plan) -> Run:
    start, offsets = start_of(scene, plan.job), {"G54": (0.0, 0.0, 0.0)}
    readings = [read_program(p.text, start=start, offsets=offsets) for p in programs]
    case = case_of([(p.name, p.text) for p in programs], readings, scene, plan.job)
    cut = simulate(case)
    kinds, cuts = kinds_of(case, programs, [*plan.pads, *plan.sides])
    return Run(side, case, cut, loads_of(case, cut), kinds, cuts)


def kinds_of(case: Case, programs: list[Program], made: list[SideCuts]) -> tuple[np.ndarray, np.ndarray]:
    """Of each motion the kind of cut it belongs to, (k,) uint8, and which cut that is, (k,), by the comment that opens
    every cut in a program."""
    moves = case.moves
    kinds = np.full(len(moves.line), KINDS.index("other"), dtype=np.uint8)
    cuts, count = np.zeros(len(moves.line), dtype=np.int64), 0
    for k, program in enumerate(programs):
        lines = program.text.split("\n")
        at = 0
        mine = moves.program == k
        for cut in (c for side in made if side.side == program.side for c in side.cuts):
            if cut.cutter not in program.cutters or not cut.pieces:
                continue
            words = f"({plain(cut.name if cut.kind in cut.name else f'{cut.name}: {cut.kind}')})"
            if words not in lines[at:]:
                continue
            at, count = lines.index(words, at) + 1, count + 1
            behind = mine & (moves.line > at)
            kinds[behind] = KINDS.index(cut.kind if cut.kind in KINDS else "other")
            cuts[behind] = count
        count += 1
    kinds[moves.rapid] = 0
    return kinds, cuts


def path_points(case: Case) -> tuple[np.ndarray, np.ndarray]:
    """The tip's way as one polyline, (n, 3) of (x, s, n), and the point where each motion ends, (k,)."""
    moves = case.moves
    radius = np.hypot(*(moves.start - moves.centre)[:, :2].T)
    with np.errstate(invalid="ignore"):
        step = 2 * np.arccos(1 - CHORD / np.maximum(radius, 2 * CHORD))
        count = np.where(moves.turn != 0, np.ceil(np.abs(moves.turn) / step), 1)
    parts = np.clip(np.nan_to_num(count, nan=1), 1, 256).astype(np.int64)
    ends = np.cumsum(parts)
    which = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(which)) - np.repeat(ends - parts, parts) + 1) / parts[which]
    points = np.vstack([moves.start[:1], points_at(moves, which, share)])
    return to_face(points, case.scene.pose), ends


@dataclass(frozen=True)
class Events:
    """When the places of a coarser grid were lowered, and to what height. move, height: (LAYERS + 1, rows, cols); layer 0 is
    the stock before any (move -1); after it in the order of the motions, filled up with the last."""

    grid: Grid
    move: np.ndarray
    height: np.ndarray
    tops: np.ndarray
    bottoms: np.ndarray


def events_of(run: Run) -> Events:
    """Cut again on a coarser grid, one level of one cut after the other, and note what each lowered."""
    scene = _coarser(run.case.scene)
    case = replace(run.case, scene=scene)
    stage = _stages(run)
    height, layers = scene.before, [(np.full(scene.before.shape, -1.0), scene.before)]
    for level in np.unique(stage[stage >= 0]):
        mine = np.flatnonzero(stage == level)
        part = Sweeps(*(a[mine] for a in case.sweeps))
        part.joined[:] &= np.diff(mine, prepend=-2) == 1  # the sweep before may lie in another level
        exponent, reach = stock_force(case).exponent, half_diagonal(case)
        cut = cut_tiles(height, scene.grid, scene.tops, scene.bottoms, part, case.tools, reach, exponent, 2)
        lower = (cut.cut_by >= 0) & (cut.after < height - STEP)
        if lower.any():
            when = np.where(lower, case.move_of[mine][np.maximum(cut.cut_by, 0)], np.inf)
            layers.append((when, np.where(lower, cut.after, np.inf)))
        height = np.where(lower, cut.after, height).astype(np.float32)
    move, high = _layered(np.stack([m for m, _ in layers]), np.stack([h for _, h in layers]))
    return Events(scene.grid, move, high, scene.tops, scene.bottoms)


def _coarser(scene: Scene) -> Scene:
    """The scene on a grid of at most MOST_CELLS cells; every cell is one of the finer grid."""
    step = max(1, int(np.ceil(np.sqrt(scene.before.size / MOST_CELLS))))
    off = step // 2
    grid = scene.grid
    middle = (off + 0.5 - step / 2) * grid.cell  # of the cell taken, less that of the coarse cell
    coarse = Grid(grid.x0 + middle, grid.s0 + middle, grid.cell * step)
    return replace(
        scene,
        grid=coarse,
        before=np.ascontiguousarray(scene.before[off::step, off::step]),
        tops=np.ascontiguousarray(scene.tops[off::step]),
        bottoms=np.ascontiguousarray(scene.bottoms[off::step]),
    )


def _stages(run: Run) -> np.ndarray:
    """Which level of which cut every sweep belongs to, in order, (m,); -1 for rapids and what stays above the metal.

    A level is a height at which LEVEL_SHARE of the cut's level length lies; what goes down belongs to the next below.
    """
    sweeps, of = run.case.sweeps, run.case.move_of
    low = np.minimum(sweeps.start[:, 2], sweeps.end[:, 2])
    stage = np.full(len(of), -1, dtype=np.int64)
    feeds = ~run.case.moves.rapid[of] & (low < float(run.case.scene.before.max()))
    length, flat = run.case.moves.length[of], sweeps.start[:, 2] == sweeps.end[:, 2]
    count = 0
    for cut in np.unique(run.cuts[of[feeds]]):
        mine = feeds & (run.cuts[of] == cut)
        heights, which = np.unique(np.round(low[mine & flat], 2), return_inverse=True)
        total = np.bincount(which, weights=length[mine & flat], minlength=len(heights))
        levels = heights[total >= LEVEL_SHARE * total.sum()] if len(heights) else np.array([low[mine].min()])
        place = np.searchsorted(levels, np.round(low[mine], 2), side="right") - 1
        stage[mine] = count + len(levels) - 1 - np.maximum(place, 0)
        count += len(levels)
    return stage


def _layered(move: np.ndarray, height: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Layers in the order of their motions, those that lower nothing left out, at most LAYERS behind the first."""
    order = np.argsort(move, axis=0, kind="stable")
    move, height = np.take_along_axis(move, order, 0), np.take_along_axis(height, order, 0)
    while True:
        before = np.minimum.accumulate(height, axis=0)
        drop = np.full(move.shape, np.inf)
        drop[1:] = before[:-1] - height[1:]
        drop[~np.isfinite(move)] = np.nan
        idle = drop <= 0
        crowded = np.isfinite(move).sum(axis=0) > LAYERS + 1
        if crowded.any():
            least = np.nanargmin(drop, axis=0)
            np.put_along_axis(idle, least[None], np.take_along_axis(idle, least[None], 0) | crowded[None], 0)
        if not idle.any():
            break
        move, height = np.where(idle, np.inf, move), np.where(idle, np.inf, height)
        order = np.argsort(move, axis=0, kind="stable")
        move, height = np.take_along_axis(move, order, 0), np.take_along_axis(height, order, 0)
    deep = min(LAYERS + 1, len(move))
    move, height = move[:deep], height[:deep]
    for layer in range(1, deep):
        none = ~np.isfinite(move[layer])
        move[layer][none], height[layer][none] = move[layer - 1][none], height[layer - 1][none]
    return move, height


def packed_events(events: Events, moves: int) -> tuple[np.ndarray, dict[str, float]]:
    """Both figures of every event in one, (layers, rows, cols) uint32: the motion + 1, shifted down by `shift` so that it has
    20 bits, over 12 bits of height: steps of `step` mm under `top`, the last for no metal at all."""
    shift = max(0, int(moves + 1).bit_length() - 20)
    known = events.height[events.height > -1e5]
    top, low = (float(known.max()), float(known.min())) if known.size else (0.0, -1.0)
    step = max(top - low, 1e-3) / 4094
    high = np.where(events.height > -1e5, np.round((top - events.height) / step), 4095).astype(np.uint32)
    when = (events.move + 1).astype(np.uint32) >> np.uint32(shift)
    return (when << np.uint32(12)) | high, {"shift": shift, "top": top, "step": step}


def text_arrays(case: Case) -> dict[str, np.ndarray]:
    """The programs' bytes one behind the other, and where each line starts; first: the first line of each program."""
    bodies = [np.frombuffer(text.encode(), dtype=np.uint8) for text in case.texts]
    breaks = [np.append(0, np.flatnonzero(body == ord("\n")) + 1) for body in bodies]
    at = np.cumsum([0, *(len(body) for body in bodies)])
    starts = [found + before for found, before in zip(breaks, at[:-1], strict=True)]
    first = np.cumsum([0, *(len(found) for found in starts[:-1])])
    return {
        "text": np.concatenate(bodies),
        "starts": np.append(np.concatenate(starts), at[-1]).astype(np.uint32),
        "first": first.astype(np.uint32),
    }


def path_arrays(run: Run) -> dict[str, np.ndarray]:
    """What the drawing of a path needs: points (n, 3) of (x, s, n); and of each motion, (k,): ends, its last point; line;
    program; kind."""
    points, ends = path_points(run.case)
    moves = run.case.moves
    return {
        "points": points,
        "ends": ends.astype(np.uint32),
        "line": moves.line.astype(np.uint32),
        "program": moves.program.astype(np.uint8),
        "kind": run.kinds,
        **text_arrays(run.case),
    }


def side_meta(run: Run) -> dict[str, object]:
    """Names and sizes of a side that its drawings share."""
    grid, shape = run.case.scene.grid, run.case.scene.before.shape
    return {
        "side": run.side,
        "programs": list(run.case.names),
        "moves": len(run.case.moves.line),
        "low": [grid.x0, grid.s0],
        "high": [grid.x0 + shape[1] * grid.cell, grid.s0 + shape[0] * grid.cell],
    }
