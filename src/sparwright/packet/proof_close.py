"""A close-up of one finding: the ground round it after cutting, the outline wanted, and the cutter's path."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import get_parts, union_all
from shapely.geometry import LineString, Point, Polygon, box

from sparwright.packet.canvas import Canvas
from sparwright.packet.heat import colours, hex_colour, png
from sparwright.packet.proof_map import OPEN, draw_lines
from sparwright.packet.proof_shown import Shown, thickness
from sparwright.proof.case import Case
from sparwright.proof.model import ProofFinding
from sparwright.proof.motion import points_at, to_face

WIDE, NARROW = 8.0, 4.0  # half of the stretch of ground shown, away from outlines and at one, mm
EDGE, LONG, WIDEST = (
    5.0,
    1.5,
    80.0,
)  # round a whole piece: ground beside it, mm; its length over its side were it square; at most
NEAR = 1.0  # a place nearer to an outline than this is at it, mm
SIDE = 52.0  # of the picture on paper, mm
FOOT = 8.0  # room for the scale under it, mm of paper
ARC_STEP = 0.12  # radians between the points that stand for an arc
MOST_RIMS = 50  # motions of the guilty line whose rim is drawn
MOST_MOVES = 4000  # drawn in one picture


def close_up(shown: Shown, finding: ProofFinding) -> str:
    """The picture as SVG; "" where the finding has no place or nothing was cut in simulation."""
    case, cut = shown.case, shown.cut
    if case is None or cut is None or finding.at is None:
        return ""
    x, s, _ = finding.at
    middle, half = _stretch(shown, case, finding)
    x0, s0, x1, s1 = middle[0] - half, middle[1] - half, middle[0] + half, middle[1] + half
    scale = SIDE / (2 * half)
    sheet = Canvas(SIDE + 2, SIDE + FOOT + 2)

    def at(px: float, ps: float) -> tuple[float, float]:
        return 1 + (px - x0) * scale, FOOT + 1 + (ps - s0) * scale

    grid = case.scene.grid
    cols, rows = (
        np.floor((np.arange(a, b, grid.cell) + grid.cell / 2 - start) / grid.cell).astype(int)
        for a, b, start in ((x0, x1, grid.x0), (s0, s1, grid.s0))
    )
    inside = ((rows >= 0) & (rows < cut.after.shape[0]))[:, None] & (
        (cols >= 0) & (cols < cut.after.shape[1])
    )[None, :]
    ground = thickness(case, cut)[
        np.clip(rows, 0, cut.after.shape[0] - 1)[:, None], np.clip(cols, 0, cut.after.shape[1] - 1)[None, :]
    ]
    ground = np.where(inside & (ground >= OPEN), ground, np.nan)
    low, high = _range(ground)
    sheet.image(at(x0, s0), SIDE, SIDE, png(colours(ground, low, high)[::-1]))
    window = box(x0, s0, x1, s1)
    draw_lines(sheet, shown.outline.intersection(window), at)
    for rim in _rims(case, finding, window):
        sheet.polyline([at(px, ps) for px, ps in rim], "halo")
        sheet.polyline([at(px, ps) for px, ps in rim], "hidden")
    for points, guilty, rapid in _paths(case, finding, (x0, s0, x1, s1)):
        line = [at(px, ps) for px, ps in points]
        for piece in _clipped(line, at(x0, s0), at(x1, s1)):
            if guilty:
                sheet.polyline(piece, "halo")
            sheet.polyline(piece, "heavy" if guilty else "rapid" if rapid else "path")
    sheet.polyline([at(x0, s0), at(x1, s0), at(x1, s1), at(x0, s1)], "thin", close=True)
    place = at(x, s)
    sheet.circle(place, 2.2, "halo")
    sheet.circle(place, 2.2, "visible")
    _foot(sheet, scale, low, high)
    return sheet.svg()


def _stretch(shown: Shown, case: Case, finding: ProofFinding) -> tuple[tuple[float, float], float]:
    """Middle (x, s) and half width of the ground shown, mm: the whole of a piece that is loose or hangs on tabs."""
    assert finding.at is not None
    x, s, _ = finding.at
    own = [t.outline for t in case.scene.targets if t.id == finding.feature]
    if finding.check == "tabs" and own:
        a, b, c, d = own[0].bounds
        return ((a + c) / 2, (b + d) / 2), min(max(c - a, d - b) / 2 + EDGE, WIDEST)
    if finding.check == "loose piece" and finding.value:
        return (x, s), min(math.sqrt(finding.value) * LONG / 2 + EDGE, WIDEST)
    return (x, s), NARROW if shapely.distance(shown.outline, Point(x, s)) < NEAR else WIDE


def _range(ground: np.ndarray) -> tuple[float, float]:
    """The figures at both ends of the colours: those of the ground shown, drawn apart where it is level."""
    known = ground[~np.isnan(ground)]
    if known.size == 0:
        return 0.0, 1.0
    low, high = float(known.min()), float(known.max())
    return (low, high) if high - low > 0.02 else (low - 0.5, low + 0.5)


def _paths(
    case: Case, finding: ProofFinding, window: tuple[float, float, float, float]
) -> list[tuple[np.ndarray, bool, bool]]:
    """Motions that come near the window, the guilty ones last: points (k, 2) in (x, s), whether guilty, whether rapid."""
    moves = case.moves
    start, end = to_face(moves.start, case.scene.pose), to_face(moves.end, case.scene.pose)
    swell = np.where(moves.turn != 0, moves.length / 2, 0.0)[:, None]
    low, high = np.minimum(start, end)[:, :2] - swell, np.maximum(start, end)[:, :2] + swell
    x0, s0, x1, s1 = window
    near = (low[:, 0] < x1) & (high[:, 0] > x0) & (low[:, 1] < s1) & (high[:, 1] > s0)
    program = np.array([name == finding.program for name in case.names])
    guilty = (
        (moves.line == finding.line) & program[moves.program] if finding.line else np.zeros(len(near), bool)
    )
    low_enough = np.minimum(start[:, 2], end[:, 2]) < WIDE
    which = np.flatnonzero(near & (low_enough | guilty))
    if len(which) > MOST_MOVES:
        which = np.union1d(which[:: len(which) // MOST_MOVES + 1], which[guilty[which]])
    which = np.concatenate([which[~guilty[which]], which[guilty[which]]])
    found = []
    for k in which:
        share = np.linspace(0, 1, 2 + int(abs(moves.turn[k]) / ARC_STEP))
        points = to_face(points_at(moves, np.full(len(share), k), share), case.scene.pose)[:, :2]
        found.append((points, bool(guilty[k]), bool(moves.rapid[k])))
    return found


def _rims(case: Case, finding: ProofFinding, window: Polygon) -> list[np.ndarray]:
    """The rim of all that the cutter passes over on the guilty line, within the window: lines (k, 2) in (x, s)."""
    moves = case.moves
    if not finding.line or finding.program not in case.names:
        return []
    mine = (moves.line == finding.line) & (moves.program == case.names.index(finding.program))
    which = np.flatnonzero(mine & (moves.cutter >= 0))
    discs = []
    for k in which[:MOST_RIMS]:
        share = np.linspace(0, 1, 2 + int(abs(moves.turn[k]) / ARC_STEP))
        points = to_face(points_at(moves, np.full(len(share), k), share), case.scene.pose)[:, :2]
        level = np.hypot(*np.ptp(points, axis=0)) < 1e-9
        track = Point(points[0]) if level else LineString(points)
        discs.append(track.buffer(float(case.tools.radius[moves.cutter[k]])))
    rim = union_all(discs).boundary.intersection(window)
    return [np.asarray(p.coords)[:, :2] for p in get_parts(rim) if p.geom_type == "LineString"]


def _clipped(
    line: list[tuple[float, float]], low: tuple[float, float], high: tuple[float, float]
) -> list[list[tuple[float, float]]]:
    """The parts of a line within the picture."""
    inside = LineString(line).intersection(box(*low, *high))
    return [list(p.coords) for p in get_parts(inside) if p.geom_type == "LineString"]


def _foot(sheet: Canvas, scale: float, low: float, high: float) -> None:
    """A bar of length, and what the colours at both ends mean."""
    size = 20 if scale < 0.8 else 10 if scale < 1.6 else 5 if scale < 5 else 2
    bar = size * scale
    sheet.line((1, 5), (1 + bar, 5), "visible")
    for x in (1, 1 + bar):
        sheet.line((x, 4.2), (x, 5.8), "visible")
    sheet.text((1 + bar / 2, 1.4), f"{size} mm", 2.4, anchor="middle")
    x = SIDE - 26
    for k, value in enumerate((low, high)):
        left = x + 14 * k
        sheet.polyline(
            [(left, 4), (left + 3, 4), (left + 3, 7), (left, 7)],
            "thin",
            close=True,
            fill=hex_colour(value, low, high),
        )
        sheet.text((left + 3.8, 4.5), f"{value:.2f}", 2.4)
    sheet.text((SIDE + 1, 1.0), "mm of metal left", 2.2, anchor="end")
