"""The simulated surface against a part given as triangles: cut too deep, and metal left.

Level and gently sloping ground is compared at the centre of every cell; against ground cut too deep the map of
grown cutters makes that a bound everywhere but in a band of three half-diagonals along steps. Walls and slopes are
looked at point by point with the exact distance to everything cut.
"""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, named, passed
from sparwright.proof.flanks import check_flanks, nearest_cut
from sparwright.proof.kernels import AIR
from sparwright.proof.lookdown import STEEP, Wanted, wanted_surface
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway, gaps_at, half_diagonal

LISTED = 12  # places of each kind told one by one
SUB = 8  # looks along a doubtful cell's side


def check_shape(case: Case, cut: Cutaway, part: np.ndarray, left: float | None) -> list[ProofFinding]:
    """Everything cut deeper than the part, and all metal left on it, with place, amount and line.

    left: metal that may be left, mm, instead of the tolerances of floors and walls; None for those.
    """
    cutting = case.job.file.cutting
    onto = left or cutting.wall_tolerance
    wanted = wanted_surface(case, part, cutting.wall_tolerance, onto)
    deep = _too_deep(case, cut, wanted, cutting.floor_tolerance)
    high = _left(case, cut, wanted, left or cutting.floor_tolerance)
    floor = max(cutting.floor_tolerance, left or 0.0)
    flanks = check_flanks(case, cut, wanted, part, (cutting.wall_tolerance, onto), floor)
    told = {(f.check, f.program, f.line) for f in deep + high}
    findings = deep + high + [f for f in flanks.findings if (f.check, f.program, f.line) not in told]
    if not any(f.check == "cut too deep" for f in findings):
        text = f"nothing is cut deeper than the part, nor over {flanks.into:.3f} mm into an upright wall, between looks too"
        findings.append(passed("cut too deep", text, 0.0, cutting.floor_tolerance, "mm"))
    if not any(f.check == "metal left" for f in findings):
        text = (
            f"the part's surface is reached everywhere. Of {flanks.looks} looks at its walls the worst is "
            f"{flanks.worst:.4f} mm off; between looks, upright walls are off by {flanks.onto:.3f} mm at most"
        )
        into = any(
            f.check == "cut too deep" and f.verdict is Verdict.NO_GO for f in findings
        )  # then the furthest off is no metal left
        findings.append(passed("metal left", text, flanks.onto if into else flanks.worst, onto, "mm"))
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
    lines, grid = nearest_cut(cut), scene.grid
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
        text = f"{named(program, line)} cuts {amount:.3f} mm deeper than the part {where}. Raise or move this cut"
    elif program:
        text = (
            f"{amount:.3f} mm of metal is left on the part {where}. The nearest cut is {named(program, line)}"
        )
    else:
        text = f"{amount:.3f} mm of metal is left on the part {where}. Nothing is cut there"
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
