"""How fast the simulation cuts: lines, arcs, looks at walls, one thread and two, a long member; and its memory.

    python benchmarks/bench_sim.py            all but the long member
    python benchmarks/bench_sim.py long       10.5 m with 2 million moves, and the memory it takes
    python benchmarks/bench_sim.py compile    the first compile, in an empty folder

Times are of the processor where one thread runs, so that other work on the machine counts little; ratios are of runs
in turn, the best of each.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable

import numpy as np
from plain_sweeps import cut_plain

from sparwright.proof import kernels
from sparwright.proof.kernels import ARC, FLAT, LINE, Grid, Metal, Sweeps, Tools
from sparwright.proof.tiles import VOLUME, each_tile, gather

RADIUS, POCKET, DEPTH, PASSES = 3.0, 12.0, 1.0, 3
EXPONENT = 0.25


def one_tool(radius: float = RADIUS) -> Tools:
    """A flat cutter."""
    return Tools(np.array([FLAT]), *(np.array([v]) for v in (radius, 0.0, 1.0, 20.0, radius, 40.0, 11.0)))


def sweeps_through(points: np.ndarray, lifts: np.ndarray) -> Sweeps:
    """Level lines through points (m, 3), those that end at `lifts` left out."""
    start, end = points[:-1], points[1:]
    keep = ~lifts[1:]
    joined = np.zeros(len(start), bool)
    joined[1:] = keep[:-1] & (start[1:, 2] == end[1:, 2])
    joined[1:] &= start[1:, 2] == end[:-1, 2]
    start, end, joined = start[keep], end[keep], joined[keep]
    count = len(start)
    return Sweeps(
        np.full(count, LINE, np.int8), np.zeros(count, np.int64), np.ascontiguousarray(start),
        np.ascontiguousarray(end), np.full((count, 2), np.nan), np.zeros(count), np.zeros(count, bool), joined,
    )  # fmt: skip


def pocket_places(length: float) -> list[tuple[float, float]]:
    """Middles of the round pockets, two rows of them."""
    return [(float(x), s) for x in np.arange(18.0, length - 17, 27.5) for s in (25.0, 65.0)]


def spiral_pockets(length: float, wanted: int) -> Sweeps:
    """About `wanted` lines in two rows of round pockets 24 mm across along a member, each a spiral a pass, three passes."""
    places = pocket_places(length)
    per = wanted / (len(places) * PASSES)
    turns = (POCKET - RADIUS) / (0.7 * RADIUS)
    t = np.linspace(0, 1, int(per * 0.85))
    angle, rho = 2 * np.pi * turns * np.sqrt(t), (POCKET - RADIUS) * np.sqrt(t)
    last = np.linspace(0, 2 * np.pi, int(per) - len(t) + 1)[1:] + angle[-1]
    angle, rho = np.concatenate([angle, last]), np.concatenate([rho, np.full(len(last), POCKET - RADIUS)])
    loop = np.column_stack([rho * np.cos(angle), rho * np.sin(angle)])
    points, lifts = [], []
    for x, s in places:
        for k in range(PASSES):
            n = np.full((len(loop), 1), -DEPTH * (k + 1) / PASSES)
            points.append(np.hstack([loop + np.array([x, s]), n]))
            lifts.append(np.arange(len(loop)) == 0)
    return sweeps_through(np.concatenate(points), np.concatenate(lifts))


def half_circles(length: float, wanted: int) -> Sweeps:
    """About `wanted` half circles, two to a loop, that eat along a slot as narrow clearing loops do."""
    rows = (20.0, 45.0, 70.0)
    per = wanted // (2 * len(rows))
    radius = 2.0
    start, end, centre = [], [], []
    for s in rows:
        x = np.linspace(10.0, length - 20.0, per)
        for sign in (-1.0, 1.0):
            n = np.full(per, -DEPTH)
            a = np.column_stack([x, np.full(per, s + sign * radius), n])
            b = np.column_stack([x, np.full(per, s - sign * radius), n])
            start.append(a)
            end.append(b)
            centre.append(np.column_stack([x, np.full(per, s)]))
    order = np.concatenate([np.arange(per) * 2 + i for i in range(2)])
    first = np.concatenate([order + 2 * per * r for r in range(len(rows))])
    back = np.argsort(first, kind="stable")
    count = len(back)
    joined = np.tile([False, True], count // 2)
    return Sweeps(
        np.full(count, ARC, np.int8), np.zeros(count, np.int64), np.concatenate(start)[back],
        np.concatenate(end)[back], np.concatenate(centre)[back], np.full(count, np.pi), np.zeros(count, bool), joined,
    )  # fmt: skip


def plate(length: float, cell: float) -> tuple[np.ndarray, Grid, np.ndarray, np.ndarray]:
    """A plate 90 mm wide: heights, grid, tops and bottoms of its metal. The heights are one row seen many times."""
    rows, cols = round(90 / cell), round(length / cell)
    tops = np.zeros((rows, 1), np.float32)
    return np.broadcast_to(tops, (rows, cols)), Grid(0.0, 0.0, cell), tops, np.full((rows, 1), -6, np.float32)


def run(sweeps: Sweeps, length: float, cell: float, threads: int, grow: float = 0.0) -> float:
    """Cut a program into a plate, volume and engagement counted; the volume, mm3."""
    tools = one_tool()
    met = np.zeros((0, 10))
    tiles = each_tile(*plate(length, cell), sweeps, tools, grow, EXPONENT, threads)
    for _, _, _, taken in gather(tiles, len(sweeps.kind)):
        met = taken
    return float(met[:, VOLUME].sum(dtype=float))


def best(call: Callable[[], object], repeats: int = 3) -> tuple[float, float]:
    """Least wall time and least processor time of some calls, s."""
    wall, own = np.inf, np.inf
    for _ in range(repeats):
        a, b = time.perf_counter(), time.process_time()
        call()
        wall, own = min(wall, time.perf_counter() - a), min(own, time.process_time() - b)
    return wall, own


def bench_lines() -> None:
    """200 000 lines on 1050 x 90 mm at 0.1 mm, against the plain array version and by threads."""
    sweeps = spiral_pockets(1050.0, 200_000)
    volume = run(sweeps, 1050.0, 0.1, 1)
    one = best(lambda: run(sweeps, 1050.0, 0.1, 1))
    two = best(lambda: run(sweeps, 1050.0, 0.1, 2))
    pick = 3000
    heights, marks = np.zeros((900, 10500), np.float32), np.full((900, 10500), -1, np.int32)
    plain = best(lambda: cut_plain(heights, marks, 0.1, sweeps.start[:pick], sweeps.end[:pick], RADIUS), 2)
    whole = plain[1] / pick * len(sweeps.kind)
    exact = len(pocket_places(1050.0)) * np.pi * POCKET**2 * DEPTH
    print(f"lines: {len(sweeps.kind)}, volume {volume:.0f} mm3 (round pockets {exact:.0f})")
    print(
        f"  one thread {one[1]:.2f} s cpu ({one[0]:.2f} wall), two threads {two[0]:.2f} s wall ({two[1]:.2f} cpu): {one[0] / two[0]:.2f} times"
    )
    print(
        f"  plain arrays {plain[1] / pick * 1e6:.0f} us a move, {whole:.1f} s in all: {whole / one[1]:.0f} times slower"
    )


def bench_arcs() -> None:
    """200 000 half circles."""
    sweeps = half_circles(1050.0, 200_000)
    run(sweeps, 1050.0, 0.1, 1)
    one, two = best(lambda: run(sweeps, 1050.0, 0.1, 1), 2), best(lambda: run(sweeps, 1050.0, 0.1, 2), 2)
    print(
        f"arcs: {len(sweeps.kind)}, one thread {one[1]:.2f} s cpu ({one[0]:.2f} wall), two {two[0]:.2f} s wall"
    )


def bench_looks() -> None:
    """271 000 looks at the walls of the line program."""
    sweeps, tools = spiral_pockets(1050.0, 200_000), one_tool()
    places = pocket_places(1050.0)
    count = round(271_000 / len(places) / 3)
    angle = 2 * np.pi * np.arange(count) / count
    ring = np.column_stack([POCKET * np.cos(angle), POCKET * np.sin(angle)])
    probes = np.concatenate(
        [np.column_stack([ring + p, np.full(count, n)]) for p in places for n in (-0.03, -0.5, -0.98)]
    )
    gap, who = np.empty(len(probes)), np.empty(len(probes), np.int64)

    def sort() -> kernels.Buckets:
        found: kernels.Buckets = kernels.fill_buckets(sweeps, tools, 0.6, 0.0, 0.0, 0.0, 3.0, 351, 31)
        return found

    buckets = sort()
    kernels.gaps(probes[:10], buckets, sweeps, tools, 0.6, gap[:10], who[:10])
    filling, looking = best(sort), best(lambda: kernels.gaps(probes, buckets, sweeps, tools, 0.6, gap, who))
    print(
        f"looks at walls: {len(probes)}, {looking[1]:.2f} s cpu, sorting the moves {filling[1]:.2f}; "
        f"greatest gap {gap.max():.4f} mm, least {gap.min():.4f}"
    )


def bench_long_pass() -> None:
    """Level passes 1 m long, against numpy's minimum in place over the same cells."""
    count = 14
    start = np.array([[20.0, 6.0 + 6 * k, -1.0] for k in range(count)])
    none, off = np.full((count, 2), np.nan), np.zeros(count, bool)
    sweeps = Sweeps(
        np.zeros(count, np.int8), np.zeros(count, np.int64), start, start + np.array([1000.0, 0.0, 0.0]), none,
        np.zeros(count), off, off,
    )  # fmt: skip
    H, L = np.zeros((900, 10500), np.float32), np.full((900, 10500), -1, np.int32)
    nothing = np.empty((900, 0), np.float32)
    tops, bottoms = np.zeros((900, 1), np.float32), np.full((900, 1), -60, np.float32)
    kinds = {
        "map of lines kept": Metal(nothing, nothing, 0, 10500),
        "volume too": Metal(tops, bottoms, 0, 10500),
    }
    which, weights = np.arange(count, dtype=np.int32), np.ones(kernels.RAYS)
    seen, at, met = (np.zeros((count, c), np.float32) for c in (6, 2, 10))

    def cut(metal: Metal) -> None:
        kernels.cut_tile(
            H, L, Grid(0.0, 0.0, 0.1), metal, sweeps, which, one_tool(), 0.0, 0.0, False, (-np.inf, np.inf),
            weights, seen, at, met,
        )  # fmt: skip

    cut(kinds["volume too"])
    cells = int((H < 0).sum())
    part = H.reshape(-1)[:cells]
    times = dict.fromkeys([*kinds, "numpy"], np.inf)
    for _ in range(9):
        for name, metal in kinds.items():
            sweeps.start[:, 2] -= 0.1
            sweeps.end[:, 2] -= 0.1
            t = time.perf_counter()
            cut(metal)
            times[name] = min(times[name], time.perf_counter() - t)
        t = time.perf_counter()
        np.minimum(part, np.float32(-0.5), out=part)
        times["numpy"] = min(times["numpy"], time.perf_counter() - t)
    rates = ", ".join(f"{name} {times['numpy'] / times[name]:.2f}" for name in kinds)
    print(
        f"long level pass over numpy's minimum in place ({cells / times['numpy'] / 1e9:.2f} Gcell/s): {rates}"
    )


def bench_long_member() -> None:
    """10.5 m with 2 million moves, two threads, plain cutters."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sweeps = spiral_pockets(10_500.0, 2_000_000)
    run(spiral_pockets(1050.0, 2_000), 1050.0, 0.1, 2)
    programs = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    a, b = time.perf_counter(), time.process_time()
    volume = run(sweeps, 10_500.0, 0.1, 2)
    wall, own = time.perf_counter() - a, time.process_time() - b
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"10.5 m, {len(sweeps.kind)} moves at 0.1 mm: {wall:.1f} s wall, {own:.1f} s cpu, volume {volume:.0f} mm3; "
        f"memory {before:.0f} MB at start, {programs:.0f} with the moves, {peak:.0f} at most"
    )


def bench_compile() -> None:
    """The first compile ever: everything a proof calls, in an empty folder."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "NUMBA_CACHE_DIR": folder}
        for name in ("first", "second"):
            t = time.perf_counter()
            subprocess.run([sys.executable, __file__, "once"], env=env, check=True)
            print(f"compile, {name} run: {time.perf_counter() - t:.1f} s wall")


def bench_once() -> None:
    """One small program through every kernel of the simulation."""
    a = time.process_time()
    sweeps, tools = spiral_pockets(100.0, 2_000), one_tool()
    run(sweeps, 100.0, 0.5, 1, grow=0.35)
    heights, grid, tops, bottoms = plate(100.0, 0.5)
    buckets = kernels.fill_buckets(sweeps, tools, 0.6, 0.0, 0.0, 0.0, 3.0, 34, 31)
    gap, who = np.empty(1), np.empty(1, np.int64)
    kernels.gaps(np.array([[20.0, 20.0, -0.5]]), buckets, sweeps, tools, 0.6, gap, who)
    kernels.meet_exactly(
        np.ascontiguousarray(heights), grid, tops, bottoms, buckets, sweeps, tools, np.array([5]), np.ones(1)
    )
    kernels.metal_lost(np.ascontiguousarray(heights), np.ascontiguousarray(heights), tops, bottoms, 0.1)
    runs = kernels.outline_runs(
        np.array([[0, 0], [9, 0], [9, 9], [0, 0.0]]), np.array([0, 4]), grid, 180, 200
    )
    copy = np.ascontiguousarray(heights).copy()
    kernels.lower_runs(copy, runs, np.float32(-1))
    kernels.run_figures(copy, np.zeros(180, np.float32), copy, -1.0, runs)
    print(f"  every kernel once: {time.process_time() - a:.1f} s cpu")


if __name__ == "__main__":
    wanted = sys.argv[1] if len(sys.argv) > 1 else ""
    if wanted == "long":
        bench_long_member()
    elif wanted == "compile":
        bench_compile()
    elif wanted == "once":
        bench_once()
    else:
        bench_long_pass()
        bench_lines()
        bench_arcs()
        bench_looks()
