"""Loads met along a program against geometry worked out by hand, and tiles that change nothing."""

import math
from dataclasses import replace

import numpy as np
import pytest

from sparwright.program.reader import read_program
from sparwright.proof import tiles
from sparwright.proof.case import case_of
from sparwright.proof.loads import loads_of
from sparwright.proof.prove import start_of
from sparwright.proof.scene import side_scene
from sparwright.proof.simulate import simulate

RADIUS, FEED, RPM = 2.0, 540.0, 18_000.0  # the sample's T1, one flute
FZ = FEED / RPM
KC, MC = 700 * 1.2, 0.25
DIRECTIONS = np.linspace(-math.pi / 2, math.pi / 2, 200_001)


def read_all(programs, scene, job):
    return [read_program(text, start=start_of(scene, job)) for _, text in programs]


def met_by(maker, passes, cell=0.1):
    """Case, simulation and loads of straight passes (x, s) to (x, s) at depth n on the sample's top face."""
    w = maker.Writer(1, FEED)
    for (x0, s0), (x1, s1), n in passes:
        w.rapid(x0, s0)
        w.rapid_z(2)
        w.plunge(n, 400)
        w.line(x1, s1)
        w.rapid_z(20)
    programs = [("passes.nc", w.text())]
    member, setup, job = maker.member(), maker.setup(), maker.job()
    scene = side_scene(member, setup, job, cell)
    case = case_of(programs, read_all(programs, scene, job), scene, job)
    cut = simulate(case)
    return case, cut, loads_of(case, cut)


def side_moves(case):
    return np.flatnonzero((case.moves.feed > 0) & ~case.moves.rapid & (np.ptp(
        np.stack([case.moves.start[:, 0], case.moves.end[:, 0]]), axis=0) > 1))  # fmt: skip


def mean_power_of_cosine(low, high):
    """Mean of cos^(1 - mc) over the directions from low to high, and their span, radians."""
    inside = (low <= DIRECTIONS) & (high >= DIRECTIONS)
    return float((np.cos(DIRECTIONS[inside]) ** (1 - MC)).mean()), high - low


def test_full_slot(maker):
    """A slot 4 wide and 1 deep in solid metal: half the rim engaged, the chip whole, the area 4 mm2."""
    case, cut, loads = met_by(maker, [((10, 0), (60, 0), -1.0)])
    k = side_moves(case)[-1]
    assert loads.engaged[k] == pytest.approx(math.pi, abs=0.06)
    assert loads.width[k] == pytest.approx(4.0, rel=0.01)
    assert loads.depth[k] == pytest.approx(1.0, abs=1e-6)
    assert loads.chip[k] == pytest.approx(FZ, rel=0.01)
    edge = KC * FZ ** (1 - MC)
    mean, span = mean_power_of_cosine(-math.pi / 2, math.pi / 2)
    assert loads.tooth[k] == pytest.approx(edge, rel=0.01)
    assert loads.force[k] == pytest.approx(edge * mean, rel=0.02)
    assert loads.steady[k] == pytest.approx(edge * mean * span / (2 * math.pi), rel=0.02)
    assert loads.rate[k] == pytest.approx(4.0 * FEED, rel=0.01)
    # power is force times speed, no less than rate times specific force at the whole feed per tooth
    speed = 2 * math.pi * RADIUS * RPM / 60_000
    assert loads.power[k] == pytest.approx(loads.steady[k] * speed, rel=1e-6)
    assert loads.power[k] >= 4.0 * FEED * KC * FZ**-MC / 60_000
    # the slot's volume: 50 mm and two half discs less the first one, which the plunge took
    assert loads.volume[k] == pytest.approx(4.0 * 50.0, rel=0.002)
    assert loads.volume.sum() == pytest.approx(200 + 4 * math.pi, rel=0.003)
    assert cut.removed_mm3 == pytest.approx(loads.volume.sum(), rel=1e-6)
    peak = loads.peak(case, "chip")
    assert (peak.program, peak.line) == case.line_of(k)
    assert peak.at[1] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize("width", [0.4, 0.8, 1.5, 2.0, 3.0])
@pytest.mark.parametrize("left", [True, False])
def test_side_cut(maker, width, left):
    """A second pass `width` beside a slot: the engaged angle is acos(1 - width / R), the radial depth the width."""
    step = -width if left else width  # metal left of the travel, or right of it
    case, _, loads = met_by(maker, [((10, 0), (60, 0), -1.0), ((20, -step), (50, -step), -1.0)])
    k = side_moves(case)[-1]
    angle = math.acos(1 - width / RADIUS)
    assert loads.engaged[k] == pytest.approx(angle, abs=math.radians(6))
    assert loads.width[k] == pytest.approx(width, abs=0.12)
    chip = math.sin(min(angle, math.pi / 2))
    assert loads.chip[k] == pytest.approx(FZ * chip, abs=0.12 * FZ)
    mean, span = mean_power_of_cosine(math.pi / 2 - angle, math.pi / 2)
    steady = KC * FZ ** (1 - MC) * mean * span / (2 * math.pi)
    assert loads.steady[k] == pytest.approx(steady, rel=0.12, abs=1.0)
    assert (loads.lean[k] > 0) == left
    mean_width = loads.volume[k] / 30.0
    assert mean_width == pytest.approx(width, abs=0.01)  # by volume, over the whole pass


def test_hollow_section_counts_its_wall_alone(maker):
    """Cut 6 mm deep into a wall of 3: metal is met 3 deep, and only the wall is counted."""
    case, _, loads = met_by(maker, [((10, 0), (60, 0), -6.0)])
    k = side_moves(case)[-1]
    assert loads.depth[k] == pytest.approx(3.0, abs=1e-5)
    assert loads.volume.sum() == pytest.approx(3 * (200 + 4 * math.pi), rel=0.003)


def test_plunge_takes_its_disc(maker):
    _, _, loads = met_by(maker, [((30, 0), (30, 0), -1.5)])
    k = int(loads.volume.argmax())
    assert loads.volume[k] == pytest.approx(math.pi * 4 * 1.5, rel=0.01)  # cells of 0.1 mm
    assert loads.engaged[k] == pytest.approx(2 * math.pi, rel=1e-6)
    assert loads.chip[k] == pytest.approx(400 / RPM)
    assert loads.rate[k] == pytest.approx(math.pi * 4 * 400)
    assert loads.power[k] == pytest.approx(math.pi * 4 * 400 * KC * (400 / RPM) ** -MC / 60_000)


def test_a_pointed_cutter_that_goes_down_takes_its_cone_and_no_disc(maker):
    """A 90 degree V with a tip of 0.1, 0.8 deep: its edges reach 0.05 + 0.8 out, not the 3 mm it is wide."""
    w = maker.Writer(4, 300)
    w.rapid(30, 0)
    w.rapid_z(2)
    w.plunge(-0.8, 300)
    w.rapid_z(20)
    scene = side_scene(maker.member(), maker.setup(), maker.job(), 0.1)
    programs = [("spot.nc", w.text())]
    case = case_of(programs, read_all(programs, scene, maker.job()), scene, maker.job())
    loads = loads_of(case, simulate(case))
    k = int(loads.volume.argmax())
    reach, fz = 0.05 + 0.8, 300 / case.moves.rpm[k]
    assert loads.width[k] == pytest.approx(2 * reach, abs=0.2)  # the tip's depth is seen to a cell
    assert loads.rate[k] == pytest.approx(math.pi * reach**2 * 300, rel=0.25)
    assert loads.force[k] == pytest.approx(KC * fz ** (1 - MC) * reach, rel=0.15)
    assert loads.power[k] == pytest.approx(loads.rate[k] * KC * fz**-MC / 60_000, rel=1e-3)


@pytest.mark.parametrize("width", [0.2, 0.3, 0.4, 0.8, 1.5])
@pytest.mark.parametrize("cell", [0.1, 0.2])
def test_a_narrow_cut_bears_no_more_than_its_angle_gives(maker, width, cell):
    """Mean and greatest force of a cut beside a wall by hand: over acos(1 - width / R) from the wall."""
    case, _, loads = met_by(maker, [((10, 0), (60, 0), -1.0), ((20, width), (50, width), -1.0)], cell)
    k = side_moves(case)[-1]
    angle = math.acos(1 - width / RADIUS)
    edge = KC * FZ ** (1 - MC)
    mean, _ = mean_power_of_cosine(math.pi / 2 - angle, math.pi / 2)
    greatest = math.sin(angle) ** (1 - MC)
    blur = math.acos(max(1 - (width + 0.71 * cell) / RADIUS, 0.0))
    most, _ = mean_power_of_cosine(math.pi / 2 - blur, math.pi / 2)
    assert edge * mean * 0.9 <= loads.force[k] <= edge * most * 1.02
    assert edge * greatest * 0.85 <= loads.tooth[k] <= edge * math.sin(blur) ** (1 - MC) * 1.02
    assert loads.force[k] <= loads.tooth[k]


def test_metal_at_a_moves_end_is_not_counted_before_it_is_cut(maker):
    """A move that stops just where the metal begins cuts nothing; the next one does."""
    passes = [((20, 0), (60, 0), -1.0), ((40, 0), (20.05, 0), -1.0)]
    case, _, loads = met_by(maker, passes)
    k = side_moves(case)[-1]
    for name in ("engaged", "width", "chip", "force", "tooth", "power", "deflection"):
        assert getattr(loads, name)[k] == 0, name


def test_a_still_spindle_and_air_carry_nothing(maker):
    case, cut, loads = met_by(maker, [((10, 0), (60, 0), -1.0), ((15, 0), (55, 0), -0.5)])
    k = side_moves(case)[-1]
    for name in ("engaged", "width", "chip", "force", "power", "volume"):
        assert getattr(loads, name)[k] == 0
    still = replace(case, moves=replace(case.moves, spindle=np.zeros_like(case.moves.spindle)))
    assert loads_of(still, cut).force.max() == 0
    assert loads_of(still, cut).peaks(still) == ()


def test_tiles_change_nothing(sample, monkeypatch):
    """The maps, guilty sweeps, and what was met are the same in tiles of 17 mm and in one."""
    scene = side_scene(sample.member, sample.setup, sample.job)
    case = case_of(sample.programs, read_all(sample.programs, scene, sample.job), scene, sample.job)
    cuts = []
    for length, threads in ((1e6, 1), (17.0, 1), (17.0, 2)):
        monkeypatch.setattr(tiles, "TILE", length)
        cuts.append(simulate(case, threads))
    for other in cuts[1:]:
        for name in ("after", "cut_by", "grown", "grown_by", "shrunk"):
            assert (getattr(cuts[0], name) == getattr(other, name)).all(), name
        assert np.allclose(cuts[0].seen, other.seen, atol=1e-9)
        figures = [*range(tiles.LEAN), tiles.VOLUME]  # a peak met at two places may be named at either
        assert np.allclose(cuts[0].met[:, figures], other.met[:, figures], rtol=1e-4, atol=1e-4)
    exact, _ = tiles.kernels.metal_lost(scene.before, cuts[0].after, scene.tops, scene.bottoms, np.inf)
    assert cuts[0].removed_mm3 == pytest.approx(exact * scene.grid.cell**2, rel=1e-5)
