"""A job that cuts nothing: said plainly in all six answers, not refused, and its packet comes out whole."""

import re

import pytest
from plain_words import faults_in_answer

from sparwright.answers import Verdict
from sparwright.job.reading import load_job
from sparwright.packet.write import write_packet
from sparwright.page.quick import quick_fit, quick_stiffness
from sparwright.plan.answering import NOTHING_TO_CUT
from sparwright.plan.pipeline import make_plan

CUTS = re.compile(r"(?ms)^\[\[(?:field|hole|notch)\]\].*?(?=^\[|\Z)")


@pytest.fixture(scope="module")
def bare(examples, tmp_path_factory):
    """The plan of the bridge beam with its cuts and its wish for mass taken out, an end of it sawn off."""
    folder = tmp_path_factory.mktemp("bare")
    for file in (examples / "bridge-beam").iterdir():
        text = CUTS.sub("", file.read_text(encoding="utf-8")).replace("mass_out = 0.4\n", "")
        (folder / file.name).write_text(text, encoding="utf-8")
    with (folder / "job.toml").open("a", encoding="utf-8") as job:
        job.write('[[end_cut]]\nend = "far"\nremove = 20\n')
    return make_plan(load_job(folder / "job.toml"))


def test_the_six_answers_of_a_job_without_cuts(bare):
    one, two, three, four, five, six = bare.answers
    assert one.verdict is Verdict.GO
    assert one.headline == "0 g come out and 100 % of the twist stiffness stays."
    for answer in (two, three, four, five):
        assert (answer.verdict, answer.headline, answer.findings) == (Verdict.CAUTION, NOTHING_TO_CUT, ())
    assert six.headline.startswith("Not measured yet.")
    assert "mass to come out" not in {f.name for f in six.findings}
    assert [fault for a in bare.answers for fault in faults_in_answer(a)] == []
    assert bare.mass_out_kg == 0.0


def test_its_quick_answers_say_the_same(bare):
    assert quick_fit(bare.job, bare.member) == bare.answers[1]
    assert quick_stiffness(bare.job, bare.member).headline == "0 g come out."


def test_its_packet_comes_out_whole(bare, tmp_path):
    files = write_packet(bare, tmp_path / "packet")
    assert {"packet.pdf", "answers.json", "holes.csv", "cutters.csv", "shapes/member.step"} <= set(files)
    assert not [name for name in files if name.startswith("programs/")]
