"""What decides whether the job fits in another pose, small enough to be asked at every movement of a hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparwright.placing.fit import hull
from sparwright.placing.fitting import ROOM, body_corners, common_needed
from sparwright.placing.pads import Bench, arrangements, pad_positions
from sparwright.placing.reach import Needed


@dataclass(frozen=True)
class Way:
    """One arrangement of pads, straps and stop: the corners round all it needs, and whether holes are drilled by hand."""

    needed: Needed
    by_hand: bool


@dataclass(frozen=True)
class Moves:
    """A pose's margin is the least distance of `features` and of one of the `ways` to the ends of the reach, and of `body`
    (m, 2) to the uprights. All in (x, t), mm.

    The way is the first whose margin is not below the wanted one and `room`, or what the features alone leave where that
    is less; else the first not below the wanted one, by hand or not; else the first that is not below zero.
    """

    features: Needed
    ways: tuple[Way, ...]
    body: np.ndarray
    wanted: float
    room: float


def cornered(needed: Needed) -> Needed:
    """The corners of the hull of needed positions, each with what it belongs to."""
    corners = hull(needed.points)
    names = {(float(x), float(y)): n for (x, y), n in zip(needed.points, needed.names, strict=True)}
    return Needed(corners, tuple(names[(float(x), float(y))] for x, y in corners))


def moves_of(bench: Bench) -> Moves:
    """All that the margin of any pose needs, in the order in which the fit tries the ways."""
    ways = tuple(Way(cornered(pad_positions(bench, a)), a.by_hand) for a in arrangements(bench))
    body = body_corners(bench.member.length, bench.lyings)
    return Moves(cornered(common_needed(bench.lyings)), ways, body, bench.placing.margin, ROOM)
