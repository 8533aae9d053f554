"""How long a machine of limited acceleration takes for a path: block by block, with look-ahead.

Textbook kinematics (trapezoids and triangles, centripetal limit sqrt(a R) on arcs). The speed through a corner is
that of the circle tangent to both legs that leaves the corner by the controller's junction deviation d:
R = d cos(t/2)/(1 - cos(t/2)) for a turn of t, v = sqrt(a R) (plane geometry). A controller that looks N blocks ahead
must be able to stop within them. Lengths mm, speeds mm/s inside, accelerations mm/s2.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from sparwright.cutting.model import ARC_CCW, LINE, RAPID
from sparwright.job.models import Bed


def path_seconds(
    kind: np.ndarray, start: np.ndarray, end: np.ndarray, centre: np.ndarray, feed: np.ndarray, bed: Bed
) -> float:
    """Seconds for a path from rest to rest; arguments as for move_seconds."""
    return float(move_seconds(kind, start, end, centre, feed, bed).sum())


def move_seconds(
    kind: np.ndarray, start: np.ndarray, end: np.ndarray, centre: np.ndarray, feed: np.ndarray, bed: Bed
) -> np.ndarray:
    """Seconds of each move, (k,), from rest at the start to rest at the end.

    kind: (k,) RAPID, LINE, ARC_CW or ARC_CCW; start: (3,) mm; end: (k, 3) mm; centre: (k, 2) mm, nan but for arcs;
    feed: (k,) mm/min, not read for rapids. bed: speeds, accelerations, block rate, look-ahead and junction deviation.
    Limits of an axis hold along each line for the share that axis takes; arcs take the smaller of X and Y throughout.
    """
    if len(kind) == 0:
        return np.zeros(0)
    points = np.vstack([np.asarray(start, float)[None, :3], np.asarray(end, float)])
    length, enter, leave, radius = _geometry(np.asarray(kind), points, np.asarray(centre, float))
    share = np.maximum(np.abs(enter), np.abs(leave))
    arc = np.isfinite(radius)
    share[arc, :2] = 1.0
    share = np.maximum(share, 1e-12)
    accel = (np.array(bed.acceleration) / share).min(axis=1)
    rapid = np.asarray(kind) == RAPID
    top = np.where(rapid[:, None], np.array(bed.rapid), np.array(bed.feed_limit)) / 60.0
    fastest = (top / share).min(axis=1)
    fastest = np.where(rapid, fastest, np.minimum(fastest, np.nan_to_num(feed, nan=np.inf) / 60.0))
    with np.errstate(invalid="ignore"):
        fastest = np.where(arc, np.minimum(fastest, np.sqrt(min(bed.acceleration[:2]) * radius)), fastest)
    fastest = np.minimum(fastest, np.maximum(length, 1e-9) * bed.controller.blocks_per_second)
    joint = _joint_speeds(enter, leave, accel, bed.controller.junction_deviation)
    joint = np.minimum(joint, np.minimum(fastest[:-1], fastest[1:]))
    return _seconds(length, fastest, accel, joint, bed.controller.look_ahead)


def _geometry(
    kind: np.ndarray, points: np.ndarray, centre: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Length, unit direction at the start and at the end (k, 3), and radius (inf for straight moves)."""
    a, b = points[:-1], points[1:]
    straight = (kind == RAPID) | (kind == LINE)
    chord = b - a
    c = np.where(straight[:, None], a[:, :2], centre)
    u, v = a[:, :2] - c, b[:, :2] - c
    hand = np.where(kind == ARC_CCW, 1.0, -1.0)
    turn = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))
    sweep = np.mod(hand * turn, 2 * np.pi)
    sweep = np.where(sweep < 1e-9, 2 * np.pi, sweep)
    radius = np.where(straight, np.inf, np.hypot(*u.T))
    flat = np.where(straight, np.hypot(*chord[:, :2].T), np.where(straight, 1.0, np.hypot(*u.T)) * sweep)
    length = np.hypot(flat, chord[:, 2])
    safe = np.maximum(length, 1e-12)

    def along(w: np.ndarray) -> np.ndarray:
        size = np.maximum(np.hypot(*w.T), 1e-12)
        tangent = hand[:, None] * np.column_stack([-w[:, 1], w[:, 0]]) / size[:, None]
        return np.column_stack([tangent * (flat / safe)[:, None], chord[:, 2] / safe])

    line = chord / safe[:, None]
    return (
        length,
        np.where(straight[:, None], line, along(u)),
        np.where(straight[:, None], line, along(v)),
        radius,
    )


def _joint_speeds(enter: np.ndarray, leave: np.ndarray, accel: np.ndarray, deviation: float) -> np.ndarray:
    """Greatest speed through each joint between moves, (k - 1,) mm/s."""
    cosine = np.clip((leave[:-1] * enter[1:]).sum(axis=1), -1.0, 1.0)
    half = np.sqrt(0.5 * (1.0 + cosine))
    with np.errstate(divide="ignore"):
        radius = np.where(half < 1.0 - 1e-12, deviation * half / np.maximum(1.0 - half, 1e-300), np.inf)
    return np.sqrt(np.minimum(accel[:-1], accel[1:]) * radius)


@njit(cache=True)
def _seconds(length, fastest, accel, joint, ahead):
    n = len(length)
    v = np.zeros(n + 1)
    v[1:n] = joint
    for i in range(1, n):
        reach = 0.0
        for k in range(i, min(i + ahead, n)):
            reach += 2.0 * accel[k] * length[k]
        v[i] = min(v[i], np.sqrt(reach))
    for i in range(n - 1, -1, -1):
        v[i] = min(v[i], np.sqrt(v[i + 1] ** 2 + 2.0 * accel[i] * length[i]))
    for i in range(n):
        v[i + 1] = min(v[i + 1], np.sqrt(v[i] ** 2 + 2.0 * accel[i] * length[i]))
    out = np.zeros(n)
    for i in range(n):
        if length[i] <= 0.0:
            continue
        a = accel[i]
        peak = np.sqrt(max(0.5 * (2.0 * a * length[i] + v[i] ** 2 + v[i + 1] ** 2), 0.0))
        if peak <= fastest[i]:
            out[i] = (2.0 * peak - v[i] - v[i + 1]) / a
        else:
            top = fastest[i]
            ramps = (2.0 * top * top - v[i] ** 2 - v[i + 1] ** 2) / (2.0 * a)
            out[i] = (2.0 * top - v[i] - v[i + 1]) / a + (length[i] - ramps) / top
    return out
