"""Which pockets meet something they must keep clear of: holes, notches, keep-clear zones, other pockets.

Two features on parallel faces are compared in plan where they share a depth; features on other pairs of
faces by their strips in the section plane, which errs to the safe side. Lengths in mm.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from sparwright.stock.model import Face, Hole, NotchCut, Pocket, Section

LEAST_RIB = 1.0  # mm of metal round a pocket that states no rib: common practice, no source
TOUCH = 1e-6  # mm


@dataclass(frozen=True)
class Obstacle:
    """Something a pocket must keep clear of.

    plan: in (x, s) of its face (a point for a hole). grow: radius added to the plan. clear: metal wanted
    between its edge and a pocket's. depth: how far it goes in from its face, 0 for a zone on the surface.
    floor: metal wanted between its floor and a pocket from the opposite face. what: for the reason.
    """

    what: str
    face: str
    plan: BaseGeometry
    grow: float
    clear: float
    depth: float
    floor: float = 0.0

    @property
    def reach(self) -> float:
        """Distance from the plan to the nearest place a pocket may come."""
        return self.grow + self.clear

    def bounds(self) -> tuple[float, float, float, float]:
        """x and s from and x and s to, the growth counted."""
        x0, s0, x1, s1 = self.plan.bounds
        return x0 - self.grow, s0 - self.grow, x1 + self.grow, s1 + self.grow


def hole_obstacle(hole: Hole) -> Obstacle:
    """A hole with its clear zone."""
    rim = max(hole.diameter, hole.counterbore[0] if hole.counterbore else 0.0) / 2
    point = shapely.Point(hole.at)
    return Obstacle(f"hole {hole.id}", hole.face, point, rim, hole.clear, hole.depth, LEAST_RIB)


def notch_obstacle(notch: NotchCut) -> Obstacle:
    """A notch; a pocket keeps its own rib from it."""
    return Obstacle(f"notch {notch.id}", notch.face, notch.outline, 0.0, 0.0, notch.depth, LEAST_RIB)


def zone_obstacle(name: str, face: str, x: tuple[float, float], s: tuple[float, float]) -> Obstacle:
    """A keep-clear rectangle, which a pocket may touch but not enter."""
    plan = shapely.box(min(x), min(s), max(x), max(s)).buffer(-TOUCH, join_style="mitre")
    return Obstacle(f"keep-clear zone {name}", face, plan, 0.0, -math.inf, 0.0)


def pocket_obstacle(pocket: Pocket, rib: float, floor: float) -> Obstacle:
    """A pocket laid out before, with the rib and the floor it promises."""
    return Obstacle(f"pocket {pocket.id}", pocket.face, pocket.outline, 0.0, rib, pocket.depth, floor)


@dataclass
class Meetings:
    """What a group of pockets meets: reason by index, and the metal left over pockets of the other side.

    floors: (index, obstacle's index, metal between the two floors) where both overlap in plan.
    """

    reasons: dict[int, str] = field(default_factory=dict)
    floors: list[tuple[int, int, float]] = field(default_factory=list)


def meetings(
    section: Section,
    face: Face,
    pockets: Sequence[Pocket],
    obstacles: Sequence[Obstacle],
    rib: float,
    floor: float,
) -> Meetings:
    """What each of `pockets`, all on `face`, meets among `obstacles`; the first reason found stands.

    rib, floor: metal these pockets promise beside and under them.
    """
    found = Meetings()
    outlines = [p.outline for p in pockets]
    same = [o for o in obstacles if o.face == face.name]
    _same_face(outlines, same, rib, found)
    others = [(k, o) for k, o in enumerate(obstacles) if o.face != face.name and o.depth > 0]
    if others:
        _other_faces(section, face, pockets, others, (rib, floor), found)
    return found


def _same_face(
    outlines: Sequence[Polygon], obstacles: Sequence[Obstacle], rib: float, found: Meetings
) -> None:
    if not obstacles or not outlines:
        return
    tree = shapely.STRtree(outlines)
    reach = np.array([o.grow + _beside(o, rib) for o in obstacles])
    plans = np.array([o.plan for o in obstacles], dtype=object)
    pairs = tree.query(plans, predicate="dwithin", distance=np.maximum(reach, 0.0))
    for k, i in sorted(zip(*pairs.tolist(), strict=True)):
        gap = float(shapely.distance(outlines[i], plans[k]))
        if gap < reach[k] - TOUCH or gap <= 0:
            found.reasons.setdefault(
                i, _reason(obstacles[k], gap - obstacles[k].grow, _beside(obstacles[k], rib))
            )


def _beside(obstacle: Obstacle, rib: float) -> float:
    """Metal wanted between a pocket promising `rib` and the obstacle's edge."""
    if obstacle.clear == -math.inf:
        return 0.0
    return obstacle.clear if obstacle.what.startswith("hole ") else max(obstacle.clear, rib)


def _reason(obstacle: Obstacle, gap: float, wanted: float) -> str:
    if obstacle.clear == -math.inf:
        return f"enters {obstacle.what}"
    if gap <= TOUCH:
        return f"cuts into {obstacle.what}"
    return f"{gap:.2f} mm from {obstacle.what}, {wanted:g} mm wanted"


# --- features on other faces ----------------------------------------------------------------------------


def _strip(face: Face, left: float, right: float, depth: float) -> Polygon:
    """What a feature takes of the section plane, (y, z)."""
    sn = np.array([[left, 0.0], [right, 0.0], [right, -depth], [left, -depth]])
    return Polygon(np.asarray(face.centre) + sn[:, :1] * face.across + sn[:, 1:] * face.normal)


def _groups(
    boxes: Iterable[tuple[str, float, float, float]],
) -> dict[tuple[str, float, float, float], list[int]]:
    groups: dict[tuple[str, float, float, float], list[int]] = {}
    for i, (name, left, right, depth) in enumerate(boxes):
        groups.setdefault((name, round(left, 4), round(right, 4), round(depth, 4)), []).append(i)
    return groups


def _other_faces(
    section: Section,
    face: Face,
    pockets: Sequence[Pocket],
    others: Sequence[tuple[int, Obstacle]],
    promised: tuple[float, float],
    found: Meetings,
) -> None:
    rib, floor = promised
    mine = _groups((face.name, p.outline.bounds[1], p.outline.bounds[3], p.depth) for p in pockets)
    theirs = _groups((o.face, o.bounds()[1], o.bounds()[3], o.depth) for _, o in others)
    for their_key, their_members in theirs.items():
        other_face = section.face(their_key[0])
        their_strip = _strip(other_face, *their_key[1:])
        most = max(max(_beside(others[j][1], rib), others[j][1].floor, floor) for j in their_members)
        for my_key, my_members in mine.items():
            between = float(shapely.distance(_strip(face, *my_key[1:]), their_strip))
            if between >= max(most, _metal_limit(pockets, my_members)):
                continue
            for i in my_members:
                for j in their_members:
                    number, obstacle = others[j]
                    _pair(face, other_face, (i, pockets[i]), (number, obstacle), (rib, floor, between), found)


def _metal_limit(pockets: Sequence[Pocket], members: Sequence[int]) -> float:
    """Skin these pockets report; a feature of the other side that leaves less changes it."""
    return max(pockets[i].skin for i in members)


def _pair(
    face: Face,
    other_face: Face,
    mine: tuple[int, Pocket],
    other: tuple[int, Obstacle],
    limits: tuple[float, float, float],
    found: Meetings,
) -> None:
    i, pocket = mine
    number, obstacle = other
    rib, floor, between = limits
    beside = _beside(obstacle, rib)
    cosine = float(face.normal @ other_face.normal)
    if abs(abs(cosine) - 1) > 1e-9:
        x0, _, x1, _ = pocket.outline.bounds
        ox0, _, ox1, _ = obstacle.bounds()
        gap = math.hypot(between, max(0.0, ox0 - x1, x0 - ox1))
        if gap < beside - TOUCH:
            found.reasons.setdefault(i, _reason(obstacle, gap, beside))
        return
    sign = 1.0 if cosine > 0 else -1.0
    shift = float((np.asarray(other_face.centre) - np.asarray(face.centre)) @ face.across)
    lift = float((np.asarray(other_face.centre) - np.asarray(face.centre)) @ face.normal)
    plan = shapely.transform(obstacle.plan, lambda p: np.column_stack([p[:, 0], sign * p[:, 1] + shift]))
    gap = float(shapely.distance(pocket.outline, plan)) - obstacle.grow
    low, high = sorted((lift, lift - sign * obstacle.depth))
    apart = max(low, -pocket.depth) - min(high, 0.0)
    if apart <= TOUCH:
        if gap < beside - TOUCH or gap <= 0:
            found.reasons.setdefault(i, _reason(obstacle, gap, beside))
    elif gap <= 0:
        wanted = max(floor, obstacle.floor)
        if apart < wanted - TOUCH:
            found.reasons.setdefault(
                i, f"leaves {apart:.2f} mm under it to {obstacle.what}, {wanted:g} mm wanted"
            )
        else:
            found.floors.append((i, number, apart))
