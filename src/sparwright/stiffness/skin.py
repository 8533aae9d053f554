"""How far the skin under a pocket gives when the cutter presses on its middle."""

from __future__ import annotations

import math

import numpy as np
from shapely.geometry import Polygon

from sparwright.answers import BadInput
from sparwright.job.models import Material

# Solid finite elements over the point-load formula with the circle of equal area, against skin over wall: hexagon
# 22 mm across flats, wall 4 mm, skins 0.5 to 2 mm, three bays with clamped ends, order 3 (own trial). Below the
# first the clamped plate itself, 1, is kept: the trial's 0.89 there would be on the light side.
SHARE = (0.125, 0.25, 0.375, 0.5)
FACTOR = (1.0, 1.10, 1.52, 2.14)
# Centre deflection of a long clamped strip under a point load over F b²/D, b its width: Timoshenko and
# Woinowsky-Krieger, Theory of Plates and Shells, table of clamped rectangular plates (from memory).
STRIP = 0.00725


def skin_deflection(outline: Polygon, skin: float, wall: float, force: float, material: Material) -> float:
    """Deflection of a skin's middle against its rim, mm, under a point load of `force` N at right angles.

    F a²/(16 pi D) with a = sqrt(area / pi) and D = E t³/(12 (1 - nu²)), the clamped circular plate (checks:
    Timoshenko and Woinowsky-Krieger; Roark), never more than a clamped strip of the outline's width; times a
    factor for the give of the wall that holds it, 1 up to skin = wall/8, 1.10 at 1/4, 1.52 at 3/8, 2.14 at 1/2
    and beyond, where shear and the wall rule and the figure is only a guide. Within -10..+12 % of solid
    elements for the hexagon it was fitted to. Small deflection: the answer should stay under half the skin.
    The wall as a whole gives besides. outline, skin and wall in mm.
    Raises BadInput where skin or wall is not above zero, or the skin is thicker than the wall.
    """
    if not 0 < skin <= wall:
        raise BadInput(
            f"a skin of {skin:g} mm in a wall of {wall:g} mm: it must be above 0 and at most the wall"
        )
    plate = material.modulus * skin**3 / (12 * (1 - material.poisson**2))
    circle = outline.area / math.pi / (16 * math.pi)
    strip = STRIP * _width(outline) ** 2
    factor = float(np.interp(skin / wall, SHARE, FACTOR))
    return factor * force * min(circle, strip) / plate


def _width(outline: Polygon) -> float:
    """Width of the narrowest strip that holds the outline, mm."""
    corners = np.asarray(outline.convex_hull.exterior.coords)[:-1]
    edges = np.roll(corners, -1, axis=0) - corners
    normals = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.linalg.norm(edges, axis=1)[:, None]
    return float(np.ptp(corners @ normals.T, axis=0).min())
