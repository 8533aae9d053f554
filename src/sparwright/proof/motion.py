"""Motions of all programs of a side in one table, and the sweeps they make over the face.

Programs speak in the bed frame: X0 Y0 at the left front corner of the reach, Z0 on the face being cut. Here
they are turned back into the face's (x, s, n) by the pose, so that arcs stay arcs and n is Z.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.job.models import Bed, Cutter
from sparwright.placing.model import Pose
from sparwright.program.model import Reading
from sparwright.proof.kernels import ARC, CHORD, LINE, Sweeps

MOST_CHORDS = 10_000  # in one arc, however large; such an arc is far beyond any reach
RAPID, STRAIGHT, CLOCKWISE, COUNTER = 0, 1, 2, 3
PLANE_AXES = {17: (0, 1), 18: (2, 0), 19: (1, 2)}  # first and second axis, seen from the third's plus side


@dataclass(frozen=True)
class Moves:
    """k motions in the order they are made, the programs one after another.

    program: (k,) index of the program. line: (k,). kind: (k,) RAPID, STRAIGHT, CLOCKWISE or COUNTER.
    start, end, centre: (k, 3) bed frame, mm. plane: (k,). turn: (k,) signed angle of arcs, radians, else 0.
    length: (k,) of the tip's path, mm. feed: mm/min. rpm. spindle: 1, 0, -1. tool: number as the program says.
    cutter: (k,) index into the job's cutters, -1 where the number is not among them. work: (k, 3).
    The arrays of a single reading are taken as they are, not copied.
    """

    program: np.ndarray
    line: np.ndarray
    kind: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    plane: np.ndarray
    turn: np.ndarray
    length: np.ndarray
    feed: np.ndarray
    rpm: np.ndarray
    spindle: np.ndarray
    tool: np.ndarray
    cutter: np.ndarray
    work: np.ndarray

    @property
    def rapid(self) -> np.ndarray:
        """Which motions are rapids, (k,) bool."""
        return np.asarray(self.kind == RAPID)


def _turns(
    kind: np.ndarray, plane: np.ndarray, start: np.ndarray, end: np.ndarray, centre: np.ndarray
) -> np.ndarray:
    """Signed angle of each arc about its plane's axis; a full turn where an arc ends where it starts."""
    turn = np.zeros(len(kind))
    for code, (a, b) in PLANE_AXES.items():
        k = np.flatnonzero((kind >= CLOCKWISE) & (plane == code))
        begin = np.arctan2(start[k, b] - centre[k, b], start[k, a] - centre[k, a])
        finish = np.arctan2(end[k, b] - centre[k, b], end[k, a] - centre[k, a])
        counter = kind[k] == COUNTER
        way = np.where(counter, finish - begin, begin - finish) % (2 * math.pi)
        way[(way < 1e-9) | (way > 2 * math.pi - 1e-9)] = 2 * math.pi
        turn[k] = np.where(counter, way, -way)
    return turn


def _lengths(
    plane: np.ndarray, start: np.ndarray, end: np.ndarray, centre: np.ndarray, turn: np.ndarray
) -> np.ndarray:
    step = end - start
    length = np.sqrt(np.einsum("ij,ij->i", step, step))
    for code, (a, b) in PLANE_AXES.items():
        k = np.flatnonzero((turn != 0) & (plane == code))
        radius = np.hypot(start[k, a] - centre[k, a], start[k, b] - centre[k, b])
        along = end[k, 3 - a - b] - start[k, 3 - a - b]
        length[k] = np.hypot(radius * turn[k], along)
    return np.asarray(length)


def collect(readings: Sequence[Reading], cutters: Sequence[Cutter]) -> Moves:
    """All motions of the readings, one program after another."""

    def joined(name: str) -> np.ndarray:
        parts: list[np.ndarray] = [getattr(r, name) for r in readings]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    kind, plane, start, end, centre = (joined(n) for n in ("kind", "plane", "start", "end", "centre"))
    turn = _turns(kind, plane, start, end, centre)
    tool = joined("tool")
    return Moves(
        program=np.repeat(np.arange(len(readings)), [len(r.kind) for r in readings]),
        line=joined("line"),
        kind=kind,
        start=start,
        end=end,
        centre=centre,
        plane=plane,
        turn=turn,
        length=_lengths(plane, start, end, centre, turn),
        feed=joined("feed"),
        rpm=joined("rpm"),
        spindle=joined("spindle"),
        tool=tool,
        cutter=_cutter_of(tool, cutters),
        work=joined("work"),
    )


def _cutter_of(tool: np.ndarray, cutters: Sequence[Cutter]) -> np.ndarray:
    """Index of the cutter each motion is made with, (k,), -1 where the job has no such number."""
    found = np.full(len(tool), -1, dtype=np.int64)
    for i, cutter in enumerate(cutters):
        found[tool == cutter.number] = i
    return found


def move_seconds(moves: Moves, bed: Bed) -> np.ndarray:
    """Time of each motion, s, (k,): length over feed, rapids by their slowest axis; without a feed none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        feed = np.where(moves.feed > 0, moves.length / moves.feed, 0.0)
    rapid = (np.abs(moves.end - moves.start) / np.asarray(bed.rapid)).max(axis=1, initial=0.0)
    return np.asarray(60.0 * np.where(moves.rapid, rapid, feed))


def nominal_seconds(moves: Moves, bed: Bed) -> float:
    """Time of all motions, s; see move_seconds."""
    return float(move_seconds(moves, bed).sum())


def extents(moves: Moves) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest X, Y, Z of each motion, arcs by their quadrant points; two arrays (k, 3)."""
    low, high = np.minimum(moves.start, moves.end), np.maximum(moves.start, moves.end)
    for code, (a, b) in PLANE_AXES.items():
        k = np.flatnonzero((moves.turn != 0) & (moves.plane == code))
        da, db = (moves.start[k, i] - moves.centre[k, i] for i in (a, b))
        radius, begin = np.hypot(da, db), np.arctan2(db, da)
        for quarter in range(4):
            angle = quarter * math.pi / 2
            way = ((angle - begin) * np.sign(moves.turn[k])) % (2 * math.pi)
            hit = way <= np.abs(moves.turn[k])
            met = k[hit]
            for axis, part in ((a, math.cos(angle)), (b, math.sin(angle))):
                value = moves.centre[met, axis] + radius[hit] * part
                low[met, axis] = np.minimum(low[met, axis], value)
                high[met, axis] = np.maximum(high[met, axis], value)
    return low, high


def points_at(moves: Moves, k: np.ndarray, share: np.ndarray) -> np.ndarray:
    """Tip positions at shares (0 to 1) of the motions k, both (m,), in the bed frame, (m, 3)."""
    start, end, turn = moves.start[k], moves.end[k], moves.turn[k]
    at = start + (end - start) * share[:, None]
    for code, (a, b) in PLANE_AXES.items():
        i = np.flatnonzero((turn != 0) & (moves.plane[k] == code))
        c, s = np.cos(turn[i] * share[i]), np.sin(turn[i] * share[i])
        centre = moves.centre[k[i]]
        da, db = start[i, a] - centre[:, a], start[i, b] - centre[:, b]
        at[i, a] = centre[:, a] + da * c - db * s
        at[i, b] = centre[:, b] + da * s + db * c
    at[share <= 0] = start[share <= 0]
    at[share >= 1] = end[share >= 1]
    return np.asarray(at)


def to_face(points: np.ndarray, pose: Pose) -> np.ndarray:
    """Bed points (k, 3) with Z0 on the face, as (x, s, n) of the face, (k, 3)."""
    c, s = math.cos(pose.angle), math.sin(pose.angle)
    dx, dy = points[:, 0] - pose.x, points[:, 1] - pose.y
    return np.column_stack([c * dx + s * dy, c * dy - s * dx, points[:, 2]])


def sweeps_of(moves: Moves, pose: Pose, flat: np.ndarray) -> tuple[Sweeps, np.ndarray]:
    """The sweeps of all motions whose cutter is known, and the motion each comes from, (m,).

    flat: (cutters,) bool, which cutters have flat ends. Level-plane arcs are split into parts of at most half
    a turn, arcs in upright planes into chords within CHORD.
    """
    used = np.flatnonzero(moves.cutter >= 0)
    turn, level_plane = moves.turn[used], moves.plane[used] == 17
    count = np.where(np.abs(turn) > math.pi, 2, 1)
    for code, (a, b) in PLANE_AXES.items():
        upright = np.flatnonzero((turn != 0) & ~level_plane & (moves.plane[used] == code))
        off = moves.start[used[upright]] - moves.centre[used[upright]]
        radius = np.hypot(off[:, a], off[:, b])
        step = 2 * np.arccos(1 - CHORD / np.maximum(radius, CHORD))
        count[upright] = np.clip(np.ceil(np.abs(turn[upright]) / step), 1, MOST_CHORDS)
    move = np.repeat(used, count)
    part = np.arange(len(move)) - np.repeat(np.cumsum(count) - count, count)
    parts = np.repeat(count, count)
    start = to_face(points_at(moves, move, part / parts), pose)
    end = to_face(points_at(moves, move, (part + 1) / parts), pose)
    arc = (moves.turn[move] != 0) & (moves.plane[move] == 17)
    tool = moves.cutter[move]
    level = start[:, 2] == end[:, 2]
    joined = np.zeros(len(move), dtype=bool)
    if len(move):
        joined[1:] = (
            (end[:-1] == start[1:]).all(axis=1) & (tool[:-1] == tool[1:]) & level[1:] & flat[tool[1:]]
        )
    sweeps = Sweeps(
        kind=np.where(arc, ARC, LINE).astype(np.int8),
        tool=tool.astype(np.int64),
        start=np.ascontiguousarray(start),
        end=np.ascontiguousarray(end),
        centre=np.ascontiguousarray(to_face(moves.centre[move], pose)[:, :2]),
        turn=np.where(arc, moves.turn[move] / parts, 0.0),
        rapid=moves.kind[move] == RAPID,
        joined=joined,
    )
    return sweeps, move
