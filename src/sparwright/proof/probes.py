"""Looks at the walls of wanted outlines: the signed distance to everything cut, at points and between them.

At a point of a wanted wall the distance to the nearest cutter surface is zero for a perfect cut, negative for a gouge,
positive where metal is left. A gouge shows at every height above the cutter's tip, so the height just under the rim
sees them all; metal left shows at the foot. Along these two lines the looks are as close as it takes to
know what lies between them (rims.py).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely

from sparwright.proof.case import Case
from sparwright.proof.rims import Lines, bounded
from sparwright.proof.scene import Target
from sparwright.proof.simulate import Cutaway, gaps_at
from sparwright.proof.surface import depth_range, vee_slope
from sparwright.proof.tabs import Held

SPACING = 0.25  # of points along an outline, mm
FOOT = 0.02  # height of the lowest look over the floor, mm
RIM = 0.03  # depth of the highest look under the rim or the edge break, mm


@dataclass(frozen=True)
class Probes:
    """Looks at one target's wall. at: (m, 3). gap: (m,) signed distance. who: (m,) sweep."""

    at: np.ndarray
    gap: np.ndarray
    who: np.ndarray


def together(probes: list[Probes]) -> Probes:
    """All looks of several lots."""
    return Probes(*(np.concatenate([getattr(p, name) for p in probes]) for name in ("at", "gap", "who")))


def outline_points(target: Target, spacing: float = SPACING) -> np.ndarray:
    """Points (m, 2) on a target's wanted outline: exact on circles, else every vertex (they lie on the outline's arcs)
    and places at most `spacing` apart on its straight edges.
    """
    if target.circle is not None:
        x, s, diameter = target.circle
        count = max(24, math.ceil(math.pi * diameter / spacing))
        angle = 2 * math.pi * np.arange(count) / count
        return np.column_stack([x + diameter / 2 * np.cos(angle), s + diameter / 2 * np.sin(angle)])
    found = []
    for ring in (target.outline.exterior, *target.outline.interiors):
        corner = np.asarray(ring.coords)[:, :2]
        along = np.diff(corner, axis=0)
        length = np.hypot(along[:, 0], along[:, 1])
        steps = np.where(length > 2 * spacing, np.ceil(length / spacing), 1).astype(int)
        edge = np.repeat(np.arange(len(steps)), steps)
        part = (np.arange(len(edge)) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[edge]
        found.append(corner[edge] + along[edge] * part[:, None])
    return np.concatenate(found)


def before_retracts(case: Case, who: np.ndarray) -> np.ndarray:
    """The sweeps, with those that go straight up put back by one: they leave by the hole another sweep made."""
    sweeps = case.sweeps
    known = np.flatnonzero(who > 0)
    k = who[known]
    up = (sweeps.start[k, :2] == sweeps.end[k, :2]).all(axis=1) & (sweeps.end[k, 2] > sweeps.start[k, 2])
    up &= (sweeps.end[k - 1] == sweeps.start[k]).all(axis=1) & (sweeps.tool[k - 1] == sweeps.tool[k])
    back = who.copy()
    back[known[up]] -= 1
    return back


def in_stock(case: Case, points: np.ndarray) -> np.ndarray:
    """Which points (m, 2) lie on the stock's face, at least a cell away from its ends."""
    grid, (rows, cols) = case.scene.grid, case.scene.before.shape
    inside = np.ones(len(points), dtype=bool)
    for dx in (-1, 0, 1):
        i = np.floor((points[:, 0] - grid.x0) / grid.cell).astype(int) + dx
        j = np.floor((points[:, 1] - grid.s0) / grid.cell).astype(int)
        known = (i >= 0) & (i < cols) & (j >= 0) & (j < rows)
        inside &= known
        inside[known] &= case.scene.before[j[known], i[known]] > -0.01
    return inside


def neighbours(case: Case) -> dict[int, list[Target]]:
    """Of each target (by its index) the others that share ground with it, whose cuts rightly take its wall away."""
    targets = case.scene.targets
    if not targets:
        return {}
    tree = shapely.STRtree([t.outline.buffer(t.edge_break + RIM) for t in targets])
    found: dict[int, list[Target]] = {i: [] for i in range(len(targets))}
    for i, j in tree.query([t.outline for t in targets], predicate="intersects").T:
        if i != j:
            found[int(i)].append(targets[j])
    return found


def kept_walls(points: np.ndarray, n: float, others: list[Target]) -> np.ndarray:
    """Which points at height n are wall, not taken away by another target."""
    keep = np.ones(len(points), dtype=bool)
    for other in others:
        if n > -other.depth - RIM:
            area = other.outline.buffer(other.edge_break + RIM)
            keep &= ~shapely.contains_xy(area, points[:, 0], points[:, 1])
    return keep


def _heights(case: Case, cut: Cutaway, target: Target) -> list[float]:
    """Heights at which a wall is looked at, from its foot to its rim."""
    rim = -(target.edge_break * vee_slope(case) + RIM)
    foot = -depth_range(case, cut, target)[0] + FOOT
    return sorted({rim, (rim + foot) / 2, foot}) if rim > foot else [foot]


def probe_wall(case: Case, cut: Cutaway, target: Target, others: list[Target]) -> Probes:
    """Looks at a target's wall, under its edge break, at the rim, half way and at the foot."""
    points = outline_points(target)
    points = points[in_stock(case, points)]
    looks = []
    for n in _heights(case, cut, target):
        here = points[kept_walls(points, n, others)]
        at = np.column_stack([here, np.full(len(here), n)])
        gap, who = gaps_at(case, cut, at)
        looks.append(Probes(at, gap, who))
    found = together(looks)
    return replace(found, who=before_retracts(case, found.who))


def _outline_lines(target: Target, n: float, first: float) -> Lines:
    """A target's outline at height n; circles in chords no longer than `first`, mm."""
    if target.circle is not None:
        points = outline_points(target, first)
        rings = [np.concatenate([points, points[:1]])]
    else:
        rings = [np.asarray(r.coords)[:, :2] for r in (target.outline.exterior, *target.outline.interiors)]
    ends = np.concatenate([np.stack([ring[:-1], ring[1:]], axis=1) for ring in rings])
    ends = np.concatenate([ends, np.full((*ends.shape[:2], 1), n)], axis=2)
    return Lines(ends, np.zeros((len(ends), 3)))


def bound_wall(
    case: Case, cut: Cutaway, target: Target, others: list[Target], held: Held
) -> tuple[Probes, float]:
    """Looks along a wall's rim, where cuts into it show, and along its foot, where metal left on it does, as close as it
    takes to know what lies between them; and the most that anything there is off, mm.
    """
    tolerance = case.job.file.cutting.wall_tolerance
    heights = _heights(case, cut, target)
    # a neck narrower than the flutes is taken as wide as these: what is cut lower down is then cut at the rim too
    wide = replace(case, tools=case.tools._replace(shank=np.maximum(case.tools.shank, case.tools.radius)))

    def look(at: np.ndarray, _: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        gap, who = gaps_at(wide, cut, at)
        seen = in_stock(case, at) & kept_walls(at, float(at[0, 2]), others)
        return gap, who, seen & ((gap <= 0) | ~held.at(case, at))

    found = []
    for sign, n in ((-1, heights[-1]), (1, heights[0])):
        looks = bounded(_outline_lines(target, n, tolerance), look, sign, 0.0, tolerance)
        found.append((looks.at, sign * looks.off, looks.who, looks.bound))
    at, gap, who = (np.concatenate([f[k] for f in found]) for k in range(3))
    return Probes(at, gap, before_retracts(case, who)), max(f[3] for f in found)
