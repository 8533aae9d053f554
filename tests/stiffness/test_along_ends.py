"""What held ends give a member with windows: the one measured design, and every case it says nothing about."""

from dataclasses import replace

import pytest
from shapely.geometry import box

from sparwright.stiffness.along_ends import held_end_bonus, held_end_length
from sparwright.stiffness.section import section_properties


@pytest.fixture(scope="module")
def tube(kit):
    return kit.section(width=80, height=40, wall=4)


def windows(kit, tube, *faces, skin=0.0):
    given = {"pocket": "hexagon", "cell": 26, "rib": 4, "skin": skin, "edge_margin": 4}
    return kit.member(tube, tuple(kit.field_on(tube, f, 4.0, **given) for f in faces))


def test_the_tube_it_was_measured_on(kit, tube):
    # Tube 80 x 40 x 4, hexagon windows in both wide faces: whole solids of two lengths gave 71 mm, with order-2
    # elements, whose GJ is 0.0566 of the intact tube's.
    intact = section_properties(tube, kit.metal())
    member = windows(kit, tube, "top", "bottom")
    found = held_end_bonus(member, replace(intact, GJ=0.0566 * intact.GJ))
    assert found == pytest.approx(71.0, rel=0.03)
    assert found == pytest.approx(held_end_length(4.0, 40.0, 76.0, 69500.0, 0.0566 * intact.GJ), rel=1e-3)


def test_it_says_nothing_about_other_cases(kit, tube):
    intact = section_properties(tube, kit.metal())
    assert held_end_bonus(windows(kit, tube), intact) is None
    assert held_end_bonus(windows(kit, tube, "top"), intact) is None
    assert held_end_bonus(windows(kit, tube, "top", "front"), intact) is None
    assert held_end_bonus(windows(kit, tube, "top", "bottom", skin=1.0), intact) is None
    webbed = kit.drawn(box(0, 0, 80, 40).difference(box(4, 4, 38, 36)).difference(box(42, 4, 76, 36)))
    assert held_end_bonus(windows(kit, webbed, "top", "bottom"), intact) is None
    uneven = kit.drawn(box(0, 0, 80, 40).difference(box(4, 4, 73, 36)))
    assert held_end_bonus(windows(kit, uneven, "top", "bottom"), intact) is None


def test_sizes_out_of_range():
    with pytest.raises(ValueError, match="must be above 0"):
        held_end_length(4.0, 40.0, 76.0, 69500.0, 0.0)
