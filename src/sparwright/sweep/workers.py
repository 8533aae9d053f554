"""Who does the work: processes on this computer, or the workers of a Dask cluster, behind one `submit`."""

from __future__ import annotations

import contextlib
import logging
import math
import multiprocessing
import os
import re
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import connection
from typing import Any

from sparwright import __version__
from sparwright.sweep.faults import told

ADDRESS = re.compile(r"tcp://(\[[0-9a-fA-F:.]+\]|[^\s:/]+):(\d{1,5})")
WAIT = 10.0  # s for a scheduler to answer, and for its first worker
GONE = 20.0  # s a cluster may be without workers, as when they are started anew, before it is given up
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True)
class Workers:
    """Something that works: submit(function, *arguments) gives a future; lost() says why it no longer does ("" while
    it does); count of workers at the start; where it is, in words."""

    submit: Callable[..., Future[Any]]
    lost: Callable[[], str]
    count: int
    where: str


# --- processes --------------------------------------------------------------------------------------------


@contextmanager
def local_workers(count: int | None = None) -> Iterator[Workers]:
    """Processes of this computer, one a core unless said; they end with this process however it ends.

    Raises SweepError for a count below one.
    """
    if count is not None and count < 1:
        raise told(f"{count} workers do no work", "1 or more", "leave --workers out for one a core")
    number = count or _cores()
    with _environment(dict.fromkeys(ONE_THREAD, "1")):
        pool = ProcessPoolExecutor(
            number, mp_context=multiprocessing.get_context("spawn"), initializer=_begin_worker
        )
        try:
            yield Workers(pool.submit, lambda: "", number, f"{number} processes here")
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _cores() -> int:
    """Cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(len(os.sched_getaffinity(0)), 1)
    return os.cpu_count() or 1


@contextmanager
def _environment(words: dict[str, str]) -> Iterator[None]:
    """Environment variables that processes started meanwhile begin with."""
    before = {name: os.environ.get(name) for name in words}
    os.environ.update(words)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin_worker() -> None:
    """A worker leaves the interrupt key to its parent, and ends when its parent is no more.

    It has nothing to print: what a mesher would say there must not get into a command's JSON.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent.sentinel,), daemon=True).start()


def _end_with(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


# --- a cluster --------------------------------------------------------------------------------------------


@contextmanager
def cluster_workers(address: str) -> Iterator[Workers]:
    """The workers of the Dask scheduler at tcp://host:port.

    Raises SweepError where the address is none, nothing answers, no worker is there, or one has another version.
    """
    found = ADDRESS.fullmatch(address)
    if found is None or not 0 < int(found[2]) < 65536:
        raise told(
            f'"{address}" is no address of a cluster',
            "tcp://HOST:PORT",
            "write it as the scheduler prints it",
        )
    try:
        from distributed import Client
    except ImportError:
        raise told(
            "a sweep on a cluster needs the library distributed, which is not installed",
            remedy='install it with pip install "sparwright[cluster]", or leave --cluster out',
        ) from None
    with _silent("distributed"):
        try:
            client = Client(address, timeout=WAIT, set_as_default=False)
        except (OSError, ValueError) as problem:
            raise told(
                f"no cluster answers at {address} within {WAIT:g} s ({type(problem).__name__})",
                remedy="start the scheduler, or correct the address",
            ) from None
        try:
            count = _ready(client, address)
            pool = client.get_executor(pure=False)
            yield Workers(pool.submit, _Pulse(client, address), count, f"{count} workers of {address}")
        finally:
            with contextlib.suppress(
                Exception
            ):  # the cluster may be gone, and there is nothing to save of it
                client.close(timeout=2)


def _ready(client: Any, address: str) -> int:
    """Number of workers, once there is one and every one of them has our version."""
    try:
        client.wait_for_workers(1, timeout=WAIT)
    except (OSError, TimeoutError):
        raise told(
            f"the cluster at {address} has no workers", remedy="start some, with one thread each"
        ) from None
    try:
        versions: dict[str, str] = client.run(version_here)
    except Exception as problem:  # whatever a worker without our package throws at unpacking
        raise told(
            f"a worker of {address} cannot run sparwright ({type(problem).__name__}: {problem})",
            remedy=f"install sparwright {__version__} where the workers run",
        ) from None
    for worker, version in versions.items():
        if version != __version__:
            raise told(
                f"the worker {worker} has sparwright {version}, and this is {__version__}",
                remedy="install the same version on both sides",
            )
    return len(versions)


def version_here() -> str:
    """The version of this package where it is called."""
    return __version__


class _Pulse:
    """Asks after a cluster: why it does not work any more, "" while it does or may yet."""

    def __init__(self, client: Any, address: str) -> None:
        self._client, self._address = client, address
        self._without = math.inf  # when the workers were first seen to be gone

    def __call__(self) -> str:
        silent = f"the scheduler at {self._address} does not answer any more"
        if self._client.status != "running":
            return silent
        try:
            working = bool(self._client.nthreads())
        except Exception as problem:  # any failure to reach it means the same here
            return f"{silent} ({type(problem).__name__})"
        now = time.monotonic()
        self._without = math.inf if working else min(self._without, now)
        return f"the cluster at {self._address} has no workers left" if now - self._without >= GONE else ""


@contextmanager
def _silent(name: str) -> Iterator[None]:
    """Keep a library's log quiet: what it would say of a lost cluster is said once, by us."""
    log = logging.getLogger(name)
    before = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        log.setLevel(before)
