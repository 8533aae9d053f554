"""Floors, skins and stray cuts, from the height maps.

The maps of grown and shrunk cutters make bounds of samples: what is cut deep enough at every cell's centre by
shrunk cutters is cut deep enough everywhere, and what grown cutters leave alone at every centre is left alone
everywhere. Along walls, in a band of half a cell's diagonal and a little, neither holds; walls.py looks there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, named, passed
from sparwright.proof.kernels import CONE
from sparwright.proof.model import ProofFinding, Skin
from sparwright.proof.scene import Target
from sparwright.proof.simulate import Cutaway, gaps_at, half_diagonal

FOIL = 1e-3  # metal thicker than this left in a through cut is found, mm
HARDLY = 0.05  # a feature lowered over less than this share of its floor was never cut
MOST_STRAYS = 12  # stray cuts listed one by one
SUB = 8  # looks along a doubtful cell's side


@dataclass(frozen=True)
class Surface:
    """What the maps showed. uncut: ids and kinds of targets never cut, left to no other check."""

    findings: tuple[ProofFinding, ...]
    skins: tuple[Skin, ...]
    uncut: frozenset[tuple[str, str]]


def band(case: Case) -> float:
    """Width along walls that is left to the exact looks, mm."""
    return half_diagonal(case) + case.job.file.cutting.wall_tolerance + 0.01


def runs_inside(case: Case, area: BaseGeometry) -> np.ndarray:
    """Cells whose centres lie in an area, as runs (m, 3) of row, first cell, one past the last."""
    rows, cols = case.scene.before.shape
    found = [np.empty((0, 3), dtype=np.int64)]
    for polygon in getattr(area, "geoms", [area]):
        if polygon.is_empty:
            continue
        rings = [np.asarray(r.coords)[:, :2] for r in (polygon.exterior, *polygon.interiors)]
        starts = np.cumsum([0, *(len(r) for r in rings)])
        found.append(kernels.outline_runs(np.concatenate(rings), starts, case.scene.grid, rows, cols))
    return np.concatenate(found)


def vee_slope(case: Case) -> float:
    """Rise over radius of the job's first V cutter; 1 (45 degrees) where there is none."""
    for cutter, slope, form in zip(case.job.cutters, case.tools.slope, case.tools.form, strict=True):
        if cutter.kind == "vee" and form == CONE:
            return float(slope)
    return 1.0


def drill_point(case: Case, cut: Cutaway, target: Target) -> float:
    """Length of the point of the drill that made a blind hole, mm; 0 for other cutters and targets."""
    if not target.point or target.circle is None:
        return 0.0
    grid, (rows, cols) = case.scene.grid, case.scene.before.shape
    x, s, _ = target.circle
    i, j = int((x - grid.x0) // grid.cell), int((s - grid.s0) // grid.cell)
    if not (0 <= i < cols and 0 <= j < rows) or cut.cut_by[j, i] < 0:
        return 0.0
    t = case.sweeps.tool[cut.cut_by[j, i]]
    return float(case.tools.radius[t] * case.tools.slope[t]) if case.job.cutters[t].kind == "drill" else 0.0


def depth_range(case: Case, cut: Cutaway, target: Target) -> tuple[float, float]:
    """How deep a target's floor must and may be, mm. Where a drill makes it, its stated depth may be that of the
    point or of the full diameter.
    """
    point = drill_point(case, cut, target)
    return target.least_depth - point, target.depth + point


def allowed_map(case: Case, cut: Cutaway) -> np.ndarray:
    """How deep each cell may be cut, (rows, cols): every target with its band, and its edge break round it."""
    allowed = case.scene.before.copy()
    wide, slope = band(case), vee_slope(case)
    for target in case.scene.targets:
        _, deep = depth_range(case, cut, target)
        kernels.lower_runs(allowed, runs_inside(case, target.outline.buffer(wide)), np.float32(-deep))
        if target.edge_break > 0:
            rim = target.outline.buffer(target.edge_break + wide)
            chamfer = target.edge_break * slope + case.job.file.cutting.wall_tolerance
            kernels.lower_runs(allowed, runs_inside(case, rim), np.float32(-chamfer))
    return np.asarray(allowed)


def _cell_place(case: Case, j: float, i: float) -> tuple[float, float]:
    grid = case.scene.grid
    return grid.x0 + (float(i) + 0.5) * grid.cell, grid.s0 + (float(j) + 0.5) * grid.cell


def _cutter_of(cut: Cutaway, cell: tuple[int, int], deep: bool) -> int:
    """The sweep to blame at a cell: the last to lower it, or, where `deep` was seen with grown cutters alone, the
    one that did so there.
    """
    grown_alone = deep and cut.grown[cell] < cut.after[cell] - 1e-4
    return int(cut.grown_by[cell] if grown_alone or cut.cut_by[cell] < 0 else cut.cut_by[cell])


# --- floors ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Floor:
    """A target's floor as heights n: least over grown cutters, greatest over shrunk ones, and where.

    deepest, shallowest: how deep it may and must be, n. cut_share: share of its cells cut at all. cells: looked at.
    """

    target: Target
    runs: np.ndarray
    deepest: float
    shallowest: float
    least: float
    greatest: float
    least_at: tuple[int, int]
    greatest_at: tuple[int, int]
    cut_share: float
    cells: int


def _floor(case: Case, cut: Cutaway, allowed: np.ndarray, target: Target) -> Floor:
    runs = runs_inside(case, target.outline.buffer(-band(case)))
    shallow, deep = depth_range(case, cut, target)
    deepest = -deep
    flat = np.zeros(len(case.scene.bottoms), dtype=np.float32)
    grown, plain, shrunk = (
        kernels.run_figures(h, flat, allowed, deepest, runs) for h in (cut.grown, cut.after, cut.shrunk)
    )
    return Floor(
        target=target,
        runs=runs,
        deepest=deepest,
        shallowest=-shallow,
        least=float(grown[2]),
        greatest=float(shrunk[4]),
        least_at=(int(grown[5]), int(grown[6])),
        greatest_at=(int(shrunk[7]), int(shrunk[8])),
        cut_share=float(plain[1] / plain[0]) if plain[0] else 0.0,
        cells=int(plain[0]),
    )


def _skin(case: Case, cut: Cutaway, allowed: np.ndarray, floor: Floor) -> Skin:
    """The skin as cut, to the wall's far side; over a web, to where the wall's far side would be."""
    target = floor.target
    base = np.maximum(case.scene.bottoms[:, 0], np.float32(-target.depth - target.skin))
    figures = kernels.run_figures(cut.after, base, allowed, floor.deepest, floor.runs)
    return Skin(target.id, float(figures[2]), float(figures[3]), float(figures[4]), target.skin)


def _really_left(
    case: Case, cut: Cutaway, floor: Floor, n: float, held: np.ndarray | None
) -> tuple[int, int] | None:
    """A cell of the floor where metal is really left above n, of those that shrunk cutters leave; or None. Not looked
    for in cells of `held`, (rows, cols) bool.

    Where cutters as they are leave none at any centre, SUB x SUB places in each doubtful cell are looked at
    with the exact distance to everything cut at height n.
    """
    grid, doubtful = case.scene.grid, []
    for j, a, b in floor.runs:
        row = cut.after[j, a:b]
        left = np.flatnonzero((cut.shrunk[j, a:b] > n) & (case.scene.before[j, a:b] > n))
        if held is not None:
            left = left[~held[j, a + left]]
        if len(left) and row[left].max() > n:
            return int(j), int(a + left[row[left].argmax()])
        doubtful += [(j, a + i) for i in left]
    inside = (np.arange(SUB) + 0.5) / SUB
    ds, dx = (d.ravel() for d in np.meshgrid(inside, inside, indexing="ij"))
    for chunk in range(0, len(doubtful), 4096):
        cells = np.array(doubtful[chunk : chunk + 4096], dtype=float)
        x = (grid.x0 + (cells[:, 1, None] + dx) * grid.cell).ravel()
        s = (grid.s0 + (cells[:, 0, None] + ds) * grid.cell).ravel()
        gap, _ = gaps_at(case, cut, np.column_stack([x, s, np.full(x.size, n)]))
        if gap.max() > 0:
            j, i = cells[int(gap.argmax()) // len(dx)]
            return int(j), int(i)
    return None


def _floor_faults(case: Case, cut: Cutaway, floor: Floor, held: np.ndarray | None) -> list[ProofFinding]:
    target, findings = floor.target, []
    tolerance = case.job.file.cutting.floor_tolerance
    if not target.through and floor.least < floor.deepest - tolerance:
        findings.append(_floor_finding(case, cut, target, floor.least_at, floor.least - floor.deepest))
    allowed = floor.shallowest + (FOIL if target.through else tolerance)
    if floor.greatest > allowed:
        cell = _really_left(case, cut, floor, allowed, held if target.through else None)
        if cell is not None:
            left = max(float(cut.after[cell]), allowed) - floor.shallowest
            findings.append(_floor_finding(case, cut, target, cell, left))
    return findings


def _floor_finding(
    case: Case, cut: Cutaway, target: Target, cell: tuple[int, int], off: float
) -> ProofFinding:
    """One floor that is `off` too high, or too deep where negative."""
    program, line = case.line_of_sweep(_cutter_of(cut, cell, off < 0))
    x, s = _cell_place(case, *cell)
    value, limit = target.depth - off, target.depth
    if not program:
        whole = "is to go right through" if target.through else f"wants its floor {target.depth:g} mm deep"
        text = f"no cut reaches all of {target.kind} {target.id}, which {whole}: {off:.3f} mm of metal is left. Add the cut"
    elif target.through:
        text = f"leaves {off:.3f} mm of metal in {target.kind} {target.id}, which is to go right through. Lower this pass by as much"
    else:
        text = f"leaves the floor of {target.kind} {target.id} {abs(off):.3f} mm too {'deep' if off < 0 else 'high'}"
        if target.skin > 0:
            value, limit = target.skin + off, target.skin
            text += f": skin {value:.3f} mm where {limit:.3f} is wanted"
        text += f". {'Raise' if off < 0 else 'Lower'} this pass by as much"
    check = "skin" if target.skin > 0 else "hole depth" if target.circle else "floor"
    return ProofFinding(
        check,
        Verdict.NO_GO,
        f"{named(program, line)} {text}" if program else text,
        feature=target.id,
        program=program,
        line=line,
        at=(x, s, -target.depth),
        value=value,
        limit=limit,
        unit="mm",
        margin=-abs(off) if target.through else None,  # in a through cut no metal is too little to matter
    )


def _uncut_finding(target: Target) -> ProofFinding:
    x, s = target.outline.centroid.coords[0]
    return ProofFinding(
        "not cut",
        Verdict.NO_GO,
        f"{target.kind} {target.id} is never cut by any program. Add the missing program, or check side and zero",
        feature=target.id,
        at=(x, s, 0.0),
    )


def _holds(held: np.ndarray | None, floor: Floor) -> bool:
    """Whether a piece hangs on tabs in a through cut."""
    return held is not None and any(held[j, a:b].any() for j, a, b in floor.runs)


def judge_floors(case: Case, cut: Cutaway, allowed: np.ndarray, held: np.ndarray | None = None) -> Surface:
    """Every target's floor or through cut, the skins, and the targets that were never cut.

    held: (rows, cols) bool, cells of pieces on tabs, which are not to be gone from through cuts; None for none.
    """
    findings: list[ProofFinding] = []
    skins: list[Skin] = []
    uncut: set[tuple[str, str]] = set()
    off = 0.0
    for target in case.scene.targets:
        floor = _floor(case, cut, allowed, target)
        if floor.cells == 0:
            continue
        if floor.cut_share < HARDLY and not (target.through and _holds(held, floor)):
            findings.append(_uncut_finding(target))
            uncut.add((target.id, target.kind))
            continue
        findings += _floor_faults(case, cut, floor, held)
        if not target.through:
            off = max(off, floor.deepest - floor.least, floor.greatest - floor.shallowest)
        if target.skin > 0:
            skins.append(_skin(case, cut, allowed, floor))
    if not any(f.check in ("skin", "floor", "hole depth") for f in findings):
        tolerance = case.job.file.cutting.floor_tolerance
        text = f"every floor lies within {max(off, 0.0001):.4f} mm of its depth"
        if skins:
            text += f". Skins {min(k.least for k in skins):.3f} to {max(k.greatest for k in skins):.3f} mm"
        findings.append(passed("skin" if skins else "floor", text, max(off, 0.0), tolerance, "mm"))
    if not uncut:
        findings.append(passed("not cut", f"all {len(case.scene.targets)} features are cut"))
    return Surface(tuple(findings), tuple(skins), frozenset(uncut))


# --- stray cuts -----------------------------------------------------------------------------------------


def check_strays(case: Case, cut: Cutaway, allowed: np.ndarray) -> list[ProofFinding]:
    """Metal cut where no feature is, or deeper than the feature there, outside the walls' band."""
    tolerance = case.job.file.cutting.floor_tolerance
    scene = case.scene
    _, over = kernels.metal_lost(allowed, cut.grown, scene.tops, scene.bottoms, tolerance)
    if not over.any():
        return [passed("gouge", "nothing is cut where no feature is, to the last cell", 0.0, tolerance, "mm")]
    labels, count = ndimage.label(over > 0)
    places = ndimage.maximum_position(over, labels, np.arange(1, count + 1))
    places.sort(key=lambda p: -over[p])
    findings = []
    for j, i in ((int(j), int(i)) for j, i in places[:MOST_STRAYS]):
        program, line = case.line_of_sweep(_cutter_of(cut, (j, i), True))
        x, s = _cell_place(case, j, i)
        feature = case.feature_near(x, s)
        near = f" near {feature}" if feature else ""
        findings.append(
            ProofFinding(
                "gouge",
                Verdict.NO_GO,
                f"{named(program, line)} cuts {over[j, i]:.2f} mm of metal{near} that is to stay. Correct the move"
                + (f" (one of {count} such places)" if count > 1 else ""),
                feature=feature,
                program=program,
                line=line,
                at=(x, s, float(cut.grown[j, i])),
                value=float(over[j, i]),
                limit=tolerance,
                unit="mm",
            )
        )
    return findings


def design_volume(case: Case) -> float | None:
    """Metal the targets take out of the stock, mm3: areas times depths, and the edge breaks' triangles.

    None where a target leaves its depth open.
    """
    if any(t.at_least is not None for t in case.scene.targets):
        return None
    allowed = case.scene.before.copy()
    rim = 0.0
    slope = vee_slope(case)
    for target in case.scene.targets:
        kernels.lower_runs(allowed, runs_inside(case, target.outline), np.float32(-target.depth))
        rim += _rim_length(case, target.outline) * target.edge_break**2 * slope / 2
    length, _ = kernels.metal_lost(case.scene.before, allowed, case.scene.tops, case.scene.bottoms, np.inf)
    return float(length * case.scene.grid.cell**2 + rim)


def _rim_length(case: Case, outline: Polygon) -> float:
    grid, (rows, cols) = case.scene.grid, case.scene.before.shape
    stock = shapely.box(grid.x0, grid.s0, grid.x0 + cols * grid.cell, grid.s0 + rows * grid.cell)
    return float(outline.exterior.intersection(stock).length)
