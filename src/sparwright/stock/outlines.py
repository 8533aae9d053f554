"""Outlines with rounded corners: tangent arcs as chords within a stated error. Plain plane geometry, mm."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon

LONGEST_CHORD = 2.0  # mm; keeps a chord of a large arc from being taken for a flat


def arc_steps(radius: float, sweep: float, error: float) -> int:
    """Number of equal chords for an arc of `radius` mm over `sweep` radians, sagitta at most `error` mm.

    Sagitta of a chord over the angle a is r (1 - cos(a / 2)).
    """
    if radius <= error:
        return 1
    widest = min(2 * math.acos(1 - error / radius), LONGEST_CHORD / radius, math.pi / 4)
    return max(1, math.ceil(abs(sweep) / widest - 1e-9))


def arc(centre: tuple[float, float], radius: float, start: float, sweep: float, error: float) -> np.ndarray:
    """Points on an arc from angle `start` over `sweep` radians (negative is clockwise), ends included, (k, 2)."""
    angles = start + np.linspace(0.0, sweep, arc_steps(radius, sweep, error) + 1)
    return np.column_stack([centre[0] + radius * np.cos(angles), centre[1] + radius * np.sin(angles)])


def circle(radius: float, error: float) -> np.ndarray:
    """A closed circle about the origin as chords, counter-clockwise, first point not repeated, (k, 2).

    Points fall on the four axis directions, so that its extents are exact.
    """
    quarter = arc_steps(radius, math.pi / 2, error)
    angles = np.arange(4 * quarter) * (math.pi / 2 / quarter)
    return radius * np.column_stack([np.cos(angles), np.sin(angles)])


class FilletError(ValueError):
    """Corner radii that need more of a side than there is; corner: index of the corner with the largest of them."""

    def __init__(self, what: str, corner: int) -> None:
        super().__init__(what)
        self.corner = corner


def fillet(points: np.ndarray, radii: float | Sequence[float], error: float) -> np.ndarray:
    """A closed polygon with its corners replaced by tangent arcs.

    points: (k, 2), either way round, first point not repeated. radii: one for all corners or one each; 0
    keeps a corner sharp. Returns (m, 2), first point not repeated.
    Raises FilletError where the arcs need more of an edge than there is, naming the radius, what it needs and
    the greatest that fits.
    """
    pts = np.asarray(points, dtype=float)
    r = np.broadcast_to(np.asarray(radii, dtype=float), (len(pts),))
    edges = np.roll(pts, -1, axis=0) - pts
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    unit = edges / lengths[:, None]
    before = np.roll(unit, 1, axis=0)
    cross = before[:, 0] * unit[:, 1] - before[:, 1] * unit[:, 0]
    turn = np.arctan2(cross, np.einsum("ij,ij->i", before, unit))
    tangent = r * np.tan(np.abs(turn) / 2)
    needed = tangent + np.roll(tangent, -1)
    short = needed > lengths + 1e-9
    if short.any():
        i = int(np.argmax(needed / lengths))
        corner = max(i, (i + 1) % len(r), key=lambda k: r[k])
        raise FilletError(
            f"a corner radius of {r[corner]:g} mm needs {needed[i]:.3f} mm of a side {lengths[i]:.3f} mm long; "
            f"at most {r[corner] * lengths[i] / needed[i]:.3f} mm fits",
            corner,
        )
    out: list[np.ndarray] = []
    for p, u, t, phi, radius in zip(pts, before, tangent, turn, r, strict=True):
        if radius <= 0 or abs(phi) < 1e-12:
            out.append(p[None, :])
            continue
        side = math.copysign(1.0, phi)
        start = p - u * t
        centre = start + side * radius * np.array([-u[1], u[0]])
        first = math.atan2(start[1] - centre[1], start[0] - centre[0])
        out.append(arc((centre[0], centre[1]), radius, first, phi, error))
    ring = np.vstack(out)
    step = np.roll(ring, -1, axis=0) - ring
    return ring[np.hypot(step[:, 0], step[:, 1]) > 1e-9]


def turned(points: np.ndarray, angle: float) -> np.ndarray:
    """Points (k, 2) turned about the origin by `angle` radians, counter-clockwise."""
    c, s = math.cos(angle), math.sin(angle)
    return np.asarray(points, dtype=float) @ np.array([[c, s], [-s, c]])


def with_bulges(ring: np.ndarray, sagitta: float = 0.006) -> list[tuple[float, float, float]]:
    """A closed ring of chords (k, 2) as fewer vertices (x, y, bulge), its arcs found again.

    The bulge belongs to the run from a vertex to the next: 0 a straight line, else tan of a quarter of the
    arc's sweep, positive counter-clockwise (DXF reference). Taken for an arc: equal chords that turn by equal
    angles and whose sagitta is at most `sagitta` mm; their points lie on the arc exactly.
    """
    pts = np.asarray(ring, dtype=float)
    count = len(pts)
    edges = np.roll(pts, -1, axis=0) - pts
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    heading = np.arctan2(edges[:, 1], edges[:, 0])
    turn = (heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi
    even = np.abs(lengths - np.roll(lengths, 1)) < 1e-6 * lengths + 1e-9
    smooth = even & (np.abs(turn) > 1e-9) & (lengths / 2 * np.tan(np.abs(turn) / 4) <= sagitta)
    if smooth.all():
        half = count // 2
        return [
            (float(pts[a, 0]), float(pts[a, 1]), math.tan(turn[0] * n / 4))
            for a, n in ((0, half), (half, count - half))
        ]
    first = int(np.argmin(smooth))
    vertices, i = [], 0
    while i < count:
        a = (first + i) % count
        n = 1
        while i + n < count:
            joint = (a + n) % count
            if not smooth[joint] or abs(turn[joint] - turn[(a + 1) % count]) > 1e-6:
                break
            n += 1
        bulge = math.tan(turn[(a + 1) % count] * n / 4) if n > 1 else 0.0
        vertices.append((float(pts[a, 0]), float(pts[a, 1]), bulge))
        i += n
    return vertices


def arc_middle(start: tuple[float, float], end: tuple[float, float], bulge: float) -> tuple[float, float]:
    """The point halfway along the arc from `start` to `end` with that bulge: the chord's middle, moved by its sagitta."""
    return (
        (start[0] + end[0]) / 2 + bulge / 2 * (end[1] - start[1]),
        (start[1] + end[1]) / 2 - bulge / 2 * (end[0] - start[0]),
    )


def copies(outline: Polygon, places: Sequence[tuple[float, float]]) -> list[Polygon]:
    """An outline without holes moved by each of the places (x, s), all in one step."""
    if not places:
        return []
    points = shapely.get_coordinates(outline.exterior) + np.asarray(places, dtype=float)[:, None, :]
    return list(shapely.polygons(points))
