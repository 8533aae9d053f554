"""The command line answers at once and loads no numerical library for its help."""

import subprocess
import sys
import time

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
    # The goal is 120 ms on a quiet machine; the best of several runs, less the interpreter's own start, leaves out
    # most of what a busy machine adds.
    def best(*words: str) -> float:
        times = []
        for _ in range(7):
            start = time.perf_counter()
            subprocess.run([sys.executable, *words], capture_output=True, check=True)
            times.append(time.perf_counter() - start)
        return min(times)

    bare = best("-c", "pass")
    assert best("-m", "sparwright.cli", "--help") - bare < 0.150
