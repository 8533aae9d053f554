"""Drawn sections: every kind of curve, joining, nesting, and refusals with their coordinates."""

import math

import ezdxf
import pytest

from sparwright.job.models import DrawnSection
from sparwright.job.reading import JobError
from sparwright.stock.drawing import DrawingError, read_drawing
from sparwright.stock.section import make_section


@pytest.fixture
def drawing(tmp_path):
    """A function from what to draw to the polygon read back."""

    def make(draw, **keys):
        document = ezdxf.new("R2010")
        draw(document.modelspace())
        document.saveas(tmp_path / "section.dxf")
        return read_drawing(DrawnSection(shape="drawn", file="section.dxf", **keys), tmp_path)

    return make


def lines(space, points, layer="0", closed=True):
    ends = [*points[1:], points[0]] if closed else points[1:]
    for a, b in zip(points, ends, strict=False):
        space.add_line(a, b, dxfattribs={"layer": layer})


RECTANGLE = [(0, 0), (40, 0), (40, 20), (0, 20)]


# --- curves ---------------------------------------------------------------------------------------------


def test_lines_in_any_order_and_direction(drawing):
    def draw(space):
        space.add_line((40, 20), (40, 0))
        space.add_line((0, 0), (40, 0))
        space.add_line((0, 20), (0, 0))
        space.add_line((40, 20), (0, 20))

    polygon = drawing(draw)
    assert polygon.area == pytest.approx(800)
    assert polygon.exterior.is_ccw


def test_arcs_and_lines_make_a_rounded_tube(drawing):
    """Stadium 40 x 20 outside with a bore of 12: area 20 x 20 + pi 10^2 - pi 6^2."""

    def draw(space):
        space.add_line((0, 0), (20, 0))
        space.add_arc((20, 10), 10, -90, 90)
        space.add_line((20, 20), (0, 20))
        space.add_arc((0, 10), 10, 90, 270)
        space.add_circle((0, 10), 6)

    polygon = drawing(draw)
    assert polygon.area == pytest.approx(400 + math.pi * 64, rel=1e-3)
    fine = drawing(draw, chord=1e-4)
    assert fine.area == pytest.approx(400 + math.pi * 64, rel=2e-5)
    assert len(polygon.interiors) == 1


def test_polylines_with_bulges(drawing):
    """A bulge of 1 is half a circle; tan(22.5 deg) a quarter."""

    def draw(space):
        space.add_lwpolyline([(0, 0, 0), (20, 0, 1), (20, 20, 0), (0, 20, 1)], format="xyb", close=True)

    assert drawing(draw, chord=1e-4).area == pytest.approx(400 + math.pi * 100, rel=2e-5)
    quarter = math.tan(math.pi / 8)

    def draw_hollow(space):
        points = [(0, 0, 0), (30, 0, -quarter), (40, 10, 0), (40, 20, 0), (0, 20, 0)]
        space.add_lwpolyline(points, format="xyb", close=True)

    hollow = drawing(draw_hollow, chord=1e-4).area
    assert hollow == pytest.approx(800 - math.pi * 25, rel=2e-5)


def test_ellipse_and_spline(drawing):
    def ellipse(space):
        space.add_ellipse((0, 0), major_axis=(20, 0), ratio=0.5)

    assert drawing(ellipse, chord=1e-4).area == pytest.approx(math.pi * 200, rel=3e-5)

    def spline(space):
        space.add_open_spline([(0, 0), (10, 20), (20, 20), (30, 0)], degree=3)
        space.add_line((0, 0), (30, 0))

    # x = 30 t and z = 60 t (1 - t) for these control points: area 30 x 60 / 6
    assert drawing(spline, chord=1e-4).area == pytest.approx(300, rel=1e-4)


def test_mirrored_arcs_are_taken_where_they_show(drawing):
    """An arc with its extrusion pointing down has x turned round (object coordinates of the DXF reference)."""

    def draw(space):
        lines(space, [(10, 0), (0, 0), (0, 20), (10, 20)], closed=False)
        space.add_arc((-10, 10), 10, 90, 270, dxfattribs={"extrusion": (0, 0, -1)})

    assert drawing(draw, chord=1e-4).area == pytest.approx(200 + math.pi * 50, rel=1e-4)


def test_blocks_are_taken_apart(tmp_path):
    document = ezdxf.new("R2010")
    block = document.blocks.new("PART")
    lines(block, RECTANGLE)
    document.modelspace().add_blockref("PART", (100, 50), dxfattribs={"xscale": 2, "yscale": 2})
    document.saveas(tmp_path / "section.dxf")
    polygon = read_drawing(DrawnSection(shape="drawn", file="section.dxf"), tmp_path)
    assert polygon.bounds == pytest.approx((100, 50, 180, 90))


def test_scale_turn_and_layer(drawing):
    def draw(space):
        lines(space, [(x / 25.4, y / 25.4) for x, y in RECTANGLE], layer="PROFILE")
        lines(space, [(-5, -5), (5, -5), (5, 5)], layer="NOTES", closed=False)
        space.add_text("not an outline", dxfattribs={"layer": "PROFILE"})

    polygon = drawing(draw, scale=25.4, turn=90, layer="profile")
    assert polygon.bounds == pytest.approx((-20, 0, 0, 40))


# --- joining --------------------------------------------------------------------------------------------


def test_small_gaps_are_closed_and_doubles_left_out(drawing):
    def draw(space):
        lines(space, [(0.01, 0), (40, 0), (40, 20), (0, 20), (0, 0.005)], closed=False)
        lines(space, RECTANGLE[1:3], closed=False)

    assert drawing(draw).area == pytest.approx(800, abs=0.5)


def test_a_gap_is_refused_with_both_ends(drawing):
    def draw(space):
        lines(space, [(0.3, 0), (40, 0), (40, 20), (0, 20), (0, 0)], closed=False)

    with pytest.raises(DrawingError, match=r"open at \(0\.300, 0\.000\).* 0\.3 away at \(0\.000, 0\.000\)"):
        drawing(draw)
    assert drawing(draw, gap=0.5).area == pytest.approx(800, abs=4)


def test_three_ends_meeting_are_refused(drawing):
    def draw(space):
        lines(space, RECTANGLE)
        space.add_line((40, 20), (60, 40))

    with pytest.raises(DrawingError, match=r"3 ends meet at \(40\.000, 20\.000\)"):
        drawing(draw)


def test_an_outline_crossing_itself_is_refused_where_it_does(drawing):
    def draw(space):
        lines(space, [(0, 0), (40, 20), (40, 0), (0, 20)])

    with pytest.raises(DrawingError, match=r"crosses itself at \(20\.000, 10\.000\)"):
        drawing(draw)


def test_two_outlines_crossing_are_refused_where_they_do(drawing):
    def draw(space):
        lines(space, RECTANGLE)
        lines(space, [(30, 5), (50, 5), (50, 10), (30, 10)])

    with pytest.raises(DrawingError, match=r"cross or touch at \(40\.000, (5|10)\.000\)"):
        drawing(draw)


# --- nesting --------------------------------------------------------------------------------------------


def test_two_cells_by_nesting(drawing):
    def draw(space):
        lines(space, RECTANGLE)
        lines(space, [(3, 3), (18, 3), (18, 17), (3, 17)])
        lines(space, [(21, 3), (37, 3), (37, 17), (21, 17)])

    polygon = drawing(draw)
    assert len(polygon.interiors) == 2
    assert polygon.area == pytest.approx(800 - 15 * 14 - 16 * 14)


def test_several_outer_outlines_are_refused(drawing):
    def draw(space):
        lines(space, RECTANGLE)
        lines(space, [(x + 50, y) for x, y in RECTANGLE])

    with pytest.raises(DrawingError, match=r"2 separate outer outlines, .*\(50\.000, 0\.000\) to \(90\.000"):
        drawing(draw)


def test_a_part_loose_in_a_hole_is_refused(drawing):
    def draw(space):
        lines(space, RECTANGLE)
        lines(space, [(3, 3), (37, 3), (37, 17), (3, 17)])
        space.add_circle((20, 10), 2)

    with pytest.raises(DrawingError, match=r"loose inside a hole at \(18\.000, 8\.000\)"):
        drawing(draw)


# --- files ----------------------------------------------------------------------------------------------


def test_files_that_give_nothing_are_refused(drawing, tmp_path):
    with pytest.raises(DrawingError, match="there is no drawing"):
        read_drawing(DrawnSection(shape="drawn", file="none.dxf"), tmp_path)
    (tmp_path / "bad.dxf").write_text("nonsense", encoding="utf-8")
    with pytest.raises(DrawingError, match="cannot be read as DXF"):
        read_drawing(DrawnSection(shape="drawn", file="bad.dxf"), tmp_path)
    with pytest.raises(DrawingError, match='on layer "b"; layers that do: a'):
        drawing(lambda space: lines(space, RECTANGLE, layer="a"), layer="b")


def test_a_size_no_section_has_is_refused(drawing):
    with pytest.raises(DrawingError, match=r"measures 1\.575 x 0\.7874 mm .* scale = 25\.4"):
        drawing(lambda space: lines(space, [(x / 25.4, y / 25.4) for x, y in RECTANGLE]))


def test_a_curve_out_of_the_plane_is_refused(drawing):
    def draw(space):
        space.add_line((0, 0, 0), (40, 0, 5))

    with pytest.raises(DrawingError, match="leaves the plane"):
        drawing(draw)


def test_a_drawn_section_has_faces_and_its_corner_at_the_origin(drawing, tmp_path):
    drawing(lambda space: lines(space, [(x - 9, y + 4) for x, y in RECTANGLE]))
    section = make_section(DrawnSection(shape="drawn", file="section.dxf"), tmp_path)
    assert section.shape.bounds == pytest.approx((0, 0, 40, 20))
    assert {f.name: f.width for f in section.faces} == {"top": 40, "bottom": 40, "front": 20, "back": 20}
    assert section.drawing == "drawn section section.dxf"


def test_a_job_tells_the_drawing_s_fault_with_its_line(member_of, tmp_path):
    document = ezdxf.new("R2010")
    lines(document.modelspace(), RECTANGLE, closed=False)
    document.saveas(tmp_path / "section.dxf")
    with pytest.raises(JobError, match="the outline is open at") as fault:
        member_of("", section='shape = "drawn"\nfile = "section.dxf"\n')
    assert fault.value.line > 0
