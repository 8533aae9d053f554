"""The bay at its limits: how its elements converge, turned and drawn sections, and what it refuses in words."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.affinity import rotate
from shapely.geometry import Point, box

from sparwright.stiffness.bay import bay_mesh, stretch_properties
from sparwright.stiffness.mirror import find_mirrors
from sparwright.stiffness.pattern import BayError, Pattern, check_pockets, field_pattern
from sparwright.stiffness.periodic import solve_period
from sparwright.stiffness.section import section_properties

STIFFNESSES = ("EA", "EIy", "EIz", "GJ", "GAy", "GAz")


def square_torsion_error(kit, order, size):
    """Relative error of GJ of a square bar through the bay, against the series of Timoshenko and Goodier."""
    bar, metal, period = kit.section("square bar", side=20), kit.metal(), 10.0
    series = sum(math.tanh(n * math.pi / 2) / n**5 for n in range(1, 99, 2))
    exact = metal.shear_modulus * 20**4 * (1 / 3 - 64 / math.pi**5 * series)
    pattern = Pattern(period, 0.0, ())
    mirrors = find_mirrors(bar, pattern)
    mesh = bay_mesh(bar, pattern, {"maxh": size, "parallel_meshing": False}, order, mirrors)
    found = solve_period(mesh, period, metal.modulus, metal.poisson, order, mirrors)
    return found.C[3, 3] / exact - 1


def test_convergence_of_the_elements(kit):
    """Strain energy errs from above, by the fourth power of the size at order 2, and falls tenfold and more an order."""
    coarse, fine = (square_torsion_error(kit, 2, size) for size in (5.0, 2.5))
    assert 0 < fine < coarse
    assert math.log2(coarse / fine) == pytest.approx(4, abs=0.7)
    errors = [square_torsion_error(kit, order, 5.0) for order in (2, 3, 4)]
    assert all(e > 0 for e in errors)
    assert errors[1] < errors[0] / 10
    assert errors[2] < errors[1] / 10
    assert errors[1] < 2e-4


@pytest.fixture(scope="module")
def tube(kit):
    return kit.section(width=40, height=30, wall=3)


@pytest.fixture(scope="module")
def rounds(kit, tube):
    return kit.field_on(tube, "top", 3, skin=1, pocket="round", cell=20, rib=6, rows=1)


def test_a_turned_section_turns_its_constants(kit, tube, rounds):
    """A tube with pockets on one face, drawn 30 degrees round: bending, shear and centres turn as tensors and points do.

    Order 2 both times, other mirror planes and so other meshes: 1 %.
    """
    angle = math.radians(30)
    turned = kit.drawn(rotate(tube.shape, 30, origin=(0, 0)))
    face = next(f for f in turned.faces if abs(math.degrees(f.angle) - 120) < 0.1)
    here = stretch_properties(tube, kit.metal(), (rounds,), order=2)
    there = stretch_properties(turned, kit.metal(), (replace(rounds, face=face.name),), order=2)
    c, s = math.cos(angle), math.sin(angle)
    for key in ("EA", "GJ", "mass_kg_per_m"):
        assert getattr(there, key) == pytest.approx(getattr(here, key), rel=1e-2), key
    # E times the integrals of z², y² and y z.
    assert there.EIy == pytest.approx(here.EIy * c**2 + here.EIz * s**2, rel=1e-2)
    assert there.EIz == pytest.approx(here.EIy * s**2 + here.EIz * c**2, rel=1e-2)
    assert there.EIyz == pytest.approx((here.EIz - here.EIy) * s * c, rel=2e-2)
    assert 1 / there.GAy == pytest.approx(c**2 / here.GAy + s**2 / here.GAz, rel=1e-2)
    assert 1 / there.GAz == pytest.approx(s**2 / here.GAy + c**2 / here.GAz, rel=1e-2)
    offset = np.array(here.shear_centre) - here.centroid
    assert np.array(there.shear_centre) - there.centroid == pytest.approx(
        np.array([[c, -s], [s, c]]) @ offset, abs=0.1
    )


@pytest.fixture(scope="module")
def webbed(kit):
    """80 x 40 x 3 with a web of 3 mm in the middle; every inner corner a fillet of 1.5 mm, drawn in chords."""
    shape = box(0, 0, 80, 40)
    for left, right in ((3, 38.5), (41.5, 77)):
        shape = shape.difference(box(left, 3, right, 37).buffer(-1.5).buffer(1.5, quad_segs=16))
    return kit.drawn(shape)


def test_pockets_over_a_web_with_fillets(kit, webbed):
    """The middle row lies over the web: the metal counted is exact, and twist and bending lie within their bounds."""
    field = kit.field_on(webbed, "top", 3, skin=1, pocket="round", cell=25, rib=5, rows=3)
    plain = section_properties(webbed, kit.metal())
    worked = stretch_properties(webbed, kit.metal(), (field,), order=2)
    taken = sum(o.area for o in field.outlines) * field.depth / field.pitch
    share = 1 - taken / webbed.shape.area
    # Curves of order 2 make the pockets a little smaller.
    assert worked.mass_kg_per_m / plain.mass_kg_per_m == pytest.approx(share, rel=1e-3)
    assert share > worked.EA / plain.EA
    # The second cell keeps more of the twist than the wall loses of its metal.
    assert share * 0.8 < worked.GJ / plain.GJ < 1
    assert worked.centroid == pytest.approx((40, 20 - 2.75), abs=0.15)
    assert worked.shear_centre[0] == pytest.approx(40, abs=1e-6)


def test_each_stretch_has_its_own_constants(kit, tube, rounds):
    shallow = replace(rounds, depth=1.0, skin=2.0)
    deep, less, none = (
        stretch_properties(tube, kit.metal(), bays, order=2) for bays in ((rounds,), (shallow,), ())
    )
    assert none.method == "section"
    for key in ("EA", "EIy", "EIz", "GJ"):
        assert getattr(deep, key) < getattr(less, key) < getattr(none, key), key


@pytest.mark.parametrize(
    ("outlines", "words"),
    [
        ((Point(5, 0).buffer(5), Point(15, 0).buffer(5)), "pockets on top overlap or touch"),
        ((Point(6, 0).buffer(5), Point(14, 0).buffer(5)), "pockets on top overlap or touch"),
        ((box(2, -8, 10, 0), box(10, 0, 18, 8)), "pockets on top overlap or touch"),
        ((box(2, -5, 9.99, 5), box(10.01, -5, 18, 5)), r"pockets on top are only 0.0200 mm apart"),
        ((box(0.03, -5, 20, 5),), r"pockets on top are only 0.0300 mm apart"),
    ],
    ids=["tangent", "overlapping", "corner to corner", "thin rib", "its own next copy"],
)
def test_pockets_without_metal_between_are_refused(kit, tube, rounds, outlines, words):
    """Some of these end the mesher without a word, so they never reach it."""
    with pytest.raises(BayError, match=words) as told:
        stretch_properties(tube, kit.metal(), (replace(rounds, outlines=outlines),), order=2)
    assert "allowed: at least 0.1 mm of metal between them" in str(told.value)
    assert "Make the rib wider" in str(told.value)


def test_a_skin_too_thin_for_a_mesh_is_refused(kit, tube, rounds):
    thin = replace(rounds, depth=2.98, skin=0.02)
    with pytest.raises(
        BayError, match=r"a skin of 0.02 mm under rounds on top is thinner than the mesh"
    ) as told:
        stretch_properties(tube, kit.metal(), (thin,), order=2)
    assert "allowed: 0 (a window) or at least 0.05 mm" in str(told.value)


def test_near_limits_still_computes(kit, tube, rounds):
    """What the checks let through, the mesher bears: a rib and a skin of 0.1 mm, with an honest spread."""
    close = replace(rounds, depth=2.9, skin=0.1, outlines=(box(2, -5, 9.95, 5), box(10.051, -5, 18, 5)))
    check_pockets(field_pattern(tube, (close,), windows=False), (close,))
    found = stretch_properties(tube, kit.metal(), (close,), order=2)
    plain = section_properties(tube, kit.metal())
    for key in STIFFNESSES:
        assert 0.3 < getattr(found, key) / getattr(plain, key) < 1.1, key
    assert found.spread["GJ"] > 0.02


def test_a_cutting_plane_keeps_clear_of_the_pockets_ends(kit, tube, rounds):
    """A pocket from 3 to 17 of 20 mm: planes at 0.15 and 0.85 would just touch it."""
    pattern = field_pattern(tube, (rounds,), windows=False)
    assert pattern.clear_shift(0.0) == 0.0
    assert pattern.clear_shift(0.15) == pytest.approx(0.17, abs=0.011)
    ends = np.array(pattern.cuts[0].outline.bounds[::2]) / pattern.period
    for by in (0.15, 0.37, 0.845, 0.61):
        away = ends - pattern.clear_shift(by)
        assert np.abs(away - np.round(away)).min() > 0.01


def test_holes_that_all_but_touch_are_refused_in_words(kit):
    from shapely.geometry import Point, box

    from sparwright.stiffness.pattern import Cut, Pattern, check_features

    tube = kit.section(width=80, height=40, wall=3)
    top = tube.face("top")

    def holes(apart):
        outlines = [Point(20, 0).buffer(4), Point(28 + apart, 0).buffer(4)]
        return Pattern(60.0, 0.0, tuple(Cut(top, o, 3.2) for o in outlines))

    with pytest.raises(
        BayError, match=r"holes or pockets on top are only 0\.0\d+ mm apart; allowed: at least 0\.1 mm"
    ):
        check_features(holes(0.05))
    with pytest.raises(BayError, match=r"only 0\.0000 mm apart"):
        check_features(Pattern(60.0, 0.0, tuple(Cut(top, box(x, -3, x + 5, 3), 3.2) for x in (20, 25))))
    check_features(holes(0.2))
    check_features(holes(-1.0))
