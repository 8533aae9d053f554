"""Cross-sections a job may state: the common ones by their measures, any other drawn or as measured points."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from sparwright.job.quantities import Angle, KeyFault, Length, Number, Table

Corner = Annotated[tuple[Length, ...], Field(min_length=2, max_length=3)]


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


class PathSection(Table):
    """A section drawn as an SVG path, in the job itself or in an SVG file; closed parts, holes by nesting (even-odd).

    The section is taken as the drawing shows it: y of an SVG points down, z of a section up.
    """

    shape: Literal["path"]
    d: str | None = Field(default=None, description='the path\'s own text, "M ... Z"; this or file')
    file: str | None = Field(default=None, description="SVG file, beside the job file; this or d")
    id: str | None = Field(
        default=None, description="id of the path in the file; may be left out where it is the only path"
    )
    scale: Number | None = Field(
        default=None,
        gt=0,
        description="drawing units to mm; if not said what the file's width and viewBox say, else 1",
    )
    turn: Angle = Field(
        default=0, description="turn the drawing by this angle first, degrees, counter-clockwise"
    )
    gap: Length = Field(
        default=0.02, gt=0, le=1, description="a part whose ends are closer than this is taken as closed, mm"
    )
    chord: Length = Field(default=0.005, gt=0, le=0.1, description="greatest chord error of curves, mm")

    @model_validator(mode="after")
    def _one_source(self) -> PathSection:
        if (self.d is None) == (self.file is None):
            said = "both d and file are said" if self.d is not None else "neither d nor file is said"
            raise KeyFault(f"{said}; say one of them", "d" if self.d is not None else "file")
        if self.id is not None and self.file is None:
            raise KeyFault("id names a path in a file; leave it out with d", "id")
        return self


class PointsSection(Table):
    """A section as measured with a caliper: its corners in order round the outline, from any origin.

    A corner is `[y, z]` or, rounded, `[y, z, radius]`, where y and z are of the sharp corner that the two sides would
    meet at. The outline closes itself.
    """

    shape: Literal["points"]
    outer: tuple[Corner, ...] = Field(
        min_length=3, max_length=1000, description="corners of the outside, in order, mm"
    )
    holes: tuple[Annotated[tuple[Corner, ...], Field(min_length=3, max_length=1000)], ...] = Field(
        default=(), max_length=100, description="corners of every hollow, in order, mm"
    )
    bores: tuple[tuple[Length, Length, Length], ...] = Field(
        default=(), max_length=100, description="round hollows as [y, z, diameter], mm"
    )


AnySection = Annotated[
    RectangularTube
    | RoundTube
    | FlatBar
    | SquareBar
    | AngleBar
    | Channel
    | TeeBar
    | IBeam
    | DrawnSection
    | PathSection
    | PointsSection,
    Field(discriminator="shape"),
]
