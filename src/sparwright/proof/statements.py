"""Checks of what the programs state: words, units, cutters, start and end, and heights between. No metal involved."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, named, over_face, passed
from sparwright.proof.machine_limits import HAIR, check_feeds, check_reach, check_spindle
from sparwright.proof.machine_places import calls_machine_places, check_machine_places
from sparwright.proof.model import ProofFinding

COMMENT = re.compile(r"\([^()]*\)?|;.*")
GM_WORD = re.compile(r"[GM][0-9]+(\.[0-9])?", re.IGNORECASE)
MOST_ERRORS = 20  # reading errors listed one by one
MOST_SHIFT = 1e4  # mm: a zero further off than any bed is one only the machine knows


def word_lines(text: str, *words: str) -> list[int]:
    """Lines (from 1) of a program that hold one of the G words given as "20", outside comments."""
    pattern = re.compile(r"G[ \t]*0*(?:" + "|".join(words) + r")(?![\d.])", re.IGNORECASE)
    found: list[int] = []
    counted, number = 0, 1
    for hit in pattern.finditer(text):
        number += text.count("\n", counted, hit.start())
        counted = hit.start()
        start = text.rfind("\n", 0, hit.start()) + 1
        end = text.find("\n", start)
        line = text[start:] if end < 0 else text[start:end]
        if (not found or found[-1] != number) and pattern.search(COMMENT.sub("", line)):
            found.append(number)
    return found


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _passed_over(name: str, words: Sequence[tuple[int, str]]) -> list[ProofFinding]:
    """A caution for each kind of word left out because the bed's file says so."""
    lines: dict[str, list[int]] = {}
    for line, word in words:
        known = GM_WORD.match(word)
        name_of = known[0].upper() if known else word.strip('"')[:1].upper()
        if name_of[0] in "ABCEOUVW;GM":  # others go with a G or M word of their line
            lines.setdefault(name_of, []).append(line)
    return [
        ProofFinding(
            "passed over",
            Verdict.CAUTION,
            f"{named(name, found[0])}: {word} is passed over as controller.passes_over says, {_times(len(found))} in all. What it does "
            "at the machine is not known here",
            program=name,
            line=found[0],
        )
        for word, found in lines.items()
    ]


def _shift(work: np.ndarray) -> str:
    """By how much a zero is shifted, in words; "" for one that only the machine knows."""
    most = float(np.abs(work).max())
    return f", {most:.4g} mm off" if most < MOST_SHIFT else ""


def check_reading(case: Case) -> list[ProofFinding]:
    """What the reader could not read; shifts of the zero; places counted from the machine's own zero."""
    findings = []
    for name, reading in zip(case.names, case.readings, strict=True):
        findings += [
            ProofFinding(
                "reading",
                Verdict.NO_GO,
                f"{named(name, e.line)}: {e.message.rstrip('.')}. Mend this line, or take it out",
                program=name,
                line=e.line,
            )
            for e in reading.errors[:MOST_ERRORS]
        ]
        findings += _passed_over(name, reading.passed)
    shifted = np.flatnonzero((np.abs(case.moves.work) > HAIR).any(axis=1))
    findings += blame_moves(
        case,
        "work zero",
        shifted,
        Verdict.NO_GO,
        lambda k: (
            f"moves from a shifted zero{_shift(case.moves.work[k])}. The setup sheet sets one "
            "zero, G54. Take the shift (G55 to G59, G10 or G92) out"
        ),
    )
    told = {f.program for f in findings if f.check == "work zero"}
    findings += [
        ProofFinding(
            "work zero",
            Verdict.NO_GO,
            f"{named(name, line)}: sets the zero by where the spindle stands (G92), which no program shows. The setup sheet "
            "sets one zero, G54. Take G92 out",
            program=name,
            line=line,
        )
        for name, text in zip(case.names, case.texts, strict=True)
        if name not in told
        for line in word_lines(text, "92")[:1]
    ]
    findings = findings or [
        passed("reading", "every line was read, and every motion is from the one zero, G54")
    ]
    if any(calls_machine_places(text) for text in case.texts):
        lines = {
            n: (word_lines(t, "28", "30"), word_lines(t, "53"))
            for n, t in zip(case.names, case.texts, strict=True)
        }
        findings += check_machine_places(case, lines)
    return findings


def check_units(case: Case) -> list[ProofFinding]:
    """Units must be said before the first motion; inches that lead out of the reach are named as the cause."""
    findings = []
    for p, (name, text) in enumerate(zip(case.names, case.texts, strict=True)):
        mine = case.moves.program == p
        if not mine.any():
            continue
        said = word_lines(text, "20", "21")
        first = int(case.moves.line[mine][0])
        if not said or said[0] > first:
            findings.append(
                ProofFinding(
                    "units",
                    Verdict.NO_GO,
                    f"{named(name, first)}: moves before millimetres or inches are stated. Open the program with G21",
                    program=name,
                    line=first,
                )
            )
            continue
        inch = word_lines(text, "20")
        if inch:
            findings += _far_inches(case, p, inch[0])
    return findings or [
        passed("units", "units are stated before the first motion, and their size is plausible")
    ]


def _far_inches(case: Case, p: int, line: int) -> list[ProofFinding]:
    """Whether the inches that program p states on a line lead out of the reach."""
    reach = np.asarray(case.job.bed.reach[:2])
    low, high = (places[:2] for places in case.extents.box(p))
    if not ((low < -1) | (high > reach + 1)).any():
        return []
    name = case.names[p]
    return [
        ProofFinding(
            "units",
            Verdict.NO_GO,
            f"{named(name, line)}: takes figures as inches (G20), and so leaves the reach "
            f"(X {low[0]:.0f} to {high[0]:.0f}, Y {low[1]:.0f} to {high[1]:.0f} mm). If they are "
            "millimetres write G21",
            program=name,
            line=line,
            value=float(max((-low).max(), (high - reach).max())),
            limit=0.0,
            unit="mm",
        )
    ]


def check_cutters(case: Case) -> list[ProofFinding]:
    """Every feed motion needs a T word of a cutter the job lists."""
    moves = case.moves
    bad = np.flatnonzero(~moves.rapid & (moves.cutter < 0))
    listed = ", ".join(f"T{c.number}" for c in case.job.cutters)

    def message(k: int) -> str:
        if moves.tool[k] == 0:
            return f"cuts with no cutter named. Write a T word before it, one of {listed}"
        return f"cuts with T{moves.tool[k]}, which the job does not list. Write one of {listed}"

    return blame_moves(case, "cutter", bad, Verdict.NO_GO, message) or [
        passed("cutter", "every cutter called is one of the job's")
    ]


def check_start_and_end(case: Case) -> list[ProofFinding]:
    """A program starts with Z alone, since nobody knows where the spindle stands, and ends said and raised."""
    findings = []
    moves, clear = case.moves, case.job.file.cutting.clearance
    for p, (name, reading) in enumerate(zip(case.names, case.readings, strict=True)):
        mine = np.flatnonzero(moves.program == p)
        if len(mine):
            findings += _bad_start(case, int(mine[0]), clear)
        last = int(moves.line[mine[-1]]) if len(mine) else 0
        if not reading.ended:
            findings.append(
                ProofFinding(
                    "program end",
                    Verdict.NO_GO,
                    f"program {name} ends without M2 or M30, so nothing stops the spindle. Add M5 and M30",
                    program=name,
                    line=last,
                )
            )
        height = float(moves.end[mine[-1], 2]) if len(mine) else clear
        if height < clear - HAIR:
            findings.append(
                ProofFinding(
                    "program end",
                    Verdict.NO_GO,
                    f"{named(name, last)}: ends with the cutter {over_face(height)}. "
                    f"Raise it to Z{case.job.file.cutting.safe_height:g} before the end",
                    program=name,
                    line=last,
                    value=height,
                    limit=clear,
                    unit="mm",
                )
            )
    return findings or [
        passed("program end", "every program starts by raising Z and ends raised, with M2 or M30")
    ]


def _bad_start(case: Case, k: int, clear: float) -> list[ProofFinding]:
    moves = case.moves
    sideways = (np.abs(moves.end[k, :2] - moves.start[k, :2]) > HAIR).any()
    if not sideways and moves.end[k, 2] >= clear - HAIR:
        return []
    name, line = case.line_of(k)
    what = (
        "moves sideways before Z has been raised" if sideways else f"first goes down to Z{moves.end[k, 2]:g}"
    )
    return [
        ProofFinding(
            "program start",
            Verdict.NO_GO,
            f"{named(name, line)}: {what}. Nobody knows how high the spindle stands, so begin with a rapid to "
            f"Z{case.job.file.cutting.safe_height:g} alone",
            program=name,
            line=line,
        )
    ]


def check_clearance(case: Case) -> list[ProofFinding]:
    """Rapids that go sideways should run at the clearance height or above."""
    moves, clear = case.moves, case.job.file.cutting.clearance
    sideways = (np.abs(moves.end[:, :2] - moves.start[:, :2]) > HAIR).any(axis=1)
    low = np.minimum(moves.start[:, 2], moves.end[:, 2])
    bad = np.flatnonzero(moves.rapid & sideways & (low < clear - HAIR))
    return blame_moves(
        case,
        "clearance height",
        bad,
        Verdict.CAUTION,
        lambda k: (
            f"runs sideways at rapid {over_face(low[k])}. Raise it to the job's clearance of {clear:g} mm"
        ),
        value=low,
        limit=clear,
        unit="mm",
    ) or [
        passed(
            "clearance height",
            "rapids run sideways at the clearance height or above",
            float(low[moves.rapid & sideways].min(initial=np.inf))
            if (moves.rapid & sideways).any()
            else None,
            clear,
            "mm",
        )
    ]


CHECKS = (
    check_reading,
    check_units,
    check_cutters,
    check_spindle,
    check_feeds,
    check_reach,
    check_start_and_end,
    check_clearance,
)
