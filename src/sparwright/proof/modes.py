"""Checks of what holds from line to line: modes left to chance, tool lengths, changes of cutter."""

from __future__ import annotations

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, named, passed
from sparwright.proof.machine_limits import HAIR
from sparwright.proof.model import ProofFinding
from sparwright.proof.statements import word_lines

STATED = (
    (("54", "55", "56", "57", "58", "59"), "G54", "the zero last used"),
    (("90", "91"), "G90", "the way last used"),
)


def check_modes(case: Case) -> list[ProofFinding]:
    """The zero and the way of giving places should be said before the first motion."""
    findings = []
    for p, (name, text) in enumerate(zip(case.names, case.texts, strict=True)):
        mine = case.moves.program == p
        if not mine.any():
            continue
        first = int(case.moves.line[mine][0])
        left = [
            (word, what)
            for words, word, what in STATED
            if min(word_lines(text, *words), default=first + 1) > first
        ]
        if left:
            words, what = " and ".join(w for w, _ in left), " and ".join(w for _, w in left)
            findings.append(
                ProofFinding(
                    "modes",
                    Verdict.CAUTION,
                    f"{named(name, first)}: moves before {words} is stated, and so by {what}. Open the program with {words}",
                    program=name,
                    line=first,
                )
            )
    return findings or [passed("modes", "zero and way of giving places are stated before the first motion")]


def check_tool_lengths(case: Case) -> list[ProofFinding]:
    """The length in force (G43 H) must be that of the cutter in the spindle; all cutters have one, or none has."""
    moves = case.moves
    length = moves.length_of
    feed = ~moves.rapid
    findings = blame_moves(
        case,
        "tool length",
        np.flatnonzero(feed & (length > 0) & (length != moves.tool) & (moves.tool > 0)),
        Verdict.NO_GO,
        lambda k: (
            f"cuts with T{moves.tool[k]} on the length of another, H{length[k]}. Write G43 H{moves.tool[k]}"
        ),
    )
    if (length > 0).any():
        findings += blame_moves(
            case,
            "tool length",
            np.flatnonzero(feed & (length == 0)),
            Verdict.NO_GO,
            lambda k: (
                f"cuts with T{moves.tool[k]} with no length in force, while other cuts have theirs. Write "
                f"G43 H{moves.tool[k]}"
            ),
        )
        return findings or [passed("tool length", "every cut is made on its own cutter's length")]
    return [passed("tool length", "no tool lengths are called: Z is touched off anew with every cutter")]


def check_tool_changes(case: Case) -> list[ProofFinding]:
    """A cutter is changed at the clearance or above."""
    moves, clear = case.moves, case.job.file.cutting.clearance
    low = moves.start[:, 2]
    changed = np.zeros(len(low), dtype=bool)
    changed[1:] = (moves.tool[1:] != moves.tool[:-1]) & (moves.program[1:] == moves.program[:-1])
    changed &= np.append(False, moves.tool[:-1] > 0) if len(low) else changed
    return blame_moves(
        case,
        "tool change",
        np.flatnonzero(changed & (low < clear - HAIR)),
        Verdict.NO_GO,
        lambda k: (
            f"follows a change to T{moves.tool[k]} made at Z{low[k]:.2f}. Raise Z over {clear:g} before the change"
        ),
        value=low,
        limit=clear,
        unit="mm",
    ) or [passed("tool change", "no cutter is changed lower than the clearance")]


CHECKS = (check_modes, check_tool_lengths, check_tool_changes)
