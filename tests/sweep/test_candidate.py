"""Figures of a candidate against the rooms they come from, quickly made and slowly made."""

import re

import pytest
from sweep_helpers import section_model

from sparwright.cutting.plan import plan_side
from sparwright.job.reading import load_job
from sparwright.placing.place import place
from sparwright.stiffness import fast
from sparwright.stiffness.bay import bay_properties
from sparwright.stiffness.fast import fast_model
from sparwright.stiffness.pattern import BayError
from sparwright.stock.member import build_member
from sparwright.stock.solids import mass_out_kg
from sparwright.sweep.candidate import evaluate
from sparwright.sweep.mass import quick_mass_out
from sparwright.sweep.minutes import quick_minutes
from sparwright.sweep.vary import all_changes, changed_job, read_words

CASES = [
    ("bridge-beam", ()),
    ("bridge-beam", ("isogrid.skin=0", "isogrid.rib=7")),
    ("bridge-beam", ("isogrid.pocket=hexagon", "isogrid.faces=front")),
    ("webbed-rail", ()),
    ("webbed-rail", ("comb.rib=5", "comb.skin=0.8")),
]


@pytest.fixture(scope="module")
def jobs(examples):
    """Both examples' jobs by name."""
    return {name: load_job(examples / name / "job.toml") for name in ("bridge-beam", "webbed-rail")}


def changed(job, words):
    """The job with the change that words of one value each make, and its member."""
    if words:
        (change,) = all_changes(read_words(words, job, build_member(job).section), job)
        job = changed_job(job, change)
    return job, build_member(job)


@pytest.mark.parametrize(("name", "words"), CASES)
def test_mass_out_is_that_of_the_whole_solid(jobs, name, words):
    _, member = changed(jobs[name], words)
    assert quick_mass_out(member) == pytest.approx(mass_out_kg(member), rel=1e-6)


@pytest.mark.parametrize(("name", "words"), CASES)
def test_minutes_are_those_of_the_whole_plan(jobs, name, words):
    """Within 0.5 % of all cuts of both sides, where the plan leaves no pocket out for a clamp."""
    job, member = changed(jobs[name], words)
    sides = [plan_side(member, setup, job) for setup in place(member, job).setups]
    cut = {piece.feature for side in sides for c in side.cuts for piece in c.pieces}
    if cut >= {p.id for p in member.pockets}:
        whole = sum(c.seconds for side in sides for c in side.cuts) / 60
        assert quick_minutes(member, job) == pytest.approx(whole, rel=0.005)
    else:  # windows near the clamps: each pocket that is cut still takes what it is said to take
        done = [p for p in member.pockets if p.id in cut]
        assert len(done) > 0.9 * len(member.pockets)
        whole = sum(c.seconds for side in sides for c in side.cuts) / 60
        assert quick_minutes(member, job) * len(done) / len(member.pockets) == pytest.approx(whole, rel=0.01)


def test_figures_are_shares_of_the_plain_stock(bridge_job, ribs):
    (change,) = ribs("isogrid.rib=6")
    f = evaluate(bridge_job, change, section_model).figures
    member = build_member(changed_job(bridge_job, change))
    left = (
        1 - sum(p.outline.area * p.depth for p in member.pockets) / member.section.shape.area / member.length
    )
    assert f.twist_kept == pytest.approx(left)
    assert (f.EIy_kept, f.EIz_kept) == pytest.approx((left, left))
    assert f.mass_kept == pytest.approx(left, abs=0.01)  # holes, notch and edge breaks aside
    assert (f.pockets, f.dropped) == (len(member.pockets), len(member.dropped))
    assert f.method == "stand-in"
    assert f.spread == {"twist_kept": 0.02, "EIy_kept": 0.01, "EIz_kept": 0.01}
    assert f.tip_mm > 0
    assert f.first_Hz > 0


def test_without_a_machine_there_is_no_tip(bridge_job, ribs):
    (change,) = ribs("isogrid.rib=6")
    f = evaluate(bridge_job.model_copy(update={"served": None}), change, section_model).figures
    assert (f.tip_mm, f.first_Hz) == (None, None)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("isogrid.skin=4",), r"a skin of 4 mm leaves nothing to cut of the 4 mm wall of front"),
        (("isogrid.rib=26",), r"ribs of 26 mm leave no pocket in a cell of 44 mm"),
        (("isogrid.cell=200",), r"1 row of pockets needs .* mm across, and the face has 76.00 mm"),
        (("isogrid.end_margin=600",), r"no whole pocket .* fits in the 0.00 mm between the end margins"),
        (("isogrid.corner_radius=0.5",), r"a corner radius of 0.5 mm cannot be cut in this triangle"),
        (("isogrid.pocket=slot",), r"Isogrid: slot pockets need a width; add it"),
    ],
)
def test_what_cannot_be_is_left_out_with_the_reason(bridge_job, ribs, words, said):
    (change,) = ribs(*words)
    found = evaluate(bridge_job, change, section_model)
    assert found.figures is None
    assert not found.fault
    assert re.search(said, found.left_out), found.left_out


def test_what_no_cutter_can_make_is_left_out(bridge_job, ribs):
    short = tuple(c.model_copy(update={"flute_length": 1.0}) for c in bridge_job.cutters)
    (change,) = ribs("isogrid.skin=0")
    found = evaluate(
        bridge_job.model_copy(update={"cutters": short, "digest": "short"}), change, section_model
    )
    assert found.left_out.startswith("It cannot be cut: ")


def test_the_bay_stands_in_where_the_wall_model_must_not_be_believed(bridge_member, monkeypatch):
    asked = []

    def distrusted(member):
        raise BayError("the wall model must not be believed here: ribs.")

    def bay(member, order):
        asked.append(order)
        return "the bay's"

    monkeypatch.setattr(fast, "wall_properties", distrusted)
    monkeypatch.setattr(fast, "bay_properties", bay)
    assert fast_model(bridge_member) == ("the bay's", "the wall model must not be believed here: ribs.")
    assert asked == [2]


def test_the_wall_model_answers_for_the_bridge_beam_within_its_spread_of_the_bay(bridge_member):
    quick, note = fast_model(bridge_member)
    assert (quick.method, note) == ("wall", "")
    slow = bay_properties(bridge_member, order=2)
    for key in ("EIy", "EIz", "GJ"):
        assert getattr(quick, key) == pytest.approx(
            getattr(slow, key), rel=quick.spread[key] + slow.spread[key]
        )
