"""Strap clamps: where they press, where their screws stand, and what they do to force and torque.

A strap lies on the member with its toe, on a heel block with its other end, and is pulled down by a screw in
between. It may lie across the member or askew, with the screw nearer the member's middle than the toe, so that
the screw's hole stays in the machine's reach.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

STRAP_THICKNESS = 8.0
"""mm, common practice, no source."""
HEAD_HEIGHT = 6.0
"""Screw head over the strap, mm (ISO 4762 M6: head as high as the screw is thick)."""
STRAP_WIDTH = {"M5": 16.0, "M6": 20.0, "M8": 25.0}
"""mm, about 3.3 times the screw (common practice, no source)."""
NOMINAL = {"M5": 5.0, "M6": 6.0, "M8": 8.0}
TORQUE_FACTOR = 0.2
"""K of T = K F d, dry; 0.15 oiled to 0.25 dry are seen, so the force scatters by a quarter either way."""
SCATTER = 0.25
TOE = 4.0
"""From the flat's edge to the middle of the toe's contact, mm; the toe reaches as far again."""
HOLE_WALL = 6.0
"""Least pad material between a screw's hole and the slot, mm (common practice, no source)."""
HEEL = 8.0
"""From the heel's contact to the end of the strap, mm."""


@dataclass(frozen=True)
class Strap:
    """One strap in (x, t) or (x, s): contact on the member, screw, and heel, mm."""

    contact: tuple[float, float]
    screw: tuple[float, float]
    heel: tuple[float, float]
    width: float

    def moved(self, ds: float) -> Strap:
        """The same strap with ds added across."""
        (c, u), (x, v), (h, w) = self.contact, self.screw, self.heel
        return Strap((c, u + ds), (x, v + ds), (h, w + ds), self.width)

    @property
    def lever(self) -> float:
        """Share of the screw's force that reaches the member: a / (a + b), a screw to heel, b screw to contact."""
        a, b = math.dist(self.screw, self.heel), math.dist(self.screw, self.contact)
        return work_force(1.0, a, b)

    @property
    def footprint(self) -> Polygon:
        """The strap from above, from its toe to its end."""
        start, end = np.array(self.contact), np.array(self.heel)
        along = (end - start) / np.linalg.norm(end - start)
        side = np.array([-along[1], along[0]]) * self.width / 2
        toe, back = start - TOE * along, end + HEEL * along
        return Polygon([toe - side, back - side, back + side, toe + side])


def strap_at(
    contact: tuple[float, float], screw: tuple[float, float], pad_edge: float, width: float
) -> Strap:
    """A strap over contact and screw, its heel in line with them near the pad's edge (t = ±pad_edge), mm.

    Where the pad leaves less room than the toe's lever arm the heel stands as far behind the screw as the contact
    is in front, on a block of its own.
    """
    c, b = np.array(contact), np.array(screw)
    along = (b - c) / np.linalg.norm(b - c)
    room = (pad_edge - HEEL - abs(b[1])) / max(abs(along[1]), 1e-9)
    arm = float(np.linalg.norm(b - c))
    heel = b + along * (min(room, 3 * arm) if room >= arm else arm)
    return Strap(contact, screw, (float(heel[0]), float(heel[1])), width)


def work_force(bolt_force: float, a: float, b: float) -> float:
    """Force on the work of a strap on a heel block: F a / (a + b), a from bolt to heel, b from bolt to work."""
    return bolt_force * a / (a + b)


def screw_torque(force: float, screw: str) -> float:
    """Tightening torque for a screw force in N: T = K F d, N m (checked against the long form of VDI 2230-1)."""
    return TORQUE_FACTOR * force * NOMINAL[screw] / 1000


def clamps_needed(cutting: float, lift: float, friction: float, work: float, safety: float) -> float:
    """Number of clamps of force `work` against a cutting force and a lift, all N: (S F / mu + S U) / W (Coulomb)."""
    return safety * (cutting / friction + lift) / work
