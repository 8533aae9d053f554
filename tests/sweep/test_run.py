"""Many candidates on worker processes: in order, in parallel, resumed after a kill, and told plainly when it fails."""

import os
import re
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import psutil
import pytest
from sweep_helpers import (
    DOOM,
    PACE,
    cheap_evaluate,
    deadly_evaluate,
    drawn_evaluate,
    faulty_evaluate,
    noted_evaluate,
    slow_evaluate,
)

from sparwright.job.reading import load_job
from sparwright.sweep.faults import SweepError
from sparwright.sweep.files import pack, unpacked
from sparwright.sweep.run import CHUNK, chunks_of, evaluate_lot, run_sweep
from sparwright.sweep.store import Store
from sparwright.sweep.vary import Change

HERE = Path(__file__).parent


def test_candidates_come_in_order_from_processes_of_one_thread_each_and_the_listener_is_told(
    bridge_job, ribs
):
    changes = ribs("isogrid.rib=4:9:0.5", "isogrid.skin=0,1")
    heard = []
    found = run_sweep(bridge_job, changes, evaluate=noted_evaluate, workers=2, progress=heard.append)
    assert [bare(c) for c in found] == [cheap_evaluate(bridge_job, c) for c in changes]
    assert [p.done for p in heard] == list(range(len(changes) + 1))
    assert heard[0].seconds_left is None
    assert heard[-1].seconds_left == 0
    assert heard[-1].left_out == 2
    assert all(p.seconds_left > 0 for p in heard[1:-1])
    notes = [c.figures.note.split() for c in found if c.figures is not None]
    pids = {int(pid) for pid, _ in notes}
    assert len(pids) == 2
    assert os.getpid() not in pids
    assert {threads for _, threads in notes} == {"1"}
    assert not any(psutil.pid_exists(pid) for pid in pids)


def bare(candidate):
    """A candidate without its note."""
    figures = candidate.figures and replace(candidate.figures, note="")
    return replace(candidate, figures=figures)


def test_lots_hold_every_change_once_and_equal_outlines_together(ribs):
    changes = ribs("isogrid.skin=0:2:0.25", "isogrid.rib=4:9:0.5", "isogrid.faces=front,back,front+back")
    lots = chunks_of(changes, 2)
    assert sorted(c.key for lot in lots for c in lot) == sorted(c.key for c in changes)
    assert max(len(lot) for lot in lots) <= CHUNK
    outlines = [{next(s.value for s in c.settings if s.key == "rib") for c in lot} for lot in lots]
    assert all(len(o) == 1 for o in outlines)
    assert len(lots) == 11 * 3  # 27 candidates an outline, 12 a lot
    assert len(chunks_of(changes[:4], 2)) == 4  # and everyone works on a small sweep


def test_what_is_finished_is_not_done_again(bridge_job, ribs, tmp_path, monkeypatch):
    store = tmp_path / "sweep.jsonl"
    changes = ribs("isogrid.rib=4:9:1")
    first = tuple(cheap_evaluate(bridge_job, c) for c in changes)
    with Store(store, bridge_job.digest) as kept:
        for candidate in reversed(first):
            kept.add(candidate)
    heard = []
    monkeypatch.setenv(DOOM, str(store))  # whoever evaluates now dies
    again = run_sweep(
        bridge_job, changes, evaluate=deadly_evaluate, workers=1, store=store, progress=heard.append
    )
    assert again == first
    assert [(p.done, p.resumed, p.left_out) for p in heard] == [(6, 6, 1)]


def test_a_fault_of_ours_leaves_one_candidate_out(bridge_job, ribs):
    found = evaluate_lot(pack(bridge_job), ribs("isogrid.rib=4,5,7"), faulty_evaluate)
    assert [c.fault for c in found] == [False, True, False]
    assert re.fullmatch(
        r"A fault of ours, not of your job: ZeroDivisionError: a slip \(sweep_helpers.py, line \d+\)",
        found[1].left_out,
    )


def test_a_worker_that_dies_is_told(bridge_job, ribs, tmp_path, monkeypatch):
    monkeypatch.setenv(DOOM, str(tmp_path))
    with pytest.raises(SweepError, match=r"^A worker process ended of itself.*Start the sweep again"):
        run_sweep(bridge_job, ribs("isogrid.rib=4,5,7"), evaluate=deadly_evaluate, workers=1)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({"workers": 0}, "^0 workers do no work. Allowed: 1 or more."),
        ({"workers": 2, "cluster": "tcp://localhost:1"}, "^--workers is for this computer"),
        (
            {"cluster": "localhost:8786"},
            '^"localhost:8786" is no address of a cluster. Allowed: tcp://HOST:PORT',
        ),
        ({"cluster": "tcp://localhost:99999"}, "is no address of a cluster"),
    ],
)
def test_workers_that_cannot_be_had(bridge_job, ribs, arguments, said):
    with pytest.raises(SweepError, match=said):
        run_sweep(bridge_job, ribs("isogrid.rib=4"), evaluate=cheap_evaluate, **arguments)


SCRIPT = """
import sys
sys.path.insert(0, sys.argv[3])
from pathlib import Path
from sweep_helpers import slow_evaluate
from sparwright.job.reading import load_job
from sparwright.stock.member import build_member
from sparwright.sweep.run import run_sweep
from sparwright.sweep.vary import all_changes, read_words

if __name__ == "__main__":
    job = load_job(sys.argv[1])
    axes = read_words(["isogrid.rib=4:9:0.25"], job, build_member(job).section)
    run_sweep(job, all_changes(axes, job), evaluate=slow_evaluate, workers=2, store=Path(sys.argv[2]))
"""


@pytest.mark.skipif(os.name != "posix", reason="kills a process as posix does")
def test_a_killed_sweep_goes_on_where_it_was_and_leaves_no_worker_behind(
    bridge_job, ribs, tmp_path, monkeypatch
):
    store, script = tmp_path / "sweep.jsonl", tmp_path / "sweep_script.py"
    script.write_text(SCRIPT, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, script, bridge_job.path, store, HERE], env={**os.environ, PACE: "0.3"}
    )
    try:
        until(lambda: store.exists() and store.read_bytes().count(b"\n") > 3, 60)
        workers = [c for c in psutil.Process(process.pid).children(recursive=True) if alive(c)]
        assert len(workers) >= 2
    finally:
        process.send_signal(signal.SIGKILL)
        process.wait()
    until(lambda: not any(alive(w) for w in workers), 10)
    changes = ribs("isogrid.rib=4:9:0.25")
    with Store(store, bridge_job.digest) as kept:
        done = set(kept.finished)
    assert 3 <= len(done) < len(changes)
    monkeypatch.setenv(PACE, "0")
    heard = []
    found = run_sweep(
        bridge_job, changes, evaluate=slow_evaluate, workers=2, store=store, progress=heard.append
    )
    assert heard[0].resumed == len(done)
    assert list(found) == [cheap_evaluate(bridge_job, c) for c in changes]


def until(true, seconds):
    """Waits until something is true; fails after `seconds`."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come to pass"
        time.sleep(0.05)


def alive(process):
    """Whether a process still runs; one that waits to be reaped does not."""
    try:
        return process.status() != psutil.STATUS_ZOMBIE
    except psutil.NoSuchProcess:
        return False


def test_a_drawn_section_travels_to_workers_that_have_no_such_file(examples, tmp_path):
    job = load_job(examples / "webbed-rail" / "job.toml")
    parcel = pack(job)
    assert unpacked(parcel) is job
    elsewhere = job.model_copy(update={"folder": str(tmp_path / "nowhere"), "digest": "elsewhere"})
    moved = unpacked(type(parcel)("elsewhere", parcel.files, elsewhere))
    assert moved.folder not in (job.folder, elsewhere.folder)
    here, there = drawn_evaluate(job, Change(())), drawn_evaluate(moved, Change(()))
    assert here.figures.note.split()[0] == there.figures.note.split()[0]
