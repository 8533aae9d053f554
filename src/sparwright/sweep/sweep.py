"""A whole sweep: words to candidates, their figures, the front, and the choice confirmed by the bay."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from sparwright.job.models import Job
from sparwright.stiffness.fast import bay_model
from sparwright.stock.member import build_member
from sparwright.sweep.candidate import evaluate
from sparwright.sweep.choose import choose
from sparwright.sweep.front import front_of, goals_of, wishes_of
from sparwright.sweep.model import Candidate, Chosen, SweepResult
from sparwright.sweep.run import Evaluate, Progress, run_sweep
from sparwright.sweep.store import NAME
from sparwright.sweep.vary import all_changes, read_words


def sweep_job(
    job: Job,
    words: Sequence[str],
    *,
    goals: Sequence[str] = (),
    workers: int | None = None,
    cluster: str | None = None,
    out: Path | None = None,
    progress: Callable[[Progress], None] | None = None,
    step: Callable[[str], None] | None = None,
    evaluate_with: Evaluate = evaluate,
    confirm_with: Evaluate | None = None,
) -> SweepResult:
    """Everything `words` make of the job, evaluated, with the front and the recommended candidate.

    goals: names of the figures the front is drawn by, as goals_of says; workers, cluster and progress as for
    run_sweep. out: folder in which finished candidates are kept, so that a killed sweep goes on; nothing is kept
    without it. step: told when evaluating is done and the bay is asked. Raises SweepError or JobError for what cannot
    be meant.
    """
    start = time.perf_counter()
    section = build_member(job).section
    axes = read_words(words, job, section)
    wanted, wishes = goals_of(job, goals), _wishes(job)
    resumed: list[int] = []

    def told(p: Progress) -> None:
        resumed.append(p.resumed)
        if progress is not None:
            progress(p)

    candidates = run_sweep(
        job,
        all_changes(axes, job),
        evaluate=evaluate_with,
        workers=workers,
        cluster=cluster,
        store=None if out is None else out / NAME,
        progress=told,
    )
    seconds = time.perf_counter() - start
    if step is not None:
        step("the bay on the chosen one")
    again = confirm_with or partial(evaluate, model=bay_model)

    def confirm(candidate: Candidate) -> Candidate:
        return again(job, candidate.change)

    return SweepResult(
        title=job.title,
        digest=job.digest,
        words=tuple(words),
        candidates=candidates,
        goals=wanted,
        wishes=wishes,
        front=tuple(c.key for c in front_of(candidates, wanted)),
        chosen=choose(candidates, wishes, confirm),
        resumed=resumed[0],
        seconds=seconds,
        notes=_notes(job, candidates),
    )


def so_far(job: Job, words: Sequence[str], candidates: Sequence[Candidate]) -> SweepResult:
    """What a sweep that is not at its end has found: the front among these candidates, and none recommended yet."""
    wanted = goals_of(job, ())
    return SweepResult(
        title=job.title,
        digest=job.digest,
        words=tuple(words),
        candidates=tuple(candidates),
        goals=wanted,
        wishes=_wishes(job),
        front=tuple(c.key for c in front_of(candidates, wanted)),
        chosen=Chosen(None, "One is recommended when all candidates are done."),
        notes=_notes(job, candidates),
    )


def _wishes(job: Job) -> dict[str, float]:
    """What the job asks for and a sweep can judge, by the figure's name."""
    served = job.served is not None
    return {g: w for g, w in wishes_of(job.file.wishes).items() if served or g not in ("tip_mm", "first_Hz")}


def _notes(job: Job, candidates: Sequence[Candidate]) -> tuple[str, ...]:
    """What a reader must know beside the figures."""
    notes = []
    reasons = Counter(c.left_out for c in candidates if c.figures is None)
    if reasons:
        commonest, count = reasons.most_common(1)[0]
        notes.append(
            f"{sum(reasons.values())} of {len(candidates)} candidates are left out; the commonest reason, {count} times: {commonest}"
        )
    methods = Counter(c.figures.method for c in candidates if c.figures is not None)
    if len(methods) > 1:
        by = ", ".join(f"{count} by the {name}" for name, count in methods.most_common())
        notes.append(f"Stiffness came from two models: {by}; each states its own spread.")
    wishes = job.file.wishes
    if job.served is None and (wishes.tip_deflection is not None or wishes.first_frequency is not None):
        notes.append("The wishes for the machine served are not judged: the job names no machine.")
    return tuple(notes)
