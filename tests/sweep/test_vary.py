"""The words of a sweep and the candidates they make."""

import pytest

from sparwright.sweep.faults import SweepError
from sparwright.sweep.vary import LeftOut, all_changes, changed_job, read_words


def values(job, section, word):
    (axis,) = read_words([word], job, section)
    return axis.values


@pytest.mark.parametrize(
    ("word", "wanted"),
    [
        ("isogrid.rib=4:6:0.5", (4.0, 4.5, 5.0, 5.5, 6.0)),
        ("isogrid.rib=4:6:0.9", (4.0, 4.9, 5.8)),
        ("isogrid.cell=36:60:6", (36.0, 42.0, 48.0, 54.0, 60.0)),
        ("isogrid.rib=0.1:0.4:0.1", (0.1, 0.2, 0.3, 0.4)),
        ("isogrid.skin=0,0.8,1.2", (0.0, 0.8, 1.2)),
        ("isogrid.rib=4,5:6:1,5", (4.0, 5.0, 6.0)),
        ("isogrid.cell=1-1/2 in,2in", (38.1, 50.8)),
        ("isogrid.pocket=triangle, hexagon", ("triangle", "hexagon")),
        ("isogrid.faces=front+back,front", (("front", "back"), ("front",))),
        ("isogrid.rows=1:3:1,auto", (1, 2, 3, None)),
        ("isogrid.corner_radius=auto,2.5", (None, 2.5)),
        ("isogrid.stagger=yes,no", (True, False)),
    ],
)
def test_words(bridge_job, bridge_member, word, wanted):
    assert values(bridge_job, bridge_member.section, word) == wanted


@pytest.mark.parametrize(
    ("word", "said"),
    [
        ("isogrd.rib=4", 'no field "isogrd". Allowed: isogrid. Did you mean "isogrid"?'),
        ("isogrid.ribs=4", 'no key "ribs" that a sweep varies. Allowed: pocket, cell, rib'),
        ("isogrid.rib=-1", "-1 is out of range for rib. Allowed: a number above 0 and at most 200 mm."),
        ("isogrid.skin=60", "60 is out of range for skin. Allowed: a number at least 0 and at most 50 mm."),
        ("isogrid.rows=0", "0 is out of range for rows. Allowed: a whole number at least 1 and at most 200."),
        ("isogrid.rib=4:8", '"4:8" is not a range. Allowed: FROM:TO:STEP'),
        ("isogrid.rib=8:4:1", '"8:4:1" does not rise'),
        ("isogrid.rib=4:8:0", '"4:8:0" does not rise'),
        ("isogrid.rib=0:100:0.0001", "states more than 1000 values"),
        ("isogrid.pocket=hexagn", '"hexagn" is no pocket. Allowed: triangle, hexagon, square'),
        ("isogrid.pocket=hexagn", 'Did you mean "hexagon"?'),
        ("isogrid.faces=frnt", 'no face "frnt". Allowed: top, bottom, front, back. Did you mean "front"?'),
        ("isogrid.faces=front+front", "a face is named twice"),
        ("isogrid.stagger=true", '"true" is no stagger. Allowed: yes, no'),
        ("isogrid.rows=2.5", '"2.5" is not a number of rows. Allowed: whole numbers'),
        ("isogrid.rib=thin", '"thin" is not a quantity; write a number in mm'),
        ("isogrid.cell=auto", '"auto" is not a quantity'),
        ("isogrid.rib=", "states no values"),
        ("rib=4", "is not a word to vary by. Allowed: FIELD.KEY=VALUES"),
        ("isogrid.rib", "is not a word to vary by"),
    ],
)
def test_words_that_say_nothing_sensible(bridge_job, bridge_member, word, said):
    with pytest.raises(SweepError) as caught:
        read_words([word], bridge_job, bridge_member.section)
    assert said in str(caught.value)
    assert word in str(caught.value)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "a sweep needs something to vary"),
        (
            ("isogrid.rib=4", "isogrid.rib=5"),
            "isogrid.rib is varied twice. Put all its values into one word.",
        ),
        (("isogrid.skin=1", "isogrid.depth=2"), "both skin and depth of isogrid are varied"),
    ],
)
def test_words_that_do_not_go_together(bridge_job, bridge_member, words, said):
    with pytest.raises(SweepError, match="^" + said):
        read_words(words, bridge_job, bridge_member.section)


def test_too_many_candidates_are_refused_with_the_longest_word(bridge_job, bridge_member):
    axes = read_words(["isogrid.skin=0,1", "isogrid.rib=4:8:0.01"], bridge_job, bridge_member.section)
    with pytest.raises(
        SweepError,
        match=r"make 802 candidates. Allowed: at most 800. Take fewer values; isogrid.rib has the most, 401",
    ):
        all_changes(axes, bridge_job, most=800)


def test_every_combination_once_the_last_word_first(ribs):
    changes = ribs("isogrid.rib=4,5", "isogrid.skin=0,1.2")
    assert [c.key for c in changes] == [
        "isogrid.rib=4 isogrid.skin=0",
        "isogrid.rib=4 isogrid.skin=1.2",
        "isogrid.rib=5 isogrid.skin=0",
        "isogrid.rib=5 isogrid.skin=1.2",
    ]
    assert {c.key for c in ribs("isogrid.skin=0,1.2", "isogrid.rib=4,5")} == {c.key for c in changes}


def test_combinations_that_make_the_same_field_are_taken_once(ribs):
    keys = [c.key for c in ribs("isogrid.pocket=slot,hexagon", "isogrid.width=10,12")]
    assert keys == [
        "isogrid.pocket=slot isogrid.width=10",
        "isogrid.pocket=slot isogrid.width=12",
        "isogrid.pocket=hexagon isogrid.width=10",
    ]


def test_the_change_is_in_the_job_and_nothing_else_is(bridge_job, ribs):
    (change,) = ribs("isogrid.pocket=hexagon", "isogrid.faces=front", "isogrid.depth=2.5")
    made = changed_job(bridge_job, change)
    field, old = made.file.field[0], bridge_job.file.field[0]
    assert (field.pocket, field.faces, field.depth, field.skin) == ("hexagon", ("front",), 2.5, None)
    assert (
        field.model_copy(update={"pocket": old.pocket, "faces": old.faces, "depth": None, "skin": old.skin})
        == old
    )
    assert made.model_copy(update={"file": bridge_job.file}) == bridge_job


def test_keys_that_do_not_go_together_are_left_out(bridge_job, ribs):
    (change,) = ribs("isogrid.pocket=slot")
    with pytest.raises(LeftOut, match="isogrid: slot pockets need a width"):
        changed_job(bridge_job, change)
