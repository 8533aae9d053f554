"""Where the member lies on the bed: poses, pads, clamps, and the setup of each side.

Bed frame: ISO 841, X and Y in the table from the left front corner of the reach, Z up. A setup's work zero
(G54) is X0 Y0 at that corner and Z0 on the face being cut. Lengths mm, angles radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.answers import Finding


@dataclass(frozen=True)
class Pose:
    """Bed position of the face point (x = 0, s = 0), and the angle of the member's x axis from +X."""

    x: float
    y: float
    angle: float

    def to_bed(self, xs: np.ndarray) -> np.ndarray:
        """Face points (x, s), shape (k, 2), as bed points (X, Y), shape (k, 2)."""
        p = np.asarray(xs, dtype=float)
        c, s = math.cos(self.angle), math.sin(self.angle)
        return np.column_stack([self.x + p[:, 0] * c - p[:, 1] * s, self.y + p[:, 0] * s + p[:, 1] * c])

    def to_face(self, bed: np.ndarray) -> np.ndarray:
        """Bed points (X, Y), shape (k, 2), as face points (x, s), shape (k, 2)."""
        d = np.asarray(bed, dtype=float) - (self.x, self.y)
        c, s = math.cos(self.angle), math.sin(self.angle)
        return np.column_stack([d[:, 0] * c + d[:, 1] * s, -d[:, 0] * s + d[:, 1] * c])


@dataclass(frozen=True)
class Pad:
    """A piece of sheet on the bed. Rectangles in the member's (x, s) axes of the pose they are cut for.

    x, s: from and to of the sheet. slot: from and to across (s) of the locating slot for each side, by side
    name; it runs the whole length of the pad. slot_depth: below the pad's top. locates: whether its slot walls
    locate (else it only carries). inserts: (x, s) of clamp-insert holes the machine bores; by_hand: (x, s) of
    those out of its reach, drilled by hand from the pad's drawing. stop: (x, s) of a stop-pin hole, or None.
    """

    name: str
    x: tuple[float, float]
    s: tuple[float, float]
    thickness: float
    slot: dict[str, tuple[float, float]]
    slot_depth: float
    locates: bool
    inserts: tuple[tuple[float, float], ...] = ()
    insert_diameter: float = 0.0
    stop: tuple[float, float] | None = None
    stop_diameter: float = 0.0
    by_hand: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Clamp:
    """A strap over the member: its footprint as a polygon in the side's (x, s), and its top over the face, mm."""

    name: str
    footprint: Polygon
    top: float
    at: tuple[float, float]
    force_N: float
    torque_Nm: float
    screw: str


@dataclass(frozen=True)
class Setup:
    """One side (and station) on the bed.

    side: its name, the face that is up. pose: of that face. face_height: of the face over the bed's surface.
    pad_top: of the pads' top over the bed's surface. body: outline of the member in the face's (x, s).
    order: 1 for the first side cut. flip: how the member gets here, in plain words. pads and body are in this
    setup's own (x, s). dowel: (x, s) of a dowel held in the collet as the stop where no pin's hole is in reach.
    """

    side: str
    face: str
    order: int
    station: int
    pose: Pose
    face_height: float
    pad_top: float
    body: Polygon
    pads: tuple[Pad, ...]
    clamps: tuple[Clamp, ...]
    flip: str
    zero: str
    dowel: tuple[float, float] | None = None


@dataclass(frozen=True)
class Taken:
    """The pose the job is cut in, of its first side, its margin in mm (negative: what is missing), what holds it."""

    pose: Pose
    margin: float
    limited_by: str


@dataclass(frozen=True)
class Fit:
    """Result of the search for a pose: question 2.

    angles: allowed angle intervals (low, high), radians. best: the pose of greatest margin, None where none fits.
    margin: least distance of a needed cutter-centre position to the end of the reach, or of the member's body to an
    upright, mm (negative: how much is missing at the best angle). Angles lie in 0 to 180 degrees: the pose turned
    end for end reaches the same points. limited_by: what holds the margin in plain words. stations: x ranges of the
    stations where one pose does not do; one entry (whole length) where it does. taken: the pose the job is cut in: the
    one it names, else straight where that leaves room, else the best; None where nothing is cut.
    """

    fits: bool
    best: Pose | None
    margin: float
    limited_by: str
    angles: tuple[tuple[float, float], ...]
    stations: tuple[tuple[float, float], ...]
    taken: Taken | None = None


@dataclass(frozen=True)
class Placement:
    """How the whole job lies on the bed: fit, setups in the order they are cut, and the findings of 2 and 3."""

    fit: Fit
    setups: tuple[Setup, ...]
    fit_findings: tuple[Finding, ...]
    hold_findings: tuple[Finding, ...]
