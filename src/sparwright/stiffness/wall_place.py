"""Which pockets lie in which wall: patterns on faces brought to the flat strips between the corner lines."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.stiffness.pattern import Cut, Pattern
from sparwright.stock.model import Face, Section
from sparwright.stock.walls import WallList

# Most periods a pattern may turn out to hold on one face.
MOST_REPEATS = 8
# How close outlines, depths and surfaces must agree, mm.
SAME = 1e-4
DEPTH = 1e-6
SURFACE = 0.05


@dataclass(frozen=True)
class WallPockets:
    """The pockets of one wall, cut from the side of `face`, mm.

    wall: index in the wall list. middle, along: of the strip in (y, z); s from corner line to corner line, 0 halfway,
    in the face's direction. flat: s from and to of the flat run. kinds: outlines in (x, s) of each depth in `depths`;
    through: which are windows. free: whether the low and the high edge belong to this wall alone.
    """

    wall: int
    face: str
    period: float
    width: float
    thickness: float
    middle: tuple[float, float]
    along: tuple[float, float]
    ends: tuple[int, int]
    free: tuple[bool, bool]
    flat: tuple[float, float]
    kinds: tuple[tuple[Polygon, ...], ...]
    depths: tuple[float, ...]
    through: tuple[bool, ...]

    @property
    def taken(self) -> float:
        """Metal taken away per length along the member, mm²."""
        return sum(
            sum(o.area for o in kind) * (self.thickness if hole else depth) / self.period
            for kind, depth, hole in zip(self.kinds, self.depths, self.through, strict=True)
        )


@dataclass(frozen=True)
class Placement:
    """Pockets by wall, and the cuts that lie in no single flat wall: their face and why."""

    pockets: tuple[WallPockets, ...]
    astray: tuple[tuple[str, str], ...]


def place_pockets(section: Section, walls: WallList, patterns: tuple[Pattern, ...]) -> Placement:
    """All cuts of the patterns, by wall; every pattern keeps its own period, or a shorter one that it repeats."""
    by_wall: dict[int, WallPockets] = {}
    astray: list[tuple[str, str]] = []
    for pattern in patterns:
        faces = dict.fromkeys(c.face for c in pattern.cuts)
        for face in faces:
            cuts = tuple(c for c in pattern.cuts if c.face == face)
            period, cuts = _shortest(pattern.period, cuts)
            strips = _strips(walls, face)
            groups: dict[int, list[Cut]] = defaultdict(list)
            for cut in cuts:
                home = _home(strips, cut)
                if isinstance(home, str):
                    astray.append((face.name, home))
                else:
                    groups[home].append(cut)
            for index, own in groups.items():
                if index in by_wall:
                    astray.append((face.name, "the wall under it has pockets from its other side too"))
                by_wall[index] = _pockets(walls, strips[index], face, period, own)
    return Placement(tuple(by_wall.values()), tuple(dict.fromkeys(astray)))


@dataclass(frozen=True)
class _Strip:
    """A wall seen from a face: s of the face at the corner lines and at the flat run's ends."""

    index: int
    low: float
    high: float
    flat: tuple[float, float]
    ends: tuple[int, int]


def _strips(walls: WallList, face: Face) -> dict[int, _Strip]:
    """The walls whose surface the face is."""
    found = {}
    for index, wall in enumerate(walls.walls):
        points = np.array([wall.start, wall.end, *(walls.nodes[e] for e in wall.ends)]) - np.array(
            face.centre
        )
        depth, s = points[:2] @ face.normal, points @ face.across
        if np.abs(depth + wall.thickness / 2).max() > SURFACE:
            continue
        ends = wall.ends
        if s[0] > s[1]:
            s, ends = s[[1, 0, 3, 2]], ends[::-1]
        if min(s[1], face.width / 2) - max(s[0], -face.width / 2) > SAME:
            flat = (float(s[0]), float(s[1]))
            found[index] = _Strip(index, float(s[2]), float(s[3]), flat, (ends[0], ends[1]))
    return found


def _home(strips: dict[int, _Strip], cut: Cut) -> int | str:
    """The wall a cut lies in, or why it lies in none."""
    _, low, _, high = cut.outline.bounds
    if not strips:
        return "it is not one flat wall of even thickness"
    for strip in strips.values():
        if strip.low < low and high < strip.high:
            return strip.index
    met = sum(1 for s in strips.values() if s.low < high and low < s.high)
    return "pockets lie over the joint with an internal web" if met > 1 else "pockets run past its edge"


def _pockets(walls: WallList, strip: _Strip, face: Face, period: float, cuts: list[Cut]) -> WallPockets:
    wall = walls.walls[strip.index]
    middle = (strip.low + strip.high) / 2
    kinds: dict[float, list[Polygon]] = defaultdict(list)
    for cut in cuts:
        depth = min(round(cut.depth, 6), wall.thickness)
        kinds[depth].append(translate(cut.outline, 0.0, -middle))
    depths = tuple(sorted(kinds, reverse=True))
    place = np.array(face.centre) + middle * face.across - wall.thickness / 2 * face.normal
    low, high = (len(walls.at_node(end)) == 1 for end in strip.ends)
    return WallPockets(
        wall=strip.index,
        face=face.name,
        period=period,
        width=round(strip.high - strip.low, 6),
        thickness=wall.thickness,
        middle=(float(place[0]), float(place[1])),
        along=(float(face.across[0]), float(face.across[1])),
        ends=strip.ends,
        free=(low, high),
        flat=(strip.flat[0] - middle, strip.flat[1] - middle),
        kinds=tuple(tuple(kinds[d]) for d in depths),
        depths=depths,
        through=tuple(d >= wall.thickness - DEPTH for d in depths),
    )


def _shortest(period: float, cuts: tuple[Cut, ...]) -> tuple[float, tuple[Cut, ...]]:
    """The shortest period these cuts have by themselves, and the cuts of one such period."""
    bounds = np.array([c.outline.bounds for c in cuts])
    for repeats in range(min(MOST_REPEATS, len(cuts)), 1, -1):
        if len(cuts) % repeats:
            continue
        part = period / repeats
        steps = (bounds[:, None, 0] - bounds[None, :, 0]) / part
        near = np.abs(steps - np.round(steps)) * part < SAME
        near &= np.abs(bounds[:, None, [1, 3]] - bounds[None, :, [1, 3]]).max(axis=2) < SAME
        if (near.sum(axis=1) < repeats).any():
            continue
        alike = np.array(
            [
                [n and _same(a, b) for b, n in zip(cuts, row, strict=True)]
                for a, row in zip(cuts, near, strict=True)
            ]
        )
        first = [i for i in range(len(cuts)) if not alike[i, :i].any()]
        met = [sorted(np.round(steps[alike[:, i], i]).astype(int) % repeats) for i in first]
        if all(m == list(range(repeats)) for m in met):
            return part, tuple(cuts[i] for i in first)
    return period, cuts


def _same(a: Cut, b: Cut) -> bool:
    """Whether two cuts are copies, shifted along the member."""
    if abs(a.depth - b.depth) > SAME or len(a.outline.exterior.coords) != len(b.outline.exterior.coords):
        return False
    shift = a.outline.bounds[0] - b.outline.bounds[0]
    difference = shapely.get_coordinates(a.outline) - shapely.get_coordinates(b.outline)
    return bool(np.abs(difference - [shift, 0.0]).max() < SAME)
