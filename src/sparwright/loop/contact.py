"""Stiffness of a machine's small parts in closed form: rolling contact, belts, screws, bolted joints.

Lengths mm, forces N, moduli MPa, stiffness N/mm. Every function raises ValueError where a size is not above 0 or
a place lies outside its span.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


def contact_modulus(
    modulus: float, poisson: float, other_modulus: float = math.inf, other_poisson: float = 0.0
) -> float:
    """E* of two bodies in contact, 1/E* = (1 - nu1²)/E1 + (1 - nu2²)/E2; the other is rigid where not given.

    Source: Johnson, Contact Mechanics, ch. 4.
    """
    _above_zero(modulus=modulus, other_modulus=other_modulus)
    return 1 / ((1 - poisson**2) / modulus + (1 - other_poisson**2) / other_modulus)


def joined_radius(radius: float, other: float = math.inf) -> float:
    """R of two balls or rollers in contact, 1/R = 1/R1 + 1/R2; the other is flat where not given.

    A ball in a groove: a negative radius for the hollow side. Source: Johnson, Contact Mechanics, ch. 4.
    """
    curve = 1 / radius + 1 / other
    if not curve > 0:
        raise ValueError("two radii that fit into each other touch nowhere in particular")
    return 1 / curve


@dataclass(frozen=True)
class BallContact:
    """A ball pressed on a flat: contact radius mm, peak pressure MPa, approach mm, stiffness N/mm at this force."""

    radius: float
    pressure: float
    approach: float
    stiffness: float


def ball_contact(force: float, radius: float, modulus: float) -> BallContact:
    """Hertz: a³ = 3 F R / 4 E*, p0 = 3 F / 2 pi a², approach a²/R, slope dF/d(approach) = 2 E* a.

    radius and modulus: R and E* of the pair (`joined_radius`, `contact_modulus`).
    Source: Johnson, Contact Mechanics, ch. 4.
    """
    _above_zero(force=force, radius=radius, modulus=modulus)
    a = (3 * force * radius / (4 * modulus)) ** (1 / 3)
    return BallContact(a, 3 * force / (2 * math.pi * a * a), a * a / radius, 2 * modulus * a)


@dataclass(frozen=True)
class LineContact:
    """A roller pressed on a flat: half width mm, peak pressure MPa."""

    half_width: float
    pressure: float


def line_contact(force_per_mm: float, radius: float, modulus: float) -> LineContact:
    """Hertz: b = sqrt(4 P' R / pi E*), p0 = 2 P' / pi b, for P' N per mm of roller.

    The approach of a line contact depends on how far off it is measured, so none is given.
    Source: Johnson, Contact Mechanics, ch. 4.
    """
    _above_zero(force_per_mm=force_per_mm, radius=radius, modulus=modulus)
    b = math.sqrt(4 * force_per_mm * radius / (math.pi * modulus))
    return LineContact(b, 2 * force_per_mm / (math.pi * b))


def belt_stiffness(EA: float, x: float, L: float, *, slack: bool = False) -> float:
    """A belt fixed at both ends of a span L, the carriage clamped to it at x: EA (1/x + 1/(L - x)), N/mm.

    EA: the belt's specific stiffness, N per unit of strain. slack: with the span beyond x slack, as where the
    pull exceeds twice the tension, EA/x. Least at mid-span, 4 EA/L. Source: springs side by side.
    """
    _above_zero(EA=EA)
    _inside(x, L)
    return EA / x if slack else EA * L / (x * (L - x))


def looped_belt_stiffness(EA: float, x: float, L: float, loop: float) -> float:
    """A closed belt over a driven and an idle pulley, the carriage at x from the driven one: N/mm.

    loop: length of the whole belt. One span goes straight to the driven pulley, the other round the idle one:
    EA (1/x + 1/(loop - x)). L: between the pulleys; loop is at least 2 L. Source: springs side by side.
    """
    _above_zero(EA=EA)
    _inside(x, L)
    if loop < 2 * L:
        raise ValueError(f"a belt {loop:g} mm long does not go round pulleys {L:g} mm apart")
    return EA * loop / (x * (loop - x))


def screw_stiffness(area: float, modulus: float, x: float, L: float, both_ends: bool) -> float:
    """A screw along its axis, the nut at x from its fixed bearing: A E / x, N/mm.

    both_ends: fixed at both ends of its length L, A E L / x (L - x), least at the middle, 4 A E / L.
    area: of the root, mm². Nut and bearings come in series. Source: lecture notes on machine-tool drives,
    University of Utah, EN 7960.
    """
    _above_zero(area=area, modulus=modulus)
    if not both_ends:
        if not 0 < x <= L:
            raise ValueError(f"the nut at {x:g} mm is not on a screw of {L:g} mm")
        return area * modulus / x
    _inside(x, L)
    return area * modulus * L / (x * (L - x))


def screw_twist_stiffness(root: float, shear_modulus: float, x: float, lead: float) -> float:
    """What the screw's own twist gives along its axis, N/mm, with its root diameter and its lead in mm.

    Twist stiffness G J / x over (lead / 2 pi)²; in series with the axial one. Source: the screw as a lever
    without friction, own derivation.
    """
    _above_zero(root=root, shear_modulus=shear_modulus, x=x, lead=lead)
    return shear_modulus * math.pi * root**4 / 32 / x * (2 * math.pi / lead) ** 2


def in_series(*stiffnesses: float) -> float:
    """Springs one behind the other, N/mm."""
    _above_zero(**{f"stiffness {i + 1}": k for i, k in enumerate(stiffnesses)})
    return 1 / sum(1 / k for k in stiffnesses)


def stress_area(diameter: float, pitch: float) -> float:
    """Tensile stress area of an ISO metric thread, pi/4 (d - 0.9382 P)², mm². Source: ISO 898-1."""
    _above_zero(diameter=diameter, pitch=pitch)
    return math.pi / 4 * (diameter - 0.9382 * pitch) ** 2


def preload(torque: float, diameter: float, nut_factor: float = 0.2) -> float:
    """Preload N of a bolt tightened by `torque` N mm: T = K F d. K scatters by 25 to 30 % (common practice)."""
    _above_zero(torque=torque, diameter=diameter, nut_factor=nut_factor)
    return torque / (nut_factor * diameter)


@dataclass(frozen=True)
class BoltedJoint:
    """Stiffness of bolt and of the parts it clamps, N/mm; share: of an outer pull that the bolt takes."""

    bolt: float
    parts: float
    share: float


def bolted_joint(
    diameter: float,
    area: float,
    bolt_modulus: float,
    grip: float,
    head: float,
    parts_modulus: float,
    half_angle: float = math.radians(30),
) -> BoltedJoint:
    """Bolt A E / L; clamped parts as two mirrored cones from the head, `half_angle` radians, over the grip.

    km = pi E d tan a / 2 ln[((L tan a + D - d)(D + d)) / ((L tan a + D + d)(D - d))]; share C = kb/(kb + km).
    The cones must fit inside the parts. Source: Shigley, Mechanical Engineering Design, ch. 8 (from memory),
    general form.
    """
    _above_zero(
        diameter=diameter, area=area, bolt_modulus=bolt_modulus, grip=grip, parts_modulus=parts_modulus
    )
    if not head > diameter:
        raise ValueError(f"a head {head:g} mm across does not hold on a hole of {diameter:g} mm")
    spread = grip * math.tan(half_angle)
    log = math.log(
        (spread + head - diameter) * (head + diameter) / ((spread + head + diameter) * (head - diameter))
    )
    parts = math.pi * parts_modulus * diameter * math.tan(half_angle) / (2 * log)
    bolt = area * bolt_modulus / grip
    return BoltedJoint(bolt, parts, bolt / (bolt + parts))


def _above_zero(**sizes: float) -> None:
    for name, size in sizes.items():
        if not size > 0:
            raise ValueError(f"{name.replace('_', ' ')} is {size:g}; allowed: above 0")


def _inside(x: float, L: float) -> None:
    if not 0 < x < L:
        raise ValueError(f"x = {x:g} mm lies outside the span; allowed: above 0 and below {L:g} mm")
