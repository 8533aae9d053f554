"""The fuzzing of the reader itself: both modes run, and growing memory fails a run (benchmarks/fuzz_reader.py)."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "benchmarks"


LEAKS = """
import random
import fuzz_reader as fuzz
one = fuzz.Fuzz(random.Random(1), [b"G0 X1"])
one.check_memory()  # nothing to hold it against yet
one.programs = fuzz.WARM
one.settle()
one.check_memory()
leak = bytearray(b"1") * int((fuzz.GROWTH + 40) * 1e6)
try:
    one.check_memory()
except AssertionError as said:
    print(said)
del leak
one.check_memory()
print("and settled again")
"""


def run(*given: object) -> str:
    """What a run in a process of its own says; it patches the reader, which other tests use."""
    command = [sys.executable, str(FOLDER / "fuzz_reader.py"), *(str(g) for g in given)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_fast_mode_reads_long_programs() -> None:
    said = run("fast", 20_000, 60, 5)
    assert int(re.findall(r"(\d+) blocks", said)[-1]) >= 20_000
    assert "no crash, no hang, no disagreement" in said


def test_guided_mode_sees_the_kernels_and_keeps_what_takes_new_steps(tmp_path: Path) -> None:
    said = run("guided", 1500, 60, 5, tmp_path)
    met, there = (int(n) for n in re.findall(r"kernels run (\d+) of (\d+)", said)[0])
    assert 200 < met <= there
    before, after = (int(n) for n in re.findall(r"(\d+) by the corpus, (\d+) in all", said)[0])
    kept = list(tmp_path.iterdir())
    assert after > before
    assert kept
    again = run("guided", 1, 60, 6, tmp_path)
    assert (
        int(re.findall(r"(\d+) by the corpus", again)[0]) >= after - 5
    )  # those that only a longer run's state reached


def test_growing_memory_fails_the_run() -> None:
    """In a process of its own: what other tests leave behind to be freed would hide the growth."""
    done = subprocess.run(
        [sys.executable, "-c", LEAKS], cwd=FOLDER, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    assert re.fullmatch(r"memory grew from \d+ to \d+ MB over 0 programs\nand settled again\n", done.stdout)
