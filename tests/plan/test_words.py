"""Every finding and headline reads like a sentence said in a shop, in the examples as in jobs that go wrong."""

from __future__ import annotations

import re

import pytest
from plain_words import faults_in_answer, faults_in_finding, faults_in_text, told_too_finely

from sparwright.answers import Answer, Finding, Verdict
from sparwright.cutting.plan import plan_side
from sparwright.cutting.slots import plan_pads
from sparwright.measure.weigh import weigh_job
from sparwright.placing.place import place
from sparwright.plan.answering import can_cut, cuts_this_part, fits, stays
from sparwright.plan.stiff import stiff_enough
from sparwright.program.writer import write_programs
from sparwright.proof.prove import prove_pads
from sparwright.stiffness.report import member_stiffness
from sparwright.stock.solids import blank_mass_kg, mass_out_kg


def changed(job, **tables):
    """The job with keys of its tables changed."""
    file = job.file
    for table, keys in tables.items():
        file = file.model_copy(update={table: getattr(file, table).model_copy(update=keys)})
    return job.model_copy(update={"file": file})


def faults(*answers: Answer) -> list[str]:
    return sorted({fault for a in answers for fault in faults_in_answer(a)})


@pytest.mark.xdist_group("demo")
def test_the_bridge_beam_is_answered_in_plain_words(plan):
    assert faults(*plan.answers) == []


@pytest.mark.xdist_group("rail")
def test_the_webbed_rail_is_answered_in_plain_words(rail_plan):
    assert faults(*rail_plan.answers) == []


@pytest.fixture(scope="module")
def placement(bridge_job, bridge_member):
    """The bridge beam as it is placed."""
    return place(bridge_member, bridge_job)


def test_a_member_too_weak_is_told_in_plain_words(bridge_job, bridge_member):
    wall = member_stiffness(bridge_member, "wall")
    masses = blank_mass_kg(bridge_member), mass_out_kg(bridge_member)
    names = {}
    for twist, tip, first, out in ((0.99, 1e-4, 1e4, 3.0), (0.55, 0.115, 30.0, 0.7)):
        wishes = {"twist_kept": twist, "bending_kept": twist, "tip_deflection": tip, "first_frequency": first, "mass_out": out}  # fmt: skip
        hard = {"clamp_force": 9000.0 if twist > 0.9 else 1800.0}
        job = changed(bridge_job, wishes=wishes, placing=hard, cutting={"floor_tolerance": 1e-3})
        found = stiff_enough(job, bridge_member, wall, masses, 60.0).answer
        assert faults(found) == []
        names |= {f.name: f.verdict for f in found.findings if f.verdict is not Verdict.GO}
    assert len(names) >= 10


@pytest.mark.parametrize(
    ("placing", "bed"),
    [
        ({"clamp_force": 20.0, "friction": 0.1, "pads": 2, "clamp_screw": "M8"}, {}),
        ({"clamp_force": 4000.0, "pad_thickness": 40.0}, {"bridge_clearance": 60.0, "squareness": 5.0}),
        ({"angle": 0.0}, {}),
        ({}, {"reach": (300.0, 300.0, 100.0)}),
        ({"margin": 8.0}, {"nose_height": 60.0, "bed_size": (500.0, 500.0)}),
    ],
)
def test_a_member_badly_placed_is_told_in_plain_words(bridge_job, bridge_member, placing, bed):
    job = changed(bridge_job, placing=placing)
    job = job.model_copy(update={"bed": job.bed.model_copy(update=bed)})
    found = place(bridge_member, job)
    answers = fits(found), stays(found)
    assert faults(*answers) == []
    assert any(a.verdict is not Verdict.GO for a in answers)


def test_cutters_that_do_not_do_are_told_in_plain_words(bridge_job, bridge_member, placement):
    short = [c.model_copy(update={"flute_length": 1.0}) for c in bridge_job.cutters if c.kind == "flat"]
    slow = bridge_job.bed.spindle.model_copy(update={"slowest": 24000.0, "power": 40.0})
    job = bridge_job.model_copy(
        update={"cutters": short, "bed": bridge_job.bed.model_copy(update={"spindle": slow})}
    )
    cuts = plan_side(bridge_member, placement.setups[0], job)
    found = can_cut(placement, (), (cuts,), ())
    assert found.verdict is Verdict.NO_GO
    assert faults(found) == []


WRONG = {
    "feed too high": lambda t: re.sub(r"F(\d+)", lambda m: f"F{9 * int(m[1])}", t),
    "too deep": lambda t: re.sub(r"Z-(\d+)", lambda m: f"Z-{int(m[1]) + 4}", t),
    "cut short": lambda t: t[: len(t) // 2].rpartition("\n")[0] + "\n",
    "low and fast": lambda t: re.sub(r"(?m)^G1 ", "G0 ", t),
    "no spindle": lambda t: re.sub(r"(?m)^S\d+ M3\n", "", t),
    "no open words": lambda t: t.replace("G54", "G55").replace("G21 ", "").replace(" G94", ""),
    "strange words": lambda t: t.replace("M30", "M98 P1"),
    "out of reach": lambda t: re.sub(r"X(\d)", r"X9\1", t, count=40),
    "slow spindle": lambda t: re.sub(r"S\d+ M3", "S900 M4", t),
    "no cutter": lambda t: re.sub(r"(?m)^T1$", "T77", t),
}


def test_wrong_programs_are_told_in_plain_words(bridge_job, placement):
    cuts = plan_pads(placement, bridge_job)
    written = [p for c in cuts for p in write_programs(c, placement.setups[0].pose, bridge_job)]
    right = [(p.name, p.text) for p in written]
    checks = set()
    for name, spoil in WRONG.items():
        programs = [(n, spoil(t)) for n, t in right]
        assert programs != right, name
        proof = prove_pads(programs, placement, bridge_job)
        assert proof.verdict is not Verdict.GO, name
        assert faults(cuts_this_part(placement, [proof], written)) == [], name
        checks |= {f.check for f in proof.findings if f.verdict is not Verdict.GO}
    assert len(checks) >= 12, checks


@pytest.mark.parametrize(("before", "out"), [(1.0, 1.0), (0.8, 1.2), (1.2, 0.8)])
def test_what_the_scale_says_is_told_in_plain_words(bridge_job, bridge_member, before, out):
    stock, planned = blank_mass_kg(bridge_member), mass_out_kg(bridge_member)
    found = weigh_job(bridge_member, bridge_job, before * stock, before * stock - out * planned, 0.001)
    assert [fault for f in found.findings() for fault in faults_in_finding(f)] == []
    assert (before == 1.0) == all(f.verdict is Verdict.GO for f in found.findings())


def test_the_judge_of_words_sees_what_is_wrong():
    """Each fault on its own is found, and a good finding has none."""
    good = Finding("x", Verdict.CAUTION, 1.0, "mm", why="It is 1.25 mm too high. Lower the pass.")
    assert faults_in_finding(good) == []
    for changes, told in (
        ({"why": "It is 1.25 mm too high."}, "no remedy"),
        ({"why": "it is high. Lower the pass."}, "capital"),
        ({"why": "It is high. Lower the pass"}, "full stop"),
        ({"why": "It is high, therefore lower it. Lower the pass."}, "fog"),
        ({"why": "It is np.float64(1.25). Lower the pass."}, "code"),
        ({"why": "It is 1.25063 mm too high. Lower the pass."}, "too fine"),
        ({"why": "Lower the pass " + "by a little " * 10 + "more."}, "words"),
        ({"unit": ""}, "no unit"),
        ({"unit": "furlong"}, "unit"),
        ({"name": "Too high."}, "name"),
    ):
        assert any(told in fault for fault in faults_in_finding(Finding(**(good.__dict__ | changes)))), told
    assert faults_in_text("A headline of one sentence.", 25) == []
    assert told_too_finely("The stop stands at X 123.456 and 0.1234 mm.") == []
