"""Key positions: awkward TOML written out by hand, and any TOML at all by generation."""

import tomllib
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.job.positions import Positions

AWKWARD = '''\
# a comment

title = "x"
a."b c".'d.e' = 1
a.f = [ # the list starts here
  1, 2,
  # between
  [3,
   {g = 4, h.i = 5}],
]
"quo\\u0074ed" = """
not = a key
[neither] = is this
"""

[[t]]
one = 1
  [t.sub]
  two = 2
  [[t.deep]]
  three = 3
  [[t.deep]]
  three = 33
[[t]] # second
one = 11
  [[t.deep]]
  three = 333
[x . "y.z" . w]
four = 4
[x]
five = 5
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 3),
        (("a",), 4),
        (("a", "b c"), 4),
        (("a", "b c", "d.e"), 4),
        (("a", "f"), 5),
        (("a", "f", 0), 6),
        (("a", "f", 1), 6),
        (("a", "f", 2), 8),
        (("a", "f", 2, 0), 8),
        (("a", "f", 2, 1), 9),
        (("a", "f", 2, 1, "g"), 9),
        (("a", "f", 2, 1, "h", "i"), 9),
        (("quoted",), 11),
        (("t",), 16),
        (("t", 0), 16),
        (("t", 0, "one"), 17),
        (("t", 0, "sub"), 18),
        (("t", 0, "sub", "two"), 19),
        (("t", 0, "deep", 0, "three"), 21),
        (("t", 0, "deep", 1), 22),
        (("t", 0, "deep", 1, "three"), 23),
        (("t", 1), 24),
        (("t", 1, "one"), 25),
        (("t", 1, "deep", 0, "three"), 27),
        (("x", "y.z"), 28),
        (("x", "y.z", "w", "four"), 29),
        (("x", "five"), 31),
    ],
)
def test_awkward_toml(path: tuple[str | int, ...], line: int) -> None:
    assert Positions(AWKWARD).lines[path] == line


def test_every_path_of_the_data_has_a_line() -> None:
    assert _paths(tomllib.loads(AWKWARD)) == set(Positions(AWKWARD).lines)


def test_line_endings_of_other_systems() -> None:
    assert Positions(AWKWARD.replace("\n", "\r\n")).lines == Positions(AWKWARD).lines


def test_missing_key_falls_back_to_its_table() -> None:
    positions = Positions(AWKWARD)
    assert positions.line(("t", 1, "not there", 3)) == 24
    assert positions.line(("nothing",)) == 1


# Generated TOML: a tiny writer that picks a way of writing for every value and keeps count of its own lines.

_NAMES = st.one_of(
    st.sampled_from(["a", "b-1", "7", "1.5", "é", "with space", 'q"uote', "back\\slash", "#x"]),
    st.text(max_size=4),
)
_PLAIN = st.one_of(
    st.integers(-9, 9), st.booleans(), st.sampled_from(["", "x = 1", "[no]", "#", "two\nlines"])
)
_DATA = st.dictionaries(
    _NAMES,
    st.recursive(
        _PLAIN,
        lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(_NAMES, inner, max_size=3)),
        max_leaves=12,
    ),
    max_size=4,
)


class _Writer:
    """Writes data as TOML in ways the random source picks, noting the line of every path."""

    def __init__(self, pick: Any) -> None:
        self.text, self.lines, self.pick = "", {(): 1}, pick

    def put(self, text: str) -> None:
        self.text += text

    def note(self, path: tuple[str | int, ...]) -> None:
        self.lines.setdefault(path, self.text.count("\n") + 1)

    def string(self, value: str) -> str:
        if self.pick([True, False]) and "\\" not in value and '"' not in value and value.isprintable():
            return f'"""\n{value}"""'
        return '"' + "".join(c if c.isalnum() and c.isascii() else f"\\U{ord(c):08x}" for c in value) + '"'

    def key(self, name: str) -> str:
        bare = bool(name) and all(c.isascii() and (c.isalnum() or c in "-_") for c in name)
        if bare and self.pick([True, False]):
            return name
        if "'" not in name and name.isprintable() and self.pick([True, False]):
            return f"'{name}'"
        return '"' + "".join(f"\\U{ord(c):08x}" for c in name) + '"'

    def value(self, value: Any, path: tuple[str | int, ...]) -> None:
        if isinstance(value, dict):
            self.put("{")
            for place, (name, inner) in enumerate(value.items()):
                self.put(", " if place else " ")
                self.note((*path, name))
                self.put(f"{self.key(name)} = ")
                self.value(inner, (*path, name))
            self.put("}")
        elif isinstance(value, list):
            self.put("[")
            for place, inner in enumerate(value):
                self.put(self.pick(["", " ", "\n", " # one, [2]\n  "]))
                self.note((*path, place))
                self.value(inner, (*path, place))
                self.put(self.pick([",", " ,", "\n,"]))
            self.put(self.pick(["]", "\n]", " # end ]\n]"]))
        else:
            self.put(str(value).lower() if isinstance(value, bool | int) else self.string(value))

    def table(self, data: dict[str, Any], path: tuple[str | int, ...], header: str) -> None:
        later = []
        for name, value in data.items():
            own_table = isinstance(value, dict) or (
                isinstance(value, list) and value and all(isinstance(v, dict) for v in value)
            )
            if own_table and self.pick([True, False]):
                later.append((name, value))
                continue
            self.put(self.pick(["", "\n", "# note = 1\n", "  "]))
            self.note((*path, name))
            self.put(f"{self.key(name)} = ")
            self.value(value, (*path, name))
            self.put("\n")
        for name, value in later:
            inner_header = f"{header}{self.pick(['.', ' . '])}{self.key(name)}" if header else self.key(name)
            many = isinstance(value, list)
            for place, inner in enumerate(value if many else [value]):
                inner_path = (*path, name, place) if many else (*path, name)
                self.note((*path, name))
                self.note(inner_path)
                self.put(f"[[{inner_header}]]\n" if many else f"[{inner_header}]\n")
                self.table(inner, inner_path, inner_header)


def _paths(data: Any, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    out = {path}
    pairs = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for name, inner in pairs:
        out |= _paths(inner, (*path, name))
    return out


@settings(max_examples=300, deadline=None)
@given(_DATA, st.data())
def test_any_toml(data: dict[str, Any], source: st.DataObject) -> None:
    writer = _Writer(lambda choices: source.draw(st.sampled_from(choices)))
    writer.table(data, (), "")
    assert tomllib.loads(writer.text) == data, writer.text
    assert Positions(writer.text).lines == writer.lines, writer.text
