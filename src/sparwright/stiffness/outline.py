"""Outlines as lines and true arcs: chords that lie on a circle are read back as one arc.

A mesher puts at least one element on every edge it is given, so a rounded corner drawn as twenty chords would
blow the mesh up. Reading the arcs back keeps the mesh small and the shape true.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry.polygon import orient

# How far a vertex may lie off the circle read back, mm.
ON_CIRCLE = 0.002
# Sharpest turn between two chords that may still be one arc, radians; a real corner turns more.
GREATEST_TURN = math.radians(25.0)
# Longest single arc, radians: a whole circle comes back as two.
LONGEST_ARC = math.radians(185.0)
# Turn from which a corner counts as sharp, radians.
SHARP_TURN = math.radians(20.0)
# How far the remaining chords may be moved to spare vertices, mm.
SIMPLIFY = 0.005

Point = tuple[float, float]


@dataclass(frozen=True)
class Edge:
    """One edge of an outline: a line, or an arc of a circle through `middle`. Points in mm."""

    start: Point
    end: Point
    middle: Point | None = None


def ring_edges(ring: np.ndarray, sagitta: float = 0.05) -> tuple[Edge, ...]:
    """The ring as lines and arcs, in its own direction.

    ring: shape (k, 2), closed or not, mm. sagitta: greatest height of an arc over the chord that stands for
    it, mm; chords further from their circle stay straight.
    Vertices of arcs move by at most ON_CIRCLE, straight runs by at most SIMPLIFY.
    """
    points = _tidy(np.asarray(ring, dtype=float))
    if len(points) < 3:
        raise ValueError("an outline needs at least three corners")
    points = np.roll(points, -_corner(points), axis=0)
    closed = np.vstack([points, points[:1]])
    runs = _arc_runs(closed, sagitta)
    edges: list[Edge] = []
    at = 0
    for first, last in runs:
        edges += _lines(closed[at : first + 1])
        edges.append(Edge(_point(closed[first]), _point(closed[last]), _middle(closed[first : last + 1])))
        at = last
    edges += _lines(closed[at:])
    return tuple(edges)


def polygon_edges(shape: Polygon, sagitta: float = 0.05) -> tuple[tuple[Edge, ...], ...]:
    """Edges of the outer ring, then of every hole, metal on the left all along; see ring_edges."""
    shape = orient(shape)
    return tuple(ring_edges(np.asarray(r.coords), sagitta) for r in (shape.exterior, *shape.interiors))


def enclosed_area(edges: tuple[Edge, ...]) -> float:
    """Area inside a closed chain of edges, mm², exact for its arcs; positive either way round."""
    total = 0.0
    for e in edges:
        total += (e.start[0] * e.end[1] - e.end[0] * e.start[1]) / 2
        angle = _arc_angle(e)
        if angle:
            radius = math.dist(e.start, e.end) / (2 * math.sin(abs(angle) / 2))
            total += radius**2 * (angle - math.sin(angle)) / 2
    return abs(total)


def inner_corners(rings: tuple[tuple[Edge, ...], ...]) -> tuple[Point, ...]:
    """Sharp corners that point into the metal, where stress peaks; rings as polygon_edges gives them."""
    corners = []
    for edges in rings:
        for before, after in zip(edges, edges[1:] + edges[:1], strict=True):
            arriving = _direction(before) + _arc_angle(before) / 2
            leaving = _direction(after) - _arc_angle(after) / 2
            if math.remainder(leaving - arriving, 2 * math.pi) < -SHARP_TURN:
                corners.append(after.start)
    return tuple(corners)


def _direction(edge: Edge) -> float:
    """Direction of the chord from start to end, radians."""
    return math.atan2(edge.end[1] - edge.start[1], edge.end[0] - edge.start[0])


def _arc_angle(edge: Edge) -> float:
    """Angle an arc turns through, positive to the left, radians; 0 for a line."""
    if edge.middle is None:
        return 0.0
    (ax, ay), (bx, by), (mx, my) = edge.start, edge.end, edge.middle
    chord = math.hypot(bx - ax, by - ay)
    side = ((bx - ax) * (my - ay) - (by - ay) * (mx - ax)) / chord
    return -4 * math.atan2(2 * side, chord)


def _tidy(points: np.ndarray) -> np.ndarray:
    """The ring opened, without doubled points and points on a straight line."""
    if np.allclose(points[0], points[-1]):
        points = points[:-1]
    points = points[np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 1e-7]
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    across = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    along = np.linalg.norm(before, axis=1) + np.linalg.norm(after, axis=1)
    return points[across > 1e-7 * along]


def _turns(points: np.ndarray) -> np.ndarray:
    """Signed turn at every vertex of an open ring, radians, shape (k,)."""
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return np.arctan2(cross, np.sum(before * after, axis=1))


def _corner(points: np.ndarray) -> int:
    """Index of a vertex that no arc runs through: the sharpest, else where edge lengths differ most."""
    turns = np.abs(_turns(points))
    if turns.max() > GREATEST_TURN:
        return int(np.argmax(turns))
    lengths = np.log(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1))
    return int(np.argmax(np.abs(np.roll(lengths, -1) - lengths)))


def _arc_runs(closed: np.ndarray, sagitta: float) -> list[tuple[int, int]]:
    """Runs (first, last) of vertices that lie on one arc, at least three chords each."""
    turns = np.append(_turns(closed[:-1]), 0.0)
    runs = []
    first, end = 0, len(closed) - 1
    while first + 3 <= end:
        last = first + 3
        # Most vertices of a drawn outline are corners: a look at two turns spares the fit of a circle.
        before, after = turns[first + 1], turns[first + 2]
        if before * after <= 0 or max(abs(before), abs(after)) > GREATEST_TURN:
            first += 1
            continue
        if not _one_arc(closed[first : last + 1], turns[first + 1 : last], sagitta):
            first += 1
            continue
        step = 1
        while step:
            longer = last + step <= end and _one_arc(
                closed[first : last + step + 1], turns[first + 1 : last + step], sagitta
            )
            last, step = (last + step, 2 * step) if longer else (last, step // 2)
        runs.append((first, last))
        first = last
    return runs


def _one_arc(points: np.ndarray, turns: np.ndarray, sagitta: float) -> bool:
    """Whether the chords through `points` stand for one arc; turns are those at the inner points."""
    sharp = np.abs(turns)
    if sharp.max() > GREATEST_TURN or (turns * turns[0]).min() <= 0:
        return False
    fit = _circle(points)
    if fit is None:
        return False
    centre, radius = fit
    steps, spokes = points[1:] - points[:-1], points - centre
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    longest = float(lengths.max())
    if longest >= radius or radius - math.sqrt(radius**2 - longest**2 / 4) >= sagitta:
        return False
    if np.abs(np.hypot(spokes[:, 0], spokes[:, 1]) - radius).max() >= ON_CIRCLE:
        return False
    angles = 2 * np.arcsin(lengths / (2 * radius))
    # On a circle the turn between two chords is half of both angles together.
    due = (angles[:-1] + angles[1:]) / 2
    if (np.abs(sharp - due) > 0.3 * due + 1e-3).any():
        return False
    return bool(angles.sum() < LONGEST_ARC)


def _circle(points: np.ndarray) -> tuple[np.ndarray, float] | None:
    """Centre and radius of the circle through the first, a middle and the last point; None if straight."""
    (ax, ay), (bx, by), (cx, cy) = points[[0, len(points) // 2, -1]].tolist()
    bx, by, cx, cy = bx - ax, by - ay, cx - ax, cy - ay
    d = 2 * (bx * cy - by * cx)
    if abs(d) < 1e-9:
        return None
    bb, cc = bx * bx + by * by, cx * cx + cy * cy
    u, v = (cy * bb - by * cc) / d, (bx * cc - cx * bb) / d
    return np.array([ax + u, ay + v]), math.hypot(u, v)


def _middle(points: np.ndarray) -> Point:
    """Middle of the arc that the points lie on."""
    fit = _circle(points)
    assert fit is not None
    centre, radius = fit
    a, c = points[0] - centre, points[-1] - centre
    inner = points[len(points) // 2] - centre
    half = (a + c) / 2
    if np.linalg.norm(half) < 0.1 * radius:
        half = np.array([-(c - a)[1], (c - a)[0]])
    half = half / np.linalg.norm(half) * radius
    return _point(centre + (half if half @ inner > 0 else -half))


def _lines(points: np.ndarray) -> list[Edge]:
    """Straight edges through the points, the run simplified by at most SIMPLIFY."""
    if len(points) < 2:
        return []
    if len(points) > 2 and not np.allclose(points[0], points[-1]):
        points = np.asarray(LineString(points).simplify(SIMPLIFY).coords)
    return [Edge(_point(a), _point(b)) for a, b in pairwise(points)]


def _point(p: np.ndarray) -> Point:
    return (float(p[0]), float(p[1]))
