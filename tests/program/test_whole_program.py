"""A whole program against sums made by hand, and outlines with and without the cutter's radius.

Sample program C.1 and the contours of appendix B: NIST IR 6556 (The NIST RS274/NGC Interpreter, Version 3, 2000;
a work of the United States government).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from tests_program_help import clean

from sparwright.program.figures import arc_sweeps, lengths
from sparwright.program.reader import summary

# Appendix C.1: the words "Hello world" engraved, mm. Words that move nothing (line numbers, tool, spindle) are left out.
HELLO = """
g21 g0 x0 y0 z50
f20 s4000
g0 x0 y0 z2
g1 z-0.5 (start H)
y10
g0 z2
y5
g1 z-0.5
x 7
g0 z2
y0
g1 z-0.5
y10
g0 z2
x11 y2.5
g1 z-0.5 (start e)
x16
g3 x13.5 y0 i-2.5
g1 x16
g0 z2
x20 y0
g1 z-0.5 (start l)
y9
g0 z2
x26
g1 z-0.5 (start l)
y0
g0 z2
x32.5
g1 z-0.5 (start o)
g2 x32.5 j2.5
g0 z2
x45 y5
g1 z-0.5 (start w)
x47 y0
x48.5 y3
x50 y0
x52 y5
g0 z2
x57.5 y0
g1 z-0.5 (start o)
g2 x57.5 j2.5
g0 z2
x64
g1 z-0.5 (start r)
y5
y4
g2 x69 r4
g0 z2
x73 y0
g1 z-0.5 (start l)
y9
g0 z2
x81
g1 z-0.5 (start d)
y0
x79.5
g2 j2.5 y5
g1 x81
g0 z50
m2
"""


def test_hello_world_by_hand() -> None:
    reading = clean(HELLO, start=(0, 0, 50))
    assert reading.ended
    assert len(reading.kind) == 59
    sweeps = np.degrees(arc_sweeps(reading)[reading.kind >= 2])
    assert sweeps == pytest.approx([270, 360, 360, math.degrees(2 * math.asin(2.5 / 4)), 180], abs=1e-9)
    assert reading.end[:, 0].min() == 0
    assert reading.end[:, 0].max() == 81

    length = lengths(reading)
    level = (reading.kind > 0) & (reading.start[:, 2] == reading.end[:, 2])
    # H, e, l, l, o, w, o, r, l, d, stroke by stroke.
    by_hand = 10 + 7 + 10 + (5 + 2.5 * 1.5 * math.pi + 2.5) + 9 + 9 + 5 * math.pi
    by_hand += 2 * math.hypot(2, 5) + 2 * math.hypot(1.5, 3) + 5 * math.pi
    by_hand += (5 + 1 + 4 * 2 * math.asin(2.5 / 4)) + 9 + (9 + 1.5 + 2.5 * math.pi + 1.5)
    assert length[level].sum() == pytest.approx(by_hand, abs=1e-9)
    assert by_hand == pytest.approx(153.4305, abs=5e-4)
    plunges = (reading.kind == 1) & (reading.end[:, 2] < reading.start[:, 2])
    assert plunges.sum() == 12
    assert length[plunges].sum() == pytest.approx(30)
    rapids = 48 + 11 * 2.5 + 50.5  # down to 2, eleven lifts, up to 50; then from letter to letter
    rapids += 5 + 5 + math.hypot(4, 7.5) + 4 + 6 + 6.5 + math.hypot(12.5, 5) + math.hypot(5.5, 5)
    rapids += 6.5 + math.hypot(4, 4) + 8
    assert length[reading.kind == 0].sum() == pytest.approx(rapids, abs=1e-9)

    figures = summary(reading)
    assert figures["cutting_length_mm"] == pytest.approx(by_hand + 30, abs=1e-9)
    assert figures["rapid_length_mm"] == pytest.approx(rapids, abs=1e-9)
    assert figures["seconds"] == pytest.approx(60 * (by_hand + 30) / 20, abs=1e-9)
    assert figures["seconds"] / 60 == pytest.approx(9.171523, abs=1e-6)
    assert np.allclose(figures["extents_mm"], [[0, 0, -0.5], [81, 10, 50]], atol=1e-12)
    assert figures["feed_mm_per_min"] == [20, 20]
    assert figures["end_mm"] == [79.5 + 1.5, 5, 50]


# Appendix B.3 (table 12, the contour itself) and B.4 (table 13, the path of a cutter of diameter 1 on its left).
CONTOUR = """
g1 x1 y4
g3 x2 y3 i1
g2 x3 y2 j-1
g1 y-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
g2 x2 y3 i0.6 j-0.8
"""
CENTRE_PATH = """
g1 x1.5 y4
g3 x2 y3.5 i0.5
g2 x3.5 y2 j-1.5
g1 y-1
g2 x2 y-2.5 i-1.5
g1 x-2
g2 x-2.9 y0.2 j1.5
g1 x1.1 y3.2
g2 x2 y3.5 i0.9 j-1.2
"""


def test_contour_and_path_of_the_cutters_centre() -> None:
    contour, path = clean(CONTOUR, start=(1, 5, 0)), clean(CENTRE_PATH, start=(1.5, 5, 0))
    arcs = contour.kind >= 2
    assert np.allclose(contour.centre[arcs], path.centre[arcs], atol=1e-6)
    radius = [np.linalg.norm(r.start[arcs] - r.centre[arcs], axis=1) for r in (contour, path)]
    outside = np.where(contour.kind[arcs] == 2, 0.5, -0.5)
    assert np.allclose(radius[1] - radius[0], outside, atol=1e-6)
    assert lengths(contour).sum() == pytest.approx(13 + 2.5 * math.pi, abs=1e-3)
    assert lengths(path).sum() == pytest.approx(13 + 3.25 * math.pi, abs=1e-3)
    assert lengths(path).sum() == pytest.approx(23.2102, abs=1e-4)
