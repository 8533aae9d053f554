"""Where a clearing path comes down: helix, ramp, or ground that is free of metal already."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from sparwright.answers import BadInput
from sparwright.cutting import grid as grids

STEP = 0.06
"""Step of the march, as a share of the cutter's radius."""
HELIX = 0.6
"""Radius of the centre's path in a helix entry, as a share of the cutter's radius, where there is room."""
LEAST_HELIX = 0.3
"""A longish room that gives the helix less than this share of the cutter's radius is entered by a ramp."""
SLENDER = 3.0
NARROW = 1.5
"""An outline this many times longer than wide, its room no wider than NARROW diameters, is entered by a ramp."""
TIGHT = 0.1
"""Least radius of a helix, as a share of the cutter's radius; it is nearly a plunge."""


class ClearingError(BadInput):
    """The outline cannot be cleared with this cutter; the message gives the sizes."""


@dataclass(frozen=True)
class Entry:
    """The entry: kind, centre, helix radius, ramp line, and what it leaves for the march.

    runs: places (n, 3: x, y, heading) the first passes may start from, metal on their right. cuts: places (n, 2) that
    are cut on the way in, the first being where the entry ends. area: what it removes, mm2.
    """

    kind: str
    centre: np.ndarray
    radius: float
    line: np.ndarray
    runs: list[np.ndarray]
    cuts: np.ndarray
    area: float


def choose_entry(room: grids.Room, radius: float, free: shapely.Geometry | None) -> Entry:
    """The entry for a room, or the border of ground that is free. Raises ClearingError where there is no room for one."""
    step = STEP * radius
    none = np.empty((0, 2))
    if free is not None:
        runs = grids.border_runs(free, step)
        return Entry("outside", runs[0][0, :2], 0.0, none, runs, none, 0.0)
    centre, widest = grids.widest_place(room.region, radius)
    line = grids.long_axis(room, centre)
    long = float(np.hypot(*(line[1] - line[0])))
    slender = widest < NARROW * radius and long + 2 * radius > SLENDER * 2 * (widest + radius)
    if long < 2 * TIGHT * radius:
        raise ClearingError(
            f"a cutter of {2 * radius:.3f} mm has no room to enter by helix or ramp: its centre can move {long:.2f} mm"
            f" and needs {2 * TIGHT * radius:.2f} mm; drill it, or take a smaller cutter"
        )
    if (widest >= LEAST_HELIX * radius and not slender) or 2 * widest > 0.6 * long:
        rho = min(HELIX * radius, widest)
        count = max(int(2 * np.pi * rho / step), 16)
        t = np.arange(count + 1) * 2 * np.pi / count
        xy = centre + rho * np.column_stack([np.cos(t), np.sin(t)])
        run = np.column_stack([xy, t + np.pi / 2])
        return Entry("helix", centre, rho, none, [run], xy, np.pi * (rho + radius) ** 2)
    count = max(int(long / step), 1)
    t = np.arange(count + 1)[:, None] / count
    there = line[0] + t * (line[1] - line[0])
    d = line[1] - line[0]
    heading = float(np.arctan2(d[1], d[0]))
    area = np.pi * radius**2 + 2 * radius * long
    return Entry("ramp", line[0], 0.0, line, [_around_line(there, heading)], there, area)


def _around_line(there: np.ndarray, heading: float) -> np.ndarray:
    """One run of places round a slot cut along places (n, 2): to, a half turn on the spot, fro, a half turn."""
    turn = np.linspace(0, np.pi, 32)[1:-1]
    first = np.column_stack([np.tile(there[0], (30, 1)), heading - np.pi + turn])
    last = np.column_stack([np.tile(there[-1], (30, 1)), heading + turn])
    out = np.column_stack([there, np.full(len(there), heading)])
    back = np.column_stack([there[::-1], np.full(len(there), heading + np.pi)])
    return np.concatenate([first, out, last, back])
