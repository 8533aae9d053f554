"""Putting paths together move by move."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparwright.cutting.model import ARC_CCW, LINE, RAPID, Path
from sparwright.cutting.paths_outline import TINY, Segment

NEAR = 0.3  # mm over metal or a cut floor where a quick descent changes to a cutting feed
RAMP = 4.0  # degrees of helix and ramp entries; 2 to 5 is common practice, no source
Point3 = tuple[float, float, float]


@dataclass(frozen=True)
class Rates:
    """Speeds and heights a path is drawn with: feed and plunge mm/min, `quick` down through air mm/min, and the
    clearance height over the face, mm."""

    feed: float
    plunge: float
    quick: float
    clearance: float


class Trace:
    """A path while it is being drawn: each call adds moves from where the last one ended."""

    def __init__(self, x: float, s: float, n: float) -> None:
        self.start: Point3 = (x, s, n)
        self.here: Point3 = self.start
        self._rows: list[tuple[int, Any, Any, float]] = []

    def rapid(self, x: float, s: float, n: float) -> None:
        """A rapid move."""
        self._add(RAPID, (x, s, n), (math.nan, math.nan), math.nan)

    def line(self, x: float, s: float, n: float, feed: float) -> None:
        """A straight move at `feed` mm/min."""
        self._add(LINE, (x, s, n), (math.nan, math.nan), feed)

    def arc(self, end: Point3, centre: tuple[float, float], feed: float) -> None:
        """A counter-clockwise arc of less than a full turn."""
        self._rows.append((ARC_CCW, end, centre, feed))
        self.here = end

    def down(self, n: float, feed: float) -> None:
        """Straight down or up at `feed`."""
        self.line(self.here[0], self.here[1], n, feed)

    def lift(self, n: float) -> None:
        """Straight up at rapid speed."""
        self.rapid(self.here[0], self.here[1], n)

    def follow(self, chain: Sequence[Segment], feeds: float | Sequence[float]) -> None:
        """Along a chain of segments that starts here, level; one feed for all or one each."""
        n = self.here[2]
        each = [feeds] * len(chain) if isinstance(feeds, int | float) else feeds
        for seg, feed in zip(chain, each, strict=True):
            if seg.centre is None:
                self.line(*seg.end, n, feed)
                continue
            for part in seg.split(0.5) if seg.sweep > math.pi + 1e-9 else (seg,):
                self.arc((*part.end, n), seg.centre, feed)

    def extend(self, path: Path) -> None:
        """All moves of a path that starts here; ValueError where it starts elsewhere."""
        if math.dist(self.here, path.start) > 1e-6:
            raise ValueError(f"a path from {path.start} cannot go on from {self.here}")
        for kind, end, centre, feed in zip(path.kind, path.end, path.centre, path.feed, strict=True):
            self._rows.append((int(kind), tuple(map(float, end)), tuple(map(float, centre)), float(feed)))
        if len(path.kind):
            self.here = self._rows[-1][1]

    def path(self) -> Path:
        """The path drawn so far."""
        k = len(self._rows)
        return Path(
            start=np.array(self.start),
            kind=np.array([r[0] for r in self._rows], dtype=np.int8),
            end=np.array([r[1] for r in self._rows], dtype=float).reshape(k, 3),
            centre=np.array([r[2] for r in self._rows], dtype=float).reshape(k, 2),
            feed=np.array([r[3] for r in self._rows], dtype=float),
        )

    def _add(self, kind: int, end: Point3, centre: tuple[float, float], feed: float) -> None:
        if math.dist(end, self.here) > TINY:
            self._rows.append((kind, end, centre, feed))
            self.here = end


def joined(paths: Sequence[Path]) -> Path:
    """Paths run one after the other; each must start where the one before ended (ValueError where it does not)."""
    for a, b in itertools.pairwise(paths):
        gap = float(np.max(np.abs(last_point(a) - b.start)))
        if gap > 1e-6:
            raise ValueError(f"the paths are {gap:.4f} mm apart where they should join")
    return Path(
        start=paths[0].start,
        kind=np.concatenate([p.kind for p in paths]),
        end=np.concatenate([p.end for p in paths]),
        centre=np.concatenate([p.centre for p in paths]),
        feed=np.concatenate([p.feed for p in paths]),
    )


def last_point(path: Path) -> np.ndarray:
    """Where a path ends, (3,)."""
    return path.end[-1] if len(path.kind) else path.start


def lifted(path: Path, before: float, after: float) -> Path:
    """The path with straight rapid moves added so that it starts at height `before` and ends at `after`."""
    start, end = path.start.copy(), last_point(path).copy()
    head, tail = [], []
    if abs(start[2] - before) > TINY:
        head, start[2] = [path.start], before
    if abs(end[2] - after) > TINY:
        end[2] = after
        tail = [end]
    moves = len(head), len(tail)
    nan2 = np.full((1, 2), np.nan)
    return Path(
        start=start,
        kind=np.concatenate(
            [np.full(moves[0], RAPID, np.int8), path.kind, np.full(moves[1], RAPID, np.int8)]
        ),
        end=np.concatenate([np.reshape(head, (-1, 3)), path.end, np.reshape(tail, (-1, 3))]),
        centre=np.concatenate([nan2[: moves[0]], path.centre, nan2[: moves[1]]]),
        feed=np.concatenate([np.full(moves[0], np.nan), path.feed, np.full(moves[1], np.nan)]),
    )


def ramp_pitch(radius: float) -> float:
    """Fall in one turn of a helix of `radius` at the ramp angle RAMP, mm."""
    return 2 * math.pi * radius * math.tan(math.radians(RAMP))
