"""The same sweep on a real Dask scheduler and two workers, processes on this computer's loopback."""

import os
import re
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

import pytest
from sweep_helpers import DOOM, PACE, cheap_evaluate, deadly_evaluate, slow_evaluate

from sparwright.sweep import workers
from sparwright.sweep.faults import SweepError
from sparwright.sweep.run import run_sweep
from sparwright.sweep.store import Store

pytest.importorskip("distributed")
HERE = str(Path(__file__).parent)


@contextmanager
def process(*words, log=subprocess.DEVNULL, **environment):
    """A process of the cluster, ended at the end."""
    env = {**os.environ, "PYTHONPATH": HERE, "OMP_NUM_THREADS": "1", **environment}
    found = subprocess.Popen(
        [sys.executable, "-m", *words], env=env, stderr=log, stdout=subprocess.DEVNULL, text=True
    )
    try:
        yield found
    finally:
        found.kill()
        found.wait()
        if found.stderr is not None:
            found.stderr.close()


@contextmanager
def scheduler():
    """A scheduler on a free port of the loopback: its process and address."""
    words = ("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")
    with process(*words, log=subprocess.PIPE) as found:
        for line in found.stderr:
            if at := re.search(r"Scheduler at:\s+(tcp://\S+)", line):
                yield found, at[1]
                return
        raise AssertionError("the scheduler did not start")


def worker(address, **environment):
    """A worker of one thread in one process, which a lost scheduler ends too."""
    words = ("--no-nanny", "--nthreads", "1", "--no-dashboard", "--death-timeout", "20")
    return process("distributed.cli.dask_worker", address, *words, **environment)


@pytest.fixture
def silent(monkeypatch):
    """A cluster that is not there is given up after a second."""
    monkeypatch.setattr(workers, "WAIT", 1.0)


def test_a_sweep_on_a_cluster_is_the_sweep_here_and_its_losses_are_told(
    bridge_job, ribs, tmp_path, monkeypatch
):
    changes = ribs("isogrid.rib=4:9:0.5", "isogrid.skin=0,1.2")
    store = tmp_path / "sweep.jsonl"
    with (
        scheduler() as (_, address),
        worker(address, **{PACE: "0.02"}) as one,
        worker(address, **{PACE: "0.02"}) as two,
    ):
        found = run_sweep(bridge_job, changes, evaluate=slow_evaluate, cluster=address)
        assert list(found) == [cheap_evaluate(bridge_job, c) for c in changes]

        def lose(progress):
            if progress.done == 4:
                one.kill()
                two.kill()

        monkeypatch.setattr(workers, "GONE", 2.0)
        with pytest.raises(SweepError) as caught:
            run_sweep(
                bridge_job, changes, evaluate=slow_evaluate, cluster=address, store=store, progress=lose
            )
        assert re.search(
            r"^The cluster at tcp://127.0.0.1:\d+ has no workers left\. Start the sweep again",
            str(caught.value),
        )
        with Store(store, bridge_job.digest) as kept:
            assert 4 <= len(kept.finished) < len(changes)


def test_a_scheduler_that_goes_away_is_told(bridge_job, ribs):
    changes = ribs("isogrid.rib=4:9:0.25")
    with scheduler() as (boss, address), worker(address, **{PACE: "0.1"}):

        def lose(progress):
            if progress.done == 2:
                boss.kill()

        with pytest.raises(
            SweepError, match=r"^The scheduler at tcp://127.0.0.1:\d+ does not answer any more"
        ):
            run_sweep(bridge_job, changes, evaluate=slow_evaluate, cluster=address, progress=lose)


def test_a_candidate_that_kills_every_worker_is_told(bridge_job, ribs, tmp_path, monkeypatch):
    monkeypatch.setattr(workers, "GONE", 1.0)
    told = pytest.raises(SweepError, match=r"no workers left|failed with KilledWorker")
    with scheduler() as (_, address), worker(address, **{DOOM: str(tmp_path)}), told:
        run_sweep(bridge_job, ribs("isogrid.rib=4"), evaluate=deadly_evaluate, cluster=address)


def test_no_cluster_there(bridge_job, ribs, silent):
    with pytest.raises(
        SweepError, match=r"^no cluster answers at tcp://127.0.0.1:9 within 1 s .*Start the scheduler"
    ):
        run_sweep(bridge_job, ribs("isogrid.rib=4"), evaluate=cheap_evaluate, cluster="tcp://127.0.0.1:9")


def test_a_cluster_without_workers(bridge_job, ribs, silent):
    with (
        scheduler() as (_, address),
        pytest.raises(SweepError, match=f"^the cluster at {address} has no workers"),
    ):
        run_sweep(bridge_job, ribs("isogrid.rib=4"), evaluate=cheap_evaluate, cluster=address)
