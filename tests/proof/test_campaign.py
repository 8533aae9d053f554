"""The fault campaign: planted faults of every kind are found, good variants raise no alarm (benchmarks/fault_campaign.py)."""

import importlib
import sys
from pathlib import Path

import numpy as np
import pytest

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
    proof = campaign.prove(campaign.make_good())
    assert [f for f in proof.findings if f.verdict is not Verdict.GO] == []
    assert len(proof.skins) == 3


def test_there_are_forty_kinds_and_more_and_each_spoils_something(campaign):
    good = campaign.make_good()
    assert len({kind.__name__ for kind in campaign.KINDS}) == len(campaign.KINDS) >= 40
    for k, kind in enumerate(campaign.KINDS):
        planted = kind(good, np.random.default_rng([7, k]))
        spoilt = planted.good
        assert (
            spoilt.programs != good.programs or spoilt.setup is not good.setup or spoilt.job is not good.job
        )
        assert planted.checks


def test_a_finding_elsewhere_does_not_count(campaign):
    """The count is strict: wrong line, wrong feature, or a caution where no-go is due are misses."""
    from dataclasses import replace

    outcome = campaign.KINDS[0](campaign.make_good(), np.random.default_rng(1))
    finding = next(f for f in campaign.prove(outcome.good).findings if campaign.fits(outcome, f))
    assert not campaign.fits(outcome, replace(finding, line=finding.line + 1))
    assert not campaign.fits(outcome, replace(finding, program="other.nc"))
    assert not campaign.fits(outcome, replace(finding, verdict=Verdict.CAUTION))
    assert not campaign.fits(outcome, replace(finding, check="chip"))
    named = replace(outcome, features=frozenset({"drill/1"}))
    assert not campaign.fits(named, replace(finding, feature="drill/2"))


def test_some_faults_of_every_kind_are_found(campaign):
    """One of each kind; the whole campaign is slow."""
    outcomes = campaign.faults(len(campaign.KINDS), 101)
    missed = [(o.kind, o.seed, o.told[:3]) for o in outcomes if not o.found]
    assert len(missed) <= 0.02 * len(outcomes), missed


def test_some_good_variants_raise_no_alarm(campaign):
    assert campaign.variants(15, 101) == []


@pytest.mark.slow
def test_five_hundred_faults_are_found(campaign):
    outcomes = campaign.faults(500, 1)
    missed = [(o.kind, o.seed, o.told[:3]) for o in outcomes if not o.found]
    assert len(missed) <= 0.02 * len(outcomes), missed


@pytest.mark.slow
def test_two_hundred_good_variants_raise_no_alarm(campaign):
    assert campaign.variants(200, 1) == []
