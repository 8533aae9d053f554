"""How long question 1 takes on the two examples: each model, and the whole answer; median of five in a warm process.

    python benchmarks/bench_stiffness.py

Baseline, named in the table: sorting ten million random doubles with numpy in the same run.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from sparwright.job.reading import load_job
from sparwright.plan.stiff import stiff_enough
from sparwright.stiffness.bay import bay_properties
from sparwright.stiffness.racking import racking
from sparwright.stiffness.report import member_stiffness
from sparwright.stiffness.section import section_properties
from sparwright.stock.member import build_member
from sparwright.stock.solids import blank_mass_kg, mass_out_kg

EXAMPLES = Path(__file__).parent.parent / "examples"
REPEATS = 5


def median(run: Callable[[], object]) -> float:
    """Median time on the clock, s, after one run that is not counted."""
    run()
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print the table."""
    numbers = np.random.default_rng(1).random(10_000_000)
    baseline = median(lambda: np.sort(numbers))
    print(f"load {os.getloadavg()[0]:.1f}; baseline, sorting ten million doubles: {baseline:.3f} s\n")
    print("| example | what | s | x baseline |\n| --- | --- | --- | --- |")
    for name in ("bridge-beam", "webbed-rail"):
        job = load_job(EXAMPLES / name / "job.toml")
        member = build_member(job)
        masses = (blank_mass_kg(member), mass_out_kg(member))
        result = member_stiffness(member)

        def whole() -> object:
            return stiff_enough(job, member, member_stiffness(member), masses, None)  # noqa: B023

        rows: dict[str, Callable[[], object]] = {
            "plain section": lambda: section_properties(member.section, member.material),  # noqa: B023
            "bay of order 3 as reworked": lambda: bay_properties(member),  # noqa: B023
            "racking, plain section": lambda: racking(member.section, member.material, None),  # noqa: B023
            "machine served and local questions": lambda: stiff_enough(job, member, result, masses, None),  # noqa: B023
            "question 1, whole": whole,
        }
        for what, run in rows.items():
            took = median(run)
            print(f"| {name} | {what} | {took:.3f} | {took / baseline:.2f} |", flush=True)


if __name__ == "__main__":
    main()
