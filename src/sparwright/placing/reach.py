"""The cutter-centre positions every feature needs, as points on its face.

What is assumed of the cuts, so that the fit can be found before any path is planned:

- a pocket needs its outline shrunk by the radius of the smallest flat cutter at hand (a larger cutter stays
  further in); where its edge is broken, the vee's centre may run on the outline itself;
- a hole needs its centre where a drill of its size is listed; bored with a flat cutter it needs a circle of
  (D - d) / 2 round it, d the smallest flat cutter's diameter; with a broken edge, the circle of its rim;
- a notch needs the cutter's centre from outside its end (by the radius of the largest flat cutter that enters
  it, and 1 mm) to its inner wall less the smallest flat cutter's radius.

The programs as written are checked against the reach again by the proof.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Cutter
from sparwright.stock.model import Hole, Member, NotchCut, Pocket

LEAD_IN = 1.0
"""How far outside an open end a cutter starts, beyond its radius, mm (common practice, no source)."""

CIRCLE = 16
"""Points that stand for a circle; the polygon is drawn round it, so that none of the circle is lost."""


@dataclass(frozen=True)
class Needed:
    """Cutter-centre positions, shape (k, 2), in (x, s), and what each belongs to."""

    points: np.ndarray
    names: tuple[str, ...]

    def shifted(self, ds: float) -> Needed:
        """The same positions moved across the member by ds, mm."""
        return Needed(self.points + np.array([0.0, ds]), self.names)


def gathered(parts: Iterable[Needed]) -> Needed:
    """Several sets of positions as one."""
    found = list(parts)
    if not found:
        return Needed(np.empty((0, 2)), ())
    return Needed(np.vstack([p.points for p in found]), tuple(n for p in found for n in p.names))


def flat_diameters(cutters: Sequence[Cutter]) -> tuple[float, ...]:
    """Diameters of the flat cutters at hand, smallest first, mm; empty where there is none."""
    return tuple(sorted(c.diameter for c in cutters if c.kind == "flat"))


def circle(at: tuple[float, float], radius: float) -> np.ndarray:
    """Corners of a regular polygon round a circle, shape (CIRCLE, 2); one point where the radius is zero, mm."""
    if radius <= 0:
        return np.array([at], dtype=float)
    a = np.arange(CIRCLE) * (2 * math.pi / CIRCLE)
    r = radius / math.cos(math.pi / CIRCLE)
    return np.asarray(at, dtype=float) + r * np.column_stack([np.cos(a), np.sin(a)])


def rectangle(x: tuple[float, float], s: tuple[float, float]) -> np.ndarray:
    """The four corners of a rectangle, shape (4, 2)."""
    return np.array([(x[0], s[0]), (x[1], s[0]), (x[1], s[1]), (x[0], s[1])], dtype=float)


def bored(at: tuple[float, float], diameter: float, flats: Sequence[float]) -> np.ndarray:
    """Centre positions for boring a hole with the largest of the flat cutters that enters it, shape (k, 2).

    diameter: of the hole, mm; flats: diameters of the flat cutters, smallest first, mm. Where none enters it,
    the hole's centre.
    """
    entering = [d for d in flats if d <= diameter]
    return circle(at, (diameter - entering[-1]) / 2 if entering else 0.0)


def _pocket_points(pocket: Pocket, radius: float) -> np.ndarray:
    outline = pocket.outline.convex_hull
    if pocket.edge_break <= 0:
        shrunk = outline.buffer(-radius, join_style="mitre")
        outline = shrunk if isinstance(shrunk, Polygon) and not shrunk.is_empty else outline.centroid
    if isinstance(outline, Polygon):
        return np.asarray(outline.exterior.coords)[:-1, :2]
    return np.array([outline.coords[0][:2]])


def _hole_points(hole: Hole, flats: Sequence[float], drills: Sequence[float]) -> np.ndarray:
    widest = max(hole.diameter, hole.counterbore[0] if hole.counterbore else 0.0)
    if hole.edge_break > 0:
        return circle(hole.at, widest / 2)
    if widest == hole.diameter and any(abs(d - widest) < 0.01 for d in drills):
        return circle(hole.at, 0.0)
    smallest = flats[0] if flats else widest
    return circle(hole.at, max(0.0, (widest - smallest) / 2))


def _notch_points(notch: NotchCut, length: float, flats: Sequence[float]) -> np.ndarray:
    x0, s0, x1, s1 = notch.outline.bounds
    width = s1 - s0
    small = min(flats[0], width) / 2 if flats else 0.0
    entering = [d for d in flats if d <= width]
    outside = (entering[-1] if entering else 2 * small) / 2 + LEAD_IN
    rim = 0.0 if notch.edge_break > 0 else small
    x = (-outside, x1 - rim) if notch.end == "datum" else (x0 + rim, length + outside)
    return rectangle(x, (s0 + rim, s1 - rim))


def feature_positions(member: Member, face: str, cutters: Sequence[Cutter]) -> Needed:
    """Positions the cutters' centres must reach to make every feature of one face, in its (x, s)."""
    flats = flat_diameters(cutters)
    drills = [c.diameter for c in cutters if c.kind == "drill"]
    radius = flats[0] / 2 if flats else 0.0
    shapes: dict[str, np.ndarray] = {}
    parts = []
    for pocket in member.pockets:
        if pocket.face == face:
            if pocket.shape_key not in shapes:
                shapes[pocket.shape_key] = _pocket_points(pocket, radius) - pocket.origin
            points = shapes[pocket.shape_key] + pocket.origin
            parts.append(Needed(points, (pocket.id,) * len(points)))
    for hole in member.holes:
        if hole.face == face:
            points = _hole_points(hole, flats, drills)
            parts.append(Needed(points, (hole.id,) * len(points)))
    for notch in member.notches:
        if notch.face == face:
            points = _notch_points(notch, member.length, flats)
            parts.append(Needed(points, (notch.id,) * len(points)))
    return gathered(parts)
