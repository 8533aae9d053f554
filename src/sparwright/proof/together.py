"""The proof of several sides together: what their programs really cut, held against each other.

Each side's own proof holds it to its features; here two sides' cutaways are laid into one member. What is looked for
is what shows in no side alone: metal between two floors that is thinner than one tolerance allows though each floor
is within its own, a cut that breaks into another side's, holes whose axes do not meet, and features no side cuts.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import combinations

import numpy as np
import shapely

from sparwright.answers import Verdict, worst
from sparwright.job.models import Job
from sparwright.proof.between import THIN
from sparwright.proof.between_corners import Meeting, meetings
from sparwright.proof.between_facing import Bay, facing
from sparwright.proof.case import NEAR, digest_order, named, passed
from sparwright.proof.kinds import with_margin
from sparwright.proof.model import Proof, ProofFinding
from sparwright.proof.scene import Target, member_targets
from sparwright.proof.sidecut import SideCut, in_line, opposite
from sparwright.stock.model import Member

SIDE = "all sides together"
MOST = 12  # places listed one by one
LOOKS = 24  # each way over a feature no program of its own side cuts
MOSTLY = 0.95  # of these looks must find no metal for the feature to count as cut from another side


def prove_together(sides: Sequence[SideCut], member: Member, job: Job) -> Proof:
    """What two or more sides of a member do together.

    sides: the records of their own proofs, each made on cells of the same size. The digests are those of all programs.
    """
    findings = [
        *_check_metal(sides, member, job),
        *_check_corners(sides, member, job),
        *_check_holes(sides, member, job),
        *_check_uncut(sides, member),
    ]
    cutting = job.file.cutting
    return Proof(
        side=SIDE,
        verdict=worst(f.verdict for f in findings),
        findings=digest_order([with_margin(f, cutting) for f in findings]),
        digests={name: digest for side in sides for name, digest in side.digests.items()},
        figures={"cell_mm": sides[0].grid.cell, "sides": float(len(sides))},
    )


def _pairs(
    sides: Sequence[SideCut], member: Member, facing_each_other: bool
) -> Iterator[tuple[SideCut, SideCut]]:
    for one, other in combinations(sides, 2):
        if one.face != other.face and facing_each_other == opposite(
            member.section.face(one.face), member.section.face(other.face)
        ):
            yield one, other


def _feature(member: Member, side: SideCut, x: float, s: float) -> Target | None:
    """The feature of a side at a place, the deepest where there are several; else the nearest within NEAR."""
    targets = member_targets(member, side.face)
    if not targets:
        return None
    far = shapely.distance([t.outline for t in targets], shapely.Point(x, s))
    nearest = min(range(len(targets)), key=lambda k: (far[k], -targets[k].depth))
    return targets[nearest] if far[nearest] <= NEAR else None


def _cut_words(member: Member, side: SideCut, cell: tuple[int, int], at: tuple[float, ...]) -> str:
    """A cut in words: its feature, its side and its line."""
    target = _feature(member, side, at[0], at[1])
    what = f"{target.kind} {target.id}" if target else "a cut"
    return f"{what} of {side.side} ({named(*side.line_at(*cell))})"


def _too_deep(side: SideCut, cell: tuple[int, int]) -> float:
    """How much deeper than its features a cell is cut, mm."""
    return float(side.wanted[cell] - side.least[cell])


# --- metal between two floors ---------------------------------------------------------------------------


def _check_metal(sides: Sequence[SideCut], member: Member, job: Job) -> list[ProofFinding]:
    """The least metal between cuts of sides that look away from each other."""
    tolerance = job.file.cutting.floor_tolerance
    findings: list[ProofFinding] = []
    least: tuple[Bay, SideCut, SideCut] | None = None
    for one, other in _pairs(sides, member, facing_each_other=True):
        found = facing(member, one, other, tolerance)
        findings += [_bay_finding(member, one, other, bay, tolerance) for bay in found.thin[:MOST]]
        if found.least is not None and (least is None or found.least.metal < least[0].metal):
            least = found.least, one, other
    if findings:
        return findings
    if least is None:
        return [
            passed(
                "between sides", "no metal that is to stay lies between cuts of two opposite sides", unit="mm"
            )
        ]
    bay, one, other = least
    at, there = bay.at, bay.there
    program, line = one.line_at(*bay.cells[0])
    target = _feature(member, one, at[0], at[1])
    text = (
        f"least metal between cuts of opposite sides {bay.metal:.3f} mm, {bay.wanted:.3f} mm by design, between "
        f"{_cut_words(member, one, bay.cells[0], at)} and {_cut_words(member, other, bay.cells[1], there)}"
    )
    thin = bay.wanted < THIN
    return [
        ProofFinding(
            "between sides", Verdict.CAUTION if thin else Verdict.GO,
            text + (f". Thinner than {THIN:g} mm by design" if thin else ""),
            feature=target.id if target else "", program=program, line=line, at=at, value=bay.metal,
            limit=bay.wanted - tolerance, unit="mm", margin=bay.metal - (bay.wanted - tolerance),
        )
    ]  # fmt: skip


def _bay_finding(member: Member, one: SideCut, other: SideCut, bay: Bay, tolerance: float) -> ProofFinding:
    """Metal thinner than it may be, or none at all; the side that is further past its own depth is named first."""
    cuts = [(one, bay.cells[0], bay.at), (other, bay.cells[1], bay.there)]
    cuts.sort(key=lambda c: -_too_deep(c[0], c[1]))
    side, cell, at = cuts[0]
    deep, deep2 = (_too_deep(s, c) for s, c, _ in cuts)
    words, words2 = (_cut_words(member, s, c, a) for s, c, a in cuts)
    program, line = side.line_at(*cell)
    target = _feature(member, side, at[0], at[1])
    meets = bay.metal <= 0
    where = f"at x {at[0]:.2f}, s {at[1]:.2f} of {side.side}, over {bay.count * side.grid.cell**2:.1f} mm²"
    if meets:
        text = f"{words} breaks into {words2} {where}. The design leaves {bay.wanted:.3f} mm"
    else:
        text = f"{bay.metal:.3f} mm of metal left between {words} and {words2} {where}. The design leaves {bay.wanted:.3f} mm"
    text += f". The first is {max(deep, 0.0):.3f} mm too deep, the second {max(deep2, 0.0):.3f} mm. Raise the first"
    return ProofFinding(
        "sides meet" if meets else "between sides",
        Verdict.NO_GO,
        text,
        feature=target.id if target else "",
        program=program,
        line=line,
        at=at,
        value=bay.metal,
        limit=bay.wanted - tolerance,
        unit="mm",
        margin=bay.metal - (bay.wanted - tolerance),
    )


# --- corners --------------------------------------------------------------------------------------------


def _check_corners(sides: Sequence[SideCut], member: Member, job: Job) -> list[ProofFinding]:
    """Cuts of sides at an angle to each other that meet inside the member."""
    tolerance = job.file.cutting.floor_tolerance
    findings: list[ProofFinding] = []
    looked = False
    for one, other in _pairs(sides, member, facing_each_other=False):
        looked = True
        findings += [
            _meeting_finding(member, one, other, m) for m in meetings(member, one, other, tolerance)[:MOST]
        ]
    if findings or not looked:
        return findings
    return [
        passed("sides meet", "no cut breaks into one of a side at an angle to it where the design has metal")
    ]


def _meeting_finding(member: Member, one: SideCut, other: SideCut, found: Meeting) -> ProofFinding:
    first, second = found.cells
    here, there = member.section.face(one.face), member.section.face(other.face)
    p = there.from_member(here.to_member(np.array([found.at])))[0]
    at2 = (float(p[0]), float(p[1]), float(p[2]))
    cuts = [(one, first, found.at), (other, second, at2)]
    cuts.sort(key=lambda c: -_too_deep(c[0], c[1]))
    (side, cell, at), (second_side, cell2, at_second) = cuts
    program, line = side.line_at(*cell)
    target = _feature(member, side, at[0], at[1])
    return ProofFinding(
        "sides meet",
        Verdict.NO_GO,
        f"{_cut_words(member, side, cell, at)} breaks into {_cut_words(member, second_side, cell2, at_second)} over "
        f"{found.length:.1f} mm along the member, or comes within {one.grid.cell:g} mm of it. Raise the first",
        feature=target.id if target else "",
        program=program,
        line=line,
        at=at,
        value=found.length,
        limit=0.0,
        unit="mm",
        margin=-found.length,
    )


# --- holes ----------------------------------------------------------------------------------------------


def _check_holes(sides: Sequence[SideCut], member: Member, job: Job) -> list[ProofFinding]:
    """Round features that share an axis by design: how far their axes are off one another as cut."""
    tolerance = job.file.cutting.wall_tolerance
    findings: list[ProofFinding] = []
    largest, count = 0.0, 0
    by_face = {side.face: side for side in sides}
    for one, other in _pairs(sides, member, facing_each_other=True):
        for mine, theirs, face in in_line(member, one.face):
            key, key2 = (mine.id, mine.kind), (theirs.id, theirs.kind)
            if by_face[face] is not other or key not in one.holes or key2 not in other.holes:
                continue
            found = _axes(member, (one, mine), (other, theirs), tolerance)
            count += 1
            largest = max(largest, found.value or 0.0)
            findings += [found] if found.verdict is Verdict.NO_GO else []
    if findings or not count:
        return findings
    text = f"holes that meet from two sides, {count} pair{'s' * (count > 1)}, lie on one axis within {largest:.4f} mm"
    return [passed("holes in line", text, largest, tolerance, "mm")]


def _axes(
    member: Member, one: tuple[SideCut, Target], other: tuple[SideCut, Target], tolerance: float
) -> ProofFinding:
    """Two round features on one axis by design: their offset as cut."""
    (side, mine), (side2, theirs) = one, other
    here, there = member.section.face(side.face), member.section.face(side2.face)
    x, s, _ = side.holes[mine.id, mine.kind]
    x2, s2, _ = side2.holes[theirs.id, theirs.kind]
    p = here.from_member(there.to_member(np.array([[x2, s2, 0.0]])))[0]
    off = math.hypot(p[0] - x, p[1] - s)
    if off <= tolerance:
        return passed("holes in line", "", off, tolerance, "mm")
    shift, shift2 = (
        math.hypot(q.holes[t.id, t.kind][0] - t.circle[0], q.holes[t.id, t.kind][1] - t.circle[1])
        for q, t in (one, other)
        if t.circle is not None
    )
    if shift2 > shift:
        (side, mine), (side2, theirs), shift, shift2 = other, one, shift2, shift
    program, line = line_of_hole(side, mine)
    program2, line2 = line_of_hole(side2, theirs)
    x, s, _ = side.holes[mine.id, mine.kind]
    return ProofFinding(
        "holes in line",
        Verdict.NO_GO,
        f"the axes of {mine.kind} {mine.id} of {side.side} ({named(program, line)}) and {theirs.kind} {theirs.id} of "
        f"{side2.side} ({named(program2, line2)}) are {off:.3f} mm off one another. The first is {shift:.3f} mm off its "
        f"place and the second {shift2:.3f}. Shift the path of the first back",
        feature=mine.id,
        program=program,
        line=line,
        at=(round(x, 6), round(s, 6), 0.0),
        value=off,
        limit=tolerance,
        unit="mm",
    )


def line_of_hole(side: SideCut, target: Target) -> tuple[str, int]:
    """Program and line that cut a round feature widest: the one met most often just inside its wall; ("", 0) where none is."""
    if target.circle is None or side.least.size == 0:
        return "", 0
    x, s, diameter = side.holes[target.id, target.kind]
    angle = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    radius = max(diameter / 2 - side.grid.cell, 0.0)
    i = np.floor((x + radius * np.cos(angle) - side.grid.x0) / side.grid.cell).astype(int)
    j = np.floor((s + radius * np.sin(angle) - side.grid.s0) / side.grid.cell).astype(int)
    rows, cols = side.cut_by.shape
    known = (i >= 0) & (i < cols) & (j >= 0) & (j < rows)
    met = side.cut_by[j[known], i[known]]
    met = met[met >= 0]
    return side.lines[int(np.bincount(met).argmax())] if len(met) else ("", 0)


# --- what nobody cuts -----------------------------------------------------------------------------------


def _made_from_another(member: Member, side: SideCut, target: Target, sides: Sequence[SideCut]) -> bool:
    """Whether the metal of a feature is gone, near its rim and near its floor, by what other sides cut."""
    x0, s0, x1, s1 = target.outline.bounds
    x, s = (a.ravel() for a in np.meshgrid(np.linspace(x0, x1, LOOKS), np.linspace(s0, s1, LOOKS)))
    inside = shapely.contains_xy(target.outline, x, s)
    here = member.section.face(side.face)
    places = np.concatenate(
        [
            np.column_stack([x[inside], s[inside], np.full(int(inside.sum()), -n)])
            for n in (0.02 * target.depth, 0.98 * target.depth)
        ]
    )
    xyz = here.to_member(places)
    gone = np.zeros(len(xyz), dtype=bool)
    for other in (q for q in sides if q is not side and q.least.size):
        p = member.section.face(other.face).from_member(xyz)
        i = np.floor((p[:, 0] - other.grid.x0) / other.grid.cell).astype(int)
        j = np.floor((p[:, 1] - other.grid.s0) / other.grid.cell).astype(int)
        rows, cols = other.least.shape
        known = (i >= 0) & (i < cols) & (j >= 0) & (j < rows)
        gone[known] |= p[known, 2] > other.least[j[known], i[known]]
    return len(gone) > 0 and bool(gone.mean() > MOSTLY)


def _check_uncut(sides: Sequence[SideCut], member: Member) -> list[ProofFinding]:
    """Features that no side cuts, and sides no program was given for."""
    findings: list[ProofFinding] = []
    count = 0
    for side in sides:
        targets = member_targets(member, side.face)
        count += len(targets)
        uncut = (t for t in targets if (t.id, t.kind) in side.uncut)
        for target in (t for t in uncut if not _made_from_another(member, side, t, sides)):
            x, s = target.outline.centroid.coords[0]
            findings.append(
                ProofFinding(
                    "not cut",
                    Verdict.NO_GO,
                    f"{target.kind} {target.id} of {side.side} is cut by no program of any side. Add the missing program, "
                    "or check side and zero",
                    feature=target.id,
                    at=(float(x), float(s), 0.0),
                )
            )
    given = {side.face for side in sides}
    missing = [face for face in member.worked_faces if face not in given]
    for face in missing:
        number = len(member_targets(member, face))
        findings.append(
            ProofFinding(
                "not judged",
                Verdict.CAUTION,
                f"side {face} was given no program: its {number} features are cut by none. Give its programs too",
            )
        )
    if not findings:
        findings.append(passed("not cut", f"all {count} features of {len(sides)} sides are cut"))
    return findings
