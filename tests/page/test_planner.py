"""The planning process ends with its parent, takes its helpers with it, and can be stopped."""

from __future__ import annotations

import os
import queue
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from page_help import copy_job

from sparwright.page.planner import Planning

PARENT = """
import signal, sys, time
from pathlib import Path
signal.signal(signal.SIGINT, signal.default_int_handler)  # a test run put in the background passes it on as ignored
from sparwright.page.planner import Planning
planning = Planning(Path(sys.argv[1]), lambda p, kind, value: print(kind, value, flush=True))
print("pid", planning.pid, flush=True)
time.sleep(600)
"""


def family(pid: int) -> set[int]:
    """A process and all its descendants that are alive."""
    parents = {}
    for folder in Path("/proc").iterdir():
        if folder.name.isdecimal():
            try:
                stat = (folder / "stat").read_text().rpartition(")")[2].split()
            except OSError:
                continue
            if stat[0] != "Z":
                parents[int(folder.name)] = int(stat[1])
    found = {pid} & parents.keys()
    while more := {p for p, parent in parents.items() if parent in found} - found:
        found |= more
    return found


def gone(pids: set[int], seconds: float = 15) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if not any(family(p) for p in pids):
            return True
        time.sleep(0.05)
    return False


@pytest.fixture
def job(tmp_path):
    return copy_job(tmp_path)


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT])
def test_it_ends_with_its_parent_however_that_ends(job, how):
    parent = subprocess.Popen([sys.executable, "-c", PARENT, str(job)], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    pid = int(parent.stdout.readline().split()[1])
    while parent.stdout.readline() != "step fit\n":
        pass
    everyone = family(pid)
    assert len(everyone) > 1, "the plan has helpers by now"
    os.kill(parent.pid, how)
    parent.wait(10)
    assert gone(everyone)


def test_it_can_be_stopped_and_says_so(job):
    heard: queue.Queue[tuple[str, object]] = queue.Queue()
    planning = Planning(job, lambda _, kind, value: heard.put((kind, value)))
    while heard.get(timeout=60) != ("step", "fit"):
        pass
    everyone = family(planning.pid)
    planning.stop()
    assert gone(everyone)
    kinds = [heard.get(timeout=10)[0]]
    while kinds[-1] == "step":
        kinds.append(heard.get(timeout=10)[0])
    assert kinds[-1] == "stopped"


def test_bad_input_comes_back_as_its_message(job):
    job.write_text(job.read_text().replace("rib = 5", "rip = 5"))
    heard: queue.Queue[tuple[str, object]] = queue.Queue()
    Planning(job, lambda _, kind, value: heard.put((kind, value)))
    kind, value = heard.get(timeout=60)
    assert kind == "bad"
    assert value["line"] == 27


def test_a_planner_that_dies_is_told_as_our_fault(job):
    heard: queue.Queue[tuple[str, object]] = queue.Queue()
    planning = Planning(job, lambda _, kind, value: heard.put((kind, value)))
    os.kill(planning.pid, signal.SIGKILL)
    kind, text = heard.get(timeout=60)
    assert kind == "fault"
    assert "-9" in str(text)
