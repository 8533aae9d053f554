"""How long a sweep of 300 candidates takes on the bridge beam, and where the time goes in one of them.

    python benchmarks/bench_sweep.py [workers]

The whole sweep is timed on the wall clock, starting the workers and the bay's confirmation included; processor seconds
of all workers are given beside it, which a busy machine does not stretch as much. The machine's load is printed.
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import time
from pathlib import Path

from sparwright.job.reading import load_job
from sparwright.stiffness.fast import fast_model
from sparwright.stock.member import build_member
from sparwright.sweep.mass import quick_mass_out
from sparwright.sweep.minutes import quick_minutes
from sparwright.sweep.sweep import sweep_job
from sparwright.sweep.vary import all_changes, changed_job, read_words

EXAMPLE = Path(__file__).parent.parent / "examples" / "bridge-beam" / "job.toml"
WORDS = (
    "isogrid.rib=4:9:0.5",
    "isogrid.pocket=triangle,hexagon",
    "isogrid.faces=front+back,front",
    "isogrid.skin=0:2.4:0.4",
)


def whole(workers: int | None) -> None:
    """The sweep as the command makes it."""
    job = load_job(str(EXAMPLE))
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start, load = time.perf_counter(), os.getloadavg()[0]
    asked: list[float] = []
    result = sweep_job(job, WORDS, workers=workers, step=lambda _: asked.append(time.perf_counter()))
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    end = time.perf_counter()
    took = [c.seconds for c in result.candidates]
    left_out = sum(c.figures is None for c in result.candidates)
    print(
        f"{len(result.candidates)} candidates, {left_out} left out, load {load:.1f} to {os.getloadavg()[0]:.1f}"
    )
    print(f"  evaluated         {asked[0] - start:8.1f} s wall, {spent:.1f} s of workers' processors")
    print(f"  the bay's word    {end - asked[0]:8.1f} s wall")
    print(f"  a candidate       {statistics.median(took):8.3f} s median, {max(took):.3f} s greatest")
    print(f"  {result.chosen.reason}")


def parts() -> None:
    """Parts of one candidate in processor time, for a new outline and for a new skin on the same outline."""
    job = load_job(str(EXAMPLE))
    section = build_member(job).section
    words = ("isogrid.rib=4.7,5.3,6.1,6.7,7.3", "isogrid.skin=1.1,1.3")
    figures: dict[str, tuple[list[float], list[float]]] = {}
    for k, change in enumerate(all_changes(read_words(words, job, section), job)):
        changed = changed_job(job, change)

        def clock(name: str, call, *args, kept: bool = k % 2 == 1):  # type: ignore[no-untyped-def]
            start = time.process_time()
            value = call(*args)
            figures.setdefault(name, ([], []))[kept].append(time.process_time() - start)
            return value

        member = clock("member", build_member, changed)
        clock("minutes", quick_minutes, member, changed)
        clock("stiffness", fast_model, member)
        clock("mass out", quick_mass_out, member)
    print("processor ms, median of 5: new outline, new skin on it")
    for name, (new, kept) in figures.items():
        print(f"  {name:<12}{1000 * statistics.median(new):8.0f}{1000 * statistics.median(kept):8.0f}")


if __name__ == "__main__":
    parts()
    whole(int(sys.argv[1]) if len(sys.argv) > 1 else None)
