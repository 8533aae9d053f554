"""From closed rings of points to one outline with its cells, whatever the rings were read from."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
import shapely
from shapely.geometry import LinearRing, Polygon

from sparwright.answers import BadInput

SMALLEST, LARGEST = 2.0, 2000.0  # mm, sides of the bounding box a section may have


class OutlineError(BadInput):
    """Something given that makes no section; keys: path of the key to blame, from the section's table."""

    def __init__(self, what: str, *keys: str | int) -> None:
        super().__init__(what)
        self.keys = keys


SAY_SCALE = "say scale = 25.4 for a drawing in inches, 1000 for metres"
Refusal = Callable[[str, int], OutlineError]
"""Makes the error from the fault in words and the number of the ring that is to blame."""


def place_words(point: Sequence[float] | np.ndarray) -> str:
    """A place in a message: "40.000, 20.000"."""
    return f"{point[0]:.3f}, {point[1]:.3f}"


def nest(rings: Sequence[np.ndarray], refusal: Refusal, aside: str = "") -> Polygon:
    """One outline with its cells: a ring inside another is a hole of it (even-odd).

    rings: each (k, 2), closed, first point not repeated. aside: another remedy where there are several outlines.
    Raises what `refusal` makes for a ring that crosses itself, rings that cross or touch, several outer rings and a
    part loose in a hole.
    """
    polygons = [simple(ring, partial(_of_ring, refusal, i)) for i, ring in enumerate(rings)]
    tree = shapely.STRtree([p.exterior for p in polygons])
    for i, j in tree.query([p.exterior for p in polygons], predicate="intersects").T.tolist():
        if i < j:
            where = shapely.get_coordinates(polygons[i].exterior.intersection(polygons[j].exterior))[0]
            raise refusal(f"two outlines cross or touch at ({place_words(where)}); draw them apart", j)
    inside = [[k for k, q in enumerate(polygons) if q is not p and q.contains(p)] for p in polygons]
    outer = [i for i, around in enumerate(inside) if not around]
    if len(outer) > 1:
        places = "; ".join(
            f"({place_words(b[:2])}) to ({place_words(b[2:])})"
            for b in (polygons[i].bounds for i in outer[:4])
        )
        raise refusal(
            f"{len(outer)} separate outer outlines, {places}; a section has one; keep one{aside}", outer[1]
        )
    for i, around in enumerate(inside):
        if len(around) > 1:
            raise refusal(
                f"an outline lies loose inside a hole at ({place_words(polygons[i].bounds[:2])}); "
                "a section is one piece of metal; take it out",
                i,
            )
    return Polygon(polygons[outer[0]].exterior, [polygons[i].exterior for i, a in enumerate(inside) if a])


def _of_ring(refusal: Refusal, index: int, what: str) -> OutlineError:
    return refusal(what, index)


def simple(ring: np.ndarray, refusal: Callable[[str], OutlineError]) -> Polygon:
    """A ring as a polygon; raises what `refusal` makes where it crosses itself or encloses nothing."""
    if len(ring) < 3:
        raise refusal(
            f"the outline at ({place_words(ring[0])}) goes out and back on itself; draw it round some metal"
        )
    polygon = Polygon(LinearRing(ring))
    if polygon.is_valid and polygon.area > 0:
        return polygon
    place = re.search(r"\[([-+\d.eE]+) ([-+\d.eE]+)", shapely.is_valid_reason(polygon))
    where = (float(place[1]), float(place[2])) if place else ring[0]
    raise refusal(f"the outline crosses itself at ({place_words(where)}); draw it so that it does not")


def refuse_size(polygon: Polygon, refusal: Callable[[str], OutlineError], given: str, remedy: str) -> None:
    """Raises what `refusal` makes for a size no section has; `given` says what the size follows from."""
    y0, z0, y1, z1 = polygon.bounds
    width, height = y1 - y0, z1 - z0
    if min(width, height) < SMALLEST or max(width, height) > LARGEST:
        raise refusal(
            f"the section measures {width:.4g} x {height:.4g} mm{given}; "
            f"sides of {SMALLEST:g} to {LARGEST:g} mm are taken; {remedy}"
        )
