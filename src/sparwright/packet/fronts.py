"""The papers of a sweep: a table of all candidates (CSV), the result (JSON), and the front as a picture (SVG)."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from sparwright.packet.canvas import Canvas, Line
from sparwright.packet.figures import mm
from sparwright.packet.whole import write_text
from sparwright.sweep.faults import told
from sparwright.sweep.front import SAID, SENSE, undominated
from sparwright.sweep.model import Candidate, Figures, SweepResult

WIDTH, HEIGHT = 190.0, 128.0
FRAME = (22.0, 26.0, 142.0, 118.0)  # low x, low y, high x, high y of the plot on the sheet, mm
MARKS = ("circle", "square", "triangle", "diamond", "down", "star")
COLUMNS = (
    "mass_out_kg",
    "mass_kept",
    "twist_kept",
    "EIy_kept",
    "EIz_kept",
    "bending_kept",
    "tip_mm",
    "first_Hz",
    "minutes",
    "pockets",
    "dropped",
    "method",
)


# --- files ------------------------------------------------------------------------------------------------


def write_sweep(result: SweepResult, out: Path) -> tuple[str, ...]:
    """Write sweep.csv, sweep.json and sweep.svg into `out`, each whole or not at all; their names.

    Raises SweepError where the folder cannot be written.
    """
    texts = {
        "sweep.csv": sweep_csv(result),
        "sweep.json": json.dumps(result.as_dict(), indent=2, ensure_ascii=False, allow_nan=False) + "\n",
        "sweep.svg": front_picture(result),
    }
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            write_text(out / name, text)
    except OSError as problem:
        raise told(
            f"{out} cannot be written: {problem.strerror}", remedy="name another folder with --out"
        ) from None
    return tuple(texts)


def sweep_csv(result: SweepResult) -> str:
    """Every candidate in a row: its settings, figures with units in the heads, whether it is on the front and chosen."""
    settings = list(dict.fromkeys(f"{s.field}.{s.key}" for c in result.candidates for s in c.change.settings))
    chosen = result.chosen.candidate.key if result.chosen.candidate is not None else ""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*settings, *COLUMNS, "front", "chosen", "left_out"])
    for c in result.candidates:
        words = {f"{s.field}.{s.key}": s.text for s in c.change.settings}
        figures = [_cell(getattr(c.figures, name)) if c.figures is not None else "" for name in COLUMNS]
        marks = ["yes" if c.key in result.front else "", "yes" if c.key == chosen else ""]
        writer.writerow([*(words.get(s, "") for s in settings), *figures, *marks, c.left_out])
    return out.getvalue()


def _cell(value: float | str | None) -> str:
    if value is None:
        return ""
    return f"{value:.6g}" if isinstance(value, float) else str(value)


# --- picture ----------------------------------------------------------------------------------------------


def front_picture(result: SweepResult) -> str:
    """Mass out against twist kept of every candidate, as SVG.

    Black marks are on the front, grey ones are beaten; the line joins those that nothing beats in these two figures.
    The chosen one is ringed, the job's wishes are dashed lines, and the shape of a mark tells its skin (or whatever
    else was varied in few values).
    """
    sheet = Canvas(WIDTH, HEIGHT)
    points = {c.key: _point(c.figures) for c in result.candidates if c.figures is not None}
    sheet.text((FRAME[0], HEIGHT - 5), f"{result.title}: mass out against twist kept", 3.6, bold=True)
    if not points:
        sheet.text((FRAME[0], HEIGHT / 2), "Every candidate is left out.", 3.2)
        return sheet.svg()
    wishes = (result.wishes.get("mass_out_kg"), _percent(result.wishes.get("twist_kept")))
    axes = [
        _ticks([p[i] for p in points.values()] + [w for w in (wishes[i],) if w is not None]) for i in (0, 1)
    ]
    plot = _Plot(axes[0], axes[1])
    plot.grid(sheet)
    plot.wishes(sheet, *wishes)
    named, shapes = _marks(result.candidates)
    values = np.array(list(points.values()))
    best = values[undominated(values)]
    if len(best) > 1:
        sheet.polyline([plot.at(*p) for p in best[np.argsort(best[:, 0])]], "thin")
    for on in (False, True):
        for c in result.candidates:
            if c.figures is not None and (c.key in result.front) is on:
                _mark(sheet, plot.at(*points[c.key]), shapes[c.key], on=on)
    chosen = result.chosen.candidate
    if chosen is not None and chosen.key in points:
        sheet.circle(plot.at(*points[chosen.key]), 2.6, "visible")
    _legend(sheet, named, chosen, result)
    return sheet.svg()


def _point(figures: Figures) -> tuple[float, float]:
    return figures.mass_out_kg, 100 * figures.twist_kept


def _percent(value: float | None) -> float | None:
    return None if value is None else 100 * value


def _ticks(values: Sequence[float]) -> tuple[float, ...]:
    """Round numbers that cover the values, four to nine of them."""
    low, high = min(values), max(values)
    span = max(high - low, 0.05 * abs(high), 1e-6)
    rough = span / 5
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * k for k in (1, 2, 5, 10) if size * k >= rough)
    first, last = math.floor(low / step - 0.1), math.ceil(high / step + 0.1)
    return tuple(round(k * step, 9) for k in range(first, last + 1))


class _Plot:
    """Where figures come to lie on the sheet."""

    def __init__(self, x: tuple[float, ...], y: tuple[float, ...]) -> None:
        self.x, self.y = x, y

    def at(self, x: float, y: float) -> tuple[float, float]:
        """The place on the sheet, mm."""
        low_x, low_y, high_x, high_y = FRAME
        return (
            low_x + (x - self.x[0]) / (self.x[-1] - self.x[0]) * (high_x - low_x),
            low_y + (y - self.y[0]) / (self.y[-1] - self.y[0]) * (high_y - low_y),
        )

    def grid(self, sheet: Canvas) -> None:
        """Frame, grid and numbers."""
        low_x, low_y, high_x, high_y = FRAME
        for x in self.x:
            a, _ = self.at(x, self.y[0])
            sheet.line((a, low_y), (a, high_y), "faint")
            sheet.text((a, low_y - 4.5), mm(x, 4), 2.8, anchor="middle")
        for y in self.y:
            _, b = self.at(self.x[0], y)
            sheet.line((low_x, b), (high_x, b), "faint")
            sheet.text((low_x - 1.5, b - 1), mm(y, 3), 2.8, anchor="end")
        sheet.polyline(
            [(low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)], "thin", close=True
        )
        sheet.text(((low_x + high_x) / 2, low_y - 9.5), "mass out, kg", 3.0, anchor="middle")
        sheet.text((low_x - 11, (low_y + high_y) / 2), "twist kept, %", 3.0, anchor="middle", angle=90)

    def wishes(self, sheet: Canvas, x: float | None, y: float | None) -> None:
        """The wishes for either figure as dashed lines with their words, which keep clear of each other's line."""
        low_x, low_y, high_x, high_y = FRAME
        foot = low_y + 2
        if y is not None:
            _, b = self.at(self.x[0], y)
            sheet.line((low_x, b), (high_x, b), "hidden")
            sheet.text((high_x - 1, b + 1), f"wished: {mm(y, 1)} % or more", 2.6, anchor="end", halo=True)
            foot = b + 2 if b < (low_y + high_y) / 2 else foot
        if x is not None:
            a, _ = self.at(x, self.y[0])
            sheet.line((a, low_y), (a, high_y), "hidden")
            sheet.text((a - 1, foot), f"wished: {mm(x, 3)} kg or more", 2.6, angle=90, halo=True)


def _marks(candidates: Sequence[Candidate]) -> tuple[tuple[str, dict[str, str]], dict[str, str]]:
    """What the marks tell (its name, and the mark of each value), and the mark of every candidate by its key."""
    values: dict[tuple[str, str], dict[str, None]] = {}
    for c in candidates:
        for s in c.change.settings:
            values.setdefault((s.field, s.key), {})[s.text] = None
    able = {place: list(v) for place, v in values.items() if 1 < len(v) <= len(MARKS)}
    order = ("skin", "depth", "pocket", "faces")
    place = min(
        able, key=lambda p: (order.index(p[1]) if p[1] in order else len(order), len(able[p])), default=None
    )
    if place is None:
        return ("", {}), {c.key: MARKS[0] for c in candidates}
    marks = dict(zip(able[place], MARKS, strict=False))
    shapes = {
        c.key: next((marks[s.text] for s in c.change.settings if (s.field, s.key) == place), MARKS[0])
        for c in candidates
    }
    return (f"{place[0]}.{place[1]}", marks), shapes


def _mark(sheet: Canvas, at: tuple[float, float], shape: str, *, on: bool) -> None:
    """A mark: filled black on the front, a grey outline where beaten."""
    size = 1.2 if on else 1.0
    fill = "#000" if on else "#fff"
    pen: Line = "thin" if on else "faint"
    if shape == "circle":
        sheet.circle(at, size, pen, fill)
        return
    if shape == "star":
        for turn in (0.0, 60.0, 120.0):
            c, s = size * math.cos(math.radians(turn)), size * math.sin(math.radians(turn))
            sheet.line((at[0] - c, at[1] - s), (at[0] + c, at[1] + s), "visible" if on else "faint")
        return
    corners, first = {"square": (4, 45), "triangle": (3, 90), "diamond": (4, 0), "down": (3, 270)}[shape]
    ring = [
        (
            at[0] + 1.25 * size * math.cos(math.radians(first + k * 360 / corners)),
            at[1] + 1.25 * size * math.sin(math.radians(first + k * 360 / corners)),
        )
        for k in range(corners)
    ]
    sheet.polyline(ring, pen, close=True, fill=fill)


def _legend(
    sheet: Canvas, named: tuple[str, dict[str, str]], chosen: Candidate | None, result: SweepResult
) -> None:
    """What the marks mean, beside the plot, and the chosen one in words under it."""
    x, y = FRAME[2] + 7, FRAME[3] - 4
    name, marks = named
    if marks:
        sheet.text((x - 2, y), name, 2.8, bold=True)
        for value, shape in marks.items():
            y -= 5.2
            _mark(sheet, (x, y + 0.9), shape, on=True)
            sheet.text((x + 4, y), value, 2.8)
        y -= 9
    for on, words in ((True, "black: on the front"), (False, "grey: beaten")):
        _mark(sheet, (x, y + 0.9), "circle", on=on)
        sheet.text((x + 4, y), words, 2.8)
        y -= 5.2
    sheet.line((x - 2, y + 0.9), (x + 2, y + 0.9), "thin")
    sheet.text((x + 4, y), "unbeaten in these two", 2.8)
    if chosen is not None:
        sheet.circle((x, y - 4.8), 2.0, "visible")
        sheet.text((x + 4, y - 5.7), "recommended", 2.8)
        said = {True: ", confirmed by the bay", False: ", not confirmed by the bay", None: ""}
        missing = "; misses a wish" if result.chosen.misses else ""
        sheet.text((FRAME[0], 8.5), f"Recommended{said[result.chosen.confirmed]}{missing}: {chosen.key}", 2.8)
    goals = ", ".join(f"{'more' if SENSE[g] > 0 else 'less'} {SAID[g][0]}" for g in result.goals)
    sheet.text((FRAME[0], 4), f"On the front: no other candidate has {goals} all at once.", 2.6)
