"""How what the simulation says depends on the size of its cells: the table of the page on the proof.

    python benchmarks/convergence.py

A plate with a round pocket, a slot at 45 degrees and a ramp down to a floor, all cut by a flat cutter; what the map
says and what the exact looks say are held against geometry.
"""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof import kernels
from sparwright.proof.kernels import ARC, FLAT, LINE, Grid, Sweeps, Tools
from sparwright.proof.tiles import VOLUME, cut_tiles

RADIUS, DEPTH, GRADE = 1.5875, 1.3, 0.2
ROUND, POCKET = (15.3, 15.1), 8.0  # middle and radius of the round pocket
SLOT = ((31.1, 6.2), (47.3, 22.4))  # ends of a slot at 45 degrees
RAMP = ((6.0, 32.3), (26.0, 32.3))  # a ramp from the face down


def moves() -> Sweeps:
    """The program: rings of two half circles each, a slot, a ramp."""
    found = []
    for rho in (1.0, 2.4, 3.8, 5.2, POCKET - RADIUS):
        a, b = ((ROUND[0] + rho * s, ROUND[1], -DEPTH) for s in (1, -1))
        found += [(a, b, ROUND, math.pi), (b, a, ROUND, math.pi)]
    found.append(((*SLOT[0], -DEPTH), (*SLOT[1], -DEPTH), None, 0.0))
    found.append(((*RAMP[0], -0.001), (*RAMP[1], -0.001 - GRADE * 20), None, 0.0))
    count = len(found)
    return Sweeps(
        np.array([LINE if c is None else ARC for _, _, c, _ in found], np.int8), np.zeros(count, np.int64),
        np.array([f[0] for f in found]), np.array([f[1] for f in found]),
        np.array([(np.nan, np.nan) if f[2] is None else f[2] for f in found]),
        np.array([f[3] for f in found]), np.zeros(count, bool), np.zeros(count, bool),
    )  # fmt: skip


def row(cell: float) -> list[str]:
    """Errors with one size of cell, mm but for the volume."""
    tools = Tools(np.array([FLAT]), *(np.array([v]) for v in (RADIUS, 0.0, 1.0, 20.0, RADIUS, 30.0, 11.0)))
    rows, cols = round(40 / cell), round(54 / cell)
    tops, bottoms = np.zeros((rows, 1), np.float32), np.full((rows, 1), -8, np.float32)
    sweeps, grid = moves(), Grid(0.0, 0.0, cell)
    cut = cut_tiles(
        np.zeros((rows, cols), np.float32), grid, tops, bottoms, sweeps, tools, cell / math.sqrt(2), 0.25
    )
    x, s = np.meshgrid((np.arange(cols) + 0.5) * cell, (np.arange(rows) + 0.5) * cell)
    floor = np.hypot(x - ROUND[0], s - ROUND[1]) < POCKET - cell
    level = np.abs(cut.after[floor].astype(float) + DEPTH).max()
    # the map says where a wall stands by its cells: the outermost cut, the innermost left
    from_middle = np.hypot(x - ROUND[0], s - ROUND[1])
    near = np.abs(from_middle - POCKET) < 1
    arc = max(
        from_middle[near & (cut.after < -0.5)].max() - POCKET,
        POCKET - from_middle[near & (cut.after > -0.5)].min(),
        cell / 2,
    )
    # a ramp's floor anywhere in a cell is taken for that at its middle
    ramp = GRADE * cell / math.sqrt(2)
    # exact looks
    buckets = kernels.fill_buckets(sweeps, tools, 0.6, 0.0, 0.0, 0.0, 3.0, 19, 15)

    def gaps(points: np.ndarray) -> np.ndarray:
        gap, who = np.empty(len(points)), np.empty(len(points), np.int64)
        at = np.column_stack([points, np.full(len(points), -0.9 * DEPTH)])
        kernels.gaps(np.ascontiguousarray(at), buckets, sweeps, tools, 0.6, gap, who)
        return gap

    angle = np.linspace(0, 2 * np.pi, 1500)
    circle = np.array(ROUND) + POCKET * np.column_stack([np.cos(angle), np.sin(angle)])
    u = np.linspace(0, 1, 500)[:, None]
    edge = np.array(SLOT[0]) + u * (np.array(SLOT[1]) - SLOT[0]) + RADIUS * np.array([1, -1]) / math.sqrt(2)
    along = np.linspace(8, 24, 400)
    low, who = np.empty(400), np.empty(400, np.int64)
    kernels.depths(np.column_stack([along, np.full(400, RAMP[0][1])]), buckets, sweeps, tools, low, who)
    exact = -0.001 - GRADE * (np.minimum(along + RADIUS, RAMP[1][0]) - RAMP[0][0])
    volume = math.pi * POCKET**2 * DEPTH + (2 * RADIUS * math.dist(*SLOT) + math.pi * RADIUS**2) * DEPTH
    told = float(cut.met[:-1, VOLUME].sum(dtype=float))
    return [
        f"{cell:g}", f"{level:.0e}", f"{arc:.3f}", f"{ramp:.3f}", f"{np.abs(gaps(circle)).max():.0e}",
        f"{np.abs(gaps(edge)).max():.0e}", f"{np.abs(low - exact).max():.0e}", f"{100 * (told / volume - 1):+.3f}",
    ]  # fmt: skip


if __name__ == "__main__":
    print(
        "| cell, mm | level floor, map | round wall, map | ramp, map | round wall, looks | 45 degree wall, looks | ramp, looks | volume, % |"
    )
    print("| --- " * 8 + "|")
    for size in (0.8, 0.4, 0.2, 0.1, 0.05):
        print("| " + " | ".join(row(size)) + " |")
