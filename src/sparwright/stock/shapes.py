"""Outlines of the sections a job can state by name: each as an outer ring and the rings of its cells.

Frame (y, z) in mm, before the move to the corner of the bounding box.
"""

from __future__ import annotations

from functools import singledispatch

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import (
    AngleBar,
    Channel,
    FlatBar,
    IBeam,
    RectangularTube,
    RoundTube,
    SquareBar,
    TeeBar,
)
from sparwright.stock.outlines import circle, fillet


def box(width: float, height: float, inset: float = 0.0) -> np.ndarray:
    """Corners of a box from the origin, drawn in by `inset` on every side, counter-clockwise, (4, 2)."""
    y0, z0, y1, z1 = inset, inset, width - inset, height - inset
    return np.array([[y0, z0], [y1, z0], [y1, z1], [y0, z1]])


@singledispatch
def outline(spec: object, chord: float) -> Polygon:
    """The polygon of a stated section, arcs as chords within `chord` mm.

    Raises ValueError where radii do not fit, TypeError for a section that is not stated by name.
    """
    raise TypeError(f"no outline for {type(spec).__name__}")


@singledispatch
def wording(spec: object) -> str:
    """Plain words for the sheets, e.g. "rectangular tube 50 x 100 x 4"."""
    raise TypeError(f"no wording for {type(spec).__name__}")


@outline.register
def _(spec: RectangularTube, chord: float) -> Polygon:
    inner = spec.inner_radius
    if inner is None:
        inner = max(spec.outer_radius - spec.wall, 0.0)
    return Polygon(
        fillet(box(spec.width, spec.height), spec.outer_radius, chord),
        [fillet(box(spec.width, spec.height, spec.wall), inner, chord)],
    )


@wording.register
def _(spec: RectangularTube) -> str:
    return f"rectangular tube {spec.width:g} x {spec.height:g} x {spec.wall:g}"


@outline.register
def _(spec: RoundTube, chord: float) -> Polygon:
    return Polygon(circle(spec.diameter / 2, chord), [circle(spec.diameter / 2 - spec.wall, chord)])


@wording.register
def _(spec: RoundTube) -> str:
    return f"round tube {spec.diameter:g} x {spec.wall:g}"


@outline.register
def _(spec: FlatBar, chord: float) -> Polygon:
    return Polygon(fillet(box(spec.width, spec.thickness), spec.corner_radius, chord))


@wording.register
def _(spec: FlatBar) -> str:
    return f"flat bar {spec.width:g} x {spec.thickness:g}"


@outline.register
def _(spec: SquareBar, chord: float) -> Polygon:
    return Polygon(fillet(box(spec.side, spec.side), spec.corner_radius, chord))


@wording.register
def _(spec: SquareBar) -> str:
    return f"square bar {spec.side:g}"


@outline.register
def _(spec: AngleBar, chord: float) -> Polygon:
    b, h, t = spec.width, spec.height, spec.thickness
    _least(t, b, "the leg thickness", "the leg along y")
    _least(t, h, "the leg thickness", "the leg along z")
    points = np.array([[0, 0], [b, 0], [b, t], [t, t], [t, h], [0, h]])
    return Polygon(fillet(points, [0, 0, spec.toe_radius, spec.root_radius, spec.toe_radius, 0], chord))


@wording.register
def _(spec: AngleBar) -> str:
    return f"angle {spec.width:g} x {spec.height:g} x {spec.thickness:g}"


@outline.register
def _(spec: Channel, chord: float) -> Polygon:
    b, h, w, f = spec.width, spec.height, spec.web, spec.flange
    _least(w, b, "the web", "the flange width")
    _least(2 * f, h, "twice the flange thickness", "the height")
    points = np.array([[0, 0], [b, 0], [b, f], [w, f], [w, h - f], [b, h - f], [b, h], [0, h]])
    root = spec.root_radius
    return Polygon(fillet(points, [0, 0, 0, root, root, 0, 0, 0], chord))


@wording.register
def _(spec: Channel) -> str:
    return f"channel {spec.width:g} x {spec.height:g}, web {spec.web:g}, flanges {spec.flange:g}"


@outline.register
def _(spec: TeeBar, chord: float) -> Polygon:
    b, h, w, f = spec.width, spec.height, spec.web, spec.flange
    _least(w, b, "the web", "the flange width")
    _least(f, h, "the flange thickness", "the height")
    left, right, low = (b - w) / 2, (b + w) / 2, h - f
    points = np.array([[left, 0], [right, 0], [right, low], [b, low], [b, h], [0, h], [0, low], [left, low]])
    root = spec.root_radius
    return Polygon(fillet(points, [0, 0, root, 0, 0, 0, 0, root], chord))


@wording.register
def _(spec: TeeBar) -> str:
    return f"T {spec.width:g} x {spec.height:g}, web {spec.web:g}, flange {spec.flange:g}"


@outline.register
def _(spec: IBeam, chord: float) -> Polygon:
    b, h, w, f = spec.width, spec.height, spec.web, spec.flange
    _least(w, b, "the web", "the flange width")
    _least(2 * f, h, "twice the flange thickness", "the height")
    left, right, low, high = (b - w) / 2, (b + w) / 2, f, h - f
    half = [[b, 0], [b, low], [right, low], [right, high], [b, high], [b, h]]
    points = np.array([*half, [0, h], [0, high], [left, high], [left, low], [0, low], [0, 0]])
    root = spec.root_radius
    return Polygon(fillet(points, [0, 0, root, root, 0, 0, 0, 0, root, root, 0, 0], chord))


@wording.register
def _(spec: IBeam) -> str:
    return f"I {spec.width:g} x {spec.height:g}, web {spec.web:g}, flanges {spec.flange:g}"


def _least(small: float, large: float, small_name: str, large_name: str) -> None:
    if small >= large:
        raise ValueError(f"{small_name}, {small:g} mm, must be less than {large_name}, {large:g} mm")
