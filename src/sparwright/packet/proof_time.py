"""What the cutter meets along the time of the programs: engagement, depth, chip, force, feed, one curve under another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.packet.canvas import Canvas
from sparwright.packet.figures import number
from sparwright.packet.proof_shown import Shown
from sparwright.proof.contact import CHIP_CAUTION, chip_shares
from sparwright.proof.motion import move_seconds

BINS = 720  # of time, a column of the picture each
WIDTH, HEIGHT, GAP = 180.0, 17.0, 4.5  # of the picture and of one curve, mm of paper
LEFT = 34.0
LIMIT_SHOWN = 0.25  # share of a limit from which on it is drawn


@dataclass(frozen=True)
class Track:
    """A figure of every motion, (k,), nan where it has none. limit: drawn as a line, None without."""

    name: str
    unit: str
    values: np.ndarray
    limit: float | None = None


def tracks(shown: Shown) -> list[Track]:
    """The curves there are: loads as met in simulation, or, where there was none, depth, feed and speed as stated."""
    case, cut, loads = shown.case, shown.cut, shown.loads
    if case is None:
        return []
    moves = case.moves
    feed = Track("Feed", "mm/min", np.where(moves.rapid, np.nan, moves.feed))
    if cut is None or loads is None:
        under = np.where(moves.rapid, 0.0, np.maximum(-case.extents.along(2)[0], 0.0))
        return [Track("Depth", "mm under Z0", under), feed, Track("Spindle", "rpm", moves.rpm)]
    chip = np.maximum(chip_shares(case, cut), 0.0)
    spindle = case.job.bed.spindle
    power = spindle.power * spindle.efficiency
    return [
        Track("Engagement", "degrees", np.degrees(loads.engaged)),
        Track("Depth met", "mm", loads.depth),
        Track("Chip", "share of what it takes", chip, CHIP_CAUTION),
        Track("Force", "N, greatest on a tooth", loads.tooth),
        Track("Power", "W", loads.power, power if power < 1e6 else None),
        Track("Deflection", "mm, cutter's end", loads.deflection),
        feed,
    ]


def binned(seconds: np.ndarray, values: np.ndarray, bins: int = BINS) -> tuple[np.ndarray, float]:
    """Greatest value in each of `bins` equal spells of the whole time, (bins,), 0 where there is none; the time, s.

    seconds: of each motion, (k,).
    """
    end = np.cumsum(seconds)
    total = float(end[-1]) if len(end) else 0.0
    best = np.zeros(bins)
    if total <= 0:
        return best, 0.0
    first = np.clip(((end - seconds) / total * bins).astype(int), 0, bins - 1)
    last = np.clip(np.ceil(end / total * bins).astype(int), first + 1, bins)
    filled = np.nan_to_num(values, nan=0.0)
    count = last - first
    where = np.repeat(first, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    np.maximum.at(best, where, np.repeat(filled, count))
    return best, total


def time_chart(shown: Shown, tracks: Sequence[Track]) -> str:
    """The curves as one SVG; "" where there is no motion that takes time."""
    case = shown.case
    if case is None or not tracks:
        return ""
    seconds = move_seconds(case.moves, case.job.bed)
    sheet = Canvas(WIDTH + 4, len(tracks) * (HEIGHT + GAP) + 9)
    width = WIDTH - LEFT
    total = 0.0
    for row, track in enumerate(tracks):
        best, total = binned(seconds, track.values)
        if total <= 0:
            return ""
        y = 9 + (len(tracks) - 1 - row) * (HEIGHT + GAP)
        most = float(best.max())
        limit = track.limit or 0.0
        top = _round_up(max(most, limit) if most > LIMIT_SHOWN * limit else most)
        x = LEFT + 2 + np.arange(BINS + 1) * width / BINS
        up = y + best / top * HEIGHT
        outline = [(x[0], y), *_steps(x, up), (x[-1], y)]
        sheet.polyline(outline, "none", close=True, fill="#9a9a9a")
        sheet.polyline(_steps(x, up), "thin")
        sheet.polyline([(x[0], y), (x[-1], y)], "thin")
        sheet.line((x[0], y), (x[0], y + HEIGHT), "thin")
        for value in (0.0, top):
            level = y + value / top * HEIGHT
            sheet.line((x[0] - 1, level), (x[0], level), "thin")
            sheet.text((x[0] - 1.6, level - 0.9), _short(value), 2.4, anchor="end")
        sheet.text((1, y + HEIGHT - 4.0), track.name, 2.8, bold=True)
        sheet.text((1, y + HEIGHT - 7.4), track.unit, 2.4)
        sheet.text((1, y + HEIGHT - 10.8), f"most {_short(most)}", 2.4)
        if track.limit is not None and most > LIMIT_SHOWN * track.limit:
            level = y + track.limit / top * HEIGHT
            sheet.line((x[0], level), (x[-1], level), "hidden")
            sheet.text((x[-1], level + 0.8), f"limit {number(track.limit)}", 2.4, anchor="end", halo=True)
    _time_axis(sheet, total, width)
    return sheet.svg()


def _short(value: float) -> str:
    """Three digits, never as a power of ten."""
    return f"{value:.0f}" if value >= 1000 else f"{value:.3g}"


def _steps(x: np.ndarray, up: np.ndarray) -> list[tuple[float, float]]:
    """The outline of columns, only where it changes."""
    keep = np.flatnonzero(np.diff(up, prepend=np.nan) != 0)
    ends = np.append(keep[1:], len(up))
    points: list[tuple[float, float]] = []
    for a, b in zip(keep, ends, strict=True):
        points += [(float(x[a]), float(up[a])), (float(x[b]), float(up[a]))]
    return points


def _round_up(value: float) -> float:
    """A round figure not below the value."""
    if value <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(value))
    return next(k * power for k in (1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10) if k * power >= value * (1 - 1e-9))


def _time_axis(sheet: Canvas, total: float, width: float) -> None:
    unit, name = (60.0, "min") if total > 180 else (1.0, "s")
    span = total / unit
    step = next(k for k in (1, 2, 5, 10, 20, 30, 60, 120, 240, 600, 6000, 1e9) if span / k <= 12)
    for t in np.arange(0, span + 1e-9, step):
        x = LEFT + 2 + t / span * width
        sheet.line((x, 9), (x, 8), "thin")
        sheet.text((x, 5), f"{t:g}", 2.4, anchor="middle")
    sheet.text((LEFT + 2 + width / 2, 1.2), f"{name}, by length over feed", 2.6, anchor="middle")
