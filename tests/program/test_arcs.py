"""Arcs and helices. Outside checks: NIST IR 6556, section 3.5.3; figures of a program."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests_program_help import clean, error_of

from sparwright.program.figures import arc_sweeps, extents, lengths
from sparwright.program.reader import read_program, summary


def sweep_deg(text: str, **options: object) -> float:
    """Angle of the one arc of a program, degrees."""
    return math.degrees(arc_sweeps(clean(text, **options))[-1])


def test_centre_form_example_of_section_3_5_3_2() -> None:
    # "G17 G2 x10 y16 i3 j4 z9" from (7, 7): radius 5, centre (10, 11), clockwise.
    reading = clean("g17 g2 x10 y16 i3 j4 z9", start=(7, 7, 0))
    assert reading.kind.tolist() == [2]
    assert reading.centre[0].tolist() == [10, 11, 0]
    assert reading.end[0].tolist() == [10, 16, 9]
    sweep = math.pi - math.atan2(3, 4)
    assert arc_sweeps(reading)[0] == pytest.approx(sweep, abs=1e-12)
    assert lengths(reading)[0] == pytest.approx(math.hypot(5 * sweep, 9), abs=1e-12)
    assert lengths(reading)[0] == pytest.approx(15.3952, abs=5e-5)


def test_radius_form_example_of_section_3_5_3_1() -> None:
    # "G17 G2 x10 y15 r20 z5"; the start (7, 7) is chosen here.
    short = clean("g17 g2 x10 y15 r20 z5", start=(7, 7, 0))
    centre = short.centre[0, :2]
    assert math.dist(centre, (7, 7)) == pytest.approx(20, abs=1e-9)
    assert math.dist(centre, (10, 15)) == pytest.approx(20, abs=1e-9)
    turn = 2 * math.asin(math.hypot(3, 8) / 40)
    assert arc_sweeps(short)[0] == pytest.approx(turn, abs=1e-9)
    assert math.degrees(turn) == pytest.approx(24.6668, abs=5e-5)
    long = clean("g2 x10 y15 r-20 z5", start=(7, 7, 0))
    assert arc_sweeps(long)[0] == pytest.approx(2 * math.pi - turn, abs=1e-9)
    assert long.end[0].tolist() == [10, 15, 5]


@pytest.mark.parametrize(
    ("text", "start", "degrees"),
    [
        ("g3 x0 y1 i-1", (1, 0, 0), 90),
        ("g2 x0 y1 i-1", (1, 0, 0), 270),
        ("g3 x1 y0 i-1", (1, 0, 0), 360),
        ("g2 y0 i-1", (1, 0, 0), 360),
        ("g3 x0 y1 r1", (1, 0, 0), 90),
        ("g3 x0 y1 r-1", (1, 0, 0), 270),
        ("g2 x0 y1 r1", (1, 0, 0), 90),
        ("g2 x-1 r1", (1, 0, 0), 180),
        # XZ plane: counter-clockwise is from Z toward X, as seen along Y (section 3.5.2).
        ("g18 g3 x1 z0 k-1", (0, 0, 1), 90),
        ("g18 g2 x1 z0 k-1", (0, 0, 1), 270),
        ("g18 g3 x1 z0 r1", (0, 0, 1), 90),
        ("g19 g3 y0 z1 j-1", (0, 1, 0), 90),
        ("g19 g2 y0 z1 j-1", (0, 1, 0), 270),
        ("g19 g3 y0 z1 r-1", (0, 1, 0), 270),
    ],
)
def test_sweeps_in_the_three_planes(text: str, start: tuple[float, float, float], degrees: float) -> None:
    assert sweep_deg(text, start=start) == pytest.approx(degrees, abs=1e-9)


def test_helices_in_the_other_planes() -> None:
    xz = clean("g18 g3 x1 z0 k-1 y3", start=(0, 0, 1))
    assert lengths(xz)[0] == pytest.approx(math.hypot(math.pi / 2, 3), abs=1e-12)
    yz = clean("g19 g3 y0 z1 j-1 x-3", start=(0, 1, 0))
    assert lengths(yz)[0] == pytest.approx(math.hypot(math.pi / 2, 3), abs=1e-12)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("g2 x5 y0", "an arc needs its centre (I or J) or its radius (R)"),
        ("g18 g2 x5", "an arc needs its centre (I or K) or its radius (R)"),
        ("g2 z1 i5", "an arc given by its centre needs X or Y"),
        ("g19 g2 x1 j5", "an arc given by its centre needs Y or Z"),
        ("g2 x5 i2.5 k1", "K cannot be used with G17: the arc's plane has no such axis"),
        ("g2 x5 i2.5 r3", "R and I on one line: say the radius or the centre, not both"),
        ("g2 x0 y0 r5", "an arc given by its radius cannot end where it starts; give its centre"),
        ("g2 z1 r5", "an arc given by its radius cannot end where it starts; give its centre"),
        ("g2 x10 r0", "R0: the arc's radius is zero"),
        ("g2 x10 r4", "the radius 4 mm is too small: the ends lie 10 mm apart"),
        ("g2 x10 i0 j0", "the arc's centre is its start: the radius is zero"),
        (
            "g2 x10 i5.0011",
            "the arc's radius is 5.0011 mm at its start and 4.9989 mm at its end; they may differ by 0.002 mm",
        ),
        (
            "g20 g2 x1 i0.50011",
            "the arc's radius is 12.7028 mm at its start and 12.6972 mm at its end; they may differ by 0.00508 mm",
        ),
    ],
)
def test_arcs_that_cannot_be_made(text: str, message: str) -> None:
    assert error_of(text) == message


def test_radii_may_differ_by_the_tolerance_of_the_unit() -> None:
    clean("g2 x10 i5.00099")  # 0.00198 mm apart
    clean("g20 g2 x1 i0.50009")  # 0.00018 inch apart
    clean("g2 x10 r4.9985")  # ends farther apart than twice the radius, by less than the tolerance
    assert len(read_program("g20\ng2 x1 i0.50009").errors) == 0  # the plain way in inches


def test_arc_extents_are_exact() -> None:
    reading = clean("g3 x0 y5 i-5", start=(5, 0, 0))
    low, high = extents(reading)  # type: ignore[misc]
    assert low.tolist() == [0, 0, 0]
    assert high.tolist() == [5, 5, 0]
    box = extents(clean("g2 x0 y5 i-5 z-2", start=(5, 0, 0)))
    assert np.allclose(box, [[-5, -5, -2], [5, 5, 0]], atol=1e-12)
    box = extents(clean("g18 g3 x0 z-2 k-2", start=(0, 0, 2)))
    assert np.allclose(box, [[0, 0, -2], [2, 0, 2]], atol=1e-12)


@given(
    plane=st.sampled_from([17, 18, 19]),
    clockwise=st.booleans(),
    radius=st.floats(0.5, 50),
    begin=st.floats(0, 2 * math.pi),
    sweep=st.floats(0.01, 6.27),
    rise=st.floats(-5, 5),
)
def test_figures_of_an_arc_against_a_fine_polyline(
    plane: int, clockwise: bool, radius: float, begin: float, sweep: float, rise: float
) -> None:
    a, b, n = {17: (0, 1, 2), 18: (2, 0, 1), 19: (1, 2, 0)}[plane]
    share = np.linspace(0, 1, 4001)
    angle = begin + (-1 if clockwise else 1) * sweep * share
    line = np.zeros((len(share), 3))
    line[:, a], line[:, b], line[:, n] = radius * np.cos(angle), radius * np.sin(angle), rise * share
    word = {0: "x", 1: "y", 2: "z"}
    offset = {0: "i", 1: "j", 2: "k"}
    text = f"g{plane} g{2 if clockwise else 3} " + " ".join(f"{word[k]}{line[-1, k]:.9f}" for k in range(3))
    text += f" {offset[a]}{-line[0, a]:.9f} {offset[b]}{-line[0, b]:.9f}"
    reading = clean(text, start=tuple(line[0]))
    measured = np.linalg.norm(np.diff(line, axis=0), axis=1).sum()
    assert lengths(reading)[0] == pytest.approx(measured, rel=1e-5)
    low, high = extents(reading)  # type: ignore[misc]
    assert np.allclose(low, line.min(axis=0), atol=radius * 1e-6 + 1e-8)
    assert np.allclose(high, line.max(axis=0), atol=radius * 1e-6 + 1e-8)


def test_summary_figures_by_hand() -> None:
    text = "g0 x3 y4\ng1 z-2 f60\ng3 x3 y4 i-3 f120\ng4 p2"
    figures = summary(read_program(text, rapid=300.0))
    arc = 2 * math.pi * 3
    assert figures["blocks"] == 4
    assert figures["motions"] == 3
    assert figures["rapid_length_mm"] == pytest.approx(5)
    assert figures["cutting_length_mm"] == pytest.approx(2 + arc)
    assert np.allclose(figures["extents_mm"], [[-3, 0, -2], [3, 7, 0]])
    assert figures["end_mm"] == [3, 4, -2]
    assert figures["feed_mm_per_min"] == [60, 120]
    assert figures["seconds"] == pytest.approx(1 + 2 + arc / 2 + 2)
    assert figures["errors"] == []


def test_summary_of_nothing_and_of_errors() -> None:
    figures = summary(read_program("g7\n"))
    assert figures["extents_mm"] is None
    assert figures["feed_mm_per_min"] is None
    assert figures["seconds"] == 0
    assert figures["errors"] == [{"line": 1, "message": "G7 is not a G word of NIST IR 6556"}]
