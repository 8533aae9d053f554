"""The fault campaign: planted faults of every kind are found, good variants raise no alarm (benchmarks/fault_campaign.py)."""

import importlib
import sys
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from sparwright.answers import Verdict

FOLDER = Path(__file__).parents[2] / "benchmarks"


@pytest.fixture(scope="module")
def campaign():
    sys.path.insert(0, str(FOLDER))
    try:
        return importlib.import_module("fault_campaign")
    finally:
        sys.path.remove(str(FOLDER))


def test_the_good_programs_are_good(campaign):
    (_, tube), (bar, said) = campaign.bases()
    assert tube == frozenset()
    assert said == {("tabs", "caution", bar.layout.window.name)}  # left on tabs on purpose


def test_there_are_a_hundred_kinds_and_each_spoils_something(campaign):
    assert len({kind.__name__ for kind in campaign.KINDS}) == len(campaign.KINDS) >= 100
    for number in range(2 * len(campaign.KINDS)):
        _, b, planted = campaign.plant(number, 7)
        good, spoilt = campaign.bases()[b][0], planted.good
        assert (
            spoilt.programs != good.programs or spoilt.setup is not good.setup or spoilt.job is not good.job
        )
        assert planted.wanted
        assert all(w.checks for w in planted.wanted)


def test_nearly_every_kind_is_planted_in_both_jobs(campaign):
    count = len(campaign.KINDS)
    met = {campaign.plant(number, 7)[:2] for number in range(2 * count)}
    # A hollow has no floors back to back, a solid bar no far wall; one window is left on tabs, one hole is blind.
    assert len(met) == 2 * count - 6


def test_any_two_faults_and_any_two_seeds_are_drawn_apart(campaign):
    """One kind, the same job: no two numbers and no two seeds give the same programs."""
    count = len(campaign.KINDS)
    number = next(k for k, kind in enumerate(campaign.KINDS) if kind.__name__ == "deeper_by_a_little")
    drawn = [
        campaign.plant(number + 2 * turn * count, seed)[2].good.programs
        for seed in range(1, 5)
        for turn in range(3)
    ]
    assert len(set(drawn)) == len(drawn)


def test_a_finding_elsewhere_does_not_count(campaign):
    """The count is strict: another kind, line, feature or place, or a caution where no-go is due are misses."""
    k = next(k for k, kind in enumerate(campaign.KINDS) if kind.__name__ == "deeper_by_a_little")
    planted = campaign.plant(k, 1)[2]
    (wanted,) = planted.wanted
    assert wanted.lines is not None
    assert wanted.place is not None
    finding = next(f for f in campaign.prove(planted.good).findings if wanted.met_by(f))
    (program,) = wanted.lines
    assert finding.at is not None
    far = (*shapely.get_coordinates(wanted.place)[0] + 30, 0.0)
    for change in (
        {"line": max(wanted.lines[program]) + 1}, {"program": "other.nc"}, {"verdict": Verdict.CAUTION},
        {"check": "chip"}, {"feature": "drill/2"}, {"feature": ""}, {"at": far}, {"at": None},
    ):  # fmt: skip
        assert not wanted.met_by(replace(finding, **change)), change


def test_what_the_good_programs_are_told_never_counts(campaign):
    k = next(k for k, kind in enumerate(campaign.KINDS) if kind.__name__ == "deeper_by_a_little")
    planted = campaign.plant(k, 1)[2]
    proof = campaign.prove(planted.good)
    assert campaign.found(planted, proof, frozenset())
    assert not campaign.found(planted, proof, frozenset(campaign.same(f) for f in proof.findings))


def test_some_faults_of_every_kind_are_found(campaign):
    """One of each kind; the whole campaign is slow."""
    outcomes = campaign.faults(len(campaign.KINDS), 101)
    missed = [(o.kind, o.base, o.told[:3]) for o in outcomes if not o.found]
    assert len(missed) <= 0.02 * len(outcomes), missed


def test_some_good_variants_raise_no_alarm(campaign):
    assert campaign.variants(16, 101) == []


@pytest.mark.slow
def test_five_hundred_faults_are_found(campaign):
    outcomes = campaign.faults(500, 1)
    missed = [(o.kind, o.base, o.told[:3]) for o in outcomes if not o.found]
    assert len(missed) <= 0.02 * len(outcomes), missed


@pytest.mark.slow
def test_two_hundred_good_variants_raise_no_alarm(campaign):
    assert campaign.variants(200, 1) == []
