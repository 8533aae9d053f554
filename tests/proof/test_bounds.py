"""Walls of a job's own features as bounds: what lies between two looks."""

import numpy as np
import pytest

from sparwright.answers import Verdict
from sparwright.job.models import Cutter
from sparwright.proof.probes import SPACING, outline_points
from sparwright.proof.prove import prove_side
from sparwright.proof.scene import member_targets

NEEDLE = Cutter(
    number=5, name="0.5 flat", kind="flat", diameter=0.5, flutes=2, flute_length=2, stick_out=22, shank=0.5,
    chip=0.005, holder=20,
)  # fmt: skip


def dabbed(sample, maker, x, into):
    """The small job, and then a cutter of 0.5 mm driven down into the first pocket's far wall, `into` mm over it."""
    w = maker.Writer(5, 100)
    w.rapid(x, maker.half[1] - 0.25 + into)
    w.rapid_z(2)
    w.mark("dab")
    w.plunge(-0.8, 50)
    w.rapid_z(20)
    job = sample.job.model_copy(update={"cutters": (*sample.job.cutters, NEEDLE)})
    programs = (*sample.programs, ("dab.nc", w.text()))
    return prove_side(programs, sample.member, sample.setup, job), w.marks["dab"]


def between(sample, maker):
    """Half way between two places along the first pocket's far wall that looks 0.25 mm apart take."""
    target = next(t for t in member_targets(sample.member, "top") if t.kind == "pocket")
    points = outline_points(target, SPACING)
    x = np.sort(points[np.isclose(points[:, 1], maker.half[1]) & (abs(points[:, 0] - 30) < 5), 0])
    assert np.diff(x).max() == pytest.approx(SPACING, abs=0.01)
    return float((x[4] + x[5]) / 2)


def test_a_gouge_between_looks_a_quarter_of_a_millimetre_apart_is_found(sample, maker):
    """0.27 mm wide and 0.04 mm deep; at the looks 0.25 mm apart 0.006 mm of it would show."""
    x = between(sample, maker)
    tolerance = sample.job.file.cutting.wall_tolerance
    proof, line = dabbed(sample, maker, x, tolerance + 0.01)
    (found,) = [f for f in proof.findings if f.check == "wall" and f.verdict is Verdict.NO_GO]
    assert found.value == pytest.approx(-tolerance - 0.01, abs=0.0005)
    assert found.program == "dab.nc"
    assert found.line == line
    assert found.at[0] == pytest.approx(x, abs=0.02)
    proof, _ = dabbed(sample, maker, x, tolerance - 0.004)
    walls = [f for f in proof.findings if f.check == "wall"]
    assert [f.verdict for f in walls] == [Verdict.GO]


def test_what_is_said_of_all_places_is_within_the_tolerance(sample):
    proof = prove_side(sample.programs, sample.member, sample.setup, sample.job)
    (wall,) = [f for f in proof.findings if f.check == "wall"]
    said = float(wall.message.split(", ")[-1].split(" mm anywhere")[0])
    assert wall.value < said <= sample.job.file.cutting.wall_tolerance + 0.002
