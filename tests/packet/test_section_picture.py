"""The picture of a section: it says what the section is, nothing overlaps, nothing leaves the sheet."""

import json
import math
import xml.etree.ElementTree as ET

import pytest
import shapely
from pydantic import TypeAdapter
from shapely.geometry import Point, box

from sparwright.job.models import AnySection
from sparwright.packet.section_dict import section_dict
from sparwright.packet.section_picture import figure, section_picture, shear_coupling
from sparwright.stiffness.section import section_figures
from sparwright.stock.section import make_section, section_from_polygon
from sparwright.stock.walls import find_walls

SVG = "{http://www.w3.org/2000/svg}"


def stated(shape, **measures):
    return make_section(TypeAdapter(AnySection).validate_python({"shape": shape, **measures}), ".")


def cells(*edges):
    shape = box(0, 0, edges[-1][1] + 3, 40)
    for low, high in edges:
        shape = shape.difference(box(low, 3, high, 37))
    return section_from_polygon(shape, "tube with webs")


def slit_tube():
    ring = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(18, quad_segs=64))
    return section_from_polygon(ring.difference(box(0, -0.5, 30, 0.5)), "slit tube", 0.01)


SECTIONS = {
    "tube": lambda: stated("rectangular tube", width=50, height=100, wall=4, outer_radius=6, inner_radius=4),
    "wide tube": lambda: stated("rectangular tube", width=300, height=200, wall=3, outer_radius=3),
    "round tube": lambda: stated("round tube", diameter=40, wall=2),
    "channel": lambda: stated("channel", width=52, height=104, web=4, flange=4),
    "angle": lambda: stated("angle", width=60, height=40, thickness=5),
    "zed": lambda: section_from_polygon(
        box(0, 0, 3, 60).union(box(0, 0, -30, 3)).union(box(0, 57, 33, 60)), "zed"
    ),
    "two cells": lambda: cells((3, 58), (60, 97)),
    "three cells": lambda: cells((3, 38), (41, 79), (82, 117)),
    "bar": lambda: stated("flat bar", width=100, thickness=12),
    "slit tube": slit_tube,
    "points": lambda: stated(
        "points",
        outer=[[0, 0, 2], [60, 0, 2], [60, 40], [35, 40], [35, 34], [25, 34], [25, 40], [0, 40]],
        bores=[[12, 20, 6]],
    ),
}
_made = {}


def made(name):
    """Section, figures, walls and picture, made once."""
    if name not in _made:
        section = SECTIONS[name]()
        parts = section, section_figures(section, 0.33), find_walls(section)
        _made[name] = (*parts, section_picture(*parts))
    return _made[name]


def texts(svg):
    """Every text with the box it covers, at 0.46 of its size a letter; text with a halo is written twice."""
    out = {}
    for node in ET.fromstring(svg).iter(f"{SVG}text"):
        size = float(node.get("font-size"))
        x, y, length = float(node.get("x")), float(node.get("y")), 0.46 * size * len(node.text)
        left = x - {"start": 0, "middle": 0.5, "end": 1}[node.get("text-anchor")] * length
        area = box(left, y - 0.7 * size, left + length, y)
        if node.get("transform"):
            area = shapely.affinity.rotate(
                area, float(node.get("transform").split("(")[1].split()[0]), origin=(x, y)
            )
        out[node.text, x, y] = area
    return out


def said(svg):
    return [text for text, _, _ in texts(svg)]


@pytest.mark.parametrize("name", SECTIONS)
def test_no_text_covers_another_and_nothing_leaves_the_sheet(name):
    svg = made(name)[3]
    root = ET.fromstring(svg)
    _, _, width, height = (float(v) for v in root.get("viewBox").split())
    boxes = list(texts(svg).items())
    for i, (key, area) in enumerate(boxes):
        assert box(0, 0, width, height).contains(area), key
        for other, area2 in boxes[i + 1 :]:
            assert not area.intersects(area2), (key, other)
    for path in root.iter(f"{SVG}path"):
        for word in path.get("d").replace("Z", "").replace("L", "M").split("M"):
            if word:
                x, y = map(float, word.split())
                assert -0.01 <= x <= width + 0.01
                assert -0.01 <= y <= height + 0.01


def test_it_gives_size_walls_scale_and_figures():
    section, f, _, svg = made("tube")
    words = said(svg)
    assert {"rectangular tube 50 x 100 x 4", "50", "100", "scale 1:1, lengths in mm"} <= set(words)
    assert {"top: 4", "bottom: 4", "front: 4", "back: 4", "1", "2", "C, S", "y", "z"} <= set(words)
    assert f"{figure(f.J)} mm⁴" in words
    assert f"{figure(section.shape.area)} mm²" in words
    assert "25, 50 mm" in words
    assert "Iyz" not in words


def test_webs_are_named_with_their_own_thickness():
    words = said(made("two cells")[3])
    assert "web: 2" in words
    assert len([w for w in words if w.startswith("top")]) == 2


def test_curved_walls_have_a_thickness_too():
    assert "wall: 2" in said(made("round tube")[3])
    assert "wall: 2" in said(made("slit tube")[3])
    assert "Bending is alike about every axis." in said(made("round tube")[3])


def test_skewed_sections_say_their_axes_and_coupling():
    _, f, _, svg = made("angle")
    words = said(svg)
    assert {"Iyz", "I1", "I2", "66.23°", "shear coupling", "least radius"} <= set(words)
    assert f"−{figure(-f.Iyz)} mm⁴" in words
    assert "S" in words
    assert "C" in words
    assert any(w.startswith("1 sharp inner corner") for w in words)


def test_the_marks_stand_where_the_figures_say():
    """The dimension's ends give paper's scale and origin; the circle of C must lie at the centroid."""
    section, f, _, svg = made("channel")
    root = ET.fromstring(svg)
    metal = next(p for p in root.iter(f"{SVG}path") if p.get("fill") == "#e6e6e6").get("d")
    points = [tuple(map(float, w.split())) for w in metal.replace("Z", "").replace("M", "L").split("L") if w]
    left, low = min(p[0] for p in points), max(p[1] for p in points)
    scale = (max(p[0] for p in points) - left) / section.shape.bounds[2]
    assert scale == pytest.approx(1)
    circle = next(c for c in root.iter(f"{SVG}circle") if c.get("r") == "1.1")
    assert (float(circle.get("cx")) - left) / scale == pytest.approx(f.centroid[0], abs=0.01)
    assert (low - float(circle.get("cy"))) / scale == pytest.approx(f.centroid[1], abs=0.01)


def test_a_shear_centre_far_off_is_told():
    """A ring of 340 mm with a long thin tail: nothing is squeezed to show S."""
    section, f, walls, _ = made("slit tube")
    from dataclasses import replace

    svg = section_picture(section, replace(f, shear_centre=(-200.0, 20.0)), walls)
    assert "S lies outside the picture." in said(svg)
    assert "−200, 20 mm" in said(svg)
    assert "S" not in said(svg)


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (0.05086, "0.05086"), (12.3456, "12.35"), (99999.6, "1.000 × 10⁵"), (1129361, "1.129 × 10⁶"), (-60789.5, "−60790"), (28825, "28825")],
)  # fmt: skip
def test_figures_in_words(value, text):
    assert figure(value) == text


def test_the_dictionary_is_plain_and_says_its_units():
    section, f, walls, _ = made("angle")
    data = section_dict(section, f, walls)
    assert json.loads(json.dumps(data)) == data
    assert data["area_mm2"] == pytest.approx(475)
    assert data["axis_of_I_max_deg"] == pytest.approx(66.23, abs=0.01)
    assert (data["width_mm"], data["height_mm"], data["cells"]) == (60, 40, 0)
    assert [w["thickness_mm"] for w in data["walls"]] == [5, 5]
    assert data["shear_compliance_per_mm2"][0][1] == data["shear_compliance_per_mm2"][1][0]
    assert data["shear_coupling"] == pytest.approx(shear_coupling(f))
    assert data["gyration_least_mm"] == pytest.approx(math.sqrt(f.I_min / 475), rel=1e-6)
    units = ("_mm", "_mm2", "_mm3", "_mm4", "_mm6", "_deg", "_per_mm2", "_per_mm3")
    bare = {k for k in data if not k.endswith(units)}
    assert bare == {
        "section",
        "cells",
        "shear_coupling",
        "sharp_inner_corners",
        "faces",
        "walls",
        "thick_parts",
    }


@pytest.mark.parametrize("name", SECTIONS)
def test_its_text_is_9_pt_and_it_is_as_wide_as_a_sheet_leaves(name):
    """9 pt is 9 / 72 inch; a sheet of A4 leaves 210 - 2 * 15 mm, so the scale it states holds on paper."""
    root = ET.fromstring(made(name)[3])
    assert min(float(t.get("font-size")) for t in root.iter(f"{SVG}text")) >= 9 / 72 * 25.4
    assert float(root.get("width").removesuffix("mm")) <= 180
