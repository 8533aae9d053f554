"""The beam elements and the member on its carriages, against closed forms."""

import math

import numpy as np
import pytest

from sparwright.job.models import Served, Wishes
from sparwright.loop.beam import _state
from sparwright.loop.elements import bending_energies, bending_matrices, chain, frequencies, twist_matrices
from sparwright.stiffness.model import BeamProperties


def beam(EI=9.772e10, GA=1e15, GJ=1e10, mass=3.0, EA=7e7) -> BeamProperties:
    return BeamProperties("section", mass, EA, EI, EI, 0.0, GJ, GA, GA, (0, 0), (0, 0))


def fixed(K, M, drop):
    keep = [i for i in range(len(K)) if i not in drop]
    return K[np.ix_(keep, keep)], M[np.ix_(keep, keep)]


# Thomson, Theory of Vibration with Applications, Table 9.5-1 and App. D: (bL)^2 of uniform slender beams.
@pytest.mark.parametrize(
    ("drop", "rigid", "wanted"),
    [
        ("clamped-free", 0, (3.51602, 22.0345, 61.6972)),
        ("clamped-clamped", 0, (22.3733, 61.6728, 120.903)),
        ("clamped-hinged", 0, (15.4182, 49.9649, 104.248)),
        ("simply supported", 0, (9.8696, 39.4784, 88.8264)),
        ("free-free", 2, (22.3733, 61.6728, 120.903)),
    ],
)
def test_uniform_beam_frequencies(drop, rigid, wanted):
    L, p = 5000.0, beam(EA=1e15)  # so slender that rotary inertia and shear vanish
    c = chain(L, p)
    K, M = bending_matrices(c)
    last = 2 * (len(c.x) - 1)
    held = {
        "clamped-free": [0, 1],
        "clamped-clamped": [0, 1, last, last + 1],
        "clamped-hinged": [0, 1, last],
        "simply supported": [0, last],
        "free-free": [],
    }[drop]
    f, _ = frequencies(*fixed(K, M, held), 3, rigid)
    got = 2 * math.pi * f * math.sqrt(3e-6 * L**4 / p.EIy)
    assert got == pytest.approx(wanted, rel=1e-4)


def test_timoshenko_cantilever():
    # P L^3/3EI + P L/(kappa G A) with the tube and figures of a worked case: bending 0.00460499, shear 0.000773946 mm.
    p = beam(EI=70000 * 1.396e6, GA=0.6416 * 27000 * 1118.8)
    c = chain(300.0, p)
    K, _ = bending_matrices(c)
    f = np.zeros(len(K))
    f[-2] = 50.0
    u = np.zeros(len(K))
    u[2:] = np.linalg.solve(K[2:, 2:], f[2:])
    assert u[-2] == pytest.approx(0.00460499 + 0.000773946, rel=1e-4)
    bending, shear = bending_energies(c, u)
    assert shear / (bending + shear) == pytest.approx(0.143884, rel=1e-4)


def test_cantilever_with_a_tip_mass():
    # 1 + cosh x cos x + (M/m) x (cos x sinh x - sin x cosh x) = 0 has x = 1.24792 for M = m (own roots).
    p = beam(EA=1e15)
    L = 1000.0
    c = chain(L, p)
    K, M = bending_matrices(c)
    M[-2, -2] += 3e-6 * L
    f, _ = frequencies(*fixed(K, M, [0, 1]), 1)
    assert 2 * math.pi * f[0] == pytest.approx(1.24792**2 * math.sqrt(p.EIy / (3e-6 * L**4)), rel=1e-4)


@pytest.mark.parametrize(("kbar", "root"), [(1, 1.40253), (10, 4.13041), (100, 8.2757)])
def test_beam_on_two_end_springs(kbar, root):
    # Symmetric mode of a uniform beam on end springs, k = kbar EI / L^3 (own derivation, checked by a second method).
    p, L = beam(EA=1e15), 1000.0
    c = chain(L, p)
    K, M = bending_matrices(c)
    for i in (0, len(K) - 2):
        K[i, i] += kbar * p.EIy / L**3
    f, _ = frequencies(K, M, 1)
    assert 2 * math.pi * f[0] == pytest.approx(root * math.sqrt(p.EIy / (3e-6 * L**4)), rel=1e-3)


def test_twist_of_a_clamped_free_shaft():
    # f1 = (1/4L) sqrt(GJ / (rho Ip)); steel rod d 6, L 500: 1606.12 Hz.
    d = 6.0
    ip = math.pi * d**4 / 32
    mass = 7850e-12 * math.pi * d * d / 4  # t/mm
    EA = 210000 * math.pi * d * d / 4
    EI = 210000 * ip / 2
    p = BeamProperties("section", mass * 1e6, EA, EI, EI, 0, 81000 * ip, 1e9, 1e9, (0, 0), (0, 0))
    K, M = twist_matrices(chain(500.0, p))
    f, _ = frequencies(K[1:, 1:], M[1:, 1:], 1)
    assert f[0] == pytest.approx(1606.12, rel=1e-3)


def served(**more) -> Served:
    given = {
        "name": "m",
        "supports": (0, 1000),
        "support_stiffness": 500.0,
        "tool_mass": 0.0,
        "force": 30.0,
        "tool_offset": 40.0,
    }
    return Served.model_validate(given | more)


def test_tip_deflection_is_beam_plus_springs_plus_twist():
    p = beam(GA=2e6)
    s = _state(1000.0, p, None, [], served(), 1.0)
    flex = 30 * 1000**3 / (48 * p.EIy) + 30 * 1000 / (4 * p.GAz)
    twist = 30 * 40 * (1000 / (4 * p.GJ) + 1 / (2 * 2e7)) * 40
    assert s.tip_mm == pytest.approx(flex + 30 / (2 * 500.0) + twist, rel=1e-6)
    assert sum(s.shares.values()) == pytest.approx(1.0)
    assert s.shares["carriages"] == pytest.approx((30 / 1000 + 30 * 40 * 40 / 4e7) / s.tip_mm, rel=1e-6)


def test_the_spread_covers_the_softer_carriage(bridge_member):
    from sparwright.loop.beam import serve

    p = beam()
    result = serve(bridge_member, p, beam(EI=6e10, GJ=5e9), served(support_spread=0.3))
    assert result.after.tip_mm > result.before.tip_mm
    assert result.after.twist_Hz < result.before.twist_Hz
    tip, first = result.findings(Wishes(tip_deflection=result.after.tip_mm * 0.9, first_frequency=1.0))
    assert tip.verdict.value == "no-go"
    assert tip.margin is not None
    assert tip.margin < 0
    assert first.verdict.value == "go"
