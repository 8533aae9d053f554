"""Every pose in which the needed cutter-centre positions lie in the reach, and the one of greatest margin.

Without uprights the search is exact. Turned by t, the points' extents are w(t) and h(t); between breakpoints
(angles at which an edge of the convex hull is parallel to a bed axis) each is one cosine of the vector between a
fixed antipodal pair. The margin min((A - w) / 2, (B - h) / 2) is there a least of two convex functions, so its
greatest value lies at a breakpoint or where both halves are equal, and the allowed angles end at breakpoints or
at roots of w = A and h = B: all in closed form.

Uprights: between `low` and `high` in Y the body must stay between two inner faces. At one angle the best offset is
a piecewise-linear maximum, found exactly at its corners; over the angle it is found by a scan that is refined to
1e-9 rad round every peak and every change of sign. A range of angles narrower than the scan's 0.05 degree that
only the uprights leave open can be missed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import MultiPoint, Point

HALF_TURN = math.pi
SCAN = math.radians(0.05)
TOUCH = 1e-9
"""Exact touching: margins down to minus this, mm, count as zero, so that isolated angles are kept."""
EQUAL = 1e-6
"""Margins closer than this, mm, are equal; the angle nearest 0 is then taken."""
FAR = 1e7


@dataclass(frozen=True)
class Uprights:
    """Inner faces of the uprights in X, and the band in Y they sweep; bed frame, mm."""

    left: float
    right: float
    low: float
    high: float


@dataclass(frozen=True)
class Lie:
    """A pose and its margin: bed position of the point (0, 0), angle in radians, margin in mm."""

    x: float
    y: float
    angle: float
    margin: float


@dataclass(frozen=True)
class Search:
    """Best lie (its margin is negative where nothing fits) and the allowed angle intervals in [0, pi], radians."""

    best: Lie
    angles: tuple[tuple[float, float], ...]


def hull(points: np.ndarray) -> np.ndarray:
    """Corners of the convex hull of points (k, 2), counter-clockwise; one or two points where it is degenerate."""
    shape = MultiPoint(np.asarray(points, dtype=float)).convex_hull
    if isinstance(shape, Point):
        return np.array([shape.coords[0]])
    if shape.geom_type == "LineString":
        return np.asarray(shape.coords)
    ring = np.asarray(shape.exterior.coords)[:-1]
    return ring if shape.exterior.is_ccw else ring[::-1]


def turned(points: np.ndarray, angles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """X and Y of points (k, 2) turned by each of the angles (n,), two arrays of shape (n, k)."""
    c, s = np.cos(angles)[:, None], np.sin(angles)[:, None]
    x, y = points[:, 0], points[:, 1]
    return x * c - y * s, x * s + y * c


def reach_margin(points: np.ndarray, reach: tuple[float, float], angles: np.ndarray) -> np.ndarray:
    """Greatest margin over all offsets at each angle, shape (n,), mm; uprights not counted."""
    x, y = turned(points, np.atleast_1d(angles))
    return np.minimum(reach[0] - np.ptp(x, axis=1), reach[1] - np.ptp(y, axis=1)) / 2


def breakpoints(corners: np.ndarray) -> np.ndarray:
    """Angles in [0, pi] at which an edge of the hull is parallel to a bed axis, with 0 and pi themselves."""
    edges = np.roll(corners, -1, axis=0) - corners
    edges = edges[np.hypot(edges[:, 0], edges[:, 1]) > 0]
    parallel = np.mod(-np.arctan2(edges[:, 1], edges[:, 0]), math.pi / 2)
    return np.unique(np.concatenate([[0.0, HALF_TURN / 2, HALF_TURN], parallel, parallel + math.pi / 2]))


def _roots(a: float, b: float, value: float, low: float, high: float) -> list[float]:
    """Angles t in (low, high) with a cos t + b sin t = value."""
    r = math.hypot(a, b)
    if r == 0 or abs(value) > r:
        return []
    middle, half = math.atan2(b, a), math.acos(value / r)
    found = []
    for t in (middle - half, middle + half):
        t += 2 * math.pi * math.ceil((low - t) / (2 * math.pi))
        if low < t < high:
            found.append(t)
    return found


def critical_angles(corners: np.ndarray, reach: tuple[float, float]) -> np.ndarray:
    """Sorted angles in [0, pi] that hold every peak of the margin and every end of an allowed interval."""
    breaks = breakpoints(corners)
    found = list(breaks)
    middles = (breaks[:-1] + breaks[1:]) / 2
    x, y = turned(corners, middles)
    right, left = corners[x.argmax(axis=1)], corners[x.argmin(axis=1)]
    top, bottom = corners[y.argmax(axis=1)], corners[y.argmin(axis=1)]
    for (dx, ds), (ex, es), low, high in zip(
        right - left, top - bottom, breaks[:-1], breaks[1:], strict=True
    ):
        # width dx cos t - ds sin t, height es cos t + ex sin t
        found += _roots(dx, -ds, reach[0], low, high)
        found += _roots(es, ex, reach[1], low, high)
        found += _roots(dx - es, -ds - ex, reach[0] - reach[1], low, high)
    return np.unique(np.array(found))


def _from_zero(angles: np.ndarray) -> np.ndarray:
    return np.minimum(angles, HALF_TURN - angles)


def _pick(angles: np.ndarray, margins: np.ndarray) -> int:
    near = np.flatnonzero(margins >= margins.max() - EQUAL)
    order = np.lexsort((angles[near], np.round(_from_zero(angles[near]), 9)))
    return int(near[order[0]])


def _intervals(
    angles: np.ndarray, margins: np.ndarray, between: np.ndarray
) -> tuple[tuple[float, float], ...]:
    """Allowed intervals from margins at sorted angles (n,) and between them (n - 1,)."""
    found: list[list[float]] = []
    allowed = margins >= -TOUCH
    for i, angle in enumerate(angles):
        if not allowed[i]:
            continue
        if i and found and found[-1][1] == angles[i - 1] and between[i - 1] >= 0:
            found[-1][1] = float(angle)
        else:
            found.append([float(angle), float(angle)])
    return tuple((low, high) for low, high in found)


def search_reach(points: np.ndarray, reach: tuple[float, float]) -> Search:
    """The exact search without uprights.

    points: cutter-centre positions (k, 2), k >= 1, mm. reach: (A, B) along X and Y, mm.
    """
    corners = hull(points)
    angles = critical_angles(corners, reach)
    margins = reach_margin(corners, reach, angles)
    between = reach_margin(corners, reach, (angles[:-1] + angles[1:]) / 2)
    i = _pick(angles, margins)
    x, y = turned(corners, angles[i : i + 1])
    return Search(
        Lie(
            float((reach[0] - x.max() - x.min()) / 2),
            float((reach[1] - y.max() - y.min()) / 2),
            float(angles[i]),
            float(margins[i]),
        ),
        _intervals(angles, margins, between),
    )


def _profile(corners_x: np.ndarray, corners_y: np.ndarray, at: np.ndarray, side: int) -> np.ndarray:
    """Greatest (side 1) or least (side -1) x of a convex polygon at heights `at`; all arrays lead with n."""
    n_edges = corners_x.shape[1]
    best = np.full(at.shape, -np.inf)
    for i in range(n_edges):
        j = (i + 1) % n_edges
        x0, y0 = corners_x[:, i, None, None], corners_y[:, i, None, None]
        x1, y1 = corners_x[:, j, None, None], corners_y[:, j, None, None]
        low, high = np.minimum(y0, y1), np.maximum(y0, y1)
        rise = y1 - y0
        share = np.where(np.abs(rise) > 1e-12, (at - y0) / np.where(np.abs(rise) > 1e-12, rise, 1.0), 0.0)
        x = np.where(np.abs(rise) > 1e-12, x0 + (x1 - x0) * share, np.maximum(side * x0, side * x1) * side)
        inside = (at >= low - 1e-9) & (at <= high + 1e-9)
        best = np.maximum(best, np.where(inside, side * x, -np.inf))
    return side * best


def _in_band(
    bx: np.ndarray, by: np.ndarray, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Least and greatest x of a turned body within y in [low, high] of its own frame; +inf, -inf where it is empty."""
    bottom, top = by.min(axis=1)[:, None, None], by.max(axis=1)[:, None, None]
    empty = (high < bottom) | (low > top)
    results = []
    for side in (-1, 1):
        peak = by[np.arange(len(by)), (side * bx).argmax(axis=1)][:, None, None]
        at = np.clip(np.clip(peak, low, high), bottom, top)
        results.append(np.where(empty, -side * FAR, _profile(bx, by, at, side)))
    return results[0], results[1]


def _linear_parts(
    points_x: np.ndarray,
    points_y: np.ndarray,
    bx: np.ndarray,
    by: np.ndarray,
    reach: tuple[float, float],
    uprights: Uprights,
    oy: np.ndarray,
) -> np.ndarray:
    """The bounds whose least is the margin at offsets oy (n, segments, 2); shape (n, segments, 2, 6)."""
    xmin, xmax = points_x.min(axis=1)[:, None, None], points_x.max(axis=1)[:, None, None]
    ymin, ymax = points_y.min(axis=1)[:, None, None], points_y.max(axis=1)[:, None, None]
    left, right = _in_band(bx, by, uprights.low - oy, uprights.high - oy)
    whole = np.zeros_like(oy)
    return np.stack(
        [
            oy + ymin,
            reach[1] - oy - ymax,
            whole + (reach[0] + xmin - xmax) / 2,
            (xmin + uprights.right - right) / 2,
            (left - uprights.left + reach[0] - xmax) / 2,
            (left - right + uprights.right - uprights.left) / 2,
        ],
        axis=-1,
    )


_PAIRS = [(i, j) for i in range(6) for j in range(i + 1, 6)]


def margin_between_uprights(
    points: np.ndarray, body: np.ndarray, reach: tuple[float, float], uprights: Uprights, angles: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Greatest margin at each angle (n,), reach and uprights counted alike, and the Y offset that gives it (n,).

    points, body: convex corners (k, 2) and (m, 2) in the member's axes, mm. The bounds are linear in the Y offset
    between the offsets at which a corner of the body meets an edge of the band; on each such stretch the greatest
    least of them lies at its ends or where two of them cross.
    """
    angles = np.atleast_1d(angles)
    px, py = turned(points, angles)
    bx, by = turned(body, angles)
    centre = (reach[1] - py.max(axis=1) - py.min(axis=1))[:, None] / 2
    events = np.sort(np.concatenate([uprights.low - by, uprights.high - by, centre], axis=1), axis=1)
    span = 10 * (abs(events).max() + reach[1] + np.ptp(by))
    events = np.concatenate([centre - span, events, centre + span], axis=1)
    low, high = events[:, :-1], events[:, 1:]
    width = high - low
    inner = np.stack([low + 0.25 * width, low + 0.75 * width], axis=-1)
    parts = _linear_parts(px, py, bx, by, reach, uprights, inner)
    slope = (parts[:, :, 1] - parts[:, :, 0]) / np.where(width > 0, 0.5 * width, 1.0)[..., None]
    start = parts[:, :, 0] - slope * (0.25 * width)[..., None]
    tries = [np.zeros_like(width), width]
    for i, j in _PAIRS:
        lean = slope[..., i] - slope[..., j]
        cross = (start[..., j] - start[..., i]) / np.where(np.abs(lean) > 1e-12, lean, np.inf)
        tries.append(np.clip(cross, 0.0, width))
    at = np.stack(tries, axis=-1)
    value = (start[..., None, :] + slope[..., None, :] * at[..., None]).min(axis=-1)
    flat = value.reshape(len(angles), -1)
    # On a plateau of equal margins the offset nearest the middle of the reach is taken.
    offset = (low[..., None] + at).reshape(len(angles), -1)
    best = flat.max(axis=1)
    away = np.where(flat >= best[:, None] - EQUAL, np.abs(offset - centre), np.inf)
    return best, offset[np.arange(len(angles)), away.argmin(axis=1)]


def x_offset(
    points: np.ndarray, body: np.ndarray, reach: float, uprights: Uprights, angle: float, oy: float
) -> float:
    """The X offset that goes with a Y offset at an angle: in the middle of what reach and uprights leave, mm."""
    at = np.array([angle])
    px, _ = turned(points, at)
    bx, by = turned(body, at)
    band = np.array([[[oy]]])
    left, right = _in_band(bx, by, uprights.low - band, uprights.high - band)
    low = max(-float(px.min()), uprights.left - float(left[0, 0, 0]))
    high = min(reach - float(px.max()), uprights.right - float(right[0, 0, 0]))
    return (low + high) / 2


def _refined_peak(score: _Score, low: float, high: float) -> float:
    for _ in range(9):
        grid = np.linspace(low, high, 21)
        i = int(score(grid).argmax())
        low, high = grid[max(i - 1, 0)], grid[min(i + 1, 20)]
    return float((low + high) / 2)


def _refined_edge(score: _Score, outside: float, inside: float) -> float:
    for _ in range(6):
        grid = np.linspace(outside, inside, 41)
        i = int(np.argmax(score(grid) >= 0))
        outside, inside = grid[max(i - 1, 0)], grid[i]
    return float(inside)


class _Score:
    """Margin as a function of the angle, with what it depends on held fixed."""

    def __init__(
        self, points: np.ndarray, body: np.ndarray, reach: tuple[float, float], uprights: Uprights
    ) -> None:
        self.points, self.body, self.reach, self.uprights = points, body, reach, uprights

    def __call__(self, angles: np.ndarray) -> np.ndarray:
        return margin_between_uprights(self.points, self.body, self.reach, self.uprights, angles)[0]


def search(points: np.ndarray, body: np.ndarray, reach: tuple[float, float], uprights: Uprights) -> Search:
    """The search with uprights.

    points: cutter-centre positions (k, 2), body: corners of the member's convex outline (m, 2), both in the
    member's axes; reach (A, B); all mm. Exact (see the module's head) where the uprights bind nowhere.
    """
    corners = hull(points)
    outline = hull(body)
    plain = search_reach(corners, reach)
    score = _Score(corners, outline, reach, uprights)
    grid = np.arange(0.0, HALF_TURN + SCAN / 2, SCAN)
    grid = np.unique(
        np.concatenate([np.minimum(grid, HALF_TURN), critical_angles(corners, reach), breakpoints(outline)])
    )
    free = reach_margin(corners, reach, grid)
    # Uprights only take away: where the reach alone leaves nothing there is nothing to score, unless nothing is left at all.
    margins = _scored(score, grid, free, free >= -TOUCH)
    if margins.max() < 0:
        margins = _scored(score, grid, free, np.ones(len(grid), dtype=bool))
    if np.all((margins >= free - TOUCH) | (free < min(0.0, plain.best.margin) - TOUCH)):
        best = plain.best
        y = float(margin_between_uprights(corners, outline, reach, uprights, np.array([best.angle]))[1][0])
        x = x_offset(corners, outline, reach[0], uprights, best.angle, y)
        return Search(Lie(x, y, best.angle, best.margin), plain.angles)
    return _scanned(score, grid, margins)


def _scored(score: _Score, grid: np.ndarray, free: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Margins at the angles picked out, in blocks that keep the arrays small; elsewhere those of the reach alone."""
    margins = free.copy()
    for part in np.array_split(np.flatnonzero(where), max(1, int(where.sum()) // 400)):
        if len(part):
            margins[part] = score(grid[part])
    return margins


def _scanned(score: _Score, grid: np.ndarray, margins: np.ndarray) -> Search:
    peaks = [
        i
        for i in range(len(grid))
        if margins[i] >= margins.max() - 5.0
        and margins[i] >= margins[max(i - 1, 0)]
        and margins[i] >= margins[min(i + 1, len(grid) - 1)]
    ]
    fine = np.array(
        [_refined_peak(score, grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)]) for i in peaks]
    )
    tries = np.concatenate([grid[peaks], fine])
    values = score(tries)
    angle = float(tries[_pick(tries, values)])
    best, offset = margin_between_uprights(
        score.points, score.body, score.reach, score.uprights, np.array([angle])
    )
    y = float(offset[0])
    x = x_offset(score.points, score.body, score.reach[0], score.uprights, angle, y)
    found: list[tuple[float, float]] = []
    allowed = margins >= -TOUCH
    i = 0
    while i < len(grid):
        if not allowed[i]:
            i += 1
            continue
        j = i
        while j + 1 < len(grid) and allowed[j + 1]:
            j += 1
        low = _refined_edge(score, grid[i - 1], grid[i]) if i > 0 else float(grid[0])
        high = _refined_edge(score, grid[j + 1], grid[j]) if j + 1 < len(grid) else float(grid[-1])
        found.append((low, high))
        i = j + 1
    if not found and best[0] >= -TOUCH:
        found.append((angle, angle))
    return Search(Lie(x, y, angle, float(best[0])), tuple(found))


def sides_that_hold(lie: Lie, points: np.ndarray, reach: tuple[float, float]) -> dict[str, tuple[float, int]]:
    """Distance to each end of the reach and the point that sets it: keys left, right, front, back; mm."""
    x, y = turned(points, np.array([lie.angle]))
    x, y = x[0] + lie.x, y[0] + lie.y
    return {
        "left": (float(x.min()), int(x.argmin())),
        "right": (float(reach[0] - x.max()), int(x.argmax())),
        "front": (float(y.min()), int(y.argmin())),
        "back": (float(reach[1] - y.max()), int(y.argmax())),
    }


def upright_gaps(lie: Lie, body: np.ndarray, uprights: Uprights) -> tuple[float, float]:
    """Gap between the body and the left and right upright, mm; a large number where the body misses their band."""
    bx, by = turned(hull(body), np.array([lie.angle]))
    band = np.array([[[lie.y]]])
    left, right = _in_band(bx, by, uprights.low - band, uprights.high - band)
    return float(left[0, 0, 0]) + lie.x - uprights.left, uprights.right - float(right[0, 0, 0]) - lie.x


def longest_strip(width: float, reach: Sequence[float]) -> tuple[float, float]:
    """Greatest length of a strip of cutter-centre positions of that width in a reach, and its angle (radians).

    Straight along the longer side, or turned: A sin t - B cos t + w cos 2t = 0, L = (A - w sin t) / cos t, A >= B.
    Angle is measured from the longer side. Length 0 where the strip is wider than the reach.
    """
    a, b = max(reach), min(reach)
    if width > b:
        return 0.0, 0.0
    best = (a, 0.0)
    grid = np.linspace(0.0, math.pi / 2, 721)[:-1]
    value = a * np.sin(grid) - b * np.cos(grid) + width * np.cos(2 * grid)
    for i in np.flatnonzero(np.diff(np.sign(value)) != 0):
        low, high = float(grid[i]), float(grid[i + 1])
        for _ in range(60):
            middle = (low + high) / 2
            sign = a * math.sin(middle) - b * math.cos(middle) + width * math.cos(2 * middle)
            low, high = (middle, high) if (sign < 0) == (value[i] < 0) else (low, middle)
        length = (a - width * math.sin(low)) / math.cos(low)
        if length > best[0] and length * math.sin(low) + width * math.cos(low) <= b + 1e-6:
            best = (length, low)
    return best
