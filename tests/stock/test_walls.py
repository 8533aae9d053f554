"""Walls, nodes and thick parts found from the outline alone."""

import math
from pathlib import Path

import numpy as np
import pytest
from pydantic import TypeAdapter
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from sparwright.job.models import AnySection, DrawnSection
from sparwright.stock.section import make_section, section_from_polygon
from sparwright.stock.walls import find_walls


def section(shape, **measures):
    spec = TypeAdapter(AnySection).validate_python({"shape": shape, **measures})
    return make_section(spec, Path("."))


def drawn(shape, chord=0.005):
    return section_from_polygon(shape, "drawn", chord)


def lengths(found):
    return {w.name: (round(w.length, 6), w.thickness) for w in found.walls}


def cells(found):
    """Number of cells of the graph of walls: walls - nodes + separate parts (Euler), parts being one here."""
    return len(found.walls) - len(found.nodes) + 1


def test_sharp_tube():
    found = find_walls(section("rectangular tube", width=80, height=40, wall=4))
    assert lengths(found) == {"bottom": (72, 4), "back": (32, 4), "top": (72, 4), "front": (32, 4)}
    assert sorted(found.nodes) == [(2, 2), (2, 38), (78, 2), (78, 38)]
    assert found.thick == ()
    assert cells(found) == 1


def test_rounded_tube_keeps_its_corner_lines():
    """Flats end at the radii; the middle lines still meet where a sharp tube's would."""
    found = find_walls(
        section("rectangular tube", width=80, height=40, wall=4, outer_radius=6, inner_radius=2)
    )
    assert lengths(found) == {"bottom": (68, 4), "back": (28, 4), "top": (68, 4), "front": (28, 4)}
    assert sorted(found.nodes) == [(2, 2), (2, 38), (78, 2), (78, 38)]
    assert found.thick == ()


def test_wide_bends_are_curved_parts():
    """Quarter rings of radii 12 and 8: 62.8 mm² each."""
    found = find_walls(section("rectangular tube", width=80, height=60, wall=4, outer_radius=12))
    assert [w.length for w in found.walls] == pytest.approx([56, 36, 56, 36])
    assert [p.area for p in found.thick] == pytest.approx([math.pi / 4 * (144 - 64)] * 4, rel=1e-3)
    assert cells(found) == 1


def test_two_cells():
    found = find_walls(drawn(box(0, 0, 80, 40) - box(3, 3, 38.5, 37) - box(41.5, 3, 77, 37)))
    assert lengths(found) == {
        "front": (34, 3),
        "bottom a": (35.5, 3),
        "bottom b": (35.5, 3),
        "back": (34, 3),
        "top a": (35.5, 3),
        "top b": (35.5, 3),
        "web": (34, 3),
    }
    assert {w.face for w in found.walls} == {"front", "bottom", "back", "top", None}
    joint = found.nodes.index((40, 38.5))
    assert sorted(w.name for w in found.at_node(joint)) == ["top a", "top b", "web"]
    assert cells(found) == 2


@pytest.mark.parametrize(
    ("shape", "measures", "expected"),
    [
        (
            "channel",
            {"width": 50, "height": 100, "web": 4, "flange": 4},
            [(46, 4), (46, 4), (92, 4)],
        ),
        ("angle", {"width": 60, "height": 40, "thickness": 5}, [(35, 5), (55, 5)]),
        ("tee", {"width": 60, "height": 50, "web": 5, "flange": 6}, [(27.5, 6), (27.5, 6), (44, 5)]),
        (
            "i-beam",
            {"width": 50, "height": 80, "web": 5, "flange": 6},
            [(22.5, 6), (22.5, 6), (22.5, 6), (22.5, 6), (68, 5)],
        ),
    ],
)
def test_open_sections(shape, measures, expected):
    found = find_walls(section(shape, **measures))
    assert sorted((round(w.length, 6), w.thickness) for w in found.walls) == expected
    assert cells(found) == 0
    assert found.thick == ()


def test_legs_reach_their_toes():
    """A rounded toe shortens the flat, not the leg."""
    found = find_walls(section("angle", width=60, height=40, thickness=5, root_radius=3, toe_radius=2))
    assert sorted(found.nodes) == [(2.5, 2.5), (2.5, 40), (60, 2.5)]
    assert found.thick == ()


@pytest.mark.parametrize(
    "whole",
    [
        section("round tube", diameter=40, wall=2),
        drawn(Point(0, 0).buffer(500, 32).difference(Point(0, 0).buffer(498, 32)), chord=0.6),
        section("square bar", side=20),
        drawn(
            box(0, 0, 40, 40)
            - box(16, 34, 24, 41)
            - box(16, -1, 24, 6)
            - box(-1, 16, 6, 24)
            - box(34, 16, 41, 24)
            - Point(20, 20).buffer(3.5, 32)
        ),
    ],
    ids=["round tube", "round tube of coarse chords", "square bar", "slotted bar"],
)
def test_curved_and_solid_sections_are_kept_whole(whole):
    found = find_walls(whole)
    assert found.walls == ()
    assert found.nodes == ()
    assert [p.area for p in found.thick] == pytest.approx([whole.shape.area])


def test_flat_bar_is_one_wall_with_two_free_edges():
    found = find_walls(section("flat bar", width=100, thickness=12))
    assert lengths(found) == {"top": (100, 12)}
    assert sorted(found.nodes) == [(0, 6), (100, 6)]


def test_webbed_rail(examples):
    """Two cells, side walls broken by ridges; each ridge with the wall behind it is a thick part of 60 mm²."""
    spec = DrawnSection(shape="drawn", file="section.dxf")
    found = find_walls(make_section(spec, examples / "webbed-rail"))
    assert lengths(found)["web"] == (27, 3)
    assert sorted(w.thickness for w in found.walls) == pytest.approx([3, *[3.5] * 4, *[4] * 4])
    assert [p.area for p in found.thick] == pytest.approx([60, 60])
    assert cells(found) == 2


def test_screw_ports_are_thick():
    """Round ports of radius 4 in the inner corners of a tube of 3 mm."""
    ports = [Point(y, z).buffer(4, 32) for y in (6, 54) for z in (6, 54)]
    shape = box(0, 0, 60, 60) - box(3, 3, 57, 57)
    for port in ports:
        shape = shape | port
    found = find_walls(drawn(shape - Point(6, 6).buffer(2, 32)))
    assert len(found.walls) == 4
    assert len(found.thick) == 4
    assert sorted(found.nodes) == [(1.5, 1.5), (1.5, 58.5), (58.5, 1.5), (58.5, 58.5)]


def test_tapered_wall_is_no_wall():
    wedge = Polygon([(0, 0), (60, 0), (60, 8), (0, 2)])
    assert find_walls(drawn(wedge)).walls == ()


def test_turning_and_mirroring_change_nothing():
    shape = box(0, 0, 80, 40) - box(3, 3, 38.5, 37) - box(41.5, 3, 77, 37)
    plain = find_walls(drawn(shape))
    for other in (affinity.rotate(shape, 27), affinity.scale(shape, -1, 1)):
        found = find_walls(drawn(other))
        assert sorted((round(w.length, 5), w.thickness) for w in found.walls) == sorted(
            (round(w.length, 5), w.thickness) for w in plain.walls
        )
        assert cells(found) == 2


def test_every_wall_lies_in_the_metal():
    shape = section("channel", width=50, height=100, web=4, flange=5, root_radius=6)
    found = find_walls(shape)
    for wall in found.walls:
        assert wall.rectangle.difference(shape.shape).area < 1e-5
        toward = np.array(found.nodes[wall.ends[1]]) - np.array(wall.start)
        assert toward @ wall.along >= wall.length - 1e-6
