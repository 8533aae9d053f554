"""The packet made in a process of its own: `python -m sparwright.page.packer`, with a Packing as the first frame of its inbox.

"done" brings {"files", how many; "pdf", the bytes of its sheets}.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparwright.page.apart import Apart, Inbox, Say, Tell, work_apart

if TYPE_CHECKING:
    from sparwright.plan.model import Plan


@dataclass(frozen=True)
class Packing:
    """What to make. folder: a new one, into which the packet of the plan is written."""

    plan: Plan
    folder: Path


class Packer(Apart):
    """A packet being made."""

    def __init__(self, task: Packing, tell: Tell) -> None:
        super().__init__("sparwright.page.packer", (), tell)
        self.send("task", task)


def _pack(say: Say, inbox: Inbox) -> dict[str, Any]:
    from sparwright.packet.write import write_packet

    _, task = inbox.get()
    files = write_packet(task.plan, task.folder)
    return {"files": len(files), "pdf": (task.folder / "packet.pdf").read_bytes()}


if __name__ == "__main__":
    work_apart(_pack)
