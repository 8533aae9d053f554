"""Where the centre of an arc lies, in the arc's plane: NIST IR 6556, section 3.5.3.

Nothing but sums, products and square roots, whose results are the same on every machine to the last bit: these
functions serve both ways through a program, once as they stand and once compiled; so none calls another.
"""

from __future__ import annotations

import math

from sparwright.program.limits import CLOSED

FITS, NO_RADIUS, RADII_DIFFER, NO_CHORD, TOO_SMALL = 0, 1, 2, 3, 4


def apart(pu: float, pv: float, qu: float, qv: float) -> float:
    """Distance of two points of a plane."""
    return math.sqrt((qu - pu) * (qu - pu) + (qv - pv) * (qv - pv))


def judge_centre(
    pu: float, pv: float, qu: float, qv: float, cu: float, cv: float, tolerance: float
) -> tuple[int, float, float]:
    """Whether an arc from p to q can have its centre at c: FITS, NO_RADIUS or RADII_DIFFER, and both radii."""
    first = math.sqrt((cu - pu) * (cu - pu) + (cv - pv) * (cv - pv))
    last = math.sqrt((cu - qu) * (cu - qu) + (cv - qv) * (cv - qv))
    if first == 0.0:
        return NO_RADIUS, first, last
    if abs(first - last) > tolerance:
        return RADII_DIFFER, first, last
    return FITS, first, last


def centre_by_radius(
    pu: float, pv: float, qu: float, qv: float, radius: float, clockwise: bool, tolerance: float
) -> tuple[int, float, float]:
    """The centre of an arc from p to q given by its radius, negative for the long way round.

    FITS and the centre's two coordinates; else NO_CHORD, NO_RADIUS or TOO_SMALL, and the chord's length twice.
    """
    chord = math.sqrt((qu - pu) * (qu - pu) + (qv - pv) * (qv - pv))
    if chord < CLOSED:
        return NO_CHORD, chord, chord
    if radius == 0.0:
        return NO_RADIUS, chord, chord
    if chord / 2.0 - abs(radius) > tolerance:
        return TOO_SMALL, chord, chord
    # Left of start to end lies the centre of a short counter-clockwise arc; a clockwise or a long one swaps it.
    side = 1.0 if clockwise != (radius > 0.0) else -1.0
    away = side * math.sqrt(max(radius * radius - chord * chord / 4.0, 0.0)) / chord
    return FITS, (pu + qu) / 2.0 - (qv - pv) * away, (pv + qv) / 2.0 + (qu - pu) * away
