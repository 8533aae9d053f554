"""The metal left on every face after its programs have run, as cut in simulation."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np
import shapely

from sparwright.packet.figures import Display
from sparwright.packet.heat import thinned
from sparwright.packet.proof_map import Spot, spots, top_of_scale
from sparwright.packet.proof_shown import target_outlines, thickness
from sparwright.page.pictures import PictureData
from sparwright.page.simulated import Run, side_meta

MOST_COLUMNS = 2400
MOST_SPOTS = 400
NONE = -1.0
"""In place of a thickness where there never was metal."""


def build(runs: Sequence[Run]) -> PictureData:
    """Each face's arrays, their names headed by its number: left (rows, cols), mm, the least of each block of cells, NONE
    where there never was metal; lines (n, 4), the outlines of what is wanted, each piece from (x, s) to (x, s).

    meta: sides, each with its grid (x0, s0, cell), top of the colour scale and spots, [x, s, mm left, width free].
    """
    sides: list[dict[str, Any]] = []
    arrays: dict[str, np.ndarray] = {}
    for run in runs:
        if run.side == "pads":
            continue
        meta, mine = side(run)
        arrays |= {f"{len(sides)}.{name}": array for name, array in mine.items()}
        sides.append(meta)
    return PictureData({"sides": sides}, arrays)


def side(run: Run) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """One face; see `build`."""
    case, grid = run.case, run.case.scene.grid
    left, step = thinned(thickness(case, run.cut), MOST_COLUMNS)
    meta = side_meta(run) | {
        "grid": [grid.x0, grid.s0, grid.cell * step],
        "top_mm": top_of_scale(case),
        "spots": [_spot(s) for s in spots(case, run.cut)[:MOST_SPOTS] if s.left > 0],  # what is open is white
        "words": partial(_words, run.side, _least_and_most(left), len(case.scene.targets)),
    }
    return meta, {"left": np.nan_to_num(left, nan=NONE), "lines": _lines(run)}


def _spot(spot: Spot) -> list[float]:
    return [round(spot.x, 2), round(spot.s, 2), round(spot.left, 3), round(spot.room, 2)]


def _least_and_most(left: np.ndarray) -> tuple[float, float] | None:
    """Of the metal left, mm; None where there is none."""
    metal = left[np.nan_to_num(left) > 0]
    return (float(metal.min()), float(metal.max())) if metal.size else None


def _words(side: str, span: tuple[float, float] | None, features: int, show: Display) -> str:
    """What the map shows, for those who do not see it."""
    least = f"{show.length(span[0])} to {show.size(span[1])} of metal left" if span else "no metal left"
    return f"{side}: {least}, {features} features."


def _lines(run: Run) -> np.ndarray:
    """Outlines as single pieces, (n, 4)."""
    parts = [shapely.get_coordinates(line) for line in shapely.get_parts(target_outlines(run.case))]
    pieces = [np.hstack([p[:-1], p[1:]]) for p in parts if len(p) > 1]
    return np.concatenate(pieces) if pieces else np.zeros((0, 4))
