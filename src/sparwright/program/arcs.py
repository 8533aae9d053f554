"""Arcs as RS-274 states them: their words, centres and lengths. NIST IR 6556, section 3.5.3."""

from __future__ import annotations

import math

from sparwright.program.circle import FITS, NO_CHORD, NO_RADIUS, apart, centre_by_radius, judge_centre
from sparwright.program.expressions import LineError, number_text
from sparwright.program.limits import CLOSED, TOLERANCE_INCH, TOLERANCE_MM
from sparwright.program.machine import PLANE_AXES, Machine
from sparwright.program.tape import Place
from sparwright.program.words import Block


def arc_of(block: Block, m: Machine, end: Place, clockwise: bool) -> tuple[Place, Place]:
    """End and centre of the arc that a G2 or G3 line asks for, mm, from where the tool is.

    The end returned is `end`, or exactly the start across the plane where the arc is a full turn. Raises
    LineError for missing or surplus words and for radii that do not agree.
    """
    a, b, normal = PLANE_AXES[m.plane]
    start = m.position
    letters = {axis: "ijk"[axis] for axis in (a, b)}
    if "ijk"[normal] in block.values:
        raise LineError(f"{'IJK'[normal]} cannot be used with G{m.plane}: the arc's plane has no such axis")
    given = [letter for letter in letters.values() if letter in block.values]
    ends = (start[a], start[b], end[a], end[b])
    tolerance = TOLERANCE_MM if m.unit == 1.0 else TOLERANCE_INCH
    if "r" in block.values:
        if given:
            raise LineError(f"R and {given[0].upper()} on one line: say the radius or the centre, not both")
        cu, cv = _by_radius(ends, block.values["r"] * m.unit, clockwise, tolerance)
    else:
        if not given:
            names = " or ".join(sorted(letter.upper() for letter in letters.values()))
            raise LineError(f"an arc needs its centre ({names}) or its radius (R)")
        if "xyz"[a] not in block.values and "xyz"[b] not in block.values:
            names = " or ".join(sorted(("XYZ"[a], "XYZ"[b])))
            raise LineError(f"an arc given by its centre needs {names}")
        cu = start[a] + block.values.get(letters[a], 0.0) * m.unit
        cv = start[b] + block.values.get(letters[b], 0.0) * m.unit
        _agree(ends, cu, cv, tolerance)
    centre = [0.0, 0.0, 0.0]
    centre[a], centre[b], centre[normal] = cu, cv, start[normal]
    closed = list(end)
    if apart(*ends) < CLOSED:
        closed[a], closed[b] = start[a], start[b]
    return (closed[0], closed[1], closed[2]), (centre[0], centre[1], centre[2])


def _agree(ends: tuple[float, float, float, float], cu: float, cv: float, tolerance: float) -> None:
    found, first, last = judge_centre(*ends, cu, cv, tolerance)
    if found == NO_RADIUS:
        raise LineError("the arc's centre is its start: the radius is zero")
    if found != FITS:
        raise LineError(
            f"the arc's radius is {number_text(first)} mm at its start and {number_text(last)} mm at its end; "
            f"they may differ by {number_text(tolerance)} mm"
        )


def _by_radius(
    ends: tuple[float, float, float, float], radius: float, clockwise: bool, tolerance: float
) -> tuple[float, float]:
    found, cu, cv = centre_by_radius(*ends, radius, clockwise, tolerance)
    if found == NO_CHORD:
        raise LineError("an arc given by its radius cannot end where it starts; give its centre")
    if found == NO_RADIUS:
        raise LineError("R0: the arc's radius is zero")
    if found != FITS:
        raise LineError(
            f"the radius {number_text(abs(radius))} mm is too small: the ends lie {number_text(cu)} mm apart"
        )
    return cu, cv


def arc_length(start: Place, end: Place, centre: Place, plane: int, clockwise: bool) -> float:
    """Length of an arc or helix, mm; ends that coincide across the plane are a full turn."""
    a, b, normal = PLANE_AXES[plane]
    rise = end[normal] - start[normal]
    u0, v0 = start[a] - centre[a], start[b] - centre[b]
    u1, v1 = end[a] - centre[a], end[b] - centre[b]
    turn = math.atan2(v1, u1) - math.atan2(v0, u0)
    sweep = (-turn if clockwise else turn) % (2 * math.pi)
    if u0 == u1 and v0 == v1:
        sweep = 2 * math.pi
    radius = (math.hypot(u0, v0) + math.hypot(u1, v1)) / 2
    return math.hypot(radius * sweep, rise)
