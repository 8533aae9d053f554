"""Lines and arcs through a dense run of points, within a tolerance and nearly tangent at the joints."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE

MOST_KINK = 0.06
"""Greatest angle between a fitted piece and the run's own direction at its ends, rad (own choice); where the run
itself turns between neighbouring points, half of that turn more."""

SHORTEST = 0.105
"""No piece is made shorter than this, mm, while the run is longer."""


@dataclass(frozen=True)
class Moves:
    """A table of level moves, row by row: kind (k,) int8, start, end and centre (k, 2) mm; centre is nan for lines."""

    kind: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def lengths(self) -> np.ndarray:
        """Length of each move, (k,) mm."""
        chord = np.hypot(*(self.end - self.start).T)
        arc = self.kind != LINE
        radius = np.where(arc, np.hypot(*np.nan_to_num(self.start - self.centre).T), 1.0)
        return np.where(arc, radius * np.abs(self.sweeps), chord)

    @property
    def sweeps(self) -> np.ndarray:
        """Angle turned through by each move, (k,) rad, counter-clockwise positive, 0 for lines."""
        a, b = self.start - self.centre, self.end - self.centre
        turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
        turn = np.where(self.kind == ARC_CCW, np.mod(turn, 2 * np.pi), -np.mod(-turn, 2 * np.pi))
        return np.where(self.kind == LINE, 0.0, turn)

    def shifted(self, dx: float, dy: float) -> Moves:
        """The same moves elsewhere."""
        by = np.array([dx, dy])
        return Moves(self.kind, self.start + by, self.end + by, self.centre + by)

    def sampled(self, spacing: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Places (n, 3: x, y, heading rad) at most `spacing` apart along the moves, the index of the move of each, and
        the length of travel up to each, mm. Every move gives its end and what lies between; the first also its start.
        """
        lengths, sweeps = self.lengths, self.sweeps
        count = np.maximum(np.ceil(lengths / spacing).astype(int), 1)
        index = np.repeat(np.arange(len(self)), count)
        last = np.cumsum(count)
        t = (np.arange(last[-1]) - (last - count)[index] + 1) / count[index]
        index, t = np.insert(index, 0, 0), np.insert(t, 0, 0.0)
        a, d = self.start[index], self.end[index] - self.start[index]
        c, turned = self.centre[index], t * sweeps[index]
        u, cos, sin = a - c, np.cos(turned), np.sin(turned)
        arc = c + np.column_stack([u[:, 0] * cos - u[:, 1] * sin, u[:, 0] * sin + u[:, 1] * cos])
        line = self.kind[index] == LINE
        quarter = np.where(self.kind[index] == ARC_CCW, 0.5, -0.5) * np.pi
        heading = np.where(
            line, np.arctan2(d[:, 1], d[:, 0]), np.arctan2(u[:, 1], u[:, 0]) + quarter + turned
        )
        xy = np.where(line[:, None], a + t[:, None] * d, arc)
        step = np.hypot(*np.diff(xy, axis=0).T)
        return np.column_stack([xy, heading]), index, np.concatenate([[0.0], np.cumsum(step)])


def join(tables: list[Moves]) -> Moves:
    """Several tables as one."""
    return Moves(
        *(np.concatenate([getattr(m, f) for m in tables]) for f in ("kind", "start", "end", "centre"))
    )


@njit(cache=True)
def _sweep(area, chord):
    """Sweep of the arc that encloses `area` with its chord: area/chord^2 = (s - sin s)/(8 sin^2(s/2)), by Newton."""
    want = area / (chord * chord)
    s = 12.0 * want
    s = min(max(s, -5.0), 5.0)
    if abs(s) < 1e-5:
        return s
    for _ in range(8):
        half = np.sin(0.5 * s)
        down = 8.0 * half * half
        f = (s - np.sin(s)) / down - want
        slope = (1.0 - np.cos(s)) / down - (s - np.sin(s)) * 4.0 * np.sin(s) / (down * down)
        s = min(max(s - f / slope, -6.0), 6.0)
    return s


@njit(cache=True)
def _turn(a):
    return a - 2.0 * np.pi * np.round(a / (2.0 * np.pi))


@njit(cache=True)
def _piece(points, headings, kinks, i, j, tolerance):
    """Line or arc from point i to point j: (fits, sweep, centre x, centre y); sweep 0 is a line."""
    ax, ay = points[i, 0], points[i, 1]
    dx, dy = points[j, 0] - ax, points[j, 1] - ay
    chord = np.sqrt(dx * dx + dy * dy)
    if chord < 1e-9:
        return False, 0.0, 0.0, 0.0
    along = np.arctan2(dy, dx)
    area, worst = 0.0, 0.0
    for k in range(i + 1, j + 1):
        px, py = points[k - 1, 0] - ax, points[k - 1, 1] - ay
        qx, qy = points[k, 0] - ax, points[k, 1] - ay
        area += 0.5 * (px * qy - py * qx)
        worst = max(worst, abs(dx * qy - dy * qx) / chord)
    off0, off1 = _turn(headings[i] - along), _turn(headings[j] - along)
    if worst <= 0.6 * tolerance and abs(off0) <= 0.5 * kinks[i] and abs(off1) <= 0.5 * kinks[j]:
        return True, 0.0, 0.0, 0.0
    s = _sweep(area, chord)
    if abs(s) < 1e-4:
        return worst <= tolerance and abs(off0) <= kinks[i] and abs(off1) <= kinks[j], 0.0, 0.0, 0.0
    if abs(s) > 3.0:
        return False, s, 0.0, 0.0
    radius = 0.5 * chord / np.sin(0.5 * s)
    rise = radius * np.cos(0.5 * s)
    cx, cy = ax + 0.5 * dx - rise * dy / chord, ay + 0.5 * dy + rise * dx / chord
    fits = abs(_turn(off0 + 0.5 * s)) <= kinks[i] and abs(_turn(off1 - 0.5 * s)) <= kinks[j]
    for k in range(i + 1, j):
        if not fits:
            break
        px, py = points[k, 0] - cx, points[k, 1] - cy
        fits = abs(np.sqrt(px * px + py * py) - abs(radius)) <= tolerance
    return fits, s, cx, cy


@njit(cache=True)
def _fit(points, headings, kinks, tolerance, shortest):
    """Greedy longest pieces: rows (j, sweep, cx, cy), j the index of the end point."""
    n = points.shape[0]
    run = np.zeros(n)
    for k in range(1, n):
        run[k] = run[k - 1] + np.hypot(points[k, 0] - points[k - 1, 0], points[k, 1] - points[k - 1, 1])
    out = np.empty((n, 4))
    count, i = 0, 0
    while i < n - 1:
        least = i + 1
        while least < n - 1 and (run[least] - run[i] < shortest or run[n - 1] - run[least] < shortest):
            if run[n - 1] - run[i] < 2.0 * shortest:
                least = n - 1
            else:
                least += 1
        good, low, high, width = least, least, n, 2
        while low + width < n:
            if _piece(points, headings, kinks, i, low + width, tolerance)[0]:
                low = low + width
                good = low
                width *= 2
            else:
                high = low + width
                break
        while high - low > 1:
            middle = (low + high) // 2
            if middle < n and _piece(points, headings, kinks, i, middle, tolerance)[0]:
                low = middle
                good = middle
            else:
                high = middle
        while good > least and 0.0 < run[n - 1] - run[good] < shortest:
            good -= 1
        _, s, cx, cy = _piece(points, headings, kinks, i, good, tolerance)
        if abs(s) > 3.0:
            s = 0.0
        out[count, 0], out[count, 1], out[count, 2], out[count, 3] = good, s, cx, cy
        count += 1
        i = good
    return out[:count]


def fit_moves(points: np.ndarray, headings: np.ndarray, tolerance: float = 0.005) -> Moves:
    """Lines and arcs through a dense run.

    points: (n, 2) mm, n >= 2, no two neighbours alike; headings: (n,) rad, direction of the run at each point.
    Every point lies within `tolerance` mm of the result, arcs turn less than half a turn, pieces are longer than
    SHORTEST where the run allows, and leave the given direction by at most MOST_KINK at their ends. Each arc encloses
    with its chord the same area as the run does, which averages out what noise the points carry. Raises ValueError
    for fewer than two points.
    """
    if len(points) < 2:
        raise ValueError("a run to be fitted needs at least two points")
    points, headings = np.ascontiguousarray(points, float), np.ascontiguousarray(headings, float)
    turns = np.abs(np.diff(np.unwrap(headings)))
    kinks = MOST_KINK + 0.5 * np.maximum(np.append(turns, 0.0), np.insert(turns, 0, 0.0))
    rows = _fit(points, headings, kinks, tolerance, SHORTEST)
    last = rows[:, 0].astype(int)
    first = np.concatenate([[0], last[:-1]])
    sweep = rows[:, 1]
    kind = np.where(sweep == 0.0, LINE, np.where(sweep > 0, ARC_CCW, ARC_CW)).astype(np.int8)
    centre = np.where((kind == LINE)[:, None], np.nan, rows[:, 2:4])
    return Moves(kind, points[first], points[last], centre)
