"""Carriages, drives and joints of a machine file with their stiffness: their own, or a typical value by its name."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, TypeVar

from sparwright.job.faults import nearest
from sparwright.job.links import Carriage, Drive, Joint
from sparwright.job.machine_parts import ContactPart, DrivePart, JointPart, RunnerPart
from sparwright.job.positions import Key
from sparwright.job.quantities import KeyFault
from sparwright.job.typical import TypicalBelt, TypicalContact, TypicalDrive, TypicalJoint, typical_values
from sparwright.job.vectors import Vector, add, cross, length, times, unit

OWN_SPREAD = 0.3
"""Half-width taken for a stiffness that is stated without one; common practice, no source."""
STEEL = 206000.0
"""Modulus of a screw, MPa (checks of linear-motion makers use 2.06e5)."""

Value = TypeVar("Value", TypicalContact, TypicalBelt, TypicalDrive, TypicalJoint)


def _like(name: str, known: Sequence[Value], kind: str, key: Key) -> Value:
    for value in known:
        if value.name == name:
            return value
    names = [value.name for value in known]
    hint = nearest(name, names)
    what = f'did you mean "{hint}"?' if hint else "name one of them, or state its own stiffness"
    raise KeyFault(
        f'no typical value "{name}" of kind {kind}; there are: {", ".join(repr(n) for n in names)}; {what}',
        *key,
    )


def level_and_up(direction: Vector) -> tuple[Vector, Vector]:
    """The level direction square to a rail, and the one square to both; for a rail that stands upright X and Y."""
    level = cross((0.0, 0.0, 1.0), direction)
    if length(level) < 1e-6:
        return (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    # X or Y, whichever way it leans: never against the machine's axes.
    most = max(level, key=abs)
    level = unit(times(1.0 if most > 0 else -1.0, level))
    up = unit(cross(direction, level))
    return level, up if up[2] > 0 else times(-1.0, up)


def runner(c: Carriage, name: str, body: str, on: str | None, direction: Vector, key: Key) -> RunnerPart:
    """A carriage on a rail along `direction`; key: of its table, for messages. Raises KeyFault for an unknown value."""
    typical = None if c.like is None else _like(c.like, typical_values().contact, "contact", (*key, "like"))
    radial, axial = (
        c.radial or (typical.radial if typical else 0.0),
        c.axial or (typical.axial if typical else 0.0),
    )
    tilting = c.tilting or (typical.tilting if typical else 0.0)
    spread = _spread(c, typical, ("radial", "axial"))
    level, up = level_and_up(direction)
    press = c.press or (c.laid if c.contacts == "wheels" else "level" if c.laid == "up" else "up")
    pressed = level if press == "level" else up
    turn = (unit(direction), pressed, unit(cross(direction, pressed)))
    side = up if c.laid == "up" else level
    contacts = tuple(
        ContactPart(
            add(times(a, direction), times(b, side)), turn, (0.0, radial, axial, tilting, tilting, tilting)
        )
        for a in c.along
        for b in c.across
    )
    return RunnerPart(name, body, on, contacts, spread)


def _spread(part: Any, typical: Any, own: tuple[str, ...]) -> float:
    """Spread said; else the typical value's where that is what is used; else that of one's own values."""
    if part.spread is not None:
        return float(part.spread)
    stated = any(getattr(part, key) is not None for key in own)
    return float(typical.spread) if typical is not None and not stated else OWN_SPREAD


def drive(d: Drive, name: str, point: str, offset: Vector, on: str | None, axis: str, key: Key) -> DrivePart:
    """A drive; key: of its table, for messages. Raises KeyFault for an unknown value."""
    specific, whole, spread = 0.0, d.stiffness, _spread(d, None, ())
    values = typical_values()
    if d.kind == "belt":
        belt = None if d.like is None else _like(d.like, values.belt, "belt", (*key, "like"))
        specific = d.specific or (belt.specific if belt else 0.0)
        spread = _spread(d, belt, ("specific",))
        whole = None
    elif d.kind != "fixed" and d.like is not None:
        known = values.screw if d.kind == "screw" else values.rack
        found = _like(d.like, known, d.kind, (*key, "like"))
        whole = whole or found.stiffness
        spread = _spread(d, found, ("stiffness",))
    if d.kind == "screw" and d.root is not None:
        specific = STEEL * math.pi * d.root**2 / 4
    series = sum(1 / k for k in (whole, d.motor) if k is not None)
    return DrivePart(
        name=name,
        point=point,
        offset=offset,
        on=on,
        axis=axis,
        kind=d.kind,
        specific=specific,
        loop=d.run == "loop",
        ends=d.ends,
        far_fixed=d.far_end == "fixed",
        bearing=0.0 if d.bearing is None else 1 / d.bearing,
        series=series,
        spread=spread,
    )


def tooth_of(d: Drive) -> float | None:
    """Pitch of the drive's teeth, mm: its own, or its typical belt's."""
    if d.tooth is None and d.kind == "belt" and d.like is not None:
        return next((b.tooth for b in typical_values().belt if b.name == d.like), None)
    return d.tooth


def joint(j: Joint, name: str, a: str, b: str | None, key: Key) -> JointPart:
    """A joint; key: of its table, for messages. Raises KeyFault for an unknown value."""
    typical = None if j.like is None else _like(j.like, typical_values().joint, "joint", (*key, "like"))
    linear = j.linear or (typical.linear if typical else 0.0)
    tilting = j.tilting or (typical.tilting if typical else 0.0)
    return JointPart(name, a, b, linear, tilting, _spread(j, typical, ("linear", "tilting")))
