"""How long the proof takes: one side of the bridge beam with many short moves. Bare kernels: bench_sim.py.

    python benchmarks/bench_proof.py [moves]

The programs are made here, by offsetting every pocket's outline inward: no room that plans cuts is used. Each
pocket is cleared at the cutter's full engagement, which the proof is to say; what counts is the time.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import numpy as np
import shapely

from sparwright.job.reading import load_job
from sparwright.placing.model import Setup
from sparwright.placing.place import place
from sparwright.program.reader import read_program
from sparwright.proof import contact, obstacles, statements, surface, walls
from sparwright.proof.case import case_of
from sparwright.proof.prove import prove_side, start_of
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
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  memory at most {peak:.0f} MB")


if __name__ == "__main__":
    bench_side(int(sys.argv[1]) if len(sys.argv) > 1 else 150_000)
