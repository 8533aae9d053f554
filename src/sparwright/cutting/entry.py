"""Ways down into the metal: helix and ramp, as paths that a planner gives feeds to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sparwright.cutting.model import ARC_CCW, LINE, Path


def helix_moves(
    centre: Sequence[float] | np.ndarray,
    radius: float,
    z_from: float,
    z_to: float,
    pitch: float,
    feed: float = np.nan,
) -> Path:
    """Counter-clockwise helix about centre (2,) from height z_from down to z_to, then one level lap, mm.

    It starts and ends at centre + (radius, 0): whole turns of at most `pitch` mm each, made of half turns. feed: mm/min
    of the tip, nan for "not said yet". Climb cutting for a cutter turning clockwise seen from above.
    Raises ValueError where radius or pitch is not positive or the helix would rise.
    """
    if radius <= 0 or pitch <= 0:
        raise ValueError(f"helix radius {radius} mm and pitch {pitch} mm must be positive")
    if z_to > z_from:
        raise ValueError(f"a helix entry goes down: from {z_from} to {z_to} mm rises")
    turns = int(np.ceil((z_from - z_to) / pitch - 1e-9))
    halves = 2 * turns + 2
    c = np.asarray(centre, float)[:2]
    side = np.where(np.arange(1, halves + 1) % 2 == 0, 1.0, -1.0)
    drop = np.minimum(np.arange(1, halves + 1) / max(2 * turns, 1), 1.0) if turns else np.ones(halves)
    z = z_from + (z_to - z_from) * drop
    end = np.column_stack([c[0] + radius * side, np.full(halves, c[1]), z])
    start = np.array([c[0] + radius, c[1], z_from])
    return Path(start, np.full(halves, ARC_CCW, np.int8), end, np.tile(c, (halves, 1)), np.full(halves, feed))


def ramp_moves(
    line: Sequence[Sequence[float]] | np.ndarray,
    z_from: float,
    z_to: float,
    slope: float,
    feed: float = np.nan,
) -> Path:
    """To and fro along a line (2, 2) from z_from down to z_to, falling at most `slope` (drop over run), then level.

    It starts and ends at the line's first point, and the last two legs or more are level or finish the floor, so that
    no slope is left. feed as for helix_moves. Raises ValueError where the line has no length, the slope is not
    positive, or the ramp would rise.
    """
    ends = np.asarray(line, float)[:, :2]
    run = float(np.hypot(*(ends[1] - ends[0])))
    if run <= 0 or slope <= 0:
        raise ValueError(f"a ramp needs length and slope: {run} mm, {slope}")
    if z_to > z_from:
        raise ValueError(f"a ramp entry goes down: from {z_from} to {z_to} mm rises")
    falling = int(np.ceil((z_from - z_to) / (slope * run) - 1e-9))
    legs = falling + 1
    legs += legs % 2
    count = np.arange(1, legs + 1)
    z = z_from + (z_to - z_from) * (np.minimum(count / falling, 1.0) if falling else np.ones(legs))
    end = np.column_stack([ends[count % 2], z])
    blank = np.full((legs, 2), np.nan)
    return Path(
        np.append(ends[0], z_from), np.full(legs, LINE, np.int8), end, blank, np.full(legs, float(feed))
    )
