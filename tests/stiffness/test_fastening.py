"""Threads, heads, clamps: standards' figures, plate series, and the findings made of them."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from sparwright.answers import BadInput, Verdict
from sparwright.stiffness.fastening import (
    TORQUE_DRY,
    head_pressure,
    hole_shear_area,
    patch_radius,
    side_wall_load,
    strip_load,
    tensile_area,
    thread_limits,
    torque_for,
    usual_preload,
    wall_bending,
    wall_give,
)
from sparwright.stiffness.local_screws import clamp_findings, engaged_length, screw_findings
from sparwright.stiffness.local_walls import hollow_walls
from sparwright.stock.model import Hole
from sparwright.stock.threads import thread

# --- screws ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "area"),
    [("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M8", 36.6), ("M10", 58.0), ("M12", 84.3)],
)
def test_stress_area(name, area):
    """ISO 898-1 and ISO 724 tables, printed to three figures."""
    assert tensile_area(thread(name)) == pytest.approx(area, rel=2e-3)


def test_preload_and_torque():
    """M12 8.8 at 0.7 of 580 MPa: 34 226 N and, K 0.2, 82.14 N m; M10 at 50 N m: 25 000 N, 431 MPa (two worked examples, seen)."""
    m12, m10 = thread("M12"), thread("M10")
    assert usual_preload(m12) == pytest.approx(34226, rel=3e-3)
    assert torque_for(usual_preload(m12), m12, TORQUE_DRY) == pytest.approx(82.14, rel=3e-3)
    assert torque_for(25000, m10) == pytest.approx(50)
    assert 25000 / tensile_area(m10) == pytest.approx(431, rel=3e-3)


# Printed limits 6g and 6H: least major = greatest major - Td, least pitch of the screw, greatest pitch and minor of the hole.
LIMITS = {
    "M3": (2.980 - 0.106, 2.655 - 0.075, 2.675 + 0.100, 2.599),
    "M4": (3.978 - 0.140, 3.523 - 0.090, 3.545 + 0.118, 3.422),
    "M5": (4.976 - 0.150, 4.456 - 0.095, 4.480 + 0.125, 4.334),
    "M6": (5.974 - 0.180, 5.324 - 0.112, 5.350 + 0.150, 5.153),
    "M8": (7.972 - 0.212, 7.160 - 0.118, 7.188 + 0.160, 6.912),
    "M10": (9.968 - 0.236, 8.994 - 0.132, 9.026 + 0.180, 8.676),
}


@pytest.mark.parametrize("name", LIMITS)
def test_thread_limits(name):
    """External limits seen in two charts, pitch of the hole in a tap catalogue, its minor from memory."""
    m = thread_limits(thread(name))
    assert (m.major_min, m.pitch_min, m.pitch_max, m.minor_max) == pytest.approx(LIMITS[name], abs=0.015)


def test_shear_area_of_M6():
    """Over 6 mm 73.15 mm² (from memory), with printed limits."""
    m6 = thread("M6")
    assert hole_shear_area(m6, 6.0) == pytest.approx(73.1453, rel=0.01)


def test_strip_load_goes_with_length_and_metal(kit):
    """tau x area; with tau 120 MPa and 6 mm 8777 N."""
    metal = kit.metal()
    one = strip_load(thread("M6"), 3.0, metal)
    assert strip_load(thread("M6"), 6.0, metal) == pytest.approx(2 * one)
    assert 2 * one == pytest.approx(8777.44 / 120 * 205 / math.sqrt(3), rel=0.01)


def test_head_pressure():
    assert head_pressure(8170, 10, 6.6) == pytest.approx(8170 / (math.pi / 4 * (100 - 43.56)))
    with pytest.raises(BadInput, match=r"a head 5\.5 mm across does not cover a hole of 6 mm: use a washer"):
        head_pressure(1000, 5.5, 6.0)


# --- walls under a force ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("radius", "equal"), [(0.0, 0.65), (0.5, 0.747618), (1.0, 1.01643 / 1.01643)])
def test_patch_radius(radius, equal):
    """Westergaard, t = 2: 0.325 t at a point, 0.7476 at 0.5; at t/2 the patch itself (formula 1.016, 2 % off the patch)."""
    assert patch_radius(radius, 2.0) == pytest.approx(equal, rel=1e-4)
    assert patch_radius(0.99999, 2.0) == pytest.approx(1.01643, rel=1e-3)


def strip_series(width, thickness, radius, poisson, modulus):
    """Hinged plate 6 widths long under 1 N on a square of the disc's area: deflection and bending stress in the middle (Navier)."""
    length = 6 * width
    half = math.sqrt(math.pi) / 2 * radius
    m = np.arange(1, 1200, 2)[:, None] * math.pi / length
    n = np.arange(1, 400, 2)[None, :] * math.pi / width
    plate = modulus * thickness**3 / (12 * (1 - poisson**2))
    mean = np.sinc(m * half / math.pi) * np.sinc(n * half / math.pi)
    w = 4 / (length * width * plate) * mean / (m**2 + n**2) ** 2
    bend = plate * (w * (n**2 + poisson * m**2)).sum()
    return float(w.sum()), float(6 * bend / thickness**2)


@pytest.mark.parametrize("radius", [3.0, 5.0, 9.0])
def test_hinged_wall_against_a_series(kit, radius):
    """Stress within 4 % (patch square, not round); deflection is that of a point, up to 6 % over that of the patch."""
    metal = kit.metal()
    give, bend = strip_series(72.0, 4.0, radius, metal.poisson, metal.modulus)
    assert wall_bending(1.0, 72.0, 4.0, radius, metal.poisson)[1] == pytest.approx(bend, rel=0.04)
    assert wall_give(1.0, 72.0, 4.0, metal)[1] == pytest.approx(give, rel=0.06)
    assert wall_give(1.0, 72.0, 4.0, metal)[1] > give


def test_built_in_is_less_than_hinged(kit):
    built_in, hinged = wall_bending(800, 92, 4, 7.1, 0.3)
    assert 0 < built_in < hinged
    soft, slack = wall_give(800, 92, 4, kit.metal())
    assert slack / soft == pytest.approx(0.01695 / 0.00725)


@pytest.mark.parametrize("bad", [(0, 4, 2), (40, 0, 2), (40, 4, 20)])
def test_impossible_walls_are_refused(bad):
    with pytest.raises(BadInput, match="the patch narrower than the wall"):
        wall_bending(100, *bad, 0.3)


def test_side_wall_is_pressed_in_or_buckles(kit):
    metal = kit.metal()
    assert side_wall_load(42, 4, 8, metal) == pytest.approx(160 * 4 * 8)
    assert side_wall_load(200, 0.2, 8, metal) == pytest.approx(5.4 * 69500 * 0.2**3 / 200)


# --- hollow walls ----------------------------------------------------------------------------------------


def test_hollow_wall_of_a_tube(kit):
    tube = kit.section(width=50, height=100, wall=4)
    (wall,) = hollow_walls(tube, tube.face("front"))
    assert (wall.width, wall.thickness, wall.depth, wall.side) == pytest.approx((92, 4, 42, 4))


def test_two_cells_give_two_walls_and_a_bar_none(kit):
    shape = box(0, 0, 80, 40).difference(box(3, 3, 38.5, 37)).difference(box(41.5, 3, 77, 37))
    two = kit.drawn(shape)
    assert [w.width for w in hollow_walls(two, two.face("top"))] == pytest.approx([35.5, 35.5])
    bar = kit.drawn(box(0, 0, 60, 12))
    assert hollow_walls(bar, bar.face("top")) == ()


# --- findings --------------------------------------------------------------------------------------------


def _with(kit, *holes, wall=4, section=None):
    section = section or kit.section(width=50, height=100, wall=wall)
    return replace(kit.member(section), holes=holes)


def _hole(name="rail/1", kind="tapped", row="M6", through="wall", depth=4.0, at=(100, 0), **more):
    size = thread(row).tap_drill if kind == "tapped" else thread(row).clearance["medium"]
    return Hole(name, "front", kind, at, size, depth, through, row, **more)


def test_thread_in_a_thin_wall(kit):
    (f,) = screw_findings(_with(kit, _hole(), _hole("rail/2", at=(300, 0))))
    metal = kit.metal()
    assert (f.name, f.where, f.verdict) == ("thread, rail", "rail/1", Verdict.CAUTION)
    assert f.value == pytest.approx(strip_load(thread("M6"), 4.0, metal))
    assert f.limit == pytest.approx(1.5 * usual_preload(thread("M6")))
    assert f.margin == pytest.approx(f.value - f.limit)
    assert "4.0 pitches" in f.why
    most = 0.15 * f.value / 2 * 6 / 1000
    assert f"Tighten to at most {most:.1f} N m" in f.why
    assert "press-in or threaded insert" in f.why
    assert "plate nut" in f.why
    assert "spacer tube" in f.why


def test_plate_nut_is_thick_enough(kit):
    """The thickness it names would hold 1.5 times the usual pull in the same metal."""
    why = screw_findings(_with(kit, _hole()))[0].why
    thick = float(why.split("plate nut ")[1].split(" mm")[0])
    assert strip_load(thread("M6"), thick + 0.5, kit.metal()) > 1.5 * usual_preload(thread("M6"))


def test_too_few_pitches_are_refused(kit):
    (f,) = screw_findings(_with(kit, _hole(row="M8", depth=2.0), wall=2))
    assert f.verdict is Verdict.NO_GO
    assert "Fewer than 2 pitches hold nothing: set a press-in" in f.why


@pytest.mark.parametrize("depth", [2.5, 3.2, 4.0, 6.0, 9.0, 20.0])
def test_a_thread_is_judged_by_the_limit_it_shows(kit, depth):
    """A margin over nothing is a go, one under it never is."""
    bar = kit.drawn(box(0, 0, 100, 60))
    for row in ("M3", "M6", "M8"):
        hole = replace(_hole("end/1", row=row, depth=depth), face="top")
        (f,) = screw_findings(_with(kit, hole, section=bar))
        assert (f.verdict is Verdict.GO) == (f.margin >= 0), (row, depth)


def test_deep_thread_in_a_bar_is_fine(kit):
    bar = kit.drawn(box(0, 0, 100, 60))
    hole = replace(_hole("end/1", row="M6", through="blind", depth=25.0), face="top")
    (f,) = screw_findings(_with(kit, hole, section=bar))
    assert f.verdict is Verdict.GO
    assert "is fine" in f.why
    assert engaged_length(_with(kit, section=bar), hole) == 25 - 2 * 1.0


def test_blind_and_shallow_says_deeper(kit):
    bar = kit.drawn(box(0, 0, 100, 60))
    hole = replace(_hole("end/1", row="M6", through="blind", depth=7.0), face="top")
    (f,) = screw_findings(_with(kit, hole, section=bar))
    assert f.verdict is Verdict.CAUTION
    assert "mm deeper, or set a threaded insert" in f.why


def test_worst_hole_of_a_group_counts(kit):
    """The broken edge takes thread away."""
    (f,) = screw_findings(_with(kit, _hole(), _hole("rail/2", at=(300, 0), edge_break=0.5)))
    assert f.where == "rail/2"
    assert "3.5 mm of M6" in f.why


def test_head_on_soft_metal_wants_a_washer(kit):
    found = screw_findings(_with(kit, _hole("foot/1", "clearance", "M6")))
    assert [f.name for f in found] == ["pressure under the head, foot"]
    assert found[0].verdict is Verdict.CAUTION
    assert "put a washer under the head" in found[0].why


def test_screw_through_both_walls_wants_a_spacer(kit):
    found = screw_findings(_with(kit, _hole("foot/1", "clearance", "M6", "all", 50.0)))
    pulled = found[-1]
    assert pulled.name == "walls pulled in, foot"
    assert pulled.verdict is Verdict.NO_GO
    assert "spacer tube 42.0 mm long" in pulled.why
    near_web = screw_findings(_with(kit, _hole("foot/1", "clearance", "M3", "all", 50.0), wall=8))[-1]
    assert near_web.verdict is not Verdict.NO_GO


def test_plain_holes_say_nothing(kit):
    hole = Hole("vent/1", "front", "drilled", (100, 0), 5.0, 4.0, "wall")
    assert screw_findings(_with(kit, hole)) == []


def test_clamp_in_the_middle_of_the_wall(kit):
    tube = _with(kit, wall=4)
    (f,) = clamp_findings(tube, 800, ("front", "top"))
    assert (f.where, f.verdict) == ("front", Verdict.GO)
    low, high = wall_bending(800, 92, 4, 7.1, 0.33)
    assert (f.value - f.spread, f.value + f.spread) == pytest.approx((low, high))
    (f,) = clamp_findings(tube, 1600, ("front",))
    assert f.verdict is Verdict.CAUTION
    most = float(f.why.split("at most ")[1].split(" N")[0])
    assert wall_bending(most, 92, 4, 7.1, 0.33)[1] == pytest.approx(160, rel=2e-3)
    (f,) = clamp_findings(tube, 8000, ("front",))
    assert f.verdict is Verdict.NO_GO
    assert "Keep the foot over a side wall" in f.why


def test_solid_bars_take_clamps(kit):
    bar = kit.drawn(box(0, 0, 60, 12))
    assert clamp_findings(_with(kit, section=bar), 800, ("top",)) == []
