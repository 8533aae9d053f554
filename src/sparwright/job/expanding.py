"""From a machine file to its parts: a moving bridge, a portal and a cantilever arm written out as points and links.

Every fault is a KeyFault with the key of the machine file to change.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from sparwright.job.expanding_general import general_machine
from sparwright.job.links import BeamSection, Joint
from sparwright.job.machine_parts import (
    AxisPart,
    BeamPart,
    DrivePart,
    JointPart,
    MassPart,
    PointPart,
    RunnerPart,
    ServedMachine,
    Travel,
)
from sparwright.job.positions import Key
from sparwright.job.quantities import KeyFault
from sparwright.job.resolving import drive, joint, runner, tooth_of
from sparwright.job.served import MachineAxis, Served
from sparwright.job.vectors import Vector, unit

X: Vector = (1.0, 0.0, 0.0)
Y: Vector = (0.0, 1.0, 0.0)
Z: Vector = (0.0, 0.0, 1.0)


def expand(served: Served, member_length: float) -> ServedMachine:
    """The machine in its parts, with the member `member_length` mm long.

    Raises KeyFault for what cannot be: a place beyond the member or a rail, no travel left, a typical value that
    does not ship, a push test of a link that is not there.
    """
    machine = (
        general_machine(served, member_length) if served.kind == "general" else _kind(served, member_length)
    )
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
    return machine


@dataclass
class _Parts:
    """Parts as they are gathered."""

    points: list[PointPart] = field(default_factory=list)
    beams: list[BeamPart] = field(default_factory=list)
    rigids: list[tuple[str, str]] = field(default_factory=list)
    runners: list[RunnerPart] = field(default_factory=list)
    drives: list[DrivePart] = field(default_factory=list)
    joints: list[JointPart] = field(default_factory=list)
    masses: list[MassPart] = field(default_factory=list)
    keys: dict[str, Key] = field(default_factory=dict)

    def point(
        self, name: str, at: Vector, axes: tuple[str, ...], *key: str | int, held: bool = False
    ) -> None:
        self.points.append(PointPart(name, at, axes, held))
        self.keys[name] = key

    def tie(self, name: str, a: str, b: str, how: Joint | None, *key: str | int) -> None:
        """Two points fixed to one another: by a joint, or rigidly."""
        if how is None:
            self.rigids.append((a, b))
        else:
            self.joints.append(joint(how, name, a, b, key))
            self.keys.setdefault(name.split("/")[0], key)

    def mass(self, name: str, point: str, kg: float, offset: Vector = (0.0, 0.0, 0.0)) -> None:
        if kg > 0:
            self.masses.append(MassPart(name, point, kg, offset))


def travel_of(axis: MachineAxis, length: float) -> Travel:
    """The ledger's entries of an axis whose rail lies on a beam `length` mm long."""
    rail = axis.rail_length if axis.rail_length is not None else length - axis.rail_from
    return Travel(
        rail,
        axis.ends,
        axis.stops,
        axis.switch,
        axis.switch_at,
        axis.overhang,
        axis.outside,
        axis.carriage.width,
        axis.footprint,
    )


def _axis(axis: MachineAxis, key: str, name: str, direction: Vector, beam: float | None) -> AxisPart:
    """An axis from its ledger, stated in mid-travel; beam: length of the beam its rail lies on, None for a stiff bed."""
    travel = travel_of(axis, beam if beam is not None else axis.rail_length or 0.0)
    low, high = travel.low, travel.high
    if travel.rail <= 0 or (beam is not None and axis.rail_from + travel.rail > beam + 1e-9):
        raise KeyFault(
            f"a rail of {travel.rail:g} mm from {axis.rail_from:g} mm on does not lie on its beam, which is {beam:g} mm long; shorten it",
            key,
            "rail_length",
        )
    if high < low:
        used = travel.rail - (high - low)
        raise KeyFault(
            f"no travel is left: the rail is {travel.rail:g} mm long, and carriage, ends, stops and switch take {used:g} mm; "
            "lengthen the rail or take less of it",
            key,
            "carriage",
            "width",
        )
    for i, place in enumerate(axis.carriage.along):
        for at, end in ((low, "start"), (high, "end")):
            if not -1e-9 <= at + place <= travel.rail + 1e-9:
                raise KeyFault(
                    f"with the carriage at the {end} of its travel this contact stands at {at + place:g} mm, beyond the rail "
                    f"of {travel.rail:g} mm; bring it in, or let the carriage hang over less",
                    key,
                    "carriage",
                    "along",
                    i,
                )
    d = axis.drive
    zero = (low + high) / 2
    if d.ends is not None and not (d.ends[0] < low and high < d.ends[1]):
        raise KeyFault(
            f"the carriage travels from {low:g} to {high:g} mm, and the {d.kind} reaches from {d.ends[0]:g} to {d.ends[1]:g} mm; "
            "move its ends outside the travel",
            key,
            "drive",
            "ends",
        )
    return AxisPart(
        name,
        direction,
        low - zero,
        high - zero,
        zero,
        travel,
        axis.wanted,
        axis.force,
        axis.acceleration,
        tooth_of(d),
        d.step,
    )


def _kind(served: Served, member_length: float) -> ServedMachine:
    assert served.cross is not None
    bridge = served.beam.length if served.beam is not None else member_length
    main = "arm" if served.kind == "cantilever arm" else "bridge"
    cross = _axis(served.cross, "cross", "X", X, bridge)
    long = None
    if served.long is not None:
        lies_on = (
            member_length
            if served.part == "rail"
            else served.long.rail_length
            if served.rails.section
            else None
        )
        long = _axis(served.long, "long", "Y", Y, lies_on)
    parts = _Parts()
    moves = ("Y",) if long is not None and served.kind != "portal" else ()
    section = served.beam.section if served.beam is not None else None
    key = "beam" if served.beam is not None else "part"
    parts.point(f"{main} start", (0.0, 0.0, 0.0), moves, key)
    parts.point(f"{main} end", (bridge, 0.0, 0.0), moves, key)
    feet = _uprights(parts, served, main, bridge, moves)
    tied = tuple(f"{main} at {i + 1}" for i in range(len(feet)))
    up = _member_up(served.up, X) if section is None else Z
    parts.beams.append(BeamPart(main, f"{main} start", f"{main} end", up, section, tied))
    parts.keys[main] = (key,)
    head = _head(parts, served, cross, main, moves)
    work = _base(parts, served, long, feet, member_length, head)
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


def _member_up(up: str, along: Vector) -> Vector:
    """Direction of the member's z in machine axes, with its x along X or Y and the stated direction pointing up."""
    if up in ("z", "-z"):
        return Z if up == "z" else (0.0, 0.0, -1.0)
    # y up: z = x cross y.
    if along == X:
        return (0.0, -1.0, 0.0) if up == "y" else Y
    return X if up == "y" else (-1.0, 0.0, 0.0)


def _uprights(
    parts: _Parts, served: Served, main: str, length: float, moves: tuple[str, ...]
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
    parts: _Parts, served: Served, cross: AxisPart, beam: str, moves: tuple[str, ...]
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


def _base(
    parts: _Parts,
    served: Served,
    long: AxisPart | None,
    feet: list[tuple[str, float, float]],
    member_length: float,
    head: tuple[Vector, tuple[str, ...]],
) -> str | None:
    """The base's carriages on its rails, under the bridge or under a portal's table; the work's point where it moves."""
    u = served.uprights
    assert u is not None
    if long is None or served.kind == "portal":
        for n, (foot, x, z) in enumerate(feet, 1):
            parts.point(f"ground {n}", (x, 0.0, z), (), "uprights", "foot", held=True)
            parts.tie(f"upright feet/{n}", foot, f"ground {n}", u.foot, "uprights", "foot")
    if long is None or served.long is None:
        return None
    bodies = _bodies(parts, served, feet, head)
    axis = served.long
    wanted = {"both": range(len(bodies)), "first": (0,), "second": (len(bodies) - 1,)}[axis.driven]
    for i, (body, x, z) in enumerate(bodies):
        level, up = axis.carriage.middle
        rail = _rail(parts, served, long, i, (x - level, z - up), member_length)
        name = f"base carriages/{i + 1}"
        parts.runners.append(runner(axis.carriage, name, body, rail, Y, ("long", "carriage")))
        parts.mass(name, body, axis.carriage.mass)
        parts.mass(f"moved with Y/{i + 1}", body, axis.extra_mass / len(bodies))
        if i in wanted:
            line = (axis.drive.at[0] - level, 0.0, axis.drive.at[1] - up)
            parts.drives.append(
                drive(axis.drive, f"base drives/{i + 1}", body, line, None, "Y", ("long", "drive"))
            )
    parts.keys["base carriages"] = ("long", "carriage")
    parts.keys["base drives"] = ("long", "drive")
    return "work" if served.kind == "portal" else None


def _bodies(
    parts: _Parts,
    served: Served,
    feet: list[tuple[str, float, float]],
    head: tuple[Vector, tuple[str, ...]],
) -> list[tuple[str, float, float]]:
    """The points of the base's carriages, tied to what they carry: names with X and Z."""
    u, rails = served.uprights, served.rails
    assert u is not None
    at = rails.at or u.at
    tip, with_head = head
    out = []
    z = feet[0][2] if served.table is None else tip[2] - served.table.height
    if served.table is not None:
        parts.point("table", (sum(at) / len(at), 0.0, z), ("Y",), "table")
        parts.point("work", tip, with_head, "table", "height")
        parts.rigids.append(("work", "table"))
        parts.mass("table", "table", served.table.mass)
    for i, x in enumerate(at):
        body = f"base carriage {i + 1}"
        parts.point(body, (x, 0.0, z), ("Y",), "long", "carriage")
        if served.table is not None:
            parts.rigids.append((body, "table"))
        else:
            parts.tie(f"upright feet/{i + 1}", feet[i][0], body, u.foot, "uprights", "foot")
        out.append((body, x, z))
    return out


def _rail(
    parts: _Parts, served: Served, long: AxisPart, i: int, at: tuple[float, float], member_length: float
) -> str | None:
    """One of the base's rails as a beam; None on a stiff bed."""
    rails, axis = served.rails, served.long
    assert axis is not None
    assert long.travel is not None
    is_member = served.part == "rail"
    if rails.section is None and not is_member:
        return None
    length = member_length if is_member else long.travel.rail + axis.rail_from
    start = -(axis.rail_from + long.zero)
    x, z = at
    name = ("rail" if i == 0 else "other rail") if is_member else f"rails/{i + 1}"
    n = i + 1
    held = rails.held or (0.0, length)
    through = []
    for k, place in enumerate(held):
        if place > length:
            raise KeyFault(
                f"the rail is held at {place:g} mm, and it is {length:g} mm long; give a place from 0 to {length:g} mm",
                "rails",
                "held",
                k,
            )
        key = ("rails", "held", k)
        on, below = f"rail {n} at {k + 1}", f"rail {n} foot {k + 1}"
        parts.point(on, (x, start + place, z), (), *key)
        parts.point(below, (x, start + place, z), (), *key, held=True)
        parts.tie(f"rail feet/{n}/{k + 1}", on, below, rails.foot, "rails", "foot")
        through.append(on)
    parts.point(f"rail {n} start", (x, start, z), (), "rails")
    parts.point(f"rail {n} end", (x, start + length, z), (), "rails")
    up = _member_up(served.up, Y) if is_member else Z
    plain = is_member and i > 0 and not rails.both
    parts.beams.append(
        BeamPart(
            name,
            f"rail {n} start",
            f"rail {n} end",
            up,
            rails.section if not is_member else None,
            tuple(through),
            plain,
        )
    )
    parts.keys[name.split("/")[0]] = ("rails",)
    return name
