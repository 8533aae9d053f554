"""All sweeps of a tile cut in order into its map, and the sorting of sweeps into tiles."""

from __future__ import annotations

import math

import numpy as np

from sparwright.proof.kernels.base import kernel
from sparwright.proof.kernels.cuts import cut_sweep
from sparwright.proof.kernels.meets import watch_sweep
from sparwright.proof.kernels.paths import sweep_box


@kernel
def cut_tile(H, L, grid, metal, sweeps, which, tools, grow, top, watch, own, weights, seen, at, met):
    """Cut the sweeps `which`, in order, into the map H with cutters grown by `grow`; L keeps who cut each cell last.

    Sweeps that stay at or above `top` are in the air and passed over. With `watch` each sweep is looked at before
    it is cut, at places with x within own (from, to), and fills a row of each of three arrays. seen: (m, 6), the cosine
    that thins the chip, the depth of metal met, and how far metal stood into a rapid, under a plunge, into the shank and
    into the holder (mm, zero or less where it did not). at: (m, 2), where. met: (m, 10), the greatest engaged angle,
    radial width, area, pull, mean pull on a tooth, greatest pull on a tooth (see meets.meet), then of the place with
    the greatest pull the mean sine, x and s, and last the volume cut away, mm3. weights: (RAYS,), of each
    direction.
    """
    points = np.empty((2, 3))
    area = grid.cell * grid.cell
    for w in range(which.size):
        k = which[w]
        if min(sweeps.start[k, 2], sweeps.end[k, 2]) >= top:
            continue
        if watch:
            watch_sweep(
                H, grid, metal, sweeps, k, tools, top, own, weights, points, seen[w], at[w], met[w]
            )  # fmt: skip
        cut = cut_sweep(H, L, grid, metal, sweeps, k, tools, grow, points)
        if watch:
            met[w, 9] = cut * area


@kernel
def sort_tiles(sweeps, tools, top, x0, width, count, halo):
    """Sweeps by tile along x: `first` (count + 1,) and `which`, tile i having which[first[i]:first[i + 1]], in order.

    Tile i spans x0 + i * width to x0 + (i + 1) * width and `halo` on both sides. A sweep belongs wherever its
    cutter, or its shank or holder if they come below `top`, may touch. Sweeps above `top` belong nowhere.
    """
    first = np.zeros(count + 1, np.int64)
    which = np.empty(0, np.int32)
    for counting in (True, False):
        for k in range(sweeps.kind.size):
            low = min(sweeps.start[k, 2], sweeps.end[k, 2])
            if low >= top:
                continue
            t = sweeps.tool[k]
            reach = tools.radius[t]
            if low + tools.flute[t] < top:
                reach = max(reach, tools.shank[t])
            if low + tools.stick[t] < top:
                reach = max(reach, tools.holder[t])
            reach += halo
            xa, xb, _, _ = sweep_box(sweeps, k)
            a = math.floor(min(max((xa - reach - x0) / width, 0.0), count - 1.0))
            b = math.floor(min(max((xb + reach - x0) / width, 0.0), count - 1.0))
            for i in range(a, b + 1):
                if counting:
                    first[i + 1] += 1
                else:
                    which[first[i]] = k
                    first[i] += 1
        if counting:
            for i in range(count):
                first[i + 1] += first[i]
            which = np.empty(first[count], np.int32)
    for i in range(count, 0, -1):
        first[i] = first[i - 1]
    first[0] = 0
    return first, which
