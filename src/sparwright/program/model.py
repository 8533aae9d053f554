"""Programs as text and programs as read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sparwright.program import tape


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
class Motion:
    """One motion of a Reading, taken out of its arrays; the fields mean what they mean there."""

    kind: int
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    centre: tuple[float, float, float] | None
    plane: int
    feed: float
    rpm: float
    spindle: int
    tool: int
    line: int
    cycle: int


@dataclass(frozen=True)
class Reading:
    """A program as the reader understood it: every motion in machine coordinates, mm, as arrays of length k.

    kind: int8; 0 rapid, 1 straight feed, 2 arc clockwise, 3 arc counter-clockwise (seen along the plane's axis).
    path: (k + 1, 3); the start and the end of every motion; `start` and `end` are views of it. centre: (k, 3),
    arcs only, else nan. feed: mm/min, nan where none was set. line: program line. marks_at, marks: the motions
    from which a row of slow state holds (columns as in tape.py), spread by the properties below when they are
    asked for. stops: lines where the program waits for the operator. messages: line and text of each (MSG, ...)
    comment. passed: line and words that were passed over as the caller wished; none of them is carried out, so
    what they would do is not known. An arc that ends where it starts is a full turn; its centre lies on the
    arc's axis at the height of its start.
    """

    blocks: int
    kind: np.ndarray
    path: np.ndarray
    centre: np.ndarray
    feed: np.ndarray
    line: np.ndarray
    marks_at: np.ndarray
    marks: np.ndarray
    dwell_seconds: float
    ended: bool
    errors: tuple[ReadError, ...] = ()
    stops: tuple[int, ...] = ()
    rapid: float | None = None
    messages: tuple[tuple[int, str], ...] = ()
    passed: tuple[tuple[int, str], ...] = ()

    @property
    def start(self) -> np.ndarray:
        """Where each motion starts, (k, 3)."""
        return self.path[:-1]

    @property
    def end(self) -> np.ndarray:
        """Where each motion ends, (k, 3)."""
        return self.path[1:]

    @property
    def end_position(self) -> tuple[float, float, float]:
        """Where the tip stands at the end."""
        x, y, z = self.path[-1].tolist()
        return (x, y, z)

    @cached_property
    def plane(self) -> np.ndarray:
        """Plane of arcs, 17, 18 or 19, int8 (k,)."""
        return self._spread(tape.PLANE, np.int8)

    @cached_property
    def rpm(self) -> np.ndarray:
        """Spindle speed word, (k,)."""
        return self._spread(tape.RPM, np.float64)

    @cached_property
    def spindle(self) -> np.ndarray:
        """0 off, 1 clockwise, -1 counter-clockwise, int8 (k,)."""
        return self._spread(tape.SPINDLE, np.int8)

    @cached_property
    def tool(self) -> np.ndarray:
        """Tool number, 0 before any, int32 (k,)."""
        return self._spread(tape.TOOL, np.int32)

    @cached_property
    def length(self) -> np.ndarray:
        """Number of the tool length that G43 put in force, 0 for none, int32 (k,)."""
        return self._spread(tape.LENGTH, np.int32)

    @cached_property
    def cycle(self) -> np.ndarray:
        """The canned cycle that made the motion (81, 82, ...), 38 for a probing move, else 0, int8 (k,)."""
        return self._spread(tape.CYCLE, np.int8)

    @cached_property
    def work(self) -> np.ndarray:
        """Offset taken off to reach work coordinates of each motion, mm, (k, 3)."""
        return self._spread(slice(tape.WORK, tape.WORK + 3), np.float64)

    def _spread(self, column: int | slice, dtype: type) -> np.ndarray:
        rows: np.ndarray = self.marks[:, column].astype(dtype)
        count = len(self.kind)
        if count and (rows == rows[0]).all():  # one row stands for all, which takes no room
            return np.broadcast_to(rows[0], (count, *rows.shape[1:]))
        return np.repeat(rows, np.diff(np.append(self.marks_at, count)), axis=0)

    def motion(self, k: int) -> Motion:
        """Motion k as one object."""
        mark = self.marks[np.searchsorted(self.marks_at, k, side="right") - 1]
        (x0, y0, z0), (x1, y1, z1) = self.path[k : k + 2].tolist()
        cx, cy, cz = self.centre[k].tolist()
        return Motion(
            kind=int(self.kind[k]),
            start=(x0, y0, z0),
            end=(x1, y1, z1),
            centre=(cx, cy, cz) if self.kind[k] >= 2 else None,
            plane=int(mark[tape.PLANE]),
            feed=float(self.feed[k]),
            rpm=float(mark[tape.RPM]),
            spindle=int(mark[tape.SPINDLE]),
            tool=int(mark[tape.TOOL]),
            line=int(self.line[k]),
            cycle=int(mark[tape.CYCLE]),
        )

    def motions(self) -> Iterator[Motion]:
        """All motions as objects, made one at a time."""
        return (self.motion(k) for k in range(len(self.kind)))
