"""What two sides really cut, held together: geometry worked out by hand, programs from the tests' own generator."""

from __future__ import annotations

import hashlib
import pickle
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from two_sides import HIGH, two_sides

from sparwright.answers import Verdict
from sparwright.proof.prove import prove_side
from sparwright.proof.sidecut import prove_and_keep
from sparwright.proof.together import SIDE, prove_together

DEEP, UNDER = 4.0, 4.5
FLOORS = (("a", "top", 40, 0, 12, 9, DEEP), ("b", "bottom", 46, 2, 10, 8, UNDER))
HOLES = (("h", "top", 80, 3, 6, 6.0), ("k", "bottom", 80, -3, 6, 6.0))
BETWEEN = HIGH - DEEP - UNDER  # 1.5 mm
TOLERANCE = 0.02  # the job's, of floors
CELL = 0.2


def proof_of(two):
    return prove_together(two.records(), two.member, two.sample.job)


def told(proof, check, verdict=Verdict.NO_GO):
    return [f for f in proof.findings if f.check == check and f.verdict is verdict]


def own_verdicts(two):
    return {
        face: prove_side([(f"{face}.nc", text)], two.member, two.setup(face), two.sample.job).verdict
        for face, text in two.texts.items()
    }


# --- floors from opposite sides -------------------------------------------------------------------------


def test_least_metal_between_two_floors_is_told_to_the_micrometre(sample, maker):
    two = two_sides(sample, maker, FLOORS)
    proof = proof_of(two)
    assert (proof.verdict, proof.side) == (Verdict.GO, SIDE)
    found = told(proof, "between sides", Verdict.GO)[0]
    assert found.value == pytest.approx(BETWEEN, abs=1e-5)
    assert found.limit == pytest.approx(BETWEEN - TOLERANCE)
    assert found.margin == pytest.approx(TOLERANCE, abs=1e-5)
    assert "pocket a of top (line " in found.message
    assert "pocket b of bottom (line " in found.message
    assert found.feature == "a"
    # both outlines hold the place: x 36 to 52, and s -9 to 6 of top; the maps are a cell's half diagonal wider
    x, s, n = found.at
    assert 35.8 <= x <= 52.2
    assert -9.2 <= s <= 6.2
    assert n == pytest.approx(-DEEP, abs=1e-5)


def test_digests_are_those_of_all_programs(sample, maker):
    two = two_sides(sample, maker, FLOORS)
    assert proof_of(two).digests == {
        f"{face}.nc": hashlib.sha256(text.encode()).hexdigest() for face, text in two.texts.items()
    }


def test_two_floors_each_within_its_tolerance_may_be_too_thin_together(sample, maker):
    two = two_sides(sample, maker, FLOORS, deeper={"a": 0.015, "b": 0.015})
    assert set(own_verdicts(two).values()) == {Verdict.GO}
    found = told(proof_of(two), "between sides")
    assert len(found) == 1
    assert found[0].value == pytest.approx(BETWEEN - 0.03, abs=1e-5)
    assert found[0].margin == pytest.approx(-0.01, abs=1e-5)
    assert two.texts["top"].splitlines()[found[0].line - 1].startswith("G1 X")


@pytest.mark.parametrize(("deeper", "guilty"), [("a", "top"), ("b", "bottom")])
def test_a_floor_that_breaks_into_the_other_sides_is_blamed_on_the_deeper_one(sample, maker, deeper, guilty):
    two = two_sides(sample, maker, FLOORS, deeper={deeper: 2.0})
    found = told(proof_of(two), "sides meet")
    assert len(found) == 1
    assert found[0].value == pytest.approx(BETWEEN - 2.0, abs=1e-5)
    assert (found[0].feature, found[0].program) == (deeper, f"{guilty}.nc")
    # the two outlines share 16 by 15 mm; the maps are a cell wider
    area = float(found[0].message.split(" mm²")[0].split()[-1])
    assert 16 * 15 <= area <= 16.4 * 15.4


def test_the_order_of_sides_does_not_matter(sample, maker):
    two = two_sides(sample, maker, FLOORS, deeper={"a": 0.5})
    records = two.records()
    one, other = (prove_together(r, two.member, two.sample.job) for r in (records, records[::-1]))
    first, second = (told(p, "between sides")[0] for p in (one, other))
    assert first.value == pytest.approx(BETWEEN - 0.5, abs=1e-5)
    assert second.value == pytest.approx(first.value, abs=1e-5)
    assert first.program == second.program == "top.nc"


def test_cells_that_do_not_line_up_are_still_a_bound(sample, maker):
    """Cells of 0.23 mm: the bar's 40 mm are no whole number of them, so that rows of the two sides overlap in part."""
    two = two_sides(sample, maker, FLOORS, deeper={"b": 0.1})
    records = [
        prove_and_keep([(f"{f}.nc", t)], two.member, two.setup(f), two.sample.job, cell=0.23)[1]
        for f, t in two.texts.items()
    ]
    found = told(prove_together(records, two.member, two.sample.job), "between sides")
    assert [f.value for f in found] == [pytest.approx(BETWEEN - 0.1, abs=1e-5)]


def test_pockets_beside_each_other_have_no_floor_between_them(sample, maker):
    apart = (("a", "top", 30, 0, 8, 9, DEEP), ("b", "bottom", 60, 0, 8, 9, UNDER))
    found = told(proof_of(two_sides(sample, maker, apart)), "between sides", Verdict.GO)
    assert found[0].value is None


def test_between_the_walls_of_a_tube_lies_air_and_only_the_web_counts(sample, maker):
    """Walls of 3 mm and a web of 4 mm in the middle: floors 1.8 and 1.5 mm deep leave 6.7 mm of web, and air beside it."""
    over_web = (("a", "top", 40, 0, 12, 9, 1.8), ("b", "bottom", 46, 2, 10, 8, 1.5))
    found = told(proof_of(two_sides(sample, maker, over_web, kind="tube")), "between sides", Verdict.GO)
    assert found[0].value == pytest.approx(HIGH - 1.8 - 1.5, abs=1e-5)
    assert abs(found[0].at[1]) <= 2.0
    beside = (("a", "top", 40, 10, 12, 6, 1.8), ("b", "bottom", 46, -10, 10, 6, 1.5))
    found = told(proof_of(two_sides(sample, maker, beside, kind="tube")), "between sides", Verdict.GO)
    assert found[0].value is None


def test_a_cut_through_the_near_wall_breaks_into_a_pocket_of_the_far_one(sample, maker):
    """8.7 mm deep where 1.8 is wanted: through wall and hollow, 1.7 mm into the far wall, of which a pocket took 1.5."""
    beside = (("a", "top", 40, 10, 12, 6, 1.8), ("b", "bottom", 46, -10, 10, 6, 1.5))
    two = two_sides(sample, maker, beside, kind="tube", deeper={"a": 6.9})
    found = told(proof_of(two), "sides meet")
    assert [f.value for f in found] == [pytest.approx(3 - 1.7 - 1.5, abs=1e-5)]
    assert found[0].feature == "a"


def test_thin_by_design_is_a_caution(sample, maker):
    thin = (("a", "top", 40, 0, 12, 9, DEEP), ("b", "bottom", 46, 2, 10, 8, HIGH - DEEP - 0.7))
    found = told(proof_of(two_sides(sample, maker, thin)), "between sides", Verdict.CAUTION)
    assert found[0].value == pytest.approx(0.7, abs=1e-5)


# --- holes ----------------------------------------------------------------------------------------------


def test_holes_from_two_sides_on_one_axis(sample, maker):
    found = told(proof_of(two_sides(sample, maker, holes=HOLES)), "holes in line", Verdict.GO)
    assert found[0].value < 0.002


def test_holes_a_tenth_off_one_another(sample, maker):
    two = two_sides(sample, maker, holes=HOLES, shifted={"k": 0.1})
    found = told(proof_of(two), "holes in line")
    assert found[0].value == pytest.approx(0.1, abs=0.002)
    assert found[0].limit == two.sample.job.file.cutting.wall_tolerance
    assert (found[0].feature, found[0].program) == ("k", "bottom.nc")
    assert two.texts["bottom"].splitlines()[found[0].line - 1].startswith("G3 ")
    assert "hole h of top (line " in found[0].message


def test_holes_each_within_its_tolerance_may_be_out_of_line_together(sample, maker):
    two = two_sides(sample, maker, holes=HOLES, shifted={"h": 0.025, "k": -0.025})
    assert Verdict.NO_GO not in own_verdicts(two).values()
    found = told(proof_of(two), "holes in line")
    assert found[0].value == pytest.approx(0.05, abs=0.002)


# --- sides at an angle ----------------------------------------------------------------------------------


CORNER = (("a", "top", 40, 8, 12, 9, 4.0), ("c", "side", 40, 0, 12, 3, 2.0))


def test_a_pocket_round_the_corner_is_left_alone(sample, maker):
    """The top's wall lies 3 mm from the side, whose pocket is 2 mm deep."""
    proof = proof_of(two_sides(sample, maker, CORNER))
    assert proof.verdict is Verdict.GO
    assert told(proof, "sides meet", Verdict.GO)


def test_a_pocket_round_the_corner_is_broken_into(sample, maker):
    two = two_sides(sample, maker, CORNER, deeper={"c": 2.0})
    found = told(proof_of(two), "sides meet")
    assert [f.feature for f in found] == ["c"]
    assert found[0].program == "side.nc"
    # along the whole of the two pockets, 24 mm less their corners and no more than a cell over
    assert 20 <= found[0].value <= 24 + 2 * CELL


# --- what nobody cuts, and sides swapped -----------------------------------------------------------------


def test_a_feature_no_side_cuts(sample, maker):
    two = two_sides(sample, maker, FLOORS)
    more = two_sides(sample, maker, (*FLOORS, ("z", "bottom", 90, 0, 8, 8, 2.0))).member
    found = told(proof_of(replace(two, member=more)), "not cut")
    assert [f.feature for f in found] == ["z"]


def test_a_feature_cut_from_the_other_side_is_cut(sample, maker):
    """A hole through the bar, stated on the bottom and bored from the top."""
    pockets = (("p", "bottom", 30, 0, 8, 8, 2.0), ("q", "top", 30, 0, 8, 8, 2.0))
    two = two_sides(sample, maker, pockets, (("h", "top", 80, 3, 6, HIGH + 0.3),))
    hole = replace(two.member.holes[0], face="bottom", at=(80.0, -3.0), depth=HIGH)
    member = replace(two.member, holes=(hole,))
    assert not told(proof_of(replace(two, member=member)), "not cut")


def test_one_side_swapped(sample, maker):
    """Both sides' programs run on the other side: what each was to cut is not there, and what lies there meets."""
    apart = (("a", "top", 30, 0, 8, 9, DEEP), ("b", "bottom", 80, 0, 8, 9, UNDER))
    two = two_sides(sample, maker, apart)
    swapped = replace(two, texts={"top": two.texts["bottom"], "bottom": two.texts["top"]})
    proof = proof_of(swapped)
    assert {f.feature for f in told(proof, "not cut")} == {"a", "b"}
    # the top's program run twice, on its own side and on the bottom: 10 - 4 - 4 mm are left where 6 were to stay
    twice = replace(two, texts={"top": two.texts["top"], "bottom": two.texts["top"]})
    found = told(proof_of(twice), "between sides")
    assert found[0].value == pytest.approx(HIGH - 2 * DEEP, abs=1e-5)
    assert found[0].program == "bottom.nc"
    assert [f.feature for f in told(proof_of(twice), "not cut")] == ["b"]


def test_a_side_without_programs_is_not_passed_over(sample, maker):
    two = two_sides(sample, maker, (*FLOORS, CORNER[1]))
    records = [r for r in two.records() if r.side != "side"]
    proof = prove_together(records, two.member, two.sample.job)
    assert told(proof, "not judged", Verdict.CAUTION)[0].message.startswith("Side side was given no program")


# --- the record -----------------------------------------------------------------------------------------


def test_the_record_is_small_and_goes_from_process_to_process(sample, maker):
    two = two_sides(sample, maker, FLOORS)
    record = two.records()[0]
    packed = pickle.dumps(record)
    x0, s0, x1, s1 = record.bounds
    # the pocket's box is 24 by 18 mm: three maps of four bytes a cell
    assert (x1 - x0, s1 - s0) == (pytest.approx(24, abs=0.6), pytest.approx(18, abs=0.6))
    assert len(packed) < 12 * 123 * 93 + 10_000
    again = pickle.loads(packed)
    assert np.array_equal(again.least, record.least)
    assert again.lines == record.lines
    assert all(name == "top.nc" and line > 0 for name, line in record.lines)
