"""Work in a process of its own, which tells what it finds and ends when its parent does.

Both sides talk in frames: four bytes of length, low first, then a pickled pair (kind, value). What the work tells goes
through its standard output; the last frame is "done" with what was found, "bad" with the message of bad input as the page
shows it, or "fault" with a fault of ours in one sentence, all of which stands on standard error. Its standard input brings what the parent sends, and stays open for
as long as the parent lives and wants it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import pickle
import queue
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable
from typing import IO, Any

from sparwright.page.board import our_fault, told

Frame = tuple[str, Any]
Tell = Callable[["Apart", str, Any], None]
Say = Callable[[str, Any], None]
Inbox = queue.SimpleQueue[Frame]
LAST = ("done", "bad", "fault")
QUIET = "ignore:resource_tracker:UserWarning:multiprocessing.resource_tracker"
"""A stopped process kills its helpers on purpose. The semaphores they shared are tidied up behind them by Python's own tracker, which
would warn of them in the terminal each time; it takes over what its process is told to ignore. Of the message only what stands
before its colon can be named."""
PATIENCE = 3.0
"""Seconds a stopped process is given to end by itself."""


class Apart:
    """Work under way in a process of its own.

    module: run as `python -m module words`; it calls work_apart. tell: called from a thread of its own with this object
    and every frame, the last of which is "done", "bad", "fault" or, where it was stopped, "stopped".
    """

    def __init__(self, module: str, words: tuple[str, ...], tell: Tell) -> None:
        self._stopped = False
        self._tell = tell
        self._sending = threading.Lock()
        self._process = subprocess.Popen(
            [sys.executable, "-W", QUIET, "-m", module, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            start_new_session=True,  # Ctrl+C in the terminal is the parent's, which then ends it
        )
        threading.Thread(target=self._listen, name=module, daemon=True).start()

    @property
    def pid(self) -> int:
        """Of the process."""
        return self._process.pid

    def send(self, kind: str, value: Any) -> None:
        """Put a frame into its inbox. One that ended meanwhile is told of as any other end."""
        assert self._process.stdin is not None
        with self._sending, contextlib.suppress(OSError, ValueError):
            write_frame(self._process.stdin, kind, value)

    def stop(self) -> None:
        """End it and all it started."""
        self._stopped = True
        assert self._process.stdin is not None
        with self._sending, contextlib.suppress(OSError):
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
        elif last not in LAST:
            what = f"the process that worked it out ended by itself with status {code}"
            self._tell(self, "fault", our_fault(what))


def read_frame(stream: IO[bytes]) -> Frame | None:
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


def work_apart(work: Callable[[Say, Inbox], Any]) -> None:
    """Do the work in this process, tell of it, and end the process.

    work: given how to say a frame, from any thread, and what the parent sends; what it gives back is told as "done".
    """
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what libraries print must not get between the frames
    inbox: Inbox = queue.SimpleQueue()
    parent = os.fdopen(os.dup(0), "rb")
    threading.Thread(target=_hear_parent, args=(parent, inbox), daemon=True).start()
    from sparwright.answers import BadInput

    saying = threading.Lock()

    def say(kind: str, value: Any) -> None:
        with saying:
            write_frame(out, kind, value)

    try:
        say("done", work(say, inbox))
    except BadInput as problem:
        say("bad", told(problem))
    except Exception as problem:
        traceback.print_exc()
        say("fault", our_fault(problem))
    # All is told; helpers of the libraries need not be waited for.
    out.close()
    os._exit(0)


def _hear_parent(parent: IO[bytes], inbox: Inbox) -> None:
    """Pass on what the parent sends; when it closes its end, by will or by dying, end the helpers and this process."""
    while (frame := read_frame(parent)) is not None:
        inbox.put(frame)
    for helper in multiprocessing.active_children():
        helper.kill()
    os._exit(1)
