"""The cutter's paths, side by side with what kind of cut they are."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from sparwright.page.pictures import PictureData
from sparwright.page.simulated import KINDS, Run, path_arrays, side_meta
from sparwright.proof.motion import move_seconds


def build(runs: Sequence[Run]) -> PictureData:
    """Each side's arrays, their names headed by its number: what path_arrays gives, and of each motion feed, mm/min, 0 for
    rapids. meta: kinds of motion by number; sides, each with the minutes and metres of every kind.
    """
    sides: list[dict[str, Any]] = []
    arrays: dict[str, np.ndarray] = {}
    for k, run in enumerate(runs):
        moves = run.case.moves
        seconds = move_seconds(moves, run.case.job.bed)
        minutes = np.bincount(run.kinds, weights=seconds, minlength=len(KINDS)) / 60
        metres = np.bincount(run.kinds, weights=moves.length, minlength=len(KINDS)) / 1000
        sides.append(
            side_meta(run) | {"minutes": minutes.round(3).tolist(), "metres": metres.round(4).tolist()}
        )
        mine = path_arrays(run) | {"feed": np.where(moves.rapid, 0.0, np.nan_to_num(moves.feed))}
        arrays |= {f"{k}.{name}": array for name, array in mine.items()}
    nothing = "" if sides else "There are no programs."
    return PictureData({"sides": sides, "kinds": list(KINDS), "nothing": nothing}, arrays)
