"""Checks of what the programs ask of the machine: the spindle's speeds, the axes' feeds and travel."""

from __future__ import annotations

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, passed, rounded
from sparwright.proof.extents import BLOCK
from sparwright.proof.model import ProofFinding
from sparwright.proof.motion import Moves

HAIR = 1e-3  # mm: coordinates are written to three decimals at least


def check_spindle(case: Case) -> list[ProofFinding]:
    """Spindle on, clockwise and within its speeds whenever a feed motion is made."""
    moves, spindle = case.moves, case.job.bed.spindle
    feed = ~moves.rapid
    findings = blame_moves(
        case,
        "spindle",
        np.flatnonzero(feed & (moves.spindle == 0)),
        Verdict.NO_GO,
        lambda k: "feeds with the spindle standing still. Start it (M3 and S) before this line",
    )
    findings += blame_moves(
        case,
        "spindle",
        np.flatnonzero(feed & (moves.spindle < 0)),
        Verdict.NO_GO,
        lambda k: "feeds with the spindle turning backward (M4). Write M3: these cutters cut clockwise",
    )
    turning = feed & (moves.spindle > 0)
    for off, limit in (
        (moves.rpm < spindle.slowest, spindle.slowest),
        (moves.rpm > spindle.fastest, spindle.fastest),
    ):
        findings += blame_moves(
            case,
            "spindle speed",
            np.flatnonzero(turning & off),
            Verdict.NO_GO,
            lambda k: (
                f"asks for {moves.rpm[k]:.0f} rpm. Write an S word from {spindle.slowest:.0f} to {spindle.fastest:.0f}, what this spindle turns"
            ),
            value=moves.rpm,
            limit=limit,
            unit="rpm",
        )
    return findings or [
        passed("spindle", "the spindle turns clockwise, within its speeds, in every feed motion")
    ]


def axis_feeds(moves: Moves) -> np.ndarray:
    """Greatest feed of each axis in each feed motion, mm/min, (k, 3); arcs may point along both their axes."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.abs(moves.end - moves.start) / moves.length[:, None]
    for plane, third in ((17, 2), (18, 1), (19, 0)):
        arcs = np.flatnonzero((moves.turn != 0) & (moves.plane == plane))
        flat = np.sqrt(np.maximum(1 - share[arcs, third] ** 2, 0.0))
        for axis in {0, 1, 2} - {third}:
            share[arcs, axis] = flat
    return np.asarray(
        np.where((moves.rapid | (moves.length == 0))[:, None], 0.0, share * moves.feed[:, None])
    )


def _greatest_feeds(moves: Moves, limits: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The axis nearest its limit in each motion, int8 (k,), and its feed over that limit, (k,)."""
    count = len(moves.line)
    axis, most = np.empty(count, dtype=np.int8), np.empty(count)
    for a in range(0, count, BLOCK):
        k = slice(a, a + BLOCK)
        ratio = np.nan_to_num(axis_feeds(moves.part(k))) / limits
        axis[k], most[k] = ratio.argmax(axis=1), ratio.max(axis=1)
    return axis, most


def check_feeds(case: Case) -> list[ProofFinding]:
    """A feed must be set before it is needed and lie within what each axis can do."""
    moves, limits = case.moves, np.asarray(case.job.bed.feed_limit)
    findings = blame_moves(
        case,
        "feed",
        np.flatnonzero(~moves.rapid & ~(moves.feed > 0)),
        Verdict.NO_GO,
        lambda k: "cuts with no feed set. Write an F word before it",
    )
    axis, most = _greatest_feeds(moves, limits)
    feed = most * limits[axis]
    bad = np.flatnonzero(most > 1.001)
    findings += blame_moves(
        case,
        "feed",
        bad,
        Verdict.NO_GO,
        lambda k: (
            f"asks {'XYZ'[axis[k]]} for {feed[k]:.0f} mm/min. Lower the feed: this axis does {limits[axis[k]]:.0f} at most"
        ),
        value=feed,
        limit=float(limits[axis[bad[0]]]) if len(bad) else None,
        unit="mm/min",
    )
    return findings or [
        passed(
            "feed",
            "every feed is set and within what its axis can do",
            float(feed.max(initial=0.0)),
            float(limits.max()),
            "mm/min",
        )
    ]


def _misses(case: Case) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """How far each motion goes past the travel's end, mm, (k,), negative where it stays short of it; along which
    axis, int8; and whether at the upper end.
    """
    moves, bed = case.moves, case.job.bed
    reach, count = np.asarray(bed.reach), len(moves.line)
    most, axis, upper = np.empty(count), np.empty(count, dtype=np.int8), np.empty(count, dtype=bool)
    for k, low, high in case.extents.blocks():
        cutter = moves.cutter[k]
        stick = np.where(cutter >= 0, case.tools.stick[np.maximum(cutter, 0)], case.tools.stick.min())
        up = bed.nose_height - case.scene.height - stick  # tip height over the face with the spindle right up
        over = np.column_stack([high[:, :2] - reach[:2], high[:, 2] - up])
        under = np.column_stack([-low[:, :2], up - reach[2] - low[:, 2]])
        miss = np.maximum(over, under)
        axis[k], most[k] = miss.argmax(axis=1), miss.max(axis=1)
        upper[k] = over[np.arange(len(k)), axis[k]] > 0
    return most, axis, upper


def check_reach(case: Case) -> list[ProofFinding]:
    """The cutter's tip must stay within the spindle's travel, in Z by the nose with the cutter's stick-out."""
    most, axis, upper = _misses(case)

    def message(k: int) -> str:
        side = "over the upper end" if upper[k] else "past the lower end"
        return f"goes {rounded(most[k])} {side} of the travel in {'XYZ'[axis[k]]}. Move the work, or shorten the move"

    bad = np.flatnonzero(most > HAIR)
    if len(bad):
        return blame_moves(case, "reach", bad, Verdict.NO_GO, message, value=most, limit=0.0, unit="mm")
    left = float((-most).min(initial=np.inf))
    return [
        passed(
            "reach",
            f"every position lies within the travel, the nearest {left:.1f} mm from its end",
            left,
            0.0,
            "mm",
        )
    ]
