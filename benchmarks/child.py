"""Running a command in a fresh process, with the processor time and the memory that it alone took."""

from __future__ import annotations

import os
import subprocess
import time
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Run:
    """What a command took. wall, cpu: s. peak: of its resident memory, MiB. status: its exit status. said: its output."""

    wall: float
    cpu: float
    peak: float
    status: int
    said: str


def run(command: Sequence[str]) -> Run:
    """Run a command and wait for it.

    The system counts as the child's the memory its parent held when it was born (Linux, getrusage(2): ru_maxrss outlives
    exec), so whoever measures should itself be small.
    """
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    with process.stdout as pipe:
        said = pipe.read()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    cpu = usage.ru_utime + usage.ru_stime
    return Run(time.perf_counter() - began, cpu, usage.ru_maxrss / 1024, process.returncode, said)
