"""Weigh-in and tap tone against closed forms."""

import math
from dataclasses import replace

import pytest

from sparwright.measure import weigh
from sparwright.measure.expect import expect
from sparwright.measure.taptone import tap_tone
from sparwright.stiffness.model import BeamProperties

SLENDER = BeamProperties("section", 3.0, 1e15, 9e10, 5e10, 0.0, 1e10, 1e15, 1e15, (0, 0), (0, 0))


def test_a_uniform_bar_rings_as_the_tables_say_and_rests_at_its_nodes():
    # Thomson, Theory of Vibration with Applications, Table 9.5-1: free-free (bL)^2 = 22.3733; nodes at 0.2242 L (from memory).
    tone = tap_tone(1000.0, SLENDER, None, [], 0.02)
    assert 2 * math.pi * tone.moving_in_z_Hz == pytest.approx(
        22.3733 * math.sqrt(9e10 / (3e-6 * 1e12)), rel=1e-4
    )
    assert tone.moving_in_z_Hz / tone.moving_in_y_Hz == pytest.approx(math.sqrt(9 / 5), rel=1e-4)
    assert tone.nodes_z == pytest.approx((224.2, 775.8), abs=0.3)


def test_free_free_twist_is_half_a_wave():
    p = replace(SLENDER, EA=7e7)
    polar = 3e-6 * (9e10 + 5e10) / 7e7
    assert tap_tone(1000.0, p, None, [], 0.02).twist_Hz == pytest.approx(
        math.sqrt(1e10 / polar) / 2000.0, rel=1e-4
    )


def test_a_known_depth_error_is_found_again(bridge_job, bridge_member):
    planned = weigh.mass_out_kg(bridge_member)
    stock = weigh.blank_mass_kg(bridge_member)
    extra = weigh.pocket_floor_area(bridge_member) * 0.1 * 2700e-9
    result = weigh.weigh_job(bridge_member, bridge_job, stock, stock - planned - extra, 0.001)
    assert result.floor_mm == pytest.approx(0.1, rel=1e-6)
    assert [f.verdict.value for f in result.findings()][2] == "caution"
    good = weigh.weigh_job(bridge_member, bridge_job, stock, stock - planned, 0.001)
    assert {f.verdict.value for f in good.findings()} == {"go"}


def test_a_thin_walled_piece_of_stock_is_noticed(bridge_job, bridge_member):
    stock = weigh.blank_mass_kg(bridge_member)
    result = weigh.weigh_job(
        bridge_member, bridge_job, stock * 0.8, stock * 0.8 - weigh.mass_out_kg(bridge_member), 0.001
    )
    first = result.findings()[0]
    assert first.verdict.value == "caution"
    assert "measured_wall" in first.why


def test_nothing_is_claimed_as_measured(bridge_job, bridge_member):
    found = expect(bridge_member, bridge_job, SLENDER, SLENDER, (3.0, 0.5))
    assert {f.verdict.value for f in found} == {"go"}
    assert all(f.why.startswith("Not measured yet.") and f.spread for f in found)
