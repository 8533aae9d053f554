"""A machine in its parts, every stiffness resolved: what the kinds of a machine file expand to.

Machine axes and millimetres. Points are stated with every axis in its middle position; an axis at offset q moves what
moves with it by q along its direction.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from sparwright.job.links import BeamSection
from sparwright.job.positions import Key
from sparwright.job.served import Push, Service
from sparwright.job.vectors import Vector

Matrix = tuple[Vector, Vector, Vector]


@dataclass(frozen=True)
class Travel:
    """How an axis' rail is used, mm: all that its ledger needs. low, high: of the carriage's middle, from the rail's start."""

    rail: float
    ends: tuple[float, float]
    stops: tuple[float, float]
    switch: float
    switch_at: str
    overhang: tuple[float, float]
    outside: tuple[float, float]
    width: float
    footprint: float | None

    @property
    def low(self) -> float:
        """Least place of the carriage's middle, mm from the rail's start."""
        switch = self.switch if self.switch_at == "start" else 0.0
        return self.ends[0] + self.stops[0] + switch + self.width / 2 - self.overhang[0]

    @property
    def high(self) -> float:
        """Greatest place of the carriage's middle, mm from the rail's start."""
        switch = self.switch if self.switch_at == "end" else 0.0
        return self.rail - self.ends[1] - self.stops[1] - switch - self.width / 2 + self.overhang[1]


@dataclass(frozen=True)
class AxisPart:
    """A direction of travel: unit direction, offsets low <= 0 <= high, `zero` the carriage's place on its rail at offset 0."""

    name: str
    direction: Vector
    low: float
    high: float
    zero: float = 0.0
    travel: Travel | None = None
    wanted: float | None = None
    force: float | None = None
    acceleration: float | None = None
    tooth: float | None = None
    step: float | None = None


@dataclass(frozen=True)
class PointPart:
    """A point and the axes it moves with."""

    name: str
    at: Vector
    axes: tuple[str, ...] = ()
    held: bool = False


@dataclass(frozen=True)
class BeamPart:
    """A beam from point to point. section None: the job's member, as reworked or, where `plain`, as it was."""

    name: str
    start: str
    end: str
    up: Vector
    section: BeamSection | None
    through: tuple[str, ...] = ()
    plain: bool = False


@dataclass(frozen=True)
class ContactPart:
    """A wheel, block or bushing: place from the carriage's point, axes (along, pressed, square) as rows, stiffness on them."""

    offset: Vector
    turn: Matrix
    stiffness: tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class RunnerPart:
    """A carriage: its point, the beam it runs on (None: the ground)."""

    name: str
    body: str
    on: str | None
    contacts: tuple[ContactPart, ...]
    spread: float


@dataclass(frozen=True)
class DrivePart:
    """A drive: acts at `offset` from its point along its axis, against a beam or (None) the ground.

    kind: belt, screw, rack or fixed. ends: along the rail from its start, mm. specific: EA of a belt or of a screw's
    root, N. series: compliances in series with it (nut, bearing, motor, or the whole), mm/N.
    """

    name: str
    point: str
    offset: Vector
    on: str | None
    axis: str
    kind: str
    specific: float
    loop: bool
    ends: tuple[float, float] | None
    far_fixed: bool
    bearing: float
    series: float
    spread: float


@dataclass(frozen=True)
class JointPart:
    """A joint of two points (b None: the ground), acting at point a."""

    name: str
    a: str
    b: str | None
    linear: float
    tilting: float
    spread: float


@dataclass(frozen=True)
class MassPart:
    """A lumped mass, kg, `offset` mm from its point."""

    name: str
    point: str
    mass: float
    offset: Vector = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class ServedMachine:
    """The machine the member will serve, in its parts.

    Names before a "/" are the links the answers speak of: "base carriages/2" is one of the base carriages. member:
    name of the beam that is the job's member. work: the point the tool works on, None for the ground. file, lines:
    where the machine file says what belongs to each name. keys: the same before lines are known.
    """

    name: str
    kind: str
    axes: tuple[AxisPart, ...]
    points: tuple[PointPart, ...]
    beams: tuple[BeamPart, ...]
    rigids: tuple[tuple[str, str], ...]
    runners: tuple[RunnerPart, ...]
    drives: tuple[DrivePart, ...]
    joints: tuple[JointPart, ...]
    masses: tuple[MassPart, ...]
    service: Service
    member: str
    work: str | None = None
    pushes: tuple[Push, ...] = ()
    file: str = ""
    keys: dict[str, Key] = field(default_factory=dict, compare=False)
    lines: dict[str, int] = field(default_factory=dict, compare=False)

    def axis(self, name: str) -> AxisPart:
        """The axis of that name; KeyError where there is none."""
        for axis in self.axes:
            if axis.name == name:
                return axis
        raise KeyError(name)

    @property
    def links(self) -> tuple[str, ...]:
        """Names of everything that yields, as the answers show them."""
        parts: tuple[BeamPart | RunnerPart | DrivePart | JointPart, ...] = (
            *self.beams,
            *self.runners,
            *self.drives,
            *self.joints,
        )
        return tuple(dict.fromkeys(link_of(p.name) for p in parts))

    def where(self, name: str) -> str:
        """File and line of what a name belongs to, for messages."""
        line = self.lines.get(name) or self.lines.get(link_of(name)) or 0
        return f"{self.file}, line {line}" if line else self.file or self.name


def link_of(name: str) -> str:
    """The link a part's name belongs to."""
    return name.split("/", 1)[0]
