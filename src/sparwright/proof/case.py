"""The case before the judge: programs as read, the scene they act in, and how a finding names its place."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from sparwright.answers import BadInput, Verdict
from sparwright.job.models import Job
from sparwright.program.model import ReadError, Reading
from sparwright.program.passing import words_to_pass_over
from sparwright.proof.cutters import tools_of
from sparwright.proof.extents import Extents, extents_of
from sparwright.proof.kernels import FLAT, Sweeps, Tools
from sparwright.proof.model import ProofFinding
from sparwright.proof.motion import Moves, collect, sweeps_of, to_face
from sparwright.proof.scene import Scene

NEAR = 8.0  # a place further than this from every feature belongs to none, mm


@dataclass(frozen=True)
class Told:
    """What the reading of a program says besides its motions; see Reading."""

    errors: tuple[ReadError, ...]
    ended: bool
    dwell_seconds: float
    passed: tuple[tuple[int, str], ...]


@dataclass(frozen=True)
class Case:
    """names, texts, readings: of the programs in order. sweeps come from motions `move_of` (m,). tools: the job's
    cutters, in its order.
    """

    scene: Scene
    job: Job
    names: tuple[str, ...]
    texts: tuple[str, ...]
    readings: tuple[Told, ...]
    moves: Moves
    sweeps: Sweeps
    move_of: np.ndarray
    tools: Tools

    @cached_property
    def extents(self) -> Extents:
        """How far each motion reaches, bed frame."""
        return extents_of(self.moves)

    def line_of(self, move: int) -> tuple[str, int]:
        """Program and line of a motion; ("", 0) for a negative index."""
        if move < 0:
            return "", 0
        return self.names[int(self.moves.program[move])], int(self.moves.line[move])

    def line_of_sweep(self, sweep: int) -> tuple[str, int]:
        """Program and line of a sweep; ("", 0) for a negative index."""
        return self.line_of(int(self.move_of[sweep]) if sweep >= 0 else -1)

    def end_of(self, move: int) -> tuple[float, float, float]:
        """Where a motion ends, (x, s, n)."""
        x, s, n = to_face(self.moves.end[move : move + 1], self.scene.pose)[0]
        return float(x), float(s), float(n)

    def feature_near(self, x: float, s: float) -> str:
        """The feature at a place, or the nearest within NEAR; empty where there is none."""
        if not self.scene.targets:
            return ""
        far = shapely.distance([t.outline for t in self.scene.targets], shapely.Point(x, s))
        nearest = int(np.argmin(far))
        return self.scene.targets[nearest].id if far[nearest] <= NEAR else ""


def case_of(
    programs: Sequence[tuple[str, str]],
    readings: Iterable[Reading],
    scene: Scene,
    job: Job,
    lift: float = 0.0,
) -> Case:
    """The case of programs (name, text) as read, all heights raised by `lift`. Of the readings only what the case
    needs is kept.
    """
    read = list(readings)
    moves = collect(read, job.cutters, lift)
    told = tuple(Told(r.errors, r.ended, r.dwell_seconds, r.passed) for r in read)
    del read
    tools = tools_of(job.cutters)
    sweeps, move_of = sweeps_of(moves, scene.pose, tools.form == FLAT)
    return Case(
        scene=scene,
        job=job,
        names=tuple(name for name, _ in programs),
        texts=tuple(text for _, text in programs),
        readings=told,
        moves=moves,
        sweeps=sweeps,
        move_of=move_of,
        tools=tools,
    )


def named(program: str, line: int) -> str:
    """How a message names the guilty line."""
    return f"line {line} of {program}" if program else "no line in particular"


def over_face(z: float) -> str:
    """A height in words: over the face, or under it where negative, mm."""
    return f"{abs(z):.2f} mm {'over' if z >= 0 else 'under'} the face"


def rounded(mm: float) -> str:
    """A length as a message gives it: hundredths of a mm, whole mm from 100 on."""
    return f"{mm:.2f} mm" if abs(mm) < 100 else f"{mm:.0f} mm"


def passed_words(job: Job) -> tuple[str, ...]:
    """The words the bed's controller passes over. Raises BadInput for one that NIST IR 6556 gives a meaning."""
    words = job.bed.controller.passes_over
    try:
        words_to_pass_over(words)
    except ValueError as problem:
        raise BadInput(f"{job.file.job.bed}: controller.passes_over: {problem}") from problem
    return words


def passed(
    check: str, message: str, value: float | None = None, limit: float | None = None, unit: str = ""
) -> ProofFinding:
    """A check that found nothing wrong."""
    return ProofFinding(check, Verdict.GO, message, value=value, limit=limit, unit=unit)


def blame_moves(
    case: Case,
    check: str,
    bad: np.ndarray,
    verdict: Verdict,
    message: Callable[[int], str],
    value: np.ndarray | None = None,
    limit: float | np.ndarray | None = None,
    unit: str = "",
    at: Callable[[int], tuple[float, float, float]] | None = None,
) -> list[ProofFinding]:
    """One finding a program for the motions `bad` (indices, in order): the first is named, the others counted.

    message: of a motion, without its place. value: (k,) figure of every motion. limit: the
    same for all, or (k,) of every motion.
    """
    findings = []
    for program in np.unique(case.moves.program[bad]):
        these = bad[case.moves.program[bad] == program]
        k = int(these[0])
        name, line = case.line_of(k)
        more = len(np.unique(case.moves.line[these])) - 1
        place = at(k) if at else case.end_of(k)
        findings.append(
            ProofFinding(
                check,
                verdict,
                f"{named(name, line)}: {message(k)}"
                + (f". {more} more line{'s' * (more > 1)} like it" if more else ""),
                feature=case.feature_near(place[0], place[1]),
                program=name,
                line=line,
                at=place,
                value=None if value is None else float(value[k]),
                limit=float(limit[k]) if isinstance(limit, np.ndarray) else limit,
                unit=unit,
            )
        )
    return findings


def worst_per_move(case: Case, figures: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Greatest figure of each motion over its sweeps, (k,), and the sweep that has it, int32 (k,) (-1 for none)."""
    best = np.full(len(case.moves.line), -np.inf, dtype=figures.dtype)
    np.maximum.at(best, case.move_of, figures)
    who = np.full(len(best), -1, dtype=np.int32)
    hit = np.flatnonzero(figures >= best[case.move_of])[::-1]
    who[case.move_of[hit]] = hit
    return best, who


def digest_order(findings: Sequence[ProofFinding]) -> tuple[ProofFinding, ...]:
    """Findings in falling order of danger, otherwise as they were found."""
    return tuple(sorted(findings, key=lambda f: -f.verdict.rank))
