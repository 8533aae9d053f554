"""The motions of a program as they are gathered: arrays that grow, filled by either way through a line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

Place = tuple[float, float, float]

# What changes seldom is noted only where it changes: one row of MARK columns, valid from one motion on.
RPM, SPINDLE, TOOL, PLANE, CYCLE, WORK, LENGTH = 0, 1, 2, 3, 4, 5, 8  # WORK takes three columns
MARK = 9


@dataclass(slots=True)
class Tape:
    """Motions so far.

    kind, line, feed, centre: room for as many motions as `path` has rows, less one. path: the start and every
    end. count: motions held. marks_at, marks: the motion from which a row of slow state holds; mark_count rows.
    """

    kind: np.ndarray
    line: np.ndarray
    feed: np.ndarray
    centre: np.ndarray
    path: np.ndarray
    marks_at: np.ndarray
    marks: np.ndarray
    count: int = 0
    mark_count: int = 0

    @classmethod
    def sized(cls, motions: int, start: Place) -> Tape:
        """An empty tape with room for so many motions, which begin at `start`."""
        path = np.empty((motions + 1, 3))
        path[0] = start
        return cls(
            kind=np.empty(motions, np.int8),
            line=np.empty(motions, np.int64),
            feed=np.empty(motions),
            centre=np.empty((motions, 3)),
            path=path,
            marks_at=np.empty(256, np.int64),
            marks=np.empty((256, MARK)),
        )

    def make_room(self) -> None:
        """Room for one motion more and one mark more, by doubling."""
        if self.count >= len(self.kind):
            for name in ("kind", "line", "feed", "centre", "path"):
                setattr(self, name, _doubled(getattr(self, name)))
        if self.mark_count >= len(self.marks_at):
            self.marks_at, self.marks = _doubled(self.marks_at), _doubled(self.marks)

    def mark(self, state: tuple[float, ...]) -> None:
        """Note the slow state for the motions from here on, where it is not the one noted last."""
        at = self.mark_count
        if at and tuple(self.marks[at - 1].tolist()) == state:
            return
        if at >= len(self.marks_at):
            self.make_room()
        self.marks_at[at], self.marks[at] = self.count, state
        self.mark_count = at + 1

    def add(self, kind: int, line: int, end: Place, feed: float, centre: Place) -> None:
        """Add one motion; the centre of a straight one is three nan."""
        at = self.count
        if at >= len(self.kind):
            self.make_room()
        self.kind[at], self.line[at], self.feed[at] = kind, line, feed
        self.centre[at], self.path[at + 1] = centre, end
        self.count = at + 1


def _doubled(array: np.ndarray) -> np.ndarray:
    return np.concatenate([array, np.empty_like(array, shape=(max(len(array), 16), *array.shape[1:]))])
