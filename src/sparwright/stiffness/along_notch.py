"""A notch at the member's end: half of a slot twice as long, as long as the end keeps its shape.

A member in twist or bending is the mirror image of itself at the middle of a slot: there the section turns and
shifts as a rigid figure in its own plane and is free to warp out of it. That is what an end plate or a bolted-on
end does to a notched end, so the notch's constants are those of the slot. An end that nothing keeps in shape carries
no load to speak of.

Slots one larger side apart feel each other in twist, and the answer errs to the soft side: against solid ends of a
tube 80 x 40 x 4, what a notch adds to the twist came out 1 and 11 % too high for notches 30 mm deep, 14 and 30 wide,
and 28 % for one 80 mm deep. Stretch and bending are within 8 % of what they add.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.affinity import scale, translate
from shapely.geometry import Polygon

from sparwright.job.models import Material
from sparwright.stiffness.pattern import PAST_WALL, Cut, Pattern
from sparwright.stiffness.section import section_properties
from sparwright.stock.model import Member, NotchCut, Section

# How far a notch's strip runs past the wall on both sides, mm.
OVER = 0.5


def notch_pattern(member: Member, notches: Sequence[NotchCut], reach: float) -> Pattern:
    """Notches of one end, mirrored to slots, every 2 `reach` mm, their middle in the middle of the period."""
    cuts = []
    for notch in notches:
        end = 0.0 if notch.end == "datum" else member.length
        inside = notch.outline.intersection(shapely.box(0.0, -1e6, member.length, 1e6))
        slot = shapely.union_all([inside, scale(inside, -1.0, 1.0, origin=(end, 0.0))]).simplify(1e-9)
        outline = translate(slot, reach - end)
        cuts.append(Cut(member.section.face(notch.face), outline, notch.depth + PAST_WALL))
    return Pattern(2 * reach, 0.0, tuple(cuts))


def open_twist_stiffness(section: Section, material: Material, notches: Sequence[NotchCut]) -> float:
    """GJ of the section with the notches' strips taken out and free to warp, N mm²: the least that twist can find.

    Where strips cut the section into pieces, each twists on its own.
    """
    left = section.shape
    for notch in notches:
        left = left.difference(_strip(section, notch))
    pieces = [g for g in getattr(left, "geoms", [left]) if isinstance(g, Polygon) and g.area > 1e-3]
    return sum(section_properties(replace(section, shape=piece), material).GJ for piece in pieces)


def _strip(section: Section, notch: NotchCut) -> Polygon:
    """What the notch takes of the section plane."""
    face = section.face(notch.face)
    _, low, _, high = notch.outline.bounds
    sn = [(low, OVER), (high, OVER), (high, -notch.depth - OVER), (low, -notch.depth - OVER)]
    return Polygon(face.to_member(np.array([(0.0, s, n) for s, n in sn]))[:, 1:])
