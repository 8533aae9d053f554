"""Feeds and forces against outside figures.

Figures marked 6.x are worked values from a cutting-tool maker's catalogue forms (Kienzle table by VDI 3323
group, power, torque and removal-rate forms) and from the undeformed-chip geometry in El-Hofy, Fundamentals of
Machining Processes, p. 174; 6.4 and 6.8 are geometry and definition.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from sparwright.cutting.feeds import (
    Limits,
    compliance,
    cutting_power,
    engaged_angle,
    feed_for,
    mean_chip,
    power_at,
    specific_force,
    spindle_speed,
    surface_speed,
    thickest_chip,
    thinning,
    tooth_force,
)
from sparwright.job.models import Bed, Cutter, Material, Spindle

METAL = Material(
    name="test metal", modulus=69500, poisson=0.33, density=2700, proof_strength=160, tensile_strength=200,
    cutting_force=700, cutting_exponent=0.25, cutting_spread=0.2, source="test",
)  # fmt: skip
BED = Bed(
    name="test bed", reach=(800, 800, 90), throat=900, bridge_clearance=120, nose_height=120,
    bed_size=(900, 900), rapid=(6000, 6000, 2400), feed_limit=(4000, 4000, 1500),
    acceleration=(350, 350, 200),
    spindle=Spindle(power=1100, slowest=8000, fastest=24000, full_power_at=18000, efficiency=0.7),
)  # fmt: skip
SIX = Cutter(
    number=1, name="6", kind="flat", diameter=6, flutes=1, flute_length=20, stick_out=20, shank=6, chip=0.04
)


@pytest.mark.parametrize(
    ("kc11", "mc", "hm", "kc"),
    [(800, 0.25, 0.02, 2127.32), (800, 0.25, 0.01, 2529.82), (800, 0.25, 0.05, 1691.79), (1350, 0.21, 0.02, 3069.85)],
)  # fmt: skip
def test_specific_force_6_1(kc11, mc, hm, kc):
    assert specific_force(kc11, mc, hm) == pytest.approx(kc, rel=1e-4)


def test_chip_thickness_6_2():
    assert engaged_angle(6, 1.5) == pytest.approx(1.0472, rel=1e-4)
    assert thickest_chip(6, 1.5, 0.04) == pytest.approx(0.034641, rel=1e-4)
    assert mean_chip(6, 1.5, 0.04) == pytest.approx(0.0190986, rel=1e-4)
    assert mean_chip(6, 6, 1.0) == pytest.approx(2 / math.pi, rel=1e-4)
    phi = np.linspace(0, engaged_angle(6, 1.5), 20001)
    assert mean_chip(6, 1.5, 0.04) == pytest.approx(np.mean(0.04 * np.sin(phi)), rel=1e-4)


def test_force_and_power_6_3():
    hm = mean_chip(6, 1.5, 0.04)
    assert surface_speed(6, 18000) == pytest.approx(339.292, rel=1e-4)
    assert specific_force(700, 0.25, hm) == pytest.approx(1882.99, rel=1e-4)
    assert cutting_power(1080, specific_force(700, 0.25, hm)) == pytest.approx(33.8938, rel=1e-4)
    assert tooth_force(700, 0.25, 1.0, hm) == pytest.approx(35.9624, rel=1e-4)


@pytest.mark.parametrize(
    ("share", "factor"),
    [(0.02, 3.57143), (0.05, 2.29416), (0.1, 1.66667), (0.2, 1.25), (0.3, 1.09109), (0.5, 1.0), (1.0, 1.0)],
)
def test_thinning_6_4(share, factor):
    assert thinning(6, 6 * share) == pytest.approx(factor, rel=1e-3)


def test_deflection_6_5():
    assert 1 / compliance(SIX) == pytest.approx(4529, rel=1e-3)
    longer = SIX.model_copy(update={"stick_out": 25, "flute_length": 25})
    assert compliance(longer) / compliance(SIX) == pytest.approx(1.95312, rel=1e-4)
    thin = SIX.model_copy(update={"diameter": 3, "shank": 3})
    assert compliance(thin) / compliance(SIX) == pytest.approx(16, rel=1e-6)


def test_least_chip_6_6_warns():
    feed = feed_for(SIX, METAL, BED, 0.6, 1.0, Limits(force_N=1.0))
    assert feed.thickest < 0.0015
    assert "rubs" in feed.warnings[0]
    assert feed_for(SIX, METAL, BED, 0.6, 1.0, Limits(force_N=100)).warnings == ()


def test_speed_6_7_6_8():
    assert surface_speed(6, 24000) == pytest.approx(452.389, rel=1e-4)
    slow = SIX.model_copy(update={"surface_speed": 200})
    assert spindle_speed(slow, BED) == pytest.approx(10610.3, rel=1e-4)
    at18000 = SIX.model_copy(update={"surface_speed": surface_speed(6, 18000)})
    assert feed_for(at18000, METAL, BED, 3.0, 0.2, Limits(1e9)).feed == pytest.approx(720, rel=1e-6)


def test_power_falls_in_proportion_below_full_power():
    assert power_at(BED, 24000) == pytest.approx(770)
    assert power_at(BED, 18000) == pytest.approx(770)
    assert power_at(BED, 9000) == pytest.approx(385)


@pytest.mark.parametrize(
    ("limits", "bed", "word"),
    [
        (Limits(5.0), BED, "tooth's force"),
        (Limits(1e9, push_mm=0.002), BED, "giving way"),
        (Limits(1e9, deflection_mm=0.002), BED, "deflection"),
        (Limits(1e9, block_mm=0.05), BED, "block rate"),
        (Limits(1e9), BED.model_copy(update={"feed_limit": (400, 500, 300)}), "feed limit"),
        (Limits(1e9), BED.model_copy(update={"spindle": BED.spindle.model_copy(update={"power": 20})}), "power"),
    ],
)  # fmt: skip
def test_each_limit_binds_exactly(limits, bed, word):
    f = feed_for(SIX, METAL, bed, 1.5, 1.0, limits)
    assert word in f.limited_by
    assert f.force == pytest.approx(
        tooth_force(700 * 1.2, 0.25, 1.0, mean_chip(6, 1.5, f.chip)), rel=1e-9
    )  # the upper end of the material's spread
    reached = {
        "tooth's force": f.force / 15.0,
        "giving way": f.push / 0.002,
        "deflection": f.deflection / 0.002,
        "block rate": f.feed / (0.05 * 150 * 60),
        "feed limit": f.feed / 400,
        "power": f.power / f.available,
    }
    assert reached[word] == pytest.approx(1.0, rel=1e-9)


def test_mean_force_binds_in_a_slot():
    f = feed_for(SIX, METAL, BED, 6.0, 3.0, Limits(20.0))
    assert f.limited_by == "cutting force"
    assert f.steady == pytest.approx(20.0, rel=1e-9)
    assert f.steady == pytest.approx(f.force / 2, rel=1e-9)


def test_one_tooth_may_pulse_to_three_times_the_mean():
    """A thin radial cut: the mean over a turn is far below the tooth's own force, which then binds."""
    f = feed_for(SIX, METAL, BED, 0.3, 3.0, Limits(8.0))
    assert f.limited_by == "a tooth's force"
    assert f.force == pytest.approx(24.0, rel=1e-9)
    assert f.steady < 8.0


def test_energy_balance():
    """Mean force over a turn times surface speed is the power (6.3)."""
    f = feed_for(SIX, METAL, BED, 1.5, 1.0, Limits(1e9))
    assert f.steady * surface_speed(6, f.rpm) / 60 == pytest.approx(f.power, rel=1e-9)


def test_slow_surface_speed_is_told():
    weak = SIX.model_copy(update={"surface_speed": 50})
    f = feed_for(weak, METAL, BED, 1.5, 1.0, Limits(1e9))
    assert f.rpm == 8000
    assert "slowest" in f.warnings[0]


def test_no_depth_refused():
    with pytest.raises(ValueError, match="above zero"):
        feed_for(SIX, METAL, BED, 0.0, 1.0, replace(Limits(1.0)))
