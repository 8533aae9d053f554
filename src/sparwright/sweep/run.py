"""Evaluate many candidates by many workers, keep each as it is finished, and go on where an earlier sweep stopped."""

from __future__ import annotations

import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path

from sparwright.job.models import Job
from sparwright.sweep.candidate import evaluate as evaluate_candidate
from sparwright.sweep.faults import SweepError, told
from sparwright.sweep.files import Parcel, pack, unpacked
from sparwright.sweep.model import Candidate
from sparwright.sweep.store import Store
from sparwright.sweep.vary import Change
from sparwright.sweep.workers import Workers, cluster_workers, local_workers

Evaluate = Callable[[Job, Change], Candidate]
CHUNK = 12  # most candidates handed out at once
LOOK = 2.0  # s between looks at whether the workers are still there
# Keys that change no outline: candidates that differ in these only share meshes and paths.
SAME_OUTLINE = ("skin", "depth", "faces", "end_margin")
_one_at_a_time = threading.Lock()


@dataclass(frozen=True)
class Progress:
    """How far a sweep is: candidates done of total, those an earlier sweep had done, left_out so far, seconds since
    the start, the seconds still to go at the mean pace, and the candidate just done (None before the first is)."""

    done: int
    total: int
    resumed: int
    left_out: int
    seconds: float
    seconds_left: float | None
    last: Candidate | None = None


@dataclass
class _Watch:
    """Counts what comes in and tells the listener."""

    total: int
    resumed: int
    tell: Callable[[Progress], None] | None
    start: float = field(default_factory=time.perf_counter)
    done: int = 0
    left_out: int = 0

    def count(self, candidate: Candidate) -> None:
        self.done += 1
        self.left_out += candidate.figures is None
        self.report(candidate)

    def report(self, last: Candidate | None = None) -> None:
        if self.tell is None:
            return
        spent = time.perf_counter() - self.start
        to_go = self.total - self.resumed - self.done
        left = spent / self.done * to_go if self.done else None
        done = self.resumed + self.done
        self.tell(Progress(done, self.total, self.resumed, self.left_out, spent, left, last))


def run_sweep(
    job: Job,
    changes: Sequence[Change],
    *,
    evaluate: Evaluate = evaluate_candidate,
    workers: int | None = None,
    cluster: str | None = None,
    store: Path | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[Candidate, ...]:
    """Every change evaluated, in the order given.

    evaluate: called in the workers, so a function they can import (or a partial of one). workers: processes on this
    computer, one a core unless said; cluster: address of a Dask scheduler instead. store: file that keeps finished
    candidates; those it holds are not evaluated again. progress: told after every candidate.
    Raises SweepError where the workers cannot be had or are lost; what was finished is then in the store.
    """
    if cluster is not None and workers is not None:
        raise told(
            "--workers is for this computer, and --cluster brings its own", remedy="leave one of them out"
        )
    opened: AbstractContextManager[Store | None] = (
        nullcontext() if store is None else Store(store, job.digest)
    )
    with opened as kept:
        known = {} if kept is None else kept.finished
        found = {c.key: known[c.key] for c in changes if c.key in known}
        todo = [c for c in changes if c.key not in found]
        watch = _Watch(len(changes), len(found), progress)
        watch.left_out = sum(c.figures is None for c in found.values())
        watch.report()
        if todo:
            pool = cluster_workers(cluster) if cluster is not None else local_workers(workers)
            with pool as ready:
                for candidate in _evaluated(ready, job, todo, evaluate):
                    found[candidate.key] = candidate
                    if kept is not None:
                        kept.add(candidate)
                    watch.count(candidate)
    return tuple(found[c.key] for c in changes)


def chunks_of(changes: Sequence[Change], workers: int) -> tuple[tuple[Change, ...], ...]:
    """The changes in lots for one worker each, those with the same outlines together, in a stable order.

    A lot is at most CHUNK long, and short enough that every worker gets some.
    """
    groups: dict[tuple[object, ...], list[Change]] = {}
    for change in changes:
        outline = tuple((s.field, s.key, s.value) for s in change.settings if s.key not in SAME_OUTLINE)
        groups.setdefault(outline, []).append(change)
    size = max(1, min(CHUNK, len(changes) // (4 * workers)))
    lots: list[tuple[Change, ...]] = []
    lot: list[Change] = []
    for group in groups.values():
        for start in range(0, len(group), size):
            part = group[start : start + size]
            if lot and len(lot) + len(part) > size:
                lots.append(tuple(lot))
                lot = []
            lot += part
    return (*lots, tuple(lot)) if lot else tuple(lots)


def evaluate_lot(parcel: Parcel, changes: Sequence[Change], evaluate: Evaluate) -> list[Candidate]:
    """The candidates of one lot, in a worker. One lot at a time in a process: the mesher is not made for threads.

    A fault of ours in one candidate leaves that one out and lets the others be.
    """
    with _one_at_a_time:
        job = unpacked(parcel)
        found = []
        for change in changes:
            start = time.perf_counter()
            try:
                found.append(evaluate(job, change))
            except Exception as problem:
                last = traceback.extract_tb(problem.__traceback__)[-1]
                why = (
                    f"A fault of ours, not of your job: {type(problem).__name__}: {problem} "
                    f"({Path(last.filename).name}, line {last.lineno})"
                )
                found.append(Candidate(change, None, why, time.perf_counter() - start, fault=True))
        return found


def _evaluated(
    workers: Workers, job: Job, changes: Sequence[Change], evaluate: Evaluate
) -> Iterator[Candidate]:
    """Candidates as they come, from every lot at work at once."""
    parcel = pack(job)
    lots = chunks_of(changes, workers.count)
    try:
        waiting = {workers.submit(evaluate_lot, parcel, lot, evaluate) for lot in lots}
    except BrokenProcessPool:
        raise _stopped("the worker processes do not start") from None
    while waiting:
        done, waiting = wait(waiting, timeout=LOOK, return_when=FIRST_COMPLETED)
        for future in done:
            yield from _result(future, workers)
        why = "" if done or not waiting else workers.lost()
        if why:
            raise _stopped(why)


def _result(future: Future[list[Candidate]], workers: Workers) -> list[Candidate]:
    try:
        return future.result()
    except BrokenProcessPool:
        raise _stopped("a worker process ended of itself, as it does when memory runs out") from None
    except CancelledError:
        raise _stopped(workers.lost() or f"{workers.where} gave up a lot of candidates") from None
    except Exception as problem:
        raise _stopped(f"{workers.where} failed with {type(problem).__name__}: {problem}") from None


def _stopped(why: str) -> SweepError:
    return told(
        why[:1].upper() + why[1:],
        remedy="start the sweep again when that is mended; with --out it goes on with the candidates it has",
    )
