"""What rigidly held ends give a member with windows in twist: a bonus to be shown, never to be relied on."""

from __future__ import annotations

import math

import numpy as np

from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member
from sparwright.stock.walls import find_walls

# How alike the two walls without windows must be, as a share of their thickness.
ALIKE = 0.05


def held_end_length(thickness: float, height: float, apart: float, modulus: float, GJ: float) -> float:
    """Length mm by which each rigidly held end shortens a member with windows in two opposite walls, in twist.

    lambda = sqrt(E I b² / 2 GJ): when the section twists, the two remaining walls bend in their own planes against
    each other. I = thickness height³ / 12 of one remaining wall, b = `apart`, the distance of their mid-planes;
    GJ of the member with its windows, N mm². Own derivation; for one tube with hexagon windows it gave 72 mm where
    whole members in solid elements gave 71, and with skins it is too high (27 against 17). Tried on no other design.
    """
    if min(thickness, height, apart, modulus, GJ) <= 0:
        raise ValueError("sizes, modulus and GJ must be above 0")
    inertia = thickness * height**3 / 12
    return math.sqrt(modulus * inertia * apart**2 / (2 * GJ))


def held_end_bonus(member: Member, reworked: BeamProperties) -> float | None:
    """`held_end_length` of a member, mm; None where it is not the case the formula was made for.

    That case: windows, without skins, in two opposite faces and nowhere else, and just two more walls, alike and
    square to those.
    """
    if not member.bays or any(b.skin > 0 for b in member.bays):
        return None
    faces = [member.section.face(name) for name in dict.fromkeys(b.face for b in member.bays)]
    if len(faces) != 2 or faces[0].normal @ faces[1].normal > -1 + 1e-6:
        return None
    up = faces[0].normal
    found = find_walls(member.section)
    standing = [w for w in found.walls if abs(w.along @ up) > 1 - 1e-6]
    lying = [w for w in found.walls if w not in standing]
    if len(standing) != 2 or len(lying) != 2 or any(abs(w.along @ up) > 1e-6 for w in lying):
        return None
    thickness = [w.thickness for w in standing]
    if max(thickness) > (1 + ALIKE) * min(thickness):
        return None
    apart = abs(float((np.array(standing[0].start) - np.array(standing[1].start)) @ faces[0].across))
    corners = np.asarray(member.section.shape.exterior.coords)[:, :2] @ up
    return held_end_length(
        min(thickness), float(np.ptp(corners)), apart, member.material.modulus, reworked.GJ
    )
