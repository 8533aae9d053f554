"""The skin's give under the cutter."""

import math
from itertools import pairwise

import pytest
from shapely.geometry import Point, Polygon, box

from sparwright.answers import BadInput
from sparwright.stiffness.skin import skin_deflection


def hexagon(across_flats):
    r = across_flats / math.sqrt(3)
    return Polygon([(r * math.cos(a), r * math.sin(a)) for a in (k * math.pi / 3 for k in range(6))])


# Skin mm: deflection um under 20 N in solid elements (own earlier trial): hexagon AF 22, wall 4, E 69 500, nu 0.33.
TRIAL = {0.5: 58.3, 1.0: 8.99, 1.5: 3.67, 2.0: 2.18}


@pytest.mark.parametrize("skin", TRIAL)
def test_hexagon_of_the_trial(kit, skin):
    w = 1000 * skin_deflection(hexagon(22), skin, 4.0, 20.0, kit.metal())
    assert w == pytest.approx(TRIAL[skin], rel=0.13)


def test_circular_plate_of_a_handbook(kit):
    """a 150, t 1.5, E 200 000, nu 0.29, P 314 N: 2.289 mm by the formula, 2.295 printed (Civil Engineering Handbook)."""
    disc = Point(0, 0).buffer(150, quad_segs=200)
    w = skin_deflection(disc, 1.5, 100.0, 314.0, kit.metal(0.29, 200000))
    assert w == pytest.approx(2.28859, rel=1e-3)


def test_hexagon_plate_lies_between_its_circles(kit):
    """Clamped hexagon, own series: 0.021157 P r²/D, r the apothem; the circle of equal area is 4 % above."""
    metal = kit.metal(0.3)
    stiffness = metal.modulus / 12 / (1 - 0.09)
    w = skin_deflection(hexagon(40), 1.0, 100.0, 1.0, metal) * stiffness / 20**2
    assert 0.021157 < w < 1.05 * 0.021157


def test_long_slot_gives_no_more_than_a_strip(kit):
    metal = kit.metal()
    short, long = (skin_deflection(box(0, 0, length, 16), 1.0, 4.0, 20.0, metal) for length in (60.0, 200.0))
    assert long == pytest.approx(short)
    assert skin_deflection(box(0, 0, 16, 16), 1.0, 4.0, 20.0, metal) < short


def test_more_skin_gives_less(kit):
    gives = [skin_deflection(hexagon(22), 0.1 * k, 4.0, 20.0, kit.metal()) for k in range(3, 40)]
    assert all(a > b for a, b in pairwise(gives))


@pytest.mark.parametrize("skin", [0.0, -1.0, 4.1])
def test_no_skin_is_refused(kit, skin):
    with pytest.raises(BadInput, match="above 0 and at most the wall"):
        skin_deflection(hexagon(22), skin, 4.0, 20.0, kit.metal())
