"""Paths on a face turned into the moves of a program: bed places rounded to the controller's decimals.

All work is on whole arrays. Places are integers in steps of the last decimal, so what is compared is what is
written.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Piece
from sparwright.placing.model import Pose

CHORD = 0.004
"""Chord error of arcs for controllers without arcs, mm: with rounding to three decimals it stays below 0.005."""
UNKNOWN = np.iinfo(np.int64).min
"""Stands for a place the program has not named yet."""


@dataclass(frozen=True)
class Moves:
    """Moves of a program, none of length zero.

    kind: (k,) int8, as in a Path. start, end: (k, 3) int64, in steps of the last decimal. arm: (k, 2) int64, from
    start to centre of arcs, in steps of their own last decimal, 0 elsewhere. feed: (k,) mm/min, nan for rapids.
    piece: (k,) which piece each belongs to.
    """

    kind: np.ndarray
    start: np.ndarray
    end: np.ndarray
    arm: np.ndarray
    feed: np.ndarray
    piece: np.ndarray


@dataclass(frozen=True)
class _Raw:
    """Moves before they are divided and rounded: the same columns in bed mm, with centres of arcs."""

    kind: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    feed: np.ndarray
    piece: np.ndarray


def arm_decimals(decimals: int) -> int:
    """Decimals of I and J: at least three, so that both radii of an arc agree within 0.0015 mm."""
    return max(decimals, 3)


def moves_of(pieces: Sequence[Piece], pose: Pose, at: np.ndarray, decimals: int, arcs: bool) -> Moves:
    """The moves that make `pieces` in order, each reached by a rapid.

    at: (3,) int64, where the program stands, UNKNOWN where it has not said. Rapids never cross and climb at once: up
    first, down last. Arcs are in parts of at most half a turn, or in chords where `arcs` is false. Raises
    ValueError for a path that holds no number, a feed that is not above zero or a kind of move that does not exist.
    """
    raw = _gather(pieces, pose)
    steps = 10.0**decimals
    ends = np.rint(raw.end * steps).astype(np.int64)
    starts = np.vstack([at, ends[:-1]])
    rapid = raw.kind == RAPID
    climbs = ends[:, 2] - starts[:, 2]
    crosses = (ends[:, :2] != starts[:, :2]).any(axis=1)
    arc = raw.kind >= ARC_CW
    sweep = _sweeps(raw)
    count = np.where(rapid & crosses & (climbs != 0), 2, 1)
    count[arc] = _arc_parts(raw, sweep, arcs)[arc]

    row = np.repeat(np.arange(len(count)), count)
    part = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count) + 1
    inside = part < count[row]
    end = ends[row]
    up_first = inside & rapid[row] & (climbs[row] > 0)
    end[up_first, :2] = starts[row[up_first], :2]
    across_first = inside & rapid[row] & (climbs[row] < 0)
    end[across_first, 2] = starts[row[across_first], 2]
    on_arc = inside & arc[row]
    end[on_arc] = np.rint(
        _arc_points(raw, sweep, row[on_arc], part[on_arc] / count[row[on_arc]]) * steps
    ).astype(np.int64)
    kind = raw.kind[row] if arcs else np.where(arc[row], LINE, raw.kind[row]).astype(np.int8)
    radius = np.hypot(*(raw.start[:, :2] - raw.centre).T)
    bulge = (radius * (1 - np.cos(sweep / count / 2)))[row]
    start = np.vstack([at, end[:-1]])
    kind, arm = _arms(kind, (start, end), raw.centre[row], bulge, decimals)
    kept = (start != end).any(axis=1)
    return Moves(kind[kept], start[kept], end[kept], arm[kept], raw.feed[row[kept]], raw.piece[row[kept]])


def _gather(pieces: Sequence[Piece], pose: Pose) -> _Raw:
    """All paths in one, each led by a rapid to its start, in bed mm."""
    lead = np.full(1, math.nan)
    kind = np.concatenate([np.concatenate([[RAPID], p.path.kind]) for p in pieces]).astype(np.int8)
    face = np.concatenate([np.vstack([p.path.start, p.path.end]) for p in pieces]).astype(float)
    centre = np.concatenate([np.vstack([(math.nan, math.nan), p.path.centre]) for p in pieces])
    feed = np.concatenate([np.concatenate([lead, p.path.feed]) for p in pieces])
    piece = np.repeat(np.arange(len(pieces)), [len(p.path.kind) + 1 for p in pieces])
    arc = kind >= ARC_CW
    wrong = ~np.isfinite(face).all(axis=1) | (arc & ~np.isfinite(centre).all(axis=1))
    wrong |= (kind < RAPID) | (kind > ARC_CCW) | ((kind != RAPID) & ~(feed > 0))
    if wrong.any():
        name = pieces[piece[np.argmax(wrong)]].feature
        raise ValueError(
            f'the path of "{name}" cannot be written: no such kind of move, a place that is no number, '
            "or a feed not above zero"
        )
    end = np.column_stack([pose.to_bed(face[:, :2]), face[:, 2]])
    turned = np.full_like(centre, math.nan)
    turned[arc] = pose.to_bed(centre[arc])
    return _Raw(kind, np.vstack([end[:1], end[:-1]]), end, turned, feed, piece)


def _sweeps(raw: _Raw) -> np.ndarray:
    """Angle each arc turns, radians, positive; a full turn where it ends where it starts."""
    a = np.arctan2(*(raw.start[:, :2] - raw.centre).T[::-1])
    b = np.arctan2(*(raw.end[:, :2] - raw.centre).T[::-1])
    turn = np.mod(np.where(raw.kind == ARC_CW, a - b, b - a), 2 * math.pi)
    return np.where((raw.start[:, :2] == raw.end[:, :2]).all(axis=1), 2 * math.pi, turn)


def _arc_parts(raw: _Raw, sweep: np.ndarray, arcs: bool) -> np.ndarray:
    """How many parts each arc is written in."""
    if arcs:
        return np.maximum(np.ceil(np.nan_to_num(sweep) / math.pi - 1e-9), 1).astype(int)
    radius = np.maximum(np.hypot(*(raw.start[:, :2] - raw.centre).T), CHORD)
    part = 2 * np.arccos(1 - CHORD / radius)
    return np.maximum(np.ceil(np.nan_to_num(sweep / part)), 1).astype(int)


def _arc_points(raw: _Raw, sweep: np.ndarray, row: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Places on the arcs of `row` after `share` of their sweep, (n, 3); radius and height change evenly."""
    first, last = raw.start[row, :2] - raw.centre[row], raw.end[row, :2] - raw.centre[row]
    r0, r1 = np.hypot(*first.T), np.hypot(*last.T)
    turn = np.where(raw.kind[row] == ARC_CW, -1.0, 1.0) * sweep[row] * share
    angle = np.arctan2(first[:, 1], first[:, 0]) + turn
    radius = r0 + (r1 - r0) * share
    z = raw.start[row, 2] + (raw.end[row, 2] - raw.start[row, 2]) * share
    return np.column_stack(
        [
            raw.centre[row, 0] + radius * np.cos(angle),
            raw.centre[row, 1] + radius * np.sin(angle),
            z,
        ]
    )


def _arms(
    kind: np.ndarray,
    ends: tuple[np.ndarray, np.ndarray],
    centre: np.ndarray,
    bulge: np.ndarray,
    decimals: int,
) -> tuple[np.ndarray, np.ndarray]:
    """Kinds, with arcs too flat or too small for I and J made straight, and the way from start to centre, (k, 2).

    The centre is put on the perpendicular bisector of the rounded ends, as near the true one as it can lie, so
    that both radii are the same before I and J are rounded.
    """
    steps, arm_steps = 10.0**decimals, 10.0 ** arm_decimals(decimals)
    arc = np.flatnonzero(kind >= ARC_CW)
    p, q = ends[0][arc, :2] / steps, ends[1][arc, :2] / steps
    chord = np.hypot(*(q - p).T)
    along = (q - p) / np.where(chord > 0, chord, 1.0)[:, None]
    off = np.einsum("ij,ij->i", centre[arc] - (p + q) / 2, along)
    way = centre[arc] - off[:, None] * along - p
    flat = (chord == 0) | (bulge[arc] < max(0.5 / steps, 1 / arm_steps))
    flat |= np.hypot(*way.T) < 2 / arm_steps
    kind, arm = kind.copy(), np.zeros((len(kind), 2), dtype=np.int64)
    kind[arc[flat]] = LINE
    arm[arc[~flat]] = np.rint(way[~flat] * arm_steps).astype(np.int64)
    return kind, arm


def extents_of(moves: Moves, decimals: int) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest place the moves reach, mm, (3,) each: ends, and arcs where they run along an axis."""
    steps = 10.0**decimals
    end = moves.end / steps
    low, high = end.min(axis=0), end.max(axis=0)
    arc = moves.kind >= ARC_CW
    start, arm = moves.start[arc, :2] / steps, moves.arm[arc] / 10.0 ** arm_decimals(decimals)
    centre = start + arm
    radius = np.hypot(*arm.T)
    first = np.arctan2(*(start - centre).T[::-1])
    last = np.arctan2(*(end[arc, :2] - centre).T[::-1])
    turned = np.where(moves.kind[arc] == ARC_CW, -1.0, 1.0)
    sweep = np.mod(turned * (last - first), 2 * math.pi)
    for quarter, (axis, sign) in enumerate(((0, 1), (1, 1), (0, -1), (1, -1))):
        met = np.mod(turned * (quarter * math.pi / 2 - first), 2 * math.pi) <= sweep
        if met.any():
            reached = centre[met, axis] + sign * radius[met]
            low[axis], high[axis] = min(low[axis], reached.min()), max(high[axis], reached.max())
    return low, high
