"""Cutting sweeps into a height map tile by tile: small maps stay in the processor's cache, and two can be cut at once.

A tile is a stretch of the map along x. Round it lies a halo as wide as the widest cutter, so that a cutter at the
tile's edge sees the metal it meets on both sides; only the tile's own columns are kept and counted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from sparwright.proof import kernels
from sparwright.proof.kernels import RAYS, Grid, Metal, Sweeps, Tools

TILE = 105.0  # length of a tile along x, mm; tiles of 30 to 200 mm are as good
# columns of what a sweep met (see kernels.cut_tile)
ENGAGED, WIDTH, AREA, PULL, MEAN_PULL, TOOTH_PULL, LEAN, PEAK_X, PEAK_S, VOLUME = range(10)


@dataclass(frozen=True)
class Cut:
    """A map cut by sweeps. after, cut_by, grown, grown_by, shrunk: (rows, cols). seen, at, met: by sweep; see
    simulate.Cutaway.
    """

    after: np.ndarray
    cut_by: np.ndarray
    grown: np.ndarray
    grown_by: np.ndarray
    shrunk: np.ndarray
    seen: np.ndarray
    at: np.ndarray
    met: np.ndarray


@dataclass(frozen=True)
class TileCut:
    """One tile. first, past: its columns of the whole map. maps: after, cut_by, grown, grown_by, shrunk, its own
    columns alone (only the first two where no resized cutters were asked for). which: sweeps that came near, (m,).
    seen, at, met: what they met in this tile.
    """

    first: int
    past: int
    maps: tuple[np.ndarray, ...]
    which: np.ndarray
    seen: np.ndarray
    at: np.ndarray
    met: np.ndarray


def ray_weights(exponent: float) -> np.ndarray:
    """Share of a direction in the force on a tooth, cos^(1 - mc) (Kienzle's force is as chip^(1 - mc)), (RAYS,)."""
    angle = math.pi * ((np.arange(RAYS) + 0.5) / RAYS - 0.5)
    return np.asarray(np.cos(angle) ** (1 - exponent))


def each_tile(
    before: np.ndarray,
    grid: Grid,
    tops: np.ndarray,
    bottoms: np.ndarray,
    sweeps: Sweeps,
    tools: Tools,
    grow: float,
    exponent: float,
    threads: int = 2,
) -> Iterator[TileCut]:
    """Cut the tiles of a map and hand them out in order, no more than a few held at a time.

    before: (rows, cols) heights of the stock. tops, bottoms: (rows, m) metal intervals. grow: by how much cutters are
    grown and shrunk for the maps of bounds, mm; 0 to leave these out. exponent: of the specific cutting force.
    """
    rows, cols = before.shape
    top = float(before.max())
    wide = max(1, round(TILE / grid.cell))
    count = math.ceil(cols / wide)
    halo = math.ceil(float(tools.radius.max()) / grid.cell) + 2
    first, which = kernels.sort_tiles(
        sweeps, tools, top, grid.x0, wide * grid.cell, count, (halo + 1) * grid.cell
    )
    weights = ray_weights(exponent)
    nothing = np.empty((rows, 0), dtype=np.float32)

    def cut(i: int) -> TileCut:
        a, b = i * wide, min((i + 1) * wide, cols)
        left, right = max(a - halo, 0), min(b + halo, cols)
        mine = which[first[i] : first[i + 1]]
        m = len(mine)
        here = Grid(grid.x0 + left * grid.cell, grid.s0, grid.cell)
        own = (
            grid.x0 + a * grid.cell if i else -math.inf,
            grid.x0 + b * grid.cell if i < count - 1 else math.inf,
        )
        seen, at, met = (np.zeros((m, c), dtype=np.float32) for c in (6, 2, 10))
        maps = []
        for change in (0.0, grow, -grow) if grow else (0.0,):
            heights = np.ascontiguousarray(before[:, left:right])
            heights = heights.copy() if np.shares_memory(heights, before) else heights
            by = np.full(heights.shape, -1, dtype=np.int32)
            plain = change == 0.0
            metal = Metal(tops if plain else nothing, bottoms if plain else nothing, a - left, b - left)
            kernels.cut_tile(
                heights, by, here, metal, sweeps, mine, tools, change, top, plain, own, weights, seen, at, met
            )
            maps += [heights[:, a - left : b - left], by[:, a - left : b - left]]
        return TileCut(a, b, tuple(maps), mine, seen, at, met)

    if threads <= 1:
        yield from map(cut, range(count))
        return
    with ThreadPoolExecutor(threads) as pool:  # the kernels let go of the interpreter
        running = [pool.submit(cut, i) for i in range(min(threads + 1, count))]
        for i in range(count):
            done = running.pop(0).result()
            if i + threads + 1 < count:
                running.append(pool.submit(cut, i + threads + 1))
            yield done


def gather(
    tiles: Iterator[TileCut], count: int
) -> Iterator[tuple[TileCut, np.ndarray, np.ndarray, np.ndarray]]:
    """Tiles one by one, with what all sweeps met so far: seen (count, 6), at (count, 2), met (count, 10).

    The volumes of a sweep's parts are added up, of all else the greatest counts.
    """
    seen, at, met = (np.zeros((count, c), dtype=np.float32) for c in (6, 2, 10))
    for tile in tiles:
        k = tile.which
        worse = tile.seen[:, 2:].max(axis=1, initial=-np.inf) > seen[k, 2:].max(axis=1, initial=-np.inf)
        at[k[worse]] = tile.at[worse]
        seen[k] = np.maximum(seen[k], tile.seen)
        harder = tile.met[:, PULL] > met[k, PULL]
        volume = met[k, VOLUME] + tile.met[:, VOLUME]
        met[k[harder], LEAN:VOLUME] = tile.met[harder, LEAN:VOLUME]
        met[k, :LEAN] = np.maximum(met[k, :LEAN], tile.met[:, :LEAN])
        met[k, VOLUME] = volume
        yield tile, seen, at, met


def cut_tiles(
    before: np.ndarray,
    grid: Grid,
    tops: np.ndarray,
    bottoms: np.ndarray,
    sweeps: Sweeps,
    tools: Tools,
    grow: float,
    exponent: float,
    threads: int = 2,
) -> Cut:
    """Cut sweeps into a map, tile by tile, and put the tiles together; see `each_tile` for what is given."""
    kinds = (np.float32, np.int32, np.float32, np.int32, np.float32)
    maps = [np.empty(before.shape, dtype=kind) for kind in kinds]
    count = len(sweeps.kind)
    seen, at, met = (np.zeros((0, c), dtype=np.float32) for c in (6, 2, 10))
    tiles = each_tile(before, grid, tops, bottoms, sweeps, tools, grow, exponent, threads)
    for tile, so_far, where, taken in gather(tiles, count):
        seen, at, met = so_far, where, taken
        for whole, part in zip(maps, tile.maps, strict=False):
            whole[:, tile.first : tile.past] = part
    return Cut(maps[0], maps[1], maps[2], maps[3], maps[4], seen, at, met)
