"""The files a job names: the bed that cuts, the cutters at hand, materials."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field, model_validator

from sparwright.job.quantities import (
    Angle,
    Count,
    Density,
    KeyFault,
    Length,
    Number,
    PositiveAcceleration,
    PositiveSpeed,
    Power,
    Ratio,
    Size,
    SpindleSpeed,
    Stiffness,
    Stress,
    Table,
    refuse_twins,
)


class Spindle(Table):
    """The spindle."""

    power: Power = Field(gt=0, description="rated power, W")
    slowest: SpindleSpeed = Field(gt=0, description="slowest usable speed, rpm")
    fastest: SpindleSpeed = Field(gt=0, description="fastest speed, rpm")
    full_power_at: SpindleSpeed | None = Field(
        default=None,
        gt=0,
        description="speed of rated power, rpm; fastest if not said; power falls in proportion below",
    )
    efficiency: Ratio = Field(default=0.7, gt=0, le=1, description="share of rated power at the cutter")
    runout: Length = Field(default=0.02, ge=0, le=0.5, description="run-out at the cutter, mm")

    @model_validator(mode="after")
    def _in_order(self) -> Spindle:
        if self.slowest > self.fastest:
            raise KeyFault(f"must be at most the fastest speed, {self.fastest:g} rpm", "slowest")
        if self.full_power_at is not None and self.full_power_at > self.fastest:
            raise KeyFault(f"must be at most the fastest speed, {self.fastest:g} rpm", "full_power_at")
        return self


PassedWord = Annotated[str, Field(pattern=r"^([ABCEOUVW;]|[GM][0-9]{1,3}(\.[1-9])?)$")]


class Controller(Table):
    """What the machine's controller can take."""

    arcs: bool = Field(default=True, description="G2 and G3 understood")
    canned_cycles: bool = Field(default=False, description="G81 to G83 understood")
    tool_change: Literal["one file a cutter", "stop", "M6"] = Field(
        default="one file a cutter", description="how cutters are changed"
    )
    decimals: Count = Field(default=3, ge=2, le=5, description="decimals it takes in coordinates")
    blocks_per_second: Number = Field(default=150, gt=0, description="blocks it can take in a second")
    look_ahead: Count = Field(default=16, ge=1, le=10000, description="blocks it plans ahead")
    junction_deviation: Length = Field(
        default=0.02,
        gt=0,
        le=1,
        description="how far it lets the path round a corner, mm; sets the speed through it",
    )
    passes_over: tuple[PassedWord, ...] = Field(
        default=(),
        description="words of other programs that it leaves out without harm: a letter A, B, C, E, O, U, V or W, the sign "
        '";" (a remark to the end of the line), or G and M words NIST IR 6556 does not know, such as "M98"',
    )


class Bed(Table):
    """The machine that cuts."""

    name: str = Field(min_length=1, description="what you call it")
    reach: tuple[Size, Size, Size] = Field(description="travel of the spindle in X, Y and Z, mm")
    throat: Length = Field(gt=0, description="clear width between the uprights, along X, mm")
    upright_depth: Length = Field(default=120, ge=0, description="depth of the uprights along Y, mm")
    throat_offset: Length = Field(
        default=0, description="middle of the throat less middle of the reach, along X, mm"
    )
    bridge_clearance: Length = Field(gt=0, description="clear height under the bridge, above the bed, mm")
    nose_height: Length = Field(
        gt=0, description="height of the collet nose above the bed at the top of Z travel, mm"
    )
    bed_size: tuple[Size, Size] = Field(description="the table in X and Y, mm")
    bed_offset: tuple[Length, Length] = Field(
        default=(0, 0), description="X and Y of the table's left front corner in the reach's frame, mm"
    )
    rapid: tuple[PositiveSpeed, PositiveSpeed, PositiveSpeed] = Field(
        description="rapid speeds in X, Y and Z, mm/min"
    )
    feed_limit: tuple[PositiveSpeed, PositiveSpeed, PositiveSpeed] = Field(
        description="greatest feeds in X, Y and Z, mm/min"
    )
    acceleration: tuple[PositiveAcceleration, PositiveAcceleration, PositiveAcceleration] = Field(
        description="accelerations in X, Y and Z, mm/s²"
    )
    spindle: Spindle = Field(description="the spindle")
    controller: Controller = Field(default=Controller(), description="what its controller takes")
    backlash: Length = Field(default=0.04, ge=0, le=1, description="backlash of an axis, mm")
    squareness: Number = Field(default=0.2, ge=0, le=5, description="Y out of square to X, mm per metre")
    step_scale: Ratio = Field(
        default=0.0003, ge=0, le=0.01, description="how far off an axis' scale may be, share of the travel"
    )
    tramming: Number = Field(
        default=0.1, ge=0, le=2, description="spindle out of square to the bed, mm per 100 mm"
    )
    touch_off: Length = Field(
        default=0.02, ge=0, le=0.5, description="how well touching off repeats, standard deviation, mm"
    )
    frame_stiffness: Stiffness = Field(
        default=2000, gt=0, description="stiffness at the cutter, weakest direction, N/mm"
    )


class Cutter(Table):
    """One cutter with its stick-out, shank and holder."""

    number: Count = Field(ge=1, le=999, description="its number, as the T word calls it")
    name: str = Field(min_length=1, description="what you call it")
    kind: Literal["flat", "ball", "vee", "drill"] = Field(description="form of its end")
    diameter: Length = Field(gt=0, le=100, description="cutting diameter, mm")
    flutes: Count = Field(default=1, ge=1, le=8, description="number of cutting edges")
    flute_length: Length = Field(gt=0, description="length of the cutting edges, mm")
    stick_out: Length = Field(gt=0, description="length out of the collet, mm")
    shank: Length = Field(gt=0, description="shank diameter, mm")
    holder: Length = Field(default=22, gt=0, description="diameter of the collet nut, mm")
    holder_length: Length = Field(default=20, gt=0, description="length of the collet nut, mm")
    included_angle: Angle | None = Field(
        default=None, gt=0, lt=180, description="vee and drill: angle at the point, degrees"
    )
    tip: Length = Field(default=0, ge=0, description="vee: width of its flat tip, mm")
    chip: Length = Field(gt=0, le=1, description="chip load per tooth in aluminium, full radial width, mm")
    surface_speed: Number = Field(default=300, gt=0, description="greatest surface speed, m/min")
    plunges: bool = Field(default=True, description="cuts to its centre and may plunge")

    @model_validator(mode="after")
    def _forms(self) -> Cutter:
        if self.kind in ("vee", "drill") and self.included_angle is None:
            raise KeyFault(f"a {self.kind} cutter needs the angle at its point; add it", "included_angle")
        if self.stick_out < self.flute_length:
            raise KeyFault(f"must be at least the flute_length, {self.flute_length:g} mm", "stick_out")
        return self

    @property
    def half_angle(self) -> float:
        """Half the angle at its point, radians; a right angle for an end without a point."""
        if self.kind not in ("vee", "drill") or self.included_angle is None:
            return math.pi / 2
        return math.radians(self.included_angle) / 2


class CutterFile(Table):
    """The cutters at hand."""

    cutter: tuple[Cutter, ...] = Field(min_length=1, description="one table a cutter")

    @model_validator(mode="after")
    def _numbers(self) -> CutterFile:
        refuse_twins(self.cutter, "cutter", "number")
        return self


class Material(Table):
    """Properties of a metal."""

    name: str = Field(min_length=1, description="name used in jobs")
    modulus: Stress = Field(gt=0, description="Young's modulus E, MPa")
    poisson: Number = Field(gt=0, lt=0.5, description="Poisson's ratio")
    density: Density = Field(gt=0, description="density, kg/m³")
    proof_strength: Stress = Field(gt=0, description="0.2 % proof strength, MPa")
    tensile_strength: Stress = Field(gt=0, description="tensile strength, MPa")
    cutting_force: Stress = Field(gt=0, description="specific cutting force kc1.1, N/mm²")
    cutting_exponent: Number = Field(ge=0, lt=1, description="exponent mc of the specific cutting force")
    cutting_spread: Ratio = Field(
        default=0.2, ge=0, lt=1, description="half-width of the specific cutting force, ratio"
    )
    expansion: Number = Field(default=23e-6, gt=0, description="thermal expansion, 1/K")
    source: str = Field(description="where the figures come from")

    @property
    def shear_modulus(self) -> float:
        """G = E / (2 (1 + nu)), MPa."""
        return self.modulus / (2 * (1 + self.poisson))


class MaterialFile(Table):
    """Materials."""

    material: tuple[Material, ...] = Field(min_length=1, description="one table a material")

    @model_validator(mode="after")
    def _names(self) -> MaterialFile:
        refuse_twins(self.material, "material", "name")
        return self
