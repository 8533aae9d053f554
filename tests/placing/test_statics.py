"""Clamps and statics against worked figures."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Point, box

from sparwright.placing.clamps import (
    bending_between_pads,
    safety_against_slip,
    second_moments,
    wall_squeeze,
)
from sparwright.placing.lying import Lying
from sparwright.placing.reach import gathered
from sparwright.placing.straps import Strap, clamps_needed, screw_torque, strap_at, work_force


def test_a_strap_on_a_heel_block_passes_on_its_lever_share() -> None:
    # 2000 N at the bolt, 60 from the heel, 40 from the work: 1200 on the work, 800 on the heel.
    assert work_force(2000, 60, 40) == 1200
    strap = Strap((0, 0), (0, 40), (0, 100), 20)
    assert strap.lever == pytest.approx(0.6)
    assert work_force(1, 60, 40) == strap.lever


def test_the_short_form_of_the_torque() -> None:
    assert screw_torque(5000, "M6") == pytest.approx(6.0)
    p, d2, dkm, mu = 1.0, 5.350, 8.3, 0.15
    long_form = 5000 * (p / (2 * math.pi) + 0.577 * mu * d2 + mu * dkm / 2) / 1000
    assert screw_torque(5000, "M6") == pytest.approx(long_form, rel=0.04)


def test_the_clamps_needed_against_sliding() -> None:
    # 60 N cutting, 20 N lift, friction 0.2, 300 N each, twofold safety: 2.13, so three.
    assert clamps_needed(60, 20, 0.2, 300, 2) == pytest.approx(2.13333, rel=1e-5)
    safety = safety_against_slip(300, 3, 60, 20, 0.2)
    assert clamps_needed(60, 20, 0.2, 300, safety) == pytest.approx(3)


def test_second_moments_of_known_shapes() -> None:
    high, wide = second_moments(box(0, 0, 40, 20))
    assert (high, wide) == pytest.approx((40 * 20**3 / 12, 20 * 40**3 / 12))
    ring = Point(7, -3).buffer(30, quad_segs=200).difference(Point(7, -3).buffer(26, quad_segs=200))
    assert second_moments(ring) == pytest.approx((math.pi / 4 * (30**4 - 26**4),) * 2, rel=1e-4)


@pytest.mark.parametrize(("span", "fixed", "hinged"), [(250, 0.005, 0.020), (400, 0.020, 0.081)])
def test_a_flat_tube_between_pads(span: float, fixed: float, hinged: float) -> None:
    """60 N on a tube 20 x 40 x 2 lying flat: 0.020 to 0.005 mm over 250, 0.081 to 0.020 over 400."""
    tube = box(0, 0, 40, 20).difference(box(2, 2, 38, 18))
    least, most = bending_between_pads(60, span, 69_500 * second_moments(tube)[0])
    assert (least, most) == pytest.approx((fixed, hinged), abs=0.0012)


def lying_tube(side: float, wall: float) -> Lying:
    half = side / 2
    shape = box(-half, -side, half, 0).difference(box(-half + wall, -side + wall, half - wall, -wall))
    span = (-half, half)
    return Lying("top", span, span, span, side, 0.0, half, 0.0, shape, gathered([]))


@pytest.mark.parametrize(
    ("side", "wall", "force", "least", "most"),
    [(40, 2, 500, 0.11, 0.26), (40, 3, 500, 0.033, 0.078), (50, 2, 1000, 0.35, 0.82)],
)
def test_a_hollow_wall_yields_in_its_middle_as_the_plate_formula_says(
    side: float, wall: float, force: float, least: float, most: float
) -> None:
    """Plate between webs, the width between the webs' middles; the free width is one wall less."""
    squeeze = wall_squeeze(lying_tube(side + wall, wall), 0.0, force, 70_000, 0.33)
    assert squeeze.span == pytest.approx(side - wall)
    wide = (side / (side - wall)) ** 2
    assert (squeeze.least * wide, squeeze.most * wide) == pytest.approx((least, most), rel=0.05)


def test_a_wall_yields_less_near_a_web_and_not_over_metal() -> None:
    tube = lying_tube(50, 3)
    places = [0.0, 10.0, 20.0, 21.9]
    yields = [wall_squeeze(tube, s, 500, 70_000, 0.33).most for s in places]
    assert yields == sorted(yields, reverse=True)
    assert yields[-1] < 0.002 * yields[0]
    assert wall_squeeze(tube, 23.0, 500, 70_000, 0.33).most == 0


def test_a_strap_lies_over_contact_and_screw_with_its_heel_on_the_pad() -> None:
    straight = strap_at((100, 42), (100, 60), 95, 20)
    assert straight.heel == pytest.approx((100, 87))
    assert straight.footprint.bounds == pytest.approx((90, 38, 110, 95))
    askew = strap_at((100, 42), (118, 60), 95, 20)
    assert askew.heel == pytest.approx((145, 87))
    narrow = strap_at((100, 42), (100, 60), 66, 20)
    assert narrow.heel == pytest.approx((100, 78))
    assert narrow.lever == pytest.approx(0.5)
