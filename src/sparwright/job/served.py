"""The machine the member will serve, as its file says it: three common kinds by plain measures, any other by its parts.

Machine axes: X along the bridge or arm, Y along the base's rails, Z up. In the three kinds the origin is the start of
the bridge's or arm's axis (the centroid of its section), with its carriages in the middle of the base's rails.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sparwright.job.links import At, BeamSection, Carriage, Drive, Joint, Spread
from sparwright.job.quantities import (
    Acceleration,
    Count,
    Force,
    KeyFault,
    Length,
    Mass,
    PositiveSpeed,
    Ratio,
    Size,
    SpindleSpeed,
    Table,
)
from sparwright.job.served_general import GENERAL, GeneralParts

Direction = Literal["X", "Y", "Z"]
Part = Literal["bridge", "arm", "rail"]
Room = Annotated[Length, Field(ge=0, le=20000)]

ROLES: dict[str, tuple[str, ...]] = {
    "moving bridge": ("bridge", "rail"),
    "portal": ("bridge", "rail"),
    "cantilever arm": ("arm", "rail"),
}


class MachineAxis(Table):
    """One direction of travel: how its rail is used up, its carriage, its drive."""

    rail_length: Size | None = Field(
        default=None, le=20000, description="length of the rail, mm; the beam's it lies on if not said"
    )
    rail_from: Room = Field(default=0, description="where on the beam the rail starts, mm")
    ends: tuple[Room, Room] = Field(
        default=(0, 0), description="rail taken up by fittings at its start and end, mm"
    )
    stops: tuple[Room, Room] = Field(
        default=(0, 0), description="rail taken up by the stops at its start and end, mm"
    )
    switch: Room = Field(default=0, description="rail kept for the limit switch and its over-travel, mm")
    switch_at: Literal["start", "end"] = Field(default="start", description="end at which the switch is")
    overhang: tuple[Room, Room] = Field(
        default=(0, 0), description="how far the carriage may hang over the rail's start and end, mm"
    )
    outside: tuple[Room, Room] = Field(
        default=(0, 0),
        description="what stands out beyond the rail's start and end (motor, pulleys, cover), mm",
    )
    footprint: Size | None = Field(
        default=None, description="room the machine must stand in along this axis, mm"
    )
    wanted: Size | None = Field(default=None, description="travel wanted, mm")
    extra_mass: Mass = Field(
        default=0, ge=0, le=1000, description="further mass that moves with it (motor, cables, covers), kg"
    )
    force: Force | None = Field(
        default=None, gt=0, description="force its motor has left to accelerate with, at the carriage, N"
    )
    acceleration: Acceleration | None = Field(default=None, gt=0, description="acceleration wanted, mm/s²")
    carriage: Carriage = Field(description="its carriage; along the base's rails, the one on each rail")
    drive: Drive = Field(description="its drive; along the base's rails, the one on each driven rail")
    driven: Literal["both", "first", "second"] = Field(
        default="both", description="which of the base's rails has a drive"
    )


class PlainBeam(Table):
    """The bridge or arm, where the job's member is not it."""

    length: Size = Field(le=20000, description="its length, mm")
    section: BeamSection = Field(description="its section")


class Uprights(Table):
    """What carries the bridge or the arm."""

    at: tuple[At, ...] = Field(
        min_length=1, max_length=2, description="where along the bridge or arm they carry it, mm"
    )
    height: Room = Field(
        default=0, description="from the bridge's axis down to the base's carriage or to the ground, mm"
    )
    section: BeamSection | None = Field(
        default=None, description="section of one, width along X and height along Y; rigid if not said"
    )
    joint: Joint | None = Field(default=None, description="how the bridge is fixed to each")
    foot: Joint | None = Field(
        default=None, description="how each is fixed to its carriage, or to the ground"
    )
    mass: Mass = Field(
        default=0, ge=0, le=1000, description="further mass at the foot of each (plates, screws), kg"
    )


class BaseRails(Table):
    """The rails the base's carriages run on."""

    at: tuple[At, ...] | None = Field(
        default=None,
        min_length=1,
        max_length=2,
        description="where each rail's carriage is along X, mm; under the uprights if not said",
    )
    section: BeamSection | None = Field(
        default=None,
        description="section of a rail held at places; on a stiff bed along its length if not said",
    )
    held: tuple[Room, ...] | None = Field(
        default=None,
        min_length=1,
        max_length=20,
        description="places along the rail where it is held to the ground, mm; both ends if not said",
    )
    foot: Joint | None = Field(default=None, description="how the rail is held at each of these places")
    both: bool = Field(
        default=True, description="where the member is a rail: the other rail is reworked as it is"
    )


class WorkTable(Table):
    """A portal's table, which carries the work along the base's rails."""

    height: At = Field(default=0, description="height of the work over the middle of its carriages, mm")
    mass: Mass = Field(default=0, ge=0, le=5000, description="its mass with the work, kg")


class ToolPlate(Table):
    """A plate between the tool's carriage and the tool, as a beam."""

    to: tuple[At, At, At] = Field(
        description="where it holds the tool: X from the carriage's middle, Y and Z from the axis of the bridge or arm, mm"
    )
    width: Size = Field(le=1000, description="its width, along X, mm")
    thickness: Size = Field(le=200, description="its thickness, mm")
    metal: Literal["aluminium", "steel"] = Field(default="aluminium", description="what it is made of")


class Tool(Table):
    """The tool and where its tip is."""

    offset: tuple[At, At, At] = Field(
        description="its tip: X from the carriage's middle, Y and Z from the axis of the bridge or arm, mm"
    )
    mass: Mass = Field(default=0, ge=0, le=1000, description="mass of the tool with its holder and motor, kg")
    mass_at: tuple[At, At, At] | None = Field(
        default=None, description="its centre of mass, measured like `offset`, mm; at the tip if not said"
    )
    plate: ToolPlate | None = Field(default=None, description="plate that holds it; rigid if not said")
    mount: Joint | None = Field(default=None, description="how the tool sits in its holder")


class Service(Table):
    """What the machine does with the tool."""

    force: Force = Field(gt=0, description="force at the tool tip the deflection is stated for, N")
    directions: tuple[Direction, ...] = Field(
        default=("X", "Y", "Z"), min_length=1, max_length=3, description="directions it may act in"
    )
    rpm: tuple[Annotated[SpindleSpeed, Field(gt=0)], ...] = Field(
        default=(), max_length=20, description="spindle speeds in use, rpm"
    )
    flutes: Count = Field(default=1, ge=1, le=12, description="cutting edges that pass in a turn")
    feeds: tuple[PositiveSpeed, ...] = Field(
        default=(),
        max_length=20,
        description="feeds in use, mm/min, for what belt teeth and motor steps excite",
    )
    damping: Ratio = Field(
        default=0.02,
        gt=0,
        lt=0.5,
        description="damping ratio of the first modes; 1 to 4 % is common practice for bolted aluminium, no source",
    )
    damping_spread: Spread = Field(default=0.5, description="half-width of the damping ratio, ratio")


class Push(Table):
    """A push test on the machine as it stands: it replaces the stiffness of one link by what was measured."""

    link: str = Field(description="the link it measures, by the name the answers give it")
    force: Force = Field(gt=0, description="force, N")
    reading: Length = Field(gt=0, le=100, description="what the dial read, in the direction of the force, mm")
    reading_spread: Length = Field(
        default=0.005, ge=0, le=10, description="half-width of the reading, mm; half a division of the dial"
    )
    direction: Direction = Field(description="direction of the force")
    at: str = Field(default="tool", description="point pushed at and read at")
    against: str | None = Field(default=None, description="point the dial stands on; the ground if not said")
    member: Literal["before", "after"] = Field(
        default="before", description="state of the member when it was pushed"
    )
    position: tuple[At, ...] | None = Field(
        default=None,
        max_length=3,
        description="where each axis stood, mm along its rail, or in a general machine from where its points are stated; mid-travel if not said",
    )


class _PlainParts(Table):
    """Head of the file, and the tables of the three kinds."""

    name: str = Field(min_length=1, description="what you call it")
    kind: Literal["moving bridge", "portal", "cantilever arm", "general"] = Field(
        description="moving bridge: a bridge runs along the base; portal: the bridge stands and the table runs; "
        "cantilever arm: an arm held at one end; general: any, by its parts"
    )
    part: Part | None = Field(default=None, description="what the job's member is in it; not for general")
    up: Literal["z", "-z", "y", "-y"] = Field(
        default="z", description="direction of the member that points up in the machine"
    )
    beam: PlainBeam | None = Field(default=None, description="the bridge or arm, where the member is a rail")
    uprights: Uprights | None = Field(default=None, description="what carries the bridge or arm")
    rails: BaseRails = Field(default=BaseRails(), description="the base's rails")
    cross: MachineAxis | None = Field(
        default=None, description="travel of the tool along the bridge or arm, X"
    )
    long: MachineAxis | None = Field(
        default=None, description="travel along the base's rails, Y; nothing moves along Y if not said"
    )
    table: WorkTable | None = Field(default=None, description="a portal's table")
    tool: Tool | None = Field(default=None, description="the tool")
    service: Service = Field(description="what it does with the tool")
    push: tuple[Push, ...] = Field(default=(), max_length=10, description="push tests")


class Served(GeneralParts, _PlainParts):
    """The machine the member will serve."""

    @model_validator(mode="after")
    def _goes_together(self) -> Served:
        if self.kind == "general":
            self._general()
        else:
            self._plain()
        return self

    def _general(self) -> None:
        for key in ("part", "beam", "uprights", "cross", "long", "table", "tool"):
            if getattr(self, key) is not None:
                raise KeyFault(
                    f"a general machine has no {key}; say it by its points, beams, carriages and drives, or name another kind",
                    key,
                )
        self.check_links()

    def _plain(self) -> None:
        for key in GENERAL:
            if getattr(self, key):
                raise KeyFault(
                    f'[[{key}]] belongs to a general machine and this is a {self.kind}; leave it out, or say kind = "general"',
                    key,
                )
        roles = ROLES[self.kind]
        if self.part not in roles:
            words = " or ".join(f'"{r}"' for r in roles)
            said = f"and cannot be its {self.part}; say" if self.part else "and it must be said which; say"
            raise KeyFault(f"the member of a {self.kind} is its {words} {said} {words}", "part")
        for key in ("uprights", "cross", "tool"):
            if getattr(self, key) is None:
                raise KeyFault(f"a {self.kind} needs [{key}]; add the table", key)
        if self.part == "rail" and self.beam is None:
            raise KeyFault(
                "the member is a rail, so the bridge or arm must be said; add [beam] with its length and section",
                "part",
            )
        if self.part != "rail" and self.beam is not None:
            raise KeyFault(f"the member is the {self.part} itself; leave [beam] out", "beam")
        if self.long is None and (self.kind == "moving bridge" or self.part == "rail"):
            raise KeyFault(
                f"a {self.kind} with this part needs [long], its travel along the base; add it", "long"
            )
        if self.kind == "portal" and self.long is not None and self.table is None:
            raise KeyFault("a portal with [long] moves its table; add [table]", "table")
        if self.kind != "portal" and self.table is not None:
            raise KeyFault(f"a {self.kind} has no [table]; leave it out", "table")
        self._places()

    def _places(self) -> None:
        assert self.uprights is not None
        wanted = 1 if self.kind == "cantilever arm" else 2
        if len(self.uprights.at) != wanted:
            raise KeyFault(
                f"a {self.kind} stands on {wanted}; give {wanted} place{'s' if wanted > 1 else ''}",
                "uprights",
                "at",
            )
        if wanted == 2 and self.uprights.at[0] >= self.uprights.at[1]:
            raise KeyFault("the first of the two must be the smaller one; swap them", "uprights", "at")
        rails = self.rails.at
        if rails is not None and len(rails) != wanted:
            raise KeyFault(
                f"a {self.kind} runs on {wanted}; give {wanted} place{'s' if wanted > 1 else ''}, or leave it out",
                "rails",
                "at",
            )
        if self.kind == "portal" and rails is not None and rails[0] >= rails[1]:
            raise KeyFault("the first of the two must be the smaller one; swap them", "rails", "at")
        if self.long is not None and self.long.rail_length is None and self.part != "rail":
            raise KeyFault("the length of the base's rails must be said; add it", "long", "rail_length")
