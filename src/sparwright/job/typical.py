"""Typical stiffness values that ship: what wheels, blocks, belts, screws, racks and joints give where none is measured."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

from pydantic import Field, model_validator

from sparwright.job.quantities import Force, Length, Number, Ratio, Stiffness, Table, refuse_twins

FILE = "typical-stiffness.toml"


class TypicalContact(Table):
    """A wheel, block or bushing on its rail."""

    name: str = Field(min_length=1, description="name a machine file uses")
    radial: Stiffness = Field(gt=0, description="the way it is pressed on its rail, N/mm")
    axial: Stiffness = Field(gt=0, description="square to that, along a wheel's axle, N/mm")
    tilting: Number = Field(default=0, ge=0, description="against turning on its rail, N mm/rad")
    spread: Ratio = Field(ge=0, lt=1, description="half-width, ratio")
    source: str = Field(min_length=1, description="where the value comes from")


class TypicalBelt(Table):
    """A toothed belt, run under tension."""

    name: str = Field(min_length=1, description="name a machine file uses")
    specific: Force = Field(gt=0, description="specific stiffness EA, N for a strain of one")
    tooth: Length = Field(gt=0, description="pitch, mm")
    spread: Ratio = Field(ge=0, lt=1, description="half-width, ratio")
    source: str = Field(min_length=1, description="where the value comes from")


class TypicalDrive(Table):
    """A screw's nut, or a pinion on its rack."""

    name: str = Field(min_length=1, description="name a machine file uses")
    stiffness: Stiffness = Field(gt=0, description="along the travel, N/mm")
    spread: Ratio = Field(ge=0, lt=1, description="half-width, ratio")
    source: str = Field(min_length=1, description="where the value comes from")


class TypicalJoint(Table):
    """Two parts fixed to one another."""

    name: str = Field(min_length=1, description="name a machine file uses")
    linear: Stiffness = Field(gt=0, description="against shift, N/mm")
    tilting: Number = Field(gt=0, description="against turn, N mm/rad")
    spread: Ratio = Field(ge=0, lt=1, description="half-width, ratio")
    source: str = Field(min_length=1, description="where the value comes from")


class TypicalFile(Table):
    """All values that ship, by kind."""

    contact: tuple[TypicalContact, ...] = Field(description="wheels, blocks and bushings")
    belt: tuple[TypicalBelt, ...] = Field(description="belts")
    screw: tuple[TypicalDrive, ...] = Field(description="nuts of screws")
    rack: tuple[TypicalDrive, ...] = Field(description="racks with their pinions")
    joint: tuple[TypicalJoint, ...] = Field(description="joints and tool holders")

    @model_validator(mode="after")
    def _names(self) -> TypicalFile:
        for kind in ("contact", "belt", "screw", "rack", "joint"):
            refuse_twins(getattr(self, kind), kind, "name")
        return self


def typical_text() -> bytes:
    """The file of typical values as it ships."""
    return resources.files("sparwright.job").joinpath("data", FILE).read_bytes()


@lru_cache(maxsize=1)
def typical_values() -> TypicalFile:
    """The typical values that ship."""
    import tomllib

    return TypicalFile.model_validate(tomllib.loads(typical_text().decode()))
