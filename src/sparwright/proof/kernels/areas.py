"""Areas and volumes of a map."""

from __future__ import annotations

import numpy as np

from sparwright.proof.kernels.base import kernel
from sparwright.proof.kernels.runs import first_cell, metal_between, past_cell


@kernel
def outline_runs(points, rings, grid, rows, cols):
    """Cells inside a polygon by the even-odd rule, as runs (m, 3) of row, first cell, one past the last.

    points: (p, 2) vertices of all rings, each closed; rings: (r + 1,) where each ring starts.
    """
    low, high = np.inf, -np.inf
    for i in range(points.shape[0]):
        low, high = min(low, points[i, 1]), max(high, points[i, 1])
    j0, j1 = first_cell(low, grid.s0, grid.cell, rows), past_cell(high, grid.s0, grid.cell, rows)
    runs = np.empty(((j1 - j0) * (points.shape[0] // 2 + 1), 3), np.int64)
    count = 0
    crossings = np.empty(points.shape[0])
    for j in range(j0, j1):
        y = grid.s0 + (j + 0.5) * grid.cell
        c = 0
        for r in range(rings.size - 1):
            for i in range(rings[r], rings[r + 1] - 1):
                ya, yb = points[i, 1], points[i + 1, 1]
                if (ya <= y) != (yb <= y):
                    x = points[i, 0] + (y - ya) / (yb - ya) * (points[i + 1, 0] - points[i, 0])
                    at = c
                    while at > 0 and crossings[at - 1] > x:
                        crossings[at] = crossings[at - 1]
                        at -= 1
                    crossings[at] = x
                    c += 1
        for i in range(0, c - 1, 2):
            a = first_cell(crossings[i], grid.x0, grid.cell, cols)
            b = past_cell(crossings[i + 1], grid.x0, grid.cell, cols)
            if a < b:
                runs[count, 0], runs[count, 1], runs[count, 2] = j, a, b
                count += 1
    return runs[:count]


@kernel
def lower_runs(H, runs, n):
    """Lower the cells of the runs to n."""
    for r in range(runs.shape[0]):
        row = H[runs[r, 0], runs[r, 1] : runs[r, 2]]
        for i in range(row.size):
            row[i] = min(row[i], n)


@kernel
def run_figures(H, base, allowed, n, runs):
    """Figures of heights over `base` (rows,) in runs of cells, passing over cells allowed to go below n.

    Returns (9,): cells, cells lowered below -0.01, least, mean and greatest height, then row and cell of the
    least and of the greatest.
    """
    out = np.zeros(9)
    out[2], out[4] = np.inf, -np.inf
    for r in range(runs.shape[0]):
        j = runs[r, 0]
        for i in range(runs[r, 1], runs[r, 2]):
            if allowed[j, i] < n - 1e-4:
                continue
            height = H[j, i] - base[j]
            out[0] += 1.0
            if H[j, i] < -0.01:
                out[1] += 1.0
            out[3] += height
            if height < out[2]:
                out[2], out[5], out[6] = height, j, i
            if height > out[4]:
                out[4], out[7], out[8] = height, j, i
    if out[0] > 0.0:
        out[3] /= out[0]
    return out


@kernel
def metal_lost(upper, lower, tops, bottoms, limit):
    """Metal between two maps where `lower` is below `upper`: (volume over cell area, cells over limit).

    Returns the sum over all cells of the metal's length, mm, and a map of the length where it passes `limit`, else zero.
    """
    rows, cols = upper.shape
    over = np.zeros((rows, cols), np.float32)
    total = 0.0
    for j in range(rows):
        for i in range(cols):
            if lower[j, i] < upper[j, i]:
                lost = metal_between(tops, bottoms, j, lower[j, i], upper[j, i])
                total += lost
                if lost > limit:
                    over[j, i] = lost
    return total, over
