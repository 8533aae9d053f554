"""The machine served in space: its beams as lines, every link with its share of the tool's give, the first mode dashed."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import shapely

from sparwright.job.machine_parts import ServedMachine, link_of
from sparwright.loop.serve import ServedResult
from sparwright.packet.canvas import Canvas
from sparwright.packet.labels import Labels

WIDTH, HEIGHT = 178.0, 74.0
EDGE = 18.0  # mm of paper round the machine, for its labels
SWING = 0.14  # greatest motion drawn of the mode, as a share of the machine's size
SHOWN = 6  # links named, those that give most
LEAST = 0.005
# Seen from the front, the right and above: X to the right, Y into the paper and up, Z up.
_RIGHT = np.array([math.cos(math.radians(12)), math.cos(math.radians(38)) * 0.62, 0.0])
_UP = np.array([-math.sin(math.radians(12)), math.sin(math.radians(38)) * 0.62, 1.0])
_AXES = (("X", (1.0, 0.0, 0.0)), ("Y", (0.0, 1.0, 0.0)), ("Z", (0.0, 0.0, 1.0)))


def machine_picture(served: ServedResult, width: float = WIDTH, height: float = HEIGHT) -> str:
    """The reworked machine as SVG: the link that gives most at the tool black, the others open, its shares beside them.

    Shares are of the tool's give in the service direction that yields most; the first mode is drawn dashed, far too large.
    """
    state = served.after
    lines = state.modes[0].lines
    points = _points(served.machine, state.modes_at)
    shares = state.shares[state.direction]
    every = [p for places, _ in lines.values() for p in places] + list(points.values())
    view = _View(np.array(every), width, height)
    sheet = Canvas(width, height)
    labels = Labels(sheet, (1.0, 1.0, width - 1.0, height - 1.0), shapely.Point(-1e3, -1e3))
    size = float(np.ptp(np.array(every), axis=0).max())
    for places, motion in lines.values():
        _line(sheet, labels, view, places + SWING * size * motion, "hidden")
    for name, (places, _) in lines.items():
        heavy = link_of(name) == state.weakest
        _line(sheet, labels, view, places, "heavy" if heavy else "visible")
    marks = _marks(served.machine, points, lines)
    for name, at in marks.items():
        radius = 1.6 if name == state.weakest else 0.9
        x, y = view(at)
        sheet.circle((x, y), radius, "visible", "#000" if name == state.weakest else "#fff")
        labels.keep_off(shapely.Point(x, y).buffer(radius))
    named = [n for n, share in shares.items() if share >= LEAST][:SHOWN]
    for name in named:
        if name in marks:
            labels.point_out(view(marks[name]), f"{name} {100 * shares[name]:.0f} %", 2.0)
    _axes(sheet, view)
    return sheet.svg()


class _View:
    """From the machine's space to the sheet."""

    def __init__(self, every: np.ndarray, width: float, height: float) -> None:
        flat = np.column_stack([every @ _RIGHT, every @ _UP])
        low, high = flat.min(axis=0), flat.max(axis=0)
        room = np.array([width - 2 * EDGE, height - 1.2 * EDGE])
        self.scale = float((room / np.maximum(high - low, 1e-6)).min())
        self.shift = np.array([width / 2, height / 2]) - self.scale * (low + high) / 2

    def __call__(self, at: np.ndarray) -> tuple[float, float]:
        x, y = self.scale * np.array([at @ _RIGHT, at @ _UP]) + self.shift
        return float(x), float(y)


def _line(sheet: Canvas, labels: Labels, view: _View, places: np.ndarray, pen: str) -> None:
    flat = [view(p) for p in places]
    if max(math.dist(a, flat[0]) for a in flat) < 0.2:
        return
    sheet.polyline(flat, pen)  # type: ignore[arg-type]
    labels.soft(shapely.LineString(flat))


def _points(machine: ServedMachine, places: Mapping[str, float]) -> dict[str, np.ndarray]:
    """Where the machine's points are with its axes at these places of their rails, mm."""
    moved = {a.name: (places.get(a.name, a.zero) - a.zero) * np.asarray(a.direction) for a in machine.axes}
    return {
        p.name: np.asarray(p.at, dtype=float) + sum((moved[axis] for axis in p.axes), start=np.zeros(3))
        for p in machine.points
    }


def _marks(
    machine: ServedMachine,
    points: Mapping[str, np.ndarray],
    lines: Mapping[str, tuple[np.ndarray, np.ndarray]],
) -> dict[str, np.ndarray]:
    """One place for every link that yields: a beam's middle, a carriage's, drive's or joint's point."""
    marks: dict[str, np.ndarray] = {}
    for beam in machine.beams:
        if beam.name in lines:
            marks.setdefault(link_of(beam.name), lines[beam.name][0].mean(axis=0))
    for runner in machine.runners:
        marks.setdefault(link_of(runner.name), points[runner.body])
    for drive in machine.drives:
        marks.setdefault(link_of(drive.name), points[drive.point] + np.asarray(drive.offset))
    for joint in machine.joints:
        marks.setdefault(link_of(joint.name), points[joint.a])
    return marks


def _axes(sheet: Canvas, view: _View) -> None:
    """The machine's directions, in the lower left corner."""
    corner = (9.0, 8.0)
    for name, direction in _AXES:
        v = np.array(direction)
        d = np.array([v @ _RIGHT, v @ _UP])
        d = 7.5 * d / np.hypot(*d)
        tip = (corner[0] + d[0], corner[1] + d[1])
        sheet.line(corner, tip, "thin")
        sheet.arrow(tip, math.atan2(d[1], d[0]))
        sheet.text((tip[0] + 1.2 * d[0] / 7.5, tip[1] + 1.2 * d[1] / 7.5), name, 3.2)
