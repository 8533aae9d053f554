"""The memory a proof takes grows with the program by no more than is stated in docs/proof.md."""

import subprocess
import sys
from pathlib import Path

import pytest

MOST = 750  # bytes a move: a million of them, and what a proof takes besides, then stay under 1 GiB
JOB = Path(__file__).resolve().parents[2] / "examples" / "bridge-beam" / "job.toml"

# Two proofs in a process of their own: what the longer program takes over the other is the moves' share.
PROVE = """
import sys
import numpy as np
from sparwright.job.reading import load_job
from sparwright.placing.place import place
from sparwright.proof.prove import prove_side
from sparwright.stock.member import build_member

job = load_job(sys.argv[1])
member = build_member(job)
setup = place(member, job).setups[0]

def program(moves):
    # rows of short moves along the member, level by level, raised from row to row
    i = np.arange(moves)
    row, along = i // 900, i % 900
    face = np.column_stack([20 + along * 0.4, (row % 60 - 30) * 0.5])
    lines = ["G21 G90 G17 G54", "T2", "G0 Z25", "S18000 M3"]
    for (x, y), first, level in zip(setup.pose.to_bed(face), along == 0, row // 60):
        if first:
            lines += ["G0 Z25", f"G0 X{x:.3f} Y{y:.3f}", f"G1 Z{-0.1 - level * 0.1:.1f} F200"]
        lines.append(f"G1 X{x:.3f} Y{y:.3f} F390")
    return "\\n".join([*lines, "G0 Z25", "M30", ""])

def peak():
    status = dict(line.split(":", 1) for line in open("/proc/self/status"))
    return int(status["VmHWM"].split()[0]) * 1024

for moves in map(int, sys.argv[2:]):
    proof = prove_side([("long.nc", program(moves))], member, setup, job)
    print(proof.figures["moves"], peak())
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="the system does not tell a process' peak")
def test_memory_grows_by_little_with_the_program():
    run = subprocess.run(
        [sys.executable, "-c", PROVE, str(JOB), "60000", "210000"], capture_output=True, text=True, check=True
    )
    (few, low), (many, high) = (map(float, line.split()) for line in run.stdout.splitlines())
    assert many - few > 149_000
    assert high > low
    assert (high - low) / (many - few) < MOST, f"{(high - low) / (many - few):.0f} bytes a move"
