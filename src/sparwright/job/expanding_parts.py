"""What the kinds of machine share as they are written out: the parts gathered, axes with their ledgers, the member's lie."""

from __future__ import annotations

from dataclasses import dataclass, field

from sparwright.job.links import Joint
from sparwright.job.machine_parts import (
    AxisPart,
    BeamPart,
    DrivePart,
    JointPart,
    MassPart,
    PointPart,
    RunnerPart,
    Travel,
)
from sparwright.job.positions import Key
from sparwright.job.quantities import KeyFault
from sparwright.job.resolving import joint, tooth_of
from sparwright.job.served import MachineAxis
from sparwright.job.vectors import Vector

X: Vector = (1.0, 0.0, 0.0)
Y: Vector = (0.0, 1.0, 0.0)
Z: Vector = (0.0, 0.0, 1.0)


@dataclass
class Parts:
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


def axis_of(axis: MachineAxis, key: str, name: str, direction: Vector, beam: float | None) -> AxisPart:
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


def member_up(up: str, along: Vector) -> Vector:
    """Direction of the member's z in machine axes, with its x along X or Y and the stated direction pointing up."""
    if up in ("z", "-z"):
        return Z if up == "z" else (0.0, 0.0, -1.0)
    # y up: z = x cross y.
    if along == X:
        return (0.0, -1.0, 0.0) if up == "y" else Y
    return X if up == "y" else (-1.0, 0.0, 0.0)
