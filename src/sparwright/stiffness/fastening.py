"""Screws, threads and clamps on walls: what strips, what is pressed in, what bends a hollow wall.

All loads in N, lengths in mm, torque in N m, stress in MPa. Thread geometry: ISO 965-1 tolerance formulas 6H/6g (from memory, limits
checked against printed tables), before their rounding.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparwright.answers import BadInput
from sparwright.job.models import Material
from sparwright.stock.threads import Thread

# Proof stress of a screw of property class 8.8, MPa: ISO 898-1 (580 up to M16, seen in an example; 600 in another).
PROOF_88 = 580.0
# Share of the proof load a screw is usually tightened to: common practice, no source.
TIGHTENED = 0.7
# K of T = K F d: 0.20 to 0.25 seen dry, 0.15 to 0.20 oiled. The low end gives the greatest force of a torque.
TORQUE_DRY, TORQUE_OILED = 0.20, 0.15
# Shear strength over tensile strength: von Mises' rule. 6061-T6 has 207/310 = 0.67 in an open material table, so this is low.
SHEAR = 1 / math.sqrt(3)
# Diameter ranges of ISO 965-1, mm (from memory).
RANGES = (1.4, 2.8, 5.6, 11.2, 22.4)
# Coefficient of deflection P b²/D in the middle of a long plate under a point load, long edges built in and hinged (Timoshenko and
# Woinowsky-Krieger; found again by series in the tests).
STRIP_BUILT_IN, STRIP_HINGED = 0.00725, 0.01695
# Constant of Westergaard's stress in the middle of a long plate, edges built in and hinged (Roark, tables of rectangular plates, from
# memory; the hinged one found again by series in the tests).
MIDDLE_BUILT_IN, MIDDLE_HINGED = 0.067, 1.0


def tensile_area(thread: Thread) -> float:
    """Stress area of a screw, mm²: pi/4 (d - 0.9382 P)² (ISO 898-1)."""
    return math.pi / 4 * (thread.diameter - 0.9382 * thread.pitch) ** 2


def usual_preload(thread: Thread) -> float:
    """Force a screw of class 8.8 is usually tightened to, N: 0.7 of its proof load."""
    return TIGHTENED * PROOF_88 * tensile_area(thread)


def torque_for(force: float, thread: Thread, factor: float = TORQUE_DRY) -> float:
    """Tightening torque, N m: T = K F d. The force of a given torque scatters by 25 to 30 %."""
    return factor * force * thread.diameter / 1000


@dataclass(frozen=True)
class ThreadLimits:
    """Limits of one thread pair 6H/6g that stripping goes by, mm.

    major_min, pitch_min: least major and pitch diameter of the screw; pitch_max, minor_max: greatest pitch and minor diameter of the hole.
    """

    major_min: float
    pitch_min: float
    pitch_max: float
    minor_max: float


def thread_limits(thread: Thread) -> ThreadLimits:
    """Limits of a coarse thread pair 6H/6g: ISO 965-1 formulas before rounding, within 0.015 mm of its tables."""
    d, P = thread.diameter, thread.pitch
    i = next(k for k, top in enumerate(RANGES[1:]) if d <= top)
    middle = math.sqrt(RANGES[i] * RANGES[i + 1])
    es = -(15 + 11 * P) / 1000
    T_pitch = 90 * P**0.4 * middle**0.1 / 1000
    T_major = (180 * P ** (2 / 3) - 3.15 / math.sqrt(P)) / 1000
    T_minor = (433 * P - 190 * P**1.22 if P <= 0.8 else 230 * P**0.7) / 1000
    pitch = d - 0.649519 * P
    return ThreadLimits(
        major_min=d + es - T_major,
        pitch_min=pitch + es - T_pitch,
        pitch_max=pitch + 1.32 * T_pitch,
        minor_max=d - 1.082532 * P + T_minor,
    )


def hole_shear_area(thread: Thread, engaged: float) -> float:
    """Area that shears when the hole's thread strips, mm²: (pi/P) L D [P/2 + 0.57735 (D - E)], worst pair of limits.

    D the screw's least major, E the hole's greatest pitch diameter (FED-STD-H28 form, from memory).
    """
    m, P = thread_limits(thread), thread.pitch
    return math.pi / P * engaged * m.major_min * (P / 2 + 0.57735 * (m.major_min - m.pitch_max))


def strip_load(thread: Thread, engaged: float, material: Material) -> float:
    """Pull that strips a thread cut in `material`, N: shear strength times hole_shear_area.

    A thin wall also opens out a little under the pull, which is not in it: keep the reserve that the finding asks.
    """
    return SHEAR * material.tensile_strength * hole_shear_area(thread, engaged)


def head_pressure(force: float, head: float, hole: float) -> float:
    """Mean pressure under a screw head or washer `head` across over a hole, MPa.

    Raises BadInput where the head is not wider than the hole.
    """
    if head <= hole:
        raise BadInput(
            f"a head {head:g} mm across does not cover a hole of {hole:g} mm: use a washer wider than the hole"
        )
    return force / (math.pi / 4 * (head**2 - hole**2))


def patch_radius(radius: float, thickness: float) -> float:
    """Radius by which a small loaded patch bends a plate: sqrt(1.6 r² + t²) - 0.675 t below r = t/2, else r (Westergaard)."""
    if radius >= 0.5 * thickness:
        return radius
    return math.sqrt(1.6 * radius**2 + thickness**2) - 0.675 * thickness


def wall_bending(
    force: float, width: float, thickness: float, radius: float, poisson: float
) -> tuple[float, float]:
    """Bending stress in the middle of a long wall under a force on a round patch, long edges built in and hinged, MPa.

    3 P/(2 pi t²) [(1 + nu) ln(2 b/(pi r')) + c], c 0.067 and 1 (Westergaard; Roark). A tube's wall lies between: its side walls turn with it.
    Holds for a patch well inside the wall (r under b/3), a wall longer than 1.5 b, and until the metal yields. Raises BadInput
    for a patch wider than the wall or a measure not above 0.
    """
    if not (width > 0 and thickness > 0 and 0 <= radius < width / 2):
        raise BadInput(
            f"a patch of radius {radius:g} mm on a wall {width:g} mm wide and {thickness:g} mm thick: width and thickness must be above 0 "
            "and the patch narrower than the wall"
        )
    unit = 3 * force / (2 * math.pi * thickness**2)
    bend = (1 + poisson) * math.log(2 * width / (math.pi * patch_radius(radius, thickness)))
    return unit * max(bend + MIDDLE_BUILT_IN, 0.0), unit * max(bend + MIDDLE_HINGED, 0.0)


def wall_give(force: float, width: float, thickness: float, material: Material) -> tuple[float, float]:
    """How far that wall's middle moves, long edges built in and hinged, mm: c P b²/D."""
    plate = material.modulus * thickness**3 / (12 * (1 - material.poisson**2))
    return STRIP_BUILT_IN * force * width**2 / plate, STRIP_HINGED * force * width**2 / plate


def side_wall_load(height: float, side: float, length: float, material: Material) -> float:
    """Force a side wall stands under a foot right over it, N: until it is pressed in over the foot's length alone, or buckles.

    Proof strength x side x length, at most 0.9 x 6 E t³/h (form of EN 1993-1-5 6.4, long panel, from memory).
    """
    return min(material.proof_strength * side * length, 5.4 * material.modulus * side**3 / height)
