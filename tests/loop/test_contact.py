"""Contacts, belts, screws and bolts against worked cases and by independent reckoning."""

import math

import pytest
from scipy.integrate import quad

from sparwright.loop.contact import (
    ball_contact,
    belt_stiffness,
    bolted_joint,
    contact_modulus,
    in_series,
    joined_radius,
    line_contact,
    looped_belt_stiffness,
    preload,
    screw_stiffness,
    screw_twist_stiffness,
    stress_area,
)

STEEL = contact_modulus(200e3, 0.3, 200e3, 0.3)


def test_hertz_ball_on_a_rigid_flat():
    # A published benchmark: R 8 mm, E 1000 MPa, nu 0.3, F 30 x 2 pi N gives a = 1.010 mm.
    found = ball_contact(60 * math.pi, 8.0, contact_modulus(1000.0, 0.3))
    assert found.radius == pytest.approx(1.010, rel=1e-3)
    assert found.radius == pytest.approx(1.00964, rel=1e-5)


def test_hertz_steel_ball_on_steel():
    # Ball 50 mm, 500 N, E 200 GPa, nu 0.3 (a set problem; Johnson ch. 4).
    found = ball_contact(500.0, 25.0, STEEL)
    wanted = (0.440221, 1231.88, 0.00775179, 96751.9)
    assert (found.radius, found.pressure, found.approach, found.stiffness) == pytest.approx(wanted, rel=1e-5)


def test_ball_stiffness_is_the_slope_of_force_over_approach():
    step = 1e-4
    a, b = (ball_contact(500 * (1 + s), 25.0, STEEL) for s in (-step, step))
    slope = 1000 * step / (b.approach - a.approach)
    assert ball_contact(500.0, 25.0, STEEL).stiffness == pytest.approx(slope, rel=1e-6)


def test_hertz_roller_on_a_flat():
    # Steel roller R 10, 100 N/mm (Johnson ch. 4); the pressure's half ellipse carries the load.
    found = line_contact(100.0, 10.0, STEEL)
    assert (found.half_width, found.pressure) == pytest.approx((0.107641, 591.431), rel=1e-5)
    assert math.pi / 2 * found.pressure * found.half_width == pytest.approx(100.0)


def test_a_ball_in_a_groove_and_between_balls():
    assert joined_radius(8.0) == 8.0
    assert joined_radius(8.0, 8.0) == pytest.approx(4.0)
    assert joined_radius(8.0, -8.4) == pytest.approx(168.0)
    with pytest.raises(ValueError, match="fit into each other"):
        joined_radius(8.0, -8.0)


def test_belt_with_both_free_spans():
    # EA 24 000 N, L 1000 mm.
    assert belt_stiffness(24000, 250, 1000) == pytest.approx(128)
    assert belt_stiffness(24000, 500, 1000) == pytest.approx(96)
    assert belt_stiffness(24000, 50, 1000) == pytest.approx(505.263, rel=1e-6)
    assert belt_stiffness(24000, 250, 1000, slack=True) == pytest.approx(96)
    assert min(belt_stiffness(24000, x, 1000) for x in range(1, 1000)) == pytest.approx(4 * 24000 / 1000)


def test_a_closed_belt_by_its_two_ways_to_the_driven_pulley():
    assert looped_belt_stiffness(24000, 300, 1000, 2100) == pytest.approx(24000 / 300 + 24000 / 1800)
    with pytest.raises(ValueError, match="does not go round pulleys 1000 mm apart"):
        looped_belt_stiffness(24000, 300, 1000, 1900)


def test_screw_axial_stiffness():
    # Root 10 mm, L 500, E 206 000; then with a nut of 100 N/um and a bearing of 80 N/um.
    area = math.pi * 25
    assert screw_stiffness(area, 206e3, 500, 500, False) == pytest.approx(32358.4, rel=1e-5)
    assert screw_stiffness(area, 206e3, 250, 500, True) == pytest.approx(129433.6, rel=1e-5)
    assert in_series(129433.6, 100e3, 80e3) == pytest.approx(33084.1, rel=1e-5)


def test_screw_twist_by_energy():
    # A pull F turns the screw by F lead/2 pi as a torque T; energy T^2 x/2GJ = F^2/2k.
    F, x, lead, G, root = 100.0, 300.0, 5.0, 79e3, 10.0
    T = F * lead / (2 * math.pi)
    J = math.pi * root**4 / 32
    assert screw_twist_stiffness(root, G, x, lead) == pytest.approx(F * F / (T * T * x / (G * J)))


@pytest.mark.parametrize(
    ("d", "pitch", "area"),
    [
        (12, 1.75, 84.3),
        (10, 1.5, 58.0),
        (8, 1.25, 36.6),
        (6, 1.0, 20.1),
        (5, 0.8, 14.2),
        (4, 0.7, 8.78),
        (3, 0.5, 5.03),
    ],
)
def test_stress_areas_of_the_table(d, pitch, area):
    # ISO 898-1's printed areas, three figures.
    assert stress_area(d, pitch) == pytest.approx(area, rel=3e-3)


def test_preload_of_worked_examples():
    # M10, 50 N m, K 0.2: 25 kN, 431 MPa. M12 8.8 at 70 % of 580 MPa wants 82.14 N m.
    assert preload(50e3, 10) == pytest.approx(25000)
    assert preload(50e3, 10) / stress_area(10, 1.5) == pytest.approx(431, rel=1e-3)
    assert preload(82.14e3, 12) == pytest.approx(0.7 * 580 * stress_area(12, 1.75), rel=1e-3)


def test_bolted_joint_against_the_cone_itself():
    # M8 through aluminium, grip 20, head 13, half angle 30 deg; the cones integrated slice by slice.
    found = bolted_joint(8.0, 36.6, 210e3, 20.0, 13.0, 70e3)
    assert (found.parts, found.bolt, found.share) == pytest.approx((669471.3, 384300.0, 0.36469), rel=1e-4)
    tan = math.tan(math.radians(30))
    half = quad(lambda z: 1 / (70e3 * math.pi / 4 * ((13 + 2 * z * tan) ** 2 - 64)), 0, 10)[0]
    assert found.parts == pytest.approx(1 / (2 * half), rel=1e-9)
    # The textbook's short form for a head of 1.5 d.
    L, d = 20.0, 8.0
    short = 0.5774 * math.pi * 70e3 * d / (2 * math.log(5 * (0.5774 * L + 0.5 * d) / (0.5774 * L + 2.5 * d)))
    assert bolted_joint(d, 36.6, 210e3, L, 1.5 * d, 70e3).parts == pytest.approx(short, rel=1e-3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: belt_stiffness(24000, 0, 1000),
            "x = 0 mm lies outside the span; allowed: above 0 and below 1000 mm",
        ),
        (lambda: belt_stiffness(-1, 500, 1000), "EA is -1; allowed: above 0"),
        (
            lambda: screw_stiffness(78, 206e3, 600, 500, False),
            "the nut at 600 mm is not on a screw of 500 mm",
        ),
        (lambda: ball_contact(0.0, 8, 1000), "force is 0; allowed: above 0"),
        (lambda: in_series(5.0, 0.0), "stiffness 2 is 0; allowed: above 0"),
        (
            lambda: bolted_joint(8, 36.6, 210e3, 20, 8, 70e3),
            "a head 8 mm across does not hold on a hole of 8 mm",
        ),
    ],
)
def test_sizes_out_of_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()
