"""Cross-sections a job may state: the common ones by their measures, any other drawn."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sparwright.job.quantities import Angle, KeyFault, Length, Number, Table


class RectangularTube(Table):
    """Rectangular tube lying with its width along y and its height along z."""

    shape: Literal["rectangular tube"]
    width: Length = Field(gt=0, le=1000, description="outside width, along y, mm")
    height: Length = Field(gt=0, le=1000, description="outside height, along z, mm")
    wall: Length = Field(gt=0, le=50, description="wall thickness, mm")
    outer_radius: Length = Field(default=0, ge=0, le=100, description="outside corner radius, mm")
    inner_radius: Length | None = Field(
        default=None,
        ge=0,
        le=100,
        description="inside corner radius, mm; outside radius less the wall if not said",
    )

    @model_validator(mode="after")
    def _hollow(self) -> RectangularTube:
        half = min(self.width, self.height) / 2
        if self.wall >= half:
            raise KeyFault(
                f"must be less than half the smaller side, {half:g} mm, or nothing is hollow", "wall"
            )
        if self.outer_radius > half:
            raise KeyFault(f"must be at most half the smaller side, {half:g} mm", "outer_radius")
        if self.inner_radius is not None and self.inner_radius > half - self.wall:
            raise KeyFault(
                f"must be at most half the smaller inside width, {half - self.wall:g} mm", "inner_radius"
            )
        return self


class RoundTube(Table):
    """Round tube."""

    shape: Literal["round tube"]
    diameter: Length = Field(gt=0, le=1000, description="outside diameter, mm")
    wall: Length = Field(gt=0, le=100, description="wall thickness, mm")

    @model_validator(mode="after")
    def _hollow(self) -> RoundTube:
        if 2 * self.wall >= self.diameter:
            raise KeyFault(f"must be less than half the diameter, {self.diameter / 2:g} mm", "wall")
        return self


class FlatBar(Table):
    """Flat bar or plate, width along y, thickness along z."""

    shape: Literal["flat bar"]
    width: Length = Field(gt=0, le=2000, description="width, along y, mm")
    thickness: Length = Field(gt=0, le=500, description="thickness, along z, mm")
    corner_radius: Length = Field(default=0, ge=0, le=100, description="corner radius, mm")


class SquareBar(Table):
    """Square bar."""

    shape: Literal["square bar"]
    side: Length = Field(gt=0, le=500, description="side, mm")
    corner_radius: Length = Field(default=0, ge=0, le=100, description="corner radius, mm")


class AngleBar(Table):
    """Angle: legs along +y and +z from the heel at the origin."""

    shape: Literal["angle"]
    width: Length = Field(gt=0, le=1000, description="leg along y, mm")
    height: Length = Field(gt=0, le=1000, description="leg along z, mm")
    thickness: Length = Field(gt=0, le=100, description="leg thickness, mm")
    root_radius: Length = Field(default=0, ge=0, le=100, description="fillet inside the corner, mm")
    toe_radius: Length = Field(default=0, ge=0, le=100, description="rounding of the toes' inner edges, mm")


class Channel(Table):
    """Channel: web along z at y = 0, flanges along +y."""

    shape: Literal["channel"]
    width: Length = Field(gt=0, le=1000, description="flange width, along y, mm")
    height: Length = Field(gt=0, le=1000, description="height over the flanges, along z, mm")
    web: Length = Field(gt=0, le=100, description="web thickness, mm")
    flange: Length = Field(gt=0, le=100, description="flange thickness, mm")
    root_radius: Length = Field(default=0, ge=0, le=100, description="fillet between web and flange, mm")


class TeeBar(Table):
    """T: flange on top along y, web below along z."""

    shape: Literal["tee"]
    width: Length = Field(gt=0, le=1000, description="flange width, along y, mm")
    height: Length = Field(gt=0, le=1000, description="whole height, along z, mm")
    web: Length = Field(gt=0, le=100, description="web thickness, mm")
    flange: Length = Field(gt=0, le=100, description="flange thickness, mm")
    root_radius: Length = Field(default=0, ge=0, le=100, description="fillet between web and flange, mm")


class IBeam(Table):
    """I: flanges along y, web along z."""

    shape: Literal["i-beam"]
    width: Length = Field(gt=0, le=1000, description="flange width, along y, mm")
    height: Length = Field(gt=0, le=1000, description="whole height, along z, mm")
    web: Length = Field(gt=0, le=100, description="web thickness, mm")
    flange: Length = Field(gt=0, le=100, description="flange thickness, mm")
    root_radius: Length = Field(default=0, ge=0, le=100, description="fillet between web and flange, mm")


class DrawnSection(Table):
    """A section drawn in a DXF file; closed loops, holes by nesting."""

    shape: Literal["drawn"]
    file: str = Field(description="DXF file, beside the job file")
    layer: str | None = Field(default=None, description="take only this layer; all layers if not said")
    scale: Number = Field(default=1.0, gt=0, description="drawing units to mm; 25.4 for a drawing in inches")
    turn: Angle = Field(default=0, description="turn the drawing by this angle first, degrees")
    gap: Length = Field(default=0.02, gt=0, le=1, description="ends closer than this are taken as joined, mm")
    chord: Length = Field(
        default=0.005, gt=0, le=0.1, description="greatest chord error of arcs and splines, mm"
    )


AnySection = Annotated[
    RectangularTube | RoundTube | FlatBar | SquareBar | AngleBar | Channel | TeeBar | IBeam | DrawnSection,
    Field(discriminator="shape"),
]
