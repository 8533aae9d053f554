"""A section read from a DXF drawing: lines and curves to closed loops, loops to one outline with its cells.

All work up to the end is in the drawing's own units and place, so that every message gives the
coordinates its author sees.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from sparwright.job.models import DrawnSection
from sparwright.stock.outlines import arc, circle, turned
from sparwright.stock.rings import SAY_SCALE, OutlineError, nest, refuse_size
from sparwright.stock.rings import place_words as _at

_OWN_LAYER = ", or put it on a layer of its own and say layer"
CURVES = ("LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "ELLIPSE", "SPLINE")


class DrawingError(OutlineError):
    """A drawing that gives no section: the message names the file, the place in it and the remedy."""


def read_drawing(spec: DrawnSection, folder: str | Path) -> Polygon:
    """The section's polygon in mm, scaled and turned, where the drawing has it.

    Raises DrawingError for a file that cannot be read, an open outline, lines that cross or meet in threes,
    several outer loops, a part inside a hole, or a size no section has.
    """
    path = Path(folder) / spec.file
    name = spec.file
    pieces = [p for e in _entities(path, spec.layer) for p in _pieces(e, spec.chord / spec.scale, name)]
    rings = _loops(pieces, spec.gap / spec.scale, name)
    polygon = nest(rings, lambda what, _: DrawingError(f"{name}: {what}", "file"), _OWN_LAYER)
    polygon = shapely.transform(polygon, lambda p: turned(p * spec.scale, math.radians(spec.turn)))
    refuse_size(
        polygon,
        lambda what: DrawingError(f"{name}: {what}", "file"),
        f" with scale = {spec.scale:g}",
        SAY_SCALE,
    )
    return orient(polygon)


# --- from the file to pieces ----------------------------------------------------------------------------


def _entities(path: Path, layer: str | None) -> list[Any]:
    import ezdxf

    if not path.is_file():
        raise DrawingError(f"there is no drawing {path}; file is taken from the job file's folder")
    try:
        document = ezdxf.readfile(path)
    except (OSError, ezdxf.DXFError, UnicodeDecodeError) as fault:
        raise DrawingError(f"{path.name} cannot be read as DXF: {fault}") from None
    every = list(_unpacked(document.modelspace()))
    found = [e for e in every if layer is None or e.dxf.layer.lower() == layer.lower()]
    curves = [e for e in found if e.dxftype() in CURVES]
    if not curves:
        layers = sorted({e.dxf.layer for e in every if e.dxftype() in CURVES})
        where = f' on layer "{layer}"' if layer is not None else ""
        raise DrawingError(
            f"{path.name} holds no line, arc, circle, polyline, ellipse or spline{where}; "
            f"layers that do: {', '.join(layers) or 'none'}"
        )
    return curves


def _unpacked(entities: Any) -> Iterator[Any]:
    """Entities with blocks taken apart."""
    for entity in entities:
        if entity.dxftype() == "INSERT":
            yield from _unpacked(entity.virtual_entities())
        else:
            yield entity


def _pieces(entity: Any, chord: float, name: str) -> list[np.ndarray]:
    """Points (k, 2) along an entity, chords within `chord`; closed ones end where they begin."""
    kind = entity.dxftype()
    if kind in ("SPLINE", "ELLIPSE"):
        points = [tuple(p) for p in entity.flattening(chord, segments=8)]
    elif kind == "LINE":
        points = [tuple(entity.dxf.start), tuple(entity.dxf.end)]
    else:
        flat, elevation = _flat_points(entity, chord)
        ocs = entity.ocs()
        points = [tuple(ocs.to_wcs((float(x), float(y), elevation))) for x, y in flat]
    space = np.array(points, dtype=float)
    if space.shape[1] == 3 and np.ptp(space[:, 2]) > 1e-6:
        raise DrawingError(
            f"{name}: a {kind.lower()} at ({space[0, 0]:.3f}, {space[0, 1]:.3f}) leaves the plane of the drawing; "
            "draw the section flat in the x y plane"
        )
    xy = space[:, :2]
    keep = np.concatenate([[True], np.hypot(*np.diff(xy, axis=0).T) > 1e-9])
    return [xy[keep]] if keep.sum() > 1 else []


def _flat_points(entity: Any, chord: float) -> tuple[np.ndarray, float]:
    """Points of an arc, circle or polyline in its own plane, and the plane's height."""
    kind = entity.dxftype()
    if kind == "CIRCLE":
        ring = circle(entity.dxf.radius, chord) + np.array(entity.dxf.center)[:2]
        return np.vstack([ring, ring[:1]]), float(entity.dxf.center[2])
    if kind == "ARC":
        start = math.radians(entity.dxf.start_angle)
        sweep = math.radians((entity.dxf.end_angle - entity.dxf.start_angle) % 360) or 2 * math.pi
        centre = tuple(entity.dxf.center)
        return arc((centre[0], centre[1]), entity.dxf.radius, start, sweep, chord), float(centre[2])
    if kind == "LWPOLYLINE":
        vertices = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
        return _bulged(vertices, entity.closed, chord), float(entity.dxf.elevation)
    vertices = [(*tuple(v.dxf.location)[:2], v.dxf.bulge) for v in entity.vertices]
    return _bulged(vertices, entity.is_closed, chord), float(tuple(entity.dxf.elevation)[2])


def _bulged(vertices: Sequence[tuple[float, float, float]], closed: bool, chord: float) -> np.ndarray:
    """A polyline with bulges as points; the bulge is the tangent of a quarter of the arc's sweep (DXF reference)."""
    out = [np.array([vertices[0][:2]], dtype=float)]
    following = [*vertices[1:], vertices[0]] if closed else vertices[1:]
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, following, strict=False):
        a, b = np.array([x0, y0]), np.array([x1, y1])
        if bulge == 0 or math.dist(a, b) < 1e-12:
            out.append(b[None, :])
            continue
        sweep = 4 * math.atan(bulge)
        along = b - a
        centre = (a + b) / 2 + np.array([-along[1], along[0]]) * (1 / bulge - bulge) / 4
        radius = math.dist(a, centre)
        first = math.atan2(a[1] - centre[1], a[0] - centre[0])
        points = arc((centre[0], centre[1]), radius, first, sweep, chord)[1:]
        points[-1] = b
        out.append(points)
    return np.vstack(out)


# --- from pieces to loops -------------------------------------------------------------------------------


def _loops(pieces: list[np.ndarray], gap: float, name: str) -> list[np.ndarray]:
    rings, chains = [], []
    for piece in _without_doubles(pieces):
        length = float(np.hypot(*np.diff(piece, axis=0).T).sum())
        if length <= gap:
            continue
        if len(piece) > 3 and math.dist(piece[0], piece[-1]) <= gap < length / 2:
            rings.append(piece[:-1])
        else:
            chains.append(piece)
    if chains:
        rings += _joined(chains, gap, name)
    return rings


def _without_doubles(pieces: list[np.ndarray]) -> list[np.ndarray]:
    """Pieces without those drawn twice, either way round."""
    seen: set[tuple] = set()
    kept = []
    for piece in pieces:
        length = round(float(np.hypot(*np.diff(piece, axis=0).T).sum()), 6)
        ends = tuple(sorted(tuple(np.round(p, 6).tolist()) for p in (piece[0], piece[-1])))
        middle = tuple(np.round(piece.mean(axis=0), 6).tolist())
        if (ends, middle, length) not in seen:
            seen.add((ends, middle, length))
            kept.append(piece)
    return kept


def _joined(chains: list[np.ndarray], gap: float, name: str) -> list[np.ndarray]:
    """Open chains joined end to end where ends lie within `gap`."""
    ends = np.array([p for c in chains for p in (c[0], c[-1])])
    tree = KDTree(ends)
    partner = np.empty(len(ends), dtype=int)
    for i, near in enumerate(tree.query_ball_point(ends, gap)):
        others = [j for j in near if j != i]
        if len(others) > 1:
            raise DrawingError(
                f"{name}: {len(others) + 1} ends meet at ({_at(ends[i])}); an outline has two; "
                "take out what is not outline, or put it on a layer of its own and say layer"
            )
        if not others:
            distance, where = (np.asarray(a) for a in tree.query(ends[i], k=2))
            raise DrawingError(
                f"{name}: the outline is open at ({_at(ends[i])}); the nearest other end is {distance[1]:.4g} away "
                f"at ({_at(ends[where[1]])}) and a gap of at most {gap:.4g} is closed; join them, or say a larger gap"
            )
        partner[i] = others[0]
    rings, used = [], np.zeros(len(chains), dtype=bool)
    for first in range(len(chains)):
        if used[first]:
            continue
        ring, at = [], 2 * first
        while not used[at // 2]:
            used[at // 2] = True
            chain = chains[at // 2]
            ring.append((chain if at % 2 == 0 else chain[::-1])[:-1])
            at = int(partner[at ^ 1])
        rings.append(np.vstack(ring))
    return rings
