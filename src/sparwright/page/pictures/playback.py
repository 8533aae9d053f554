"""A whole side cut move by move: the face as it is at any moment, the cutter in it, force and engagement along the time."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparwright.page.pictures import PictureData
from sparwright.page.simulated import KINDS, Run, Told, events_of, packed_events, path_arrays, side_meta
from sparwright.proof.case import Case
from sparwright.proof.kernels import BALL, CONE
from sparwright.proof.load_checks import bending_force
from sparwright.proof.loads import Loads
from sparwright.proof.motion import move_seconds
from sparwright.proof.stockforce import stock_force


def build(runs: Sequence[Run], tell: Told | None = None) -> PictureData:
    """Each side's arrays, their names headed by its number: see `side`. meta: sides; kinds of motion by number; words."""
    sides: list[dict[str, object]] = []
    arrays: dict[str, np.ndarray] = {}
    for k, run in enumerate(runs):
        if tell is not None:
            tell("when each place was lowered", k, len(runs))
        meta, mine = side(run)
        sides.append(meta)
        arrays |= {f"{k}.{name}": array for name, array in mine.items()}
    nothing = "" if sides else "There are no programs."
    return PictureData({"sides": sides, "kinds": list(KINDS), "nothing": nothing}, arrays)


def machine_force(case: Case, loads: Loads) -> np.ndarray:
    """What the machine takes of each motion, N, (k,): the mean force over a turn, or the thrust of a plunge.

    Edges that plunge together hold each other's force sideways. What is left is the thrust, kc/2 R f sin(kappa), kappa
    half the point angle, as for the feed of a drill (cutting/holes.py): of the force along the edges, all kc R f, half
    times the sine, whose power also thins the chip.
    """
    cutters = case.job.cutters
    cutter = np.maximum(case.moves.cutter, 0)
    share = 0.5 * np.sin([c.half_angle for c in cutters])[cutter] ** (1 - stock_force(case).exponent)
    together = np.array([c.flutes > 1 for c in cutters])[cutter] & (loads.engaged > 2 * math.pi - 1e-6)
    return np.where(together, loads.steady * share, loads.steady).astype(np.float32)


def side(run: Run) -> tuple[dict[str, object], dict[str, np.ndarray]]:
    """One side.

    Of each motion, (k,): what path_arrays gives; seconds, when it ends; steady, what the machine takes of it, N (machine_force),
    which meta's limit is for; force on a tooth, N; share, of what snaps the cutter in bending, %;
    engaged, degrees; depth met, mm; rate, metal taken away, mm3/min; tool, index into meta's cutters. Of the surface: events (layers, rows, cols), see
    packed_events, and walls (intervals, rows, 2), tops and bottoms of the metal before any cut, n.
    """
    case, loads = run.case, run.loads
    bending, snaps = bending_force(case, loads)
    events = events_of(run)
    packed, code = packed_events(events, len(run.kinds))
    walls = np.stack([events.tops, events.bottoms], axis=-1).transpose(1, 0, 2)
    arrays = path_arrays(run) | {
        "seconds": np.cumsum(move_seconds(case.moves, case.job.bed)),
        "steady": machine_force(case, loads),
        "force": loads.tooth,
        "share": 100 * bending / snaps,
        "engaged": np.degrees(loads.engaged),
        "depth": loads.depth,
        "rate": loads.rate,
        "tool": np.maximum(case.moves.cutter, 0).astype(np.uint8),
        "events": packed,
        "walls": walls,
    }
    grid = events.grid
    wall = events.bottoms[:, 0][events.bottoms[:, 0] > -1e5]
    meta = side_meta(run) | {
        "grid": [grid.x0, grid.s0, grid.cell],
        "code": code,
        "limit": case.job.file.cutting.thrust_limit,
        "lowest": float(np.median(wall)) if wall.size else -1.0,
        "cutters": [_shape(run, k) for k in range(len(case.job.cutters))],
    }
    return meta, arrays


def _shape(run: Run, k: int) -> dict[str, object]:
    """Half the outline of a cutter: [radius, height over the tip] from the tip up to the holder, mm, and its name."""
    tools, cutter = run.case.tools, run.case.job.cutters[k]
    r, flute, stick = float(tools.radius[k]), float(tools.flute[k]), float(tools.stick[k])
    if tools.form[k] == BALL:
        turn = np.linspace(0, np.pi / 2, 9)
        outline = [[r * float(np.sin(t)), r * (1 - float(np.cos(t)))] for t in turn]
    elif tools.form[k] == CONE:
        tip, slope = float(tools.tip[k]), float(tools.slope[k])
        outline = [[tip, 0.0], [r, (r - tip) * slope]]
    else:
        outline = [[r, 0.0]]
    shank, holder = float(tools.shank[k]), float(tools.holder[k])
    outline += [[r, flute], [shank, flute], [shank, stick], [holder, stick], [holder, stick + 30.0]]
    return {"name": f"cutter {cutter.number}, {cutter.name}", "radius": r, "outline": outline}
