"""The report of a member's stiffness."""

# ruff: noqa: SIM300 (the trade writes EA and GJ in capitals; they are no constants)

import json
import pickle

import pytest

from sparwright.answers import BadInput
from sparwright.stiffness import report
from sparwright.stiffness.pattern import BayError
from sparwright.stiffness.report import StiffnessResult, member_stiffness

RATIOS = {"mass", "EA", "EIy", "EIz", "GJ", "GAy", "GAz"}


@pytest.fixture(scope="module")
def bar(kit):
    """A small bar with one row of round pockets, quick to solve."""
    section = kit.section("flat bar", width=20, thickness=6)
    return kit.member(
        section, [kit.field_on(section, "top", 6, pocket="round", cell=16, rib=4, rows=1, skin=2)]
    )


@pytest.fixture(scope="module")
def result(bar):
    return member_stiffness(bar)


def test_ratios_follow_from_the_two_beams(result):
    assert result.method == "bay"
    assert set(result.kept) == RATIOS == set(result.kept_windows)
    assert result.kept["GJ"] == pytest.approx(result.reworked.GJ / result.intact.GJ)
    assert result.kept_windows["GJ"] < result.kept["GJ"] < 1
    assert result.kept_windows["mass"] < result.kept["mass"]
    assert result.figures.J * 69500 / 2.66 == pytest.approx(result.intact.GJ)
    assert result.spread == result.reworked.spread


def test_json_keys(result):
    told = json.loads(json.dumps(result.as_dict()))
    assert {"method", "intact", "reworked", "kept", "spread", "windows", "kept_windows"} <= set(told)
    assert {"mass_kg_per_m", "EA_N", "EIy_N_mm2", "EIz_N_mm2", "GJ_N_mm2"} <= set(told["intact"])
    assert told["reworked"]["GJ_N_mm2"] == result.reworked.GJ
    assert set(told["kept"]) == RATIOS


def test_survives_the_way_between_processes(result):
    again = pickle.loads(pickle.dumps(result))
    assert isinstance(again, StiffnessResult)
    assert again.as_dict() == result.as_dict()


def test_plain_member_keeps_everything(kit):
    section = kit.section("flat bar", width=20, thickness=6)
    plain = member_stiffness(kit.member(section))
    assert plain.kept == pytest.approx(dict.fromkeys(RATIOS, 1.0))
    assert plain.windows is None
    assert plain.kept_windows is None


def test_comparison_that_fails_becomes_a_note(bar, monkeypatch):
    real = report.stretch_properties

    def only_skins(section, material, bays, *, windows=False):
        if windows:
            raise BayError("no mesh")
        return real(section, material, bays, order=2)

    monkeypatch.setattr(report, "stretch_properties", only_skins)
    result = member_stiffness(bar)
    assert result.windows is None
    assert "the comparison with windows is left out: no mesh" in result.notes


def test_the_wall_model_hands_a_bar_over_to_the_bay_and_says_so(bar):
    result = member_stiffness(bar, "wall")
    assert result.method == "wall"
    assert result.reworked.method == "bay"
    assert any("must not be believed" in note for note in result.notes)


@pytest.fixture(scope="module")
def tube(kit):
    """A tube with fields on two faces, which both models can answer."""
    section = kit.section(width=80, height=40, wall=3)
    fields = [
        kit.field_on(section, face, 3, pocket="round", cell=25, rib=5, rows=2, skin=1)
        for face in ("top", "bottom")
    ]
    return kit.member(section, fields)


def test_both_models_answer_alike_for_a_tube(tube):
    bay, wall = member_stiffness(tube, "bay"), member_stiffness(tube, "wall")
    assert (bay.reworked.method, wall.reworked.method) == ("bay", "wall")
    assert wall.kept == pytest.approx(bay.kept, rel=0.04)
    assert wall.windows.method == bay.windows.method == "wall"
    assert wall.racking.frequencies[0] > 100


def test_end_to_end_lies_between_the_field_and_the_plain_ends(tube):
    result = member_stiffness(tube, "wall")
    assert result.parts[0].start == 0
    assert result.parts[-1].end == tube.length
    for key, whole in result.end_to_end.items():
        assert result.kept[key] - 1e-9 <= whole <= 1
    by_hand = tube.length / sum(p.length / p.properties.GJ for p in result.parts) / result.intact.GJ
    assert result.end_to_end["GJ"] == pytest.approx(by_hand)


def test_unknown_method_is_refused(bar):
    with pytest.raises(BadInput, match='no stiffness method "guess"; choose bay or wall'):
        member_stiffness(bar, "guess")
