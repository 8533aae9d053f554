"""Arcs as RS-274 states them: centres, agreement of radii, sweeps. NIST IR 6556, section 3.5.3."""

from __future__ import annotations

import math

from sparwright.program.expressions import LineError, number_text
from sparwright.program.machine import INCH, PLANE_AXES, Machine, Place
from sparwright.program.words import Block

RADIUS_TOLERANCE = {1.0: 0.002, INCH: 0.0002 * INCH}  # mm, by unit in force: 0.002 mm or 0.0002 inch
CLOSED = 1e-7  # mm; an arc whose ends are nearer than this is a full turn


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
    p = (start[a], start[b])
    q = (end[a], end[b])
    if "r" in block.values:
        if given:
            raise LineError(f"R and {given[0].upper()} on one line: say the radius or the centre, not both")
        cu, cv = _centre_from_radius(p, q, block.values["r"] * m.unit, m.unit, clockwise)
    else:
        if not given:
            names = " or ".join(sorted(letter.upper() for letter in letters.values()))
            raise LineError(f"an arc needs its centre ({names}) or its radius (R)")
        if "xyz"[a] not in block.values and "xyz"[b] not in block.values:
            names = " or ".join(sorted(("XYZ"[a], "XYZ"[b])))
            raise LineError(f"an arc given by its centre needs {names}")
        cu = p[0] + block.values.get(letters[a], 0.0) * m.unit
        cv = p[1] + block.values.get(letters[b], 0.0) * m.unit
        _agree(math.dist(p, (cu, cv)), math.dist(q, (cu, cv)), RADIUS_TOLERANCE[m.unit])
    centre = [0.0, 0.0, 0.0]
    centre[a], centre[b], centre[normal] = cu, cv, start[normal]
    closed = list(end)
    if math.dist(p, q) < CLOSED:
        closed[a], closed[b] = p
    return (closed[0], closed[1], closed[2]), (centre[0], centre[1], centre[2])


def _agree(first: float, last: float, tolerance: float) -> None:
    if first == 0.0:
        raise LineError("the arc's centre is its start: the radius is zero")
    if abs(first - last) > tolerance:
        raise LineError(
            f"the arc's radius is {number_text(first)} mm at its start and {number_text(last)} mm at its end; "
            f"they may differ by {number_text(tolerance)} mm"
        )


def _centre_from_radius(
    p: tuple[float, float], q: tuple[float, float], radius: float, unit: float, clockwise: bool
) -> tuple[float, float]:
    chord = math.dist(p, q)
    if chord < CLOSED:
        raise LineError("an arc given by its radius cannot end where it starts; give its centre")
    if radius == 0.0:
        raise LineError("R0: the arc's radius is zero")
    short = chord / 2 - abs(radius)
    if short > RADIUS_TOLERANCE[unit]:
        raise LineError(
            f"the radius {number_text(abs(radius))} mm is too small: the ends lie {number_text(chord)} mm apart"
        )
    # Left of start to end lies the centre of a short counter-clockwise arc; a clockwise or a long one swaps it.
    side = 1.0 if clockwise != (radius > 0) else -1.0
    away = side * math.sqrt(max(radius * radius - chord * chord / 4, 0.0)) / chord
    du, dv = q[0] - p[0], q[1] - p[1]
    return ((p[0] + q[0]) / 2 - dv * away, (p[1] + q[1]) / 2 + du * away)


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
