"""Pocket outlines and field layouts: closed forms, and laws that hold for any field."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from sparwright.job.models import Cutter, PocketField
from sparwright.stock.outlines import arc_steps, circle, fillet
from sparwright.stock.pockets import (
    LayoutError,
    corner_radius_for,
    field_size,
    inscribed_radius,
    lay_out,
    pocket_form,
    sharp_corners,
)

SHAPES = ["triangle", "hexagon", "square", "diamond", "round", "slot"]


def cutter(diameter, number=1, kind="flat"):
    extra = {"included_angle": 90} if kind == "vee" else {}
    return Cutter(
        number=number,
        name=f"{diameter}",
        kind=kind,
        diameter=diameter,
        flute_length=10,
        stick_out=20,
        shank=6,
        chip=0.02,
        **extra,
    )


CUTTERS = [cutter(6.35), cutter(3.175), cutter(1.5875), cutter(6.35, kind="vee")]


def a_field(**keys):
    keys = {"name": "f", "faces": ("top",), "pocket": "triangle", "cell": 44, "rib": 5, "skin": 1.2} | keys
    return PocketField(**keys)


def placed(field, layout, radius):
    size = field_size(field)
    forms = {h: pocket_form(field.pocket, size, field.width, 180.0 * h, radius) for h in (False, True)}
    return [affinity.translate(forms[s.half_turned].outline, *s.at) for s in layout.sites]


# --- outlines -------------------------------------------------------------------------------------------


def test_arc_chords_keep_their_sagitta():
    for radius in (0.5, 2.0, 30.0, 400.0):
        steps = arc_steps(radius, math.pi, 0.002)
        assert radius * (1 - math.cos(math.pi / steps / 2)) <= 0.002 * (1 + 1e-9)


def test_circle_reaches_all_four_sides():
    ring = circle(7.0, 0.01)
    assert ring.max(axis=0) == pytest.approx([7, 7])
    assert ring.min(axis=0) == pytest.approx([-7, -7])


def test_fillet_area_is_the_corners_less_their_tips():
    """A rounded corner takes r^2 (tan(phi/2) - phi/2) from a polygon, phi the turn there."""
    square = np.array([[0, 0], [10, 0], [10, 10], [0, 10]])
    rounded = shapely.Polygon(fillet(square, 3.0, 1e-6))
    assert rounded.area == pytest.approx(100 - (4 - math.pi) * 9, rel=1e-6)


def test_fillet_rounds_inside_corners_the_other_way():
    angle = np.array([[0, 0], [10, 0], [10, 2], [2, 2], [2, 10], [0, 10]])
    rounded = shapely.Polygon(fillet(angle, [0, 0, 0, 1.5, 0, 0], 1e-6))
    assert rounded.area == pytest.approx(36 + (1 - math.pi / 4) * 2.25, rel=1e-6)


def test_fillet_is_tangent_and_round():
    ring = fillet(sharp_corners("hexagon", 20, None), 2.5, 0.002)
    inner = shapely.Polygon(sharp_corners("hexagon", 20, None)).buffer(-2.5)
    distances = shapely.distance(shapely.points(ring), inner)
    assert distances == pytest.approx(2.5, abs=1e-9)


def test_a_radius_too_large_names_what_fits():
    with pytest.raises(ValueError, match=r"at most 5\.000 mm fits"):
        fillet(sharp_corners("square", 10, None), 6.0, 0.002)


@pytest.mark.parametrize("shape", SHAPES)
def test_inscribed_circle_touches_the_nearest_side(shape):
    width = 8.0 if shape == "slot" else None
    radius = inscribed_radius(shape, 20.0, width)
    if shape == "round":
        assert radius == 10
        return
    outline = shapely.Polygon(sharp_corners(shape, 20.0, width))
    assert outline.exterior.distance(shapely.Point(0, 0)) == pytest.approx(radius)
    assert outline.exterior.is_ccw


def test_sizes_mean_what_the_job_says():
    triangle = sharp_corners("triangle", 30, None)
    assert math.dist(*triangle[:2]) == pytest.approx(30)
    assert triangle[:, 1].max() == pytest.approx(30 / math.sqrt(3))
    hexagon = sharp_corners("hexagon", 20, None)
    assert np.ptp(hexagon[:, 0]) == pytest.approx(20)
    assert np.ptp(hexagon[:, 1]) == pytest.approx(40 / math.sqrt(3))
    diamond = sharp_corners("diamond", 20, None)
    assert np.ptp(diamond, axis=0) == pytest.approx([20 * math.sqrt(2)] * 2)
    assert np.ptp(sharp_corners("slot", 20, 6), axis=0) == pytest.approx([20, 6])


def test_turned_pocket_is_the_same_pocket_turned():
    straight = pocket_form("triangle", 20, None, 0, 2)
    turned = pocket_form("triangle", 20, None, 25, 2)
    assert turned.outline.equals_exact(affinity.rotate(straight.outline, 25, origin=(0, 0)), 1e-9)
    assert turned.key != straight.key


# --- corner radius --------------------------------------------------------------------------------------


def test_radius_not_stated_comes_from_the_largest_cutter_within_a_fifth():
    """Cell 44 and rib 5: side 35.34, inscribed circle 20.4; the 3.175 cutter is within a fifth of it."""
    size = field_size(a_field())
    assert size == pytest.approx(44 - 5 * math.sqrt(3))
    assert corner_radius_for("triangle", size, None, None, CUTTERS) == pytest.approx(1.3 * 3.175 / 2)
    assert corner_radius_for("square", 40, None, None, CUTTERS) == pytest.approx(1.3 * 6.35 / 2)
    assert corner_radius_for("square", 4, None, None, CUTTERS) == pytest.approx(1.3 * 1.5875 / 2)


def test_slots_have_full_radius_and_round_pockets_their_own():
    assert corner_radius_for("slot", 30, 8, None, CUTTERS) == 4
    assert corner_radius_for("slot", 30, 8, 1.0, CUTTERS) == 1
    assert corner_radius_for("round", 20, None, None, CUTTERS) == 10


@pytest.mark.parametrize(("stated", "shape"), [(0.5, "square"), (5.1, "square"), (3.0, "triangle")])
def test_radii_no_cutter_leaves_or_no_corner_holds_are_refused(stated, shape):
    with pytest.raises(LayoutError, match="cannot be cut") as fault:
        corner_radius_for(shape, 10, None, stated, CUTTERS)
    assert fault.value.allowed.startswith("0.79375 (smallest flat cutter) to ")


def test_pockets_smaller_than_every_cutter_are_refused():
    with pytest.raises(LayoutError, match="less than the smallest flat cutter"):
        corner_radius_for("square", 1.5, None, None, CUTTERS)
    with pytest.raises(LayoutError, match="no flat cutter is at hand"):
        corner_radius_for("square", 20, None, None, [cutter(6.35, kind="vee")])


# --- layouts --------------------------------------------------------------------------------------------


def test_isogrid_of_the_bridge_beam():
    """Face 92 wide, 8 kept at each edge: two rows 38.105 high; 47 places 22 mm apart in 1060 mm."""
    layout = lay_out(a_field(end_margin=60, edge_margin=8), 92, 1180)
    assert layout.rows == 2
    assert len(layout.sites) == 94
    assert layout.pitch == 44
    assert layout.span == (pytest.approx(73), pytest.approx(1107))
    assert len(layout.period_sites) == 4


def test_isogrid_ribs_run_on_in_straight_lines():
    """The cells, not the pockets, tile: their corners fall on one triangular lattice."""
    field = a_field(end_margin=0)
    layout = lay_out(field, 130, 300)
    corners = []
    for site in layout.sites:
        cell = sharp_corners("triangle", field.cell, None)
        corners.append((-cell if site.half_turned else cell) + site.at)
    points = np.unique(np.round(np.vstack(corners), 6), axis=0)
    gaps = np.sort(np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1)), axis=1)[:, 1]
    assert gaps == pytest.approx(field.cell, abs=1e-5)


@pytest.mark.parametrize("shape", ["hexagon", "round"])
def test_staggered_rows_sit_in_each_others_gaps(shape):
    layout = lay_out(a_field(pocket=shape, cell=24, rib=4), 90, 400)
    first = [s.at for s in layout.sites if s.row == 1]
    second = [s.at for s in layout.sites if s.row == 2]
    assert first[1][0] - first[0][0] == pytest.approx(24)
    assert second[0][0] - first[0][0] == pytest.approx(12)
    assert second[0][1] - first[0][1] == pytest.approx(24 * math.sqrt(3) / 2)


def test_rows_asked_for_and_not_there_are_refused():
    with pytest.raises(LayoutError, match="3 rows of pockets need 109") as fault:
        lay_out(a_field(rows=3), 92, 1180)
    assert fault.value.allowed == "2 rows"
    assert lay_out(a_field(rows=1), 92, 1180).rows == 1
    with pytest.raises(LayoutError, match="no whole pocket"):
        lay_out(a_field(end_margin=290), 92, 600)


fields = st.builds(
    a_field,
    pocket=st.sampled_from([s for s in SHAPES if s != "slot"]),
    cell=st.floats(12, 60),
    rib=st.floats(1.5, 5),
    stagger=st.booleans(),
    end_margin=st.floats(0, 50),
    edge_margin=st.floats(0, 10),
    rows=st.one_of(st.none(), st.just(1)),
)


any_field = fields | st.builds(
    a_field,
    pocket=st.just("slot"),
    cell=st.floats(12, 60),
    rib=st.floats(1.5, 5),
    width=st.floats(4, 20),
    end_margin=st.floats(0, 50),
    edge_margin=st.floats(0, 10),
)


@settings(max_examples=120, deadline=None)
@given(field=any_field, face_width=st.floats(20, 140), length=st.floats(120, 420))
def test_pockets_keep_their_ribs_and_margins(field, face_width, length):
    """Whatever the field: inside the margins, never closer than a rib, as many columns as fit, centred."""
    try:
        layout = lay_out(field, face_width, length)
    except LayoutError:
        return
    radius = min(0.8, inscribed_radius(field.pocket, field_size(field), field.width))
    if field.pocket == "round":
        radius = field_size(field) / 2
    outlines = np.array(placed(field, layout, radius), dtype=object)
    x0, s0, x1, s1 = shapely.total_bounds(outlines)
    assert x0 >= field.end_margin - 1e-6
    assert x1 <= length - field.end_margin + 1e-6
    assert max(-s0, s1) <= face_width / 2 - field.edge_margin + 1e-6
    if layout.rows == 1 or field.pocket != "triangle":
        assert x0 + x1 == pytest.approx(length, abs=1e-6)
    tree = shapely.STRtree(outlines)
    left, right = tree.query(outlines, predicate="dwithin", distance=field.rib - 1e-6)
    assert (left == right).all()
    assert x0 - field.end_margin < layout.pitch


@settings(max_examples=60, deadline=None)
@given(field=any_field)
def test_one_period_repeats_to_the_whole_field(field):
    """The places of one period, shifted by whole pitches from the span's start, are the field's places."""
    try:
        layout = lay_out(field, 100, 400)
    except LayoutError:
        return
    start, end = layout.span
    periods = math.ceil((end - start) / layout.pitch + 1)
    repeated = np.array(
        [
            (start + k * layout.pitch + s.at[0], s.at[1], 1e3 * s.half_turned)
            for s in layout.period_sites
            for k in range(periods)
        ]
    )
    real = np.array([(*s.at, 1e3 * s.half_turned) for s in layout.sites])
    nearest = np.abs(real[:, None] - repeated[None]).max(axis=2).min(axis=1)
    assert nearest.max() < 1e-6
    assert len({(s.row, s.column) for s in layout.sites}) == len(layout.sites)
