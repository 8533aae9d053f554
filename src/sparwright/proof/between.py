"""Sides held against each other: the metal between what this side's programs cut and the features of the others.

Every other side is taken as designed; its own proof holds it to that within the tolerance. Features are prisms:
an outline carried from the face down to a depth. So two floors on opposite faces of solid stock, and holes that come
together from two sides, are measured alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named, passed
from sparwright.proof.model import ProofFinding
from sparwright.proof.scene import Target, member_targets
from sparwright.proof.simulate import Cutaway
from sparwright.proof.surface import runs_inside
from sparwright.stock.model import Face, Member

NEAR = 3.0  # metal thicker than this is not measured, mm
STEP = 0.5  # of looks along walls, mm
SQUARE = 1.0  # side of the squares of a floor of which the deepest place is looked at, mm
THIN = 0.8  # metal between two sides thinner than this, by design, is worth a word, mm: common practice, no source
SKIN_OF = 0.02  # a place must lie this deep in the stock's metal to count as inside, mm


@dataclass(frozen=True)
class Least:
    """Least metal between two features: mm (negative where they meet), at (x, s, n) of this face, between which."""

    metal: float
    at: np.ndarray
    here: Target
    there: Target
    face: str


def floor_places(case: Case, cut: Cutaway, target: Target) -> np.ndarray:
    """Places (m, 3) on the floor and walls of a target as cut."""
    grid = case.scene.grid
    runs = runs_inside(case, target.outline.buffer(2 * grid.cell))
    found = [np.empty((0, 3))]
    for j, a, b in runs:
        i = np.arange(a, b)
        n = cut.after[j, a:b]
        i = i[n < case.scene.before[j, a:b] - 1e-4]
        x = grid.x0 + (i + 0.5) * grid.cell
        found.append(np.column_stack([x, np.full(len(i), grid.s0 + (j + 0.5) * grid.cell), cut.after[j, i]]))
    places = np.concatenate(found)
    deep_first = places[np.argsort(places[:, 2], kind="stable")]
    _, first = np.unique(np.floor(deep_first[:, :2] / SQUARE), axis=0, return_index=True)
    places = deep_first[first]
    deepest = float(places[:, 2].min()) if len(places) else 0.0
    return np.concatenate([places, wall_places(target, -deepest)])


def designed_places(target: Target) -> np.ndarray:
    """The same of a target as wanted: its walls, and its floor in squares of STEP."""
    x0, s0, x1, s1 = target.outline.bounds
    x, s = np.meshgrid(np.arange(x0, x1, STEP), np.arange(s0, s1, STEP))
    inside = shapely.contains_xy(target.outline, x.ravel(), s.ravel())
    floor = np.column_stack([x.ravel()[inside], s.ravel()[inside], np.full(inside.sum(), -target.depth)])
    return np.concatenate([floor, wall_places(target, target.depth)])


def wall_places(target: Target, depth: float) -> np.ndarray:
    """Places on a target's walls down to a depth, STEP apart."""
    ring = target.outline.exterior
    along = np.arange(0, ring.length, STEP)
    rim = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    levels = np.linspace(0, -max(depth, 0.0), max(2, int(depth / STEP) + 1))
    return np.column_stack([np.tile(rim, (len(levels), 1)), np.repeat(levels, len(rim))])


def metal_to(
    member: Member, here: Face, there: Face, places: np.ndarray, target: Target
) -> tuple[float, int] | None:
    """Least metal from places (m, 3) on face `here` to a target of face `there`, and at which place; None where they
    are further apart than NEAR, or no metal lies between.
    """
    xyz = here.to_member(places)
    p = there.from_member(xyz)
    x0, s0, x1, s1 = target.outline.bounds
    near = np.flatnonzero(
        (p[:, 0] > x0 - NEAR) & (p[:, 0] < x1 + NEAR) & (p[:, 1] > s0 - NEAR) & (p[:, 1] < s1 + NEAR)
        & (p[:, 2] > -target.depth - NEAR) & (p[:, 2] < NEAR)
    )  # fmt: skip
    if len(near) == 0:
        return None
    p = p[near]
    spots = shapely.points(p[:, :2])
    beside = shapely.distance(target.outline, spots)
    below = -target.depth - p[:, 2]
    meets = (beside <= 0) & (below < 0)
    foot = p.copy()
    outside = beside > 0
    foot[outside, :2] = shapely.get_coordinates(
        shapely.line_interpolate_point(
            target.outline.exterior, shapely.line_locate_point(target.outline.exterior, spots[outside])
        )
    )
    foot[below > 0, 2] = -target.depth
    metal = np.linalg.norm(foot - p, axis=1)
    depth_in = np.minimum(shapely.distance(target.outline.exterior, spots), -below)
    metal[meets] = -depth_in[meets]
    middle = there.to_member((p + foot) / 2)
    solid = member.section.shape.buffer(-SKIN_OF)
    shapely.prepare(solid)
    inside = shapely.contains_xy(solid, middle[:, 1], middle[:, 2])
    inside &= (middle[:, 0] > 0) & (middle[:, 0] < member.length)
    inside &= (metal < NEAR) & (np.abs(metal) > 1e-9)
    if not inside.any():
        return None
    k = int(np.flatnonzero(inside)[metal[inside].argmin()])
    return float(metal[k]), int(near[k])


def _bounds(face: Face, target: Target) -> np.ndarray:
    """Box of a target in the member's frame, (2, 3)."""
    x0, s0, x1, s1 = target.outline.bounds
    corners = face.to_member(
        np.array([[x, s, n] for x in (x0, x1) for s in (s0, s1) for n in (0, -target.depth)])
    )
    return np.array([corners.min(axis=0), corners.max(axis=0)])


def pairs(case: Case) -> list[tuple[Target, Target, Face]]:
    """Features of this side with those of others that come within NEAR of them."""
    member = case.scene.member
    if member is None:
        return []
    here = member.section.face(case.scene.face)
    mine = [(t, _bounds(here, t)) for t in case.scene.targets]
    found = []
    for name in member.worked_faces:
        if name == case.scene.face:
            continue
        there = member.section.face(name)
        for other in member_targets(member, name):
            low, high = _bounds(there, other)
            found += [
                (t, other, there) for t, (a, b) in mine if (a < high + NEAR).all() and (b > low - NEAR).all()
            ]
    return found


def check_between(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Least metal between this side's cuts and other sides' features, against what the design leaves."""
    member = case.scene.member
    near = pairs(case)
    if member is None or not near:
        return []
    here = member.section.face(case.scene.face)
    slack = 2 * case.job.file.cutting.floor_tolerance
    findings: list[ProofFinding] = []
    least: Least | None = None
    looks: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    for mine, other, there in near:
        if id(mine) not in looks:
            looks[id(mine)] = floor_places(case, cut, mine), designed_places(mine)
        places, designed = looks[id(mine)]
        found = metal_to(member, here, there, places, other)
        if found is None:
            continue
        this = Least(found[0], places[found[1]], mine, other, there.name)
        planned = metal_to(member, here, there, designed, other)
        wanted = planned[0] if planned else NEAR
        if this.metal < wanted - slack:
            findings.append(_finding(case, cut, this, wanted, slack))
        if this.metal > 0 and (least is None or this.metal < least.metal):
            least = this
    if findings:
        return findings
    if least is None:
        return [
            passed(
                "between sides",
                f"no cut comes within {NEAR:g} mm of another side's features",
                NEAR,
                0.0,
                "mm",
            )
        ]
    text = (
        f"least metal between sides {least.metal:.2f} mm, from {least.here.kind} {least.here.id} to {least.there.kind} "
        f"{least.there.id} of {least.face}"
    )
    if least.metal >= THIN:
        return [passed("between sides", text, least.metal, THIN, "mm")]
    x, s, n = (float(v) for v in least.at)
    return [
        ProofFinding(
            "between sides", Verdict.CAUTION, f"{text}, as the design has it", least.here.id, at=(x, s, n),
            value=least.metal, limit=THIN, unit="mm",
        )
    ]  # fmt: skip


def _finding(case: Case, cut: Cutaway, this: Least, wanted: float, slack: float) -> ProofFinding:
    x, s, n = (float(v) for v in this.at)
    grid, (rows, cols) = case.scene.grid, cut.after.shape
    j = min(max(int((s - grid.s0) // grid.cell), 0), rows - 1)
    i = min(max(int((x - grid.x0) // grid.cell), 0), cols - 1)
    around = cut.cut_by[max(j - 2, 0) : j + 3, max(i - 2, 0) : i + 3]
    program, line = case.line_of_sweep(
        int(cut.cut_by[j, i]) if cut.cut_by[j, i] >= 0 else int(around.max(initial=-1))
    )
    pair = f"{this.here.kind} {this.here.id} and {this.there.kind} {this.there.id} of {this.face}"
    text = f"leaves {this.metal:.3f} mm of metal between {pair}"
    if this.metal <= 0:
        text = f"lets {pair} meet inside the member, {-this.metal:.3f} mm deep"
    return ProofFinding(
        "between sides",
        Verdict.NO_GO,
        f"{named(program, line)} {text}; the design leaves {max(wanted, 0.0):.3f} mm; raise this cut",
        feature=this.here.id,
        program=program,
        line=line,
        at=(x, s, n),
        value=this.metal,
        limit=wanted - slack,
        unit="mm",
    )
