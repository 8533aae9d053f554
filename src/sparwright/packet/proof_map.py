"""The map of metal left: one face, in strips the width of a page, with figures a black-and-white print keeps."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from scipy import ndimage
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from sparwright.answers import Verdict
from sparwright.packet.canvas import Canvas
from sparwright.packet.heat import colours, png, thinned
from sparwright.packet.proof_shown import Shown, thickness, was_cut
from sparwright.proof.case import Case
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway

WIDTH = 180.0  # of a strip on paper, mm
TALLEST = 80.0  # of a strip on paper, mm
MOST_STRIPS = 6
PIXELS = 1500  # columns of a strip's picture at most
LEVEL = 0.02  # figures nearer than this belong to one region, mm
OPEN = 1e-3  # metal thinner than this is a way through, mm
LEAST_ROOM = 1.0  # width of a place that has a figure, mm
TEXT = 3.0  # size of the figures, mm of paper


WRECKS = frozenset(
    ("bed", "clamp", "pad", "rapid", "plunge", "shank", "holder", "reach", "throat", "machine place", "program start",
     "spindle", "spindle speed", "tool length", "tool change", "loose piece", "tabs", "depth of cut", "chip", "force")
)  # fmt: skip
LOSES = frozenset(
    (
        "gouge",
        "cut too deep",
        "skin",
        "floor",
        "wall",
        "hole size",
        "hole place",
        "hole depth",
        "between sides",
        "sides meet",
        "holes in line",
        "wrong side",
    )
)
Place = Callable[[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Spot:
    """A level place that was cut: its middle, the metal left there, mm, and the width free round the middle, mm."""

    x: float
    s: float
    left: float
    room: float


def spots(case: Case, cut: Cutaway) -> list[Spot]:
    """Every region cut to one level, largest first: where its figure belongs and what the figure is."""
    field = thickness(case, cut)
    left, step = thinned(np.where(was_cut(case, cut), field, np.nan), 2 * PIXELS)
    grid, cell = case.scene.grid, case.scene.grid.cell * step
    level = np.where(np.isnan(left), -1, np.round(np.nan_to_num(left) / LEVEL)).astype(np.int64)
    found = []
    for figure in _frequent(level):
        labels, _ = ndimage.label(level == figure)
        for k, (rows, cols) in enumerate(ndimage.find_objects(labels), 1):
            if min(rows.stop - rows.start, cols.stop - cols.start) * cell < LEAST_ROOM:
                continue
            mine = labels[rows, cols] == k
            away = ndimage.distance_transform_edt(np.pad(mine, 1))[1:-1, 1:-1]
            j, i = np.unravel_index(int(away.argmax()), away.shape)
            room = 2 * float(away[j, i]) * cell
            if room > LEAST_ROOM:
                x = grid.x0 + (cols.start + int(i) + 0.5) * cell
                s = grid.s0 + (rows.start + int(j) + 0.5) * cell
                found.append((int(mine.sum()), Spot(x, s, float(left[rows, cols][mine].min()), room)))
    return [spot for _, spot in sorted(found, key=lambda pair: -pair[0])]


def _frequent(level: np.ndarray, most: int = 24) -> list[int]:
    """The levels that cover most ground, at most so many."""
    kinds, count = np.unique(level[level >= 0], return_counts=True)
    return [int(k) for k in kinds[np.argsort(-count)][:most]]


def top_of_scale(case: Case) -> float:
    """The figure at the upper end of the colours: the usual thickness of the first wall before cutting, mm."""
    deep = (case.scene.tops[:, 0] - case.scene.bottoms[:, 0])[
        case.scene.tops[:, 0] > case.scene.bottoms[:, 0]
    ]
    return float(np.median(deep)) if deep.size else 1.0


def map_strips(shown: Shown) -> list[str]:
    """The map as SVG strips, from the datum end on; empty where nothing was cut in simulation."""
    if shown.case is None or shown.cut is None:
        return []
    case, cut = shown.case, shown.cut
    field = thickness(case, cut)
    grid, (rows, cols) = case.scene.grid, field.shape
    long, wide = cols * grid.cell, rows * grid.cell
    count = min(MOST_STRIPS, max(1, round(math.sqrt(long / wide / 3.2))))
    scale = min(WIDTH / (long / count), TALLEST / wide)
    figures = spots(case, cut)
    dangers = dangerous(shown.proof.findings)
    edges = [round(k * cols / count) for k in range(count + 1)]
    return [
        _strip(shown, field, (a, b), scale, figures, dangers, last=k == count - 1)
        for k, (a, b) in enumerate(pairwise(edges))
    ]


def dangerous(findings: Sequence[ProofFinding]) -> list[ProofFinding]:
    """Findings that are not good, in order of danger: no-go before caution; what wrecks machine or cutter before what
    takes metal that is to stay, and that before all else, which can still be put right; then by how far past the
    limit they are.
    """
    return sorted((f for f in findings if f.verdict is not Verdict.GO), key=_danger)


def _danger(f: ProofFinding) -> tuple[int, int, float]:
    kind = 0 if f.check in WRECKS else 1 if f.check in LOSES else 2
    past = abs(f.margin) / max(abs(f.limit or 0.0), 1e-3) if f.margin is not None else 0.0
    return -f.verdict.rank, kind, -past


def _strip(
    shown: Shown,
    field: np.ndarray,
    cells: tuple[int, int],
    scale: float,
    figures: Sequence[Spot],
    dangers: Sequence[ProofFinding],
    *,
    last: bool,
) -> str:
    assert shown.case is not None
    grid, top = shown.case.scene.grid, top_of_scale(shown.case)
    x0, x1 = grid.x0 + cells[0] * grid.cell, grid.x0 + cells[1] * grid.cell
    s0, s1 = grid.s0, grid.s0 + field.shape[0] * grid.cell
    width, height = (x1 - x0) * scale, (s1 - s0) * scale
    under = 15.0 if last else 6.0
    sheet = Canvas(WIDTH + 4, height + under + 1)

    def at(x: float, s: float) -> tuple[float, float]:
        return 2 + (x - x0) * scale, under + (s - s0) * scale

    ground = field[:, cells[0] : cells[1]]
    picture, _ = thinned(np.where(ground < OPEN, np.nan, ground), PIXELS)
    sheet.image(at(x0, s0), width, height, png(colours(picture, 0.0, top)[::-1]))
    draw_lines(sheet, shown.outline.intersection(box(x0, s0, x1, s1)), at)
    sheet.polyline([at(x0, s0), at(x1, s0), at(x1, s1), at(x0, s1)], "thin", close=True)
    for spot in figures:
        text = f"{spot.left:.2f}"
        half = 0.26 * TEXT * len(text)  # of the text's width
        px, py = at(spot.x, spot.s)
        if 2 + half < px < 2 + width - half and spot.room * scale > 1.4 * half:
            sheet.text((px, py - TEXT / 3), text, TEXT, anchor="middle", halo=True)
    for number, f in reversed(list(enumerate(dangers, 1))):  # the most dangerous on top
        if f.at is not None and x0 <= f.at[0] < x1 and s0 <= f.at[1] <= s1:
            mark(sheet, at(f.at[0], f.at[1]), str(number))
    _ruler(sheet, (x0, x1), at, s0)
    if last:
        _legend(sheet, top)
    return sheet.svg()


def draw_lines(sheet: Canvas, shape: BaseGeometry, at: Place) -> None:
    """Outlines, black on a white edge so that they show on dark ground and on light."""
    lines = [
        [at(x, s) for x, s in np.asarray(line.coords)[:, :2]]
        for line in shapely.get_parts(shape)
        if line.geom_type in ("LineString", "LinearRing")
    ]
    sheet.polylines(lines, "edge")
    sheet.polylines(lines, "hair")


def mark(sheet: Canvas, at: tuple[float, float], number: str) -> None:
    """A numbered ring round a place of danger."""
    sheet.circle(at, 1.9, "thin", fill="#fff")
    sheet.circle(at, 1.9, "visible")
    sheet.text((at[0], at[1] - 0.85), number, 2.4, anchor="middle", bold=True)


def _ruler(sheet: Canvas, span: tuple[float, float], at: Place, s0: float) -> None:
    """Figures along x under the strip."""
    step = next(k for k in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 5000) if (span[1] - span[0]) / k <= 12)
    for x in np.arange(math.ceil(span[0] / step) * step, span[1] + 1e-9, step):
        px, py = at(float(x), s0)
        sheet.line((px, py), (px, py - 1.2), "thin")
        sheet.text((px, py - 4.0), f"{x:g}", 2.4, anchor="middle")


def _legend(sheet: Canvas, top: float) -> None:
    """The colour scale with its figures, mm."""
    width, y = 60.0, 4.0
    ramp = colours(np.linspace(0, top, 256)[None, :], 0.0, top)
    sheet.image((2, y), width, 3, png(ramp))
    sheet.polyline([(2, y), (2 + width, y), (2 + width, y + 3), (2, y + 3)], "thin", close=True)
    for share in (0, 0.25, 0.5, 0.75, 1):
        x = 2 + share * width
        sheet.line((x, y), (x, y - 0.8), "thin")
        sheet.text((x, y - 3.4), f"{share * top:.3g}", 2.4, anchor="middle")
    sheet.text(
        (2 + width + 5, y + 0.6),
        "mm of metal left; figures in the map are the least of each level place; white: open, or no metal",
        2.4,
    )
