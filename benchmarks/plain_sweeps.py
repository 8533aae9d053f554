"""The plain array version of the simulation: every move stamped whole with numpy, for the benchmarks to compare with.

Level lines of flat cutters alone: the cells of a move's bounding box, their distance to the line, the minimum in place,
the volume cut away, and what the leading half circle meets at the move's end.
"""

from __future__ import annotations

import math

import numpy as np

RAYS = 64


def cut_plain(
    heights: np.ndarray, marks: np.ndarray, cell: float, start: np.ndarray, end: np.ndarray, radius: float
) -> tuple[np.ndarray, np.ndarray]:
    """Cut moves (k, 3) of (x, s, n) into `heights`, whose first cell's corner is (0, 0).

    Returns the volume of each, mm3, and the engaged angle at its end, radians, (k,) both.
    """
    rows, cols = heights.shape
    volume, engaged = np.zeros(len(start)), np.zeros(len(start))
    angle = math.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5)
    ahead, aside = np.cos(angle), np.sin(angle)
    ring = radius + 0.5 * cell
    for k in range(len(start)):
        a, b, n = start[k, :2], end[k, :2], end[k, 2]
        d = b - a
        length = math.hypot(*d)
        if length > 0:
            ux, us = d / length
            i = ((b[0] + ring * (ux * ahead - us * aside)) / cell).astype(int)
            j = ((b[1] + ring * (us * ahead + ux * aside)) / cell).astype(int)
            inside = (i >= 0) & (i < cols) & (j >= 0) & (j < rows)
            engaged[k] = (heights[j[inside], i[inside]] > n + 0.01).sum() * math.pi / RAYS
        low, high = np.minimum(a, b) - radius, np.maximum(a, b) + radius
        i0, i1 = max(0, int(low[0] / cell)), min(cols, int(high[0] / cell) + 1)
        j0, j1 = max(0, int(low[1] / cell)), min(rows, int(high[1] / cell) + 1)
        px = (np.arange(i0, i1) + 0.5) * cell - a[0]
        ps = ((np.arange(j0, j1) + 0.5) * cell - a[1])[:, None]
        t = np.clip((px * d[0] + ps * d[1]) / max(length**2, 1e-18), 0, 1)
        hit = (px - t * d[0]) ** 2 + (ps - t * d[1]) ** 2 <= radius**2
        part, mark = heights[j0:j1, i0:i1], marks[j0:j1, i0:i1]
        lower = hit & (part > n)
        volume[k] = (part[lower] - n).sum() * cell**2
        part[lower] = n
        mark[lower] = k
    return volume, engaged
