"""The whole plan in a process of its own, which keeps it and draws its pictures: `python -m sparwright.page.planner JOB`.

Frames besides those of `apart`: "step" with {"step", "number", "of"} of a step that begins; "answer" with an Answer as soon as
it is found, and how it is shown in inches; "plan" with the whole Plan, after which the process waits for frames "draw" with the name of a picture. Of each it
tells "making" with (name, {"step", "done", "of"}), then "drawn" with (name, its data squeezed, by units) or, after a fault of ours, "undrawn" with its name.
"""

from __future__ import annotations

import sys
import threading
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from sparwright.page.apart import Apart, Inbox, Say, Tell, work_apart

if TYPE_CHECKING:
    from sparwright.page.simulated import Run, Told
    from sparwright.plan.model import Plan


class Planning(Apart):
    """A plan under way, and later the one that was made."""

    def __init__(self, job: Path, tell: Tell) -> None:
        super().__init__("sparwright.page.planner", (str(job),), tell)


class Keeper:
    """A plan that is there, and its pictures, each drawn in a thread of its own."""

    def __init__(self, plan: Plan, say: Say) -> None:
        self._plan, self._say = plan, say
        self._cutting = threading.Lock()
        self._runs: tuple[Run, ...] | None = None
        self._drawn: set[str] = set()

    def draw(self, name: str) -> None:
        """Draw a picture and tell of it."""
        from sparwright.packet.figures import display_of
        from sparwright.page.pictures import picture

        shows = {units: display_of(self._plan.job, inch=units == "inch") for units in ("mm", "inch")}

        def tell(step: str, done: int, of: int) -> None:
            self._say("making", (name, {"step": step, "done": done, "of": of}))

        try:
            wanted = picture(name)
            source: Any = self._plan if wanted.needs == "plan" else self._cut(tell)
            more = (tell,) if wanted.slow else ()
            self._say("drawn", (name, wanted.build(source, *more).squeezed_for(shows)))
            self._let_go(name)
        except Exception:
            traceback.print_exc()
            self._say("undrawn", name)

    def _let_go(self, name: str) -> None:
        """Forget the programs as they were cut once every picture of them is drawn: they are large."""
        from sparwright.page.pictures import PICTURES

        with self._cutting:
            self._drawn.add(name)
            if self._drawn >= {p.name for p in PICTURES if p.needs == "runs"}:
                self._runs = None

    def _cut(self, tell: Told) -> tuple[Run, ...]:
        """The programs cut in simulation, once for all pictures."""
        from sparwright.page.simulated import runs_of

        with self._cutting:
            if self._runs is None:
                self._runs = runs_of(self._plan, tell)
            return self._runs


def _plan(say: Say, inbox: Inbox) -> NoReturn:
    from sparwright.job.reading import load_job
    from sparwright.packet.figures import display_of
    from sparwright.plan.pipeline import STEPS, make_plan

    def step(name: str) -> None:
        say("step", {"step": name, "number": STEPS.index(name) + 1, "of": len(STEPS)})

    job = load_job(sys.argv[1])
    inch = display_of(job, inch=True)
    plan = make_plan(job, progress=step, answered=lambda found: say("answer", (found, inch)))
    say("plan", plan)
    keeper = Keeper(plan, say)
    while True:
        _, name = inbox.get()
        threading.Thread(target=keeper.draw, args=(name,), daemon=True).start()


if __name__ == "__main__":
    work_apart(_plan)
