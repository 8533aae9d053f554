"""From what the job says of the section to its polygon and its faces, and the metal met below a face."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from sparwright.answers import BadInput
from sparwright.job.models import AnySection, DrawnSection, PathSection, PointsSection
from sparwright.stock.drawing import read_drawing
from sparwright.stock.model import Face, Section
from sparwright.stock.paths import read_path
from sparwright.stock.points import read_points
from sparwright.stock.shapes import outline, wording

CHORD = 0.005  # mm, greatest chord error of a stated section's arcs
LEAST_FACE = 5.0  # mm, narrowest flat that counts as a face: common practice, no source
SAME_DIRECTION = math.radians(0.05)
AXIS_NAMES = {0: "back", 90: "top", 180: "front", 270: "bottom"}


class SectionError(BadInput):
    """A stated section that cannot be: the message says which measure is at fault and what would fit."""


def make_section(spec: AnySection, folder: str | Path) -> Section:
    """The section a job states; `folder` is where its drawing lies.

    Raises SectionError where measures do not fit together, OutlineError (DrawingError for a DXF file) where a drawing
    or points give no section.
    """
    if isinstance(spec, DrawnSection):
        shape = read_drawing(spec, folder)
        return section_from_polygon(shape, f"drawn section {Path(spec.file).name}", spec.chord)
    if isinstance(spec, PathSection):
        name = f"drawn section {Path(spec.file).name}" if spec.file else "section drawn as a path"
        return section_from_polygon(read_path(spec, folder), name, spec.chord)
    if isinstance(spec, PointsSection):
        return section_from_polygon(read_points(spec, CHORD), "section from measured points", CHORD)
    try:
        shape = outline(spec, CHORD)
    except ValueError as fault:
        raise SectionError(f"{wording(spec)}: {fault}") from None
    if not shape.is_valid:
        raise SectionError(f"{wording(spec)}: its outline crosses itself; make the radii smaller")
    return section_from_polygon(shape, wording(spec), CHORD)


def section_from_polygon(shape: Polygon, drawing: str, chord: float = CHORD) -> Section:
    """A section of any outline in (y, z), mm, moved so that its bounding box has its corner at the origin."""
    y0, z0, _, _ = shape.bounds
    at_origin = orient(affinity.translate(shape, -y0, -z0))
    return Section(drawing, at_origin, find_faces(at_origin), chord)


# --- faces ----------------------------------------------------------------------------------------------


def find_faces(shape: Polygon, least: float = LEAST_FACE) -> tuple[Face, ...]:
    """Outer flats at least `least` mm wide that are seen from outside along their normal.

    Names: top (+z), bottom (-z), front (-y), back (+y); a second flat in a direction is "top-2" and so on,
    widest first and then outermost first; a slanted flat is named by the angle of its normal from +y toward
    +z in whole degrees, "slant-45". A flat hidden in part counts with what is seen of it.
    """
    flats: list[Face] = []
    for start, end in _straight_runs(np.asarray(orient(shape).exterior.coords)[:-1]):
        along = end - start
        if math.hypot(*along) >= least:
            angle = _tidy_angle(math.atan2(-along[0], along[1]))
            flats += _seen_parts(shape, start, end, angle, least)
    by_direction: dict[str, list[Face]] = {}
    for flat in flats:
        by_direction.setdefault(_direction_name(flat.angle), []).append(flat)
    order = ["top", "bottom", "front", "back"]
    names = sorted(by_direction, key=lambda n: (order.index(n) if n in order else 9, n))
    return tuple(face for name in names for face in _numbered(name, by_direction[name]))


def _straight_runs(ring: np.ndarray) -> list[tuple[np.ndarray, np.ndarray]]:
    """Ends of the straight runs of a closed ring, edges in one line joined."""
    edges = np.roll(ring, -1, axis=0) - ring
    heading = np.arctan2(edges[:, 1], edges[:, 0])
    bend = np.abs((heading - np.roll(heading, 1) + math.pi) % (2 * math.pi) - math.pi)
    corners = np.flatnonzero(bend > 1e-7)
    return [(ring[a], ring[b]) for a, b in zip(corners, np.roll(corners, -1), strict=True)]


def _seen_parts(shape: Polygon, start: np.ndarray, end: np.ndarray, angle: float, least: float) -> list[Face]:
    middle = (start + end) / 2
    whole = Face("", angle, (float(middle[0]), float(middle[1])), float(math.hypot(*(end - start))))
    local = shapely.transform(shape, lambda p: (p - middle) @ np.column_stack([whole.across, whole.normal]))
    half = whole.width / 2
    far = 2 * math.hypot(*(np.ptp(np.asarray(shape.exterior.coords), axis=0))) + 1
    before = shapely.get_parts(local.intersection(shapely.box(-half, 1e-6, half, far)))
    shadows = sorted((b.bounds[0], b.bounds[2]) for b in before if b.area > 1e-9)
    seen: list[tuple[float, float]] = []
    at = -half
    for left, right in [*shadows, (half, half)]:
        if left - at >= least - 1e-9:
            seen.append((at, left))
        at = max(at, right)
    faces = []
    for left, right in seen:
        y, z = np.round(middle + (left + right) / 2 * whole.across, 9) + 0.0
        faces.append(Face("", angle, (float(y), float(z)), round(right - left, 9)))
    return faces


def _tidy_angle(angle: float) -> float:
    """The angle, in (-pi, pi], put right on an axis where rounding alone keeps it off."""
    quarter = round(angle / (math.pi / 2))
    if abs(angle - quarter * math.pi / 2) < 1e-9:
        angle = quarter * math.pi / 2
    return math.pi if angle <= -math.pi else angle + 0.0


def _direction_name(angle: float) -> str:
    degrees = math.degrees(angle) % 360
    for axis, name in AXIS_NAMES.items():
        if abs((degrees - axis + 180) % 360 - 180) <= math.degrees(SAME_DIRECTION):
            return name
    return f"slant-{round(degrees) % 360}"


def _numbered(name: str, faces: list[Face]) -> list[Face]:
    def rank(face: Face) -> tuple[float, float, tuple[float, float]]:
        outward = float(np.dot(face.centre, face.normal))
        return (-round(face.width, 6), -round(outward, 6), face.centre)

    return [
        Face(name if i == 0 else f"{name}-{i + 1}", face.angle, face.centre, face.width)
        for i, face in enumerate(sorted(faces, key=rank))
    ]


# --- metal below a face ---------------------------------------------------------------------------------


def _edges_below(section: Section, face: Face) -> tuple[np.ndarray, np.ndarray]:
    """Ends of every edge of the section in the face's (s, n), two arrays (k, 2)."""
    frame = np.column_stack([face.across, face.normal])
    starts, ends = [], []
    for ring in (section.shape.exterior, *section.shape.interiors):
        local = (shapely.get_coordinates(ring) - np.asarray(face.centre)) @ frame
        starts.append(local[:-1])
        ends.append(local[1:])
    return np.vstack(starts), np.vstack(ends)


def _crossings(starts: np.ndarray, ends: np.ndarray, s: float) -> np.ndarray:
    """n of every crossing of the line at s with the edges, from the outside in."""
    hit = (starts[:, 0] <= s) != (ends[:, 0] <= s)
    a, b = starts[hit], ends[hit]
    n = a[:, 1] + (s - a[:, 0]) / (b[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    return np.sort(np.round(n, 9) + 0.0)[::-1]


def metal_below(section: Section, face: Face, s: float) -> tuple[tuple[float, float], ...]:
    """Metal met going in from the face at s, mm: intervals (n_top, n_bottom), n <= 0, outermost first.

    Empty where no metal lies below the face's plane at s. Metal that stands out over the plane is cut off
    at n = 0.
    """
    n = _crossings(*_edges_below(section, face), s)
    pairs = zip(n[0::2], n[1::2], strict=True)
    return tuple((min(float(top), 0.0), float(bottom)) for top, bottom in pairs if bottom < -1e-9)


def wall_thickness(section: Section, face: Face, s: float) -> float:
    """Thickness of the metal right below the face at s, mm; 0 where there is none at the face itself."""
    below = metal_below(section, face, s)
    if not below or below[0][0] < -1e-6:
        return 0.0
    return -below[0][1]


def wall_range(section: Section, face: Face, left: float, right: float) -> tuple[float, float, float]:
    """Least and greatest thickness of the wall from s = left to right, mm, and the share of the width that has the least.

    Exact for a section of straight edges: the thickness is linear between the outline's corners.
    """
    starts, ends = _edges_below(section, face)
    inside = starts[:, 0][(starts[:, 0] > left + 1e-7) & (starts[:, 0] < right - 1e-7)]
    cuts = np.unique(np.round(np.concatenate([[left, right], inside]), 7))
    pieces = []
    for a, b in pairwise(cuts):
        if b - a < 3e-7:
            continue
        ends_of_piece = []
        for s in (a + 1e-7, b - 1e-7):
            n = _crossings(starts, ends, s)
            below = [(t, u) for t, u in zip(n[0::2], n[1::2], strict=True) if u < -1e-9]
            ends_of_piece.append(-below[0][1] if below and below[0][0] > -1e-6 else 0.0)
        pieces.append((b - a, *ends_of_piece))
    table = np.array(pieces)
    least, most = float(table[:, 1:].min()), float(table[:, 1:].max())
    flat = (table[:, 1:] < least + 0.02).all(axis=1)
    return round(least, 9), round(most, 9), float(table[flat, 0].sum() / table[:, 0].sum())
