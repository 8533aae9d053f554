"""A job that cuts nothing yet: said plainly, not refused as a machine that is too small."""

from sparwright.answers import Verdict
from sparwright.job.reading import load_job
from sparwright.plan.pipeline import make_plan

PLAIN = """
[job]
title = "A plain tube"
bed = "bench-router.toml"
cutters = "cutters.toml"

[stock]
material = "EN AW-6060-T66"
length = 640
section = { shape = "rectangular tube", width = 40, height = 60, wall = 3, outer_radius = 2 }
"""


def test_a_job_without_cuts_says_so(tmp_path):
    path = tmp_path / "job.toml"
    path.write_text(PLAIN)
    plan = make_plan(load_job(path))
    by_number = {a.question: a for a in plan.answers}
    assert by_number[1].headline.startswith("0 g come out and 100 %")
    for question in (2, 3, 4):
        assert by_number[question].verdict is Verdict.CAUTION
        assert by_number[question].headline.startswith("Nothing is cut yet")
    assert by_number[5].headline == "There is no program to prove."
