"""The wall under a face between the side walls that carry it, as local questions see it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.stock.model import Face, Section
from sparwright.stock.section import wall_range

# Least cell under a face that makes it a wall over a hollow, mm: narrower ones are screw ports.
LEAST_CELL = 4.0


@dataclass(frozen=True)
class HollowWall:
    """A stretch of wall over one cell: s from low to high between the insides of its side walls, least thickness, mm.

    depth: of the cell below it, mm. side: mean thickness of the two walls that stand at its sides, mm.
    """

    low: float
    high: float
    thickness: float
    depth: float
    side: float

    @property
    def width(self) -> float:
        """Free width, mm."""
        return self.high - self.low


@lru_cache(maxsize=128)
def hollow_walls(section: Section, face: Face) -> tuple[HollowWall, ...]:
    """The hollow stretches under a face, in order of s; empty for solid and for open profiles.

    A cell counts where the metal over it reaches up to the face over most of its width.
    """
    metal = in_face(section, face)
    found = []
    for ring in metal.interiors:
        cell = Polygon(ring)
        low, bottom, high, top = cell.bounds
        left, right = max(low, -face.width / 2), min(high, face.width / 2)
        if right - left < max(LEAST_CELL, (high - low) / 2):
            continue
        between = shapely.box(left, top, right, 0.0)
        covered = metal.intersection(between).area
        if top >= 0 or covered < 0.9 * between.area:
            continue
        inset = (right - left) / 4
        thickness = wall_range(section, face, left + inset, right - inset)[0]
        middle = (bottom + top) / 2
        across = shapely.LineString([(metal.bounds[0] - 1, middle), (metal.bounds[2] + 1, middle)])
        runs = [g.bounds for g in shapely.get_parts(metal.intersection(across))]
        beside = [r[2] - r[0] for r in runs if abs(r[2] - low) < 1.0 or abs(r[0] - high) < 1.0]
        side = sum(beside) / len(beside) if beside else thickness
        if thickness > 0:
            found.append(
                HollowWall(float(low), float(high), float(thickness), float(top - bottom), float(side))
            )
    return tuple(sorted(found, key=lambda w: w.low))


def in_face(section: Section, face: Face) -> Polygon:
    """The section in the face's (s, n), mm."""
    frame = np.column_stack([face.across, face.normal])
    return shapely.transform(section.shape, lambda p: (p - np.asarray(face.centre)) @ frame)
