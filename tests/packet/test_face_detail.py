"""A face's detail: larger than its view, framed on it, and what it says is what the member has."""

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from sparwright.packet.face_detail import face_detail
from sparwright.packet.faces import face_drawing, face_outline, face_scale
from sparwright.packet.figures import METRIC, Display

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg):
    return [t.text or "" for t in ET.fromstring(svg).iter(f"{SVG}text")]


def numbers(path):
    words = path.replace("Z", "").replace("L", "M").split("M")
    return [tuple(map(float, w.split())) for w in words if w]


@pytest.fixture(scope="module")
def made(bridge_member):
    return face_detail(bridge_member, "back", face_scale(bridge_member, "back"), width=180)


def test_it_is_larger_than_the_view_and_stays_on_its_sheet(made, bridge_member):
    assert face_drawing(bridge_member, "back")[1] == "1:5"
    assert made.scale == "1:2"
    root = ET.fromstring(made.svg)
    _, _, wide, high = map(float, root.get("viewBox").split())
    assert wide <= 180
    assert high <= 92
    for path in root.iter(f"{SVG}path"):
        for x, y in numbers(path.get("d")):
            assert -0.01 <= x <= wide + 0.01
            assert -0.01 <= y <= high + 0.01


def test_it_gives_first_pocket_margins_pitch_and_rib(made, bridge_member):
    """Reckoned by hand: cells of 44 mm in triangles, ribs 5 mm; the rest from the pockets' own bounds."""
    said = texts(made.svg)
    assert {"pitch 44", "least rib 5"} <= set(said)
    pockets = [p.outline.bounds for p in bridge_member.pockets if p.face == "back"]
    low = face_outline(bridge_member, bridge_member.section.face("back")).bounds[1]
    assert f"{min(b[0] for b in pockets):.2f}" in said
    assert f"{min(b[1] for b in pockets) - low:.2f}" in said


def test_the_names_are_of_the_pockets_it_holds_whole(made, bridge_member):
    start, end = made.span
    assert start == 0
    whole = {
        p.id.rsplit("/", 1)[-1]
        for p in bridge_member.pockets
        if p.face == "back" and p.outline.bounds[2] < end
    }
    assert {t for t in texts(made.svg) if t.startswith("r")} == whole


def test_far_from_the_end_it_goes_to_the_first_pocket_and_shows_the_holes_there(bridge_member):
    near = face_detail(bridge_member, "front", face_scale(bridge_member, "front"), width=84)
    start, end = near.span
    first = min(p.outline.bounds[0] for p in bridge_member.pockets if p.face == "front")
    assert 0 < start < first < end
    said = texts(near.svg)
    assert "A1" in said
    assert "A10" not in said
    assert not any(t == f"{first:.2f}" for t in said), "no length from an end it does not show"


def test_in_inches(bridge_member):
    near = face_detail(bridge_member, "back", 0.2, Display(inch=True), width=180)
    assert {"pitch 1.732", "least rib 0.197"} <= set(texts(near.svg))


def test_there_is_none_where_it_would_be_no_larger_or_nothing_is_cut(bridge_member):
    short = replace(bridge_member, length=300.0)
    assert face_detail(short, "back", face_scale(short, "back"), METRIC, width=180) is None
    bare = replace(bridge_member, pockets=())
    assert face_detail(bare, "back", 0.2, METRIC, width=180) is None


def test_the_view_frames_what_the_detail_shows(bridge_member, made):
    assert "Z" not in texts(face_drawing(bridge_member, "back")[0])
    assert "Z" in texts(face_drawing(bridge_member, "back", framed=made.span)[0])
