"""Drawings: what they say is what the member is, and nothing leaves the sheet."""

import math
import re
import xml.etree.ElementTree as ET

import pytest
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from sparwright.job.models import Material
from sparwright.packet.canvas import Canvas
from sparwright.packet.details import distinct_pockets, pocket_detail, section_drawing
from sparwright.packet.faces import face_drawing, hole_rows, scale_for, scale_name
from sparwright.packet.figures import Display, mm
from sparwright.stock.model import Face, Hole, Member, NotchCut, Pocket, Section

SVG = "{http://www.w3.org/2000/svg}"


def tube() -> Member:
    shape = box(0, 0, 50, 100).difference(box(4, 4, 46, 96))
    faces = (
        Face("front", math.pi, (0.0, 50.0), 100.0),
        Face("back", 0.0, (50.0, 50.0), 100.0),
    )
    material = Material(
        name="metal",
        modulus=70000,
        poisson=0.33,
        density=2700,
        proof_strength=170,
        tensile_strength=215,
        cutting_force=800,
        cutting_exponent=0.25,
        source="invented for the test",
    )
    sharp = ((-17.67, -10.2), (17.67, -10.2), (0.0, 20.4))
    outline = Polygon(sharp).buffer(-2.1).buffer(2.1)
    pockets = tuple(
        Pocket(
            f"iso/front/r1c{i:02d}",
            "front",
            "iso",
            "up",
            (80.0 + 44 * i, -15.0),
            affinity.translate(outline, 80.0 + 44 * i, -15.0),
            tuple((x + 80.0 + 44 * i, s - 15.0) for x, s in sharp),
            2.1,
            2.8,
            1.2,
            0.4,
        )
        for i in range(20)
    )
    holes = (
        Hole("rail/1", "front", "tapped", (500.0, 30.0), 5.0, 4.0, "wall", thread="M6"),
        Hole("rail/2", "front", "tapped", (90.0, 30.0), 5.0, 4.0, "wall", thread="M6"),
    )
    notch = NotchCut("cable", "front", "datum", box(-6, -7, 8, 7), 1.6, 4.0, 0.0)
    return Member(
        "Beam",
        Section("rectangular tube 50 x 100 x 4", shape, faces),
        1180.0,
        material,
        pockets,
        holes,
        (notch,),
    )


def texts(svg: str) -> list[str]:
    return [t.text or "" for t in ET.fromstring(svg).iter(f"{SVG}text")]


def points(svg: str) -> list[tuple[float, float]]:
    out = []
    for path in ET.fromstring(svg).iter(f"{SVG}path"):
        for word in path.get("d", "").replace("Z", "").replace("L", "M").split("M"):
            if word:
                x, y = word.split()
                out.append((float(x), float(y)))
    return out


@pytest.mark.parametrize(
    "make",
    [
        lambda m: face_drawing(m, "front"),
        lambda m: section_drawing(m.section),
        lambda m: pocket_detail(m.pockets[0], 4.0),
    ],
)
def test_nothing_leaves_the_sheet(make):
    svg, _ = make(tube())
    root = ET.fromstring(svg)
    _, _, width, height = (float(v) for v in root.get("viewBox", "").split())
    assert points(svg)
    for x, y in points(svg):
        assert -0.01 <= x <= width + 0.01
        assert -0.01 <= y <= height + 0.01


def test_the_face_is_dimensioned_with_the_members_own_figures():
    said = texts(face_drawing(tube(), "front")[0])
    assert "1180" in said
    assert "100" in said
    assert "cable 8" in said
    assert mm(tube().pockets[0].outline.bounds[0]) in said


def test_the_detail_gives_depth_skin_wall_and_radius():
    said = texts(pocket_detail(tube().pockets[0], 4.0)[0])
    assert {"2.8", "skin 1.2", "4", "3 x R2.1", "0.4 x 45°"} <= set(said)


def slot() -> Pocket:
    """A low one: its height has its arrows outside."""
    outline = box(-22, -9, 22, 9).buffer(-4).buffer(4)
    corners = tuple(outline.envelope.exterior.coords)[:4]
    return Pocket("slot", "front", "slots", "up", (0.0, 0.0), outline, corners, 4.0, 4.0, 0.0, 0.3)


@pytest.mark.parametrize("inch", [False, True])
@pytest.mark.parametrize("pocket", [tube().pockets[0], slot()], ids=["triangle", "slot"])
def test_no_line_of_a_detail_goes_through_its_words(pocket, inch):
    root = ET.fromstring(pocket_detail(pocket, 4.0, Display(inch=inch), width=78.0)[0])
    lines = []
    for path in root.iter(f"{SVG}path"):
        ends = [tuple(map(float, e.split())) for e in re.split("[ML]", path.get("d", "").rstrip("Z"))[1:]]
        if len(ends) > 1:
            lines.append(LineString(ends))
    words = [
        e for e in root.iter(f"{SVG}text") if not e.get("transform") and e.get("text-anchor") != "middle"
    ]
    assert len(words) >= 2
    for word in words:
        x, y, size = (float(word.get(key)) for key in ("x", "y", "font-size"))
        room = box(x + 0.2, y - 0.6 * size, x + 0.5 * size * len(word.text), y - 0.1 * size)
        assert room.bounds[2] < 78
        assert [line.wkt for line in lines if line.intersects(room)] == [], word.text


def test_in_inches_the_face_says_inches():
    said = texts(face_drawing(tube(), "front", Display(inch=True))[0])
    assert {"46.457", "3.937", "cable 0.315"} <= set(said)


def test_holes_are_marked_in_order_along_the_member_from_the_faces_edge():
    rows = hole_rows(tube())
    assert [r.mark for r in rows] == ["A1", "A2"]
    assert [r.name for r in rows] == ["rail/2", "rail/1"]
    assert rows[0].from_edge == pytest.approx(80.0)
    assert rows[0].what == "tap M6, through the wall"


def test_a_drawing_is_as_large_on_paper_as_its_scale_says():
    """The svg's own millimetres: no stretching between its width and what it draws in; the outline to scale."""
    svg, scale = face_drawing(tube(), "front")
    root = ET.fromstring(svg)
    _, _, width, height = root.get("viewBox", "").split()
    assert (root.get("width"), root.get("height")) == (f"{width}mm", f"{height}mm")
    families = {t.get("font-family") for t in root.iter(f"{SVG}text")}
    assert all(f.endswith(", sans-serif") for f in families), "readable where the sheets' own face is not"
    outline = root.find(f"{SVG}path").get("d").replace("Z", "").replace("L", "M").split("M")[1:]
    at = [tuple(map(float, p.split())) for p in outline]
    assert scale == "1:5"
    assert max(x for x, _ in at) - min(x for x, _ in at) == pytest.approx(1180 / 5, abs=1e-3)
    assert max(y for _, y in at) - min(y for _, y in at) == pytest.approx(100 / 5, abs=1e-3)


def test_one_detail_for_copies_of_a_pocket():
    assert [count for _, count in distinct_pockets(tube())] == [20]


def test_scales_are_standard_ones():
    assert scale_name(scale_for(1180, 240)) == "1:5"
    assert scale_name(scale_for(20, 60)) == "2:1"


def test_dimension_text_stands_above_its_line_and_is_escaped():
    sheet = Canvas(100, 50)
    sheet.dimension((10, 10), (60, 10), 8, "a < b")
    root = ET.fromstring(sheet.svg())
    text = next(t for t in root.iter(f"{SVG}text") if t.get("stroke") is None)
    assert text.text == "a < b"
    assert float(text.get("y", "")) < 50 - 18
