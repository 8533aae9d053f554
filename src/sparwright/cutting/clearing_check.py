"""What the fitted moves of a clearing path do: cut afresh, links proven, engaged angles read."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.cutting import grid as grids
from sparwright.cutting.arcfit import Moves
from sparwright.cutting.clearing_entry import STEP, Entry
from sparwright.cutting.march import carve, crosses, fill, rerun, stamp

FINE = 64
MOST_NODES = 4e7
"""Nodes to the cutter's radius of the grid that links are proven on, and its greatest size."""


def proven_links(
    passes: tuple[Moves, ...],
    links: list[str],
    outline: Polygon,
    cleared: shapely.Geometry | None,
    entry: Entry,
    radius: float,
) -> tuple[str, ...]:
    """The links, those that would touch metal on a fine grid made "up": the fitted moves are cut afresh on it.

    The grid is FINE nodes to the radius (coarser for very large outlines); a link keeps clear of all metal that
    stands more than one cell deep in its way.
    """
    x0, y0, x1, y1 = outline.bounds
    pitch = max(radius / FINE, np.sqrt((x1 - x0) * (y1 - y0) / MOST_NODES))
    empty = grids.empty_grid(outline.bounds, pitch, pitch, 0.0)
    image = empty._replace(values=empty.values.astype(np.uint8))
    fill(image, grids.edges_of(outline), 1)
    if cleared is not None:
        fill(image, grids.edges_of(cleared), 0)
    carve(image, entry.cuts, radius)
    found = []
    here = entry.cuts[0] if len(entry.cuts) else None
    for moves, link in zip(passes, links, strict=True):
        if here is not None and link == "clear" and crosses(image, *here, *moves.start[0], radius - pitch):
            link = "up"
        found.append(link)
        carve(image, moves.sampled(STEP * radius)[0], radius)
        here = moves.end[-1]
    return tuple(found)


def engaged_angles(
    passes: tuple[Moves, ...],
    room: grids.Room,
    cleared: shapely.Geometry | None,
    entry: Entry,
    radius: float,
) -> tuple[np.ndarray, ...]:
    """Engaged angle at its greatest on every move of the fitted passes, cut afresh on a full grid."""
    metal = grids.full_metal(room, cleared)
    for x, y in entry.cuts:
        stamp(metal, x, y, radius, radius)
    found = []
    step = STEP * radius
    for moves in passes:
        places, index, _ = moves.sampled(step)
        angle = np.empty(len(places))
        rerun(metal, places, radius, 0.02 * step, angle)
        most = np.zeros(len(moves))
        np.maximum.at(most, index, angle)
        found.append(most)
    return tuple(found)
