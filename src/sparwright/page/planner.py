"""The whole plan in a process of its own: `python -m sparwright.page.planner JOB`.

Frames besides those of `apart`: "step" with the name of a step that begins. "done" brings the Plan.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sparwright.page.apart import Apart, Inbox, Say, Tell, work_apart

if TYPE_CHECKING:
    from sparwright.plan.model import Plan


class Planning(Apart):
    """A plan under way."""

    def __init__(self, job: Path, tell: Tell) -> None:
        super().__init__("sparwright.page.planner", (str(job),), tell)


def _plan(say: Say, inbox: Inbox) -> Plan:
    from sparwright.job.reading import load_job
    from sparwright.plan.pipeline import make_plan

    return make_plan(load_job(sys.argv[1]), progress=lambda name: say("step", name))


if __name__ == "__main__":
    work_apart(_plan)
