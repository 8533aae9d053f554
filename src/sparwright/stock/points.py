"""A section from measured points: corners with their radii to rings, rings to one outline with its cells."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from sparwright.job.models import PointsSection
from sparwright.stock.outlines import FilletError, circle, fillet
from sparwright.stock.rings import OutlineError, nest, place_words, refuse_size, simple

SAME_PLACE = 1e-6  # mm
Keys = tuple[str | int, ...]


def read_points(spec: PointsSection, chord: float) -> Polygon:
    """The section's polygon in mm, from the origin the points were measured from; arcs as chords within `chord` mm.

    Raises OutlineError, with the corner or the ring to blame, for a corner given twice, a radius that does not fit, an
    outline that crosses itself, a hollow that is not inside or meets another, and a size no section has.
    """
    keys: list[Keys] = [("outer",), *(("holes", i) for i in range(len(spec.holes)))]
    rings = [_ring(c, chord, _name(k), *k) for c, k in zip((spec.outer, *spec.holes), keys, strict=True)]
    for i, (y, z, diameter) in enumerate(spec.bores):
        if diameter <= 0:
            raise OutlineError(
                f"bore {i + 1} has the diameter {diameter:g}; it must be above 0 mm; write a bore as [y, z, diameter]",
                "bores",
                i,
            )
        rings.append(circle(diameter / 2, chord) + np.array([y, z]))
        keys.append(("bores", i))
    _inside(rings, keys)
    shape = nest(rings, lambda what, i: OutlineError(f"{_name(keys[i])}: {what}", *keys[i]))
    refuse_size(
        shape,
        lambda what: OutlineError(what, "outer"),
        "",
        'give the points in mm, or each number with its unit, such as "1-1/2 in"',
    )
    return orient(shape)


def _blame(name: str, keys: Keys, what: str) -> OutlineError:
    return OutlineError(f"{name}: {what}", *keys)


def _name(keys: Keys) -> str:
    return "outer" if len(keys) == 1 else f"{str(keys[0])[:-1]} {int(keys[1]) + 1}"


def _ring(corners: Sequence[Sequence[float]], chord: float, name: str, *keys: str | int) -> np.ndarray:
    """A ring with its rounded corners, (k, 2); a last corner that repeats the first is left out."""
    points = np.array([c[:2] for c in corners], dtype=float)
    radii = [c[2] if len(c) == 3 else 0.0 for c in corners]
    if math.dist(points[0], points[-1]) < SAME_PLACE:
        points, radii = points[:-1], radii[:-1]
    if len(points) < 3:
        raise OutlineError(
            f"{name} has {len(points)} different corners; at least 3 enclose metal; add the others", *keys
        )
    for i, (point, before) in enumerate(zip(points, np.roll(points, 1, axis=0), strict=True)):
        if math.dist(point, before) < SAME_PLACE:
            raise OutlineError(
                f"{name}: corner {i + 1} at ({place_words(point)}) repeats the one before it; take one of them out",
                *keys,
                i,
            )
        if radii[i] < 0:
            raise OutlineError(
                f"{name}: corner {i + 1} has the radius {radii[i]:g}; a radius is at least 0 mm; "
                "it rounds inner and outer corners alike; write it without the sign",
                *keys,
                i,
            )
    simple(points, lambda what: OutlineError(f"{name}: {what}; list its corners in order round it", *keys))
    try:
        ring = fillet(points, radii, chord)
    except FilletError as fault:
        raise OutlineError(
            f"{name}: corner {fault.corner + 1} at ({place_words(points[fault.corner])}): {fault}; make it smaller",
            *keys,
            fault.corner,
        ) from None
    return ring


def _inside(rings: Sequence[np.ndarray], keys: Sequence[Keys]) -> None:
    """Raises OutlineError for a hollow that is not wholly inside the outside."""
    outer = simple(
        rings[0], lambda what: OutlineError(f"outer: {what} once its corners are rounded", "outer")
    )
    for ring, key in zip(rings[1:], keys[1:], strict=True):
        name = _name(key)
        hollow = simple(ring, partial(_blame, name, key))
        if outer.contains_properly(hollow):
            continue
        if not outer.intersects(hollow):
            what = "lies outside the outline"
        elif hollow.contains(outer):
            what = "lies round the outline"
        else:
            out = hollow.difference(outer)
            where = ring[0] if out.is_empty else np.array(out.representative_point().coords[0])
            what = f"reaches through the outline, or touches it, near ({place_words(where)})"
        raise OutlineError(
            f"{name} {what}; a hollow lies wholly inside, measured from the same origin; "
            "correct its points, or draw what is open as part of outer",
            *key,
        )
