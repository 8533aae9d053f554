"""Mass out and cutting minutes of a candidate, quickly: every kind of pocket once, times its number.

Copies of a pocket take the same metal, and within a fraction of a percent the same time however they are turned by
half a turn, so one of each kind is cut in earnest and the rest are counted.
"""

from __future__ import annotations

import contextlib
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from sparwright.cutting.motion import path_seconds
from sparwright.cutting.order import middle_out, tour
from sparwright.cutting.plan import rapid_seconds
from sparwright.cutting.plan_holes import hole_break, hole_templates, notch_break, notch_templates
from sparwright.cutting.plan_pockets import pocket_break, pocket_key, pocket_templates
from sparwright.cutting.plan_work import CannotCut, Template, Work
from sparwright.job.models import Bed, Job
from sparwright.placing.model import Pose, Setup
from sparwright.stock.model import Face, Member, Pocket, Section
from sparwright.stock.outlines import circle, fillet
from sparwright.stock.section import wall_range
from sparwright.stock.solids import CHORD, blank_mass_kg, mass_out_kg, offset_ring

EVEN = 1e-6  # mm of difference over a wall that counts as even
ROOM = 5.0  # mm of stock kept on both sides of a pocket whose metal is measured alone
Times = tuple[tuple[str, float], ...]  # cut's name and seconds of it, from clearance height and back


# --- mass -------------------------------------------------------------------------------------------------


def quick_mass_out(member: Member) -> float:
    """Mass the cuts take out of the stock as sawn, kg: exact where no two features take the same metal, as the layout
    sees to."""
    others = _without_pockets(member)
    kinds: dict[tuple[object, ...], list[Pocket]] = defaultdict(list)
    for p in member.pockets:
        kinds[(p.face, p.shape_key, round(p.origin[1], 6), p.depth, p.window, p.edge_break)].append(p)
    return _mass_out(others) + sum(len(same) * _pocket_out(others, same[0]) for same in kinds.values())


def _pocket_out(others: Member, pocket: Pocket) -> float:
    """Mass one pocket takes, kg: of its own prisms where the wall is even under it, else measured on a solid."""
    volume = _even_volume(others.section, pocket)
    if volume is None:
        return _mass_out(_alone(others, pocket))
    return volume * others.material.density * 1e-9


def _even_volume(section: Section, pocket: Pocket) -> float | None:
    """Volume of a pocket in an even wall, mm³; None where the wall under it or its edge break is not even.

    Between two rings of parallel edges the volume is h (A0 + 4 Am + A1) / 6 (the prismatoid's, by Simpson's rule).
    """
    wide = pocket.edge_break
    face = section.face(pocket.face)
    _, left, _, right = pocket.outline.bounds
    left, right = round(left - wide, 6), round(right + wide, 6)
    if max(-left, right) > face.width / 2:
        return None
    least, most, _ = _under(section, face, left, right)
    if most - least > EVEN or pocket.depth > least + EVEN:
        return None
    x0, s0 = pocket.origin
    corners = tuple((round(x - x0, 6), round(s - s0, 6)) for x, s in pocket.corners)
    own, middle, top = _areas(corners, pocket.corner_radius, wide)
    return own * (pocket.depth - wide) + wide * (own + 4 * middle + top) / 6


@lru_cache(maxsize=512)
def _areas(
    corners: tuple[tuple[float, float], ...], radius: float, wide: float
) -> tuple[float, float, float]:
    """Areas inside an outline about its origin, and half and all of `wide` outside it, mm²."""
    ring = fillet(np.asarray(corners), radius, CHORD) if corners else circle(radius, CHORD)
    own, middle, top = (Polygon(offset_ring(ring, share * wide)).area for share in (0.0, 0.5, 1.0))
    return own, middle, top


@lru_cache(maxsize=256)
def _under(section: Section, face: Face, left: float, right: float) -> tuple[float, float, float]:
    return wall_range(section, face, left, right)


def _without_pockets(member: Member) -> Member:
    return replace(member, title="", pockets=(), dropped=(), bays=(), sawn=(), notes=())


def _alone(others: Member, pocket: Pocket) -> Member:
    """A short piece of the stock with this pocket only."""
    low, _, high, _ = pocket.outline.bounds
    by = ROOM - low
    moved = replace(
        pocket,
        id="",
        field="",
        origin=(round(pocket.origin[0] + by, 6), pocket.origin[1]),
        outline=affinity.translate(pocket.outline, by),
        corners=tuple((round(x + by, 6), s) for x, s in pocket.corners),
    )
    return replace(others, length=round(high - low, 6) + 2 * ROOM, pockets=(moved,), holes=(), notches=())


@lru_cache(maxsize=512)
def _mass_out(member: Member) -> float:
    return mass_out_kg(member)


def mass_kept(member: Member, out_kg: float) -> float:
    """Share of the stock's mass that stays."""
    return 1 - out_kg / blank_mass_kg(member)


# --- minutes ----------------------------------------------------------------------------------------------


def quick_minutes(member: Member, job: Job) -> float:
    """Minutes of cutting on all sides, without pads, changes of cutter and the way over clamps.

    One pocket of each kind is planned in earnest, on no particular place of the bed. An edge break that no cutter at
    hand can make takes no time. Raises CannotCut where the cutters at hand cannot make a feature.
    """
    seconds = _other_seconds(_without_pockets(member), _Same(job.digest, job))
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
