"""Where the time of planning the demo goes, as ratios to a named baseline of the same run.

Baseline: sorting ten million random doubles with numpy (seeded), the best of three. Run it on a quiet machine:

    .venv/bin/python benchmarks/plan_demo.py
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np

from sparwright.job.reading import load_job
from sparwright.plan.pipeline import make_plan

JOB = Path(__file__).resolve().parents[1] / "examples" / "bridge-beam" / "job.toml"


def baseline() -> float:
    """Seconds of the baseline."""
    best = np.inf
    for _ in range(3):
        values = np.random.default_rng(1).random(10_000_000)
        start = time.perf_counter()
        values.sort()
        best = min(best, time.perf_counter() - start)
    return float(best)


def main() -> None:
    """Plan the demo twice (the first run fills the compilers' caches) and print the second run's steps."""
    unit = baseline()
    print(f"baseline: sorting ten million doubles, {unit:.3f} s")
    for name in ("first run", "warm run"):
        start = time.perf_counter()
        plan = make_plan(load_job(JOB))
        whole = time.perf_counter() - start
        print(f"\n{name}: {whole:.2f} s, {whole / unit:.1f} x baseline, {len(plan.programs)} programs, "
              f"{sum(p.text.count(chr(10)) for p in plan.programs)} lines")  # fmt: skip
        print("| step | s | x baseline |\n| --- | --- | --- |")
        for step, seconds in plan.seconds.items():
            print(f"| {step} | {seconds:.2f} | {seconds / unit:.2f} |")


if __name__ == "__main__":
    main()
