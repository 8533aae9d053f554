"""The member on its carriages, against closed forms and on the bridge beam."""

import math
from dataclasses import replace

import pytest

from sparwright.answers import BadInput, Verdict
from sparwright.job.models import Served, Wishes
from sparwright.loop.beam import NOTE, beam_state, serve
from sparwright.loop.elements import Stretch
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

MASS = 3e-6  # t/mm
L = 1000.0


def beam(**more) -> BeamProperties:
    given = {
        "method": "section",
        "mass_kg_per_m": MASS * 1e6,
        "EA": 7e7,
        "EIy": 9.772e10,
        "EIz": 4e10,
        "EIyz": 0.0,
        "GJ": 1e10,
        "GAy": 1e6,
        "GAz": 2e6,
        "centroid": (0.0, 0.0),
        "shear_centre": (0.0, 0.0),
    }
    return BeamProperties(**(given | more))


def stretch(p: BeamProperties, start: float = 0.0, end: float = L, r2: float = 700.0) -> Stretch:
    return Stretch(start, end, p, Inertia(MASS, (0.0, 0.0), (MASS * r2, MASS * r2, 0.0)))


def served(**more) -> Served:
    given = {
        "name": "m",
        "supports": (0, L),
        "support_stiffness": 500.0,
        "tool_mass": 0.0,
        "force": 30.0,
        "tool_offset": 40.0,
    }
    return Served.model_validate(given | more)


@pytest.mark.parametrize("direction", ["y", "z"])
def test_tip_deflection_is_bending_shear_carriages_and_twist(direction):
    # P L^3/48EI + P L/4GA + P/2k + P e^2 (L/4GJ + 1/2kt): beam tables, springs in parallel, two shafts in parallel.
    p = beam()
    EI, GA = (p.EIz, p.GAy) if direction == "y" else (p.EIy, p.GAz)
    state = beam_state([stretch(p)], (0.0, 0.0), served(force_direction=direction))
    parts = {
        "bending": 30 * L**3 / (48 * EI),
        "shear": 30 * L / (4 * GA),
        "twist": 30 * 40**2 * L / (4 * p.GJ),
        "carriages": 30 / (2 * 500.0) + 30 * 40**2 / (2 * 2e7),
    }
    assert state.tip_mm == pytest.approx(sum(parts.values()), rel=1e-6)
    assert state.shares == pytest.approx({k: v / sum(parts.values()) for k, v in parts.items()}, rel=1e-6)
    assert sum(state.shares.values()) == pytest.approx(1.0)


def test_static_centre_of_a_beam_on_end_springs():
    # kbar = k L^3/EI = 100: P L^3/48EI + P/2k = 0.0258333 P L^3/EI.
    p = beam(GAz=1e15)
    s = served(support_stiffness=100 * p.EIy / L**3, tool_offset=0)
    state = beam_state([stretch(p)], (0.0, 0.0), s)
    assert state.tip_mm == pytest.approx(0.0258333 * 30 * L**3 / p.EIy, rel=1e-4)


def test_carriages_moved_in_shorten_the_span():
    state = beam_state([stretch(beam(GAz=1e15))], (0.0, 0.0), served(supports=(200, 800), tool_offset=0))
    assert state.tip_mm == pytest.approx(30 * 600**3 / (48 * 9.772e10) + 30 / 1000, rel=1e-6)


def test_a_softer_middle_by_hand():
    # Simply supported, EI1 for a at each end, EI2 between: P/48 [ (L^3 - (L - 2a)... ] by integrating M^2/EI:
    # delta = P/2 * 2 * [ int_0^a x^2/(2 EI1) + int_a^(L/2) x^2/(2 EI2) ] dx = P/6 [a^3/EI1 + (L^3/8 - a^3)/EI2].
    a, plain, soft = 150.0, beam(GAz=1e15), beam(GAz=1e15, EIy=4e10)
    parts = [stretch(plain, 0, a), stretch(soft, a, L - a), stretch(plain, L - a, L)]
    state = beam_state(parts, (0.0, 0.0), served(tool_offset=0))
    wanted = 30 / 6 * (a**3 / plain.EIy + (L**3 / 8 - a**3) / soft.EIy) + 30 / 1000
    assert state.tip_mm == pytest.approx(wanted, rel=1e-6)


def test_first_frequencies_on_stiff_carriages():
    # Simply supported, pi^2 sqrt(EI/mL^4); both ends held against twist, sqrt(GJ/(rho Ip))/2L. Slender enough for both.
    p = beam(GAy=1e15, GAz=1e15)
    s = served(support_stiffness=1e9, support_twist_stiffness=1e14)
    state = beam_state([stretch(p, r2=700.0)], (0.0, 0.0), s)
    for EI, f in ((p.EIz, state.bend_y_Hz), (p.EIy, state.bend_z_Hz)):
        euler = math.pi / 2 * math.sqrt(EI / (MASS * L**4))
        rotary = math.sqrt(
            1 + math.pi**2 * 700 / L**2
        )  # rotary inertia of a sine, the rest of Timoshenko's equation
        assert f == pytest.approx(euler / rotary, rel=1e-3)
    assert state.twist_Hz == pytest.approx(math.sqrt(p.GJ / (MASS * 1400)) / (2 * L), rel=1e-3)


def test_a_heavy_tool_swings_on_the_beam_s_own_stiffness():
    # Mass much above the beam's: f = sqrt(k/m)/2pi with k = 48EI/L^3 (plus 17/35 of the beam's mass, Rayleigh).
    p, M = beam(GAz=1e15), 60.0
    s = served(support_stiffness=1e9, tool_mass=M, tool_offset=0)
    m = M * 1e-3 + 17 / 35 * MASS * L
    wanted = math.sqrt(48 * p.EIy / L**3 / m) / (2 * math.pi)
    assert beam_state([stretch(p)], (0.0, 0.0), s).bend_z_Hz == pytest.approx(wanted, rel=2e-3)


def test_a_shear_centre_off_the_axis_adds_twist_of_its_own():
    # The force passes e - e_s beside the shear centre; a patterned face moves the shear centre.
    p = beam(shear_centre=(-30.0, 0.0), GAz=1e15)
    flat = served(tool_offset=0, support_twist_stiffness=1e14)
    state = beam_state([stretch(p)], (0.0, 0.0), flat)
    assert state.shares["twist"] * state.tip_mm == pytest.approx(30 * 30**2 * L / (4 * p.GJ), rel=1e-3)
    assert state.shares["bending"] * state.tip_mm == pytest.approx(30 * L**3 / (48 * p.EIy), rel=1e-3)


@pytest.fixture
def result(bridge_member, bridge_job):
    intact = beam(centroid=(25.0, 50.0), shear_centre=(25.0, 50.0), mass_kg_per_m=3.02)
    reworked = replace(intact, EIy=6e10, GJ=5e9, mass_kg_per_m=2.3, spread={"EIy": 0.01, "GJ": 0.02})
    return serve(bridge_member, intact, reworked, bridge_job.served)


def test_reworked_is_softer_and_the_spread_says_how_sure(result):
    before, after = result.before, result.after
    assert after.tip_mm > before.tip_mm
    assert after.twist_Hz < before.twist_Hz
    assert set(after.spread) == {"tip", "bend_y", "bend_z", "twist"}
    assert 0 < after.spread["tip"] < 0.35 * after.shares["carriages"] * after.tip_mm + 0.02 * after.tip_mm
    for state in (before, after):
        assert sum(state.shares.values()) == pytest.approx(1.0)
        assert state.spread["bend_z"] < state.bend_z_Hz


def test_wishes_are_judged_and_what_is_not_wished_is_reported(result):
    tip, first = result.findings(Wishes())
    assert (tip.verdict, first.verdict) == (Verdict.GO, Verdict.GO)
    assert tip.limit is None
    assert NOTE in tip.why
    assert first.value == min(result.after.frequencies.values())
    tight = Wishes(tip_deflection=result.after.tip_mm * 0.9, first_frequency=first.value - first.spread / 2)
    tip, first = result.findings(tight)
    assert tip.verdict is Verdict.NO_GO
    assert tip.margin == pytest.approx(-0.1 * result.after.tip_mm)
    assert "keep more metal" in tip.why
    assert first.verdict is Verdict.CAUTION
    assert first.margin == pytest.approx(first.spread / 2)


def test_a_carriage_beyond_the_member_is_refused(bridge_member):
    with pytest.raises(
        BadInput, match=r"x = 1300 mm stands beyond the member.*Allowed: supports from 0 to 1180"
    ):
        serve(bridge_member, beam(), beam(), served(supports=(0, 1300)))
