"""Mass of a section and how it lies: of the plain section from its outline, of a pocketed one by taking out the pockets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon, box

from sparwright.stock.model import Face, FieldBay, Hole, Member, Pocket, Section
from sparwright.stock.outlines import circle
from sparwright.stock.section import metal_below

HOLE_CHORD = 0.005  # mm, greatest error of a hole's chords


@dataclass(frozen=True)
class Inertia:
    """Mass per length and its first and second moments in the section's frame.

    mass: t/mm. first: (y, z) moments, t. second: (yy, zz, yz) moments, t mm, about the frame's origin.
    """

    mass: float
    first: tuple[float, float]
    second: tuple[float, float, float]

    def about(self, axis: tuple[float, float]) -> np.ndarray:
        """(6, 6) mass per length for motions (u, v, w, tx, ty, tz) of the axis (y, z); t/mm, t and t mm."""
        ya, za = axis
        m = self.mass
        my, mz = self.first[0] - m * ya, self.first[1] - m * za
        yy = self.second[0] - 2 * ya * self.first[0] + m * ya * ya
        zz = self.second[1] - 2 * za * self.first[1] + m * za * za
        yz = self.second[2] - ya * self.first[1] - za * self.first[0] + m * ya * za
        return np.array(
            [
                [m, 0, 0, 0, mz, -my],
                [0, m, 0, -mz, 0, 0],
                [0, 0, m, my, 0, 0],
                [0, -mz, my, yy + zz, 0, 0],
                [mz, 0, 0, 0, zz, -yz],
                [-my, 0, 0, 0, -yz, yy],
            ]
        )

    def scaled(self, mass: float) -> Inertia:
        """The same spread of mass with another mass per length, t/mm."""
        k = mass / self.mass
        y, z = self.first
        yy, zz, yz = self.second
        return Inertia(mass, (y * k, z * k), (yy * k, zz * k, yz * k))


def area_moments(shape: Polygon) -> np.ndarray:
    """(6,) moments of an area with its holes taken out: A, int a, int b, int aa, int bb, int ab.

    Green's theorem on straight edges, exact for a polygon (any handbook of mechanics).
    """
    total = np.zeros(6)
    for ring, sign in ((shape.exterior, 1.0), *((hole, -1.0) for hole in shape.interiors)):
        a, b = np.asarray(ring.coords, dtype=float)[:, :2].T
        cross = a[:-1] * b[1:] - a[1:] * b[:-1]
        a0, a1, b0, b1 = a[:-1], a[1:], b[:-1], b[1:]
        moments = np.array(
            [
                cross.sum() / 2,
                ((a0 + a1) * cross).sum() / 6,
                ((b0 + b1) * cross).sum() / 6,
                ((a0 * a0 + a0 * a1 + a1 * a1) * cross).sum() / 12,
                ((b0 * b0 + b0 * b1 + b1 * b1) * cross).sum() / 12,
                ((a0 * b1 + 2 * a0 * b0 + 2 * a1 * b1 + a1 * b0) * cross).sum() / 24,
            ]
        )
        total += sign * np.sign(moments[0]) * moments
    return total


def plain_inertia(shape: Polygon, density: float) -> Inertia:
    """Inertia of a plain section (y, z); density t/mm3."""
    A, y, z, yy, zz, yz = density * area_moments(shape)
    return Inertia(A, (y, z), (yy, zz, yz))


def worked_inertia(member: Member, density: float, bays: Sequence[FieldBay]) -> Inertia:
    """Inertia of the section with the pockets of these bays taken out, their mean along x; density t/mm3."""
    total = _as_vector(plain_inertia(member.section.shape, density))
    for bay in bays:
        face = member.section.face(bay.face)
        for outline in bay.outlines:
            total -= density / bay.pitch * _cut_moments(outline, (-bay.depth, 0.0), face)
    return _as_inertia(total)


def part_inertia(member: Member, density: float, start: float, end: float) -> Inertia:
    """Inertia from x = start to end with every pocket, hole and notch taken out, their mean along x; density t/mm3.

    A feature that reaches over an end counts with its part inside. Edge breaks are left out.
    """
    total = _as_vector(plain_inertia(member.section.shape, density))
    for copies, outline, depth, face in _cuts(member, start, end):
        total -= copies * density / (end - start) * _cut_moments(outline, depth, face)
    return _as_inertia(total)


def _as_vector(i: Inertia) -> np.ndarray:
    return np.array([i.mass, *i.first, *i.second])


def _as_inertia(v: np.ndarray) -> Inertia:
    mass, y, z, yy, zz, yz = (float(c) for c in v)
    return Inertia(mass, (y, z), (yy, zz, yz))


# How many alike, outline in (x, s), from and to along n, and face of a piece of metal taken out.
_Taken = tuple[int, Polygon, tuple[float, float], Face]


def _cuts(member: Member, start: float, end: float) -> Iterator[_Taken]:
    """Every piece of metal taken between start and end; pockets alike in one row are told once, with their number."""
    section = member.section
    alike: dict[tuple[object, ...], list[Pocket]] = {}
    pieces: list[tuple[Polygon, tuple[float, float], Face]] = []
    for p in member.pockets:
        low, _, high, _ = p.outline.bounds
        if start <= low and high <= end:
            alike.setdefault((p.face, p.shape_key, round(p.origin[1], 9), p.depth), []).append(p)
        else:
            pieces.append((p.outline, (-p.depth, 0.0), section.face(p.face)))
    for same in alike.values():
        yield len(same), same[0].outline, (-same[0].depth, 0.0), section.face(same[0].face)
    pieces += [(n.outline, (-n.depth, 0.0), section.face(n.face)) for n in member.notches]
    pieces += [piece for hole in member.holes for piece in _bored(section, hole)]
    stretch = box(start, -1e6, end, 1e6)
    for outline, depth, face in pieces:
        low, _, high, _ = outline.bounds
        if high <= start or low >= end:
            continue
        inside = outline.intersection(stretch)
        for piece in getattr(inside, "geoms", [inside]):
            if isinstance(piece, Polygon) and piece.area > 0:
                yield 1, piece, depth, face


def _bored(section: Section, hole: Hole) -> Iterator[tuple[Polygon, tuple[float, float], Face]]:
    """A hole's metal: each wall it goes through, and what its counterbore takes round it."""
    face = section.face(hole.face)
    core = Polygon(circle(hole.diameter / 2, HOLE_CHORD) + np.asarray(hole.at))
    walls = [(max(low, -hole.depth), top) for top, low in metal_below(section, face, hole.at[1])]
    for low, top in walls:
        if low < top:
            yield core, (low, top), face
    if hole.counterbore:
        wide, deep = hole.counterbore
        ring = Polygon(circle(wide / 2, HOLE_CHORD) + np.asarray(hole.at), [core.exterior.coords])
        yield ring, (-deep, 0.0), face


def _cut_moments(outline: Polygon, depth: tuple[float, float], face: Face) -> np.ndarray:
    """(6,) volume and its moments y, z, yy, zz, yz of a body with its outline in (x, s), from and to along n."""
    A, _, s, _, ss, _ = area_moments(outline)
    low, top = depth
    # Integrals of 1, n and n² over the depth; p = (s, n), and (y, z) = centre + p @ turn.
    one, n, nn = top - low, (top**2 - low**2) / 2, (top**3 - low**3) / 3
    volume = A * one
    first = np.array([s * one, A * n])
    second = np.array([[ss * one, s * n], [s * n, A * nn]])
    turn = np.array([face.across, face.normal])
    centre = np.asarray(face.centre)
    moved = volume * centre + first @ turn
    mixed = np.outer(centre, first @ turn)
    tensor = volume * np.outer(centre, centre) + mixed + mixed.T + turn.T @ second @ turn
    return np.array([volume, *moved, tensor[0, 0], tensor[1, 1], tensor[0, 1]])
