"""From a machine file to its parts: a moving bridge, a portal and a cantilever arm written out as points and links.

Every fault is a KeyFault with the key of the machine file to change.
"""

from __future__ import annotations

from sparwright.job.expanding_base import add_base
from sparwright.job.expanding_general import general_machine
from sparwright.job.expanding_parts import Parts, X, Y, Z, axis_of, member_up
from sparwright.job.links import BeamSection
from sparwright.job.machine_parts import (
    AxisPart,
    BeamPart,
    ServedMachine,
)
from sparwright.job.quantities import KeyFault
from sparwright.job.resolving import drive, runner
from sparwright.job.served import Served
from sparwright.job.vectors import Vector, unit


def expand(served: Served, member_length: float) -> ServedMachine:
    """The machine in its parts, with the member `member_length` mm long.

    Raises KeyFault for what cannot be: a place beyond the member or a rail, no travel left, a typical value that
    does not ship, a push test of a link that is not there.
    """
    machine = (
        general_machine(served, member_length) if served.kind == "general" else _kind(served, member_length)
    )
    _check_pushes(served, machine)
    return machine


def _check_pushes(served: Served, machine: ServedMachine) -> None:
    """Every push test must name a link, points and places that are there."""
    for i, push in enumerate(served.push):
        if push.link in [p.link for p in served.push[:i]]:
            raise KeyFault(
                f'"{push.link}" is measured by an earlier push test; keep the better one', "push", i, "link"
            )
        if push.link not in machine.links or push.link == machine.member:
            there = ", ".join(f'"{n}"' for n in machine.links if n != machine.member)
            raise KeyFault(
                f'no link "{push.link}" can be measured by a push; there are: {there}; name one of these',
                "push",
                i,
                "link",
            )
        names = [p.name for p in machine.points]
        for key in ("at", "against"):
            said = getattr(push, key)
            if said is not None and said not in names:
                raise KeyFault(
                    f'no point "{said}"; there are: {", ".join(names)}; name one of these', "push", i, key
                )
        if push.position is not None and len(push.position) != len(machine.axes):
            raise KeyFault(
                f"one place an axis is wanted, in the order {', '.join(a.name for a in machine.axes)}; give {len(machine.axes)}",
                "push",
                i,
                "position",
            )
        for axis, place in zip(machine.axes, push.position or (), strict=False):
            low, high = axis.zero + axis.low, axis.zero + axis.high
            if not low - 1e-6 <= place <= high + 1e-6:
                raise KeyFault(
                    f"{axis.name} cannot stand at {place:g} mm; it travels from {low:g} to {high:g} mm; correct it",
                    "push",
                    i,
                    "position",
                )


def _kind(served: Served, member_length: float) -> ServedMachine:
    assert served.cross is not None
    bridge = served.beam.length if served.beam is not None else member_length
    main = "arm" if served.kind == "cantilever arm" else "bridge"
    cross = axis_of(served.cross, "cross", "X", X, bridge)
    long = None
    if served.long is not None:
        lies_on = (
            member_length
            if served.part == "rail"
            else served.long.rail_length
            if served.rails.section
            else None
        )
        long = axis_of(served.long, "long", "Y", Y, lies_on)
    parts = Parts()
    moves = ("Y",) if long is not None and served.kind != "portal" else ()
    section = served.beam.section if served.beam is not None else None
    key = "beam" if served.beam is not None else "part"
    parts.point(f"{main} start", (0.0, 0.0, 0.0), moves, key)
    parts.point(f"{main} end", (bridge, 0.0, 0.0), moves, key)
    feet = _uprights(parts, served, main, bridge, moves)
    tied = tuple(f"{main} at {i + 1}" for i in range(len(feet)))
    up = member_up(served.up, X) if section is None else Z
    parts.beams.append(BeamPart(main, f"{main} start", f"{main} end", up, section, tied))
    parts.keys[main] = (key,)
    head = _head(parts, served, cross, main, moves)
    work = add_base(parts, served, long, feet, member_length, head)
    member = main if section is None else "rail"
    return ServedMachine(
        name=served.name,
        kind=served.kind,
        axes=(cross,) if long is None else (cross, long),
        points=tuple(parts.points),
        beams=tuple(parts.beams),
        rigids=tuple(parts.rigids),
        runners=tuple(parts.runners),
        drives=tuple(parts.drives),
        joints=tuple(parts.joints),
        masses=tuple(parts.masses),
        service=served.service,
        member=member,
        work=work,
        pushes=served.push,
        keys=parts.keys,
    )


def _uprights(
    parts: Parts, served: Served, main: str, length: float, moves: tuple[str, ...]
) -> list[tuple[str, float, float]]:
    """The uprights; names of their feet with X and Z."""
    u = served.uprights
    assert u is not None
    feet = []
    for i, x in enumerate(u.at):
        if not 0 <= x <= length:
            raise KeyFault(
                f"an upright at {x:g} mm stands beyond the {main}, which is {length:g} mm long; give a place from 0 to {length:g} mm",
                "uprights",
                "at",
                i,
            )
        n = i + 1
        at, top, foot = f"{main} at {n}", f"upright {n} top", f"upright {n} foot"
        parts.point(at, (x, 0.0, 0.0), moves, "uprights", "at", i)
        parts.point(top, (x, 0.0, 0.0), moves, "uprights", "at", i)
        parts.point(foot, (x, 0.0, -u.height), moves, "uprights", "height")
        parts.tie(f"{main} joints/{n}", at, top, u.joint, "uprights", "joint")
        if u.section is not None:
            if u.height <= 0:
                raise KeyFault(
                    "an upright with a section has a height; give it, or leave the section out",
                    "uprights",
                    "height",
                )
            # From the foot up, its width along X and its height along Y.
            parts.beams.append(BeamPart(f"uprights/{n}", foot, top, Y, u.section))
            parts.keys["uprights"] = ("uprights", "section")
        else:
            parts.rigids.append((foot, top))
        parts.mass(f"upright mass/{n}", foot, u.mass)
        feet.append((foot, x, -u.height))
    return feet


def _head(
    parts: Parts, served: Served, cross: AxisPart, beam: str, moves: tuple[str, ...]
) -> tuple[Vector, tuple[str, ...]]:
    """The tool's carriage and the tool; where its tip is, and what that moves with."""
    axis, tool = served.cross, served.tool
    assert axis is not None
    assert tool is not None
    x = axis.rail_from + cross.zero
    level, up = axis.carriage.middle
    with_head = ("X", *moves)
    body = "tool carriage"
    parts.point(body, (x, level, up), with_head, "cross", "carriage")
    parts.runners.append(runner(axis.carriage, body, body, beam, X, ("cross", "carriage")))
    parts.mass("tool carriage", body, axis.carriage.mass)
    parts.mass("moved with X", body, axis.extra_mass)
    line = (0.0, axis.drive.at[0] - level, axis.drive.at[1] - up)
    parts.drives.append(drive(axis.drive, "tool drive", body, line, beam, "X", ("cross", "drive")))
    parts.keys["tool drive"] = ("cross", "drive")
    tip = (x + tool.offset[0], tool.offset[1], tool.offset[2])
    holder = body
    if tool.plate is not None:
        to = (x + tool.plate.to[0], tool.plate.to[1], tool.plate.to[2])
        along = (to[0] - x, to[1] - level, to[2] - up)
        if sum(v * v for v in along) < 1e-6:
            raise KeyFault(
                "the plate has no length: it ends in the middle of the carriage's contacts; say where it holds the tool",
                "tool",
                "plate",
                "to",
            )
        holder = "tool holder"
        parts.point(holder, to, with_head, "tool", "plate", "to")
        bar = BeamSection(
            shape="flat bar", width=tool.plate.width, height=tool.plate.thickness, metal=tool.plate.metal
        )
        # Its width lies along X: the section's height is square to X and to the plate.
        across = (0.0, -along[2], along[1]) if along[1] or along[2] else Z
        parts.beams.append(BeamPart("tool plate", body, holder, unit(across), bar))
        parts.keys["tool plate"] = ("tool", "plate")
    parts.point("tool", tip, with_head, "tool", "offset")
    parts.tie("tool mount", holder, "tool", tool.mount, "tool", "mount")
    at = tool.mass_at or tool.offset
    parts.mass("tool", "tool", tool.mass, tuple(a - b for a, b in zip(at, tool.offset, strict=True)))  # type: ignore[arg-type]
    return tip, with_head
