"""The whole plan of a page: one under way at a time, and the process of the last that was made, which draws its pictures."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.page.apart import Apart
from sparwright.page.board import Board, State
from sparwright.page.planner import Planning

if TYPE_CHECKING:
    from sparwright.plan.model import Plan


@dataclass
class _Made:
    """A plan that is there. process: draws its pictures. bands: its answers. asked: pictures asked for; drawn: their data by units, or None
    where drawing failed. lost: the process has ended by itself, so that no picture can be drawn any more."""

    process: Apart
    digest: str
    plan: Plan
    bands: list[State]
    asked: set[str] = field(default_factory=set)
    drawn: dict[str, dict[str, bytes] | None] = field(default_factory=dict)
    lost: bool = False


class Plans:
    """The plans of one page. All methods may be called from any thread."""

    def __init__(self, path: Path, board: Board) -> None:
        self._path, self._board = path, board
        self._changed = threading.Condition(threading.RLock())
        self._under_way: Planning | None = None
        self._made: _Made | None = None

    @property
    def digest(self) -> str | None:
        """Of what the plan's pictures rest on; None where none can be drawn."""
        with self._changed:
            return None if self._made is None or self._made.lost else self._made.digest

    @property
    def made(self) -> tuple[str, Plan] | None:
        """The last plan and the digest of what it rests on; None where there is none."""
        with self._changed:
            return None if self._made is None else (self._made.digest, self._made.plan)

    def begin(self, digest: str) -> None:
        """Begin the whole plan of the text whose basis has that digest, if none is under way; one that is there is shown."""
        with self._changed:
            if self._under_way is not None:
                return
            if self._made is not None and self._made.digest == digest and not self._made.lost:
                self._board.show_plan(digest, self._made.bands)
                return
            self._board.plan_begins(digest)
            self._under_way = Planning(self._path, _Listener(self, digest))

    def stop(self) -> None:
        """Stop the plan that is under way."""
        with self._changed:
            under_way = self._under_way
        if under_way is not None:
            under_way.stop()

    def put_aside(self) -> None:
        """Listen no more to the plan that is under way, and end it: its text is no longer the one on disk."""
        with self._changed:
            under_way, self._under_way = self._under_way, None
        _end(under_way)

    def close(self) -> None:
        """End every process; who waits for a picture is told that there is none."""
        with self._changed:
            ended = [self._under_way, None if self._made is None else self._made.process]
            self._under_way = self._made = None
            self._changed.notify_all()
        for process in ended:
            if process is not None:
                process.stop()

    def picture(self, name: str, units: str) -> tuple[str, bytes] | None:
        """The digest and data of a picture in "mm" or "inch", drawn when it is first asked for; None where there is no plan any more.

        Raises RuntimeError where drawing it failed.
        """
        with self._changed:
            made = self._made
            if made is None or made.lost:
                return None
            if name not in made.asked:
                made.asked.add(name)
                made.process.send("draw", name)
            self._changed.wait_for(lambda: name in made.drawn or made.lost or self._made is not made)
            if name not in made.drawn:
                return None
            bodies = made.drawn[name]
            if bodies is None:
                raise RuntimeError(f"the picture {name} could not be drawn")
            return made.digest, bodies[units]

    def heard(self, digest: str, process: Apart, kind: str, value: Any) -> None:
        """A frame of a process; one that was put aside meanwhile is not listened to."""
        with self._changed:
            if process is self._under_way:
                self._planning(digest, process, kind, value)
            elif self._made is not None and process is self._made.process:
                self._drawing(self._made, kind, value)

    def _planning(self, digest: str, process: Apart, kind: str, value: Any) -> None:
        from sparwright.packet.figures import display_of
        from sparwright.page.bands import band_of

        if kind == "step":
            self._board.plan_step(value)
            return
        if kind == "answer":
            self._board.show_answer(band_of(value[0], "plan", digest, value[1]))
            return
        self._under_way = None
        if kind == "plan":
            before = self._made
            inch = display_of(value.job, inch=True)
            bands = [band_of(a, "plan", digest, inch) for a in value.answers]
            self._made = _Made(process, digest, value, bands)
            self._changed.notify_all()
            self._board.show_plan(digest, self._made.bands)
            _end(None if before is None else before.process)
            message = None
        elif kind == "fault":
            message = {"text": value, "file": "", "line": 0}
        else:
            message = value  # of bad input; a plan that was stopped has none
        self._board.plan_ends(stopped=kind == "stopped", message=message)

    def _drawing(self, made: _Made, kind: str, value: Any) -> None:
        if kind == "making":
            self._board.making(*value)
            return
        if kind == "drawn":
            made.drawn[value[0]] = value[1]
            self._board.making(value[0], None)
        elif kind == "undrawn":
            made.drawn[value] = None
            self._board.making(value, None)
        else:
            made.lost = True
            self._board.plan_gone()
        self._changed.notify_all()


@dataclass(frozen=True)
class _Listener:
    """What hears a plan's process."""

    plans: Plans
    digest: str

    def __call__(self, process: Apart, kind: str, value: Any) -> None:
        self.plans.heard(self.digest, process, kind, value)


def _end(process: Apart | None) -> None:
    """End a process without waiting for it."""
    if process is not None:
        threading.Thread(target=process.stop, daemon=True).start()
