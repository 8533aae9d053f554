"""Moves to places only the machine knows (G28, G30, G53): judged by what is sure whatever those places are."""

from __future__ import annotations

import re

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, passed
from sparwright.proof.model import ProofFinding
from sparwright.proof.motion import to_face
from sparwright.proof.scene import Scene

WORDS = re.compile(r"G[ \t]*0*(?:28|30|53)(?![\d.])", re.IGNORECASE)
KEEP = 1.0  # height wanted over the tallest clamp, mm: common practice, no source


def calls_machine_places(text: str) -> bool:
    """Whether a program may hold G28, G30 or G53."""
    return WORDS.search(text) is not None


def free_height(scene: Scene, clearance: float) -> float:
    """The height over the face from which a straight way to anywhere as high is free, mm."""
    return max([clearance, *(o.top + KEEP for o in scene.obstacles)])


def check_machine_places(case: Case, lines_of: dict[str, tuple[list[int], list[int]]]) -> list[ProofFinding]:
    """lines_of: by program, lines that hold G28 or G30, and G53. Home is taken to lie no lower than the move begins."""
    moves, free = case.moves, free_height(case.scene, case.job.file.cutting.clearance)
    home, fixed = np.zeros(len(moves.line), dtype=bool), np.zeros(len(moves.line), dtype=bool)
    for p, name in enumerate(case.names):
        homes, fixes = lines_of[name]
        mine = moves.program == p
        home |= mine & np.isin(moves.line, homes)
        fixed |= mine & np.isin(moves.line, fixes)
    last = home & ~(np.append(home[1:], False) & (np.append(moves.line[1:], -1) == moves.line))
    low = moves.start[:, 2]

    def begins(k: int) -> tuple[float, float, float]:
        x, s, n = to_face(moves.start[k : k + 1], case.scene.pose)[0]
        return float(x), float(s), float(n)

    findings = blame_moves(
        case,
        "machine place",
        np.flatnonzero(last & (low < free - 1e-3)),
        Verdict.NO_GO,
        lambda k: (
            f"goes straight from Z{low[k]:.2f} to a place only the machine knows (G28 or G30), past clamps and metal. "
            f"Raise Z to {free:.1f} first"
        ),
        value=low,
        limit=free,
        unit="mm",
        at=begins,
    )
    findings += blame_moves(
        case,
        "machine place",
        np.flatnonzero(last & (low >= free - 1e-3)),
        Verdict.CAUTION,
        lambda k: (
            f"goes from Z{low[k]:.2f}, over everything, to a place only the machine knows (G28 or G30). See that the "
            "place stored lies no lower"
        ),
        value=low,
        limit=free,
        unit="mm",
        at=begins,
    )
    findings += blame_moves(
        case,
        "machine place",
        np.flatnonzero(fixed),
        Verdict.CAUTION,
        lambda k: (
            "goes to a place counted from the machine's own zero (G53), taken here as right up over the left front corner "
            f"of the reach with the longest cutter: Z{moves.end[k, 2]:.2f} over the face. See that it is so, or do without G53"
        ),
    )
    return findings or [passed("machine place", "every place is counted from the work's zero")]
