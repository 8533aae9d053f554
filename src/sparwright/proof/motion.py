"""Motions of all programs of a side in one table, and the sweeps they make over the face.

Programs speak in the bed frame: X0 Y0 at the left front corner of the reach, Z0 on the face being cut. Here
they are turned back into the face's (x, s, n) by the pose, so that arcs stay arcs and n is Z.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

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
    cutter: (k,) index into the job's cutters, -1 where the number is not among them. length_of: (k,) number of the
    tool length in force, 0 for none. work: (k, 3). The arrays of a single reading are taken as they are, not copied.
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
    length_of: np.ndarray
    work: np.ndarray

    def part(self, k: slice | np.ndarray) -> Moves:
        """Some of the motions."""
        return Moves(*(getattr(self, f.name)[k] for f in fields(self)))

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


def _joined(parts: Sequence[np.ndarray]) -> np.ndarray:
    """Arrays end to end. Where each is one row repeated, and all rows are the same, so is what is made of them."""
    filled = [p for p in parts if len(p)] or list(parts[:1])
    if len(filled) == 1:
        return filled[0]
    row = filled[0][0]
    if all(p.strides[0] == 0 and (p[0] == row).all() for p in filled):
        return np.broadcast_to(row, (sum(map(len, filled)), *row.shape))
    return np.concatenate(filled)


def _raised(places: np.ndarray, lift: float) -> np.ndarray:
    """Places (k, 3) raised; one row repeated stays so."""
    if not lift or len(places) == 0:
        return places
    up = np.array([0.0, 0.0, lift])
    return np.broadcast_to(places[0] + up, places.shape) if places.strides[0] == 0 else places + up


def collect(readings: Sequence[Reading], cutters: Sequence[Cutter], lift: float = 0.0) -> Moves:
    """All motions of the readings, one program after another, and with them the zeros in force, raised by `lift`."""

    def joined(name: str) -> np.ndarray:
        return _joined([getattr(r, name) for r in readings])

    paths = [_raised(r.path, lift) for r in readings]
    start, end = _joined([p[:-1] for p in paths]), _joined([p[1:] for p in paths])
    kind, plane = joined("kind"), joined("plane")
    centre = _raised(joined("centre"), lift)
    if not (kind >= CLOCKWISE).any():  # none has a centre: one row stands for all, which takes no room
        centre = np.broadcast_to(np.full(3, np.nan), centre.shape)
    turn = _turns(kind, plane, start, end, centre)
    tool = joined("tool")
    return Moves(
        program=np.repeat(np.arange(len(readings), dtype=np.int16), [len(r.kind) for r in readings]),
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
        length_of=joined("length"),
        work=_raised(joined("work"), lift),
    )


def _cutter_of(tool: np.ndarray, cutters: Sequence[Cutter]) -> np.ndarray:
    """Index of the cutter each motion is made with, int16 (k,), -1 where the job has no such number."""
    found = np.full(len(tool), -1, dtype=np.int16)
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


def _parts(moves: Moves, used: np.ndarray) -> np.ndarray:
    """Number of sweeps each of the motions `used` is split into, (m,)."""
    turn, level_plane = moves.turn[used], moves.plane[used] == 17
    count = np.where(np.abs(turn) > math.pi, 2, 1)
    for code, (a, b) in PLANE_AXES.items():
        upright = np.flatnonzero((turn != 0) & ~level_plane & (moves.plane[used] == code))
        off = moves.start[used[upright]] - moves.centre[used[upright]]
        radius = np.hypot(off[:, a], off[:, b])
        step = 2 * np.arccos(1 - CHORD / np.maximum(radius, CHORD))
        count[upright] = np.clip(np.ceil(np.abs(turn[upright]) / step), 1, MOST_CHORDS)
    return count


def sweeps_of(moves: Moves, pose: Pose, flat: np.ndarray) -> tuple[Sweeps, np.ndarray]:
    """The sweeps of all motions whose cutter is known, and the motion each comes from, int32 (m,).

    flat: (cutters,) bool, which cutters have flat ends. Level-plane arcs are split into parts of at most half
    a turn, arcs in upright planes into chords within CHORD. Where every motion begins where the one before ends, so do
    the sweeps, and start and end are views of one path.
    """
    used = np.flatnonzero(moves.cutter >= 0).astype(np.int32)
    count = _parts(moves, used)
    move, parts = np.repeat(used, count), np.repeat(count, count)
    part = np.arange(len(move)) - np.repeat(np.cumsum(count) - count, count)
    last = part[-1:] + 1
    if (moves.end[used[:-1]] == moves.start[used[1:]]).all():
        share = np.append(part, last) / np.append(parts, parts[-1:])
        path = to_face(points_at(moves, np.append(move, move[-1:]), share), pose)
        start, end = path[:-1], path[1:]
    else:
        start = to_face(points_at(moves, move, part / parts), pose)
        end = to_face(points_at(moves, move, (part + 1) / parts), pose)
    arc = np.flatnonzero((moves.turn[move] != 0) & (moves.plane[move] == 17))
    kind, turn = np.full(len(move), LINE, dtype=np.int8), np.zeros(len(move))
    kind[arc], turn[arc] = ARC, moves.turn[move[arc]] / parts[arc]
    centre = np.zeros((len(move), 2))  # zeros that nobody touches take no room
    centre[arc] = to_face(moves.centre[move[arc]], pose)[:, :2]
    tool = moves.cutter[move].astype(np.int64)
    joined = np.zeros(len(move), dtype=bool)
    joined[1:] = (
        (end[:-1] == start[1:]).all(axis=1)
        & (tool[:-1] == tool[1:])
        & (start[1:, 2] == end[1:, 2])
        & flat[tool[1:]]
    )
    sweeps = Sweeps(
        kind=kind,
        tool=tool,
        start=start,
        end=end,
        centre=centre,
        turn=turn,
        rapid=moves.kind[move] == RAPID,
        joined=joined,
    )
    return sweeps, move
