"""One period of the pocket pattern: which outlines are cut from which faces, to which depth."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.affinity import scale, translate
from shapely.geometry import Polygon

from sparwright.answers import BadInput
from sparwright.stock.model import Face, FieldBay, Section

# Greatest stretch along x that brings two pitches to one period, as a share of the pitch.
MISFIT = 0.01
# Most pitches of one field in a period.
MOST_PITCHES = 4
# Least metal between two pockets and under one, mm: what the mesher can be trusted with.
LEAST_RIB, LEAST_SKIN = 0.1, 0.05
# Common area from which two outlines overlap and do not only touch, mm².
OVERLAP = 1e-6
# Least distance of a cutting plane from a pocket's end, as a share of the period.
CLEAR_PLANE = 0.01
# How far a through cut runs past the far side of the wall, mm.
PAST_WALL = 0.2


class BayError(BadInput):
    """The pattern has no single period, or its solid could not be meshed; the message says why and what to do."""


@dataclass(frozen=True)
class Cut:
    """One pocket: its outline in (x, s) of `face`, x within a period or across its ends; depth in mm."""

    face: Face
    outline: Polygon
    depth: float


@dataclass(frozen=True)
class Pattern:
    """All cuts of one period, mm; misfit: greatest relative stretch that gave the fields one period."""

    period: float
    misfit: float
    cuts: tuple[Cut, ...]

    def shifted(self, by: float) -> Pattern:
        """The same pattern cut open at another plane, `by` of a period further along x."""
        moved = tuple(replace(c, outline=translate(c.outline, -by * self.period)) for c in self.cuts)
        return replace(self, cuts=moved)

    def clear_shift(self, by: float) -> float:
        """The first share of the period from `by` on where a plane runs well clear of every pocket's end."""
        ends = np.array([x for c in self.cuts for x in (c.outline.bounds[0], c.outline.bounds[2])])
        for shift in by + np.arange(0.0, 1.0, CLEAR_PLANE):
            away = ends / self.period - shift
            if np.all(np.abs(away - np.round(away)) > CLEAR_PLANE):
                return float(shift)
        return by

    def copies(self) -> tuple[Cut, ...]:
        """Every copy of every cut that reaches into 0..period: those across an end are at both ends."""
        out = []
        for cut in self.cuts:
            low, _, high, _ = cut.outline.bounds
            first = math.floor(-high / self.period + 1e-9) + 1
            last = math.ceil((self.period - low) / self.period - 1e-9) - 1
            for turn in range(first, last + 1):
                out.append(replace(cut, outline=translate(cut.outline, turn * self.period)))
        return tuple(out)


def stretches(bays: tuple[FieldBay, ...]) -> tuple[tuple[FieldBay, ...], ...]:
    """Sets of fields met together along x, those that are part of another set left out.

    A stretch shorter than half the shortest pitch there (fields that end a little apart) is passed over.
    """
    stations = sorted({x for b in bays for x in b.span})
    sets: list[tuple[FieldBay, ...]] = []
    for low, high in pairwise(stations):
        met = tuple(b for b in bays if b.span[0] <= low and b.span[1] >= high)
        if met and high - low >= min(b.pitch for b in met) / 2 and met not in sets:
            sets.append(met)
    return tuple(a for a in sets if not any(set(map(id, a)) < set(map(id, b)) for b in sets))


def check_pockets(pattern: Pattern, bays: tuple[FieldBay, ...]) -> None:
    """Raises BayError where pockets overlap or all but touch, or a skin is thinner than a mesh can bear."""
    thin = min(bays, key=lambda b: b.skin if b.skin > 0 else math.inf)
    if 0 < thin.skin < LEAST_SKIN:
        raise BayError(
            f"a skin of {thin.skin:g} mm under {thin.field} on {thin.face} is thinner than the mesh can bear; "
            f"allowed: 0 (a window) or at least {LEAST_SKIN:g} mm. Leave more skin, or take it out"
        )
    for name, gap in _least_gaps(pattern):
        raise BayError(
            f"pockets on {name} {'overlap or touch' if gap <= 0 else f'are only {gap:.4f} mm apart'}; "
            f"allowed: at least {LEAST_RIB:g} mm of metal between them. Make the rib wider or the pockets smaller"
        )


def check_features(pattern: Pattern) -> None:
    """Raises BayError where holes or pockets all but touch, which no mesh can bear; they may overlap."""
    for name, gap in _least_gaps(pattern):
        if gap >= 0:
            raise BayError(
                f"holes or pockets on {name} are only {gap:.4f} mm apart; allowed: at least {LEAST_RIB:g} mm of metal "
                "between them, or none. Move one of them"
            )


def _least_gaps(pattern: Pattern) -> Iterator[tuple[str, float]]:
    """Faces on which cuts lie closer than LEAST_RIB, and the least distance of two that do without overlapping, mm; -1: all such overlap."""
    for name in dict.fromkeys(c.face.name for c in pattern.cuts):
        own = [c.outline for c in pattern.cuts if c.face.name == name]
        turns = [translate(o, turn * pattern.period) for o in own for turn in (-1, 0, 1)]
        first, second = shapely.STRtree(turns).query(own, predicate="dwithin", distance=LEAST_RIB)
        # The copies of an outline follow one another; the one in the middle is itself.
        apart = second != 3 * first + 1
        if apart.any():
            gaps = [_gap(own[i], turns[j]) for i, j in zip(first[apart], second[apart], strict=True)]
            yield name, min((g for g in gaps if g >= 0), default=-1.0)


def _gap(a: Polygon, b: Polygon) -> float:
    """Distance of two outlines, mm; -1 where they overlap."""
    return -1.0 if a.intersection(b).area > OVERLAP else float(a.distance(b))


@dataclass(frozen=True)
class Period:
    """A period for several fields: mm, the number of pitches of each in it, and its share in the answer."""

    length: float
    counts: tuple[int, ...]
    share: float = 1.0


def field_pattern(section: Section, bays: tuple[FieldBay, ...], *, windows: bool) -> Pattern:
    """The pattern of fields that lie on the same stretch; windows: with the skins taken out too.

    Raises BayError where the fields share no period.
    """
    period = _shared(bays)
    if period is None:
        raise BayError(_no_period(bays))
    return _laid(section, bays, period, windows)


def field_patterns(
    section: Section, bays: tuple[FieldBay, ...], *, windows: bool
) -> tuple[tuple[Pattern, float], ...]:
    """The patterns whose constants, in these shares, are those of fields on the same stretch; see periods."""
    found = periods(bays)
    laid = [_laid(section, bays, period, windows) for period in found]
    if len(laid) > 1:  # what the stretch does is interpolated away; the rest of it is the caller's to state
        laid = [replace(pattern, misfit=0.0) for pattern in laid]
    return tuple((pattern, period.share) for pattern, period in zip(laid, found, strict=True))


def periods(bays: tuple[FieldBay, ...]) -> tuple[Period, ...]:
    """The period the fields share, or two that bracket it.

    Fields of two pitches without a common period: those of the one pitch keep it, those of the other are
    stretched to the nearest period below and above, and the shares interpolate to no stretch at all. The pitch
    that is kept is that of the fields with most metal out. Raises BayError for more than two such pitches,
    or where a bracket is wider than BRACKET.
    """
    shared = _shared(bays)
    if shared is not None:
        return (shared,)
    kept = max(bays, key=lambda b: sum(o.area for o in b.outlines) * b.depth / b.pitch).pitch
    others = [b.pitch for b in bays if abs(b.pitch / kept - 1) > MISFIT]
    if max(others) / min(others) - 1 > MISFIT:
        raise BayError(_no_period(bays))
    counts = range(1, MOST_PITCHES + 1)
    # Stretch of the other fields, pitches kept, pitches of the others; fewest pitches first.
    choices = sorted(
        ((n * kept / (m * others[0]) - 1, n, m) for n in counts for m in counts), key=lambda c: c[1]
    )
    above = min((c for c in choices if c[0] > 0), key=lambda c: c[0], default=None)
    below = max((c for c in choices if c[0] < 0), key=lambda c: c[0], default=None)
    if above is None or below is None:
        raise BayError(_no_period(bays))
    share = above[0] / (above[0] - below[0])
    return tuple(
        Period(n * kept, tuple(n if abs(b.pitch / kept - 1) <= MISFIT else m for b in bays), part)
        for (_, n, m), part in ((below, share), (above, 1 - share))
    )


def _shared(bays: tuple[FieldBay, ...]) -> Period | None:
    """The shortest period of at most MOST_PITCHES pitches that fits every field within MISFIT."""
    for first in range(1, MOST_PITCHES + 1):
        period = first * bays[0].pitch
        counts = tuple(max(1, round(period / b.pitch)) for b in bays)
        if all(
            n <= MOST_PITCHES and abs(period / (n * b.pitch) - 1) <= MISFIT
            for n, b in zip(counts, bays, strict=True)
        ):
            return Period(period, counts)
    return None


def _no_period(bays: tuple[FieldBay, ...]) -> str:
    named = ", ".join(f"{b.field} on {b.face} {b.pitch:.3f} mm" for b in bays)
    return (
        f"the fields that lie over the same stretch share no period along the member: pitches {named}; "
        f"up to {MOST_PITCHES} pitches of each may make one period, within {100 * MISFIT:.0f} %, and of two pitches "
        f"neither may be more than {MOST_PITCHES} times the other. "
        "Give them the same cell and rib, or pitches in a simple ratio such as 1 : 2"
    )


def _laid(section: Section, bays: tuple[FieldBay, ...], period: Period, windows: bool) -> Pattern:
    """The fields over one period, each stretched along x to fill it."""
    cuts: list[Cut] = []
    misfit = 0.0
    for bay, count in zip(bays, period.counts, strict=True):
        stretch = period.length / (count * bay.pitch)
        misfit = max(misfit, abs(stretch - 1))
        through = windows or bay.skin <= 0
        depth = bay.depth + max(bay.skin, 0.0) + PAST_WALL if through else bay.depth
        offset = bay.span[0] - bays[0].span[0]
        for outline in bay.outlines:
            for k in range(count):
                placed = scale(translate(outline, k * bay.pitch), stretch, 1.0, origin=(0, 0))
                cuts.append(Cut(section.face(bay.face), translate(placed, offset), depth))
    return Pattern(period.length, misfit, tuple(cuts))
