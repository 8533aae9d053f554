"""The designs the stiffness models are measured on: sections, pocket fields and the members they make."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from sparwright.job.features import PocketField
from sparwright.job.models import AnySection, Material
from sparwright.stock.model import FieldBay, Member, Section
from sparwright.stock.pockets import field_size, lay_out, pocket_form
from sparwright.stock.section import make_section, section_from_polygon

LENGTH = 1200.0


@dataclass(frozen=True)
class Design:
    """One design: `section` by name, fields as (faces, measures), and how its whole member is computed.

    counts: periods of the two whole members, () for none; size: their mesh over the usual; order: of their elements;
    words: for the table.
    """

    section: str
    fields: tuple[tuple[tuple[str, ...], dict[str, Any]], ...]
    words: str
    counts: tuple[int, ...] = ()
    size: float = 1.0
    order: int = 2

    @property
    def windows(self) -> bool:
        """Whether a field goes through the wall."""
        return any(spec["skin"] <= 0 for _, spec in self.fields)


def metal(poisson: float = 0.33, modulus: float = 69500.0) -> Material:
    """The material of every design."""
    return Material(
        name="trial metal",
        modulus=modulus,
        poisson=poisson,
        density=2700,
        proof_strength=160,
        tensile_strength=205,
        cutting_force=750,
        cutting_exponent=0.23,
        source="made up for the trials",
    )


def rounded(shape: Polygon, radius: float) -> Polygon:
    """The figure with its outer corners rounded."""
    return shape.buffer(-radius, join_style="mitre").buffer(radius, quad_segs=16) if radius else shape


def two_cells(outer: float, inner: float) -> Polygon:
    """80 x 40 x 3 with a web of 3 mm in the middle, outer and inner corners rounded, mm."""
    shape = rounded(box(0, 0, 80, 40), outer)
    for left, right in ((3, 38.5), (41.5, 77)):
        shape = shape.difference(rounded(box(left, 3, right, 37), inner))
    return shape


def sections() -> dict[str, Section]:
    """Every section by its name, with the thickness of its walls in the name."""

    def stated(shape: str, **measures: float) -> Section:
        spec = TypeAdapter(AnySection).validate_python({"shape": shape, **measures})
        return make_section(spec, Path("."))

    return {
        "80 x 40 x 4": stated("rectangular tube", width=80, height=40, wall=4),
        "100 x 50 x 3": stated("rectangular tube", width=100, height=50, wall=3),
        "60 x 60 x 3": stated("rectangular tube", width=60, height=60, wall=3),
        "80 x 40 x 3, web": section_from_polygon(two_cells(0, 0), "two cells", 0.01),
        "drawn 80 x 40 x 3, web, fillets 1.5": section_from_polygon(two_cells(1.0, 1.5), "drawn", 0.01),
        "50 x 100 x 4, r 4": stated("rectangular tube", width=50, height=100, wall=4, outer_radius=4),
        "bar 100 x 12": stated("flat bar", width=100, thickness=12),
    }


WALLS = {
    "80 x 40 x 4": 4,
    "100 x 50 x 3": 3,
    "60 x 60 x 3": 3,
    "80 x 40 x 3, web": 3,
    "drawn 80 x 40 x 3, web, fillets 1.5": 3,
    "50 x 100 x 4, r 4": 4,
    "bar 100 x 12": 12,
}
WIDE, ALL = ("top", "bottom"), ("top", "bottom", "front", "back")


def _hexes(skin: float, rows: int = 3, radius: float = 1.5) -> dict[str, Any]:
    return {"pocket": "hexagon", "cell": 26, "rib": 4, "rows": rows, "radius": radius, "skin": skin}


def _isogrid(skin: float) -> dict[str, Any]:
    return {"pocket": "triangle", "cell": 40, "rib": 4, "rows": 2, "radius": 2, "skin": skin}


def _rounds(skin: float, rows: int = 3) -> dict[str, Any]:
    return {"pocket": "round", "cell": 25, "rib": 5, "rows": rows, "skin": skin}


def _squares(skin: float) -> dict[str, Any]:
    return {"pocket": "square", "cell": 22, "rib": 4, "rows": 2, "radius": 2, "skin": skin}


def _slots(skin: float) -> dict[str, Any]:
    return {"pocket": "slot", "cell": 40, "width": 16, "rib": 8, "rows": 2, "radius": 3, "skin": skin}


def _bridge(skin: float) -> dict[str, Any]:
    spec = {"pocket": "triangle", "cell": 44, "rib": 5, "radius": 2.1}
    return spec | {"end_margin": 60, "edge_margin": 8, "skin": skin}


_A, _C, _E = "80 x 40 x 4", "100 x 50 x 3", "60 x 60 x 3"
_G, _H = "80 x 40 x 3, web", "drawn 80 x 40 x 3, web, fillets 1.5"
_J, _F = "50 x 100 x 4, r 4", "bar 100 x 12"

DESIGNS: dict[str, Design] = {
    "A1": Design(_A, ((WIDE, _hexes(1)),), "hexagons 22, two wide faces, skin 1", (12, 20)),
    "A0": Design(_A, ((WIDE, _hexes(0)),), "hexagons 22, two wide faces, windows", (16, 26)),
    "B1": Design(
        _A,
        ((WIDE, _hexes(1)), (("front", "back"), _hexes(1, rows=1))),
        "hexagons 22, four faces, skin 1",
    ),
    "B0": Design(
        _A, ((WIDE, _hexes(0)), (("front", "back"), _hexes(0, rows=1))), "hexagons 22, four faces, windows"
    ),
    "C1": Design(_C, ((WIDE, _isogrid(1)),), "triangles, two wide faces, skin 1", (12, 16)),
    "C0": Design(_C, ((WIDE, _isogrid(0)),), "triangles, two wide faces, windows"),
    "D1": Design(_C, ((("top",), _rounds(1)),), "round 20, one face, skin 1", (14, 24)),
    "D0": Design(_C, ((("top",), _rounds(0)),), "round 20, one face, windows", (30, 42)),
    "E1": Design(_E, ((ALL, _squares(1)),), "squares 18, four faces, skin 1", (14, 22)),
    "E0": Design(_E, ((ALL, _squares(0)),), "squares 18, four faces, windows"),
    "F1.5": Design(_F, ((("top",), _hexes(1.5)),), "hexagons 22, one face, skin 1.5"),
    "G1": Design(_G, ((WIDE, _slots(1)),), "slots 32 x 16, two wide faces, skin 1", (10, 18)),
    "G0": Design(_G, ((WIDE, _slots(0)),), "slots 32 x 16, two wide faces, windows"),
    "H1": Design(_H, ((("top",), _rounds(1)),), "round 20, one face, over the web, skin 1", (11, 20)),
    "K1": Design(
        _C,
        ((WIDE, _rounds(1)), (("front",), _rounds(1, rows=1))),
        "round 20, three faces, skin 1",
    ),
    "J1": Design(_J, ((("front", "back"), _bridge(1.2)),), "bridge beam, skin 1.2", (10, 16)),
    "J0": Design(_J, ((("front", "back"), _bridge(0)),), "bridge beam, windows"),
}


def field_on(section: Section, face: str, wall: float, radius: float = 0.0, **spec: Any) -> FieldBay:
    """The regular part of a field as the house lays it out; radius 0 keeps corners sharp, mm."""
    field = PocketField(name=f"{spec['pocket']}s", faces=(face,), **spec)
    layout = lay_out(field, section.face(face).width, LENGTH)
    outlines, sharp = [], []
    for site in layout.period_sites:
        turn = 180.0 if site.half_turned else 0.0
        form = pocket_form(field.pocket, field_size(field), field.width, turn, radius)
        outlines.append(translate(form.outline, *site.at))
        sharp.append(translate(form.sharp, *site.at))
    return FieldBay(
        field=field.name,
        face=face,
        pitch=layout.pitch,
        rows=layout.rows,
        outlines=tuple(outlines),
        sharp_outlines=tuple(sharp),
        depth=wall - (field.skin or 0.0),
        skin=field.skin or 0.0,
        span=layout.span,
    )


def member(name: str) -> Member:
    """The member of a design, 1200 mm long."""
    design = DESIGNS[name]
    section = sections()[design.section]
    bays = [
        field_on(section, face, WALLS[design.section], **spec)
        for faces, spec in design.fields
        for face in faces
    ]
    bays = [replace(b, span=bays[0].span) if b.pitch == bays[0].pitch else b for b in bays]
    return Member(name, section, LENGTH, metal(), bays=tuple(bays))
