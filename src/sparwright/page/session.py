"""Everything between the files and the browser: quick answers, the whole plan, pictures, changes of the job."""

from __future__ import annotations

import threading
import time
import traceback
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.answers import BadInput
from sparwright.page.board import Board, State, our_fault, told
from sparwright.page.editing import Change
from sparwright.page.jobtext import Digests, JobText, Stale, Texts, digest_of, digests_of
from sparwright.page.packing import Packets
from sparwright.page.plans import Plans
from sparwright.page.sweeping import Sweeps, Varied

# The job's own modules load numerical libraries; the page is on the screen before that.
if TYPE_CHECKING:
    from sparwright.job.models import Job
    from sparwright.stock.model import Member

POLL = 0.5
"""Seconds between two looks at the disk."""
CALM = 1.2
"""Seconds without a change before the whole plan is begun."""
KEPT = 64
"""Jobs, quick answers and pictures' data that are kept, by digest."""


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
    """One job and its page. All methods may be called from any thread.

    when_asked: the whole plan is begun only when it is asked for, not after every change.
    """

    def __init__(self, path: Path, *, when_asked: bool = False) -> None:
        self.text = JobText(path)
        self.when_asked = when_asked
        self.board = Board(path.name, self.text.digests, when_asked=when_asked)
        self.plans = Plans(path, self.board)
        self.sweeps = Sweeps(self.board)
        self.packets = Packets(path, self.board)
        self.closed = False
        self._wake = threading.Event()
        self._calculating = threading.Lock()
        self._drawing = threading.Lock()
        self._jobs, self._quick, self._pictures = Kept(), Kept(), Kept()
        self._changed_at = 0.0
        self._begun: str | None = None
        self._good: Digests | None = None

    def start(self) -> None:
        """Begin to watch and to work."""
        self._wake.set()
        threading.Thread(target=self._work, name="quick answers", daemon=True).start()
        threading.Thread(target=self._watch, name="watch the files", daemon=True).start()

    def close(self) -> None:
        """End all that was begun; who listens to the board is called once more and finds it closed."""
        self.closed = True
        self._wake.set()
        self.board.wake()
        self.plans.close()
        self.sweeps.stop()
        self.packets.stop()

    # --- what the page asks -------------------------------------------------------------------------------

    def edit(self, digest: str, changes: Sequence[Change]) -> None:
        """Change values in the files. Raises Stale, and BadInput for what a job that reads must not become."""
        texts = self.text.tried(digest, changes)
        if self.board.good == digest:
            with self._calculating:
                self._job(digest_of(texts), texts)
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

    def attempt(self, digest: str, changes: Sequence[Change], *, first: bool = False) -> State:
        """What the quick stiffness would be with the changes, nothing written: {"digest", "bands", "message"}.

        first: only what the layout tells at once, the mass. Raises Stale, CannotEdit.
        """
        from sparwright.packet.figures import display_of
        from sparwright.page.bands import band_of
        from sparwright.page.quick import quick_mass

        texts = self.text.tried(digest, changes)
        key, basis = digests_of(texts)
        try:
            with self._calculating:
                job, member = self._job(key, texts)
                band = (
                    band_of(quick_mass(job, member), "quick", basis, display_of(job, inch=True))
                    if first
                    else self._quick_band(basis, 1, job, member)
                )
        except BadInput as problem:
            return {"digest": key, "bands": [], "message": told(problem)}
        return {"digest": key, "bands": [band], "message": None}

    def picture(self, name: str) -> tuple[str, bytes] | None:
        """The digest of what a picture rests on and its data in the units shown, squeezed; None where what it needs is not there yet.

        Raises KeyError for a picture there is not.
        """
        from sparwright.packet.figures import display_of
        from sparwright.page.pictures import picture

        wanted = picture(name)
        if wanted.needs != "member":
            return self.plans.picture(name, self.board.units)
        good = self._good
        if good is None or (source := self._jobs.get(good.text)) is None:
            return None
        digest, basis = good
        with self._drawing:
            if (digest, name) not in self._pictures:
                self._pictures.keep((digest, name), wanted.build(*source).squeezed(display_of(source[0])))
            return basis, self._pictures[(digest, name)]

    def plan_now(self) -> None:
        """Begin the whole plan, if it is not under way."""
        digests = self.text.digests
        if self.board.good == digests.text and not self.closed:
            self._begun = digests.basis
            self.plans.begin(digests.basis)

    def sweep(self, digest: str, wanted: Sequence[Varied]) -> None:
        """Begin a sweep of the job as it is now. Raises Stale, and BadInput for what cannot be swept."""
        if digest != self.text.digest:
            raise Stale
        found = self._jobs.get(digest)
        if found is None:
            raise BadInput("the job does not read yet; a sweep needs one that does")
        job, member = found
        self.sweeps.begin(job, member, digest, wanted)

    def make_packet(self, digest: str) -> None:
        """Begin to make the packet of the plan of that text. Raises Stale, and BadInput where that cannot be done."""
        if digest != self.text.digest:
            raise Stale
        known = self.plans.made
        if known is None or known[0] != self.text.digests.basis:
            raise BadInput("the packet is made from the whole plan, which is not there yet; wait for it")
        with self._calculating:
            found = self._job(digest, None)
        if found is None:
            raise Stale
        # Made from the same but for the units it is shown in, which are those of the text as it is now.
        self.packets.begin(replace(known[1], job=found[0]), digest)

    # --- work ---------------------------------------------------------------------------------------------

    def _watch(self) -> None:
        while not self.closed:
            time.sleep(POLL)
            if self.text.poll():
                self._text_changed()
            calm = time.monotonic() - self._changed_at > CALM and not self._wake.is_set()
            if calm and not self.when_asked and self._begun != self.text.digests.basis:
                self.plan_now()

    def _text_changed(self) -> None:
        self._changed_at = time.monotonic()
        digests = self.text.digests
        if digests.basis != self.board.basis:
            self.plans.put_aside()
            self._begun = None
        back, forth = self.text.steps()
        self.board.text_changed(digests, back, forth)
        self._wake.set()

    def _work(self) -> None:
        """Quick answers, one in flight; a change meanwhile is taken up at the next step."""
        while not self.closed:
            self._wake.wait()
            self._wake.clear()
            digests = self.text.digests
            digest = digests.text
            try:
                self._answer(digests)
            except BadInput as problem:
                self.board.refuse(digest, told(problem))
            except Exception as problem:
                traceback.print_exc()
                self.board.refuse(digest, {"text": our_fault(problem), "file": "", "line": 0})

    def _answer(self, digests: Digests) -> None:
        from sparwright.page.fields import as_dicts, controls
        from sparwright.page.quick import QUICK

        digest, basis = digests
        with self._calculating:
            found = self._job(digest, None)
        if found is None:
            return
        job, member = found
        self._good = digests
        self.board.show_job(
            digest,
            {"title": job.title, "units": job.file.job.units},
            as_dicts(controls(job, member.section, self.text.files)),
            self._listed_pictures(basis),
        )
        self.sweeps.job_reads(job)
        for question in QUICK:
            with self._calculating:
                band = self._quick_band(basis, question, job, member)
            self.board.show_band(band)
            if self._wake.is_set():
                return

    def _quick_band(self, basis: str, question: int, job: Job, member: Member) -> State:
        from sparwright.packet.figures import display_of
        from sparwright.page.bands import band_of
        from sparwright.page.quick import QUICK

        if (basis, question) not in self._quick:
            self._quick.keep(
                (basis, question),
                band_of(QUICK[question](job, member), "quick", basis, display_of(job, inch=True)),
            )
        found: State = self._quick[(basis, question)]
        return found

    def _job(self, digest: str, texts: Texts | None) -> Any:
        """The job and member of a text: of these texts, or (None) of the disk; None where the disk holds another by now."""
        from sparwright.job.reading import load_job
        from sparwright.stock.member import build_member

        if digest not in self._jobs:
            if texts is not None:
                instead = {file: texts[part] for part, file in self.text.files.items()}
                job = load_job(self.text.path, instead)
            else:
                job = load_job(self.text.path)
                if self.text.poll() or self.text.digest != digest:
                    self._text_changed()
                    return None
            self._jobs.keep(digest, (job, build_member(job)))
        return self._jobs[digest]

    def _listed_pictures(self, basis: str) -> list[State]:
        """What pictures there are, each with the digest its data would have; None where they cannot be drawn yet."""
        from sparwright.page.pictures import PICTURES

        planned = self.plans.digest
        return [
            {
                "name": p.name,
                "band": p.band,
                "title": p.title,
                "needs": p.needs,
                "digest": basis if p.needs == "member" else planned,
                "making": None,
            }
            for p in PICTURES
        ]
