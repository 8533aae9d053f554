"""Figures of a program as read: sweeps, lengths, extents, time."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from sparwright.program.machine import PLANE_AXES
from sparwright.program.model import Reading

_TURN = 2 * math.pi


class _Arcs(NamedTuple):
    """The m arcs of a reading: their motions, offsets of start and end from the centre along the plane's two axes,
    angle turned (positive), all (m,); planes: which of them lie in G17, G18 and G19.
    """

    rows: np.ndarray
    u0: np.ndarray
    v0: np.ndarray
    u1: np.ndarray
    v1: np.ndarray
    sweep: np.ndarray
    planes: dict[int, slice]


def _arcs(reading: Reading) -> _Arcs:
    """The arcs of a reading, plane by plane."""
    found = np.flatnonzero(reading.kind >= 2)
    of_plane = reading.plane[found]
    parts, planes, count = [], {}, 0
    for plane in PLANE_AXES:
        mine = found[of_plane == plane]
        if len(mine):
            parts.append(mine)
            planes[plane] = slice(count, count + len(mine))
            count += len(mine)
    rows = np.concatenate(parts) if parts else found
    offsets = [np.empty(count) for _ in range(4)]
    for plane, k in planes.items():
        a, b, _ = PLANE_AXES[plane]
        mine = rows[k]
        for place, (u, v) in ((reading.start, offsets[:2]), (reading.end, offsets[2:])):
            u[k] = place[mine, a] - reading.centre[mine, a]
            v[k] = place[mine, b] - reading.centre[mine, b]
    u0, v0, u1, v1 = offsets
    turn = np.arctan2(v1, u1) - np.arctan2(v0, u0)
    turn = np.mod(np.where(reading.kind[rows] == 2, -turn, turn), _TURN)
    return _Arcs(rows, u0, v0, u1, v1, np.where((u0 == u1) & (v0 == v1), _TURN, turn), planes)


def arc_sweeps(reading: Reading) -> np.ndarray:
    """Angle turned by each motion, radians, shape (k,): positive, at most a full turn; 0 for straight ones."""
    sweeps = np.zeros(len(reading.kind))
    arcs = _arcs(reading)
    sweeps[arcs.rows] = arcs.sweep
    return sweeps


def lengths(reading: Reading) -> np.ndarray:
    """Length of each motion, mm, shape (k,); helices along their thread."""
    return _lengths(reading, _arcs(reading))


def _lengths(reading: Reading, arcs: _Arcs) -> np.ndarray:
    step = reading.end - reading.start
    out: np.ndarray = np.sqrt(np.einsum("ij,ij->i", step, step))
    radius = (np.hypot(arcs.u0, arcs.v0) + np.hypot(arcs.u1, arcs.v1)) / 2
    for plane, k in arcs.planes.items():
        rise = step[arcs.rows[k], PLANE_AXES[plane][2]]
        out[arcs.rows[k]] = np.hypot(radius[k] * arcs.sweep[k], rise)
    return out


def extents(reading: Reading) -> tuple[np.ndarray, np.ndarray] | None:
    """Least and greatest X, Y, Z of the tool tip, mm, each shape (3,), arcs exactly; None without motions."""
    return _extents(reading, _arcs(reading))


def _extents(reading: Reading, arcs: _Arcs) -> tuple[np.ndarray, np.ndarray] | None:
    if len(reading.kind) == 0:
        return None
    low, high = reading.path.min(axis=0), reading.path.max(axis=0)
    for plane, k in arcs.planes.items():
        a, b, _ = PLANE_AXES[plane]
        rows, sweep, radius = arcs.rows[k], arcs.sweep[k], np.hypot(arcs.u0[k], arcs.v0[k])
        begin = np.arctan2(arcs.v0[k], arcs.u0[k])
        turned = np.where(reading.kind[rows] == 2, -1.0, 1.0)
        for quarter, (axis, sign) in enumerate(((a, 1), (b, 1), (a, -1), (b, -1))):
            met = np.mod(turned * (quarter * math.pi / 2 - begin), _TURN) <= sweep
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
        arcs = _arcs(piece)
        length = _lengths(piece, arcs)
        cutting = piece.kind > 0
        blocks += piece.blocks
        motions += len(piece.kind)
        cut += float(length[cutting].sum())
        rapid += float(length[~cutting].sum())
        time += _seconds(piece, length)
        end = piece.end_position
        box = _extents(piece, arcs)
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
