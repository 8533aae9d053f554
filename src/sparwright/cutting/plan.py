"""All cuts of one side: which cutter does what, one path for each shape placed many times, in a sound order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from shapely.geometry import Point, Polygon

from sparwright.answers import Finding
from sparwright.cutting.model import Cut, Path, Peak, Piece, SideCuts
from sparwright.cutting.motion import path_seconds
from sparwright.cutting.order import middle_out, schedule, tour
from sparwright.cutting.paths import last_point, lifted
from sparwright.cutting.plan_findings import left_out, side_findings
from sparwright.cutting.plan_holes import hole_break, hole_key, hole_templates, notch_break, notch_templates
from sparwright.cutting.plan_pockets import pocket_break, pocket_key, pocket_templates
from sparwright.cutting.plan_work import CannotCut, Step, Template, Work
from sparwright.cutting.slots import plan_pads
from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Clamp, Setup
from sparwright.stock.model import Hole, Member, NotchCut, Pocket

CLAMP_GAP = 0.5  # mm between any turning part and a clamp
OVER_CLAMP = 1.0  # mm a rapid's lowest part stays over a clamp's top
__all__ = ["plan_pads", "plan_side"]


@dataclass(frozen=True)
class Refusal:
    """Something that is left out of the cuts: what, of which feature, and why."""

    name: str
    feature: str
    why: str


def plan_side(member: Member, setup: Setup, job: Job) -> SideCuts:
    """All cuts of one side in the order they are made, with the findings of question 4.

    A feature that no listed cutter can make, or that a clamp stands over, gives a no-go finding and is left out.
    """
    work = Work(member, setup, job)
    steps, refusals = _steps(work)
    groups: dict[tuple[str, int], list[Step]] = {}
    for step in steps:
        groups.setdefault((step.template.name, step.template.cutter.number), []).append(step)
    runs = [run for key in schedule(tuple(groups)) for run in _ordered(work, key[0], groups[key])]
    heights = _Heights(work)
    cuts = tuple(_cut(work, run, heights) for run in runs)
    findings = side_findings(work, list(zip(cuts, runs, strict=True)))
    return SideCuts(setup.side, cuts, (*_told(refusals), *findings))


# --- steps ------------------------------------------------------------------------------------------------


def _steps(work: Work) -> tuple[list[Step], list[Refusal]]:
    """Every cut of every feature on the face, and what had to be left out."""
    face = work.setup.face
    pockets = [p for p in work.member.pockets if p.face == face]
    copies = Counter(pocket_key(p) for p in pockets)
    steps: list[Step] = []
    refusals: list[Refusal] = []
    made: dict[tuple[object, ...], tuple[tuple[Template, ...], str, str]] = {}

    def add(
        feature: Pocket | Hole | NotchCut,
        key: tuple[object, ...],
        at: tuple[float, float],
        cuts: Callable[[], tuple[Template, ...]],
        edge: Callable[[], Template],
    ) -> None:
        if key not in made:
            made[key] = _made(cuts, edge if feature.edge_break > 0 else None)
        templates, refused, no_break = made[key]
        clamp = "" if refused else _clamp_over(work, feature, templates)
        if refused or clamp:
            refusals.append(Refusal("cannot be cut", feature.id, refused or clamp))
            return
        if no_break:
            refusals.append(Refusal("edge cannot be broken", feature.id, no_break))
        steps.extend(Step(t, feature.id, at, (*key, i)) for i, t in enumerate(templates))

    for p in pockets:
        key = pocket_key(p)
        cuts = partial(pocket_templates, work, p, copies[key])
        add(p, key, p.origin, cuts, partial(pocket_break, work, p))
    for h in (h for h in work.member.holes if h.face == face):
        add(h, hole_key(h), h.at, partial(hole_templates, work, h), partial(hole_break, work, h))
    for n in (n for n in work.member.notches if n.face == face):
        add(n, ("notch", n.id), (0.0, 0.0), partial(notch_templates, work, n), partial(notch_break, work, n))
    return steps, refusals


def _made(
    cuts: Callable[[], tuple[Template, ...]], edge: Callable[[], Template] | None
) -> tuple[tuple[Template, ...], str, str]:
    """The templates of a feature, why it cannot be cut, and why its edge cannot be broken ("" where it can)."""
    try:
        templates = cuts()
    except CannotCut as problem:
        return (), str(problem), ""
    if edge is None:
        return templates, "", ""
    try:
        return (*templates, edge()), "", ""
    except CannotCut as problem:
        return templates, "", str(problem)


def _ground(feature: Pocket | Hole | NotchCut) -> Polygon:
    """What the feature takes of the face."""
    if isinstance(feature, Hole):
        wide = max(feature.diameter, feature.counterbore[0] if feature.counterbore else 0.0)
        return Point(feature.at).buffer(wide / 2)
    return feature.outline


def _clamp_over(work: Work, feature: Pocket | Hole | NotchCut, templates: Sequence[Template]) -> str:
    """Which clamp stands in the way of a feature's cuts, "" where none does."""
    ground = _ground(feature)
    for clamp in work.setup.clamps:
        gap = float(clamp.footprint.distance(ground))
        for t in templates:
            c = t.cutter
            wide = max(c.diameter, c.shank) / 2
            if c.stick_out + t.deepest < clamp.top + OVER_CLAMP:
                wide = max(wide, c.holder / 2)
            if gap < wide - t.out + CLAMP_GAP:
                return (
                    f"{clamp.name} stands {gap:.1f} mm from it, and {c.name} needs {wide - t.out + CLAMP_GAP:.1f} mm: move the clamp, "
                    "or let the cutter stick out further"
                )
    return ""


def _told(refusals: Sequence[Refusal]) -> list[Finding]:
    """One finding for each reason, with the features it holds for."""
    by_reason: dict[tuple[str, str], list[str]] = {}
    for r in refusals:
        by_reason.setdefault((r.name, r.why), []).append(r.feature)
    return [left_out(name, features, why) for (name, why), features in by_reason.items()]


# --- cuts -------------------------------------------------------------------------------------------------


def _ordered(work: Work, name: str, steps: list[Step]) -> list[list[Step]]:
    """The steps of one name and cutter in the order they are made, in one run for each spindle speed.

    Clearing goes from the middle outward, the rest by a short way.
    """
    by_speed: dict[float, list[Step]] = {}
    for step in steps:
        by_speed.setdefault(step.template.feed.rpm, []).append(step)
    out = []
    for run in by_speed.values():
        places = np.array([s.template.path.start[:2] + s.at for s in run])
        clearing = name == "clear pockets"
        order = middle_out(places, work.member.length / 2) if clearing else tour(places)
        out.append([run[int(i)] for i in order])
    return out


class _Heights:
    """How high rapids between pieces must go to pass over the clamps."""

    def __init__(self, work: Work) -> None:
        self.clearance = work.wishes.clearance
        self.clamps = work.setup.clamps

    def between(self, ends: np.ndarray, starts: np.ndarray, cutter: Cutter) -> np.ndarray:
        """Height of each straight rapid from ends to starts, both (k, 2): clearance, or over the clamps crossed, (k,)."""
        out = np.full(len(ends), self.clearance)
        if not len(ends):
            return out
        ways = shapely.linestrings(np.stack([ends, starts], axis=1))
        for clamp in self.clamps:
            near = shapely.distance(ways, clamp.footprint) < self._wide(clamp, cutter)
            out[near] = np.maximum(out[near], clamp.top + self.clearance)
        return out

    def _wide(self, clamp: Clamp, cutter: Cutter) -> float:
        """How close to a clamp the axis may pass at clearance height, 0 where everything passes over it."""
        if self.clearance >= clamp.top + OVER_CLAMP:
            return 0.0
        nut_over = self.clearance + cutter.stick_out >= clamp.top + OVER_CLAMP
        wide = max(cutter.diameter, cutter.shank) / 2
        return (wide if nut_over else max(wide, cutter.holder / 2)) + CLAMP_GAP

    @property
    def over_all(self) -> float:
        """Height over every clamp."""
        return max([self.clearance, *(c.top + self.clearance for c in self.clamps)])


def _cut(work: Work, steps: Sequence[Step], heights: _Heights) -> Cut:
    """One cut of its steps in order: paths placed, rapids between them raised over clamps, time and peaks."""
    first = steps[0].template
    paths = [s.template.path.shifted(*s.at) for s in steps]
    starts = np.array([p.start[:2] for p in paths])
    ends = np.array([last_point(p)[:2] for p in paths])
    between = heights.between(ends[:-1], starts[1:], first.cutter)
    before = np.concatenate([[heights.over_all], between])
    after = np.concatenate([between, [heights.over_all]])
    pieces = tuple(
        Piece(s.feature, lifted(p, float(a), float(b)))
        for s, p, a, b in zip(steps, paths, before, after, strict=True)
    )
    feeds = [s.template.feed for s in steps]
    peak = Peak(
        max(f.thickest for f in feeds),
        max(f.steady for f in feeds),
        max(f.power for f in feeds),
        max(f.deflection for f in feeds),
    )
    seconds = _piece_seconds(work, steps) + _way_seconds(work, paths, before, after)
    return Cut(first.name, first.kind, first.cutter.number, first.feed.rpm, pieces, peak, seconds)


def _piece_seconds(work: Work, steps: Sequence[Step]) -> float:
    """Seconds of all pieces from clearance height and back; copies of a path are timed once."""
    count = Counter(s.key for s in steps)
    paths = {s.key: s.template.path for s in steps}
    bed = work.job.bed
    return sum(
        count[key] * path_seconds(p.kind, p.start, p.end, p.centre, p.feed, bed) for key, p in paths.items()
    )


def _way_seconds(work: Work, paths: Sequence[Path], before: np.ndarray, after: np.ndarray) -> float:
    """Seconds of the rapids between pieces, and up and down over clamps."""
    bed, clearance = work.job.bed, work.wishes.clearance
    starts = np.array([p.start[:2] for p in paths[1:]]).reshape(-1, 2)
    ends = np.array([last_point(p)[:2] for p in paths[:-1]]).reshape(-1, 2)
    across = np.hypot(*(starts - ends).T)
    climbs = np.concatenate([before, after]) - clearance
    return rapid_seconds(across, min(bed.rapid[:2]), min(bed.acceleration[:2])) + rapid_seconds(
        climbs, bed.rapid[2], bed.acceleration[2]
    )


def rapid_seconds(lengths: np.ndarray, speed: float, acceleration: float) -> float:
    """Seconds of straight moves from rest to rest, mm, mm/min, mm/s²: d/v + v/a, or 2 sqrt(d/a) where v is not reached."""
    v = speed / 60
    full = lengths / v + v / acceleration
    short = 2 * np.sqrt(lengths / acceleration)
    return float(np.where(lengths >= v * v / acceleration, full, short).sum())
