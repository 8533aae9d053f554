"""Planes that mirror a patterned member into itself: the half, quarter or eighth of a period then tells the whole."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.affinity import scale, translate
from shapely.geometry import Polygon

from sparwright.stiffness.pattern import Cut, Pattern
from sparwright.stock.model import Face, Section

# How far an outline may differ from its mirror image, as a share of its area, and a face or a depth, mm.
SAME_AREA = 1e-5
SAME_PLACE = 1e-4


@dataclass(frozen=True)
class Mirrors:
    """Planes across the member at `x` and half a period further, mm (None: none), and the section's middle planes.

    y: whether the plane across y through the section's centroid mirrors section and pattern; z alike.
    """

    x: float | None = None
    y: bool = False
    z: bool = False

    @property
    def axes(self) -> tuple[int, ...]:
        """The directions mirrored, 0 to 2 for x to z."""
        return tuple(i for i, there in enumerate((self.x is not None, self.y, self.z)) if there)

    @property
    def copies(self) -> int:
        """How many copies of the part between the planes make a period."""
        return 1 << len(self.axes)


NO_MIRRORS = Mirrors()


def find_mirrors(section: Section, pattern: Pattern) -> Mirrors:
    """The planes that mirror section and pattern."""
    across = next((x for x in _planes(pattern) if _same(pattern, _mirrored_x(pattern, x))), None)
    return Mirrors(across, *(_mirrors(section, pattern, axis) for axis in (0, 1)))


def part_between(section: Section, mirrors: Mirrors) -> Polygon:
    """The part of the section on the upper sides of its mirror planes, mm."""
    y0, z0, y1, z1 = section.shape.bounds
    yc, zc = section.shape.centroid.x, section.shape.centroid.y
    room = shapely.box(yc if mirrors.y else y0 - 1, zc if mirrors.z else z0 - 1, y1 + 1, z1 + 1)
    return section.shape.intersection(room)


def _planes(pattern: Pattern) -> Iterator[float]:
    """Where a plane across the member may be: halfway between the first pocket and every pocket of its face."""
    if not pattern.cuts:
        yield 0.0
        return
    first = pattern.cuts[0]
    for cut in pattern.cuts:
        if cut.face.name == first.face.name:
            middle = (first.outline.centroid.x + cut.outline.centroid.x) / 2
            yield middle % (pattern.period / 2)


def _mirrored_x(pattern: Pattern, plane: float) -> tuple[Cut, ...]:
    return tuple(
        replace(c, outline=scale(c.outline, -1.0, 1.0, origin=(plane, 0.0, 0.0))) for c in pattern.cuts
    )


def _mirrors(section: Section, pattern: Pattern, axis: int) -> bool:
    """Whether the middle plane across y (axis 0) or z (axis 1) mirrors the section and the pattern."""
    centre = (section.shape.centroid.x, section.shape.centroid.y)
    signs = (-1.0, 1.0) if axis == 0 else (1.0, -1.0)
    image = scale(section.shape, *signs, origin=(*centre, 0.0))
    if image.symmetric_difference(section.shape).area > SAME_AREA * section.shape.area:
        return False
    cuts = []
    for cut in pattern.cuts:
        normal, middle, s = (
            np.array(signs) * v for v in (cut.face.normal, _from(cut.face, centre), cut.face.across)
        )
        partner = next((f for f in section.faces if _is_face(f, normal, middle, centre)), None)
        if partner is None:
            return False
        along = float(s @ partner.across)
        shift = float((middle - _from(partner, centre)) @ partner.across)
        outline = translate(scale(cut.outline, 1.0, along, origin=(0, 0, 0)), 0.0, shift)
        cuts.append(Cut(partner, outline, cut.depth))
    return _same(pattern, tuple(cuts))


def _from(face: Face, centre: tuple[float, float]) -> np.ndarray:
    return np.array(face.centre) - np.array(centre)


def _is_face(face: Face, normal: np.ndarray, middle: np.ndarray, centre: tuple[float, float]) -> bool:
    """Whether the face lies at `middle` from the centre and looks along `normal`."""
    return bool(
        np.abs(face.normal - normal).max() < 1e-6 and np.abs(_from(face, centre) - middle).max() < SAME_PLACE
    )


def _same(pattern: Pattern, others: tuple[Cut, ...]) -> bool:
    """Whether every one of the other cuts is one of the pattern's, give or take whole periods."""
    return all(any(_same_cut(cut, other, pattern.period) for cut in pattern.cuts) for other in others)


def _same_cut(cut: Cut, other: Cut, period: float) -> bool:
    if cut.face.name != other.face.name or abs(cut.depth - other.depth) > SAME_PLACE:
        return False
    here, there = cut.outline.centroid, other.outline.centroid
    turns = round((here.x - there.x) / period)
    if math.hypot(here.x - there.x - turns * period, here.y - there.y) > SAME_PLACE:
        return False
    moved = translate(other.outline, turns * period)
    return bool(moved.symmetric_difference(cut.outline).area < SAME_AREA * cut.outline.area)
