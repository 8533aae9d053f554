"""Mass of sections and pocketed sections against closed forms, and against the member's own solids."""

import itertools
import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from sparwright.loop.inertia import area_moments, part_inertia, plain_inertia, worked_inertia
from sparwright.loop.stretches import plain_stretches, stretches_from, worked_spans, worked_stretches
from sparwright.stiffness.along import Part
from sparwright.stiffness.model import BeamProperties


def test_moments_of_a_hollow_rectangle():
    # b h^3/12 about the middle, outer less inner; axes moved by Steiner's rule.
    shape = box(-50, -25, 50, 25).difference(box(-46, -21, 46, 21))
    A, y, z, yy, zz, yz = area_moments(affinity.translate(shape, 7, -3))
    assert pytest.approx(100 * 50 - 92 * 42) == A
    assert (y / A, z / A) == pytest.approx((7, -3))
    assert yy - A * 49 == pytest.approx((50 * 100**3 - 42 * 92**3) / 12)
    assert zz - A * 9 == pytest.approx((100 * 50**3 - 92 * 42**3) / 12)
    assert yz == pytest.approx(-21 * A)


def test_moments_do_not_depend_on_the_direction_a_ring_is_written_in():
    ring = [(0, 0), (4, 0), (4, 3), (1, 5)]
    assert area_moments(Polygon(ring)) == pytest.approx(area_moments(Polygon(ring[::-1])))


def test_disc():
    A, *_, yy, zz, _ = area_moments(Point(0, 0).buffer(10, quad_segs=400))
    assert (A, yy, zz) == pytest.approx((math.pi * 100, math.pi * 2500, math.pi * 2500), rel=1e-5)


def test_kinetic_energy_of_a_turn_about_a_far_axis():
    # Turning about x through (ya, za): polar moment about that axis, by Steiner.
    inertia = plain_inertia(box(0, 0, 40, 12), 2.7e-9)
    m = inertia.about((100.0, 50.0))
    polar = 480 * (40**2 + 12**2) / 12 + 480 * ((100 - 20) ** 2 + (50 - 6) ** 2)
    assert m[3, 3] == pytest.approx(2.7e-9 * polar)
    assert np.allclose(m, m.T)
    assert np.linalg.eigvalsh(m).min() > 0


def test_pockets_taken_out_of_the_bridge_beam(bridge_member):
    # By brute force: one period of the fields as a cloud of small cubes.
    member = bridge_member
    density = member.material.density * 1e-12
    inertia = worked_inertia(member, density, member.bays)
    plain = plain_inertia(member.section.shape, density)
    removed = np.zeros(6)
    step = 0.25
    for bay in member.bays:
        face = member.section.face(bay.face)
        layers = np.arange(step / 2, bay.depth, step)
        for outline in bay.outlines:
            x0, s0, x1, s1 = outline.bounds
            xs, ss = np.meshgrid(np.arange(x0, x1, step), np.arange(s0, s1, step))
            import shapely

            inside = shapely.contains_xy(outline, xs.ravel(), ss.ravel())
            s = np.repeat(ss.ravel()[inside], len(layers))
            n = np.tile(-layers, int(inside.sum()))
            y, z = np.asarray(face.centre)[:, None] + np.outer(face.across, s) + np.outer(face.normal, n)
            w = density * step**2 * (bay.depth / len(layers)) / bay.pitch
            removed += w * np.array([len(y), y.sum(), z.sum(), (y * y).sum(), (z * z).sum(), (y * z).sum()])
    got = np.array(
        [
            plain.mass - inertia.mass,
            *np.subtract(plain.first, inertia.first),
            *np.subtract(plain.second, inertia.second),
        ]
    )
    assert got[:5] == pytest.approx(removed[:5], rel=0.01)
    assert got[5] == pytest.approx(removed[5], rel=0.01)


def test_the_beam_weighs_what_the_solids_weigh(bridge_member):
    from sparwright.stock.solids import blank_mass_kg, mass_out_kg

    member = bridge_member
    density = member.material.density * 1e-12
    p = {
        name: BeamProperties("x", mass * 1e6, 1, 1, 1, 0, 1, 1, 1, (0, 0), (0, 0))
        for name, mass in (
            ("plain", plain_inertia(member.section.shape, density).mass),
            ("worked", worked_inertia(member, density, member.bays).mass),
        )
    }
    before = sum(s.inertia.mass * (s.end - s.start) for s in plain_stretches(member, p["plain"]))
    after = sum(s.inertia.mass * (s.end - s.start) for s in worked_stretches(member, p["plain"], p["worked"]))
    assert before * 1e3 == pytest.approx(blank_mass_kg(member), rel=1e-3)
    assert (before - after) * 1e3 == pytest.approx(mass_out_kg(member), rel=0.12)
    ends = worked_spans(member)
    assert len(ends) == 1
    assert 0 < ends[0][0] < ends[0][1] < member.length


def test_parts_weigh_and_lie_as_the_solids_do(bridge_member):
    # Pockets, holes, notch: the whole member's mass and centre of mass, from its own solid.
    from dataclasses import replace

    from sparwright.stock.model import Hole
    from sparwright.stock.solids import centre_of_mass, mass_kg

    extra = (
        Hole("cb", "top", "counterbored", (40.0, 5.0), 6.6, 4.0, "wall", "M6", (11.0, 2.5)),
        Hole("all", "back", "drilled", (600.0, 20.0), 12.0, 50.0, "all"),
    )
    member = replace(bridge_member, holes=(*bridge_member.holes, *extra))
    p = BeamProperties("x", 1.0, 1, 1, 1, 0, 1, 1, 1, (0, 0), (0, 0))
    cuts = (0.0, 8.0, 73.0, 411.0, 1107.0, 1180.0)
    parts = [Part(a, b, "plain", (), p) for a, b in itertools.pairwise(cuts)]
    found = stretches_from(member, parts)
    mass = sum(s.inertia.mass * (s.end - s.start) for s in found)
    assert mass * 1e3 == pytest.approx(mass_kg(member), rel=2e-3)  # the solid has its edges broken
    centre = np.array([np.array(s.inertia.first) * (s.end - s.start) for s in found]).sum(axis=0) / mass
    assert centre == pytest.approx(centre_of_mass(member)[1:], abs=0.05)
    x = sum(s.inertia.mass * (s.end - s.start) * (s.end + s.start) / 2 for s in found) / mass
    assert x == pytest.approx(centre_of_mass(member)[0], abs=1.0)


def test_a_part_counts_what_lies_in_it(bridge_member):
    # Two halves of a stretch weigh what the whole weighs, wherever it is parted; a period weighs the bay's mean.
    member, density = bridge_member, 2.7e-9
    whole = part_inertia(member, density, 100.0, 500.0)
    for cut in (260.0, 301.7):
        a, b = part_inertia(member, density, 100.0, cut), part_inertia(member, density, cut, 500.0)
        for key in ("mass", "first", "second"):
            joined = np.array(getattr(a, key)) * (cut - 100) + np.array(getattr(b, key)) * (500 - cut)
            assert joined == pytest.approx(np.array(getattr(whole, key)) * 400, rel=1e-9)
    bay = member.bays[0]
    undisturbed = part_inertia(member, density, 117.0 + 5 * bay.pitch, 117.0 + 6 * bay.pitch)
    mean = worked_inertia(member, density, member.bays)
    assert undisturbed.mass == pytest.approx(mean.mass, rel=0.03)


def test_a_hole_through_everything_takes_both_walls():
    # Disc moments: A t in each wall about its own middle, by Steiner.
    from sparwright.job.models import Material
    from sparwright.stock.model import Hole, Member
    from sparwright.stock.section import section_from_polygon

    shape = box(0, 0, 50, 100).difference(box(4, 4, 46, 96))
    metal = Material(
        name="m", modulus=7e4, poisson=0.33, density=2700, proof_strength=1, tensile_strength=1,
        cutting_force=1, cutting_exponent=0.2, source="test",
    )  # fmt: skip
    hole = Hole("h", "top", "drilled", (50.0, 0.0), 10.0, 100.0, "all")
    member = Member("t", section_from_polygon(shape, "tube"), 100.0, metal, holes=(hole,))
    plain = plain_inertia(shape, 1.0)
    left = part_inertia(member, 1.0, 0.0, 100.0)
    A = math.pi * 25
    assert (plain.mass - left.mass) * 100 == pytest.approx(A * 8, rel=2e-3)
    assert (plain.first[1] - left.first[1]) * 100 == pytest.approx(A * 4 * (2 + 98), rel=2e-3)
    zz = A * 4 * (2**2 + 98**2) + 2 * A * 4**3 / 12
    assert (plain.second[1] - left.second[1]) * 100 == pytest.approx(zz, rel=2e-3)
    yy = 8 * (math.pi * 5**4 / 4 + A * 25**2)
    assert (plain.second[0] - left.second[0]) * 100 == pytest.approx(yy, rel=2e-3)
