"""The strip's mesh and integrals: areas, moments, moved margins, and how fast the elements converge."""

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import Point, box

from sparwright.stiffness.plate import patterned_wall, plain_wall
from sparwright.stiffness.strip import StripShape, plain_integrals, strip_integrals

ROUND = Point(15, 0).buffer(11, 32)


def shape(size=6.0, through=False, outline=ROUND, width=44.0, period=30.0):
    return StripShape(period, width, ((outline,),), (through,), size)


def moment(integrals, power):
    """Integral of s to the power 0, 1 or 2 over the strip."""
    rows, columns = integrals.topology.rows, integrals.topology.pattern[1]
    left, right = ((integrals.one, integrals.one), (integrals.one, integrals.s), (integrals.s, integrals.s))[
        power
    ]
    return float((integrals.values[:, 5].sum(axis=0) * left[rows] * right[columns]).sum())


def test_areas_and_moments():
    found = strip_integrals(shape())
    assert found.areas == pytest.approx([30 * 44 - math.pi * 121, math.pi * 121], rel=1e-3)
    assert moment(found, 0) == pytest.approx(30 * 44)
    assert moment(found, 1) == pytest.approx(0, abs=1e-6)
    assert moment(found, 2) == pytest.approx(30 * 44**3 / 12)
    assert (found.s[found.topology.edges[0]].min(), found.s[found.topology.edges[1]].max()) == pytest.approx(
        (-22, 22)
    )


def test_windows_are_left_out():
    found = strip_integrals(shape(through=True))
    assert found.areas == pytest.approx([30 * 44 - math.pi * 121], rel=1e-3)


def test_two_depths_are_two_regions():
    kinds = ((box(2, -18, 13, -4),), (box(2, 4, 13, 18), box(16, 4, 27, 18)))
    found = strip_integrals(StripShape(30.0, 44.0, kinds, (False, False), 6.0))
    assert found.areas == pytest.approx([1320 - 3 * 154, 154, 308])


def test_a_moved_margin_equals_a_mesh_of_its_own():
    """Walls of nearly the same width share a mesh whose margins are stretched; the answer is that of the true width."""
    widths = np.linspace(43.0, 45.0, 5)
    moved = [patterned_wall(shape(width=float(w)), 4.0, (2.5,), 0.33).K for w in widths]
    fresh = [patterned_wall(shape(width=float(w), size=4.0), 4.0, (2.5,), 0.33).K for w in widths]
    for a, b in zip(moved, fresh, strict=True):
        assert np.diag(a) == pytest.approx(np.diag(b), rel=3e-3)
    assert np.all(np.diff([k[0, 0] for k in moved]) > 0)


def test_unequal_margins():
    """A pocket nearer to one edge: moments come out whichever edge it is, and bending couples with stretch oppositely."""
    up, down = (translate(ROUND, 0, by) for by in (6.0, -6.0))
    found = [patterned_wall(shape(outline=o), 4.0, (2.5,), 0.33).K for o in (up, down)]
    assert found[0][0, 1] < 0 < found[1][0, 1]
    assert found[0][0, 1] == pytest.approx(-found[1][0, 1], rel=1e-2)
    assert np.diag(found[0]) == pytest.approx(np.diag(found[1]), rel=1e-3)


def test_pockets_over_the_edge_are_told():
    with pytest.raises(ValueError, match=r"pockets reach 1\.00 mm over the edge of a strip 20 mm wide"):
        strip_integrals(shape(width=20.0))


def test_where_the_strip_is_cut_open_does_not_matter():
    here, there = (
        patterned_wall(replace(s, kinds=s.shifted(by).kinds), 4.0, (2.5,), 0.33).K
        for s, by in ((shape(), 0.0), (shape(), 7.0))
    )
    assert np.diag(here) == pytest.approx(np.diag(there), rel=2e-3)


def test_a_pocket_of_no_depth_is_no_pocket():
    """The elements of a patterned strip and the polynomials of a plain one are different code for one thing."""
    K, plain = (
        patterned_wall(shape(), 4.0, (0.0,), 0.33),
        plain_wall(44.0, 4.0, 0.33),
    )
    assert pytest.approx(plain.K, rel=1e-3, abs=1e-3) == K.K
    assert np.diag(K.own) == pytest.approx(np.diag(plain.own), rel=3e-3, abs=0.1)
    assert plain_integrals(44.0).areas == pytest.approx([44.0])


def test_energy_converges():
    """Order 3 elements, round pocket: the stiffness is an upper bound, and its error falls with at least h³; smooth
    fields would fall with h^6, but shear dies away over a tenth of the pocket beside its edge."""
    best = np.diag(patterned_wall(shape(size=2.2), 4.0, (2.5,), 0.33).K)
    sizes = (9.0, 6.0, 4.5)
    errors, spacing = [], []
    for size in sizes:
        outline = shape(size=size)
        errors.append(np.diag(patterned_wall(outline, 4.0, (2.5,), 0.33).K) / best - 1)
        spacing.append(len(strip_integrals(outline).one) ** -0.5)
    assert np.all(np.array(errors) > 0)
    assert np.all(np.array(errors[-1]) < 1e-3)
    for error in np.array(errors).T:
        order = np.polyfit(np.log(spacing), np.log(error), 1)[0]
        assert order > 3
