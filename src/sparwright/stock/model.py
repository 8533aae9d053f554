"""The member: a section carried along x, with features laid out on its faces.

Member frame: x along the member from its datum end, y and z across, origin at the datum end on the corner
of the section's bounding box. A face carries (x, s, n): s across the face from its centre line, n outward,
right-handed. All lengths in mm.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Material


@dataclass(frozen=True)
class Face:
    """The outer surface of a flat wall.

    angle: direction of the outward normal in the section plane, radians from +y toward +z.
    centre: (y, z) of the middle of the flat. width: of the flat, mm.
    """

    name: str
    angle: float
    centre: tuple[float, float]
    width: float

    @property
    def normal(self) -> np.ndarray:
        """Outward unit normal (y, z), shape (2,)."""
        return np.array([math.cos(self.angle), math.sin(self.angle)])

    @property
    def across(self) -> np.ndarray:
        """Unit vector (y, z) of increasing s, shape (2,); equals normal x e_x."""
        c, s = math.cos(self.angle), math.sin(self.angle)
        return np.array([s, -c])

    def to_member(self, xsn: np.ndarray) -> np.ndarray:
        """Points (x, s, n), shape (k, 3), in the member frame (x, y, z), shape (k, 3)."""
        p = np.asarray(xsn, dtype=float)
        yz = np.asarray(self.centre) + p[:, 1:2] * self.across + p[:, 2:3] * self.normal
        return np.column_stack([p[:, 0], yz])

    def from_member(self, xyz: np.ndarray) -> np.ndarray:
        """Points (x, y, z), shape (k, 3), in the face's (x, s, n), shape (k, 3)."""
        p = np.asarray(xyz, dtype=float)
        d = p[:, 1:3] - np.asarray(self.centre)
        return np.column_stack([p[:, 0], d @ self.across, d @ self.normal])


@dataclass(frozen=True)
class Section:
    """A cross-section in (y, z), its bounding box's corner at the origin.

    shape: outline with the cells as interior rings, curved parts as chords within `chord` mm.
    faces: outer flats a cutter can come down on, widest first within a direction.
    drawing: plain words for the sheets ("rectangular tube 50 x 100 x 4").
    """

    drawing: str
    shape: Polygon
    faces: tuple[Face, ...]
    chord: float = 0.005

    def face(self, name: str) -> Face:
        """The face of that name; KeyError where there is none."""
        for f in self.faces:
            if f.name == name:
                return f
        raise KeyError(name)


@dataclass(frozen=True)
class Pocket:
    """A pocket on a face.

    outline: finished outline with its corner radii, in (x, s), arcs as chords.
    corners: the sharp corner points of the outline before rounding, (k, 2) as tuples, counter-clockwise
    (empty for a round pocket); with `corner_radius` they give the outline exactly.
    shape_key: pockets with the same key are copies of one outline: `outline` = that outline shifted to
    `origin` (the turn is part of the key).
    depth: from the face to the floor, mm; for a window the wall's thickness. skin: metal left, 0 for a window.
    """

    id: str
    face: str
    field: str
    shape_key: str
    origin: tuple[float, float]
    outline: Polygon
    corners: tuple[tuple[float, float], ...]
    corner_radius: float
    depth: float
    skin: float
    edge_break: float

    @property
    def window(self) -> bool:
        """Whether no skin is left."""
        return self.skin <= 0


@dataclass(frozen=True)
class Hole:
    """A hole drilled from a face.

    diameter: of the drill or bore, mm (the tap drill for tapped holes). depth: from the face to the hole's
    end, mm (for through holes the far side of the metal). through: "wall", "all" or "blind".
    thread: nominal ("M6") or None. counterbore: (diameter, depth) or None.
    """

    id: str
    face: str
    kind: Literal["drilled", "tapped", "clearance", "counterbored"]
    at: tuple[float, float]
    diameter: float
    depth: float
    through: Literal["wall", "all", "blind"]
    thread: str | None = None
    counterbore: tuple[float, float] | None = None
    clear: float = 0.0
    edge_break: float = 0.0


@dataclass(frozen=True)
class NotchCut:
    """A notch cut through one wall from an end; outline in (x, s) runs past the end it opens to."""

    id: str
    face: str
    end: Literal["datum", "far"]
    outline: Polygon
    corner_radius: float
    depth: float
    edge_break: float


@dataclass(frozen=True)
class Dropped:
    """A pocket that was left out, and why."""

    id: str
    face: str
    at: tuple[float, float]
    reason: str


@dataclass(frozen=True)
class FieldBay:
    """The regular part of a pocket field on one face, for the stiffness of one period.

    pitch: period along x, mm. rows: rows of pockets across. outlines: the pocket outlines of one period in
    (x, s), x measured from the period's start and reaching over its ends where they do (a pocket that crosses the end is
    listed once). span: x from and to of the field on the member: the first period starts at its start, and its length
    over the pitch is the number of periods. Rows that the section itself rules out, e.g. windows over a web, are left out.
    """

    field: str
    face: str
    pitch: float
    rows: int
    outlines: tuple[Polygon, ...]
    sharp_outlines: tuple[Polygon, ...]
    depth: float
    skin: float
    span: tuple[float, float]


@dataclass(frozen=True)
class Member:
    """The member as it will be: stock, section and every feature laid out."""

    title: str
    section: Section
    length: float
    material: Material
    pockets: tuple[Pocket, ...] = ()
    holes: tuple[Hole, ...] = ()
    notches: tuple[NotchCut, ...] = ()
    dropped: tuple[Dropped, ...] = ()
    bays: tuple[FieldBay, ...] = ()
    sawn: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())

    @property
    def worked_faces(self) -> tuple[str, ...]:
        """Names of the faces that carry features, in the section's order."""
        features: tuple[Pocket | Hole | NotchCut, ...] = (*self.pockets, *self.holes, *self.notches)
        used = {f.face for f in features}
        return tuple(f.name for f in self.section.faces if f.name in used)

    def on_face(self, name: str) -> tuple[Any, ...]:
        """Pockets, holes and notches of one face, in that order."""
        features: tuple[Pocket | Hole | NotchCut, ...] = (*self.pockets, *self.holes, *self.notches)
        return tuple(f for f in features if f.face == name)
