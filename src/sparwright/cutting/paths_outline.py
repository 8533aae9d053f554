"""Outlines with their exact lines and arcs, and their insets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

TINY = 1e-6  # mm; lengths below this are no move at all


@dataclass(frozen=True)
class Segment:
    """A straight (centre None) or an arc counter-clockwise about `centre`, from start to end, (x, s) mm."""

    start: tuple[float, float]
    end: tuple[float, float]
    centre: tuple[float, float] | None = None

    @property
    def radius(self) -> float:
        """Radius of the arc, 0 for a straight."""
        return 0.0 if self.centre is None else math.dist(self.start, self.centre)

    @property
    def sweep(self) -> float:
        """Angle the arc turns through, 0 to 2 pi; 0 for a straight."""
        if self.centre is None:
            return 0.0
        a0 = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])
        a1 = math.atan2(self.end[1] - self.centre[1], self.end[0] - self.centre[0])
        return (a1 - a0) % (2 * math.pi)

    @property
    def length(self) -> float:
        """Length, mm."""
        return math.dist(self.start, self.end) if self.centre is None else self.radius * self.sweep

    def at(self, share: float) -> tuple[float, float]:
        """The point at `share` (0 to 1) of the length."""
        if self.centre is None:
            return (
                self.start[0] + share * (self.end[0] - self.start[0]),
                self.start[1] + share * (self.end[1] - self.start[1]),
            )
        a = math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0]) + share * self.sweep
        return (
            self.centre[0] + self.radius * math.cos(a),
            self.centre[1] + self.radius * math.sin(a),
        )

    def heading(self, share: float) -> tuple[float, float]:
        """Unit direction of travel at `share` of the length."""
        if self.centre is None:
            dx, ds = self.end[0] - self.start[0], self.end[1] - self.start[1]
        else:
            p = self.at(share)
            dx, ds = -(p[1] - self.centre[1]), p[0] - self.centre[0]
        size = math.hypot(dx, ds)
        return dx / size, ds / size

    def split(self, share: float) -> tuple[Segment, Segment]:
        """The two parts before and after `share` of the length."""
        p = self.at(share)
        return Segment(self.start, p, self.centre), Segment(p, self.end, self.centre)


@dataclass(frozen=True)
class Outline:
    """A convex outline: sharp corners rounded by `radius`, or a circle of `radius` about `centre`.

    corners: counter-clockwise (x, s); empty for a circle. Raises ValueError where the corners are not convex.
    """

    corners: tuple[tuple[float, float], ...]
    radius: float
    centre: tuple[float, float] = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not self.corners:
            return
        p = np.asarray(self.corners)
        a, b = np.roll(p, -1, axis=0) - p, np.roll(p, -2, axis=0) - np.roll(p, -1, axis=0)
        if len(p) < 3 or np.any(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] <= 0):
            raise ValueError("the outline is not convex, or its corners do not run counter-clockwise")

    @cached_property
    def sharp(self) -> Polygon:
        """The outline before its corners are rounded; a circle as chords within 1 um."""
        return Polygon(self.corners) if self.corners else self.shape

    @cached_property
    def shape(self) -> Polygon:
        """The rounded outline as a polygon, arcs as chords within 1 um."""
        return self.inset_shape(0.0)

    @cached_property
    def inscribed(self) -> tuple[tuple[float, float], float]:
        """Centre and radius of the largest circle inside, within 1 um."""
        if not self.corners:
            return self.centre, self.radius
        line = shapely.maximum_inscribed_circle(Polygon(self.corners), tolerance=1e-3)
        (x, s), _ = line.coords
        return (x, s), line.length

    @cached_property
    def sharpest(self) -> float:
        """Sine of half the sharpest corner's angle, of the outline or any of its insets; 1 for a circle."""
        if not self.corners:
            return 1.0
        sides, corners = np.asarray(self.corners), Polygon(self.corners)
        least = math.sin(min(_corner_angles(sides)) / 2)
        for share in (0.25, 0.5, 0.75, 0.95):
            inner = corners.buffer(-share * self.inscribed[1], join_style="mitre", mitre_limit=1000.0)
            ring = _distinct(np.asarray(shapely.geometry.polygon.orient(inner).exterior.coords)[:-1])
            least = min(least, math.sin(min(_corner_angles(ring)) / 2))
        return least

    def inset(self, distance: float, least: float = 0.0) -> tuple[Segment, ...]:
        """The closed loop `distance` inside (outside if negative), counter-clockwise; empty where none is left.

        Exact: lines and arcs. Corner radii shrink by the distance, but not below `least` where the sides are long
        enough; with least = 0 corners are sharp once the distance passes their radius.
        """
        if not self.corners:
            return circle(self.centre, self.radius - distance)
        shape = Polygon(self.corners)
        if distance:
            shape = shape.buffer(-distance, join_style="mitre", mitre_limit=1000.0)
        if shape.is_empty or shape.geom_type != "Polygon":
            return ()
        ring = np.asarray(shapely.geometry.polygon.orient(shape).exterior.coords)[:-1]
        ring = _distinct(ring)
        if len(ring) < 3:
            return ()
        return rounded(ring, min(max(self.radius - distance, least, 0.0), _roundest(ring)))

    def inset_shape(self, distance: float, chord: float = 0.001) -> Polygon:
        """The inset loop as a polygon, arcs as chords within `chord` mm."""
        return Polygon(chords(self.inset(distance), chord))


def circle(centre: tuple[float, float], radius: float) -> tuple[Segment, ...]:
    """A full circle as two half turns from its +x point; empty where the radius is not above zero."""
    if radius <= TINY:
        return ()
    a, b = (centre[0] + radius, centre[1]), (centre[0] - radius, centre[1])
    return Segment(a, b, centre), Segment(b, a, centre)


def rounded(corners: np.ndarray, radius: float) -> tuple[Segment, ...]:
    """The closed loop round convex corners (k, 2), each rounded by a true arc of `radius` (0 leaves them sharp)."""
    k = len(corners)
    before, after, centres = [], [], []
    for i in range(k):
        p, prev, nxt = corners[i], corners[i - 1], corners[(i + 1) % k]
        u, v = prev - p, nxt - p
        u, v = u / np.hypot(*u), v / np.hypot(*v)
        half = math.acos(max(-1.0, min(1.0, float(u @ v)))) / 2
        back = radius / math.tan(half)
        bisector = (u + v) / np.hypot(*(u + v))
        before.append(p + back * u)
        after.append(p + back * v)
        centres.append(p + bisector * (radius / math.sin(half)))
    for i in range(k):  # a side used up by its two arcs is no side
        if math.dist(after[i], before[(i + 1) % k]) <= 10 * TINY:
            after[i] = before[(i + 1) % k] = (after[i] + before[(i + 1) % k]) / 2
    loop = []
    for i in range(k):
        j = (i + 1) % k
        if radius > TINY:
            loop.append(Segment(_pair(before[i]), _pair(after[i]), _pair(centres[i])))
        if math.dist(after[i], before[j]) > TINY:
            loop.append(Segment(_pair(after[i]), _pair(before[j])))
    return tuple(loop)


def chords(loop: tuple[Segment, ...], chord: float = 0.001) -> np.ndarray:
    """Points (k, 2) along a chain of segments from its first start on, arcs as chords within `chord` mm."""
    points = [loop[0].start] if loop else []
    for seg in loop:
        if seg.centre is not None:
            step = 2 * math.acos(max(0.0, 1 - chord / max(seg.radius, chord)))
            n = max(2, math.ceil(seg.sweep / step))
            points.extend(seg.at(i / n) for i in range(1, n))
        points.append(seg.end)
    return np.asarray(points)


def outline_of(corners: tuple[tuple[float, float], ...], radius: float, polygon: Polygon) -> Outline:
    """The exact outline behind a pocket's polygon, about its own origin.

    `corners` empty: a circle, its radius from the polygon's farthest point. Raises ValueError where the
    polygon is not the outline that corners and radius describe, within 0.03 mm.
    """
    if corners:
        ring = np.asarray(corners, dtype=float)
        area = float(np.sum(ring[:, 0] * np.roll(ring[:, 1], -1) - ring[:, 1] * np.roll(ring[:, 0], -1)))
        ring = ring if area > 0 else ring[::-1]
        out = Outline(tuple(map(_pair, ring)), radius)
    else:
        c = polygon.centroid
        ring = np.asarray(polygon.exterior.coords)
        out = Outline((), float(np.max(np.hypot(ring[:, 0] - c.x, ring[:, 1] - c.y))), (c.x, c.y))
    gap = shapely.hausdorff_distance(out.shape.exterior, polygon.exterior, densify=0.2)
    if gap > 0.03:
        raise ValueError(f"the outline and its corners do not agree, by {gap:.3f} mm")
    return out


def longest_straight(loop: tuple[Segment, ...]) -> int:
    """Index of the longest straight of a loop; of its longest arc where it has no straight."""
    return max(range(len(loop)), key=lambda i: (loop[i].centre is None, loop[i].length))


def within(point: tuple[float, float], region: Polygon) -> bool:
    """Whether a point lies in a region or on its edge."""
    return bool(region.covers(Point(point)))


def _roundest(ring: np.ndarray) -> float:
    """The greatest radius that rounds every corner of a convex ring without using up a side."""
    reach = 1 / np.tan(_corner_angles(ring) / 2)
    side = np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1)
    return float(np.min(side / (reach + np.roll(reach, -1))))


def _corner_angles(ring: np.ndarray) -> np.ndarray:
    u, v = np.roll(ring, 1, axis=0) - ring, np.roll(ring, -1, axis=0) - ring
    dot = np.sum(u * v, axis=1) / (np.hypot(u[:, 0], u[:, 1]) * np.hypot(v[:, 0], v[:, 1]))
    return np.asarray(np.arccos(np.clip(dot, -1, 1)))


def _distinct(ring: np.ndarray) -> np.ndarray:
    """The ring without points closer than TINY to their neighbour or on a straight between neighbours."""
    step = np.roll(ring, -1, axis=0) - ring
    ring = ring[np.hypot(step[:, 0], step[:, 1]) > TINY]
    a, b = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    size = np.hypot(a[:, 0], a[:, 1]) * np.hypot(b[:, 0], b[:, 1])
    return np.asarray(ring[cross > 1e-9 * size])


def _pair(p: np.ndarray) -> tuple[float, float]:
    return float(p[0]), float(p[1])
