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
    assert again == result


def test_plain_member_keeps_everything(kit):
    section = kit.section("flat bar", width=20, thickness=6)
    plain = member_stiffness(kit.member(section))
    assert plain.kept == pytest.approx(dict.fromkeys(RATIOS, 1.0))
    assert plain.windows is None
    assert plain.kept_windows is None


def test_comparison_that_fails_becomes_a_note(bar, monkeypatch):
    real = report.bay_properties

    def only_skins(member, *, windows=False):
        if windows:
            raise BayError("no mesh")
        return real(member, order=2)

    monkeypatch.setattr(report, "bay_properties", only_skins)
    result = member_stiffness(bar)
    assert result.windows is None
    assert result.notes == ("the comparison with windows is left out: no mesh",)


def test_unknown_method_is_refused(bar):
    with pytest.raises(BadInput, match='no stiffness method "wall"'):
        member_stiffness(bar, "wall")
