"""A section drawn as an SVG path: subpaths to closed rings, rings to one outline with its cells.

All work up to the end is in the drawing's own units and place, y down, so that every message gives the coordinates its
author sees.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from sparwright.job.faults import nearest
from sparwright.job.models import PathSection
from sparwright.stock.outlines import LONGEST_CHORD, turned
from sparwright.stock.rings import SAY_SCALE, OutlineError, nest, place_words, refuse_size
from sparwright.stock.svg import SvgFile, SvgPath, read_svg

MOST_SEGMENTS = 20_000
MOST_CHORDS = 20_000  # of one curve
OUT_OF_MEASURE = "a number of the path is out of all measure; correct it"
_TRANSFORM = re.compile(r"\s*(?:(?:matrix|translate|scale|rotate|skewX|skewY)\s*\([\d\s,.eE+-]*\)[\s,]*)+")
_STRANGE = re.compile(r"[^MmZzLlHhVvCcSsQqTtAaEe\d\s,.+-]")


@dataclass(frozen=True)
class _Measures:
    """In the drawing's units: greatest chord error, longest chord of a curve, widest gap that is closed."""

    chord: float
    longest: float
    gap: float


def read_path(spec: PathSection, folder: str | Path) -> Polygon:
    """The section's polygon in mm, y to the right and z up as the drawing shows it, scaled and turned.

    Raises OutlineError for a file or a path that cannot be read, a part that is not closed, lines that cross, several
    outer outlines, a part inside a hole, or a size no section has.
    """
    if spec.file is not None:
        svg = read_svg(Path(folder) / spec.file)
        found = _chosen(svg, spec)
        scale = spec.scale if spec.scale is not None else svg.scale or 1.0
        name, key = f"{spec.file}, line {found.line}", "file"
    else:
        found = SvgPath(spec.d or "", (), "", 0)
        scale = spec.scale if spec.scale is not None else 1.0
        name, key = "the path", "d"

    def refusal(what: str, _: int = 0) -> OutlineError:
        return OutlineError(f"{name}: {what}", key)

    measures = _Measures(spec.chord / scale, LONGEST_CHORD / scale, spec.gap / scale)
    rings = _rings(_segments(found, refusal), measures, refusal)
    shape = nest(rings, refusal, ", or make them paths of their own and say id")
    shape = shapely.transform(shape, lambda p: turned(p * [scale, -scale], math.radians(spec.turn)))
    refuse_size(shape, refusal, f" with scale = {scale:.6g}", SAY_SCALE)
    return orient(shape)


def _chosen(svg: SvgFile, spec: PathSection) -> SvgPath:
    """The path of the file that is meant."""
    ids = [p.id for p in svg.paths if p.id]
    listed = ", ".join(f'"{i}"' for i in ids[:12]) + (" and more" if len(ids) > 12 else "")
    if not svg.paths:
        raise OutlineError(
            f"{spec.file} holds no path; turn rectangles, circles and text into paths in the drawing program",
            "file",
        )
    if spec.id is None:
        if len(svg.paths) > 1:
            raise OutlineError(
                f"{spec.file} holds {len(svg.paths)} paths, with the ids {listed or 'none'}; "
                "say which one with id, or join them into one path",
                "file",
            )
        return svg.paths[0]
    for path in svg.paths:
        if path.id == spec.id:
            return path
    near = nearest(spec.id, ids)
    hint = f'did you mean "{near}"?' if near else "say one of them"
    raise OutlineError(
        f'{spec.file} has no path with the id "{spec.id}"; it has {listed or "none with an id"}; {hint}', "id"
    )


def _segments(path: SvgPath, refusal: Callable[[str], OutlineError]) -> list[Any]:
    """The path's segments with every transform applied."""
    from svgelements import Matrix  # type: ignore[import-untyped]
    from svgelements import Path as Reader

    strange = _STRANGE.search(path.d)
    if strange or path.d.strip()[:1] not in ("M", "m"):
        at = f'"{strange[0]}" at character {strange.start() + 1}' if strange else "it does not begin with M"
        raise refusal(
            f"d is not the text of an SVG path: {at}; it is made of the letters M L H V C S Q T A Z and numbers, "
            'for example "M 0 0 H 40 V 20 H 0 Z"'
        )
    for transform in path.transforms:
        if not _TRANSFORM.fullmatch(transform):
            raise refusal(
                f'the transform "{transform[:40]}" is none of matrix, translate, scale, rotate and skew with plain numbers; '
                "save the drawing as plain SVG"
            )
    try:
        whole = Reader(path.d)
        for transform in reversed(path.transforms):
            whole *= Matrix(transform)
        segments = list(whole.reify())
    except (ValueError, AttributeError, IndexError, TypeError, ZeroDivisionError, OverflowError):
        raise refusal(
            "d is not the text of an SVG path: a command has too few or too many numbers; copy it whole from the drawing"
        ) from None
    if len(segments) > MOST_SEGMENTS:
        raise refusal(
            f"the path has {len(segments)} segments; at most {MOST_SEGMENTS} are taken; trace the outline, not a picture"
        )
    return segments


def _rings(
    segments: list[Any], measures: _Measures, refusal: Callable[[str], OutlineError]
) -> list[np.ndarray]:
    """Every subpath as a closed ring of points (k, 2), first point not repeated."""
    rings: list[np.ndarray] = []
    gap = measures.gap
    points: list[np.ndarray] = []

    def finish(closed: bool) -> None:
        if len(points) < 2:
            points.clear()
            return
        ring = np.vstack(points)
        points.clear()
        if not np.isfinite(ring).all() or np.abs(ring).max() > 1e9:
            raise refusal(OUT_OF_MEASURE)
        apart = math.dist(ring[0], ring[-1])
        if not closed and apart > gap:
            raise refusal(
                f"the outline is open: the part that begins at ({place_words(ring[0])}) ends at ({place_words(ring[-1])}), "
                f"{apart:.4g} away, and a gap of at most {gap:.4g} is closed; end it with Z, or say a larger gap"
            )
        if apart <= gap:
            ring = ring[:-1]
        step = np.hypot(*(ring - np.roll(ring, 1, axis=0)).T)
        if (step > 1e-9).any():
            rings.append(ring[step > 1e-9])

    for segment in segments:
        kind = type(segment).__name__
        if kind == "Move":
            finish(False)
            points.append(np.array([[segment.end.x, segment.end.y]]))
        elif kind == "Close":
            finish(True)
            if segment.end is not None:
                points.append(np.array([[segment.end.x, segment.end.y]]))
        else:
            points.append(_along(segment, kind, measures, refusal))
    finish(False)
    if not rings:
        raise refusal("the path draws nothing; draw the outline of the section")
    return rings


def _along(
    segment: Any, kind: str, measures: _Measures, refusal: Callable[[str], OutlineError]
) -> np.ndarray:
    """Points along a segment after its start, chords within `chord`.

    A chord over the step h of the parameter is off by at most h² / 8 times the greatest second derivative.
    """
    end = np.array([[segment.end.x, segment.end.y]])
    if not all(math.isfinite(v) for q in segment if q is not None for v in (q.x, q.y)):
        raise refusal(OUT_OF_MEASURE)
    if kind == "Arc":
        bend = max(segment.rx, segment.ry) * segment.sweep**2
        least = abs(segment.sweep) / (math.pi / 4)
    elif kind in ("QuadraticBezier", "CubicBezier"):
        p = np.array([(q.x, q.y) for q in segment])
        second = np.hypot(*np.diff(p, n=2, axis=0).T).max()
        bend, least = (2.0 if kind == "QuadraticBezier" else 6.0) * second, 1.0
    else:
        return end
    if not math.isfinite(bend) or bend > 1e12:
        raise refusal(OUT_OF_MEASURE)
    # A chord of a large curve must not be long enough to be taken for a flat.
    length = float(segment.length(error=1e-3)) if bend > 0 else 0.0
    count = math.ceil(max(math.sqrt(bend / 8 / measures.chord), least, length / measures.longest, 1.0) - 1e-9)
    if count > MOST_CHORDS:
        raise refusal(
            f"a curve takes {count} chords; at most {MOST_CHORDS} are made; say a larger chord or a smaller scale"
        )
    points = np.asarray(segment.npoint(np.linspace(0, 1, count + 1)), dtype=float)[1:]
    points[-1] = end
    return points
