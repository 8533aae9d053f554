"""Drilled holes as canned cycles, for controllers that have them: G81 in one plunge, G83 in pecks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.cutting.model import LINE, RAPID, Path, Piece
from sparwright.placing.model import Pose
from sparwright.program.moves import moves_of
from sparwright.program.pen import Pen, feed_word, numbers


@dataclass(frozen=True)
class Hole:
    """A hole a canned cycle can make: place on the face, heights over it, feed mm/min, peck 0 where in one plunge."""

    x: float
    s: float
    clear: float
    retract: float
    bottom: float
    peck: float
    feed: float


def hole_of(piece: Piece) -> Hole | None:
    """The hole a path drills; None where the path is anything but even plunges on one spot."""
    path = piece.path
    places = np.vstack([path.start, path.end])
    cutting = np.flatnonzero(path.kind == LINE)
    straight = np.isin(path.kind, (RAPID, LINE)).all() and len(cutting) > 0
    if not straight or np.ptp(places[:, :2], axis=0).max() > 1e-9 or places[-1, 2] != places[0, 2]:
        return None
    top, low = places[cutting, 2], places[cutting + 1, 2]
    feeds = path.feed[cutting]
    if (low >= top).any() or np.ptp(feeds) > 1e-9:
        return None
    retract, bottom = float(top[0]), float(low[-1])
    peck = float(top[0] - low[0]) if len(cutting) > 1 else 0.0
    if peck:
        wanted = np.maximum(retract - peck * np.arange(1, len(cutting) + 1), bottom)
        if np.abs(low - wanted).max() > 1e-6 or low[-2] <= bottom:
            return None
    return Hole(
        float(places[0, 0]), float(places[0, 1]), float(places[0, 2]), retract, bottom, peck, float(feeds[0])
    )


def drill(pen: Pen, pieces: Sequence[Piece], holes: Sequence[Hole], pose: Pose, notes: Sequence[str]) -> None:
    """Write holes as canned cycles that return to the height they are reached at, and cancel the cycle."""
    in_force = ""
    for piece, hole, note in zip(pieces, holes, notes, strict=True):
        lead = Piece(piece.feature, _nothing(piece.path))
        x, y = pose.to_bed(np.array([[hole.x, hole.s]]))[0]
        steps = 10.0**pen.decimals
        places = np.rint(np.array([x, y, hole.bottom, hole.retract, hole.peck]) * steps).astype(np.int64)
        at = np.array([places[0], places[1], round(hole.clear * steps)])
        x_word, y_word, z, r, q = numbers(places, pen.decimals)
        figures = f"Z{z} R{r}" + (f" Q{q}" if hole.peck else "") + f" {feed_word(hole.feed)}"
        pen.say(note)
        if figures == in_force and at[2] == pen.at[2]:
            pen.cycle(f"X{x_word} Y{y_word}", at, hole.bottom)
            continue
        pen.write(moves_of([lead], pose, pen.at, pen.decimals, arcs=True))
        word = "G83" if hole.peck else "G81"
        pen.cycle(f"G98 {word} X{x_word} Y{y_word} {figures}", at, hole.bottom)
        in_force = figures
    pen.say("G80")


def _nothing(path: Path) -> Path:
    """A path that stays at the start of `path`."""
    return Path(path.start, path.kind[:0], path.end[:0], path.centre[:0], path.feed[:0])
