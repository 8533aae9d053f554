"""The front by its definition, and the recommended candidate with its reason."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sweep_helpers import figures

from sparwright.job.models import Wishes
from sparwright.sweep.choose import TRIES, choose
from sparwright.sweep.faults import SweepError
from sparwright.sweep.front import SENSE, front_of, goals_of, undominated, wishes_of
from sparwright.sweep.model import Candidate
from sparwright.sweep.vary import Change, Setting


def candidate(name, **values):
    """A candidate of one word, with figures."""
    made = figures(**values) if values.get("mass_out") is not None else None
    return Candidate(Change((Setting("f", "rib", name),)), made, "" if made else "Left out.")


rows = st.integers(1, 4).flatmap(
    lambda k: st.lists(st.lists(st.integers(0, 4), min_size=k, max_size=k), min_size=1, max_size=40)
)


def beats(a, b):
    return all(x >= y for x, y in zip(a, b, strict=True)) and any(x > y for x, y in zip(a, b, strict=True))


@given(rows)
@settings(deadline=None)
def test_no_member_is_beaten_and_every_other_is_beaten_by_a_member(values):
    stays = undominated(np.array(values, dtype=float))
    members = [v for v, s in zip(values, stays, strict=True) if s]
    assert members
    assert not any(beats(a, b) for a in members for b in members)
    for v, s in zip(values, stays, strict=True):
        assert s or any(beats(m, v) for m in members)


@given(rows, st.randoms())
@settings(deadline=None)
def test_the_order_of_candidates_does_not_matter(values, chance):
    order = list(range(len(values)))
    chance.shuffle(order)
    array = np.array(values, dtype=float)
    assert (undominated(array)[order] == undominated(array[order])).all()


def test_less_is_better_for_minutes_and_deflection():
    assert {g for g, sense in SENSE.items() if sense < 0} == {"tip_mm", "minutes"}
    quick, slow = candidate("quick", mass_out=0.5, minutes=100), candidate("slow", mass_out=0.5, minutes=200)
    assert front_of([slow, quick, candidate("out")], ("mass_out_kg", "minutes")) == (quick,)
    stiff, soft = candidate("stiff", mass_out=0.5, tip_mm=0.01), candidate("soft", mass_out=0.5, tip_mm=0.02)
    assert front_of([soft, stiff], ("tip_mm",)) == (stiff,)


def test_the_front_runs_by_falling_mass_out():
    many = [candidate(str(k), mass_out=m, twist=1 - m) for k, m in enumerate((0.2, 0.9, 0.5))]
    assert [c.figures.mass_out_kg for c in front_of(many, ("mass_out_kg", "twist_kept"))] == [0.9, 0.5, 0.2]


def test_goals_are_those_named_or_the_usual_with_the_wishes(bridge_job):
    def wishing(**what):
        wishes = bridge_job.file.wishes.model_copy(
            update={"tip_deflection": None, "first_frequency": None} | what
        )
        return bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"wishes": wishes})})

    assert goals_of(wishing()) == ("mass_out_kg", "twist_kept", "bending_kept")
    assert goals_of(bridge_job, ("minutes", "twist_kept")) == ("minutes", "twist_kept")
    stiff = wishing(first_frequency=20.0)
    assert goals_of(stiff) == ("mass_out_kg", "twist_kept", "bending_kept", "first_Hz")
    assert "first_Hz" not in goals_of(stiff.model_copy(update={"served": None}))


def test_goals_that_are_none(bridge_job):
    with pytest.raises(
        SweepError, match=r'"twist" is no goal. Allowed: mass_out_kg, .* Did you mean "twist_kept"\?'
    ):
        goals_of(bridge_job, ("twist",))
    with pytest.raises(SweepError, match="the job names none"):
        goals_of(bridge_job.model_copy(update={"served": None}), ("tip_mm",))


# --- the choice -------------------------------------------------------------------------------------------

WISHES = {"twist_kept": 0.45, "mass_out_kg": 0.4}


def test_wishes_by_the_names_of_figures():
    assert wishes_of(Wishes(twist_kept=0.5, tip_deflection=0.02)) == {"twist_kept": 0.5, "tip_mm": 0.02}


def test_the_most_mass_out_of_those_that_meet_every_wish():
    many = [
        candidate("greedy", mass_out=0.9, twist=0.40),
        candidate("good", mass_out=0.7, twist=0.50),
        candidate("shy", mass_out=0.5, twist=0.80),
        candidate("timid", mass_out=0.3, twist=0.90),
        candidate("out"),
    ]
    found = choose(many, WISHES)
    assert found.candidate is many[1]
    assert found.reason == (
        "Of 4 candidates 2 meet every wish; this one takes out the most, 0.700 kg, in 100 min; "
        "nearest to its limit is twist kept, 50.0 % against 45.0 %."
    )
    assert (found.misses, found.confirmed) == ((), None)


def test_masses_no_scale_tells_apart_are_decided_by_minutes():
    slow, quick = (
        candidate("slow", mass_out=0.7002, minutes=300),
        candidate("quick", mass_out=0.7, minutes=200),
    )
    assert choose([slow, quick], WISHES).candidate is quick


def test_a_sure_candidate_goes_before_one_within_the_spread_which_is_told():
    close = candidate("close", mass_out=0.8, twist=0.46, spread={"twist_kept": 0.04})
    sure = candidate("sure", mass_out=0.7, twist=0.48, spread={"twist_kept": 0.04})
    found = choose([close, sure], WISHES)
    assert found.candidate is sure
    assert (
        "2 meet every wish, 1 of them with the model's spread to spare; this one takes out the most of these, 0.700 kg"
        in found.reason
    )
    alone = choose([close], WISHES)
    assert alone.candidate is close
    assert "which is within the spread of the model" in alone.reason


def test_none_meets_all_the_nearest_and_what_it_misses():
    far, near = candidate("far", mass_out=0.9, twist=0.2), candidate("near", mass_out=0.39, twist=0.44)
    found = choose([far, near], WISHES, confirm=None)
    assert found.candidate is near
    assert found.misses == (
        "twist kept 44.0 % where 45.0 % is wished",
        "mass out 0.390 kg where 0.400 kg is wished",
    )
    assert found.reason.startswith(
        "None of the 2 candidates meets every wish; this one misses least: twist kept"
    )


def test_where_only_mass_is_wished_the_stiffest_is_taken():
    many = [candidate("much", mass_out=0.9, twist=0.3), candidate("stiff", mass_out=0.45, twist=0.8)]
    found = choose(many, {"mass_out_kg": 0.4})
    assert found.candidate is many[1]
    assert "keeps the most of twist and bending, 80.0 % and 60.0 %" in found.reason


@pytest.mark.parametrize(
    ("wishes", "many", "said"),
    [
        ({}, [candidate("a", mass_out=0.5)], "The job states no wishes"),
        (WISHES, [candidate("a")], "Every candidate is left out"),
    ],
)
def test_nothing_to_recommend(wishes, many, said):
    found = choose(many, wishes)
    assert found.candidate is None
    assert found.reason.startswith(said)


LADDER = [candidate(f"c{k}", mass_out=0.9 - 0.05 * k, twist=0.5) for k in range(6)]


def test_the_bay_confirms():
    found = choose(LADDER, WISHES, confirm=lambda c: c)
    assert (found.candidate, found.confirmed, found.bay) == (LADDER[0], True, LADDER[0].figures)
    assert found.reason.endswith("The bay confirms it.")


def test_what_the_bay_denies_gives_way_to_the_next():
    bay = {"f.rib=c0": candidate("c0", mass_out=0.9, twist=0.4), "f.rib=c1": candidate("c1")}
    found = choose(LADDER, WISHES, confirm=lambda c: bay.get(c.key, c))
    assert (found.candidate, found.confirmed) == (LADDER[2], True)
    assert [key for key, _ in found.denied] == ["f.rib=c0", "f.rib=c1"]
    assert found.denied[0][1] == "by the bay it misses: twist kept 40.0 % where 45.0 % is wished"
    assert found.denied[1][1] == "the bay could not be computed: Left out."
    assert "takes out the most, after 2 candidates before it, 0.800 kg" in found.reason
    assert found.reason.endswith("2 candidates before it were denied by the bay.")


def test_the_bay_is_asked_a_bounded_number_of_times():
    asked = []

    def never(c):
        asked.append(c)
        return candidate("bad", mass_out=0.9, twist=0.4)

    found = choose(LADDER, WISHES, confirm=never)
    assert len(asked) == TRIES
    assert (found.candidate, found.confirmed) == (LADDER[0], False)
    assert f"The bay confirms none of the first {TRIES}: by the bay it misses" in found.reason
