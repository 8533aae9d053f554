"""The whole plan in a process of its own, which tells its steps and ends when its parent does.

Run as `python -m sparwright.page.planner JOB`. What it tells goes through its standard output as frames: four bytes of
length, low first, then a pickled pair (kind, value). Kinds: "step" with its name; "plan" with the Plan; "bad" with the
message of bad input as the page shows it; "fault" with the text of a fault of ours. Its standard input stays open for as long as its parent
lives and wants it.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

Tell = Callable[["Planning", str, Any], None]
PATIENCE = 3.0
"""Seconds a stopped process is given to end by itself."""


class Planning:
    """A plan under way.

    tell: called from a thread of its own with this object and every frame, the last of which is "plan", "bad",
    "fault" or, where it was stopped, "stopped".
    """

    def __init__(self, job: Path, tell: Tell) -> None:
        self._stopped = False
        self._tell = tell
        self._process = subprocess.Popen(
            [sys.executable, "-m", "sparwright.page.planner", str(job)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        threading.Thread(target=self._listen, name="planning", daemon=True).start()

    @property
    def pid(self) -> int:
        """Of the process."""
        return self._process.pid

    def stop(self) -> None:
        """End it and all it started."""
        self._stopped = True
        assert self._process.stdin is not None
        self._process.stdin.close()
        try:
            self._process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._process.kill()

    def _listen(self) -> None:
        assert self._process.stdout is not None
        last = ""
        while not self._stopped and (frame := read_frame(self._process.stdout)) is not None:
            last, value = frame
            self._tell(self, last, value)
        code = self._process.wait()
        self._process.stdout.close()
        if self._stopped:
            self._tell(self, "stopped", None)
        elif last in ("", "step"):
            self._tell(self, "fault", f"The planning process ended by itself with status {code}.")


def read_frame(stream: IO[bytes]) -> tuple[str, Any] | None:
    """The next frame; None at the end of the stream."""
    head = stream.read(4)
    if len(head) < 4:
        return None
    length = int.from_bytes(head, "little")
    body = stream.read(length)
    return pickle.loads(body) if len(body) == length else None


def write_frame(stream: IO[bytes], kind: str, value: Any) -> None:
    """Put a frame on a stream."""
    body = pickle.dumps((kind, value))
    stream.write(len(body).to_bytes(4, "little") + body)
    stream.flush()


def end_with_parent(parent: IO[bytes]) -> None:
    """Wait until the parent closes its end, by will or by dying; then end the helpers and this process."""
    while parent.read(1):
        pass
    for helper in multiprocessing.active_children():
        helper.kill()
    os._exit(1)


def main(job_path: str) -> None:
    """Plan the job and tell of it."""
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what libraries print must not get between the frames
    threading.Thread(
        target=end_with_parent, args=(os.fdopen(os.dup(0), "rb", buffering=0),), daemon=True
    ).start()
    from sparwright.answers import BadInput
    from sparwright.page.board import told

    try:
        from sparwright.job.reading import load_job
        from sparwright.plan.pipeline import make_plan

        plan = make_plan(load_job(job_path), progress=lambda name: write_frame(out, "step", name))
        write_frame(out, "plan", plan)
    except BadInput as problem:
        write_frame(out, "bad", told(problem))
    except Exception:
        write_frame(out, "fault", traceback.format_exc())
    # The plan is told; helpers of the libraries need not be waited for.
    out.close()
    os._exit(0)


if __name__ == "__main__":
    main(sys.argv[1])
