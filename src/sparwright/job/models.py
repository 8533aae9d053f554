"""What a job file may say: frozen models, one per table, with units, ranges and a sentence for every key.

The descriptions here are the source of the generated reference page. Bare numbers are in the unit named in
each description; strings may carry any unit of the same kind.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    model_validator,
)

from sparwright.units import to_canonical


class KeyFault(ValueError):
    """A table whose keys are each in range but do not go together; `keys` is the path of the one to change."""

    def __init__(self, what: str, *keys: str | int) -> None:
        super().__init__(what)
        self.keys = keys


def _no_truth(value: Any) -> Any:
    """True and false are numbers to Python; in a job they are not."""
    if isinstance(value, bool):
        raise ValueError("a number is wanted, not true or false")
    return value


def _quantity(kind: str) -> BeforeValidator:
    return BeforeValidator(partial(to_canonical, kind=kind))


Length = Annotated[float, _quantity("length"), Field(json_schema_extra={"unit": "mm"})]
Angle = Annotated[float, _quantity("angle"), Field(json_schema_extra={"unit": "degree"})]
Speed = Annotated[float, _quantity("speed"), Field(json_schema_extra={"unit": "mm/min"})]
Acceleration = Annotated[float, _quantity("acceleration"), Field(json_schema_extra={"unit": "mm/s²"})]
SpindleSpeed = Annotated[float, _quantity("spindle speed"), Field(json_schema_extra={"unit": "rpm"})]
Power = Annotated[float, _quantity("power"), Field(json_schema_extra={"unit": "W"})]
Force = Annotated[float, _quantity("force"), Field(json_schema_extra={"unit": "N"})]
Stress = Annotated[float, _quantity("stress"), Field(json_schema_extra={"unit": "MPa"})]
Mass = Annotated[float, _quantity("mass"), Field(json_schema_extra={"unit": "kg"})]
Density = Annotated[float, _quantity("density"), Field(json_schema_extra={"unit": "kg/m³"})]
Stiffness = Annotated[float, _quantity("stiffness"), Field(json_schema_extra={"unit": "N/mm"})]
Frequency = Annotated[float, _quantity("frequency"), Field(json_schema_extra={"unit": "Hz"})]
Ratio = Annotated[float, _quantity("ratio"), Field(json_schema_extra={"unit": "ratio"})]
Place = tuple[Length, Length]
Number = Annotated[float, BeforeValidator(_no_truth)]
Count = Annotated[int, BeforeValidator(_no_truth)]
Size = Annotated[Length, Field(gt=0)]
PositiveSpeed = Annotated[Speed, Field(gt=0)]
PositiveAcceleration = Annotated[Acceleration, Field(gt=0)]


class Table(BaseModel):
    """A table of the job file: frozen, and refusing keys it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


def _refuse_twins(tables: Iterable[Any], array: str, key: str) -> None:
    """KeyFault at the second of two tables of one array that have the same value for a key."""
    seen: set[Any] = set()
    for place, table in enumerate(tables):
        value = getattr(table, key)
        if value in seen:
            raise KeyFault(
                f"another {array} has the {key} {value!r} already; give each its own", array, place, key
            )
        seen.add(value)


# --- sections -------------------------------------------------------------------------------------------


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


class Stock(Table):
    """The piece of stock."""

    material: str = Field(description="name of a material shipped or in the job's own materials file")
    length: Length = Field(gt=0, le=20000, description="length as it lies on the bench, mm")
    section: AnySection = Field(description="the cross-section")
    measured_wall: Length | None = Field(
        default=None, gt=0, description="wall as measured on the piece, mm; the nominal wall if not said"
    )
    wall_tolerance: Length = Field(
        default=0.3,
        ge=0,
        le=5,
        description="half-width of the wall's tolerance, mm (EN 755-9 gives 0.40 to 0.60 for 4 mm)",
    )


# --- features -------------------------------------------------------------------------------------------

PocketShape = Literal["triangle", "hexagon", "square", "diamond", "round", "slot"]
Conflict = Literal["drop", "refuse"]


def _refuse_pocket(pocket: PocketField | SinglePocket) -> None:
    """KeyFault where a pocket's depth is said twice or never, or its width does not go with its shape."""
    if pocket.skin is None and pocket.depth is None:
        raise KeyFault("neither skin nor depth is said; add one of the two", "skin")
    if pocket.skin is not None and pocket.depth is not None:
        raise KeyFault("skin and depth are both said; take one of the two out", "depth")
    if pocket.pocket == "slot" and pocket.width is None:
        raise KeyFault("slot pockets need a width; add it", "width")
    if pocket.pocket != "slot" and pocket.width is not None:
        raise KeyFault("width goes with slot pockets only; take it out", "width")


class PocketField(Table):
    """A regular array of pockets on one or more faces."""

    name: str = Field(min_length=1, description="name, used in pocket names and findings")
    faces: tuple[str, ...] = Field(min_length=1, description="faces it is laid out on")
    pocket: PocketShape = Field(description="outline of the pockets")
    cell: Length = Field(
        gt=0,
        le=500,
        description="size of the cell, mm: side of the triangle's cell, across flats of the hexagon's cell, "
        "side of the square's or diamond's cell, pitch of round pockets, length pitch of slots",
    )
    rib: Length = Field(gt=0, le=200, description="metal between neighbouring pockets, mm")
    width: Length | None = Field(default=None, gt=0, description="slots only: width across the member, mm")
    skin: Length | None = Field(
        default=None, ge=0, le=50, description="metal left under the pocket, mm; 0 is a window"
    )
    depth: Length | None = Field(
        default=None, gt=0, le=200, description="depth of the pocket, mm, instead of a skin"
    )
    corner_radius: Length | None = Field(
        default=None,
        gt=0,
        description="inside corner radius, mm; the least the finishing cutter allows if not said",
    )
    end_margin: Length = Field(default=0, ge=0, description="metal kept whole at each end of the member, mm")
    edge_margin: Length = Field(default=0, ge=0, description="metal kept whole at each edge of the face, mm")
    edge_break: Length = Field(
        default=0, ge=0, le=5, description="width of the edge break on the pockets' rims, mm"
    )
    stagger: bool = Field(default=True, description="hexagon and round: rows staggered by half a pitch")
    rows: Count | None = Field(
        default=None, ge=1, le=200, description="number of rows; as many as fit if not said"
    )
    on_conflict: Conflict = Field(
        default="drop",
        description="drop pockets that meet a hole, notch, keep-clear zone or web, or refuse the job",
    )

    @model_validator(mode="after")
    def _depth(self) -> PocketField:
        _refuse_pocket(self)
        return self


class SinglePocket(Table):
    """One pocket at a place of its own."""

    name: str = Field(min_length=1, description="name of the pocket")
    face: str = Field(description="face it is cut from")
    pocket: PocketShape = Field(description="outline of the pocket")
    at: Place = Field(description="centre [x, s] on the face, mm")
    size: Length = Field(
        gt=0,
        le=1000,
        description="side of a triangle, square or diamond; across flats; diameter; slot length, mm",
    )
    width: Length | None = Field(default=None, gt=0, description="slots only: width, mm")
    turn: Angle = Field(default=0, description="turn about its centre, degrees, from x toward s")
    skin: Length | None = Field(
        default=None, ge=0, le=50, description="metal left under it, mm; 0 is a window"
    )
    depth: Length | None = Field(default=None, gt=0, le=200, description="depth, mm, instead of a skin")
    corner_radius: Length | None = Field(
        default=None, gt=0, description="inside corner radius, mm; as the cutter allows if not said"
    )
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")
    on_conflict: Conflict = Field(
        default="refuse", description="drop it where it meets something, or refuse the job"
    )

    @model_validator(mode="after")
    def _depth(self) -> SinglePocket:
        _refuse_pocket(self)
        return self


class HoleGroup(Table):
    """Holes of one kind at one or more places on a face."""

    name: str = Field(min_length=1, description="name, used in hole names and findings")
    face: str = Field(description="face they are drilled from")
    kind: Literal["drilled", "tapped", "clearance", "counterbored"] = Field(description="kind of hole")
    at: tuple[Place, ...] = Field(min_length=1, description="list of places [x, s] on the face, mm")
    thread: Literal["M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"] | None = Field(
        default=None, description="thread of tapped, clearance and counterbored holes, coarse series"
    )
    diameter: Length | None = Field(default=None, gt=0, le=200, description="drilled holes: diameter, mm")
    fit: Literal["fine", "medium", "coarse"] = Field(
        default="medium", description="series of clearance holes (ISO 273)"
    )
    depth: Length | None = Field(default=None, gt=0, le=500, description="depth of a blind hole, mm")
    through: Literal["wall", "all"] = Field(
        default="wall", description="through the first wall or through the whole section"
    )
    clear: Length = Field(default=3, ge=0, le=100, description="metal kept whole round the hole's edge, mm")
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")

    @model_validator(mode="after")
    def _size(self) -> HoleGroup:
        wanted, other = ("diameter", "thread") if self.kind == "drilled" else ("thread", "diameter")
        if getattr(self, wanted) is None:
            raise KeyFault(f"a {self.kind} hole needs a {wanted}; add it", wanted)
        if getattr(self, other) is not None:
            raise KeyFault(f"a {self.kind} hole takes its {wanted} and no {other}; take it out", other)
        return self


class Notch(Table):
    """A rectangular notch cut through one wall from an end of the member."""

    name: str = Field(min_length=1, description="name of the notch")
    face: str = Field(description="face it is cut from")
    end: Literal["datum", "far"] = Field(description="end of the member it opens to")
    width: Length = Field(gt=0, description="width across the face, mm")
    depth: Length = Field(gt=0, description="how far it reaches in from the end, mm")
    at: Length = Field(default=0, description="centre across the face, s, mm")
    corner_radius: Length | None = Field(
        default=None, gt=0, description="inside corner radius, mm; as the cutter allows if not said"
    )
    edge_break: Length = Field(default=0, ge=0, le=5, description="width of the edge break, mm")


class EndCut(Table):
    """An end sawn off before anything else."""

    end: Literal["datum", "far"] = Field(description="end that is cut")
    remove: Length = Field(gt=0, description="length taken off, measured on the member's axis, mm")


class KeepClear(Table):
    """A rectangle on a face that pockets must stay out of."""

    name: str = Field(min_length=1, description="name of the zone")
    face: str = Field(description="face it lies on")
    x: Place = Field(description="from and to along the member, mm")
    s: Place = Field(description="from and to across the face, mm")

    @model_validator(mode="after")
    def _in_order(self) -> KeepClear:
        for key in ("x", "s"):
            low, high = getattr(self, key)
            if low >= high:
                raise KeyFault("the first of the two must be the smaller one; swap them", key)
        return self


# --- placing and cutting wishes -------------------------------------------------------------------------


class Placing(Table):
    """How the member is laid down, located and held."""

    datum_corner: Literal["left front"] = Field(
        default="left front", description="corner of the reach that is X0 Y0"
    )
    margin: Length = Field(
        default=2, ge=0, description="least margin wanted between any cut and the end of the reach, mm"
    )
    pads: Count = Field(
        default=4, ge=2, le=12, description="number of pads; the outer two locate, the others carry"
    )
    pad_material: str = Field(default="MDF", description="sheet the pads are cut from")
    pad_thickness: Length = Field(default=18, gt=2, le=100, description="thickness of the pad sheet, mm")
    pad_length: Length = Field(default=90, gt=10, description="length of a pad along the member, mm")
    pad_width: Length = Field(default=190, gt=10, description="width of a pad across the member, mm")
    slot_depth: Length = Field(default=4, gt=0, le=50, description="depth of the locating slot, mm")
    fit: Literal["push", "slide", "loose"] = Field(
        default="slide", description="clearance of member in slot: push 0.05, slide 0.10, loose 0.20 mm"
    )
    clamp_force: Force = Field(default=800, gt=0, description="force of one clamp on the member, N")
    clamp_screw: Literal["M5", "M6", "M8"] = Field(default="M6", description="clamp screw")
    insert_hole: Length = Field(
        default=8.5, gt=0, le=30, description="hole in the pad for the clamp screw's insert, mm"
    )
    friction: Ratio = Field(
        default=0.2, gt=0, le=2, description="friction of member on pad, low end of the range"
    )


class Cutting(Table):
    """Wishes and limits for the cuts."""

    clearance: Length = Field(
        default=6, gt=0, description="height of rapid moves over the face, mm; clamps are added"
    )
    safe_height: Length = Field(
        default=25, gt=0, description="height at program start and end, over the face, mm"
    )
    wall_stock: Length = Field(
        default=0.2, ge=0, le=2, description="metal left on walls for the finishing lap, mm"
    )
    floor_stock: Length = Field(
        default=0.2, ge=0, le=2, description="metal left on floors for the finishing pass, mm"
    )
    engagement: Ratio = Field(
        default=0.15, gt=0, le=0.5, description="radial depth of clearing cuts over cutter diameter"
    )
    depth_per_pass: Ratio = Field(
        default=0.5, gt=0, le=3, description="axial depth of clearing cuts over cutter diameter"
    )
    floor_tolerance: Length = Field(
        default=0.02, gt=0, le=1, description="tolerance of a floor's depth in the proof, mm"
    )
    wall_tolerance: Length = Field(
        default=0.03, gt=0, le=1, description="tolerance of a wall's place in the proof, mm"
    )
    break_through: Length = Field(
        default=0.4, gt=0, le=5, description="how far cuts go past the far side of a wall, mm"
    )
    drill_by_milling: bool = Field(
        default=True, description="bore a hole with an end mill where no drill of its size is listed"
    )
    thrust_limit: Force = Field(
        default=60,
        gt=0,
        description="greatest cutting force this machine holds without deflecting too far, N",
    )


class Wishes(Table):
    """What the finished member must keep. Anything not said is reported, not judged."""

    twist_kept: Ratio | None = Field(
        default=None, gt=0, le=1, description="least share of torsional stiffness GJ kept"
    )
    bending_kept: Ratio | None = Field(
        default=None, gt=0, le=1, description="least share of bending stiffness kept, either axis"
    )
    mass_out: Mass | None = Field(default=None, gt=0, description="least mass taken out, kg")
    tip_deflection: Length | None = Field(
        default=None, gt=0, description="greatest deflection at the tool tip under the stated force, mm"
    )
    first_frequency: Frequency | None = Field(
        default=None, gt=0, description="least first natural frequency, Hz"
    )


class Head(Table):
    """What the job is and which files it names."""

    title: str = Field(min_length=1, description="title printed on every sheet")
    notes: str = Field(default="", description="a note printed on the overview")
    bed: str = Field(description="file of the machine that cuts: beside the job file, or one that ships")
    cutters: str = Field(description="file of the cutters at hand: beside the job file, or one that ships")
    served: str | None = Field(default=None, description="file of the machine the member will serve")
    materials: str | None = Field(default=None, description="file of materials of your own")


class JobFile(Table):
    """The job file as written."""

    job: Head = Field(description="title and the files the job names")
    stock: Stock = Field(description="the piece of stock")
    field: tuple[PocketField, ...] = Field(default=(), description="fields of pockets")
    pocket: tuple[SinglePocket, ...] = Field(default=(), description="single pockets")
    hole: tuple[HoleGroup, ...] = Field(default=(), description="holes")
    notch: tuple[Notch, ...] = Field(default=(), description="notches at the ends")
    end_cut: tuple[EndCut, ...] = Field(default=(), description="ends sawn off first")
    keep_clear: tuple[KeepClear, ...] = Field(default=(), description="zones pockets stay out of")
    placing: Placing = Field(default=Placing(), description="how the member is placed and held")
    cutting: Cutting = Field(default=Cutting(), description="wishes and limits for the cuts")
    wishes: Wishes = Field(default=Wishes(), description="what the finished member must keep")

    @model_validator(mode="after")
    def _names(self) -> JobFile:
        for array in ("field", "pocket", "hole", "notch", "keep_clear"):
            _refuse_twins(getattr(self, array), array, "name")
        return self


# --- the machine that cuts ------------------------------------------------------------------------------


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


class Controller(Table):
    """What the machine's controller can take."""

    arcs: bool = Field(default=True, description="G2 and G3 understood")
    canned_cycles: bool = Field(default=False, description="G81 to G83 understood")
    tool_change: Literal["one file a cutter", "stop", "M6"] = Field(
        default="one file a cutter", description="how cutters are changed"
    )
    decimals: Count = Field(default=3, ge=2, le=5, description="decimals of coordinates")
    blocks_per_second: Number = Field(default=150, gt=0, description="blocks it can take in a second")
    look_ahead: Count = Field(default=16, ge=1, le=10000, description="blocks it plans ahead")
    junction_deviation: Length = Field(
        default=0.02, gt=0, le=1, description="corner gap that sets the joint speed, mm"
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
    step_scale: Ratio = Field(default=0.0003, ge=0, le=0.01, description="error of an axis' scale, ratio")
    tramming: Number = Field(
        default=0.1, ge=0, le=2, description="spindle out of square to the bed, mm per 100 mm"
    )
    touch_off: Length = Field(
        default=0.02, ge=0, le=0.5, description="repeatability of touching off, one sigma, mm"
    )
    frame_stiffness: Stiffness = Field(
        default=2000, gt=0, description="stiffness at the cutter, weakest direction, N/mm"
    )


class Cutter(Table):
    """One cutter with its stick-out, shank and holder."""

    number: Count = Field(ge=1, le=999, description="tool number")
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


class CutterFile(Table):
    """The cutters at hand."""

    cutter: tuple[Cutter, ...] = Field(min_length=1, description="one table a cutter")

    @model_validator(mode="after")
    def _numbers(self) -> CutterFile:
        _refuse_twins(self.cutter, "cutter", "number")
        return self


# --- the machine served, and materials ------------------------------------------------------------------


class Served(Table):
    """The machine the member will serve: the member as a beam carried at two places, with a tool on it."""

    name: str = Field(min_length=1, description="what you call it")
    supports: tuple[Length, Length] = Field(description="where its two carriages carry the member, x, mm")
    support_stiffness: Stiffness = Field(
        gt=0, description="stiffness of one carriage, across the member, N/mm"
    )
    support_twist_stiffness: Number = Field(
        default=2e7, gt=0, description="stiffness of one carriage against the member's twist, N mm/rad"
    )
    support_spread: Ratio = Field(
        default=0.3, ge=0, lt=1, description="half-width of the carriages' stiffness, ratio"
    )
    tool_mass: Mass = Field(ge=0, description="mass that rides on the member, kg")
    tool_offset: Length = Field(
        default=0, description="tool tip from the member's axis, which turns force into twist, mm"
    )
    force: Force = Field(gt=0, description="force at the tool tip the deflection is stated for, N")
    force_direction: Literal["y", "z"] = Field(
        default="z", description="direction of the force in the member's frame"
    )

    @model_validator(mode="after")
    def _in_order(self) -> Served:
        if self.supports[0] >= self.supports[1]:
            raise KeyFault("the first of the two must be the smaller one; swap them", "supports")
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
        _refuse_twins(self.material, "material", "name")
        return self


class Job(BaseModel):
    """A whole job: the job file with every file it names read and checked.

    `folder` is where the job file lies, `digest` the SHA-256 of all the text that was read.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    path: str
    folder: str
    digest: str
    file: JobFile
    bed: Bed
    cutters: tuple[Cutter, ...]
    material: Material
    served: Served | None = None

    @property
    def title(self) -> str:
        """The job's title."""
        return self.file.job.title

    def cutter(self, number: int) -> Cutter:
        """The cutter with that number; KeyError where there is none."""
        for c in self.cutters:
            if c.number == number:
                return c
        raise KeyError(number)
