"""Holes: bored to size with no core, drilled through, reached or refused."""

import math

import numpy as np
import pytest
from shapely.geometry import Point, Polygon, box

from sparwright.cutting.holes import (
    Bore,
    Drilling,
    OutOfReach,
    bore_feeds,
    bore_path,
    drill_feed,
    drill_path,
    metal_spans,
    plan_hole,
    point_length,
)
from sparwright.cutting.paths import Rates
from sparwright.job.models import Bed, Cutter, Material, Spindle
from sparwright.stock.model import Face, Hole, Section

METAL = Material(
    name="test metal", modulus=69500, poisson=0.33, density=2700, proof_strength=160, tensile_strength=200,
    cutting_force=700, cutting_exponent=0.25, cutting_spread=0.2, source="test",
)  # fmt: skip
BED = Bed(
    name="test bed", reach=(800, 800, 90), throat=900, bridge_clearance=120, nose_height=120,
    bed_size=(900, 900), rapid=(6000, 6000, 2400), feed_limit=(4000, 4000, 1500),
    acceleration=(350, 350, 200),
    spindle=Spindle(power=1100, slowest=8000, fastest=24000, full_power_at=18000, efficiency=0.7),
)  # fmt: skip
RATES = Rates(600, 150, 1500, 6)


def flat(number, diameter, flutes, stick_out, shank=None):
    return Cutter(
        number=number, name=f"{diameter:g} flat", kind="flat", diameter=diameter, flute_length=flutes,
        stick_out=stick_out, shank=shank or diameter, chip=0.02,
    )  # fmt: skip


SIX, THREE, ONE = flat(1, 6.35, 16, 26), flat(2, 3.175, 9, 22), flat(3, 1.5875, 5, 18, 3.175)
DRILL = Cutter(
    number=5, name="5 drill", kind="drill", diameter=5.0, flutes=2, flute_length=50, stick_out=60, shank=5,
    included_angle=118, chip=0.03, surface_speed=80,
)  # fmt: skip
CUTTERS = (SIX, THREE, ONE)


@pytest.mark.parametrize("diameter", [2.5, 3.4, 5.0, 6.6, 8.5, 11.0, 20.0, 33.0])
def test_bore_has_its_size_and_no_core(judge, diameter):
    at = (12.0, -7.0)
    bore = plan_hole(diameter, ((0.0, -4.4),), CUTTERS)
    path = bore_path(at, bore, RATES, 500, 0.5)
    radius = bore.cutter.diameter / 2
    got = judge.swept(path, radius, -4.4)
    hole = Point(at).buffer(diameter / 2, quad_segs=512)
    assert got.difference(hole.buffer(0.003)).area < 1e-9
    assert hole.difference(got.buffer(0.003)).area < 1e-9, "a core or a wall is left"
    judge.check_rapids(path, 6, -4.4)
    assert np.allclose(path.start, (*at, 6))
    assert np.allclose(path.end[-1], (*at, 6))


def test_helix_falls_no_steeper_than_its_ramp(judge):
    bore = plan_hole(5.0, ((0.0, -4.4),), CUTTERS)
    path = bore_path((0, 0), bore, RATES, 500, 0.5)
    for kind, p in zip(path.kind, judge.points(path), strict=True):
        run = np.hypot(*np.diff(p[:, :2], axis=0).T).sum()
        if kind in (2, 3) and p[-1, 2] < p[0, 2] - 1e-9:
            assert math.degrees(math.atan2(p[0, 2] - p[-1, 2], run)) <= 5.0  # common practice


def test_centre_feed_keeps_the_rim_at_the_feed():
    bore = plan_hole(5.0, ((0.0, -4.4),), CUTTERS)
    path = bore_path((0, 0), bore, RATES, 500, 0.5)
    arcs = path.kind >= 2
    radii = np.hypot(*(path.end[arcs, :2] - path.centre[arcs]).T)
    on_ring = np.isclose(radii, bore.rings[0])
    r = bore.cutter.diameter / 2
    assert np.allclose(path.feed[arcs][on_ring] * (radii[on_ring] + r) / radii[on_ring], 600)
    # F (D - d) / D with D the diameter the ring leaves
    d_ring = 2 * (bore.rings[0] + r)
    assert path.feed[arcs][on_ring][0] == pytest.approx(600 * (d_ring - 2 * r) / d_ring)


def test_largest_cutter_without_core_is_taken():
    assert plan_hole(5.0, ((0, -4.4),), CUTTERS).cutter is THREE
    assert plan_hole(2.5, ((0, -4.4),), CUTTERS).cutter is ONE
    assert plan_hole(11.0, ((0, -6.4),), CUTTERS, pilot=6.6).cutter is SIX


def test_listed_drill_is_preferred_and_goes_past_by_its_point(judge):
    plan = plan_hole(5.03, ((0.0, -4.4),), (*CUTTERS, DRILL))
    assert isinstance(plan, Drilling)
    path = drill_path((1, 2), plan, True, RATES)
    assert point_length(DRILL) == pytest.approx(2.5 / math.tan(math.radians(59)))
    assert path.end[:, 2].min() == pytest.approx(-4.4 - point_length(DRILL))
    judge.check_rapids(path, 6)
    down = path.end[path.kind == 1]
    assert len(down) >= 2 * math.ceil((4.4 + point_length(DRILL)) / 5)  # pecks of one diameter
    assert isinstance(plan_hole(5.1, ((0, -4.4),), (*CUTTERS, DRILL)), Bore)


def test_drill_thrust_stays_within_the_limit():
    f = drill_feed(DRILL, METAL, BED, 60)
    assert f.force == pytest.approx(60, rel=1e-9)
    assert f.limited_by == "cutting force"
    free = drill_feed(DRILL, METAL, BED, 1e6)
    assert free.feed == pytest.approx(0.03 * 2 * free.rpm)


@pytest.mark.parametrize(
    ("diameter", "spans", "word"),
    [
        (2.5, ((0.0, -5.4),), "5 mm of flutes for 5.4 mm"),
        (5.0, ((0.0, -4.4), (-96.0, -100.4)), "sticks out 22 mm, and the hole takes 101.4 mm"),
        (0.8, ((0.0, -4.4),), "no drill of that size and no smaller flat cutter"),
        (5.0, ((0.0, -4.4), (-10.0, -14.4)), "shank"),
    ],
)
def test_out_of_reach_is_refused_with_figures(diameter, spans, word):
    with pytest.raises(OutOfReach, match=word) as fault:
        plan_hole(diameter, spans, CUTTERS)
    assert "drill it by hand" in str(fault.value)


def test_no_boring_where_the_job_forbids_it():
    with pytest.raises(OutOfReach):
        plan_hole(5.0, ((0, -4.4),), CUTTERS, by_milling=False)


def test_second_wall_is_reached_through_the_first(judge):
    """A necked long cutter bores both walls of a tube; between them it goes through air."""
    long = flat(6, 4.0, 8, 110, 3.5)
    bore = plan_hole(6.0, ((0.0, -4.4), (-96.0, -100.4)), (long,))
    path = bore_path((0, 0), bore, RATES, 500, 0.5)
    hole = Point(0, 0).buffer(3.0, quad_segs=512)
    for level in (-4.4, -100.4):
        low = judge.swept(path, 2.0, level, span=1.0)
        assert hole.difference(low.buffer(0.003)).area < 1e-9
        assert low.difference(hole.buffer(0.003)).area < 1e-9
    assert path.end[:, 2].min() == pytest.approx(-100.4)


def tube():
    shape = Polygon(box(0, 0, 50, 100).exterior, [box(4, 4, 46, 96).exterior])
    faces = (Face("top", math.pi / 2, (25, 100), 50.0),)
    return Section("tube", shape, faces)


def test_metal_of_a_tube_is_two_walls():
    hole = Hole("h", "top", "drilled", (100, 0), 6.0, 100.0, "all")
    assert metal_spans(tube(), tube().faces[0], hole, 0.4) == ((0.0, -4.4), (-96.0, -100.4))
    one = Hole("h", "top", "drilled", (100, 0), 6.0, 4.0, "wall")
    assert metal_spans(tube(), tube().faces[0], one, 0.4) == ((0.0, -4.4),)
    blind = Hole("h", "top", "drilled", (100, 0), 6.0, 2.0, "blind")
    assert metal_spans(tube(), tube().faces[0], blind, 0.4) == ((0.0, -2.0),)
    edge = Hole("h", "top", "drilled", (100, 22), 6.0, 100.0, "all")  # over the side wall
    assert metal_spans(tube(), tube().faces[0], edge, 0.4) == ((0.0, -100.4),)


def test_bore_forces_stay_within_the_limit():
    for d in (2.5, 5.0, 8.5):
        bore = plan_hole(d, ((0, -4.4),), CUTTERS)
        helix, lap = bore_feeds(bore, METAL, BED, 60, 0.5)
        for f in (helix, lap):
            assert f.steady <= 60 + 1e-9
            assert f.force <= 3 * 60 + 1e-9
            assert f.deflection <= 0.1 + 1e-9


def test_a_lap_may_not_snap_a_thin_cutter():
    """By hand: sigma pi d^3 / (32 L), d = 0.75 x 1.5, L = 5 mm; Kienzle's force at the thickest chip of the lap or its entry."""
    thin = next(c for c in CUTTERS if c.diameter < 2)
    bore = plan_hole(1.6 * thin.diameter, ((0, -4.4),), (thin,))
    lap = bore_feeds(bore, METAL, BED, 60, 0.5)[1]
    assert lap.limited_by == "what snaps the cutter"
    snaps = 2000 * math.pi * (0.75 * thin.diameter) ** 3 / (32 * thin.flute_length)
    inward = bore.last / (bore.last + thin.diameter / 2)
    side = (bore.last - bore.rings[-1]) / thin.diameter
    chip = lap.chip * max(inward, 2 * math.sqrt(side - side**2))
    kc = METAL.cutting_force * (1 + METAL.cutting_spread)
    assert kc * 4.4 * chip ** (1 - METAL.cutting_exponent) == pytest.approx(0.7 * snaps, rel=1e-6)


def test_counterbore_over_its_hole(judge):
    bore = plan_hole(6.5, ((0, -3.4),), CUTTERS, pilot=3.4)
    path = bore_path((0, 0), bore, RATES, 500, 0.5)
    got = judge.swept(path, bore.cutter.diameter / 2, -3.4).union(Point(0, 0).buffer(1.7))
    want = Point(0, 0).buffer(3.25, quad_segs=512)
    assert want.difference(got.buffer(0.003)).area < 1e-9
    judge.check_rapids(path, 6, -3.4)
