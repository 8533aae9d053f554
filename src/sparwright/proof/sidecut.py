"""What one side's programs really cut, small enough to be handed from one process to another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.job.models import Job
from sparwright.placing.model import Setup
from sparwright.proof.case import Case
from sparwright.proof.kernels import Grid
from sparwright.proof.model import Proof
from sparwright.proof.probes import neighbours, probe_wall
from sparwright.proof.prove import Say, prove_side
from sparwright.proof.scene import CELL, Target, member_targets
from sparwright.proof.simulate import Cutaway
from sparwright.proof.surface import HARDLY, allowed_map, runs_inside
from sparwright.proof.walls import hole_figures
from sparwright.stock.model import Face, Member

TOUCHED = 1e-4  # a cell lowered by less than this is not cut, mm
IN_LINE = 0.01  # axes of holes nearer than this by design are one axis, mm: common practice, no source


@dataclass(frozen=True)
class SideCut:
    """The cutaway of one side over the box of cells it touches.

    grid: of the maps, (x, s) of the face. least: (rows, cols) float32, heights below which nothing in a cell is
    cut (cutters grown by half a cell's diagonal). wanted: (rows, cols) float32, how deep the side's own features
    allow. cut_by: (rows, cols) int32, index into lines, -1 where nothing is cut. lines: program and line. holes: x, s
    and diameter as cut of every round feature that has one on its axis on another side, by id and kind. uncut: id
    and kind of the features never cut. digests: SHA-256 of each program's bytes by name.
    """

    side: str
    face: str
    grid: Grid
    least: np.ndarray
    wanted: np.ndarray
    cut_by: np.ndarray
    lines: tuple[tuple[str, int], ...]
    holes: dict[tuple[str, str], tuple[float, float, float]]
    uncut: frozenset[tuple[str, str]]
    digests: dict[str, str]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The box of all that is cut: x from, s from, x to, s to, mm; no wider than nothing where nothing is."""
        rows, cols = self.least.shape
        x0, s0, cell = self.grid
        return x0, s0, x0 + cols * cell, s0 + rows * cell

    def line_at(self, j: int, i: int) -> tuple[str, int]:
        """Program and line that cut a cell lowest; ("", 0) where none did."""
        k = int(self.cut_by[j, i])
        return self.lines[k] if k >= 0 else ("", 0)


def opposite(one: Face, other: Face) -> bool:
    """Whether two faces look away from each other."""
    return bool(one.normal @ other.normal < -1 + 1e-9)


def in_line(member: Member, face: str) -> list[tuple[Target, Target, str]]:
    """Round features of a face with those that share their axis on opposite faces, and the name of these."""
    here, found = member.section.face(face), []
    mine = [t for t in member_targets(member, face) if t.circle is not None]
    for name in member.worked_faces:
        there = member.section.face(name)
        if not opposite(here, there):
            continue
        for other in member_targets(member, name):
            if other.circle is None:
                continue
            x, s = across_to(there, here, other.circle[0], other.circle[1])
            found += [
                (t, other, name)
                for t in mine
                if t.circle is not None and np.hypot(t.circle[0] - x, t.circle[1] - s) < IN_LINE
            ]
    return found


def across_to(there: Face, here: Face, x: float, s: float) -> tuple[float, float]:
    """A place (x, s) of one face straight across on the opposite one."""
    p = here.from_member(there.to_member(np.array([[x, s, 0.0]])))[0]
    return float(p[0]), float(p[1])


def side_cut(case: Case, cut: Cutaway, digests: dict[str, str]) -> SideCut:
    """The record of one side of a member, from its case and what is left after cutting."""
    touched = cut.grown < case.scene.before - TOUCHED
    rows, cols = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    grid = case.scene.grid
    box = (slice(0, 0), slice(0, 0))
    if len(rows):
        box = (slice(int(rows[0]), int(rows[-1]) + 1), slice(int(cols[0]), int(cols[-1]) + 1))
    lines, cut_by = _lines(case, np.where(touched[box], cut.grown_by[box], -1))
    return SideCut(
        side=case.scene.side,
        face=case.scene.face,
        grid=Grid(grid.x0 + box[1].start * grid.cell, grid.s0 + box[0].start * grid.cell, grid.cell),
        least=cut.grown[box].copy(),
        wanted=allowed_map(case, cut)[box].copy(),
        cut_by=cut_by,
        lines=lines,
        holes=_holes(case, cut),
        uncut=frozenset((t.id, t.kind) for t in case.scene.targets if not _touches(case, cut, t)),
        digests=dict(digests),
    )


def _lines(case: Case, by: np.ndarray) -> tuple[tuple[tuple[str, int], ...], np.ndarray]:
    """Program and line of every sweep that shows, and the map of these."""
    sweeps, index = np.unique(by, return_inverse=True)
    found = [case.line_of_sweep(int(k)) for k in sweeps]
    lines = tuple(dict.fromkeys(line for line, k in zip(found, sweeps, strict=True) if k >= 0))
    where = {line: i for i, line in enumerate(lines)}
    new = np.array(
        [where[line] if k >= 0 else -1 for line, k in zip(found, sweeps, strict=True)], dtype=np.int32
    )
    return lines, new[index].reshape(by.shape) if len(new) else by.astype(np.int32)


def _holes(case: Case, cut: Cutaway) -> dict[tuple[str, str], tuple[float, float, float]]:
    """Round features that share their axis with another side's, as cut: by exact looks round their walls."""
    member = case.scene.member
    if member is None:
        return {}
    wanted = {(t.id, t.kind) for t, _, _ in in_line(member, case.scene.face)}
    if not wanted:
        return {}
    found, others = {}, neighbours(case)
    for i, target in enumerate(case.scene.targets):
        if (target.id, target.kind) not in wanted or target.circle is None or not _touches(case, cut, target):
            continue
        probes = probe_wall(case, cut, target, others[i])
        if len(probes.gap):
            diameter, dx, ds = hole_figures(target, probes)
            x, s, _ = target.circle
            found[target.id, target.kind] = (x + dx, s + ds, diameter)
    return found


def _touches(case: Case, cut: Cutaway, target: Target) -> bool:
    """Whether a target is cut at all, over more than a sliver of its ground; so too where it has no ground in the stock."""
    cells, lowered = 0, 0
    for j, a, b in runs_inside(case, target.outline):
        cells += int(b - a)
        lowered += int((cut.after[j, a:b] < case.scene.before[j, a:b] - TOUCHED).sum())
    return cells == 0 or lowered >= HARDLY * cells


class Keeper:
    """Takes what a proof hands out and makes the side's record of it; record: None until then."""

    def __init__(self) -> None:
        self.case: Case | None = None
        self.cut: Cutaway | None = None

    def __call__(self, case: Case, cut: Cutaway, *_: object) -> None:
        self.case, self.cut = case, cut

    def record(self, proof: Proof) -> SideCut | None:
        """The record, with the digests the proof names; None where nothing was cut in simulation."""
        if self.case is None or self.cut is None:
            return None
        return side_cut(self.case, self.cut, proof.digests)


def prove_and_keep(
    programs: Sequence[tuple[str, str]],
    member: Member,
    setup: Setup,
    job: Job,
    *,
    setups: Sequence[Setup] = (),
    cell: float = CELL,
    progress: Say | None = None,
) -> tuple[Proof, SideCut | None]:
    """As prove_side, with the side's record for the proof of all sides together."""
    keeper = Keeper()
    proof = prove_side(programs, member, setup, job, cell=cell, setups=setups, progress=progress, keep=keeper)
    return proof, keeper.record(proof)
