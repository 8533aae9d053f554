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
    """Places (m, 3) on the floor and walls of a target as cut: of the floor the deepest in every square."""
    grid = case.scene.grid
    runs = runs_inside(case, target.outline.buffer(2 * grid.cell))
    if len(runs) == 0:
        return wall_places(target, 0.0)
    j0, i0 = int(runs[:, 0].min()), int(runs[:, 1].min())
    side = max(1, round(SQUARE / grid.cell))
    down, across = (
        -(-int(past - first) // side) for past, first in ((runs[:, 0].max() + 1, j0), (runs[:, 2].max(), i0))
    )
    depth = np.full((down * side, across * side), np.inf, dtype=np.float32)
    for j, a, b in runs:
        n = cut.after[j, a:b]
        depth[j - j0, a - i0 : b - i0] = np.where(n < case.scene.before[j, a:b] - 1e-4, n, np.inf)
    squares = depth.reshape(down, side, across, side).swapaxes(1, 2).reshape(down * across, side * side)
    lowest = squares.argmin(axis=1)
    n = squares[np.arange(len(squares)), lowest]
    k = np.flatnonzero(np.isfinite(n))
    j = j0 + k // across * side + lowest[k] // side
    i = i0 + k % across * side + lowest[k] % side
    floor = np.column_stack([grid.x0 + (i + 0.5) * grid.cell, grid.s0 + (j + 0.5) * grid.cell, n[k]])
    return np.concatenate([floor, wall_places(target, -float(n[k].min(initial=0.0)))])


def designed_places(target: Target) -> np.ndarray:
    """The same of a target as wanted: its walls, and its floor in squares."""
    x0, s0, x1, s1 = target.outline.bounds
    x, s = (
        a.ravel()
        for a in np.meshgrid(np.arange(x0, x1, SQUARE) + SQUARE / 2, np.arange(s0, s1, SQUARE) + SQUARE / 2)
    )
    inside = shapely.contains_xy(target.outline, x, s)
    floor = np.column_stack([x[inside], s[inside], np.full(inside.sum(), -target.depth)])
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
    shapely.prepare(target.outline)
    inside = shapely.contains_xy(target.outline, p[:, 0], p[:, 1])
    below = -target.depth - p[:, 2]
    foot = p.copy()
    foot[below > 0, 2] = -target.depth
    spots = shapely.points(p[~inside, :2])
    rim = target.outline.exterior
    foot[~inside, :2] = shapely.get_coordinates(
        shapely.line_interpolate_point(rim, shapely.line_locate_point(rim, spots))
    )
    metal = np.linalg.norm(foot - p, axis=1)
    meets = np.flatnonzero(inside & (below < 0))
    metal[meets] = -np.minimum(shapely.distance(rim, shapely.points(p[meets, :2])), -below[meets])
    close = np.flatnonzero((metal < NEAR) & (np.abs(metal) > 1e-9))
    middle = (p + foot) / 2
    solid = member.section.shape.buffer(-SKIN_OF)
    shapely.prepare(solid)
    order = close[np.argsort(metal[close], kind="stable")]
    for some in np.array_split(order, max(1, len(order) // 2000)):
        xyz = there.to_member(middle[some])
        within = shapely.contains_xy(solid, xyz[:, 1], xyz[:, 2])
        within &= (xyz[:, 0] > 0) & (xyz[:, 0] < member.length)
        if within.any():
            k = int(some[within.argmax()])
            return float(metal[k]), int(near[k])
    return None


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
        f"{named(program, line)} {text}. The design leaves {max(wanted, 0.0):.3f} mm. Raise this cut",
        feature=this.here.id,
        program=program,
        line=line,
        at=(x, s, n),
        value=this.metal,
        limit=wanted - slack,
        unit="mm",
    )
