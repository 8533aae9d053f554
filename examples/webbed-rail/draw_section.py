"""Draws section.dxf: a rail of two cells with a web between them and a sharp ridge along each narrow side.

Run it as `python draw_section.py` in this folder after changing a measure. All figures are invented, mm.
"""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path

from ezdxf.addons import r12writer

WIDTH, HEIGHT = 80.0, 40.0
RIDGE = 5.0  # how far a ridge stands out; its sides meet at 90 degrees
OUTER_RADIUS, INNER_RADIUS = 1.5, 2.5
PLATE, SIDE, WEB = 4.0, 3.5, 3.0


def draw(path: Path) -> None:
    """Write the section: the outline as lines and arcs, each cell as a polyline with bulges."""
    with r12writer(path) as dxf:
        _outline(dxf)
        middle = WIDTH / 2
        _cell(dxf, RIDGE + SIDE, middle - WEB / 2)
        _cell(dxf, middle + WEB / 2, WIDTH - RIDGE - SIDE)


def _outline(dxf) -> None:
    left, right, r = RIDGE, WIDTH - RIDGE, OUTER_RADIUS
    low, high = HEIGHT / 2 - RIDGE, HEIGHT / 2 + RIDGE
    runs = [
        [(left + r, 0), (right - r, 0)],
        [(right, r), (right, low), (WIDTH, HEIGHT / 2), (right, high), (right, HEIGHT - r)],
        [(right - r, HEIGHT), (left + r, HEIGHT)],
        [(left, HEIGHT - r), (left, high), (0, HEIGHT / 2), (left, low), (left, r)],
    ]
    for run in runs:
        for start, end in pairwise(run):
            dxf.add_line(start, end, layer="SECTION")
    corners = [
        ((right - r, r), 270),
        ((right - r, HEIGHT - r), 0),
        ((left + r, HEIGHT - r), 90),
        ((left + r, r), 180),
    ]
    for centre, start in corners:
        dxf.add_arc(centre, r, start, start + 90, layer="SECTION")


def _cell(dxf, left: float, right: float) -> None:
    quarter = math.tan(math.pi / 8)
    low, high, r = PLATE, HEIGHT - PLATE, INNER_RADIUS
    points = [
        (left + r, low, 0),
        (right - r, low, quarter),
        (right, low + r, 0),
        (right, high - r, quarter),
        (right - r, high, 0),
        (left + r, high, quarter),
        (left, high - r, 0),
        (left, low + r, quarter),
    ]
    dxf.add_polyline_2d(points, format="xyb", closed=True, layer="SECTION")


if __name__ == "__main__":
    draw(Path(__file__).with_name("section.dxf"))
