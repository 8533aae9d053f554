"""From a general machine's tables to its parts."""

from __future__ import annotations

from dataclasses import replace

from sparwright.job.machine_parts import AxisPart, BeamPart, MassPart, PointPart, ServedMachine
from sparwright.job.positions import Key
from sparwright.job.quantities import KeyFault
from sparwright.job.resolving import drive, joint, runner, tooth_of
from sparwright.job.served import Served
from sparwright.job.vectors import Vector, add, cross, dot, length, minus, times, unit


def general_machine(served: Served, member_length: float) -> ServedMachine:
    """A general machine's tables as parts, every stiffness resolved. KeyFault for what cannot be."""
    places = {p.name: p.at for p in served.point}
    axes = {
        a.name: AxisPart(a.name, unit(a.direction), a.travel[0], a.travel[1], wanted=a.wanted, force=a.force)
        for a in served.axis
    }
    keys: dict[str, Key] = {}
    for array in ("strut", "runner", "mover", "fixing", "point"):
        for i, part in enumerate(getattr(served, array)):
            keys.setdefault(part.name, (array, i))
    for i, axis in enumerate(served.axis):
        if not axis.travel[0] <= 0 <= axis.travel[1]:
            raise KeyFault(
                "the points stand outside this travel; let it reach from below 0 to above",
                "axis",
                i,
                "travel",
            )
    for i, strut in enumerate(served.strut):
        apart = length(minus(places[strut.between[1]], places[strut.between[0]]))
        if apart < 1e-3:
            raise KeyFault("its two points lie on one place; move one of them", "strut", i, "between")
        if strut.member and abs(apart - member_length) > 0.5:
            raise KeyFault(
                f"its points are {apart:g} mm apart, and the member is {member_length:g} mm long; make them agree",
                "strut",
                i,
                "between",
            )
        _across(strut.up, places[strut.between[0]], places[strut.between[1]], i)
    _reach(served, axes)
    rigids = [(plate.points[0], other) for plate in served.plate for other in plate.points[1:]]
    movers = []
    for i, m in enumerate(served.mover):
        movers.append(drive(m, m.name, m.point, (0.0, 0.0, 0.0), m.on, m.axis, ("mover", i)))
        axis_part = axes[m.axis]
        if m.ends is not None and not (m.ends[0] < axis_part.low and axis_part.high < m.ends[1]):
            raise KeyFault(
                f"its point travels from {axis_part.low:g} to {axis_part.high:g} mm; move its ends outside that",
                "mover",
                i,
                "ends",
            )
        axes[m.axis] = replace(axis_part, tooth=tooth_of(m), step=m.step)
    names = [p.name for p in served.point]
    return ServedMachine(
        name=served.name,
        kind=served.kind,
        axes=tuple(axes.values()),
        points=tuple(PointPart(p.name, p.at, p.moves_with, p.held) for p in served.point),
        beams=tuple(
            BeamPart(b.name, b.between[0], b.between[1], b.up, b.section, b.through) for b in served.strut
        ),
        rigids=tuple(rigids),
        runners=tuple(
            runner(r, r.name, r.body, r.on, axes[r.axis].direction, ("runner", i))
            for i, r in enumerate(served.runner)
        ),
        drives=tuple(movers),
        joints=tuple(
            joint(f, f.name, f.between[0], f.between[1], ("fixing", i)) for i, f in enumerate(served.fixing)
        ),
        masses=tuple(MassPart(w.name, w.point, w.mass, w.offset) for w in served.weight),
        service=served.service,
        member=next(b.name for b in served.strut if b.member),
        work="work" if "work" in names else None,
        pushes=served.push,
        keys=keys,
    )


def _across(up: Vector, a: Vector, b: Vector, i: int) -> None:
    if length(cross(up, minus(b, a))) < 1e-9:
        raise KeyFault(
            "it runs along the beam; give a direction across it for the section's height", "strut", i, "up"
        )


def _reach(served: Served, axes: dict[str, AxisPart]) -> None:
    """Every carriage's contacts must stand on their beam over the whole travel."""
    points = {p.name: p for p in served.point}
    beams = {b.name: b.between for b in served.strut}
    for i, r in enumerate(served.runner):
        if r.on is None:
            continue
        start, end = (points[n].at for n in beams[r.on])
        whole = length(minus(end, start))
        along = unit(minus(end, start))
        axis = axes[r.axis]
        free = r.axis in points[r.body].moves_with and r.axis not in points[beams[r.on][0]].moves_with
        for q in (axis.low, axis.high) if free else (0.0,):
            for k, a in enumerate(r.along):
                at = add(points[r.body].at, times(q + a, axis.direction))
                s = dot(minus(at, start), along)
                if not -1e-3 <= s <= whole + 1e-3:
                    raise KeyFault(
                        f"a contact stands at {s:g} mm of the beam, which reaches from 0 to {whole:g} mm, with the axis at "
                        f"{q:g} mm; shorten the travel, or move the contact",
                        "runner",
                        i,
                        "along",
                        k,
                    )
