"""How long the proof takes: one side of the bridge beam with many short moves, and the bare kernels.

    python benchmarks/bench_proof.py [moves]

The programs are made here, by offsetting every pocket's outline inward: no room that plans cuts is used. Each
pocket is cleared at the cutter's full engagement, which the proof is to say; what counts is the time.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import shapely

from sparwright.job.reading import load_job
from sparwright.placing.model import Setup
from sparwright.placing.place import place
from sparwright.program.reader import read_program
from sparwright.proof import contact, kernels, obstacles, statements, surface, walls
from sparwright.proof.kernels import FLAT, Grid, Sweeps, Tools
from sparwright.proof.prove import case_of, prove_side, start_of
from sparwright.proof.scene import side_scene
from sparwright.proof.simulate import simulate
from sparwright.stock.member import build_member
from sparwright.stock.model import Member, Pocket

EXAMPLE = Path(__file__).parent.parent / "examples" / "bridge-beam" / "job.toml"
RADIUS, STEP = 1.5875, 0.45


def loops(pocket: Pocket, step: float) -> list[np.ndarray]:
    """Loops of points `step` apart, inmost first, that clear a pocket down to its wall."""
    found, inset = [], RADIUS
    while True:
        area = pocket.outline.buffer(-inset, quad_segs=32)
        if area.is_empty:
            return found[::-1]
        for part in getattr(area, "geoms", [area]):
            ring = shapely.segmentize(part.exterior, step)
            found.append(np.asarray(ring.coords))
        inset += 0.6 * RADIUS


def program(member: Member, setup: Setup, levels: int, step: float) -> str:
    """A program that clears every pocket of a side level by level in moves of about `step` mm."""
    lines = ["G21 G90 G17 G94", "T2", "G0 Z25", "S18000 M3"]
    for pocket in member.pockets:
        if pocket.face != setup.face:
            continue
        for k in range(levels):
            n = -pocket.depth * (k + 1) / levels
            for i, ring in enumerate(loops(pocket, step)):
                points = setup.pose.to_bed(ring)
                if i == 0:
                    lines += [f"G0 X{points[0, 0]:.3f} Y{points[0, 1]:.3f}", "G0 Z6", f"G1 Z{n:.3f} F200"]
                lines += [f"G1 X{x:.3f} Y{y:.3f} F390" for x, y in points]
            lines.append("G0 Z20")
    return "\n".join([*lines, "G0 Z25", "M5", "M30", ""])


def clock(label: str, call, *args):  # type: ignore[no-untyped-def]
    """Call, and print how long it took: on the wall clock, and of this process alone."""
    wall, own = time.perf_counter(), time.process_time()
    result = call(*args)
    print(f"  {label:<22}{time.perf_counter() - wall:8.3f} s wall {time.process_time() - own:8.3f} s cpu")
    return result


def bench_side(wanted: int) -> None:
    """One side of the demo, read, cut and judged, each stage timed warm."""
    job = load_job(str(EXAMPLE))
    member = build_member(job)
    setup = place(member, job).setups[0]
    levels = max(1, round(wanted / program(member, setup, 1, STEP).count("\n")))
    programs = [("bench.nc", program(member, setup, levels, STEP))]
    print(f"one side of the bridge beam, {programs[0][1].count(chr(10))} lines")
    clock("first call, all", prove_side, programs, member, setup, job)
    scene = clock("scene", side_scene, member, setup, job)
    readings = [clock("reading", lambda: read_program(programs[0][1], start=start_of(scene, job)))]
    case = clock("sweeps", case_of, programs, readings, scene, job)
    clock("statements", lambda: [check(case) for check in statements.CHECKS])
    cut = clock("cutting, three maps", simulate, case)
    clock("obstacles", obstacles.check_obstacles, case)
    clock("contact", lambda: [check(case, cut) for check in contact.CHECKS])
    allowed = clock("allowed map", surface.allowed_map, case, cut)
    clock("floors", surface.judge_floors, case, cut, allowed)
    clock("strays", surface.check_strays, case, cut, allowed)
    clock("walls", walls.check_walls, case, cut, frozenset())
    clock("design volume", surface.design_volume, case)
    proof = clock("warm call, all", prove_side, programs, member, setup, job)
    print(f"  {proof.figures['moves']:.0f} moves, {proof.figures['wall_looks']:.0f} looks at walls")


def bench_long_pass() -> None:
    """A level pass 1 m long on a 1050 x 90 mm map of 0.1 mm cells, against numpy's minimum in place on the same cells."""
    grid = Grid(0.0, 0.0, 0.1)
    H, L = np.zeros((900, 10500), np.float32), np.full((900, 10500), -1, np.int32)
    tools = Tools(np.array([FLAT]), *(np.array([v]) for v in (3.0, 0.0, 1.0, 20.0, 3.0, 30.0, 11.0)))
    count = 14
    start = np.array([[20.0, 6.0 + 6 * k, -1.0] for k in range(count)])
    end = start + np.array([1000.0, 0.0, 0.0])
    none = np.full((count, 2), np.nan)
    off = np.zeros(count, bool)
    sweeps = Sweeps(
        np.zeros(count, np.int8), np.zeros(count, np.int64), start, end, none, np.zeros(count), off, off
    )
    kernels.cut_all(H, L, grid, sweeps, tools, 0.0, 0.0)
    cells = int((H < 0).sum())
    best = {"kernel": np.inf, "numpy": np.inf}
    for _ in range(9):
        sweeps.start[:, 2] -= 0.1
        sweeps.end[:, 2] -= 0.1
        t = time.perf_counter()
        kernels.cut_all(H, L, grid, sweeps, tools, 0.0, 0.0)
        best["kernel"] = min(best["kernel"], time.perf_counter() - t)
        part = H[: cells // 10500 + 1].reshape(-1)[:cells]
        t = time.perf_counter()
        np.minimum(part, np.float32(-0.5), out=part)
        best["numpy"] = min(best["numpy"], time.perf_counter() - t)
    rate = {k: cells / v / 1e9 for k, v in best.items()}
    print(
        f"long level pass: {rate['kernel']:.2f} Gcell/s with the map of lines kept, numpy's minimum in place "
        f"{rate['numpy']:.2f}; ratio {rate['kernel'] / rate['numpy']:.2f}"
    )


if __name__ == "__main__":
    bench_side(int(sys.argv[1]) if len(sys.argv) > 1 else 150_000)
    bench_long_pass()
