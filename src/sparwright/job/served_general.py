"""A machine by its parts: named points, beams, plates, carriages, drives, joints and masses between them."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, model_validator

from sparwright.job.links import At, BeamSection, Carriage, Drive, Joint
from sparwright.job.quantities import Force, KeyFault, Mass, Size, Table, refuse_twins

Name = Annotated[str, Field(min_length=1, max_length=60)]
Point3 = tuple[At, At, At]
GENERAL = ("axis", "point", "strut", "plate", "runner", "mover", "fixing", "weight")


class FreeAxis(Table):
    """A direction of travel of a general machine."""

    name: Name = Field(description="its name, for example X")
    direction: Point3 = Field(description="direction of travel in machine axes")
    travel: tuple[At, At] = Field(
        description="how far what moves with it goes from where its points are stated, backward and forward, mm"
    )
    wanted: Size | None = Field(default=None, description="travel wanted, mm")
    force: Force | None = Field(default=None, gt=0, description="force left to accelerate with, N")

    @model_validator(mode="after")
    def _in_order(self) -> FreeAxis:
        if self.travel[0] > self.travel[1]:
            raise KeyFault("the first of the two must be the smaller one; swap them", "travel")
        if not any(self.direction):
            raise KeyFault("it has no length; give a direction such as [1, 0, 0]", "direction")
        return self


class NamedPoint(Table):
    """A point of a general machine, in machine axes. One must be named "tool"; "work" is what the tool works on."""

    name: Name = Field(description="its name")
    at: Point3 = Field(description="X, Y and Z, mm")
    moves_with: tuple[Name, ...] = Field(
        default=(), max_length=6, description="names of the axes it moves with"
    )
    held: bool = Field(default=False, description="held by the ground, in all directions")


class Strut(Table):
    """A beam of a general machine between two points. One must be the member."""

    name: Name = Field(description="its name, shown in the answers")
    between: tuple[Name, Name] = Field(description="the points at its start and its end")
    through: tuple[Name, ...] = Field(
        default=(), max_length=50, description="further points on its line that are fixed to it"
    )
    up: Point3 = Field(default=(0, 0, 1), description="direction of its section's height in machine axes")
    section: BeamSection | None = Field(default=None, description="its section; not for the member")
    member: bool = Field(
        default=False, description="it is the job's member, its axis on the line of the points"
    )

    @model_validator(mode="after")
    def _one_of_both(self) -> Strut:
        if self.member == (self.section is not None):
            raise KeyFault("a beam has a section or is the member; say one of the two", "section")
        return self


class Plate(Table):
    """A plate or block so stiff that it ties its points together rigidly."""

    name: Name = Field(description="its name")
    points: tuple[Name, ...] = Field(min_length=2, max_length=40, description="the points it ties together")


class Runner(Carriage):
    """A carriage of a general machine; `level` is square to its rail and to Z."""

    name: Name = Field(description="its name, shown in the answers")
    body: Name = Field(description="the point in the middle of its contacts, which moves with the axis")
    on: Name | None = Field(default=None, description="the beam it runs on; the ground if not said")
    axis: Name = Field(description="the axis it runs along")


class Mover(Drive):
    """A drive of a general machine; its line passes through its point (`at` is not used), `ends` count from where it is stated."""

    name: Name = Field(description="its name, shown in the answers")
    point: Name = Field(description="the point it moves")
    on: Name | None = Field(default=None, description="the beam it pulls against; the ground if not said")
    axis: Name = Field(description="the axis it moves along")


class Fixing(Joint):
    """A joint of a general machine between two points."""

    name: Name = Field(description="its name, shown in the answers")
    between: tuple[Name, Name] = Field(description="the two points; they may lie on one place")


class Weight(Table):
    """A mass of a general machine."""

    name: Name = Field(description="its name")
    point: Name = Field(description="the point it rides on")
    mass: Mass = Field(ge=0, le=10000, description="mass, kg")
    offset: Point3 = Field(default=(0, 0, 0), description="its centre from that point, mm")


class GeneralParts(Table):
    """The parts of a general machine."""

    axis: tuple[FreeAxis, ...] = Field(default=(), max_length=3, description="directions of travel")
    point: tuple[NamedPoint, ...] = Field(default=(), max_length=300, description="points")
    strut: tuple[Strut, ...] = Field(default=(), max_length=100, description="beams")
    plate: tuple[Plate, ...] = Field(default=(), max_length=100, description="rigid plates")
    runner: tuple[Runner, ...] = Field(default=(), max_length=50, description="carriages")
    mover: tuple[Mover, ...] = Field(default=(), max_length=50, description="drives")
    fixing: tuple[Fixing, ...] = Field(default=(), max_length=100, description="joints")
    weight: tuple[Weight, ...] = Field(default=(), max_length=200, description="masses")

    def check_links(self) -> None:
        """KeyFault at the first link that leads nowhere, or where the tool or the member is missing."""
        for array in GENERAL:
            refuse_twins(getattr(self, array), array, "name")
        points = [p.name for p in self.point]
        axes = [a.name for a in self.axis]
        beams = [b.name for b in self.strut]
        self._shown_names()
        for i, p in enumerate(self.point):
            for j, name in enumerate(p.moves_with):
                _known(name, axes, "axis", "point", i, "moves_with", j)
        links: tuple[tuple[str, str, list[str], str], ...] = (
            ("strut", "between", points, "point"),
            ("strut", "through", points, "point"),
            ("plate", "points", points, "point"),
            ("runner", "body", points, "point"),
            ("runner", "on", beams, "beam"),
            ("runner", "axis", axes, "axis"),
            ("mover", "point", points, "point"),
            ("mover", "on", beams, "beam"),
            ("mover", "axis", axes, "axis"),
            ("fixing", "between", points, "point"),
            ("weight", "point", points, "point"),
        )
        for array, key, names, what in links:
            for i, part in enumerate(getattr(self, array)):
                self._follow(array, i, key, getattr(part, key), names, what)
        if "tool" not in points:
            raise KeyFault('no point is named "tool"; name the point at the tool\'s tip so', "point")
        if sum(b.member for b in self.strut) != 1:
            raise KeyFault("one beam, and only one, must be the member; say member = true at it", "strut")

    def _shown_names(self) -> None:
        seen: set[str] = set()
        for array in ("strut", "runner", "mover", "fixing", "plate"):
            for i, part in enumerate(getattr(self, array)):
                if part.name in seen:
                    raise KeyFault(
                        f"another part has the name {part.name!r} already; give each its own",
                        array,
                        i,
                        "name",
                    )
                seen.add(part.name)

    @staticmethod
    def _follow(array: str, i: int, key: str, value: Any, names: list[str], what: str) -> None:
        if value is None:
            return
        if isinstance(value, str):
            _known(value, names, what, array, i, key)
            return
        for j, name in enumerate(value):
            _known(name, names, what, array, i, key, j)
        if len(set(value)) < len(value):
            raise KeyFault(f"it names one {what} twice; name different ones", array, i, key)


def _known(name: str, names: list[str], what: str, *key: str | int) -> None:
    if name not in names:
        kinds = {"point": "points", "beam": "beams", "axis": "axes"}[what]
        there = ", ".join(f'"{n}"' for n in names[:12]) or "none"
        raise KeyFault(
            f'it leads to {what} "{name}", which is not there; {kinds} there are: {there}. Name one of these, or add it',
            *key,
        )
