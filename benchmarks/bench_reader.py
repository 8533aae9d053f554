"""How fast programs are read, against what merely counting or parsing the same bytes costs in the same run.

    python benchmarks/bench_reader.py [lines]

Processor time of this process, best of some runs: the machine may be busy. Programs are made here, of fixed seed.
"""

from __future__ import annotations

import io
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np

from sparwright.program import kernels, reader
from sparwright.program.reader import read_pieces, read_program, summary


def program(lines: int, kind: str, draw: random.Random) -> bytes:
    """A program of so many lines: straight moves, as a clearing path has them ("mixed"), or only odd lines."""
    made = ["G21 G90 G94 G17", "T2", "S18000 M3", "F420", "G0 X50 Y50 Z5"]
    x = y = 50.0
    level = True  # whether G1 is in force
    while len(made) < lines:
        nx, ny = x + draw.uniform(-2, 2), y + draw.uniform(-2, 2)
        if kind == "straight":
            made.append(f"G1 X{nx:.3f} Y{ny:.3f}")
        elif kind == "odd":
            made.append(f"G1 X[{nx:.3f}+1] Y{ny:.3f}")
        else:
            roll = draw.random()
            if roll < 0.30 and level:
                made.append(f"X{nx:.3f} Y{ny:.3f}")
            elif roll < 0.60:
                made.append(f"N{len(made) % 100000} G1 X{nx:.4f}Y{ny:.4f} F{draw.randint(100, 900)}")
            elif roll < 0.75:
                made.append(f"G3 X{nx:.3f} Y{ny:.3f} Z{-draw.random():.3f} R{draw.uniform(3, 9):.3f}")
            elif roll < 0.90:
                made.append(f"G2 X{x:.3f} Y{y + 2:.3f} I0 J1")
                nx, ny = x, y + 2
            elif roll < 0.95:
                made.append(f"(pocket {len(made)})")
                nx, ny = x, y
            else:
                made.append(f"G0 Z{draw.uniform(1, 5):.2f}")
                nx, ny = x, y
            level = made[-1][0] in "XN" or (level and made[-1][0] == "(")
        x, y = round(nx, 3), round(ny, 3)
    return "\n".join(made).encode()


def cost(call: Callable[[], Any], runs: int = 5) -> float:
    """Least processor time of a call, s."""
    least = float("inf")
    for _ in range(runs):
        begun = time.process_time()
        call()
        least = min(least, time.process_time() - begun)
    return least


def bench(lines: int) -> None:
    """The table for programs of so many lines."""
    draw = random.Random(7)
    for kind in ("straight", "mixed"):
        data = program(lines, kind, draw)
        read = cost(lambda data=data: read_program(data))
        pieces = cost(
            lambda data=data: summary(
                read_pieces(data[i : i + (1 << 20)] for i in range(0, len(data), 1 << 20))
            )
        )
        count = cost(lambda data=data: data.count(b"\n"))
        with mock.patch.object(reader, "compiled_lines", return_value=None):
            part = b"\n".join(data.split(b"\n")[:20_000])
            words = cost(lambda part=part: read_program(part), 2) / 20_000
        found = read_program(data)
        print(
            f"{kind}: {lines} lines, {len(data) / 1e6:.1f} MB, {len(found.kind)} motions, {len(found.errors)} errors\n"
            f"  read               {lines / read / 1e6:8.2f} M lines/s  {len(data) / read / 1e6:7.0f} MB/s\n"
            f"  in pieces, figures {lines / pieces / 1e6:8.2f} M lines/s\n"
            f"  word by word       {1 / words / 1e6:8.3f} M lines/s\n"
            f"  bytes.count        {lines / count / 1e6:8.2f} M lines/s; reading takes {read / count:.1f} times as long"
        )
        if kind == "straight":
            table = "\n".join(line[4:].replace("Y", "") for line in data.decode().split("\n")[5:])
            loaded = cost(lambda table=table: np.loadtxt(io.StringIO(table)), 2)
            print(
                f"  numpy.loadtxt      {lines / loaded / 1e6:8.2f} M lines/s on the bare numbers; reading is {loaded / read:.1f} times as fast"
            )
    odd = program(20_000, "odd", draw)
    print(f"only lines with expressions: {20_000 / cost(lambda: read_program(odd), 2) / 1e6:.3f} M lines/s")
    print(
        f"greatest memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3:.0f} MB"
    )


def bench_compile() -> None:
    """What the first use of the compiled way costs, in processes of their own: compiled anew, then from disk."""
    code = (
        "import time; t = time.perf_counter(); c = time.process_time()\n"
        "from sparwright.program import kernels, plain, reader\n"
        "reader.compiled_lines = lambda size, say: plain.read_compiled\n"
        "reader.read_program('g0 x1')\n"
        "print(f'{time.perf_counter() - t:.2f} s wall, {time.process_time() - c:.2f} s cpu')"
    )
    with tempfile.TemporaryDirectory() as folder:
        for label in ("compiled anew", "from disk"):
            env = {"NUMBA_CACHE_DIR": folder, "PATH": "/usr/bin:/bin"}
            done = subprocess.run(
                [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
            )
            print(f"first line read, {label}: {done.stdout.strip()}")


if __name__ == "__main__":
    print(f"kernels of {Path(kernels.__file__).name}: {'kept' if kernels.is_kept() else 'to be compiled'}")
    read_program(b"g0 x1\n" * 2000)
    bench(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
    bench_compile()
