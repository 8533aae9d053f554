"""Cutting minutes of a candidate, quickly: one pocket of every kind is planned in earnest, the rest are counted.

Copies of a pocket take the same time within a fraction of a percent, however they are turned by half a turn.
"""

from __future__ import annotations

import contextlib
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial

import numpy as np
from shapely.geometry import Polygon

from sparwright.cutting.motion import path_seconds
from sparwright.cutting.order import middle_out, tour
from sparwright.cutting.plan import rapid_seconds
from sparwright.cutting.plan_holes import hole_break, hole_templates, notch_break, notch_templates
from sparwright.cutting.plan_pockets import pocket_break, pocket_key, pocket_templates
from sparwright.cutting.plan_work import CannotCut, Template, Work
from sparwright.job.models import Bed, Job
from sparwright.placing.model import Pose, Setup
from sparwright.stock.model import Member, Pocket
from sparwright.sweep.mass import without_pockets

Times = tuple[tuple[str, float], ...]  # cut's name and seconds of it, from clearance height and back


def quick_minutes(member: Member, job: Job) -> float:
    """Minutes of cutting on all sides, without pads, changes of cutter and the way over clamps.

    One pocket of each kind is planned in earnest, on no particular place of the bed. An edge break that no cutter at
    hand can make takes no time. Raises CannotCut where the cutters at hand cannot make a feature.
    """
    seconds = _other_seconds(without_pockets(member), _Same(job.digest, job))
    known: dict[tuple[object, ...], Times] = {}
    for face in member.worked_faces:
        work = Work(member, _bare_setup(face), job)
        pockets = [p for p in member.pockets if p.face == face]
        copies = Counter(pocket_key(p) for p in pockets)
        made: list[tuple[Times, tuple[float, float]]] = []
        for p in pockets:
            kind = (_turned_alike(p), round(p.depth, 6), round(p.skin, 6), p.edge_break)
            if kind not in known:
                templates = pocket_templates(work, p, copies[pocket_key(p)])
                edge = partial(pocket_break, work, p) if p.edge_break > 0 else None
                known[kind] = _times(templates, edge, job.bed)
            made.append((known[kind], p.origin))
        seconds += _side_seconds(made, member.length, job.bed)
    return seconds / 60


@dataclass(frozen=True)
class _Same:
    """A job, equal to every other candidate of the same job."""

    digest: str
    job: Job = field(compare=False)


@lru_cache(maxsize=16)
def _other_seconds(member: Member, same: _Same) -> float:
    """Seconds for all holes and notches, which no candidate changes."""
    job, seconds = same.job, 0.0
    for face in member.worked_faces:
        work = Work(member, _bare_setup(face), job)
        made = []
        for hole in (h for h in member.holes if h.face == face):
            edge = partial(hole_break, work, hole) if hole.edge_break > 0 else None
            made.append((_times(hole_templates(work, hole), edge, job.bed), hole.at))
        for notch in (n for n in member.notches if n.face == face):
            edge = partial(notch_break, work, notch) if notch.edge_break > 0 else None
            x, s = notch.outline.centroid.coords[0]
            made.append((_times(notch_templates(work, notch), edge, job.bed), (x, s)))
        seconds += _side_seconds(made, member.length, job.bed)
    return seconds


def _bare_setup(face: str) -> Setup:
    """A face up, on no particular place of the bed and under no clamps."""
    return Setup(face, face, 1, 1, Pose(0.0, 0.0, 0.0), 0.0, 0.0, Polygon(), (), (), "", "")


def _turned_alike(pocket: Pocket) -> tuple[object, ...]:
    """Equal for outlines that are copies of one another, half a turn allowed."""
    if not pocket.corners:
        return (pocket.corner_radius,)
    corners = np.round(np.asarray(pocket.corners) - pocket.origin, 4) + 0.0
    ways = (tuple(sorted(map(tuple, (sign * corners + 0.0).tolist()))) for sign in (1, -1))
    return (pocket.corner_radius, min(ways))


def _times(templates: Sequence[Template], edge: Callable[[], Template] | None, bed: Bed) -> Times:
    """Seconds of each cut of a feature; an edge break that cannot be made is left away."""
    cuts = list(templates)
    if edge is not None:
        with contextlib.suppress(CannotCut):
            cuts.append(edge())
    return tuple(
        (t.name, path_seconds(t.path.kind, t.path.start, t.path.end, t.path.centre, t.path.feed, bed))
        for t in cuts
    )


def _side_seconds(made: Sequence[tuple[Times, tuple[float, float]]], length: float, bed: Bed) -> float:
    """Seconds of one side: every feature's cuts, and for each cut the rapids from feature to feature."""
    seconds = 0.0
    places: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for times, at in made:
        seconds += sum(t for _, t in times)
        for name, _ in times:
            places[name].append(at)
    ways: dict[tuple[bool, tuple[tuple[float, float], ...]], float] = {}
    for name, stops in places.items():
        key = (name == "clear pockets", tuple(stops))
        if key not in ways:
            points = np.array(stops)
            order = middle_out(points, length / 2) if key[0] else tour(points)
            hops = np.hypot(*np.diff(points[order], axis=0).T)
            ways[key] = rapid_seconds(hops, min(bed.rapid[:2]), min(bed.acceleration[:2]))
        seconds += ways[key]
    return seconds
