"""The state of the page as one plain document, and those who are told of its changes."""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.answers import QUESTIONS, as_sentence

if TYPE_CHECKING:
    from sparwright.page.jobtext import Digests

State = dict[str, Any]
QUICK_QUESTIONS = (1, 2)
"""Questions that have a quick answer."""


def no_work() -> State:
    """Nothing is being worked out."""
    return {"running": False, "step": "", "number": 0, "of": 0, "stopped": False}


def no_sweep() -> State:
    """No sweep was made yet."""
    return {
        "running": False,
        "step": "",
        "done": 0,
        "total": 0,
        "seconds_left": None,
        "stopped": False,
        "message": None,
        "number": 0,
        "as_of": None,
        "holds": False,
    }


def told(problem: Exception) -> State:
    """A mistake as the page shows it: its message with the file's plain name, file, line (0 where none is to blame)."""
    file, text = str(getattr(problem, "file", "")), as_sentence(problem)
    name = Path(file).name
    return {
        "text": text.replace(file, name) if file else text,
        "file": name,
        "line": getattr(problem, "line", 0),
    }


def our_fault(what: Exception | str) -> str:
    """A fault of the program as the page shows it, in one sentence; of an exception its kind and the first line of its words."""
    if isinstance(what, Exception):
        what = f"{type(what).__name__}: {what}".splitlines()[0]
    return f"A fault of ours, not of your job: {what.rstrip('.: ')}."


def empty_band(question: int) -> State:
    """A band that has no answer yet."""
    return {
        "question": question,
        "title": QUESTIONS[question],
        "verdict": None,
        "word": "",
        "headline": "",
        "margin": None,
        "findings": [],
        "status": "working",
        "by": None,
        "as_of": None,
    }


class Board:
    """Holds the state, changes it whole, and tells of it. All methods may be called from any thread.

    `state` keys: version, counted up; file, its name; title; digest of the text on disk; basis, the digest of what the answers
    rest on, all of it but job.units; good, the digest of the last text that reads; units the job is shown in, "mm" or "inch"; message {text, file, line} or None; bands; controls; pictures; work {running, step, number, which of
    the steps it is, of, how many there are, stopped}; when_asked, whether the whole plan waits to be asked for; sweep {running, step, done, total, seconds_left, stopped, message,
    and of the last result number, 0 without one, as_of, its digest, and holds, whether it answers the text as it is now};
    packet {running, message, and of the last one made as_of, its digest or None, folder, files, how many}; undo, redo:
    what one step would take back, or None. See docs/page.md for the bands.
    """

    def __init__(self, file: str, digests: Digests, *, when_asked: bool = False) -> None:
        self._lock = threading.RLock()
        self._listeners: set[Callable[[], None]] = set()
        self._state: State = {
            "version": 0,
            "file": file,
            "title": "",
            "digest": digests.text,
            "basis": digests.basis,
            "good": None,
            "message": None,
            "bands": [empty_band(q) for q in QUESTIONS],
            "controls": [],
            "units": "mm",
            "pictures": [],
            "work": no_work(),
            "when_asked": when_asked,
            "sweep": no_sweep(),
            "packet": {"running": False, "message": None, "as_of": None, "folder": "", "files": 0},
            "undo": None,
            "redo": None,
        }

    def listen(self, heard: Callable[[], None]) -> Callable[[], None]:
        """Call `heard` after every change; the way to stop that is given back."""
        with self._lock:
            self._listeners.add(heard)
        return lambda: self._listeners.discard(heard)

    def wake(self) -> None:
        """Call all who listen, as after a change."""
        with self._lock:
            self._put()

    def snapshot(self) -> State:
        """The state as it is now, a copy of its own."""
        with self._lock:
            return copy.deepcopy(self._state)

    @property
    def units(self) -> str:
        """Units the job is shown in: "mm" or "inch"."""
        with self._lock:
            found: str = self._state["units"]
            return found

    @property
    def good(self) -> str | None:
        """Digest of the last text that reads."""
        with self._lock:
            found: str | None = self._state["good"]
            return found

    @property
    def basis(self) -> str:
        """Digest of what the answers to the text on disk rest on."""
        with self._lock:
            found: str = self._state["basis"]
            return found

    def text_changed(self, digests: Digests, undo: str | None, redo: str | None) -> None:
        """The text on disk is another one: nothing shown answers it yet, unless it differs in its units only."""
        with self._lock:
            if digests.basis != self._state["basis"]:
                for band in self._state["bands"]:
                    band["status"] = "working" if band["question"] in QUICK_QUESTIONS else "stale"
                self._put(basis=digests.basis, work=no_work())
            self._put(digest=digests.text, undo=undo, redo=redo)

    def show_job(self, digest: str, job: State, controls: Sequence[State], pictures: Sequence[State]) -> None:
        """The text reads: its title and units, what can be varied, the pictures there are."""
        with self._lock:
            if digest == self._state["digest"]:
                self._put(good=digest, message=None, controls=controls, pictures=pictures, **job)

    def show_band(self, band: State) -> None:
        """A quick answer; the whole plan's answer to the same text stands above it."""
        with self._lock:
            if band["as_of"] != self._state["basis"]:
                return
            place = band["question"] - 1
            old = self._state["bands"][place]
            if old["by"] == "plan" and old["as_of"] == band["as_of"]:
                old["status"] = "fresh"
            else:
                self._state["bands"][place] = dict(band)
            self._put()

    def refuse(self, digest: str, message: State) -> None:
        """A mistake in the files: the last good answers stay, marked as older."""
        with self._lock:
            if digest != self._state["digest"]:
                return
            for band in self._state["bands"]:
                band["status"] = "stale"
            self._put(message=message, work=no_work())

    def plan_begins(self, basis: str) -> None:
        """The whole plan is being worked out."""
        with self._lock:
            for band in self._state["bands"]:
                band["status"] = "fresh" if band["as_of"] == basis else "working"
            self._put(work=no_work() | {"running": True, "step": "starting"})

    def plan_step(self, step: State) -> None:
        """A step of it begins: {"step", "number", "of"}."""
        with self._lock:
            self._put(work=self._state["work"] | step)

    def show_answer(self, band: State) -> None:
        """An answer of the whole plan that is being worked out."""
        with self._lock:
            if band["as_of"] == self._state["basis"]:
                self._state["bands"][band["question"] - 1] = dict(band)
                self._put()

    def show_plan(self, basis: str, bands: Sequence[State]) -> None:
        """All six bands of the whole plan; its pictures can be drawn."""
        with self._lock:
            if basis == self._state["basis"]:
                self._put(bands=[dict(b) for b in bands])
            self._of_plan(digest=basis, making=None)

    def plan_gone(self) -> None:
        """The plan's pictures cannot be drawn any more; its answers stand."""
        with self._lock:
            self._of_plan(digest=None, making=None)

    def making(self, name: str, step: State | None) -> None:
        """A picture is being made: {"step", "done", "of"}, or None when that has ended."""
        with self._lock:
            self._put(
                pictures=[p | {"making": step} if p["name"] == name else p for p in self._state["pictures"]]
            )

    def _of_plan(self, **values: Any) -> None:
        """Change what is told of the pictures that the plan's process draws."""
        pictures = self._state["pictures"]
        self._put(pictures=[p if p["needs"] == "member" else p | values for p in pictures])

    def plan_ends(self, *, stopped: bool, message: State | None = None) -> None:
        """Nothing is being worked out any more."""
        with self._lock:
            for band in self._state["bands"]:
                if band["status"] == "working":
                    band["status"] = "stale"
            self._put(work=no_work() | {"stopped": stopped}, message=message or self._state["message"])

    def sweep(self, **values: Any) -> None:
        """Something of the sweep is another now."""
        with self._lock:
            self._put(sweep=self._state["sweep"] | values)

    def packet(self, **values: Any) -> None:
        """Something of the packet is another now."""
        with self._lock:
            self._put(packet=self._state["packet"] | values)

    def _put(self, **values: Any) -> None:
        self._state |= values
        self._state["version"] += 1
        for heard in tuple(self._listeners):
            heard()
