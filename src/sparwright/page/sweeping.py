"""The sweep of a page: what is asked for made into words, one sweep at a time, its result kept until the next."""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sparwright.answers import BadInput
from sparwright.page.apart import Apart
from sparwright.page.board import Board, State
from sparwright.page.sweeper import Sweeping, Task

if TYPE_CHECKING:
    from sparwright.job.models import Job
    from sparwright.stock.model import Member

MOST = 120
"""Candidates of a sweep on the page; the command line takes more."""
UNFINISHED = "The sweep ended before all its candidates were done, so none is recommended."
KEYS = ("rib", "skin", "depth", "cell", "width", "rows")
"""Keys of a field that are numbers and can be varied on the page."""


@dataclass(frozen=True)
class Varied:
    """One key of one field, `count` values from low to high, both among them."""

    field: str
    key: str
    low: float
    high: float
    count: int

    @property
    def word(self) -> str:
        """As the sweep takes it. Raises BadInput where it is no range."""
        if self.key not in KEYS:
            raise BadInput(f"{self.key} cannot be varied here; take one of {', '.join(KEYS)}")
        place = f"{self.field}.{self.key}"
        if not (math.isfinite(self.low) and math.isfinite(self.high)):
            raise BadInput(f"{place}: from and to must be numbers")
        if self.low >= self.high:
            raise BadInput(
                f"{place}: from {self.low:g} to {self.high:g} does not rise; let the first be the smaller one"
            )
        if not 2 <= self.count <= MOST:
            raise BadInput(f"{place}: {self.count} values cannot be taken; state 2 to {MOST}")
        step = (self.high - self.low) / (self.count - 1)
        places = 0 if self.key == "rows" else 3
        values = dict.fromkeys(f"{round(self.low + k * step, places):g}" for k in range(self.count))
        return f"{place}={','.join(values)}"


class Sweeps:
    """The sweeps of one page. All methods may be called from any thread."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self._lock = threading.RLock()
        self._under_way: Sweeping | None = None
        self._number = 0
        self._found: tuple[Job, State] | None = None
        self._some = False  # whether the sweep under way has found something yet
        self._now: Job | None = None

    def begin(self, job: Job, member: Member, digest: str, wanted: Sequence[Varied]) -> None:
        """Begin a sweep of the job, whose text has that digest.

        Raises BadInput for a range that cannot be meant, for too many candidates, and while another sweep runs.
        """
        from sparwright.sweep.files import pack
        from sparwright.sweep.vary import all_changes, read_words

        words = tuple(v.word for v in wanted)
        count = len(all_changes(read_words(words, job, member.section), job, most=MOST))
        with self._lock:
            if self._under_way is not None:
                raise BadInput("a sweep is under way; stop it first")
            self._board.sweep(running=True, step="starting", done=0, total=count, stopped=False, message=None)
            self._some = False
            self._under_way = Sweeping(
                Task(pack(job), words), lambda *frame: self._heard(job, digest, *frame)
            )

    def stop(self) -> None:
        """Stop the sweep that is under way; what it has found so far stays, or else what an earlier one found."""
        with self._lock:
            under_way = self._under_way
        if under_way is not None:
            under_way.stop()

    @property
    def result(self) -> State | None:
        """What the last sweep found, the one under way so far, as `sweeper.shown` says, and "number", counted up with every telling."""
        with self._lock:
            return None if self._found is None else self._found[1]

    def job_reads(self, job: Job) -> None:
        """The job reads as it is now: tell whether the last result still answers it."""
        with self._lock:
            self._now = job
            if self._found is not None:
                self._board.sweep(holds=self._holds())

    def _holds(self) -> bool:
        """Whether the job as it is now differs from the one that was swept in nothing but what was varied."""
        assert self._found is not None
        before, result = self._found
        return self._now is not None and _rest(before, result["axes"]) == _rest(self._now, result["axes"])

    def _heard(self, job: Job, digest: str, sweeping: Apart, kind: str, value: Any) -> None:
        with self._lock:
            if sweeping is not self._under_way:
                return
            if kind == "progress":
                self._board.sweep(step="candidates", **value)
                return
            if kind == "step":
                self._board.sweep(step=value, seconds_left=None)
                return
            if kind == "found":
                self._keep(job, digest, value)
                self._some = True
                return
            self._under_way = None
            ended: State = {"running": False, "step": "", "seconds_left": None, "stopped": kind == "stopped"}
            if kind == "done":
                self._keep(job, digest, value, **ended)
                return
            ended["done"] = 0  # of those that stay
            if self._some and self._found is not None:
                ended["done"] = len(self._found[1]["candidates"])
                self._keep(job, digest, self._found[1] | {"reason": UNFINISHED}, **ended)
            message = value["text"] if kind == "bad" else value  # none where it was stopped
            self._board.sweep(**ended, message=message)

    def _keep(self, job: Job, digest: str, found: State, **besides: Any) -> None:
        """What is found, in place of what was; the page is told."""
        self._number += 1
        self._found = job, found | {"number": self._number}
        self._board.sweep(number=self._number, as_of=digest, holds=self._holds(), **besides)


def _rest(job: Job, axes: Sequence[dict[str, str]]) -> list[Any]:
    """All that a sweep's figures rest on but what it varied; they do not rest on the units they are shown in."""
    file = job.file.model_dump()
    del file["job"]["units"]
    for axis in axes:
        for field in file["field"]:
            if field["name"] == axis["field"]:
                field[axis["key"]] = None
    return [file, job.bed, job.cutters, job.material, job.served]
