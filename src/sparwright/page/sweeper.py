"""A sweep in a process of its own: `python -m sparwright.page.sweeper`, with a Task as the first frame of its inbox.

Frames besides those of `apart`: "progress" with {"done", "total", "seconds_left"}, "found" with what `shown` makes of the
candidates done so far, a few times a second at most, and "step" with the name of a step that has no count. "done" brings
what `shown` makes of the whole result.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sparwright.page.apart import Apart, Inbox, Say, Tell, work_apart

if TYPE_CHECKING:
    from sparwright.sweep.files import Parcel
    from sparwright.sweep.model import Candidate, SweepResult

PAUSE = 0.4
"""Seconds between two tellings of what is found so far."""


@dataclass(frozen=True)
class Task:
    """What to sweep. parcel: the job with the files it still reads. words: as `sparwright sweep` takes them."""

    parcel: Parcel
    words: tuple[str, ...]


class Sweeping(Apart):
    """A sweep under way."""

    def __init__(self, task: Task, tell: Tell) -> None:
        super().__init__("sparwright.page.sweeper", (), tell)
        self.send("task", task)


def shown(result: SweepResult) -> dict[str, Any]:
    """A sweep as the page draws it.

    axes: [{"field", "key"}] of what was varied. figures: [{"name", "label", "unit", "more"}], those every candidate has;
    more: whether more is better. wishes: by the figure's name. candidates: "values" by axis (None where a key is left
    out), "figures" by name or None, "left_out" the reason, "misses" of the wishes in words, "front", and "note" on the
    model. recommended: its place among them or None, with the "reason". notes: what must be known besides.
    """
    from sparwright.sweep.front import SAID, SENSE

    made = [c.figures for c in result.candidates if c.figures is not None]
    names = [n for n in SAID if made and all(getattr(f, n) is not None for f in made)]
    chosen = result.chosen.candidate
    keys = [c.key for c in result.candidates]
    return {
        "axes": [{"field": s.field, "key": s.key} for s in result.candidates[0].change.settings],
        "figures": [
            {"name": n, "label": SAID[n][0], "unit": SAID[n][1], "more": SENSE[n] > 0} for n in names
        ],
        "wishes": result.wishes,
        "candidates": [_candidate(c, result, names) for c in result.candidates],
        "recommended": None if chosen is None else keys.index(chosen.key),
        "reason": result.chosen.reason,
        "notes": list(result.notes),
    }


def _candidate(c: Candidate, result: SweepResult, names: list[str]) -> dict[str, Any]:
    from sparwright.sweep.choose import missed

    return {
        "values": [s.value for s in c.change.settings],
        "figures": None if c.figures is None else {n: getattr(c.figures, n) for n in names},
        "left_out": c.left_out,
        "misses": list(missed(c.figures, result.wishes)),
        "front": c.key in result.front,
        "note": "" if c.figures is None else c.figures.note,
    }


def _sweep(say: Say, inbox: Inbox) -> dict[str, Any]:
    from sparwright.sweep.files import unpacked
    from sparwright.sweep.run import Progress
    from sparwright.sweep.sweep import so_far, sweep_job

    _, task = inbox.get()
    job, said = unpacked(task.parcel), 0.0
    done: list[Candidate] = []

    def told(p: Progress) -> None:
        nonlocal said
        say("progress", {"done": p.done, "total": p.total, "seconds_left": p.seconds_left})
        if p.last is not None:
            done.append(p.last)
        if any(c.figures for c in done) and time.monotonic() - said > PAUSE:
            say("found", shown(so_far(job, task.words, done)))
            said = time.monotonic()

    return shown(sweep_job(job, task.words, progress=told, step=lambda name: say("step", name)))


if __name__ == "__main__":
    work_apart(_sweep)
