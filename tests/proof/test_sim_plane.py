"""Plane geometry and the simulation agree, and a simulation gone wrong is caught."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from sparwright.program.reader import read_program
from sparwright.proof.case import case_of
from sparwright.proof.plane import LONGEST, check_second, level_runs, second_look
from sparwright.proof.prove import start_of
from sparwright.proof.scene import side_scene
from sparwright.proof.simulate import simulate


@pytest.fixture(scope="module")
def cut_sample(sample):
    scene = side_scene(sample.member, sample.setup, sample.job)
    readings = [read_program(text, start=start_of(scene, sample.job)) for _, text in sample.programs]
    case = case_of(sample.programs, readings, scene, sample.job)
    return case, simulate(case)


def test_level_moves_are_cut_the_same_both_ways(cut_sample):
    case, cut = cut_sample
    second = second_look(case, cut)
    assert second.moves == second.of > 50
    assert second.cells > 20_000
    assert len(second.too_high) == len(second.too_low) == 0
    assert [f.verdict.value for f in check_second(case, cut)] == ["go"]


def test_runs_are_joined_moves_of_one_height(cut_sample):
    case, _ = cut_sample
    for run in level_runs(case):
        assert (np.diff(run) == 1).all()
        assert np.ptp(case.sweeps.end[run, 2]) == 0
        assert (case.sweeps.start[run[1:]] == case.sweeps.end[run[:-1]]).all()


def test_a_move_the_simulation_forgot_is_caught(cut_sample):
    case, cut = cut_sample
    level = np.concatenate(level_runs(case))
    k = level[np.argmax([(cut.cut_by == k).sum() for k in level])]  # the one that shows most
    lowered = cut.cut_by == k
    assert lowered.sum() > 100
    after = np.where(lowered, case.scene.before, cut.after)
    findings = check_second(case, replace(cut, after=after))
    assert [f.verdict.value for f in findings] == ["no-go"]
    assert findings[0].line > 0
    assert "Do not trust this proof" in findings[0].message


def test_a_cut_the_simulation_made_up_is_caught(cut_sample):
    case, cut = cut_sample
    k = int(max(level_runs(case), key=len)[3])
    after, by = cut.after.copy(), cut.cut_by.copy()
    after[5:12, 5:12], by[5:12, 5:12] = case.sweeps.end[k, 2], k
    second = second_look(case, replace(cut, after=after, cut_by=by))
    assert len(second.too_low) >= 25
    assert len(second.too_high) == 0


@pytest.mark.parametrize("spoil", ["pieces", "shrunk"])
def test_a_line_the_library_widens_wrongly_is_widened_move_by_move(cut_sample, monkeypatch, spoil):
    """Lines that all but close on themselves have come back in pieces with the greater part lost."""
    case, cut = cut_sample
    honest, calls = shapely.buffer, []

    def wrong(lines, radii, **how):
        shapes = np.asarray(honest(lines, radii, **how))
        calls.append(0)
        for k in np.flatnonzero(shapely.get_num_points(lines) > 3) if len(calls) == 1 else ():
            calls[0] += 1
            if spoil == "pieces":
                west, south, east, north = shapes[k].bounds
                middle = (west + east) / 2
                shapes[k] = shapely.MultiPolygon(
                    [shapely.box(west, south, middle - 1, north), shapely.box(middle + 1, south, east, north)]
                )
            else:
                shapes[k] = honest(shapes[k], -0.3)
        return shapes

    monkeypatch.setattr(shapely, "buffer", wrong)
    second = second_look(case, cut)
    assert calls[0] > 3
    assert len(calls) > 1
    assert len(second.too_high) == len(second.too_low) == 0


def test_a_run_that_often_crosses_itself_is_widened_in_parts(cut_sample, sample):
    case, _ = cut_sample
    rng = np.random.default_rng(7)
    ways = [f"X{x:.3f} Y{y:.3f}" for x, y in rng.uniform((55, 40), (85, 60), (3000, 2))]
    head = ["G21 G90 G17 G94 G54", "T1 M6", "G0 Z25", "S18000 M3", "G0 X20 Y20", "G1 Z-0.5 F400"]
    text = "\n".join([*head, *ways, "G0 Z25", "M5", "M30", ""])
    reading = read_program(text, start=start_of(case.scene, sample.job))
    scribble = case_of((("scribble.nc", text),), [reading], case.scene, sample.job)
    runs = level_runs(scribble)
    assert sum(len(r) for r in runs) == 3000
    assert max(len(r) for r in runs) <= LONGEST
    second = second_look(scribble, simulate(scribble))
    assert second.cells > 5000
    assert len(second.too_high) == len(second.too_low) == 0
