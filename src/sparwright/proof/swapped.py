"""Programs run on the wrong side, or on the member lying end for end: said once instead of as hundreds of faults."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from sparwright.answers import Verdict
from sparwright.placing.model import Pose
from sparwright.proof.case import Case
from sparwright.proof.model import ProofFinding
from sparwright.proof.scene import Target, member_targets
from sparwright.proof.simulate import Cutaway
from sparwright.proof.surface import band

STRAY_SHARE = 0.1  # of what a program cuts may lie wrong before another side is thought of
ELSEWHERE = 0.97  # of what it cuts must lie right there
LOOKS = 4000  # cells of a program's cuts that are looked at
SPOILT = ("gouge", "wall", "edge break", "skin", "floor")  # findings that make one think of another side
FOLLOW = frozenset(
    {"gouge", "wall", "skin", "floor", "hole size", "hole place", "hole depth", "edge break", "not cut", "loose piece",
     "between sides", "metal removed"}
)  # fmt: skip


@dataclass(frozen=True)
class Elsewhere:
    """Where a program may belong: in words, and that side's targets where they would come to lie here."""

    words: str
    targets: tuple[Target, ...]


def places_to_think_of(case: Case) -> list[Elsewhere]:
    """This side lying end for end, and every other worked side on its own pose, the right way and end for end."""
    scene, found = case.scene, []
    member = scene.member
    if member is None:
        return []
    poses = dict(scene.poses)

    def here(targets: tuple[Target, ...], pose: Pose) -> tuple[Target, ...]:
        start = scene.pose.to_face(np.array([[pose.x, pose.y]]))[0]
        turn = pose.angle - scene.pose.angle
        return tuple(_moved(t, turn, start) for t in targets)

    ends = (member.length, 0.0)
    mine = tuple(_moved(t, np.pi, ends) for t in scene.targets)
    found.append(Elsewhere("this side with the member lying end for end", mine))
    for face in member.worked_faces:
        if face == scene.face:
            continue
        targets = member_targets(member, face)
        for pose in {poses.get(face, scene.pose), scene.pose}:
            found.append(Elsewhere(f"side {face}", here(targets, pose)))
        turned = tuple(_moved(t, np.pi, ends) for t in targets)
        found.append(Elsewhere(f"side {face} with the member lying end for end", turned))
    return found


def _moved(target: Target, angle: float, start: tuple[float, float] | np.ndarray) -> Target:
    outline = affinity.rotate(target.outline, angle, origin=(0, 0), use_radians=True)
    outline = affinity.translate(outline, float(start[0]), float(start[1]))
    return Target(target.id, target.kind, outline, target.depth, target.through, edge_break=target.edge_break)


def _share_right(targets: tuple[Target, ...], wide: float, x: np.ndarray, s: np.ndarray) -> float:
    area: BaseGeometry = shapely.union_all([t.outline.buffer(wide + t.edge_break) for t in targets])
    shapely.prepare(area)
    return float(shapely.contains_xy(area, x, s).mean())


def check_swapped(
    case: Case, cut: Cutaway, allowed: np.ndarray, findings: list[ProofFinding]
) -> list[ProofFinding]:
    """The findings, with those of programs that belong elsewhere taken together into one for each program."""
    if case.scene.member is None:
        return findings
    wrong = {}
    spoilt = {f.program for f in findings if f.check in SPOILT and f.verdict is Verdict.NO_GO}
    for p, name in enumerate(case.names):
        words = _belongs(case, cut, allowed, p) if name in spoilt else ""
        if words:
            wrong[name] = (p, words)
    if not wrong:
        return findings
    kept = [f for f in findings if f.check not in FOLLOW or (f.program and f.program not in wrong)]
    for name, (p, words) in wrong.items():
        first = int(np.flatnonzero(case.moves.program == p)[0])
        _, line = case.line_of(_first_cut(case, cut, p, first))
        lost = sum(f not in kept and f.program in (name, "") for f in findings)
        kept.append(
            ProofFinding(
                "wrong side",
                Verdict.NO_GO,
                f"program {name}, from line {line} on, cuts what belongs to {words}, not to this side. Run it where it belongs. "
                f"{lost} findings that follow from it are left out",
                program=name,
                line=line,
                value=float(lost),
                limit=0.0,
            )
        )
    return kept


def _first_cut(case: Case, cut: Cutaway, p: int, first: int) -> int:
    """The first motion of program p that still shows in what is left."""
    sweeps = np.unique(cut.cut_by[cut.cut_by >= 0])
    moves = case.move_of[sweeps]
    mine = moves[case.moves.program[moves] == p]
    return int(mine.min()) if len(mine) else first


def _belongs(case: Case, cut: Cutaway, allowed: np.ndarray, p: int) -> str:
    """Where program p belongs if not here; empty where it belongs here or nowhere."""
    sweeps = np.flatnonzero(case.moves.program[case.move_of] == p)
    if len(sweeps) == 0:
        return ""
    mine = (cut.cut_by >= sweeps[0]) & (cut.cut_by <= sweeps[-1])
    count = int(mine.sum())
    if count == 0:
        return ""
    far = case.scene.bottoms[:, :1]
    over = mine & (
        np.maximum(cut.after, far) < np.maximum(allowed, far) - case.job.file.cutting.floor_tolerance
    )
    if over.sum() < STRAY_SHARE * count:
        return ""
    rows, cols = np.nonzero(mine)
    step = max(1, count // LOOKS)
    grid = case.scene.grid
    x, s = grid.x0 + (cols[::step] + 0.5) * grid.cell, grid.s0 + (rows[::step] + 0.5) * grid.cell
    best = ("", ELSEWHERE)
    for place in places_to_think_of(case):
        share = _share_right(place.targets, band(case) + grid.cell, x, s) if place.targets else 0.0
        if share > best[1]:
            best = (place.words, share)
    return best[0]
