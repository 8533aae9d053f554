"""What joins the parts of a machine, as its file says it: carriages, drives, joints, and the sections of plain beams."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sparwright.job.quantities import Force, KeyFault, Length, Mass, Number, Ratio, Stiffness, Table

At = Annotated[Length, Field(ge=-20000, le=20000)]
Given = Annotated[Stiffness, Field(gt=0, le=1e9)]
Turning = Annotated[Number, Field(gt=0, le=1e13)]
Bending = Annotated[Number, Field(gt=0, le=1e17)]
Spread = Annotated[Ratio, Field(ge=0, lt=1)]
LIKE = "name of a typical value that ships"
SPREAD = "half-width of its stiffness, ratio; the typical value's, or 0.3 for your own, if not said"


class BeamSection(Table):
    """Section of a plain beam of the machine, by its measures or by stated stiffnesses."""

    shape: Literal["rectangular tube", "round tube", "flat bar", "stated"] = Field(description="its shape")
    width: Length | None = Field(
        default=None, gt=0, le=1000, description="tube, bar: outside width, the level way across it, mm"
    )
    height: Length | None = Field(
        default=None, gt=0, le=1000, description="tube, bar: outside height, the other way across it, mm"
    )
    diameter: Length | None = Field(
        default=None, gt=0, le=1000, description="round tube: outside diameter, mm"
    )
    wall: Length | None = Field(default=None, gt=0, le=100, description="tubes: wall thickness, mm")
    metal: Literal["aluminium", "steel"] = Field(default="aluminium", description="what it is made of")
    EA: Number | None = Field(default=None, gt=0, le=1e14, description="stated: axial stiffness, N")
    EI: tuple[Bending, Bending] | None = Field(
        default=None,
        description="stated: bending stiffness for motion across its width and its height, N mm²",
    )
    GJ: Number | None = Field(default=None, gt=0, le=1e16, description="stated: torsional stiffness, N mm²")
    mass_per_metre: Number = Field(default=0, ge=0, le=1000, description="stated: mass, kg/m")

    @model_validator(mode="after")
    def _measures(self) -> BeamSection:
        wanted = {
            "rectangular tube": ("width", "height", "wall"),
            "round tube": ("diameter", "wall"),
            "flat bar": ("width", "height"),
            "stated": ("EA", "EI", "GJ"),
        }[self.shape]
        for key in wanted:
            if getattr(self, key) is None:
                raise KeyFault(f"a section of shape {self.shape} needs {', '.join(wanted)}; add {key}", key)
        if self.wall is not None and self.shape != "flat bar":
            across = [v for v in (self.width, self.height, self.diameter) if v is not None]
            if across and self.wall >= min(across) / 2:
                raise KeyFault(
                    f"must be less than half of {min(across):g} mm, or nothing is hollow; correct it", "wall"
                )
        return self


class Joint(Table):
    """How two parts are fixed to one another: as stiff as a rigid link where this table is left out."""

    like: str | None = Field(default=None, description=f"{LIKE}, kind joint")
    linear: Given | None = Field(default=None, description="stiffness against shift, every direction, N/mm")
    tilting: Turning | None = Field(default=None, description="stiffness against turn, every axis, N mm/rad")
    spread: Spread | None = Field(default=None, description=SPREAD)

    @model_validator(mode="after")
    def _said(self) -> Joint:
        if self.like is None and (self.linear is None or self.tilting is None):
            raise KeyFault('say "like" with a typical value, or both linear and tilting; add one', "like")
        return self


class Carriage(Table):
    """A carriage on its rail: wheels, blocks or bushings at their positions."""

    contacts: Literal["wheels", "blocks", "bushings"] = Field(description="what it runs on")
    along: tuple[At, ...] = Field(
        min_length=1,
        max_length=12,
        description="where they stand along the rail, from the carriage's middle, mm",
    )
    across: tuple[At, ...] = Field(
        default=(0,),
        min_length=1,
        max_length=6,
        description="where they stand across the rail, from the carriage's middle, mm; one at every place along",
    )
    laid: Literal["up", "level"] = Field(
        default="up", description="which way `across` goes: up, or level and square to the rail"
    )
    press: Literal["up", "level"] | None = Field(
        default=None,
        description="way their radial stiffness acts; for wheels as `laid`, for others the other way, if not said",
    )
    middle: tuple[At, At] = Field(
        default=(0, 0), description="their middle from the rail's axis, level and up, mm"
    )
    like: str | None = Field(default=None, description=f"{LIKE}, kind contact")
    radial: Given | None = Field(
        default=None, description="stiffness of one the way it is pressed on its rail, N/mm"
    )
    axial: Given | None = Field(
        default=None, description="stiffness of one square to that, along a wheel's axle, N/mm"
    )
    tilting: Turning | None = Field(
        default=None, description="stiffness of one against turning on its rail, N mm/rad; none if not said"
    )
    spread: Spread | None = Field(default=None, description=SPREAD)
    width: Length = Field(gt=0, le=5000, description="length of rail it covers, mm")
    mass: Mass = Field(default=0, ge=0, le=1000, description="its mass with its plate, kg")

    @model_validator(mode="after")
    def _said(self) -> Carriage:
        if self.like is None and (self.radial is None or self.axial is None):
            raise KeyFault('say "like" with a typical value, or both radial and axial; add one', "like")
        reach = max(self.along) - min(self.along)
        if self.width < reach:
            raise KeyFault(
                f"its contacts stand {reach:g} mm apart and it covers {self.width:g} mm of rail; make it at least that wide",
                "width",
            )
        return self


class Drive(Table):
    """What moves a carriage along its rail and holds it there."""

    kind: Literal["belt", "screw", "rack", "fixed"] = Field(
        description="belt, screw, rack and pinion, or anything of one stated stiffness"
    )
    like: str | None = Field(default=None, description=f"{LIKE}, of the same kind; for a screw its nut's")
    specific: Force | None = Field(
        default=None,
        gt=0,
        le=1e9,
        description="belt: its specific stiffness EA, force for a strain of one, N",
    )
    run: Literal["open", "loop"] = Field(
        default="open",
        description="belt: open, held at both ends with the motor on the carriage; loop, round a motor at `ends[0]` and an idler",
    )
    ends: tuple[At, At] | None = Field(
        default=None,
        description="belt: where its ends or pulleys are; screw: where its bearings are; along the rail from its start, mm",
    )
    root: Length | None = Field(default=None, gt=0, le=200, description="screw: root diameter, mm")
    far_end: Literal["free", "fixed"] = Field(
        default="free", description="screw: whether its far bearing holds it along too"
    )
    stiffness: Given | None = Field(
        default=None, description="screw: of the nut; rack, fixed: of the whole, N/mm"
    )
    bearing: Given | None = Field(default=None, description="screw: stiffness of its bearing along it, N/mm")
    motor: Given | None = Field(
        default=None, description="what the motor itself yields at the carriage, in series, N/mm"
    )
    at: tuple[At, At] = Field(default=(0, 0), description="its line from the rail's axis, level and up, mm")
    spread: Spread | None = Field(default=None, description=SPREAD)
    tooth: Length | None = Field(
        default=None, gt=0, le=100, description="belt or rack: pitch of its teeth, mm, for what it excites"
    )
    step: Length | None = Field(
        default=None, gt=0, le=10, description="travel of one full step of the motor, mm, for what it excites"
    )

    @model_validator(mode="after")
    def _said(self) -> Drive:
        own = {"belt": "specific", "screw": "stiffness", "rack": "stiffness", "fixed": "stiffness"}[self.kind]
        if self.like is None and getattr(self, own) is None:
            raise KeyFault(f'a {self.kind} drive needs "like" with a typical value, or {own}; add one', own)
        if self.kind == "fixed" and self.stiffness is None:
            raise KeyFault("a fixed drive has no typical value; say its stiffness", "stiffness")
        if self.kind in ("belt", "screw") and self.ends is None:
            raise KeyFault(f"a {self.kind} needs the places of its two ends; add them", "ends")
        if self.kind == "screw" and self.root is None:
            raise KeyFault("a screw needs its root diameter; add it", "root")
        if self.ends is not None and self.ends[0] >= self.ends[1]:
            raise KeyFault("the first of the two ends must be the smaller one; swap them", "ends")
        return self
