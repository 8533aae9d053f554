"""What the report of a proof is drawn from: the verdict, what was read, and what was left after cutting."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry

from sparwright.proof.case import Case
from sparwright.proof.loads import Loads
from sparwright.proof.lookdown import height_map
from sparwright.proof.model import Proof
from sparwright.proof.simulate import Cutaway

SEEN = 0.05  # an edge no deeper than this under what is seen is seen, mm
LEAST_CUT = 1e-3  # of a cell that counts as cut, mm


@dataclass(frozen=True)
class Shown:
    """title, against: what the programs were held against, in words. proof. case: as read, None where nothing was.
    cut, loads: None where there was no stock to cut. outline: of the part or its features in (x, s). digest: of the job or
    case file and all it names, "" without one.
    """

    title: str
    against: str
    proof: Proof
    case: Case | None
    cut: Cutaway | None
    loads: Loads | None
    outline: BaseGeometry
    digest: str


def thickness(case: Case, cut: Cutaway) -> np.ndarray:
    """Metal left under each cell down to the far side of the first wall, mm, (rows, cols); nan where none ever was."""
    tops, bottoms = case.scene.tops[:, :1], case.scene.bottoms[:, :1]
    left = np.maximum(np.minimum(cut.after, tops) - bottoms, 0).astype(float)
    left[case.scene.before <= bottoms] = np.nan
    return np.asarray(left)


def was_cut(case: Case, cut: Cutaway) -> np.ndarray:
    """Which cells were lowered, (rows, cols) bool."""
    return np.asarray(cut.after < case.scene.before - LEAST_CUT)


def target_outlines(case: Case) -> BaseGeometry:
    """The outlines of all features wanted, in (x, s)."""
    return (
        shapely.union_all([t.outline.boundary for t in case.scene.targets])
        if case.scene.targets
        else LineString()
    )


def part_edges(triangles: np.ndarray, least: float = 0.35) -> MultiLineString:
    """Edges of a part where its surface turns by more than `least` radians, as lines in (x, s, n).

    triangles: (m, 3, 3), closed.
    """
    step = 1e-5 * float(np.ptp(triangles, axis=(0, 1)).max())
    grid = np.round(triangles.reshape(-1, 3) / step).astype(np.int64)
    _, at = np.unique(grid, axis=0, return_inverse=True)
    at = at.reshape(-1, 3)
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    start, end = at.ravel(), np.roll(at, -1, axis=1).ravel()
    pair = np.sort(np.column_stack([start, end]), axis=1)
    _, which = np.unique(pair, axis=0, return_inverse=True)
    order = np.argsort(which.ravel(), kind="stable")
    owner = order // 3
    group = which.ravel()[order]
    begin = np.flatnonzero(np.diff(group, prepend=-1))
    other = np.minimum(begin + 1, len(order) - 1)
    turn = np.einsum("ij,ij->i", normal[owner[begin]], normal[owner[other]])
    sharp = begin[(turn < np.cos(least)) & (group[other] == group[begin])]
    a = triangles.reshape(-1, 3)[order[sharp]]
    b = triangles[owner[sharp], (order[sharp] % 3 + 1) % 3]
    apart = np.hypot(*(a - b)[:, :2].T) > 1e-6
    return MultiLineString(list(np.stack([a[apart], b[apart]], axis=1)))


def part_outline(triangles: np.ndarray, case: Case) -> BaseGeometry:
    """The edges of a part that are seen from above, in (x, s)."""
    edges = shapely.get_parts(part_edges(triangles))
    if len(edges) == 0:
        return LineString()
    grid, shape = case.scene.grid, case.scene.before.shape
    heights, _ = height_map(triangles, grid, shape)
    around = ndimage.minimum_filter(
        heights, 3, mode="nearest"
    )  # an edge's own cell may lie on either of its sides
    middle = shapely.get_coordinates(edges, include_z=True).reshape(-1, 2, 3).mean(axis=1)
    i = np.clip(((middle[:, 0] - grid.x0) // grid.cell).astype(int), 0, shape[1] - 1)
    j = np.clip(((middle[:, 1] - grid.s0) // grid.cell).astype(int), 0, shape[0] - 1)
    seen = middle[:, 2] > around[j, i] - SEEN
    return shapely.line_merge(shapely.force_2d(shapely.union_all(edges[seen])))
