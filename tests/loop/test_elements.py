"""Beam elements against closed forms: statics, energies, coupling, free vibration."""

import math

import numpy as np
import pytest

from sparwright.loop.elements import (
    TX,
    TZ,
    Beam,
    Stretch,
    U,
    V,
    W,
    build_beam,
    element,
    modes,
    natural,
    own_flexibility,
    own_strains,
)
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

MASS = 3e-6  # t/mm, 3 kg/m
EI = 9.772e10


def properties(**more) -> BeamProperties:
    given = {
        "method": "section",
        "mass_kg_per_m": MASS * 1e6,
        "EA": 1e12,
        "EIy": EI,
        "EIz": 4 * EI,
        "EIyz": 0.0,
        "GJ": 1e10,
        "GAy": 1e15,
        "GAz": 1e15,
        "centroid": (0.0, 0.0),
        "shear_centre": (0.0, 0.0),
    }
    return BeamProperties(**(given | more))


def uniform(length: float, p: BeamProperties, radius2=(1e-6, 1e-6), places=(), elements=40) -> Beam:
    inertia = Inertia(MASS, (0.0, 0.0), (MASS * radius2[0], MASS * radius2[1], 0.0))
    return build_beam([Stretch(0.0, length, p, inertia)], (0.0, 0.0), places, elements)


def held(beam: Beam, *unknowns: tuple[int, str]) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """K and M without the unknowns held; (node, letters of u v w x y z)."""
    drop = {6 * (node % len(beam.x)) + "uvwxyz".index(c) for node, letters in unknowns for c in letters}
    keep = [i for i in range(len(beam.K)) if i not in drop]
    return beam.K[np.ix_(keep, keep)], beam.M[np.ix_(keep, keep)], keep


def solved(beam: Beam, ends, loads: dict[int, float]) -> np.ndarray:
    K, _, keep = held(beam, *ends)
    f, d = np.zeros(len(beam.K)), np.zeros(len(beam.K))
    for i, force in loads.items():
        f[i] = force
    d[keep] = np.linalg.solve(K, f[keep])
    return d


def test_plane_element_is_the_textbook_one():
    # Przemieniecki, Theory of Matrix Structural Analysis, stiffness with shear deformation (from memory).
    p = properties(GAz=2e6)
    L = 70.0
    K, _ = element(own_flexibility(p), np.eye(6), L)
    phi = 12 * p.EIy / (p.GAz * L * L)
    k = p.EIy / ((1 + phi) * L**3)
    wanted = k * np.array(
        [
            [12, -6 * L, -12, -6 * L],
            [-6 * L, (4 + phi) * L * L, 6 * L, (2 - phi) * L * L],
            [-12, 6 * L, 12, 6 * L],
            [-6 * L, (2 - phi) * L * L, 6 * L, (4 + phi) * L * L],
        ]
    )  # unknowns w, ty; w falls as ty grows
    at = [2, 4, 8, 10]
    assert K[np.ix_(at, at)] == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize("elements", [1, 2, 7])
def test_timoshenko_cantilever_is_exact_with_any_number_of_elements(elements):
    # P L^3/3EI + P L/(kappa G A): 100 x 50 x 4 tube, kappa by 2-D finite elements; a worked case.
    p = properties(EIy=70000 * 1.396e6, GAz=0.6416 * 27000 * 1118.8)
    beam = uniform(300.0, p, elements=elements)
    d = solved(beam, [(0, "uvwxyz")], {beam.unknown(300.0, W): 50.0})
    assert d[beam.unknown(300.0, W)] == pytest.approx(0.00460499 + 0.000773946, rel=1e-5)


@pytest.mark.parametrize(
    ("ends", "wanted"),
    [
        ([(0, "uvwx"), (-1, "vw")], 0.000287812),
        ([(0, "uvwxyz"), (-1, "vwyz")], 7.1953e-05),
        ([(0, "uvwxyz"), (-1, "vw")], 0.000125918),
    ],
    ids=["simply supported", "clamped", "clamped and pinned"],
)
def test_centre_load_as_the_beam_tables_say(ends, wanted):
    # P L^3/48EI, P L^3/192EI, 7 P L^3/768EI with P 50 N, L 300, EI 70000 x 1.396e6 (beam tables, from memory).
    beam = uniform(300.0, properties(EIy=70000 * 1.396e6), places=(150.0,), elements=2)
    d = solved(beam, ends, {beam.unknown(150.0, W): 50.0})
    assert d[beam.unknown(150.0, W)] == pytest.approx(wanted, rel=1e-4)


def test_a_turned_section_bends_as_its_principal_axes_do():
    # The same section seen in axes turned by 25 degrees: EIy, EIz, EIyz turn as a tensor, the deflection as a vector.
    straight = properties()
    c, s = math.cos(math.radians(25)), math.sin(math.radians(25))
    tensor = np.array([[straight.EIz, 0.0], [0.0, straight.EIy]])  # E int (yy, zz)
    turn = np.array([[c, s], [-s, c]])
    t = turn @ tensor @ turn.T
    turned = properties(EIy=t[1, 1], EIz=t[0, 0], EIyz=t[0, 1])
    force = np.array([3.0, 5.0])
    tips = []
    for p, load in ((straight, force), (turned, turn @ force)):
        beam = uniform(900.0, p)
        y, z = beam.unknown(900.0, V), beam.unknown(900.0, W)
        d = solved(beam, [(0, "uvwxyz")], {y: load[0], z: load[1]})
        tips.append(d[[y, z]])
    assert tips[1] == pytest.approx(turn @ tips[0], rel=1e-6)
    assert tips[0] == pytest.approx(force * 900.0**3 / 3 / np.array([straight.EIz, straight.EIy]), rel=1e-4)


def test_a_load_beside_the_shear_centre_twists():
    # Force F on the axis, shear centre e off it: twist F e L / GJ, and none where the force passes through it.
    e, L, F = 12.0, 800.0, 20.0
    p = properties(shear_centre=(e, 0.0))
    beam = uniform(L, p)
    d = solved(beam, [(0, "uvwxyz")], {beam.unknown(L, W): F})
    assert d[beam.unknown(L, TX)] == pytest.approx(-F * e * L / p.GJ, rel=1e-6)
    through = solved(beam, [(0, "uvwxyz")], {beam.unknown(L, W): F, beam.unknown(L, TX): F * e})
    assert through[beam.unknown(L, TX)] == pytest.approx(0.0, abs=1e-12)


def test_a_pull_off_the_centroid_bends():
    # Axis force N at e from the centroid: slope at the tip N e L / EI, mean stretch N / EA.
    e, L, N = 9.0, 700.0, 1000.0
    p = properties(centroid=(0.0, e), EA=7e7)
    beam = uniform(L, p)
    d = solved(beam, [(0, "uvwxyz")], {beam.unknown(L, U): N})
    assert d[beam.unknown(L, W)] == pytest.approx(N * e * L**2 / (2 * p.EIy), rel=1e-6)
    assert d[beam.unknown(L, U)] == pytest.approx(N * L / p.EA + N * e * e * L / p.EIy, rel=1e-6)


# Thomson, Theory of Vibration with Applications, Table 9.5-1 and App. D: (bL)^2 of uniform slender beams.
@pytest.mark.parametrize(
    ("ends", "rigid", "wanted"),
    [
        ([(0, "uvwxyz")], 0, (3.51602, 22.0345, 61.6972)),
        ([(0, "uvwxyz"), (-1, "uvwxyz")], 0, (22.3733, 61.6728, 120.903)),
        ([(0, "uvwxyz"), (-1, "vwx")], 0, (15.4182, 49.9649, 104.248)),
        ([(0, "uvwx"), (-1, "vwx")], 0, (9.8696, 39.4784, 88.8264)),
        ([], 6, (22.3733, 61.6728, 120.903)),
    ],
    ids=["clamped-free", "clamped", "clamped-hinged", "simply supported", "free"],
)
def test_frequencies_of_slender_beams(ends, rigid, wanted):
    L = 5000.0
    beam = uniform(L, properties(), radius2=(1.0, 1.0))
    K, M, keep = held(beam, *ends)
    weak = []
    for frequency, shape in zip(*_transposed(natural(K, M, 8, rigid)), strict=True):
        full = np.zeros(len(beam.K))
        full[keep] = shape
        if np.abs(full[W::6]).max() > 10 * np.abs(full[V::6]).max():
            weak.append(frequency)
    weak = weak[:3]
    scale = 2 * math.pi * math.sqrt(MASS * L**4 / EI)
    assert np.array(weak) * scale == pytest.approx(wanted[: len(weak)], rel=1e-4)
    assert len(weak) == 3


def _transposed(found) -> tuple[np.ndarray, np.ndarray]:
    return found[0], found[1].T


def test_simply_supported_with_shear_and_rotary_inertia():
    # Timoshenko's equation with w ~ sin(kx): rI rA/kGA o^4 - (rA + (rI + EI rA/kGA) k^2) o^2 + EI k^4 = 0.
    L, r2, GA = 600.0, 1500.0, 3e6
    p = properties(GAz=GA)
    beam = uniform(L, p, radius2=(1e-6, r2))
    K, M, _ = held(beam, (0, "uvxz"), (-1, "vxz"), (0, "w"), (-1, "w"))
    k = math.pi / L
    a, b, c = MASS * r2 * MASS / GA, MASS + (MASS * r2 + EI * MASS / GA) * k**2, EI * k**4
    wanted = math.sqrt((b - math.sqrt(b * b - 4 * a * c)) / (2 * a)) / (2 * math.pi)
    euler = math.sqrt(EI * k**4 / MASS) / (2 * math.pi)
    found = natural(K, M, 3)[0]
    assert found[np.argmin(np.abs(found - wanted))] == pytest.approx(wanted, rel=2e-4)
    assert wanted < 0.93 * euler


def test_cantilever_with_a_tip_mass():
    # 1 + cosh x cos x + (M/m) x (cos x sinh x - sin x cosh x) = 0: x = 1.24792 for M = m, 1.6164 for M = 0.2 m.
    L = 1000.0
    for ratio, x in ((1.0, 1.24792), (0.2, 1.6164)):
        beam = uniform(L, properties())
        at = beam.unknown(L, W)
        beam.M[at, at] += ratio * MASS * L
        K, M, _ = held(beam, (0, "uvwxyz"))
        wanted = x**2 * math.sqrt(EI / (MASS * L**4)) / (2 * math.pi)
        assert natural(K, M, 1)[0][0] == pytest.approx(wanted, rel=1e-4)
        one_term = math.sqrt(3 * EI / (L**3 * MASS * L * (ratio + 33 / 140))) / (2 * math.pi)
        assert one_term == pytest.approx(wanted, rel=0.015)  # Rayleigh's short form


@pytest.mark.parametrize(("kbar", "root"), [(1, 1.40253), (10, 4.13041), (100, 8.2757), (1e6, 9.86941)])
def test_beam_on_two_end_springs(kbar, root):
    # Symmetric mode, k = kbar EI / L^3 (own derivation, checked by a second method); k large tends to pi^2.
    L = 1000.0
    beam = uniform(L, properties())
    for x in (0.0, L):
        i = beam.unknown(x, W)
        beam.K[i, i] += kbar * EI / L**3
    K, M, _ = held(beam, (0, "uvxz"), (-1, "vx"))
    assert natural(K, M, 1)[0][0] * 2 * math.pi == pytest.approx(
        root * math.sqrt(EI / (MASS * L**4)), rel=1e-4
    )


def test_shaft_and_torsion_pendulum():
    # f1 = sqrt(GJ/(rho Ip))/4L, 1606.12 Hz for a steel rod d 6, L 500, G 81000; with a disc 0.002 kg m2: 16.1572 Hz.
    d, L = 6.0, 500.0
    area, ip = math.pi * d * d / 4, math.pi * d**4 / 32
    p = properties(GJ=81000 * ip, EIy=1e14, EIz=1e14)  # stiff in bending, so that twist comes first
    rod = Stretch(0.0, L, p, Inertia(7.85e-9 * area, (0, 0), (7.85e-9 * ip / 2, 7.85e-9 * ip / 2, 0)))
    beam = build_beam([rod], (0.0, 0.0), elements=80)
    K, M, _ = held(beam, (0, "uvwxyz"))
    assert natural(K, M, 1)[0][0] == pytest.approx(1606.12, rel=1e-4)
    beam.M[beam.unknown(L, TX), beam.unknown(L, TX)] += 2.0  # 0.002 kg m2 = 2 t mm2
    K, M, _ = held(beam, (0, "uvwxyz"))
    assert natural(K, M, 1)[0][0] == pytest.approx(16.1572, rel=2e-4)


def test_bending_couples_with_twist_where_the_centre_of_mass_is_off_the_shear_centre():
    # Ends in forks, all parts ~ sin(kx): (K - o^2 M) of [w, tx] about the shear centre is two by two
    # (slender, no warping; own derivation).
    L, e, r2 = 2000.0, 15.0, 900.0
    p = properties(shear_centre=(-e, 0.0), GJ=2e9, EIz=1e14)
    inertia = Inertia(MASS, (0.0, 0.0), (MASS * r2, MASS * 1e-6, 0.0))
    beam = build_beam([Stretch(0.0, L, p, inertia)], (0.0, 0.0))
    k = math.pi / L
    K2 = np.diag([EI * k**4, p.GJ * k**2])
    M2 = MASS * np.array([[1, e], [e, r2 + e * e]])
    wanted = np.sqrt(np.sort(np.linalg.eigvals(np.linalg.solve(M2, K2)).real)) / (2 * math.pi)
    K, M, _ = held(beam, (0, "uvwx"), (-1, "vwx"))
    found = natural(K, M, 12)[0]
    for f in wanted:
        assert np.abs(found / f - 1).min() < 3e-4, (f, found)


def test_two_stretches_of_one_section_are_one_beam():
    p, inertia = properties(GAz=2e6), Inertia(MASS, (0, 0), (MASS * 900, MASS * 400, 0))
    whole = build_beam([Stretch(0, 1000, p, inertia)], (0.0, 0.0), (317.0,), 20)
    parts = build_beam([Stretch(0, 317, p, inertia), Stretch(317, 1000, p, inertia)], (0.0, 0.0), (), 20)
    assert parts.x == pytest.approx(whole.x)
    assert pytest.approx(whole.K) == parts.K
    assert pytest.approx(whole.M) == parts.M


def test_the_axis_a_beam_is_written_on_changes_nothing():
    # The same section about an axis 30, -20 mm away: free frequencies stay.
    p = properties(centroid=(5.0, 8.0), shear_centre=(2.0, -4.0), EA=7e7, EIyz=2e10, GAy=3e6, GAz=2e6)
    inertia = Inertia(MASS, (5 * MASS, 8 * MASS), (MASS * 925, MASS * 464, MASS * 40))
    found = [
        [m.frequency for m in modes(beam.K, beam.M, 6, rigid=6)]
        for axis in ((5.0, 8.0), (30.0, -20.0))
        for beam in [build_beam([Stretch(0, 900, p, inertia)], axis)]
    ]
    assert found[1] == pytest.approx(found[0], rel=1e-5)


def test_rigid_motion_strains_nothing_and_weighs_what_the_beam_weighs():
    p = properties(centroid=(5.0, 8.0), shear_centre=(2.0, -4.0))
    beam = uniform(900.0, p)
    n = len(beam.x)
    turn = np.zeros((n, 6))
    turn[:, TZ], turn[:, V] = 1e-3, 1e-3 * beam.x
    assert np.abs(beam.K @ turn.ravel()).max() < 1e-6 * np.abs(beam.K).max()
    lift = np.zeros((n, 6))
    lift[:, W] = 1.0
    assert lift.ravel() @ beam.M @ lift.ravel() == pytest.approx(MASS * 900.0)
    assert own_strains(properties(), (0.0, 0.0)) == pytest.approx(np.eye(6))
