"""Sections: areas against printed tables, faces, and the metal below them."""

import math

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from sparwright.job.models import (
    AngleBar,
    Channel,
    FlatBar,
    IBeam,
    RectangularTube,
    RoundTube,
    SquareBar,
    TeeBar,
)
from sparwright.stock.section import (
    SectionError,
    find_faces,
    make_section,
    metal_below,
    section_from_polygon,
    wall_range,
    wall_thickness,
)


def tube(height, width, wall, outer, inner):
    return RectangularTube(
        shape="rectangular tube",
        width=width,
        height=height,
        wall=wall,
        outer_radius=outer,
        inner_radius=inner,
    )


# Areas in cm2 printed in tables of hollow sections: hot finished after EN 10210-2 (outside radius 1.5 T,
# inside T), cold formed after EN 10219-2 (2 T and T).
HOT = [(100, 50, 4, 11.2), (100, 50, 5, 13.7), (60, 40, 4, 7.19), (50, 30, 3.2, 4.60)]
COLD = [
    (40, 20, 2, 2.14),
    (50, 30, 3, 4.21),
    (60, 40, 3, 5.41),
    (60, 40, 2, 3.74),
    (40, 30, 3, 3.61),
    (50, 30, 4, 5.35),
]


@pytest.mark.parametrize(("h", "b", "t", "area"), HOT)
def test_area_of_hot_finished_hollow_sections(h, b, t, area):
    section = make_section(tube(h, b, t, 1.5 * t, t), ".")
    formula = 2 * t * (b + h - 2 * t) - (4 - math.pi) * ((1.5 * t) ** 2 - t**2)
    assert section.shape.area == pytest.approx(formula, rel=1e-4)
    assert section.shape.area / 100 == pytest.approx(area, rel=0.005)


@pytest.mark.parametrize(("h", "b", "t", "area"), COLD)
def test_area_of_cold_formed_hollow_sections(h, b, t, area):
    section = make_section(tube(h, b, t, 2 * t, t), ".")
    assert section.shape.area / 100 == pytest.approx(area, rel=0.0025)


def test_sharp_unequal_angle_area_and_centroid():
    """60 x 40 x 5: A 475, centroid (19.8684, 9.86842), by sums of rectangles."""
    section = make_section(AngleBar(shape="angle", width=60, height=40, thickness=5), ".")
    assert section.shape.area == pytest.approx(475, abs=1e-9)
    assert section.shape.centroid.x == pytest.approx(19.8684, abs=5e-5)
    assert section.shape.centroid.y == pytest.approx(9.86842, abs=5e-6)


def slotted_bar():
    """Square 40, four plain slots 8 wide and 6 deep at mid-sides, centre bore 7."""
    shape = box(0, 0, 40, 40)
    for slot in (box(16, 0, 24, 6), box(16, 34, 24, 40), box(0, 16, 6, 24), box(34, 16, 40, 24)):
        shape = shape.difference(slot)
    return section_from_polygon(shape.difference(Point(20, 20).buffer(3.5, quad_segs=256)), "slotted bar")


def test_slotted_square_bar_area_and_faces():
    """A 1369.52 mm2; each side has two lips 16 wide and the slot's floor 8 wide, seen through the slot."""
    section = slotted_bar()
    assert section.shape.area == pytest.approx(1369.52, rel=1e-4)
    widths = {f.name: f.width for f in section.faces}
    for side in ("top", "bottom", "front", "back"):
        assert widths[side] == pytest.approx(16)
        assert widths[f"{side}-2"] == pytest.approx(16)
        assert widths[f"{side}-3"] == pytest.approx(8)
    assert len(section.faces) == 12


def test_faces_of_the_bridge_tube():
    section = make_section(tube(100, 50, 4, 4, 0), ".")
    found = {f.name: (f.centre, f.width) for f in section.faces}
    assert found == {
        "top": ((25, 100), 42),
        "bottom": ((25, 0), 42),
        "front": ((0, 50), 92),
        "back": ((50, 50), 92),
    }


@pytest.mark.parametrize("name", ["top", "bottom", "front", "back"])
def test_face_frames_are_right_handed_and_return(name):
    face = make_section(tube(100, 50, 4, 4, 0), ".").face(name)
    across, normal = face.across, face.normal
    assert np.cross([1, 0, 0], [0, *across]) == pytest.approx([0, *normal])
    points = np.array([[10.0, 3.0, -2.0], [700.0, -20.0, 0.0]])
    assert face.from_member(face.to_member(points)) == pytest.approx(points)


def test_names_point_the_way_they_say():
    section = make_section(tube(100, 50, 4, 4, 0), ".")
    outward = {"top": (0, 1), "bottom": (0, -1), "front": (-1, 0), "back": (1, 0)}
    for name, direction in outward.items():
        assert section.face(name).normal == pytest.approx(direction)


def test_channel_hides_the_inner_side_of_its_flanges():
    section = make_section(Channel(shape="channel", width=40, height=80, web=5, flange=6, root_radius=4), ".")
    names = {f.name: f.width for f in section.faces}
    assert names == {
        "top": 40,
        "bottom": 40,
        "front": 80,
        "back": 80 - 2 * 6 - 2 * 4,
        "back-2": 6,
        "back-3": 6,
    }


def test_i_beam_counts_the_web_as_a_face_and_not_the_flanges_inside():
    section = make_section(IBeam(shape="i-beam", width=60, height=100, web=6, flange=8, root_radius=5), ".")
    assert {n: section.face(n).width for n in ("top", "bottom", "front", "back")} == {
        "top": 60,
        "bottom": 60,
        "front": 74,
        "back": 74,
    }
    assert len(section.faces) == 8


def test_t_section_stands_on_its_web():
    section = make_section(TeeBar(shape="tee", width=60, height=50, web=6, flange=8, root_radius=3), ".")
    faces = {f.name: f for f in section.faces}
    assert faces["bottom"].width == pytest.approx(60 / 2 - 3 - 3)
    assert faces["bottom-3"].centre == (30, 0)
    assert wall_thickness(section, faces["top"], 0) == pytest.approx(50)
    assert wall_thickness(section, faces["top"], 20) == pytest.approx(8)


def test_round_tube_has_no_flat_and_its_exact_diameter():
    section = make_section(RoundTube(shape="round tube", diameter=900, wall=4), ".")
    assert section.faces == ()
    assert section.shape.bounds == pytest.approx((0, 0, 900, 900), abs=1e-9)


def test_small_round_tube_area():
    section = make_section(RoundTube(shape="round tube", diameter=40, wall=2), ".")
    assert section.shape.area == pytest.approx(math.pi * (20**2 - 18**2), rel=1e-3)


def test_slanted_faces_are_named_by_their_angle():
    cut_corner = Polygon([(0, 0), (40, 0), (40, 20), (20, 40), (0, 40)])
    names = {f.name for f in find_faces(cut_corner)}
    assert names == {"top", "bottom", "front", "back", "slant-45"}


def test_a_flat_hidden_in_part_counts_with_what_is_seen():
    """A floor 40 wide under an overhang that leaves 15 of it open."""
    shape = Polygon([(0, 0), (40, 0), (40, 30), (15, 30), (15, 25), (35, 25), (35, 5), (0, 5)])
    tops = sorted(f.width for f in find_faces(shape) if f.name.startswith("top"))
    assert tops == pytest.approx([15, 25])


def test_outline_starting_in_the_middle_of_a_flat_gives_whole_flats():
    ring = [(20, 0), (40, 0), (40, 30), (0, 30), (0, 0), (10, 0)]
    assert {f.width for f in find_faces(Polygon(ring))} == {40, 30}


def test_section_is_moved_to_the_corner():
    section = section_from_polygon(box(-7, 12, 13, 40), "bar")
    assert section.shape.bounds == (0, 0, 20, 28)


# --- metal below ----------------------------------------------------------------------------------------


def test_metal_below_a_tube_meets_both_walls():
    section = make_section(tube(100, 50, 4, 4, 0), ".")
    assert metal_below(section, section.face("front"), 10.0) == ((0.0, -4.0), (-46.0, -50.0))
    assert metal_below(section, section.face("front"), 47.0)[0][1] == pytest.approx(-50.0, abs=0.6)
    assert metal_below(section, section.face("top"), 30.0) == ()


def test_metal_below_agrees_with_plane_cuts():
    """The same intervals from intersections of the polygon with a line."""
    from shapely.geometry import LineString

    section = slotted_bar()
    for face in section.faces:
        for s in np.linspace(-face.width / 2 + 0.03, face.width / 2 - 0.04, 7):
            foot = np.asarray(face.centre) + s * face.across
            line = LineString([foot + 1e-9 * face.normal, foot - 100 * face.normal])
            cut = section.shape.intersection(line)
            assert sum(a - b for a, b in metal_below(section, face, s)) == pytest.approx(cut.length, abs=1e-6)


def test_wall_range_finds_a_web_by_its_exact_edges():
    shape = box(0, 0, 80, 40).difference(box(4, 4, 30, 36)).difference(box(33, 4, 76, 36))
    section = section_from_polygon(shape, "two cells")
    top = section.face("top")
    assert wall_range(section, top, -9.9, 20) == (4, 40, pytest.approx((29.9 - 2.9) / 29.9))
    assert wall_range(section, top, -6.99, 20) == (4, 4, 1)
    assert wall_range(section, top, -7.01, 20)[:2] == (4, 40)


# --- refusals -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spec", "words"),
    [
        (FlatBar(shape="flat bar", width=30, thickness=4, corner_radius=3), "at most 2.000 mm fits"),
        (SquareBar(shape="square bar", side=10, corner_radius=6), "at most 5.000 mm fits"),
        (AngleBar(shape="angle", width=20, height=20, thickness=25), "the leg thickness, 25 mm"),
        (
            Channel(shape="channel", width=20, height=20, web=3, flange=11),
            "twice the flange thickness, 22 mm",
        ),
        (TeeBar(shape="tee", width=20, height=20, web=20, flange=3), "the web, 20 mm"),
        (IBeam(shape="i-beam", width=20, height=40, web=3, flange=4, root_radius=9), "corner radius of 9 mm"),
    ],
)
def test_measures_that_do_not_fit_are_refused(spec, words):
    with pytest.raises(SectionError, match=words):
        make_section(spec, ".")
