"""The pose for the whole job: every side's cuts and the pads' in one pose line, against reach and uprights."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Bed
from sparwright.placing.chosen import Chooser, uprights_of
from sparwright.placing.fit import (
    EQUAL,
    Lie,
    Search,
    hull,
    margin_between_uprights,
    search,
    search_reach,
    sides_that_hold,
    upright_gaps,
)
from sparwright.placing.lying import Lying
from sparwright.placing.pads import Arrangement, Bench, arrangements, pad_positions
from sparwright.placing.reach import Needed, gathered
from sparwright.placing.stations import Stations, TooLong, plan_stations

ROOM = 2.0
"""Margin over the wanted one that is kept for the lead-ins of the pads' cuts where it can be had, mm."""


@dataclass(frozen=True)
class Fitted:
    """The chosen arrangement (None where the pads cannot be cut in place), the search over all that is then needed, and
    the search over the features alone. needed: all positions in (x, t). lie: the pose that is cut in. asked: whether the
    job itself named it."""

    arrangement: Arrangement | None
    found: Search
    features: Search
    needed: Needed
    lie: Lie
    asked: bool


def common_needed(lyings: Sequence[Lying]) -> Needed:
    """Cutter-centre positions of all sides in (x, t)."""
    return gathered(y.needed.shifted(-y.centre) for y in lyings)


def body_corners(length: float, lyings: Sequence[Lying]) -> np.ndarray:
    """Corners of the member seen from above in (x, t), all sides together, shape (4, 2)."""
    low = min(y.body[0] - y.centre for y in lyings)
    high = max(y.body[1] - y.centre for y in lyings)
    return np.array([(0, low), (length, low), (length, high), (0, high)], dtype=float)


def _thresholds(wanted: float, alone: float) -> tuple[tuple[float, bool], ...]:
    """Margins to ask for in turn, and whether screws' holes by hand may pay for them."""
    asked = min(wanted, alone)
    return ((min(wanted + ROOM, alone), False), (asked, True), (min(asked, 0.0), True))


def fit_job(bench: Bench) -> Fitted:
    """The pose to cut in, for the best liked arrangement whose margin does.

    Arrangements are tried in the order they are liked: first with room for lead-ins over the wanted margin, then with the
    wanted margin, then with any. Where the features alone do not fit, or no pads' slots do, the features are fitted
    alone.
    """
    bed, lyings = bench.job.bed, bench.lyings
    reach, uprights = (bed.reach[0], bed.reach[1]), uprights_of(bed)
    features = common_needed(lyings)
    body = body_corners(bench.member.length, lyings)
    chooser = Chooser(bench.placing, bed, body)
    alone = search(features.points, body, reach, uprights)
    lie_alone = chooser.choose(features.points, alone)
    unpadded = Fitted(None, alone, alone, features, lie_alone, chooser.asked)
    if lie_alone.margin < 0:
        return unpadded
    corners = hull(features.points)
    tried: list[tuple[Arrangement, Needed, float]] = []
    source = arrangements(bench)

    def each() -> Iterator[tuple[Arrangement, Needed, float]]:
        yield from tried
        for a in source:
            pads = pad_positions(bench, a)
            margin = search_reach(np.vstack([corners, pads.points]), reach).best.margin
            tried.append((a, pads, margin))
            yield tried[-1]

    for asked, by_hand in _thresholds(bench.placing.margin, lie_alone.margin):
        for a, pads, margin in each():
            if margin < asked - EQUAL or (a.by_hand and not by_hand):
                continue
            needed = gathered([features, pads])
            found = search(needed.points, body, reach, uprights)
            lie = chooser.choose(needed.points, found)
            if lie.margin >= asked - EQUAL:
                return Fitted(a, found, alone, needed, lie, chooser.asked)
    return unpadded


def limited_by(fitted: Fitted, lie: Lie, body: np.ndarray, bed: Bed) -> str:
    """What holds a lie's margin, in plain words that follow "limited by"."""
    held = sides_that_hold(lie, fitted.needed.points, (bed.reach[0], bed.reach[1]))
    near = lie.margin + 1e-3
    words = []
    for axis, low, high in (("X", "left", "right"), ("Y", "front", "back")):
        if min(held[low][0], held[high][0]) <= near:
            first, second = (fitted.needed.names[held[k][1]] for k in (low, high))
            words.append(f"the reach along {axis} ({first} {low}, {second} {high})")
    left, right = upright_gaps(lie, body, uprights_of(bed))
    if min(left, right) <= near:
        words.append("the member's body between the uprights")
    return " and ".join(words)


def stations_for(bench: Bench) -> tuple[Stations | None, str]:
    """Stations with the member fed straight along Y or X, the fewer; or None, and in words why or how."""
    bed, member = bench.job.bed, bench.member
    features = common_needed(bench.lyings)
    spans: dict[str, tuple[float, float]] = {}
    for name, (x, _) in zip(features.names, features.points, strict=True):
        low, high = spans.get(name, (math.inf, -math.inf))
        spans[name] = (min(low, float(x)), max(high, float(x)))
    across = float(np.ptp(features.points[:, 1]))
    body = body_corners(member.length, bench.lyings)
    best: Stations | None = None
    words = "the features are wider than the reach across the feed: lay the member along the longer reach, or use a larger machine"
    for axis, other, passes in (
        ("Y", 0, float(np.ptp(body[:, 1])) <= bed.throat),
        ("X", 1, member.length <= bed.throat),
    ):
        if not passes or across > bed.reach[other]:
            continue
        window = bed.reach[1 - other] - 2 * bench.placing.margin
        try:
            plan = plan_stations(list(spans.values()), window, member.length)
        except TooLong as fault:
            words = str(fault)
            continue
        if best is None or len(plan.ranges) < len(best.ranges):
            best = plan
            words = f"fed straight along {axis}, {window:.0f} mm to a station"
    return best, words


def straight_margin(bench: Bench) -> tuple[float, str]:
    """Margin of the features with the member lying straight along X or Y, the better, and which."""
    bed = bench.job.bed
    features = hull(common_needed(bench.lyings).points)
    body = body_corners(bench.member.length, bench.lyings)
    margins, _ = margin_between_uprights(
        features, body, (bed.reach[0], bed.reach[1]), uprights_of(bed), np.array([0.0, math.pi / 2])
    )
    i = int(margins.argmax())
    return float(margins[i]), "XY"[i]


def judged(value: float, wanted: float) -> Verdict:
    """No-go below zero, caution below what is wanted."""
    if value < 0:
        return Verdict.NO_GO
    return Verdict.GO if value >= wanted - EQUAL else Verdict.CAUTION


def _where_it_misses(fitted: Fitted) -> str:
    """The head of the sentence on a pose that does not do."""
    degrees, missing = math.degrees(fitted.lie.angle), -fitted.lie.margin
    if not fitted.asked:
        return f"Even at the best angle, {degrees:.2f}°, {missing:.3g} mm are missing at each end"
    head = f"Where the job puts it (placing.angle, placing.at: {degrees:.2f}°) {missing:.3g} mm are missing"
    best = fitted.found.best
    if best.margin < 0:
        return f"{head}, and no pose does: even at {math.degrees(best.angle):.2f}° {-best.margin:.3g} mm are missing"
    return f"{head}; take the two keys out and it fits with {best.margin:.3g} mm to spare"


def fit_findings(bench: Bench, fitted: Fitted) -> tuple[Finding, ...]:
    """Question 2: reach, straight lie, uprights."""
    wanted = bench.placing.margin
    best = fitted.lie
    degrees = math.degrees(best.angle)
    straight, axis = straight_margin(bench)
    body = body_corners(bench.member.length, bench.lyings)
    out = []
    verdict = judged(best.margin, wanted)
    held = f"Limited by {limited_by(fitted, best, body, bench.job.bed)}."
    why = f"At {degrees:.2f}° every cut lies in the reach, the nearest {best.margin:.3g} mm from its end. {held}"
    if verdict is Verdict.NO_GO:
        why = f"{_where_it_misses(fitted)}. {held} Shorten what is cut, keep cuts further from the ends and edges, or use a larger machine."
    elif verdict is Verdict.CAUTION:
        why += f" Less than the {wanted:g} mm wanted: set up with care, or keep cuts further from the ends."
    out.append(
        Finding("cuts in the reach", verdict, best.margin, "mm", wanted, best.margin - wanted, why=why)
    )
    if fitted.found is not fitted.features:
        alone = fitted.features.best
        best_of_all = fitted.found.best
        out.append(
            Finding(
                "greatest margin of any pose",
                Verdict.GO,
                best_of_all.margin,
                "mm",
                why=f"The best pose, at {math.degrees(best_of_all.angle):.2f}°, leaves {best_of_all.margin:.3g} mm. {_why_this_pose(fitted)}",
            )
        )
        out.append(
            Finding(
                "cuts in the reach without the pads' own",
                Verdict.GO,
                alone.margin,
                "mm",
                why=f"The features alone would leave {alone.margin:.3g} mm at {math.degrees(alone.angle):.2f}°. "
                "The pads' slots, holes and stop take the rest.",
            )
        )
    if straight >= 0:
        text = f"Lying straight along {axis} would do too, with {straight:.3g} mm to spare."
        if math.isclose(math.sin(2 * best.angle), 0.0, abs_tol=1e-9):
            text = f"It lies straight. The features alone leave {straight:.3g} mm along {axis}."
        elif straight < wanted:
            text = (
                f"Lying straight along {axis} only just fits: {straight:.3g} mm to spare, {wanted:g} wanted."
            )
    else:
        text = f"Lying straight, even along {axis} {-straight:.3g} mm are missing at each end: it has to be turned."
    out.append(Finding("lying straight", Verdict.GO, straight, "mm", why=text))
    out.append(_uprights_finding(bench, fitted, body))
    return tuple(out)


def _why_this_pose(fitted: Fitted) -> str:
    if fitted.asked:
        return "The job names its own pose."
    if fitted.lie is fitted.found.best:
        return "That pose is taken."
    return "Lying straight does with room and is set up with a square, so it is taken."


def _uprights_finding(bench: Bench, fitted: Fitted, body: np.ndarray) -> Finding:
    wanted = bench.placing.margin
    gap = min(upright_gaps(fitted.lie, body, uprights_of(bench.job.bed)))
    if gap > 1e5:
        return Finding(
            "body between the uprights", Verdict.GO, why="The uprights never come near the member's body."
        )
    why = "Where the uprights pass, the member's body stays between them. Ends beyond their sweep may hang over."
    if gap < 0:
        why = "The uprights would strike the member's body. Turn or shift the member, or cut less near its ends."
    elif gap < wanted:
        why = "The uprights come this near to the member's body. Watch them on a dry run, or turn or shift the member."
    return Finding("body between the uprights", judged(gap, wanted), gap, "mm", wanted, gap - wanted, why=why)
