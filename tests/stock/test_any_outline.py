"""Whatever is written as a path or as points, it makes one valid section or is refused with one message."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from sparwright.job.models import PathSection, PointsSection
from sparwright.stock.rings import LARGEST, SMALLEST, OutlineError
from sparwright.stock.section import make_section

number = st.one_of(st.integers(-60, 60), st.floats(-60, 60).map(lambda v: round(v, 3)))
corner = st.one_of(st.tuples(number, number), st.tuples(number, number, st.integers(-1, 9)))
ring = st.lists(corner, min_size=3, max_size=8)
COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0, "x": 1}


@st.composite
def command(draw):
    """A path command, now and then with a number too few, too many or out of all measure."""
    letter = draw(st.sampled_from(sorted(COUNTS)))
    count = max(COUNTS[letter] + draw(st.sampled_from([0] * 12 + [-1, 1])), 0)
    numbers = draw(st.lists(st.one_of(*[number] * 9, st.just("1e400")), min_size=count, max_size=count))
    if letter == "A" and count == 7:
        numbers[3:5] = [int(n > 0) if n != "1e400" else 0 for n in numbers[3:5]]
    return (letter if draw(st.booleans()) else letter.lower(), numbers)


def whole(section):
    shape = section.shape
    assert shape.is_valid
    assert shape.area > 0
    assert shape.bounds[:2] == pytest.approx((0, 0), abs=1e-6)
    assert min(shape.bounds[2:]) >= SMALLEST - 1e-6
    assert max(shape.bounds[2:]) <= LARGEST + 1e-6


def refused(fault):
    words = str(fault)
    assert "; " in words, words
    assert "\n" not in words
    assert fault.keys


@settings(max_examples=150, deadline=None)
@given(
    outer=ring,
    holes=st.lists(ring, max_size=2),
    bores=st.lists(st.tuples(number, number, number), max_size=2),
)
def test_any_points(outer, holes, bores):
    spec = PointsSection(shape="points", outer=outer, holes=holes, bores=bores)
    try:
        whole(make_section(spec, "."))
    except OutlineError as fault:
        refused(fault)


@settings(max_examples=300, deadline=None)
@given(commands=st.lists(command(), min_size=1, max_size=8))
def test_any_path(commands):
    d = "M 0 0 " + " ".join(f"{letter} {' '.join(map(str, numbers))}" for letter, numbers in commands)
    try:
        whole(make_section(PathSection(shape="path", d=d), "."))
    except OutlineError as fault:
        refused(fault)


@settings(max_examples=100, deadline=None)
@given(text=st.text(st.sampled_from('<>/"= svgpathdMLZ019.&;![]#x\n'), max_size=60))
def test_any_file(text, tmp_path_factory):
    folder = tmp_path_factory.mktemp("svg")
    for body in (text, f'<svg><path d="M0 0H9V9Z"/>{text}</svg>', f'<svg><path d="{text}"/></svg>'):
        (folder / "a.svg").write_text(body, encoding="utf-8")
        try:
            whole(make_section(PathSection(shape="path", file="a.svg"), folder))
        except OutlineError as fault:
            refused(fault)


def test_points_that_are_no_numbers_never_reach_the_outline():
    with pytest.raises(ValidationError):
        PointsSection(shape="points", outer=[[0, 0], [float("nan"), 0], [1, 1]])
