"""Pieces left in a through cut on tabs: bridges of metal that hold a slug until it is sawn out.

Metal in a through feature is taken apart by its distance from the wall: within the width of the cutter's groove lie
tabs, and whatever else was left there; beyond it the piece they hold. What is nowhere as wide as the cutter is no
piece worth holding, but a pass left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named
from sparwright.proof.joined import FOIL
from sparwright.proof.model import ProofFinding
from sparwright.proof.scene import Target
from sparwright.proof.simulate import Cutaway
from sparwright.proof.surface import runs_inside

THINNEST = 0.2  # a bridge thinner than this is a film, not a tab, mm
WIDEST = 20.0  # a bridge wider than this is a stretch of outline left uncut, mm: common practice, no source
USUAL = (
    3.0,
    0.5,
)  # width and thickness of a tab that holds where no force is known, mm: common practice, no source
SHEAR = 0.6  # shear strength over tensile strength of aluminium: common practice, no source
# Times the cutter's force that each tab must bear: common practice, no source. A tooth's greatest force is at most 1.75
# times its mean in the metal (thin cuts; 1.43 in a slot), so a tab that bears twice the mean bears the peak too.
SURE = 2.0


@dataclass(frozen=True)
class Tab:
    """One tab. width, thickness, area: of its least section, mm and mm2. at: (x, s) of its middle."""

    width: float
    thickness: float
    area: float
    at: tuple[float, float]


@dataclass(frozen=True)
class Hung:
    """A piece on tabs. cells: its rows and columns and those of its tabs. size: (x, s) extents, mm. volume: mm3. sweep: the
    last that cut round it.
    """

    target: Target
    tabs: tuple[Tab, ...]
    cells: tuple[np.ndarray, np.ndarray]
    size: tuple[float, float]
    volume: float
    sweep: int


@dataclass(frozen=True)
class Held:
    """What hangs on tabs. near: (rows, cols) bool, cells of the pieces and tabs and as far beside them as a round
    cutter leaves metal at a tab's foot; None where nothing hangs.
    """

    findings: tuple[ProofFinding, ...] = ()
    near: np.ndarray | None = None
    volume: float = 0.0

    def at(self, case: Case, places: np.ndarray) -> np.ndarray:
        """Which places (m, 2 or more) of (x, s) lie there, (m,) bool."""
        if self.near is None:
            return np.zeros(len(places), dtype=bool)
        grid, (rows, cols) = case.scene.grid, self.near.shape
        i = np.clip(((places[:, 0] - grid.x0) // grid.cell).astype(int), 0, cols - 1)
        j = np.clip(((places[:, 1] - grid.s0) // grid.cell).astype(int), 0, rows - 1)
        return np.asarray(self.near[j, i])


NOTHING = Held()


def check_tabs(case: Case, cut: Cutaway, force: np.ndarray) -> Held:
    """All pieces that hang on tabs in features that go through: one finding each. force: on a tooth of each motion, mean
    while it is in the metal, N, (k,).
    """
    hung = [h for target in case.scene.targets if target.through for h in _hung_in(case, cut, target)]
    if not hung:
        return NOTHING
    near = np.zeros(cut.after.shape, dtype=bool)
    reach = 0.0
    for h in hung:
        near[h.cells] = True
        reach = max(reach, _foot(case, float(case.tools.radius[case.sweeps.tool[max(h.sweep, 0)]])))
    far = ndimage.distance_transform_edt(~near) * case.scene.grid.cell
    findings = tuple(_finding(case, h, _force_at(case, cut, h, force)) for h in hung)
    return Held(findings, np.asarray(far <= reach), sum(h.volume for h in hung))


def _foot(case: Case, radius: float) -> float:
    """How far along a wall a cutter's round end leaves metal less than a cell wide, mm."""
    cell = case.scene.grid.cell
    return math.sqrt(2 * radius * cell) + 2 * cell


# --- finding them ---------------------------------------------------------------------------------------


def _hung_in(case: Case, cut: Cutaway, target: Target) -> list[Hung]:
    """The pieces on tabs in one feature."""
    runs = runs_inside(case, target.outline)
    if len(runs) == 0:
        return []
    rows, cols = cut.after.shape
    j0, j1 = max(int(runs[:, 0].min()) - 3, 0), min(int(runs[:, 0].max()) + 4, rows)
    i0, i1 = max(int(runs[:, 1].min()) - 3, 0), min(int(runs[:, 2].max()) + 3, cols)
    inside = np.zeros((j1 - j0, i1 - i0), dtype=bool)
    for j, a, b in runs:
        inside[j - j0, a - i0 : b - i0] = True
    window = (slice(j0, j1), slice(i0, i1))
    after, by = cut.after[window], cut.cut_by[window]
    stock = case.scene.before[window] > -target.depth + FOIL
    metal = stock & (after > -target.depth + FOIL)
    left, gone = metal & inside, inside & stock & ~metal
    if not left.any() or not gone.any():
        return []
    cell = case.scene.grid.cell
    groove = 2 * float(case.tools.radius[case.sweeps.tool[by[gone]]].min()) - 1.5 * cell
    far = ndimage.distance_transform_edt(~(metal & ~inside))  # in cells, from the wall as it stands
    thick = np.where(left, _metal(case, after, window[0], -target.depth), 0.0)
    return _taken_apart(case, cut, target, (left, thick, far, groove / cell), (j0, i0))


def _metal(case: Case, after: np.ndarray, rows: slice, floor: float) -> np.ndarray:
    """Metal under a piece of the map down to `floor`, hollows left out, mm; after: (rows, cols) heights."""
    tops, bottoms = case.scene.tops[rows], case.scene.bottoms[rows]
    found = np.zeros(after.shape)
    for m in range(tops.shape[1]):
        found += np.maximum(np.minimum(tops[:, m, None], after) - np.maximum(bottoms[:, m, None], floor), 0)
    return found


def _taken_apart(
    case: Case,
    cut: Cutaway,
    target: Target,
    seen: tuple[np.ndarray, np.ndarray, np.ndarray, float],
    origin: tuple[int, int],
) -> list[Hung]:
    """Pieces and their tabs from metal left, its thickness, its distance from the wall, and the groove's width, the
    last two in cells.
    """
    left, thick, far, groove = seen
    band = left & (far <= groove)
    bridges, _ = ndimage.label(band & (thick >= THINNEST))
    pieces, _ = ndimage.label(left & ~band)
    held: dict[int, list[int]] = {}
    tabs: dict[int, Tab] = {}
    for k, place in enumerate(ndimage.find_objects(bridges), 1):
        wide = tuple(slice(max(p.start - 1, 0), p.stop + 1) for p in place)
        mine = bridges[wide] == k
        beside = np.unique(pieces[wide][ndimage.binary_dilation(mine)])
        tab = _tab(
            case, mine, thick[wide], far[wide], groove, (origin[0] + wide[0].start, origin[1] + wide[1].start)
        )
        if tab is None or tab.width > WIDEST:
            continue
        for piece in beside[beside > 0]:
            held.setdefault(int(piece), []).append(k)
            tabs[k] = tab
    cell = case.scene.grid.cell
    found = []
    for piece, by in held.items():
        core = pieces == piece
        if ndimage.distance_transform_edt(core).max() < (groove + 1.5) / 2:
            continue
        cells = core | np.isin(bridges, by)
        rim = ndimage.binary_dilation(core, iterations=3) & ~left
        rows, cols = np.nonzero(cells)
        all_rows, all_cols = rows + origin[0], cols + origin[1]
        around = np.argwhere(rim) + origin
        sweep = int(cut.cut_by[around[:, 0], around[:, 1]].max(initial=-1))
        j, i = np.nonzero(core & (far > groove + 1.5))  # without the tabs' ends
        size = (float(np.ptp(i) + 1) * cell, float(np.ptp(j) + 1) * cell)
        volume = float(thick[cells].sum()) * cell**2
        found.append(Hung(target, tuple(tabs[k] for k in by), (all_rows, all_cols), size, volume, sweep))
    return found


def _tab(
    case: Case, mine: np.ndarray, thick: np.ndarray, far: np.ndarray, groove: float, origin: tuple[int, int]
) -> Tab | None:
    """The least section of a bridge along its way from the wall to the piece, over strips two cells wide; None where
    it does not reach from the one to the other.
    """
    grid = case.scene.grid
    away = far[mine]
    if away.min() > 1.5 or away.max() < groove - 1.5:
        return None
    strips = max(int((groove - 0.5) // 2), 1)  # whole ones, the first begins at the wall
    strip = np.minimum(((away - 0.5) // 2).astype(int), strips)
    cells = np.bincount(strip, minlength=strips + 1)[:strips]
    if (cells == 0).any():
        return None
    area = np.bincount(strip, thick[mine], minlength=strips + 1)[:strips] * grid.cell / 2
    least = int(area.argmin())
    section, width = float(area[least]), float(cells[least] * grid.cell / 2)
    j, i = (float(v.mean()) for v in np.nonzero(mine))
    at = (grid.x0 + (origin[1] + i + 0.5) * grid.cell, grid.s0 + (origin[0] + j + 0.5) * grid.cell)
    return Tab(width, section / width, section, at)


# --- judging them ---------------------------------------------------------------------------------------


def _force_at(case: Case, cut: Cutaway, hung: Hung, force: np.ndarray) -> float:
    """The greatest force of the moves that cut round a piece, N; 0 where none is known."""
    rows, cols = hung.cells
    box = (slice(max(rows.min() - 8, 0), rows.max() + 9), slice(max(cols.min() - 8, 0), cols.max() + 9))
    by = np.unique(cut.cut_by[box])
    moves = case.move_of[by[by >= 0]]
    return float(force[moves].max(initial=0.0))


def _finding(case: Case, hung: Hung, force: float) -> ProofFinding:
    program, line = case.line_of_sweep(hung.sweep)
    target = hung.target
    weakest = min(hung.tabs, key=lambda t: t.area)
    width, thickness = min(t.width for t in hung.tabs), min(t.thickness for t in hung.tabs)
    grams = hung.volume * case.job.material.density * 1e-6
    bears = weakest.area * SHEAR * case.job.material.tensile_strength
    count = f"{len(hung.tabs)} tab" + "s" * (len(hung.tabs) > 1)
    text = (
        f"{named(program, line)} leaves a piece of {hung.size[0]:.1f} by {hung.size[1]:.1f} mm, {grams:.1f} g, in "
        f"{target.kind} {target.id} on {count}, the least {width:.1f} mm wide and {thickness:.2f} mm thick"
    )
    pull = f". The weakest tears at {bears:.0f} N, the cutter pulls with {force:.0f} N" if force > 0 else ""
    weak = bears < SURE * force if force > 0 else width < USUAL[0] or thickness < USUAL[1]
    value, limit, unit = bears, SURE * force, "N"
    if force <= 0:
        value, limit = min((width, USUAL[0]), (thickness, USUAL[1]), key=lambda pair: pair[0] / pair[1])
        unit = "mm"
    if weak:
        least = (
            f"at least {USUAL[0]:g} mm wide and {USUAL[1]:g} mm thick" if force <= 0 else "wider or thicker"
        )
        what = f". Make them {least}"
    else:
        what = ". Tape or clamp the piece before the last pass, then saw the tabs and file them flush"
    return ProofFinding(
        "tabs",
        Verdict.NO_GO if weak else Verdict.CAUTION,
        text + pull + what,
        feature=target.id,
        program=program,
        line=line,
        at=(*weakest.at, -target.depth + weakest.thickness),
        value=value,
        limit=limit,
        unit=unit,
    )
