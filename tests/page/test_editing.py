"""Changing one value leaves every other byte as it was."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparwright.page.editing import CannotEdit, with_value

TEXT = """# A job.  Kept.

[job]                     # what it is
title = "Beam \\"one\\""     # quoted

[[field]]
name = "a"
skin = 1.2   # under the floor
faces = [ "front",   # toward the head
          "back" ]

[[field]]
name = "b"
depth = "2 mm"

[stock]
section = { shape = "flat bar", width = 40 } # inline
"""


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("field", 0, "skin"), 0.9, "skin = 1.2   #", "skin = 0.9   #"),
        (("field", 1, "depth"), 2.5, '"2 mm"', "2.5"),
        (("job", "title"), 'Two "beams"', '"Beam \\"one\\""', '"Two \\"beams\\""'),
        (("stock", "section", "width"), 50, "width = 40 }", "width = 50 }"),
        (("stock", "section", "height"), 5.0, "width = 40 }", "width = 40, height = 5 }"),
        (("field", 0, "rib"), 4.0, '"back" ]\n', '"back" ]\nrib = 4\n'),
        (("field", 1, "depth"), None, 'depth = "2 mm"\n', ""),
        (("field", 0, "skin"), None, "skin = 1.2   # under", "# under"),
        (("wishes", "mass_out"), 0.4, "# inline\n", "# inline\n\n[wishes]\nmass_out = 0.4\n"),
        (("job", "notes"), "x", "# quoted\n", '# quoted\nnotes = "x"\n'),
    ],
)
def test_one_value_changes_and_nothing_else(path, value, old, new):
    assert TEXT.count(old) == 1
    assert with_value(TEXT, path, value) == TEXT.replace(old, new)


def test_lists_are_written_in_place():
    changed = with_value(TEXT, ("field", 0, "faces"), ["back"])
    before, rest = TEXT.split('[ "front"', 1)
    assert changed == f'{before}["back"]{rest.split("]", 1)[1]}'


def test_line_ends_of_the_file_are_kept():
    text = "[job]\r\ntitle = 'a'\r\n"
    assert with_value(text, ("job", "notes"), "b") == "[job]\r\ntitle = 'a'\r\nnotes = \"b\"\r\n"
    assert with_value("[job]\ntitle = 1", ("job", "n"), 2) == "[job]\ntitle = 1\nn = 2\n"


@pytest.mark.parametrize(
    ("text", "path", "value"),
    [
        (TEXT, ("stock", "section", "width"), None),
        (TEXT, ("field", 7, "skin"), 1.0),
        (TEXT, ("job", "title", "part"), 1),
        (TEXT, (), 1),
        (TEXT, ("job", "bad key"), 1),
        (TEXT, ("field", 0, "skin"), float("nan")),
        ("a.b = 1\n", ("a", "c"), 2),
    ],
)
def test_what_would_touch_more_is_refused(text, path, value):
    with pytest.raises(CannotEdit):
        with_value(text, path, value)


@given(
    st.sampled_from(
        [("field", 0, "skin"), ("field", 1, "depth"), ("job", "title"), ("job", "new"), ("more", "key")]
    ),
    st.one_of(
        st.text(), st.floats(allow_nan=False, allow_infinity=False), st.booleans(), st.lists(st.text())
    ),
)
def test_any_value_reads_back_as_it_was_meant(path, value):
    changed = with_value(TEXT, path, value)
    here = tomllib.loads(changed)
    for part in path:
        here = here[part]
    assert here == (pytest.approx(value, rel=1e-8) if isinstance(value, float) else value)
    comments = [line.split("#", 1)[1] for line in TEXT.splitlines() if "#" in line]
    assert all(f"#{comment}" in changed for comment in comments)
