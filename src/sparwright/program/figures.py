"""Figures of a program as read: sweeps, lengths, extents, time."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from sparwright.program.machine import PLANE_AXES
from sparwright.program.model import Reading

_TURN = 2 * math.pi


def _plane_offsets(reading: Reading, rows: np.ndarray, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Offsets of `places` (n, 3) from the arc centres of `rows` (n,), along the two axes of each arc's plane."""
    off = places - reading.centre[rows]
    first = np.zeros(len(rows), dtype=int)
    second = np.zeros(len(rows), dtype=int)
    for plane, (a, b, _) in PLANE_AXES.items():
        mine = reading.plane[rows] == plane
        first[mine], second[mine] = a, b
    pick = np.arange(len(rows))
    return off[pick, first], off[pick, second]


def arc_sweeps(reading: Reading) -> np.ndarray:
    """Angle turned by each motion, radians, shape (k,): positive, at most a full turn; 0 for straight ones."""
    sweeps = np.zeros(len(reading.kind))
    rows = np.flatnonzero(reading.kind >= 2)
    if len(rows) == 0:
        return sweeps
    u0, v0 = _plane_offsets(reading, rows, reading.start[rows])
    u1, v1 = _plane_offsets(reading, rows, reading.end[rows])
    turn = np.arctan2(v1, u1) - np.arctan2(v0, u0)
    turn = np.mod(np.where(reading.kind[rows] == 2, -turn, turn), _TURN)
    sweeps[rows] = np.where((u0 == u1) & (v0 == v1), _TURN, turn)
    return sweeps


def lengths(reading: Reading) -> np.ndarray:
    """Length of each motion, mm, shape (k,); helices along their thread."""
    step = reading.end - reading.start
    out = np.sqrt(np.einsum("ij,ij->i", step, step))
    rows = np.flatnonzero(reading.kind >= 2)
    if len(rows):
        radius = (
            np.hypot(*_plane_offsets(reading, rows, reading.start[rows]))
            + np.hypot(*_plane_offsets(reading, rows, reading.end[rows]))
        ) / 2
        normal = np.select(
            [reading.plane[rows] == p for p in PLANE_AXES], [n for _, _, n in PLANE_AXES.values()]
        )
        rise = step[rows, normal]
        out[rows] = np.hypot(radius * arc_sweeps(reading)[rows], rise)
    return out


def extents(reading: Reading) -> tuple[np.ndarray, np.ndarray] | None:
    """Least and greatest X, Y, Z of the tool tip, mm, each shape (3,), arcs exactly; None without motions."""
    if len(reading.kind) == 0:
        return None
    low = np.minimum(reading.start[0], reading.end.min(axis=0))
    high = np.maximum(reading.start[0], reading.end.max(axis=0))
    rows = np.flatnonzero(reading.kind >= 2)
    if len(rows) == 0:
        return low, high
    u0, v0 = _plane_offsets(reading, rows, reading.start[rows])
    radius = np.hypot(u0, v0)
    begin = np.arctan2(v0, u0)
    turned = np.where(reading.kind[rows] == 2, -1.0, 1.0)
    sweep = arc_sweeps(reading)[rows]
    for plane, (a, b, _) in PLANE_AXES.items():
        for quarter, (axis, sign) in enumerate(((a, 1), (b, 1), (a, -1), (b, -1))):
            ahead = np.mod(turned * (quarter * math.pi / 2 - begin), _TURN)
            met = (ahead <= sweep) & (reading.plane[rows] == plane)
            if met.any():
                reached = reading.centre[rows[met], axis] + sign * radius[met]
                low[axis] = min(low[axis], reached.min())
                high[axis] = max(high[axis], reached.max())
    return low, high


def seconds(reading: Reading) -> float:
    """Nominal time: length over feed of every feed motion whose feed is known, rapids where their speed is, dwells."""
    return _seconds(reading, lengths(reading))


def _seconds(reading: Reading, length: np.ndarray) -> float:
    cutting = (reading.kind > 0) & (reading.feed > 0)
    total = 60.0 * float((length[cutting] / reading.feed[cutting]).sum()) + reading.dwell_seconds
    if reading.rapid:
        total += 60.0 * float(length[reading.kind == 0].sum()) / reading.rapid
    return total


def summary(reading: Reading | Iterable[Reading]) -> dict[str, Any]:
    """What a program says, as the keys of `sparwright read --json`: plain numbers and lists, lengths in mm.

    reading: the whole program, or its pieces in order, of which one at a time is held.
    """
    blocks = motions = 0
    cut = rapid = time = 0.0
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    slowest, fastest = math.inf, -math.inf
    end: tuple[float, ...] = ()
    errors: list[dict[str, Any]] = []
    passed: list[dict[str, Any]] = []
    for piece in (reading,) if isinstance(reading, Reading) else reading:
        length = lengths(piece)
        cutting = piece.kind > 0
        blocks += piece.blocks
        motions += len(piece.kind)
        cut += float(length[cutting].sum())
        rapid += float(length[~cutting].sum())
        time += _seconds(piece, length)
        end = piece.end_position
        box = extents(piece)
        if box is not None:
            low, high = np.minimum(low, box[0]), np.maximum(high, box[1])
        feeds = piece.feed[cutting & (piece.feed > 0)]
        if len(feeds):
            slowest, fastest = min(slowest, float(feeds.min())), max(fastest, float(feeds.max()))
        errors += [{"line": e.line, "message": e.message} for e in piece.errors]
        passed += [{"line": line, "word": word} for line, word in piece.passed]
    return {
        "blocks": blocks,
        "motions": motions,
        "cutting_length_mm": cut,
        "rapid_length_mm": rapid,
        "extents_mm": [low.tolist(), high.tolist()] if motions else None,
        "end_mm": list(end),
        "feed_mm_per_min": [slowest, fastest] if fastest > 0 else None,
        "seconds": time,
        "errors": errors,
        "passed_over": passed,
    }
