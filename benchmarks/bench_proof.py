"""How long the proof takes: one side of the bridge beam with many short moves. Bare kernels: bench_sim.py.

    python benchmarks/bench_proof.py [moves]

The programs are made here, by offsetting every pocket's outline inward: no room that plans cuts is used. Each
pocket is cleared at the cutter's full engagement, which the proof is to say; what counts is time and memory. The stages
are timed in one process, and one whole proof runs in another, so that its memory is its own.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

import child
import numpy as np
import shapely

from sparwright.job.models import Job
from sparwright.job.reading import load_job
from sparwright.placing.model import Setup
from sparwright.placing.place import place
from sparwright.program.reader import read_program
from sparwright.proof import contact, loads, obstacles, statements, surface, walls
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


def demo() -> tuple[Job, Member, Setup]:
    """The bridge beam on its first side."""
    job = load_job(str(EXAMPLE))
    member = build_member(job)
    return job, member, place(member, job).setups[0]


def write(file: Path, wanted: int) -> None:
    """Write a program of about so many moves."""
    _, member, setup = demo()
    levels = max(1, round(wanted / program(member, setup, 1, STEP).count("\n")))
    file.write_text(program(member, setup, levels, STEP))


def prove(file: Path) -> None:
    """One whole proof."""
    job, member, setup = demo()
    proof = clock("one proof, all", prove_side, [(file.name, file.read_text())], member, setup, job)
    print(f"  {proof.figures['moves']:.0f} moves, {proof.figures['wall_looks']:.0f} looks at walls")


def bench_stages(file: Path) -> None:
    """A program read, cut and judged, each stage timed warm."""
    job, member, setup = demo()
    programs = [(file.name, file.read_text())]
    prove_side(programs, member, setup, job)
    scene = clock("scene", side_scene, member, setup, job)
    readings = [clock("reading", lambda: read_program(programs[0][1], start=start_of(scene, job)))]
    case = clock("sweeps", case_of, programs, readings, scene, job)
    clock("statements", lambda: [check(case) for check in statements.CHECKS])
    cut = clock("cutting, three maps", simulate, case)
    clock("obstacles", obstacles.check_obstacles, case)
    clock("contact", lambda: [check(case, cut) for check in contact.CHECKS])
    clock("loads", loads.loads_of, case, cut)
    allowed = clock("allowed map", surface.allowed_map, case, cut)
    clock("floors", surface.judge_floors, case, cut, allowed)
    clock("strays", surface.check_strays, case, cut, allowed)
    clock("walls", walls.check_walls, case, cut, frozenset())
    clock("design volume", surface.design_volume, case)


def main(wanted: int) -> None:
    """Stages and one whole proof of one side of the demo."""
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder) / "bench.nc")
        child.run([sys.executable, __file__, "write", file, str(wanted)])
        print(f"one side of the bridge beam, {Path(file).read_text().count(chr(10))} lines")
        print(child.run([sys.executable, __file__, "stages", file]).said, end="")
        whole = child.run([sys.executable, __file__, "prove", file])
        print(
            f"{whole.said}  {whole.peak:.0f} MiB at most, {whole.cpu:.1f} s cpu with the start of the process"
        )


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["write", file, wanted]:
            write(Path(file), int(wanted))
        case ["stages", file]:
            bench_stages(Path(file))
        case ["prove", file]:
            prove(Path(file))
        case rest:
            main(int(rest[0]) if rest else 150_000)
