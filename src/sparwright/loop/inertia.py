"""Mass of a section and how it lies: of the plain section from its outline, of a pocketed one by taking out the pockets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.stock.model import Face, FieldBay, Member


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
    whole = plain_inertia(member.section.shape, density)
    total = np.array([whole.mass, *whole.first, *whole.second])
    for bay in bays:
        face = member.section.face(bay.face)
        for outline in bay.outlines:
            total -= density / bay.pitch * _pocket_moments(outline, bay.depth, face)
    return Inertia(total[0], (total[1], total[2]), (total[3], total[4], total[5]))


def _pocket_moments(outline: Polygon, depth: float, face: Face) -> np.ndarray:
    """(6,) volume and its moments y, z, yy, zz, yz of a pocket with its outline in (x, s), cut in from a face."""
    A, _, s, _, ss, _ = area_moments(outline)
    # n runs from -depth at the floor to 0 at the face; p = (s, n), and (y, z) = centre + p @ turn.
    volume = A * depth
    first = np.array([s * depth, -A * depth**2 / 2])
    sn = -s * depth**2 / 2
    second = np.array([[ss * depth, sn], [sn, A * depth**3 / 3]])
    turn = np.array([face.across, face.normal])
    centre = np.asarray(face.centre)
    moved = volume * centre + first @ turn
    mixed = np.outer(centre, first @ turn)
    tensor = volume * np.outer(centre, centre) + mixed + mixed.T + turn.T @ second @ turn
    return np.array([volume, *moved, tensor[0, 0], tensor[1, 1], tensor[0, 1]])
