"""The planning process tells its answers as it finds them, draws their pictures, ends with its parent, and can be stopped."""

from __future__ import annotations

import gzip
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from page_help import copy_job
from picture_help import shorten

from sparwright.page.board import Board, our_fault
from sparwright.page.jobtext import JobText
from sparwright.page.planner import Planning
from sparwright.page.plans import Plans

LONG = 240  # s; the whole plan of a short piece, beside whatever else runs here
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
    while "'step': 'fit'" not in parent.stdout.readline():
        pass
    everyone = family(pid)
    assert len(everyone) > 1, "the plan has helpers by now"
    os.kill(parent.pid, how)
    parent.wait(10)
    assert gone(everyone)


def test_it_can_be_stopped_and_says_so(job):
    heard: queue.Queue[tuple[str, object]] = queue.Queue()
    planning = Planning(job, lambda _, kind, value: heard.put((kind, value)))
    while heard.get(timeout=60) != ("step", {"step": "fit", "number": 3, "of": 8}):
        pass
    everyone = family(planning.pid)
    planning.stop()
    assert gone(everyone)
    kinds = [heard.get(timeout=10)[0]]
    while kinds[-1] in ("step", "answer"):
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
    assert text == (
        "A fault of ours, not of your job: the process that worked it out ended by itself with status -9."
    )


@pytest.mark.parametrize(
    ("problem", "told"),
    [
        (ValueError("no more.\nThe rest"), "ValueError: no more."),
        (KeyError(), "KeyError."),
        (OSError(28, "No space left"), "OSError: [Errno 28] No space left."),
    ],
)
def test_a_fault_of_ours_is_one_sentence(problem, told):
    assert our_fault(problem) == f"A fault of ours, not of your job: {told}"


@pytest.fixture(scope="module")
def board_and_plans(tmp_path_factory):
    """The board and the plan of a short piece, made once, and what the board told meanwhile."""
    job = shorten(copy_job(tmp_path_factory.mktemp("lost")))
    text = JobText(job)
    board = Board(job.name, text.digests)
    seen: list[dict] = []
    board.listen(lambda: seen.append(board.snapshot()))
    pictures = [{"name": n, "needs": "runs", "digest": None, "making": None} for n in ("playback", "paths")]
    board.show_job(text.digest, {"title": "Short", "units": "mm"}, [], pictures)
    plans = Plans(job, board)
    plans.begin(text.digests.basis)
    until(lambda: plans.digest or board.snapshot()["message"], LONG)
    yield board, plans, seen
    plans.close()


def until(true, seconds: float) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


def test_answers_arrive_as_they_are_found(board_and_plans):
    board, plans, seen = board_and_plans
    assert board.snapshot()["message"] is None
    assert plans.digest == board.snapshot()["digest"]
    answered = [(s["work"]["step"], [b["question"] for b in s["bands"] if b["by"] == "plan"]) for s in seen]
    first = {}
    for step, questions in answered:
        for q in questions:
            first.setdefault(q, step)
    assert first == {2: "fit", 3: "fit", 4: "programs", 5: "proof", 1: "machine served", 6: "machine served"}
    steps = [s["work"]["number"] for s in seen if s["work"]["running"]]
    assert steps == sorted(steps)
    assert {s["work"]["of"] for s in seen if s["work"]["number"]} == {8}
    assert max(steps) == 8
    assert not board.snapshot()["work"]["running"]


def test_pictures_are_drawn_by_the_process_of_the_plan_once(board_and_plans):
    board, plans, seen = board_and_plans
    digest = board.snapshot()["digest"]
    assert all(p["digest"] == digest for p in board.snapshot()["pictures"])
    found = plans.picture("playback", "mm")
    assert found is not None
    assert found[0] == digest
    body = gzip.decompress(found[1])
    assert len(body) > 3 * len(found[1])
    sides = json.loads(body[4 : 4 + int.from_bytes(body[:4], "little")])["meta"]["sides"]
    assert sorted(s["side"] for s in sides) == ["back", "front", "pads"]
    told = [p["making"] for s in seen for p in s["pictures"] if p["name"] == "playback" and p["making"]]
    assert {t["step"] for t in told} == {"cut in simulation", "when each place was lowered"}
    assert all(0 <= t["done"] < t["of"] == 3 for t in told)
    assert all(p["making"] is None for p in board.snapshot()["pictures"])
    assert plans.picture("playback", "mm")[1] is found[1]
    assert plans.picture("playback", "inch")[1] is found[1], "nothing in it is worded in units"
    metric, inch = (words(plans, "thickness", units) for units in ("mm", "inch"))
    assert " mm" in metric
    assert " in" in inch
    assert " mm" not in inch


def words(plans, name, units):
    """The words of a picture's first side."""
    body = gzip.decompress(plans.picture(name, units)[1])
    return json.loads(body[4 : 4 + int.from_bytes(body[:4], "little")])["meta"]["sides"][0]["words"]


def test_a_plan_whose_process_is_lost_keeps_its_answers_and_can_be_made_again(board_and_plans):
    board, plans, _ = board_and_plans
    bands = board.snapshot()["bands"]
    waiting: queue.Queue[object] = queue.Queue()
    pid = next(
        p for p in family(os.getpid()) if "sparwright.page.planner" in command(p) and "/lost" in command(p)
    )
    os.kill(pid, signal.SIGSTOP)
    threading.Thread(target=lambda: waiting.put(plans.picture("paths", "mm"))).start()
    time.sleep(0.2)
    os.kill(pid, signal.SIGKILL)
    assert waiting.get(timeout=20) is None
    assert plans.digest is None
    assert plans.made is not None
    assert len(plans.made[1].programs) > 2
    assert plans.picture("paths", "mm") is None
    assert board.snapshot()["bands"] == bands
    assert all(p["digest"] is None for p in board.snapshot()["pictures"])
    plans.begin(board.snapshot()["digest"])
    assert board.snapshot()["work"]["running"]
    plans.put_aside()


def command(pid: int) -> str:
    try:
        return (Path("/proc") / str(pid) / "cmdline").read_bytes().decode().replace("\0", " ")
    except OSError:
        return ""
