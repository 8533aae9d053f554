"""Words of the compiled kernels: maps, sweeps, cutters, metal, and what guards their compiled code.

A height map holds, for every cell over a face, how high the first metal stands: rows run along the member
(x), row j at s, cell i at x; `AIR` where there is none. A sweep is one move of a cutter: a straight line or an
arc of at most half a turn, level or rising or falling. Heights n are over the face, mm, negative in the metal.

Kernels of one module call those of another, so what is compiled is kept under a key that holds the text of every
module of this folder: a change in any of them can only ever meet an empty folder (see compiled.py).
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

import numpy as np

from sparwright.compiled import kernel_compiler

SOURCES = tuple(str(path) for path in sorted(Path(__file__).parent.glob("*.py")))

kernel = kernel_compiler(*SOURCES)
inner = kernel_compiler(*SOURCES, inner=True, borrows=True)
summing = kernel_compiler(
    *SOURCES, inner=True, reorder=True, borrows=True
)  # sums may be added up in any order

LINE, ARC = 0, 1
FLAT, BALL, CONE = 0, 1, 2
AIR = np.float32(-1e6)
CHORD = 0.002  # greatest sag of the chords that stand for rising arcs of pointed and ball cutters, mm
RAYS = 64  # directions looked at over the leading half circle of a cutter
AHEAD = np.cos(np.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5))
ASIDE = np.sin(np.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5))


class Grid(NamedTuple):
    """Cells of a height map: left end of the first cell along x, along s, and the cell size, mm."""

    x0: float
    s0: float
    cell: float


class Sweeps(NamedTuple):
    """k moves of cutters. kind: LINE or ARC. tool: index into Tools. start, end: (k, 3) of (x, s, n).
    centre: (k, 2) of arcs. turn: (k,) signed angle of arcs, +counter-clockwise, at most pi. rapid: bool.
    joined: bool, the sweep before ended where this one starts, level, with the same cutter.
    """

    kind: np.ndarray
    tool: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    turn: np.ndarray
    rapid: np.ndarray
    joined: np.ndarray


class Tools(NamedTuple):
    """Cutters as stacked shapes, one entry each, mm. form: FLAT, BALL or CONE. radius: of the cutting part.
    tip: radius of a cone's flat point. slope: rise of a cone's flank over radius. flute: cutting length.
    shank: radius above the flutes. stick: tip to holder. holder: radius of the holder.
    """

    form: np.ndarray
    radius: np.ndarray
    tip: np.ndarray
    slope: np.ndarray
    flute: np.ndarray
    shank: np.ndarray
    stick: np.ndarray
    holder: np.ndarray


class Metal(NamedTuple):
    """Where the stock holds metal, for counting what is cut away.

    tops, bottoms: (rows, m) float32 intervals of each row, outermost first; with m = 0 nothing is counted. first, past:
    the columns counted, from and one past.
    """

    tops: np.ndarray
    bottoms: np.ndarray
    first: int
    past: int


class Buckets(NamedTuple):
    """Sweeps by place: square buckets, `first[b]` to `first[b + 1]` index `sweep`. hull: (k, 4) of all sweeps, the
    middle (x, s) and radius of a disc that holds all it cuts, and how deep its tip goes.
    """

    x0: float
    s0: float
    size: float
    across: int
    first: np.ndarray
    sweep: np.ndarray
    hull: np.ndarray


# --- cutter shapes --------------------------------------------------------------------------------------


@inner
def span(a, b):
    """Length of the vector (a, b): a root, several times as fast as a hypotenuse that minds overflow."""
    return math.sqrt(a * a + b * b)
