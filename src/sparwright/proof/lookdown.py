"""A body of triangles seen from above: its height map, on the cells of the simulation."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from sparwright.compiled import kernel_compiler
from sparwright.proof.case import Case
from sparwright.proof.kernels import AIR, Grid

kernel = kernel_compiler(__file__)
STEEP = 0.3  # level part of the normal from which ground is looked at as a wall (about 17 degrees)
EDGE = 1e-9  # share by which a cell's centre on an edge counts as inside


@kernel
def _raise_map(
    heights: np.ndarray,
    slopes: np.ndarray,
    triangles: np.ndarray,
    steep: np.ndarray,
    x0: float,
    s0: float,
    cell: float,
) -> None:
    """Raise the map to the triangles; `steep` of the highest one is kept in `slopes`."""
    rows, cols = heights.shape
    for t in range(len(triangles)):
        ax, ay, an = triangles[t, 0]
        bx, by, bn = triangles[t, 1]
        cx, cy, cn = triangles[t, 2]
        area = (bx - ax) * (cy - ay) - (cx - ax) * (by - ay)
        if abs(area) < 1e-12:
            continue  # upright: seen from above it is a line
        i0 = max(0, int(np.floor((min(ax, bx, cx) - x0) / cell)))
        i1 = min(cols, int(np.floor((max(ax, bx, cx) - x0) / cell)) + 1)
        j0 = max(0, int(np.floor((min(ay, by, cy) - s0) / cell)))
        j1 = min(rows, int(np.floor((max(ay, by, cy) - s0) / cell)) + 1)
        for j in range(j0, j1):
            y = s0 + (j + 0.5) * cell
            for i in range(i0, i1):
                x = x0 + (i + 0.5) * cell
                u = ((bx - x) * (cy - y) - (cx - x) * (by - y)) / area
                v = ((cx - x) * (ay - y) - (ax - x) * (cy - y)) / area
                w = 1.0 - u - v
                if u < -EDGE or v < -EDGE or w < -EDGE:
                    continue
                n = u * an + v * bn + w * cn
                if n > heights[j, i]:
                    heights[j, i] = n
                    slopes[j, i] = steep[t]


def upright_share(triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals, (m, 3), of triangles (m, 3, 3), and the level part of each, (m,): 1 upright, 0 level."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    return normal, np.hypot(normal[:, 0], normal[:, 1])


def height_map(triangles: np.ndarray, grid: Grid, shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Height n of the highest triangle over each cell's centre, float32 of `shape`, AIR where there is none, and
    how steep it is there (level part of its normal).

    triangles: (m, 3, 3) of (x, s, n), mm.
    """
    heights, slopes = np.full(shape, AIR, dtype=np.float32), np.zeros(shape, dtype=np.float32)
    _, steep = upright_share(triangles)
    _raise_map(heights, slopes, np.ascontiguousarray(triangles), steep, grid.x0, grid.s0, grid.cell)
    return heights, slopes


@kernel
def _fill_points(
    triangles: np.ndarray, use: np.ndarray, spacing: float, points: np.ndarray, whose: np.ndarray, write: bool
) -> int:
    """Points on the triangles `use`, in rows beside the longest side; counts them, and fills them in where `write`."""
    found = 0
    for k in range(use.size):
        corner = triangles[use[k]]
        longest, first = -1.0, 0
        for e in range(3):
            side = np.sqrt(((corner[(e + 1) % 3] - corner[e]) ** 2).sum())
            if side > longest:
                longest, first = side, e
        a, b, c = corner[first], corner[(first + 1) % 3], corner[(first + 2) % 3]
        height = np.sqrt((np.cross(b - a, c - a) ** 2).sum()) / longest
        rows = max(1, int(np.ceil(height / spacing)))
        for r in range(rows):
            up = (r + 0.5) / rows
            count = max(1, int(np.ceil(longest * (1.0 - up) / spacing)))
            if write:
                for i in range(count):
                    along = (i + 0.5) / count
                    for d in range(3):
                        left, right = a[d] + up * (c[d] - a[d]), b[d] + up * (c[d] - b[d])
                        points[found + i, d] = left + along * (right - left)
                    whose[found + i] = use[k]
            found += count
    return found


def wall_points(triangles: np.ndarray, least: float, spacing: float) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 3) about `spacing` apart on the triangles that do not look down and are steeper than `least` (level
    part of the normal), and the normal at each, (k, 3). None lies on a triangle's edge.
    """
    normal, steep = upright_share(triangles)
    use = np.flatnonzero((steep > least) & (normal[:, 2] > -1e-6))
    triangles = np.ascontiguousarray(triangles)
    none, nobody = np.empty((0, 3)), np.empty(0, dtype=np.int64)
    count = _fill_points(triangles, use, spacing, none, nobody, False)
    points, whose = np.empty((count, 3)), np.empty(count, dtype=np.int64)
    _fill_points(triangles, use, spacing, points, whose, True)
    return points, normal[whose]


@dataclass(frozen=True)
class Wanted:
    """The part over the cells. heights: (rows, cols), AIR beside it and in its openings. slopes: level part of the
    normal. low, high: the least and the greatest of each cell and those within `into` and `onto` cells of it, which
    is as far as walls are left to the exact looks. smooth: no step within a cell.
    """

    heights: np.ndarray
    slopes: np.ndarray
    low: np.ndarray
    high: np.ndarray
    smooth: np.ndarray
    onto: int


def _cells(case: Case, tolerance: float) -> int:
    """Cells beside a wall that are left to the exact looks: one, and as many more as the tolerance needs."""
    cell = case.scene.grid.cell
    return 1 + math.ceil(max(0.0, tolerance - cell / 4) / cell)


def wanted_surface(case: Case, part: np.ndarray, into: float, onto: float) -> Wanted:
    """The part seen from above; part: (m, 3, 3) triangles in (x, s, n). into, onto: tolerances of walls, mm."""
    heights, slopes = height_map(part, case.scene.grid, case.scene.before.shape)

    def least(cells: int) -> np.ndarray:
        return np.asarray(ndimage.minimum_filter(heights, 2 * cells + 1, mode="nearest"))

    def most(cells: int) -> np.ndarray:
        return np.asarray(ndimage.maximum_filter(heights, 2 * cells + 1, mode="nearest"))

    smooth = most(1) - least(1) < 2 * STEEP * case.scene.grid.cell
    cells = 1 + _cells(case, onto)  # thin metal on a wall is told once, as a wall's
    return Wanted(heights, slopes, least(_cells(case, into)), most(cells), smooth, cells)
