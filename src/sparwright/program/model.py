"""Programs as text and programs as read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Program:
    """One program for the machine. digest: SHA-256 of its bytes. cutters: tool numbers in order. minutes: planned."""

    name: str
    side: str
    cutters: tuple[int, ...]
    text: str
    digest: str
    minutes: float
    extents: tuple[tuple[float, float, float], tuple[float, float, float]]


@dataclass(frozen=True)
class ReadError:
    """What is wrong with a program, and on which line (from 1)."""

    line: int
    message: str


@dataclass(frozen=True)
class Reading:
    """A program as the reader understood it: every motion in machine coordinates, mm, as arrays of length k.

    kind: int8; 0 rapid, 1 straight feed, 2 arc clockwise, 3 arc counter-clockwise (seen along the plane's axis).
    start, end: (k, 3). centre: (k, 3), arcs only, else nan. plane: int8; 17, 18, 19.
    feed: mm/min, nan where none was set. rpm: spindle speed word. spindle: int8; 0 off, 1 clockwise, -1 counter-
    clockwise. tool: number, 0 before any. line: program line. work: (k, 3) offset taken off to reach work coordinates of that motion.
    cycle: int8; the canned cycle that made the motion (81, 82, ...) or 0. seconds: nominal time, length over feed,
    rapids at `rapid` mm/min where given, plus dwells. stops: lines where the program waits for the operator.
    messages: line and text of each (MSG, ...) comment. An arc that ends where it starts is a full turn; its centre
    lies on the arc's axis at the height of its start.
    """

    blocks: int
    kind: np.ndarray
    start: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    plane: np.ndarray
    feed: np.ndarray
    rpm: np.ndarray
    spindle: np.ndarray
    tool: np.ndarray
    line: np.ndarray
    cycle: np.ndarray
    work: np.ndarray
    dwell_seconds: float
    end_position: tuple[float, float, float]
    ended: bool
    errors: tuple[ReadError, ...]
    stops: tuple[int, ...]
    rapid: float | None = None
    messages: tuple[tuple[int, str], ...] = ()
