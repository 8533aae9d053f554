"""What a case file says of programs from elsewhere: the part, the stock, how it lies, bed and cutters. All optional."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from pydantic import Field, model_validator

from sparwright.job.faults import nearest
from sparwright.job.machines import Bed, Cutter, CutterFile, Material
from sparwright.job.models import AnySection
from sparwright.job.quantities import Angle, KeyFault, Length, Place, Size, Table, refuse_twins
from sparwright.job.reading import FileReader, parse_table
from sparwright.proof.stl import UNITS, Mesh, PartError, lay, read_stl, size_text
from sparwright.stock.model import Face, Section
from sparwright.stock.section import make_section

Direction = Literal["+x", "-x", "+y", "-y", "+z", "-z"]


class PartWords(Table):
    """The part wanted, as an STL file."""

    file: str = Field(min_length=1, description="STL file beside the case file")
    units: Literal["mm", "cm", "m", "inch"] = Field(default="mm", description="what a unit of the file is")
    up: Direction = Field(default="+z", description="direction of the part that points up, off the bed")
    along: Direction = Field(default="+x", description="direction of the part that lies along the stock")
    at: tuple[Length, Length, Length] = Field(
        default=(0, 0, 0),
        description="from the stock's corner to the box round the part: along, across, and down from the top, mm",
    )


class StockWords(Table):
    """The stock before the first cut: a block, or a length of section."""

    size: tuple[Size, Size, Size] | None = Field(
        default=None, description="a block: along, across and height, mm"
    )
    section: AnySection | None = Field(default=None, description="a cross-section, as a job states it")
    length: Size | None = Field(default=None, description="length of the section, mm")
    face: str | None = Field(default=None, description="the section's face that lies up")
    at: Place = Field(description="X and Y of its left front corner in the program's coordinates, mm")
    angle: Angle = Field(default=0, description="from +X to the stock's length, degrees")
    top: Length = Field(default=0, description="Z of its top in the program's coordinates, mm")

    @model_validator(mode="after")
    def _one(self) -> StockWords:
        if (self.size is None) == (self.section is None):
            raise KeyFault("state either size, for a block, or section, not both and not neither", "size")
        if self.section is not None and self.length is None:
            raise KeyFault("a section needs its length; add it", "length")
        if self.section is not None and self.face is None:
            raise KeyFault("a section needs the face that lies up; add it", "face")
        return self


class ClampWords(Table):
    """Something on the bed that must not be hit: an upright box in the program's coordinates."""

    name: str = Field(min_length=1, description="what you call it")
    low: Place = Field(description="least X and Y, mm")
    high: Place = Field(description="greatest X and Y, mm")
    top: Length = Field(description="Z of its top, mm")

    @model_validator(mode="after")
    def _in_order(self) -> ClampWords:
        if not (self.low[0] < self.high[0] and self.low[1] < self.high[1]):
            raise KeyFault(f"must be beyond low, {list(self.low)}, in X and in Y", "high")
        return self


class ToleranceWords(Table):
    """How far the part may be off."""

    floor: Length = Field(default=0.02, gt=0, le=5, description="on surfaces seen from above, mm")
    wall: Length = Field(default=0.03, gt=0, le=5, description="on walls, mm")
    left: Length | None = Field(
        default=None,
        gt=0,
        le=50,
        description="metal that may be left for a later program, mm; none if not said",
    )


class CaseFile(Table):
    """A case file as written."""

    title: str = Field(default="", description="title of the report")
    bed: str | None = Field(default=None, description="file of the machine that cuts, as a job names it")
    cutters: str | None = Field(default=None, description="file of the cutters, as a job names it")
    material: str | None = Field(default=None, description="name of a material that ships, for forces")
    zero: Place | None = Field(
        default=None, description="X and Y of the program's zero from the left front corner of the reach, mm"
    )
    height: Length | None = Field(
        default=None, gt=0, description="height of the stock's top over the bed, mm; without stock, of Z0"
    )
    clearance: Length = Field(
        default=1, gt=0, le=100, description="least height over the stock's top for rapids sideways, mm"
    )
    stock: StockWords | None = Field(default=None, description="the stock and how it lies")
    part: PartWords | None = Field(default=None, description="the part wanted")
    clamp: tuple[ClampWords, ...] = Field(default=(), description="what must not be hit")
    tolerance: ToleranceWords = Field(default=ToleranceWords(), description="how far the part may be off")

    @model_validator(mode="after")
    def _together(self) -> CaseFile:
        refuse_twins(self.clamp, "clamp", "name")
        if self.part is not None and self.stock is None:
            raise KeyFault("a part is cut from stock; add a table [stock]", "part")
        return self


@dataclass(frozen=True)
class Known:
    """What is known of a case; None where it is not. section: of stock that is no block. digest: SHA-256 of the case file and all it names, "" without
    one. part: (m, 3, 3) triangles laid down as in stl.lay, and moved to their place under the stock's top.
    """

    words: CaseFile
    bed: Bed | None = None
    cutters: tuple[Cutter, ...] | None = None
    material: Material | None = None
    section: Section | None = None
    mesh: Mesh | None = None
    part: np.ndarray | None = None
    digest: str = ""


NOTHING = Known(CaseFile())


def load_case(path: str | Path) -> Known:
    """Read a case file and all it names; JobError or PartError with what is wrong and where."""
    where = Path(path)
    reader = FileReader(where)
    words = parse_table(reader.text, CaseFile, str(path))
    bed = reader.named(("bed",), words.bed, Bed)[0] if words.bed else None
    cutters = reader.named(("cutters",), words.cutters, CutterFile)[0].cutter if words.cutters else None
    material = _material(reader, words.material) if words.material else None
    section = _section(words.stock, where.parent) if words.stock else None
    mesh = part = None
    if words.part is not None and words.stock is not None:
        mesh = read_stl(
            reader.bytes_named(("part", "file"), words.part.file), words.part.file, words.part.units
        )
        part = _laid(mesh, words.part, words.stock, section)
    return Known(words, bed, cutters, material, section, mesh, part, reader.digest())


def stock_box(stock: StockWords, section: Section | None) -> tuple[float, float, float, float]:
    """The box round the stock, mm: its length, from and to across (s, from the middle of a section's face, from the
    edge of a block), and its depth from the face down.
    """
    if stock.size is not None:
        length, wide, high = stock.size
        return length, 0.0, wide, high
    assert section is not None
    assert stock.length is not None
    face = face_up(stock, section)
    d = np.asarray(section.shape.exterior.coords)[:, :2] - face.centre
    across, out = d @ face.across, d @ face.normal
    return stock.length, float(across.min()), float(across.max()), float(-out.min())


def face_up(stock: StockWords, section: Section) -> Face:
    """The section's face that lies up; PartError where it has none of that name."""
    names = [f.name for f in section.faces]
    if stock.face not in names:
        raise PartError(f'[stock] face: no face "{stock.face}"; this section has {", ".join(names)}')
    return section.face(stock.face)


def _section(stock: StockWords, folder: Path) -> Section | None:
    if stock.section is None:
        return None
    section = make_section(stock.section, folder)
    face_up(stock, section)
    return section


def _material(reader: FileReader, name: str) -> Material:
    known = {m.name: m for m in reader.shipped_materials()}
    if name not in known:
        hint = nearest(name, known)
        raise reader.blame("material").error(
            f'no material "{name}" ships',
            allowed=", ".join(f'"{n}"' for n in known),
            remedy=f'did you mean "{hint}"?' if hint else "name one of them, or take the key out",
        )
    return known[name]


def likely_unit(mesh: Mesh, part: PartWords, stock: StockWords, section: Section | None) -> str:
    """Another unit in which the part would fill its stock, while in its stated one it does not; "" where none."""
    length, s0, s1, deep = stock_box(stock, section)
    room = np.array([length, s1 - s0, deep])
    size = np.ptp(lay(mesh, part.up, part.along), axis=(0, 1)) / UNITS[part.units]

    def fills(unit: str) -> bool:
        return bool((abs(size * UNITS[unit] + part.at - room) < 0.02 * room).all())

    fitting = [u for u in UNITS if fills(u)]
    return "" if fills(part.units) or not fitting else fitting[0]


def _laid(mesh: Mesh, part: PartWords, stock: StockWords, section: Section | None) -> np.ndarray:
    """The part in the stock; PartError where it does not lie within it."""
    length, s0, s1, deep = stock_box(stock, section)
    laid = lay(mesh, part.up, part.along)
    size = np.ptp(laid, axis=(0, 1))
    room = np.array([length, s1 - s0, deep])
    slack = 1e-3 * room + 0.01
    begin = np.asarray(part.at)
    past = np.concatenate([-begin, begin + size - room]) - np.tile(slack, 2)
    if past.max() > 0:
        unit = likely_unit(mesh, part, stock, section)
        hint = f'; in units of {unit} it would fit: was it drawn so? Write units = "{unit}"' if unit else ""
        k = int(past.argmax())
        way = ("along", "across", "in depth")[k % 3]
        end = ("start of the stock", "edge of the stock", "top of the stock") if k < 3 else ("stock",) * 3
        raise PartError(
            f"{mesh.name}: the part, {size_text(size)} as it lies, reaches {past[k] + slack[k % 3]:.2f} mm past the "
            f"{end[k % 3]} {way}; the stock is {size_text(room)}; correct [part] at, up, along or units, or [stock]"
            + hint
        )
    return np.asarray(laid + np.array([begin[0], s0 + begin[1], -begin[2]]))
