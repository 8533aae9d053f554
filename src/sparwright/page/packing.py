"""The packet of a page: made from the whole plan beside the job, whole or not at all, and kept to be opened."""

from __future__ import annotations

import shutil
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.answers import BadInput, as_sentence
from sparwright.page.apart import Apart
from sparwright.page.board import Board
from sparwright.page.packer import Packer, Packing

if TYPE_CHECKING:
    from sparwright.plan.model import Plan

OTHER = "move it away, for the page writes its packet there"
"""What to do where the folder holds something else."""


def packet_folder(job: Path) -> Path:
    """Where the page writes the packet of a job: "packet" beside a job.toml, else the file's name before it."""
    return job.with_name("packet" if job.stem == "job" else f"{job.stem}-packet")


class Packets:
    """The packets of one page. All methods may be called from any thread."""

    def __init__(self, job: Path, board: Board) -> None:
        self._folder = packet_folder(job)
        self._board = board
        self._lock = threading.RLock()
        self._under_way: Packer | None = None
        self._room: Path | None = None
        self._pdf: bytes | None = None

    @property
    def pdf(self) -> bytes | None:
        """The sheets of the packet that was made last; None before the first."""
        with self._lock:
            return self._pdf

    def begin(self, plan: Plan, digest: str) -> None:
        """Begin to make the packet of a plan, whose job's text has that digest.

        Raises BadInput where the folder cannot be written or holds something else, and while one is being made.
        """
        from sparwright.packet.write import refuse_other

        with self._lock:
            if self._under_way is not None:
                raise BadInput("the packet is being made; wait for it")
            refuse_other(self._folder, OTHER)
            try:
                self._room = Path(tempfile.mkdtemp(prefix=f".{self._folder.name}-", dir=self._folder.parent))
            except OSError as problem:
                raise BadInput(
                    f"{self._folder.parent.name} cannot be written to: {problem.strerror}; "
                    "the packet is written beside the job"
                ) from None
            self._board.packet(running=True, message=None)
            task = Packing(plan, self._room / "packet")
            self._under_way = Packer(task, lambda *frame: self._heard(digest, *frame))

    def stop(self) -> None:
        """Give up what is being made; nothing of it stays. An earlier packet stays as it is."""
        with self._lock:
            under_way = self._under_way
        if under_way is not None:
            under_way.stop()
            self._cleared()

    def _heard(self, digest: str, packer: Apart, kind: str, value: Any) -> None:
        with self._lock:
            if packer is not self._under_way:
                return
            message: str | None = None
            known: dict[str, Any] = {}
            if kind == "done":
                try:
                    self._put_in_place()
                    self._pdf = value["pdf"]
                    known = {"as_of": digest, "folder": self._folder.name, "files": value["files"]}
                except (BadInput, OSError) as problem:
                    message = as_sentence(problem)
            elif kind == "bad":
                message = value["text"]
            elif kind == "fault":
                message = value
            self._cleared()
            self._board.packet(running=False, message=message, **known)

    def _put_in_place(self) -> None:
        from sparwright.packet.write import put_in_place

        assert self._room is not None
        put_in_place(self._room / "packet", self._folder, OTHER)

    def _cleared(self) -> None:
        with self._lock:
            if self._room is not None:
                shutil.rmtree(self._room, ignore_errors=True)
            self._under_way = self._room = None
