"""How a fault is planted and what must be found of it: kinds of finding, guilty lines, feature and place.

What is expected is known from how a fault is planted, never from what the proof says.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from fault_job import Good
from shapely.geometry.base import BaseGeometry

from sparwright.answers import Verdict
from sparwright.proof.model import ProofFinding

Draw = np.random.Generator
ROOM = 3.0  # a finding of a feature lies within this of its outline, mm
BESIDE = 1.5  # a finding of a spoilt motion lies within this of what the cutter sweeps, mm
# Kinds of finding that tell of a wrong shape: those of metal that is gone or left, and all that a stray motion may hit.
FORM = frozenset(
    {"gouge", "wall", "skin", "floor", "hole size", "hole place", "hole depth", "edge break", "not cut"}
)
HITS = frozenset(
    {"rapid", "clamp", "pad", "bed", "reach", "depth of cut", "shank", "holder", "plunge", "chip", "gouge"}
)


@dataclass(frozen=True)
class Wanted:
    """One finding that tells of a fault. lines: guilty ones by program, None where something was left out and no line is to
    blame. feature: that suffers, None where the fault touches none. place: where on the face, (x, s), None where nowhere.
    caution: whether a caution will do; else it must be no-go.
    """

    checks: frozenset[str]
    lines: dict[str, frozenset[int]] | None
    feature: str | None = None
    place: BaseGeometry | None = None
    caution: bool = False

    def met_by(self, finding: ProofFinding) -> bool:
        """Whether a finding is the one wanted: kind, verdict, line, feature and place, each of them."""
        if finding.verdict is Verdict.GO or (finding.verdict is Verdict.CAUTION and not self.caution):
            return False
        if finding.check not in self.checks:
            return False
        if self.lines is not None and finding.line not in self.lines.get(finding.program, frozenset()):
            return False
        if self.feature is not None and finding.feature != self.feature:
            return False
        return self.place is None or (
            finding.at is not None and bool(self.place.covers(shapely.Point(finding.at[:2])))
        )


@dataclass(frozen=True)
class Planted:
    """Spoiled programs, and findings of which one at least must be made."""

    good: Good
    wanted: tuple[Wanted, ...]


Kind = Callable[[Good, Draw], Planted | None]


def want(
    checks: Iterable[str],
    name: str,
    lines: Iterable[int] | None,
    feature: str | None = None,
    place: BaseGeometry | None = None,
    *,
    caution: bool = False,
) -> Wanted:
    """A finding that is wanted, in one program."""
    found = None if lines is None else {name: frozenset(lines)}
    return Wanted(frozenset(checks), found, feature, place, caution)


def plant(
    good: Good,
    checks: Iterable[str],
    name: str,
    lines: Iterable[int] | None,
    feature: str | None = None,
    place: BaseGeometry | None = None,
    *,
    caution: bool = False,
) -> Planted:
    """A fault that one finding tells of."""
    return Planted(good, (want(checks, name, lines, feature, place, caution=caution),))


def plant_in(
    good: Good,
    done: Good,
    checks: Iterable[str],
    name: str,
    lines: Iterable[int] | None = None,
    features: Iterable[str] | None = None,
    *,
    caution: bool = False,
    room: float = ROOM,
) -> Planted:
    """A fault of several features: a finding of any of them, by a line that works on that same one.

    lines: that may be guilty (None: all that work on the feature); features: None for all the program works on. room: how
    far from the feature the place may lie, mm.
    """
    wanted = []
    allowed = None if lines is None else set(lines)
    for feature in good.features(name) if features is None else features:
        mine = [i for i in good.of(name, feature) if allowed is None or i in allowed]
        wanted.append(want(checks, name, mine, feature, around(good, feature, room), caution=caution))
    return Planted(done, tuple(wanted))


def around(good: Good, feature: str, room: float = ROOM) -> BaseGeometry:
    """Where a finding of a feature may lie."""
    return good.outline(feature).buffer(room)


# --- drawing and changing -------------------------------------------------------------------------------


def pick(rng: Draw, items: Iterable[Any]) -> Any:
    """One of several at random."""
    items = list(items)
    return items[int(rng.integers(len(items)))]


def edit(good: Good, name: str, line: int, change: Callable[[str], str]) -> Good:
    """One line changed."""
    lines = good.lines(name)
    lines[line - 1] = change(lines[line - 1])
    return good.put(name, lines)


def insert(good: Good, name: str, line: int, *texts: str) -> Good:
    """Lines put in before a line."""
    lines = good.lines(name)
    return good.put(name, [*lines[: line - 1], *texts, *lines[line - 1 :]])


def drop(good: Good, name: str, gone: Iterable[int]) -> Good:
    """Lines taken out."""
    gone = set(gone)
    return good.put(name, [t for i, t in enumerate(good.lines(name), 1) if i not in gone])


def add(text: str, letter: str, by: float) -> str:
    """A line with one word's figure raised."""
    return re.sub(rf"{letter}(-?[\d.]+)", lambda m: f"{letter}{float(m[1]) + by:.4f}", text)


def value(text: str, letter: str) -> float | None:
    """The figure of a word of a line."""
    hit = re.search(rf"{letter}(-?[\d.]+)", text)
    return float(hit[1]) if hit else None


def feeds(good: Good, name: str) -> list[int]:
    """Lines that feed (a cycle's lines too)."""
    return [
        i
        for i, t in enumerate(good.lines(name), 1)
        if re.match(r"G[123] ", t) or "G83" in t or re.match(r"X.* Y", t)
    ]


def deeds(good: Good, name: str, *wanted: str, features: Iterable[str] | None = None) -> list[int]:
    """Lines with one of several deeds."""
    return [
        i
        for i, (f, d) in enumerate(good.where[name], 1)
        if d in wanted and (features is None or f in features)
    ]


def arcs(good: Good, name: str, lines: Iterable[int] | None = None) -> list[int]:
    """Of some lines, or of all, those that are arcs."""
    text = good.lines(name)
    return [
        i for i in (range(1, len(text) + 1) if lines is None else lines) if re.match(r"G[23] ", text[i - 1])
    ]


def round_walls(good: Good, name: str) -> list[int]:
    """Arcs of the last lap along walls, but those a helix has been along before, and those between tabs."""
    tabbed = good.layout.window.name if good.layout.window.tab else ""
    able = deeds(good, name, "last wall", "edge")
    return arcs(good, name, [i for i in able if own(good, name, i) not in (good.layout.bore.name, tabbed)])


def own(good: Good, name: str, line: int) -> str:
    """The feature a line works on."""
    return good.where[name][line - 1][0]


# --- where a fault shows --------------------------------------------------------------------------------


def tracks(good: Good, name: str) -> list[np.ndarray]:
    """Way of every line's motion over the face, (m, 2) each, empty where it makes none; absolute millimetres in the plane."""
    at, found = np.full(2, np.nan), []
    for line in good.lines(name):
        text = re.sub(r"\(.*", "", line)
        end = np.array([value(text, "X"), value(text, "Y")], dtype=float)
        end = np.where(np.isnan(end), at, end)
        points = np.array([at, end])
        if re.match(r"G[23] ", text) and "I" in text and not np.isnan(at).any():
            centre = at + np.array([value(text, "I") or 0.0, value(text, "J") or 0.0])
            begin, finish = (math.atan2(*(p - centre)[::-1]) for p in (at, end))
            way = 1 if text.startswith("G3") else -1
            turn = way * (finish - begin) % (2 * math.pi) or 2 * math.pi
            angles = begin + way * np.linspace(0, turn, 25)
            radius = math.hypot(*(at - centre))
            points = np.array([*(centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])), end])
        moved = re.match(r"G[0123] .*[XY]|G98 G83|X", text)
        kept = points[~np.isnan(points).any(axis=1)] if moved else np.empty((0, 2))
        found.append(good.setup.pose.to_face(kept) if len(kept) else kept)
        at = end
    return found


def along(good: Good, name: str, line: int) -> BaseGeometry:
    """The ground that a line's motion takes the holder over."""
    return shapely.LineString(tracks(good, name)[line - 1]).buffer(good.cutter(name).holder / 2 + 1)


def spoilt(good: Good, done: Good, name: str) -> BaseGeometry:
    """The ground swept by motions that are in only one of two versions of a program, each swept as it is."""
    old, new = ([t for t in tracks(g, name) if len(t)] for g in (good, done))
    counts = [Counter(tuple(np.round(t, 3).ravel()) for t in side) for side in (old, new)]
    only = (counts[0] - counts[1]) + (counts[1] - counts[0])
    differ = [t for t in (*old, *new) if tuple(np.round(t, 3).ravel()) in only]
    wide = good.cutter(name).diameter / 2 + BESIDE
    return shapely.union_all([shapely.LineString(np.vstack([t, t[-1:]])).buffer(wide) for t in differ])
