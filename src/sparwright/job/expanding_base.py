"""The base of a machine written out: carriages under a bridge or a table, rails, and what stands on the ground."""

from __future__ import annotations

from sparwright.job.expanding_parts import Parts, Y, Z, member_up
from sparwright.job.machine_parts import AxisPart, BeamPart
from sparwright.job.quantities import KeyFault
from sparwright.job.resolving import drive, runner
from sparwright.job.served import Served
from sparwright.job.vectors import Vector


def add_base(
    parts: Parts,
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
    parts: Parts,
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
    parts: Parts, served: Served, long: AxisPart, i: int, at: tuple[float, float], member_length: float
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
    up = member_up(served.up, Y) if is_member else Z
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
