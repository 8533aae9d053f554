"""The command line answers at once and loads no numerical library for its help."""

import resource
import subprocess
import sys

PROBE = """
import sys
from sparwright.cli import main
try:
    main(["--help"])
except SystemExit:
    pass
heavy = {"numpy", "scipy", "numba", "shapely", "ngsolve", "manifold3d", "pydantic", "pint", "rich", "typst"}
print("LOADED", sorted(heavy & set(sys.modules)))
"""


def test_help_loads_no_numerical_library():
    done = subprocess.run([sys.executable, "-c", PROBE], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout
    assert "prove" in done.stdout


def test_help_answers_at_once():
    # The goal is 120 ms on a quiet machine. Processor time, the least of several runs and less the bare
    # interpreter's own, leaves out what a busy machine adds by the clock.
    def least(*words: str) -> float:
        times = []
        for _ in range(5):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([sys.executable, *words], capture_output=True, check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
        return min(times)

    assert least("-m", "sparwright.cli", "--help") - least("-c", "pass") < 0.120
