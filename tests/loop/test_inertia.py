"""Mass of sections and pocketed sections against closed forms, and against the member's own solids."""

import math

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from sparwright.loop.inertia import area_moments, plain_inertia, worked_inertia
from sparwright.loop.stretches import plain_stretches, worked_spans, worked_stretches
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
