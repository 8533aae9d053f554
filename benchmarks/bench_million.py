"""`sparwright prove` on a side of the bridge beam whose programs are a million blocks long.

    python benchmarks/bench_million.py [blocks]

The side's own programs are planned, and every cutting motion is split into many short ones of the same path: the part
is cut as before, so the proof must end as before. Planning, splitting and proving each run in a process of their own.
"""

from __future__ import annotations

import math
import sys
import tempfile
from pathlib import Path

import child
import numpy as np

from sparwright.program.model import Reading
from sparwright.program.reader import read_program

JOB = Path(__file__).resolve().parent.parent / "examples" / "bridge-beam" / "job.toml"
SIDE = "back"
SAG = 0.002  # of the chords that stand for arcs, mm


def path(reading: Reading, k: int, parts: int) -> np.ndarray:
    """Places along motion k, its start left out, in at least `parts` steps, (m, 3); arcs of the XY plane by chords."""
    start, end = reading.start[k], reading.end[k]
    if reading.kind[k] < 2:
        return start + (end - start) * (np.arange(parts)[:, None] + 1) / parts
    centre = reading.centre[k]
    (ax, ay), (bx, by) = (start - centre)[:2], (end - centre)[:2]
    radius, way = math.hypot(ax, ay), 1 if reading.kind[k] == 3 else -1
    turn = (way * (math.atan2(by, bx) - math.atan2(ay, ax))) % (2 * math.pi) or 2 * math.pi
    chord = 2 * math.acos(max(1 - SAG / radius, 0.0))
    share = np.linspace(0, 1, max(parts, math.ceil(turn / chord)) + 1)[1:]
    c, s = np.cos(way * turn * share), np.sin(way * turn * share)
    x, y = centre[0] + ax * c - ay * s, centre[1] + ax * s + ay * c
    places = np.column_stack([x, y, start[2] + (end[2] - start[2]) * share])
    places[-1] = end  # to the last figure, or the next motion would begin with a hair's way
    return places


def split(text: str, parts: int) -> str:
    """The program with every feed motion in at least so many short straight ones."""
    reading = read_program(text, start=(0.0, 0.0, 50.0))
    assert not reading.errors
    assert (reading.plane == 17).all()
    lines = ["G21 G90 G94 G17 G54"]
    said: tuple[float, ...] = ()
    last = reading.start[0]
    for k in range(len(reading.kind)):
        state = (float(reading.tool[k]), float(reading.rpm[k]), float(reading.spindle[k]))
        if state != said:
            said = state
            lines += [f"T{state[0]:.0f}"] * (state[0] > 0) + [f"S{state[1]:.0f} M3"] * (state[2] > 0)
        rapid = reading.kind[k] == 0
        feed = "" if rapid else f" F{reading.feed[k]:g}"
        for place in path(reading, k, 1 if rapid else parts):
            words = "".join(f" {a}{p:.4f}" for a, p, q in zip("XYZ", place, last, strict=True) if p != q)
            lines.append(("G0" if rapid else "G1") + words + feed)
            last = place
    return "\n".join([*lines, "M5", "M30", ""])


def split_all(folder: Path, blocks: int) -> None:
    """Split the side's programs in a folder so that together they hold about so many blocks."""
    files = sorted(folder.glob(f"programs/{SIDE}-*.nc"))
    texts = [f.read_text() for f in files]
    parts = max(1, round(blocks / sum(t.count("\n") for t in texts)))
    count = 0
    for file, text in zip(files, texts, strict=True):
        longer = split(text, parts)
        count += longer.count("\n")
        (folder / file.name).write_text(longer)
    print(f"{len(files)} programs, {count} blocks")


def main(blocks: int) -> None:
    """Plan, split, prove, and print what the proof took."""
    command = [sys.executable, "-c", "import sys; from sparwright.cli import main; sys.exit(main())"]
    with tempfile.TemporaryDirectory() as name:
        child.run([*command, "plan", str(JOB), "--out", name])
        print(child.run([sys.executable, __file__, "--split", name, str(blocks)]).said, end="")
        programs = [str(f) for f in sorted(Path(name).glob(f"{SIDE}-*.nc"))]
        for label in ("first", "again"):
            run = child.run([*command, "prove", *programs, "--job", str(JOB), "--side", SIDE])
            head = run.said.split("\n", 1)[0]
            print(f"{label}: {head}; {run.wall:.1f} s wall, {run.cpu:.1f} s cpu, {run.peak:.0f} MiB at most")
            print("\n".join(line for line in run.said.split("\n")[1:] if not line.startswith("  go ")))


if __name__ == "__main__":
    if sys.argv[1:2] == ["--split"]:
        split_all(Path(sys.argv[2]), int(sys.argv[3]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000)
