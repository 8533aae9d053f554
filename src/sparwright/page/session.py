"""The page's one truth: the job on disk, what is known of it, what is being worked out, and who listens."""

from __future__ import annotations

import copy
import queue
import tempfile
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from sparwright.page.editing import Change
from sparwright.page.jobtext import JobText, Texts, digest_of
from sparwright.page.planner import Planning

POLL = 0.5
"""Seconds between two looks at the disk."""
CALM = 1.2
"""Seconds without a change before the whole plan is begun."""
KEPT = 64
"""Quick answers and picture data that are kept, by digest."""

State = dict[str, Any]


class Kept(OrderedDict[Any, Any]):
    """The last things found, by key."""

    def keep(self, key: Any, value: Any) -> Any:
        """Keep a value and give it back."""
        self[key] = value
        self.move_to_end(key)
        while len(self) > KEPT:
            self.popitem(last=False)
        return value


class Session:
    """Everything between the files and the browser. All methods may be called from any thread."""

    def __init__(self, path: Path) -> None:
        self.text = JobText(path)
        self._lock = threading.RLock()
        self._wake = threading.Event()
        self._closed = False
        self._listeners: set[Callable[[], None]] = set()
        self._loaded: Kept = Kept()
        self._quick: Kept = Kept()
        self._pictures: Kept = Kept()
        self._calculating = threading.Lock()
        self._planning: Planning | None = None
        self._plan: tuple[str, Any] | None = None
        self._changed_at = 0.0
        self._begun: str | None = None
        self.state: State = self._first_state()

    # --- life ---------------------------------------------------------------------------------------------

    def start(self) -> None:
        """Begin to watch and to work."""
        threading.Thread(target=self._work, name="quick answers", daemon=True).start()
        threading.Thread(target=self._watch, name="watch the files", daemon=True).start()

    def close(self) -> None:
        """End all that was begun."""
        self._closed = True
        self._wake.set()
        if self._planning is not None:
            self._planning.stop()

    def listen(self, heard: Callable[[], None]) -> Callable[[], None]:
        """Call `heard` after every change of the state; the way to stop that is given back."""
        with self._lock:
            self._listeners.add(heard)
        return lambda: self._listeners.discard(heard)

    @property
    def closed(self) -> bool:
        """Whether it is over."""
        return self._closed

    def snapshot(self) -> State:
        """The state as it is now, a copy of its own."""
        with self._lock:
            return copy.deepcopy(self.state)

    # --- what the page asks -------------------------------------------------------------------------------

    def edit(self, digest: str, changes: Sequence[Change]) -> None:
        """Change values in the files. Raises Stale, CannotEdit."""
        self.text.edit(digest, changes)
        self._text_changed()

    def undo(self, digest: str) -> None:
        """One step back. Raises Stale."""
        self.text.undo(digest)
        self._text_changed()

    def redo(self, digest: str) -> None:
        """One step forth. Raises Stale."""
        self.text.redo(digest)
        self._text_changed()

    def attempt(self, digest: str, changes: Sequence[Change]) -> State:
        """What the quick stiffness would be with the changes, nothing written: {"digest", "bands", "message"}.

        Raises Stale, CannotEdit.
        """
        from sparwright.answers import BadInput
        from sparwright.page.quick import quick_stiffness

        texts = self.text.tried(digest, changes)
        key = digest_of(texts)
        with self._calculating:
            try:
                if (key, 1) not in self._quick:
                    from sparwright.page.bands import band_of
                    from sparwright.stock.member import build_member

                    job = self._job_from(texts)
                    self._quick.keep((key, 1), band_of(quick_stiffness(job, build_member(job)), "quick", key))
            except BadInput as problem:
                return {"digest": key, "bands": [], "message": _told(problem)}
        return {"digest": key, "bands": [self._quick[(key, 1)]], "message": None}

    def plan_now(self) -> None:
        """Begin the whole plan, if it is not under way."""
        self._begin_plan()

    def stop_plan(self) -> None:
        """Stop the plan that is under way; it begins again with the next change."""
        planning = self._planning
        if planning is not None:
            planning.stop()

    def picture(self, name: str) -> tuple[str, bytes] | None:
        """Data of a picture and the digest of the text it shows; None where what it needs is not there yet."""
        from sparwright.page.pictures import picture

        wanted = picture(name)
        with self._lock:
            good = self.state["good"]
            source: Any = self._loaded.get(good) if wanted.needs == "member" else None
            if wanted.needs == "plan" and self._plan is not None:
                good, plan = self._plan
                source = (plan,)
        if source is None:
            return None
        if (good, name) not in self._pictures:
            with self._calculating:
                if (good, name) not in self._pictures:
                    self._pictures.keep((good, name), wanted.build(*source).packed())
        return good, self._pictures[(good, name)]

    # --- work ---------------------------------------------------------------------------------------------

    def _watch(self) -> None:
        while not self._closed:
            time.sleep(POLL)
            if self.text.poll():
                self._text_changed()
            calm = time.monotonic() - self._changed_at > CALM
            ready = self.state["good"] == self.text.digest and not self._wake.is_set()
            if calm and ready and self._begun != self.text.digest:
                self._begin_plan()

    def _text_changed(self) -> None:
        self._changed_at = time.monotonic()
        planning, self._planning = self._planning, None
        with self._lock:
            self.state["digest"] = self.text.digest
            for band in self.state["bands"]:
                band["status"] = "working" if band["question"] in (1, 2) else "stale"
            self.state["work"] = _no_work()
            self._history()
        self._wake.set()
        self._tell()
        if planning is not None:
            threading.Thread(target=planning.stop, daemon=True).start()

    def _work(self) -> None:
        """Quick answers, one in flight; a change meanwhile is taken up at the next step."""
        self._wake.set()
        while True:
            self._wake.wait()
            if self._closed:
                return
            self._wake.clear()
            try:
                self._answer(self.text.digest)
            except Exception:
                import traceback

                traceback.print_exc()
                self._refuse(
                    {"text": f"A fault of ours: {traceback.format_exc(limit=1)}", "file": "", "line": 0}
                )

    def _answer(self, digest: str) -> None:
        from sparwright.answers import BadInput
        from sparwright.page.bands import band_of
        from sparwright.page.quick import QUICK

        try:
            with self._calculating:
                job, member = self._load(digest)
            self._show_job(digest, job, member)
            for question, find in QUICK.items():
                if (digest, question) not in self._quick:
                    with self._calculating:
                        self._quick.keep((digest, question), band_of(find(job, member), "quick", digest))
                self._show_band(digest, self._quick[(digest, question)])
                if self._wake.is_set():
                    return
        except BadInput as problem:
            if digest == self.text.digest:
                self._refuse(_told(problem))

    def _load(self, digest: str) -> tuple[Any, Any]:
        from sparwright.job.reading import load_job
        from sparwright.stock.member import build_member

        if digest in self._loaded:
            found: tuple[Any, Any] = self._loaded[digest]
            return found
        job = load_job(self.text.path)
        member = build_member(job)
        kept: tuple[Any, Any] = self._loaded.keep(digest, (job, member))
        return kept

    def _job_from(self, texts: Texts) -> Any:
        """A job from texts that are not on disk, read in a folder of its own."""
        from sparwright.job.reading import load_job

        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            for part, path in self.text.files.items():
                target = folder / path.relative_to(self.text.path.parent)
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(texts[part])
            return load_job(folder / self.text.path.name)

    # --- the state ----------------------------------------------------------------------------------------

    def _first_state(self) -> State:
        from sparwright.answers import QUESTIONS

        return {
            "version": 0,
            "file": self.text.path.name,
            "title": "",
            "digest": self.text.digest,
            "good": None,
            "message": None,
            "bands": [
                {"question": q, "title": QUESTIONS[q], "verdict": None, "headline": "", "margin": None}
                | {"findings": [], "status": "working", "by": None, "as_of": None}
                for q in QUESTIONS
            ],
            "controls": [],
            "pictures": [],
            "work": _no_work(),
            "undo": None,
            "redo": None,
        }

    def _history(self) -> None:
        self.state["undo"] = self.text.back[-1].words if self.text.back else None
        self.state["redo"] = self.text.forth[-1].words if self.text.forth else None

    def _show_job(self, digest: str, job: Any, member: Any) -> None:
        from sparwright.page.fields import as_dicts, controls

        with self._lock:
            files = [name for name in ("job", "cutters") if name in self.text.texts]
            self.state |= {"title": job.title, "message": None, "good": digest}
            self.state["controls"] = as_dicts(controls(job, member.section, files))
            self._show_pictures()
        self._tell()

    def _show_pictures(self) -> None:
        from sparwright.page.pictures import all_pictures

        plan_of = self._plan[0] if self._plan is not None else None
        self.state["pictures"] = [
            {"name": p.name, "band": p.band, "title": p.title, "needs": p.needs}
            | {"digest": self.state["good"] if p.needs == "member" else plan_of}
            for p in all_pictures()
        ]

    def _show_band(self, digest: str, band: State) -> None:
        with self._lock:
            if digest != self.text.digest:
                return
            old = self.state["bands"][band["question"] - 1]
            if old["by"] == "plan" and old["as_of"] == digest:
                old["status"] = "fresh"
            else:
                self.state["bands"][band["question"] - 1] = dict(band)
        self._tell()

    def _refuse(self, message: State) -> None:
        """A mistake in the files: the last good answers stay, marked as older."""
        with self._lock:
            self.state["message"] = message
            for band in self.state["bands"]:
                band["status"] = "stale"
        self._tell()

    def _tell(self) -> None:
        with self._lock:
            self.state["version"] += 1
            listeners = tuple(self._listeners)
        for heard in listeners:
            heard()

    # --- the whole plan -----------------------------------------------------------------------------------

    def _begin_plan(self) -> None:
        with self._lock:
            digest = self.text.digest
            if self._planning is not None or self.state["good"] != digest or self._closed:
                return
            self._begun = digest
            if self._plan is not None and self._plan[0] == digest:
                return self._show_plan(digest, self._plan[1])
            self.state["work"] = _no_work() | {"running": True, "step": "starting", "since": time.time()}
            for band in self.state["bands"]:
                if band["by"] != "plan" or band["as_of"] != digest:
                    band["status"] = "fresh" if band["as_of"] == digest else "working"
            told: queue.SimpleQueue[Planning] = queue.SimpleQueue()
            self._planning = Planning(
                self.text.path, lambda kind, value: self._heard(told, digest, kind, value)
            )
            told.put(self._planning)
        self._tell()

    def _heard(self, who: queue.SimpleQueue[Planning], digest: str, kind: str, value: Any) -> None:
        """A frame of the planning process; one that was put aside meanwhile is not listened to."""
        planning = who.get()
        who.put(planning)
        with self._lock:
            if planning is not self._planning:
                return
            work = self.state["work"]
            if kind == "step":
                self.state["work"] = work | {"step": value, "done": [*work["done"], value]}
            elif kind == "plan":
                self._plan = (digest, value)
                self._show_plan(digest, value)
            elif kind == "bad":
                self.state["message"] = {"text": value, "file": "", "line": 0}
            elif kind == "fault":
                self.state["message"] = {
                    "text": f"A fault of ours, not of your job. {value}",
                    "file": "",
                    "line": 0,
                }
            else:
                self._planning = None
                self.state["work"] = _no_work() | {"stopped": planning.stopped}
                for band in self.state["bands"]:
                    if band["status"] == "working":
                        band["status"] = "stale"
        self._tell()

    def _show_plan(self, digest: str, plan: Any) -> None:
        from sparwright.page.bands import band_of

        self.state["bands"] = [band_of(a, "plan", digest) for a in plan.answers]
        self._show_pictures()


def _no_work() -> State:
    return {"running": False, "step": "", "done": [], "since": None, "stopped": False}


def _told(problem: Exception) -> State:
    """A mistake as the page shows it: message, file, line (0 where no line is to blame)."""
    return {
        "text": str(problem),
        "file": Path(str(getattr(problem, "file", ""))).name,
        "line": getattr(problem, "line", 0),
    }
