"""What a job file may say: frozen models, one per table, with units, ranges and a sentence for every key.

The descriptions here are the source of the generated reference page. Bare numbers are in the unit named in
each description; strings may carry any unit of the same kind. Sections, features and the files a job names have
modules of their own; every model can be had from here.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from sparwright.job.features import (
    Conflict,
    EndCut,
    HoleGroup,
    KeepClear,
    Notch,
    PocketField,
    PocketShape,
    SinglePocket,
)
from sparwright.job.links import BeamSection, Carriage, Drive, Joint
from sparwright.job.machine_parts import ServedMachine
from sparwright.job.machines import (
    Bed,
    Controller,
    Cutter,
    CutterFile,
    Material,
    MaterialFile,
    Spindle,
)
from sparwright.job.quantities import (
    Angle,
    Count,
    Force,
    Frequency,
    KeyFault,
    Length,
    Mass,
    Place,
    Ratio,
    Table,
    refuse_twins,
)
from sparwright.job.sections import (
    AngleBar,
    AnySection,
    Channel,
    DrawnSection,
    FlatBar,
    IBeam,
    PathSection,
    PointsSection,
    RectangularTube,
    RoundTube,
    SquareBar,
    TeeBar,
)
from sparwright.job.served import (
    BaseRails,
    MachineAxis,
    PlainBeam,
    Push,
    Served,
    Service,
    Tool,
    ToolPlate,
    Uprights,
    WorkTable,
)
from sparwright.job.served_general import (
    Fixing,
    FreeAxis,
    Mover,
    NamedPoint,
    Plate,
    Runner,
    Strut,
    Weight,
)

__all__ = [
    "AngleBar",
    "AnySection",
    "BaseRails",
    "BeamSection",
    "Bed",
    "Carriage",
    "Channel",
    "Conflict",
    "Controller",
    "Cutter",
    "CutterFile",
    "Cutting",
    "DrawnSection",
    "Drive",
    "EndCut",
    "Fixing",
    "FlatBar",
    "FreeAxis",
    "Head",
    "HoleGroup",
    "IBeam",
    "Job",
    "JobFile",
    "Joint",
    "KeepClear",
    "KeyFault",
    "MachineAxis",
    "Material",
    "MaterialFile",
    "Mover",
    "NamedPoint",
    "Notch",
    "PathSection",
    "Placing",
    "PlainBeam",
    "Plate",
    "PocketField",
    "PocketShape",
    "PointsSection",
    "Push",
    "RectangularTube",
    "RoundTube",
    "Runner",
    "Served",
    "ServedMachine",
    "Service",
    "SinglePocket",
    "Spindle",
    "SquareBar",
    "Stock",
    "Strut",
    "Table",
    "TeeBar",
    "Tool",
    "ToolPlate",
    "Uprights",
    "Weight",
    "Wishes",
    "WorkTable",
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


class Placing(Table):
    """How the member is laid down, located and held."""

    datum_corner: Literal["left front"] = Field(
        default="left front", description="corner of the reach that is X0 Y0"
    )
    margin: Length = Field(
        default=2, ge=0, description="least margin wanted between any cut and the end of the reach, mm"
    )
    angle: Angle | None = Field(
        default=None,
        ge=-180,
        le=180,
        description="angle of the member on the bed, degrees from +X; if not said, straight where that leaves 10 mm, "
        "else the angle of greatest margin",
    )
    at: Place | None = Field(
        default=None,
        description="X and Y of the middle of the datum end in the reach, mm; give angle too",
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
    clamp_screw: Literal["M5", "M6", "M8"] = Field(default="M6", description="size of the clamp screws")
    insert_hole: Length = Field(
        default=8.5, gt=0, le=30, description="hole in the pad for the clamp screw's insert, mm"
    )
    friction: Ratio = Field(
        default=0.2, gt=0, le=2, description="friction of member on pad, low end of the range"
    )

    @model_validator(mode="after")
    def _whole_pose(self) -> Placing:
        if self.at is not None and self.angle is None:
            raise KeyFault("a place without an angle is half a pose; give angle too, or leave at out", "at")
        return self


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
        default=0.15, gt=0, le=0.5, description="width of clearing cuts, share of the cutter's diameter"
    )
    depth_per_pass: Ratio = Field(
        default=0.5,
        gt=0,
        le=3,
        description="depth of clearing cuts in one pass, share of the cutter's diameter",
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
    units: Literal["mm", "inch"] = Field(
        default="mm", description="lengths, forces, torques and masses of the printed packet: metric or inch"
    )
    paper: Literal["A4", "US Letter"] = Field(default="A4", description="paper of the printed packet")
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
            refuse_twins(getattr(self, array), array, "name")
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
    served: ServedMachine | None = None

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
