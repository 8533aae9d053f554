"""The simulated surface against a part given as triangles: cut too deep, and metal left.

Level and gently sloping ground is compared at the centre of every cell; against ground cut too deep the map of
grown cutters makes that a bound everywhere but in a band of three half-diagonals along steps. Walls and slopes are
looked at point by point with the exact distance to everything cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, named, passed
from sparwright.proof.kernels import AIR
from sparwright.proof.lookdown import height_map, wall_points
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway, gaps_at, half_diagonal

STEEP = 0.3  # level part of the normal from which ground is looked at as a wall (about 17 degrees)
SPACING = 0.25  # of looks at walls, mm
MOST_LOOKS = 600_000  # beyond which the looks are spread wider
LISTED = 12  # places of each kind told one by one
APART = 4.0  # walls that no cut comes near are told of once every so many mm
SUB = 8  # looks along a doubtful cell's side


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


def check_shape(case: Case, cut: Cutaway, part: np.ndarray, left: float | None) -> list[ProofFinding]:
    """Everything cut deeper than the part, and all metal left on it, with place, amount and line.

    left: metal that may be left, mm, instead of the tolerances of floors and walls; None for those.
    """
    cutting = case.job.file.cutting
    onto = left or cutting.wall_tolerance
    wanted = wanted_surface(case, part, cutting.wall_tolerance, onto)
    deep = _too_deep(case, cut, wanted, cutting.floor_tolerance)
    high = _left(case, cut, wanted, left or cutting.floor_tolerance)
    walls, worst, looks = _walls(case, cut, wanted, part, (cutting.wall_tolerance, onto))
    told = {(f.check, f.program, f.line) for f in deep + high}
    findings = deep + high + [f for f in walls if (f.check, f.program, f.line) not in told]
    if not any(f.check == "cut too deep" for f in findings):
        findings.append(
            passed("cut too deep", "nothing is cut deeper than the part", 0.0, cutting.floor_tolerance, "mm")
        )
    if not any(f.check == "metal left" for f in findings):
        text = f"the part's surface is reached everywhere; {looks} looks at its walls, the furthest {worst:.4f} mm off"
        findings.append(passed("metal left", text, worst, onto, "mm"))
    return findings


# --- level ground ---------------------------------------------------------------------------------------


def _too_deep(case: Case, cut: Cutaway, wanted: Wanted, tolerance: float) -> list[ProofFinding]:
    scene = case.scene
    keep = np.where(wanted.heights > AIR, wanted.low, AIR).astype(np.float32)
    _, bound = kernels.metal_lost(keep, cut.grown, scene.tops, scene.bottoms, tolerance)
    gentle = (wanted.slopes < STEEP) & wanted.smooth
    own = np.where(gentle, wanted.heights, AIR).astype(np.float32)
    _, exact = kernels.metal_lost(own, cut.after, scene.tops, scene.bottoms, tolerance)
    findings = []
    for (j, i), amount, size, more in _regions(case, np.maximum(bound, exact)):
        alone = cut.grown[j, i] < cut.after[j, i] - 1e-4
        sweep = cut.grown_by[j, i] if alone or cut.cut_by[j, i] < 0 else cut.cut_by[j, i]
        findings.append(
            _finding(case, cut, "cut too deep", int(sweep), (j, i), amount, size, more, tolerance)
        )
    return findings


def _left(case: Case, cut: Cutaway, wanted: Wanted, tolerance: float) -> list[ProofFinding]:
    """Metal left on level ground: at the cells' centres, and where only shrunk cutters leave it, in SUB x SUB places."""
    scene = case.scene
    gentle = (wanted.heights > AIR) & (wanted.slopes < STEEP)
    level = wanted.smooth & (wanted.high - wanted.heights < 2 * STEEP * scene.grid.cell * wanted.onto)
    aim = np.where(level, wanted.heights, wanted.high)
    aim = np.where(gentle, aim, np.float32(1e6)).astype(np.float32)
    _, over = kernels.metal_lost(cut.after, aim, scene.tops, scene.bottoms, tolerance)
    _, doubt = kernels.metal_lost(cut.shrunk, aim, scene.tops, scene.bottoms, tolerance)
    tilt = wanted.slopes / np.sqrt(np.maximum(1 - wanted.slopes**2, 1e-6))
    level_there = aim + tolerance + tilt * half_diagonal(case)  # the part's highest within the cell
    for j, i in _slivers(case, cut, level_there, (doubt > 0) & (over == 0)):
        over[j, i] = cut.shrunk[j, i] - aim[j, i]
    lines, grid = _nearest_cut(cut), scene.grid
    findings = []
    for (j, i), amount, size, more in _regions(case, over):
        at = (grid.x0 + (i + 0.5) * grid.cell, grid.s0 + (j + 0.5) * grid.cell, float(aim[j, i]) + tolerance)
        _, who = gaps_at(case, cut, np.array([at]))  # the cut at this height that comes nearest
        sweep = int(who[0]) if who[0] >= 0 else int(lines[j, i])
        findings.append(_finding(case, cut, "metal left", sweep, (j, i), amount, size, more, tolerance))
    return findings


def _slivers(case: Case, cut: Cutaway, level: np.ndarray, doubtful: np.ndarray) -> list[tuple[int, int]]:
    """Doubtful cells in which metal really stands over `level`."""
    grid = case.scene.grid
    found: list[tuple[int, int]] = []
    inside = (np.arange(SUB) + 0.5) / SUB
    ds, dx = (d.ravel() for d in np.meshgrid(inside, inside, indexing="ij"))
    cells = np.argwhere(doubtful)
    for chunk in range(0, len(cells), 4096):
        rows, cols = cells[chunk : chunk + 4096].T
        x = grid.x0 + (cols[:, None] + dx) * grid.cell
        s = grid.s0 + (rows[:, None] + ds) * grid.cell
        n = np.repeat(level[rows, cols].astype(float), len(dx))
        gap, _ = gaps_at(case, cut, np.column_stack([x.ravel(), s.ravel(), n]))
        for k in np.flatnonzero(gap.reshape(x.shape).max(axis=1) > 0):
            found.append((int(rows[k]), int(cols[k])))
    return found


def _nearest_cut(cut: Cutaway) -> np.ndarray:
    """The sweep that cut each cell, or else the nearest cut cell, last; -1 where nothing was cut at all."""
    if not (cut.cut_by >= 0).any():
        return cut.cut_by
    nearest = ndimage.distance_transform_edt(cut.cut_by < 0, return_distances=False, return_indices=True)
    return np.asarray(cut.cut_by[tuple(nearest)])


def _regions(case: Case, over: np.ndarray) -> list[tuple[tuple[int, int], float, tuple[float, float], int]]:
    """Places where `over` is above zero, the worst first: worst cell, its figure, extents (x, s) in mm, and how many
    places there are.
    """
    labels, count = ndimage.label(over > 0, structure=np.ones((3, 3)))
    if count == 0:
        return []
    boxes = ndimage.find_objects(labels)
    worst = [_middle_of_worst(over, labels, k, where) for k, where in enumerate(boxes, 1)]
    order = sorted(range(count), key=lambda k: -over[worst[k]])
    cell = case.scene.grid.cell
    return [
        (
            (int(worst[k][0]), int(worst[k][1])),
            float(over[worst[k]]),
            ((boxes[k][1].stop - boxes[k][1].start) * cell, (boxes[k][0].stop - boxes[k][0].start) * cell),
            count,
        )
        for k in order[:LISTED]
    ]


def _middle_of_worst(
    over: np.ndarray, labels: np.ndarray, k: int, where: tuple[slice, ...]
) -> tuple[int, int]:
    """The cell of region k with the greatest figure; of several, the one furthest inside them."""
    figures = np.where(labels[where] == k, over[where], 0)
    worst = np.pad(figures >= figures.max() - 1e-4, 1)
    away = ndimage.distance_transform_edt(worst)[1:-1, 1:-1]
    inmost = np.argwhere(away >= away.max() - 1e-9)
    j, i = inmost[int(((inmost - inmost.mean(axis=0)) ** 2).sum(axis=1).argmin())]
    return where[0].start + int(j), where[1].start + int(i)


def _finding(
    case: Case,
    cut: Cutaway,
    check: str,
    sweep: int,
    cell: tuple[int, int],
    amount: float,
    size: tuple[float, float],
    count: int,
    limit: float,
) -> ProofFinding:
    program, line = case.line_of_sweep(sweep)
    grid = case.scene.grid
    x, s = grid.x0 + (cell[1] + 0.5) * grid.cell, grid.s0 + (cell[0] + 0.5) * grid.cell
    where = f"at x {x:.2f}, s {s:.2f}, over {size[0]:.1f} x {size[1]:.1f} mm"
    if check == "cut too deep":
        text = f"{named(program, line)} cuts {amount:.3f} mm deeper than the part {where}; raise or move this cut"
    elif program:
        text = (
            f"{amount:.3f} mm of metal is left on the part {where}; the nearest cut is {named(program, line)}"
        )
    else:
        text = f"{amount:.3f} mm of metal is left on the part {where}; nothing is cut there"
    more = f" (one of {count} such places)" if count > 1 else ""
    return ProofFinding(
        check,
        Verdict.NO_GO,
        text + more,
        "",
        program,
        line,
        (x, s, float(cut.after[cell])),
        amount,
        limit,
        "mm",
    )


# --- walls and slopes -----------------------------------------------------------------------------------


def _walls(
    case: Case, cut: Cutaway, wanted: Wanted, part: np.ndarray, tolerances: tuple[float, float]
) -> tuple[list[ProofFinding], float, int]:
    """Places on walls that are cut into or not reached; the furthest any look is off, mm, and the looks made.

    tolerances: into the wall, and left on it, mm.
    """
    area = _wall_area(part)
    points, normals = wall_points(part, STEEP, max(SPACING, float(np.sqrt(area / MOST_LOOKS))))
    keep = _open_to_view(case, wanted, points, normals)
    points, normals = points[keep], normals[keep]
    if len(points) == 0:
        return [], 0.0, 0
    gap, who = gaps_at(case, cut, points)
    off = gap * np.hypot(normals[:, 0], normals[:, 1])
    off = np.where((off > 0) & _buried(case, cut, wanted, points, normals, tolerances[1]), 0.0, off)
    findings: list[ProofFinding] = []
    for bad, check, limit in ((-off, "cut too deep", tolerances[0]), (off, "metal left", tolerances[1])):
        places = _by_line(case, points, bad, who, limit)
        findings += [_wall_finding(case, cut, check, points[k], bad[k], int(who[k]), limit) for k in places]
    return findings, float(np.abs(off).max()), len(points)


def _wall_area(part: np.ndarray) -> float:
    normal = np.cross(part[:, 1] - part[:, 0], part[:, 2] - part[:, 0])
    return float(np.hypot(normal[:, 0], normal[:, 1]).sum() / 2)


def _open_to_view(case: Case, wanted: Wanted, points: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """Looks worth making, (k,) bool: under the stock's top, a cell and more within the stock on the open side, and
    not under an overhang.
    """
    grid, before = case.scene.grid, case.scene.before
    level = normals[:, :2] / np.hypot(normals[:, 0], normals[:, 1])[:, None]
    keep = np.ones(len(points), dtype=bool)
    for step in (0.0, 1.0, 2.0):
        at = points[:, :2] + level * step * grid.cell
        i = np.floor((at[:, 0] - grid.x0) / grid.cell).astype(int)
        j = np.floor((at[:, 1] - grid.s0) / grid.cell).astype(int)
        inside = (i >= 0) & (i < before.shape[1]) & (j >= 0) & (j < before.shape[0])
        keep &= inside
        top = np.full(len(points), AIR)
        top[inside] = before[j[inside], i[inside]]
        keep &= points[:, 2] < top - 1e-3
        if step == 1.0:
            over = np.full(len(points), AIR)
            over[inside] = wanted.heights[j[inside], i[inside]]
            steep = np.hypot(normals[:, 0], normals[:, 1])
            rise = normals[:, 2] / np.maximum(steep, 1e-9)  # the slope itself falls away by this over a cell
            keep &= over < points[:, 2] + 0.01 - np.minimum(rise * grid.cell * 0.5, 0.0)
    return keep & _in_metal(case, points)


def _buried(
    case: Case, cut: Cutaway, wanted: Wanted, points: np.ndarray, normals: np.ndarray, onto: float
) -> np.ndarray:
    """Looks that lie under metal left on the ground before the wall, (k,) bool: the ground's own check tells of it.
    Beside the part and in its openings that is metal no thicker than `onto`, mm, over the underside.
    """
    grid, (rows, cols) = case.scene.grid, cut.after.shape
    level = normals[:, :2] / np.hypot(normals[:, 0], normals[:, 1])[:, None]
    at = points[:, :2] + level * (wanted.onto + 1.5) * grid.cell
    i = np.clip(np.floor((at[:, 0] - grid.x0) / grid.cell).astype(int), 0, cols - 1)
    j = np.clip(np.floor((at[:, 1] - grid.s0) / grid.cell).astype(int), 0, rows - 1)
    ground = (wanted.heights[j, i] > AIR) | (points[:, 2] < case.scene.bottoms[j, 0] + onto)
    return np.asarray((cut.after[j, i] > points[:, 2]) & ground)


def _in_metal(case: Case, points: np.ndarray) -> np.ndarray:
    """Which points lie in the stock's metal, hollows left out, (k,) bool."""
    scene = case.scene
    j = np.clip(
        np.floor((points[:, 1] - scene.grid.s0) / scene.grid.cell).astype(int), 0, len(scene.tops) - 1
    )
    n = points[:, 2, None]
    return np.asarray(((n < scene.tops[j]) & (n > scene.bottoms[j])).any(axis=1))


def _by_line(case: Case, points: np.ndarray, bad: np.ndarray, who: np.ndarray, limit: float) -> list[int]:
    """The worst look over the limit of each guilty line, the worst first; where no cut is near, of each stretch of
    APART mm in plan.
    """
    which = np.flatnonzero(bad > limit)
    which = which[np.argsort(-bad[which])]
    move = np.where(who[which] >= 0, case.move_of[who[which]], 0) if len(case.move_of) else 0 * which
    keys = np.column_stack(
        [case.moves.program[move], case.moves.line[move], np.zeros((len(which), 2), dtype=int)]
    )
    nobody = who[which] < 0
    keys[nobody] = np.column_stack([np.full((nobody.sum(), 2), -1), points[which[nobody], :2] // APART])
    _, first = np.unique(keys, axis=0, return_index=True)
    return [int(which[k]) for k in sorted(first)[:LISTED]]


def _wall_finding(
    case: Case, cut: Cutaway, check: str, at: np.ndarray, amount: float, sweep: int, limit: float
) -> ProofFinding:
    x, s, n = (float(v) for v in at)
    if sweep < 0:
        grid, (rows, cols) = case.scene.grid, cut.cut_by.shape
        i = min(max(int((x - grid.x0) // grid.cell), 0), cols - 1)
        j = min(max(int((s - grid.s0) // grid.cell), 0), rows - 1)
        sweep = int(_nearest_cut(cut)[j, i])
    program, line = case.line_of_sweep(sweep)
    where = f"at x {x:.2f}, s {s:.2f}, {-n:.2f} mm under the top"
    if check == "cut too deep":
        text = (
            f"{named(program, line)} cuts {amount:.3f} mm into a wall of the part {where}; move this path off"
        )
    else:
        least = "at least " if amount >= 0.9 * cut.reach else ""
        near = f"the nearest cut is {named(program, line)}" if program else "nothing is cut there"
        text = f"{least}{amount:.3f} mm of metal is left on a wall of the part {where}; {near}"
    return ProofFinding(check, Verdict.NO_GO, text, "", program, line, (x, s, n), float(amount), limit, "mm")
