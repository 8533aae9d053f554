"""Walls and slopes of a part given as triangles, by the exact distance from points on them to all that is cut.

Upright walls are held to a bound, by looks along their rims and feet (rims.py); slopes, and what else may
stand on a wall, are looked at point by point.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named
from sparwright.proof.kernels import AIR
from sparwright.proof.lookdown import STEEP, Wanted, upright_share, wall_points
from sparwright.proof.model import ProofFinding
from sparwright.proof.probes import before_retracts
from sparwright.proof.rims import Looks, bounded, rims_and_feet
from sparwright.proof.simulate import Cutaway, gaps_at

SPACING = 0.25  # of looks at slopes, mm
MOST_LOOKS = 600_000  # beyond which the looks are spread wider
LISTED = 12  # places told one by one
APART = 4.0  # walls that no cut comes near are told of once every so many mm
UNDER = (
    0.01  # how much more than the tolerance of floors under its rim and over its foot a wall is looked at, mm
)


@dataclass(frozen=True)
class Flanks:
    """What the looks at walls and slopes showed. worst: the furthest any is off, mm. looks: how many were made.

    into, onto: no upright wall is cut into, or holds metal, by more than this anywhere, mm, but within UNDER and the
    floors' tolerance of its rim and foot, where nothing is found.
    """

    findings: tuple[ProofFinding, ...]
    worst: float
    looks: int
    into: float
    onto: float


def check_flanks(
    case: Case, cut: Cutaway, wanted: Wanted, part: np.ndarray, tolerances: tuple[float, float], floor: float
) -> Flanks:
    """Places on walls and slopes that are cut into or not reached.

    tolerances: into the wall, and left on it, mm. floor: of the ground's depth, and of metal left on it, mm.
    """
    area = _wall_area(part)
    points, normals = wall_points(part, STEEP, max(SPACING, float(np.sqrt(area / MOST_LOOKS))))
    keep = _open_to_view(case, wanted, points, normals)
    points, normals = points[keep], normals[keep]
    gap, who = gaps_at(case, cut, points)
    off = gap * np.hypot(normals[:, 0], normals[:, 1])
    off = np.where((off > 0) & _buried(case, cut, wanted, points, normals, tolerances[1]), 0.0, off)
    into, onto = _rim_looks(case, cut, wanted, part, tolerances, floor + UNDER)
    findings: list[ProofFinding] = []
    for bad, more, check, limit in (
        (-off, into, "cut too deep", tolerances[0]),
        (off, onto, "metal left", tolerances[1]),
    ):
        at, by = np.concatenate([points, more.at]), before_retracts(case, np.concatenate([who, more.who]))
        amount = np.concatenate([bad, more.off])
        places = _by_line(case, at, amount, by, limit)
        findings += [_wall_finding(case, cut, check, at[k], amount[k], int(by[k]), limit) for k in places]
    return Flanks(
        tuple(findings),
        max(float(np.abs(off).max(initial=0.0)), *(float(m.off.max(initial=0.0)) for m in (into, onto))),
        len(points) + len(into.off) + len(onto.off),
        into.bound,
        onto.bound,
    )


def _rim_looks(
    case: Case,
    cut: Cutaway,
    wanted: Wanted,
    part: np.ndarray,
    tolerances: tuple[float, float],
    strip: float,
) -> tuple[Looks, Looks]:
    """Looks under the rims of upright walls for cuts into them, and over their feet for metal left on them."""
    # a neck narrower than the flutes is taken as wide as these: what is cut lower down is then cut at the rim too
    wide = case.tools._replace(shank=np.maximum(case.tools.shank, case.tools.radius))
    plain = replace(case, tools=wide)

    def look(at: np.ndarray, normals: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        gap, who = gaps_at(plain, cut, at)
        return gap, who, _open_to_view(case, wanted, at, normals)

    def look_low(at: np.ndarray, normals: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        gap, who, seen = look(at, normals)
        over = gap > 0
        over[over] = _buried(case, cut, wanted, at[over], normals[over], tolerances[1])
        return np.where(over, 0.0, gap), who, seen & ~over

    rims, feet = rims_and_feet(part, upright_share(part)[0])
    return (
        bounded(rims, look, -1, strip, tolerances[0]),
        bounded(feet, look_low, 1, strip, tolerances[1]),
    )


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
        sweep = int(nearest_cut(cut)[j, i])
    program, line = case.line_of_sweep(sweep)
    where = f"at x {x:.2f}, s {s:.2f}, {-n:.2f} mm under the top"
    if check == "cut too deep":
        text = (
            f"{named(program, line)} cuts {amount:.3f} mm into a wall of the part {where}. Move this path off"
        )
    else:
        least = "at least " if amount >= 0.9 * cut.reach else ""
        near = f"The nearest cut is {named(program, line)}" if program else "Nothing is cut there"
        text = f"{least}{amount:.3f} mm of metal is left on a wall of the part {where}. {near}"
    return ProofFinding(check, Verdict.NO_GO, text, "", program, line, (x, s, n), float(amount), limit, "mm")


def nearest_cut(cut: Cutaway) -> np.ndarray:
    """The sweep that cut each cell, or else the nearest cut cell, last; -1 where nothing was cut at all."""
    if not (cut.cut_by >= 0).any():
        return cut.cut_by
    nearest = ndimage.distance_transform_edt(cut.cut_by < 0, return_distances=False, return_indices=True)
    return np.asarray(cut.cut_by[tuple(nearest)])
