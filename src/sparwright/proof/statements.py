"""Checks of what the programs state: words, cutters, spindle, feeds, reach, start and end. No metal involved."""

from __future__ import annotations

import re

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, named, passed
from sparwright.proof.machine_places import calls_machine_places, check_machine_places
from sparwright.proof.model import ProofFinding

COMMENT = re.compile(r"\([^()]*\)?|;.*")
MOST_ERRORS = 20  # reading errors listed one by one
HAIR = 1e-3  # mm: coordinates are written to three decimals at least


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


def check_reading(case: Case) -> list[ProofFinding]:
    """What the reader could not read; shifts of the zero; places counted from the machine's own zero."""
    findings = []
    for name, reading in zip(case.names, case.readings, strict=True):
        findings += [
            ProofFinding(
                "reading", Verdict.NO_GO, f"{named(name, e.line)}: {e.message}", program=name, line=e.line
            )
            for e in reading.errors[:MOST_ERRORS]
        ]
    shifted = np.flatnonzero((np.abs(case.moves.work) > HAIR).any(axis=1))
    findings += blame_moves(
        case,
        "work zero",
        shifted,
        Verdict.NO_GO,
        lambda k: (
            f"moves from a zero shifted by {np.abs(case.moves.work[k]).max():.3f} mm; the setup sheet sets one "
            "zero, G54; take the shift (G55 to G59, G10 or G92) out"
        ),
    )
    told = {f.program for f in findings if f.check == "work zero"}
    findings += [
        ProofFinding(
            "work zero",
            Verdict.NO_GO,
            f"{named(name, line)}: sets the zero by where the spindle stands (G92), which no program shows; the setup sheet "
            "sets one zero, G54; take G92 out",
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
    reach = np.asarray(case.job.bed.reach[:2])
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
                    f"{named(name, first)}: moves before millimetres or inches are stated; open the program with G21",
                    program=name,
                    line=first,
                )
            )
            continue
        inch = word_lines(text, "20")
        low, high = case.low[mine][:, :2].min(axis=0), case.high[mine][:, :2].max(axis=0)
        if inch and ((low < -1) | (high > reach + 1)).any():
            findings.append(
                ProofFinding(
                    "units",
                    Verdict.NO_GO,
                    f"{named(name, inch[0])}: takes figures as inches (G20), and so leaves the reach "
                    f"(X {low[0]:.0f} to {high[0]:.0f}, Y {low[1]:.0f} to {high[1]:.0f} mm); if they are "
                    "millimetres write G21",
                    program=name,
                    line=inch[0],
                    value=float(max((-low).max(), (high - reach).max())),
                    limit=0.0,
                    unit="mm",
                )
            )
    return findings or [
        passed("units", "units are stated before the first motion, and their size is plausible")
    ]


def check_cutters(case: Case) -> list[ProofFinding]:
    """Every feed motion needs a T word of a cutter the job lists."""
    moves = case.moves
    bad = np.flatnonzero(~moves.rapid & (moves.cutter < 0))
    listed = ", ".join(f"T{c.number}" for c in case.job.cutters)

    def message(k: int) -> str:
        if moves.tool[k] == 0:
            return f"cuts with no cutter named; write a T word before it (listed: {listed})"
        return f"cuts with T{moves.tool[k]}, which the job does not list (listed: {listed})"

    return blame_moves(case, "cutter", bad, Verdict.NO_GO, message) or [
        passed("cutter", "every cutter called is one of the job's")
    ]


def check_spindle(case: Case) -> list[ProofFinding]:
    """Spindle on, clockwise and within its speeds whenever a feed motion is made."""
    moves, spindle = case.moves, case.job.bed.spindle
    feed = ~moves.rapid
    findings = blame_moves(
        case,
        "spindle",
        np.flatnonzero(feed & (moves.spindle == 0)),
        Verdict.NO_GO,
        lambda k: "feeds with the spindle standing still; start it (M3 and S) before this line",
    )
    findings += blame_moves(
        case,
        "spindle",
        np.flatnonzero(feed & (moves.spindle < 0)),
        Verdict.NO_GO,
        lambda k: "feeds with the spindle turning backward (M4); these cutters cut clockwise, M3",
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
                f"asks for {moves.rpm[k]:.0f} rpm; this spindle runs from {spindle.slowest:.0f} to {spindle.fastest:.0f}"
            ),
            value=moves.rpm,
            limit=limit,
            unit="rpm",
        )
    return findings or [
        passed("spindle", "the spindle turns clockwise, within its speeds, in every feed motion")
    ]


def axis_feeds(case: Case) -> np.ndarray:
    """Greatest feed of each axis in each feed motion, mm/min, (k, 3); arcs may point along both their axes."""
    moves = case.moves
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


def check_feeds(case: Case) -> list[ProofFinding]:
    """A feed must be set before it is needed and lie within what each axis can do."""
    moves, limits = case.moves, np.asarray(case.job.bed.feed_limit)
    findings = blame_moves(
        case,
        "feed",
        np.flatnonzero(~moves.rapid & ~(moves.feed > 0)),
        Verdict.NO_GO,
        lambda k: "cuts with no feed set; write an F word before it",
    )
    ratio = np.nan_to_num(axis_feeds(case)) / limits
    axis, most = ratio.argmax(axis=1), ratio.max(axis=1)
    bad = np.flatnonzero(most > 1.001)
    findings += blame_moves(
        case,
        "feed",
        bad,
        Verdict.NO_GO,
        lambda k: (
            f"asks {'XYZ'[axis[k]]} for {most[k] * limits[axis[k]]:.0f} mm/min; this axis feeds at "
            f"{limits[axis[k]]:.0f} at most"
        ),
        value=most * limits[axis],
        limit=float(limits[axis[bad[0]]]) if len(bad) else None,
        unit="mm/min",
    )
    if findings:
        return findings
    top = float((most * limits[axis]).max(initial=0.0))
    return [
        passed(
            "feed", "every feed is set and within what its axis can do", top, float(limits.max()), "mm/min"
        )
    ]


def check_reach(case: Case) -> list[ProofFinding]:
    """The cutter's tip must stay within the spindle's travel, in Z by the nose with the cutter's stick-out."""
    moves, bed = case.moves, case.job.bed
    known = moves.cutter >= 0
    stick = np.where(known, case.tools.stick[np.maximum(moves.cutter, 0)], case.tools.stick.min())
    reach = np.asarray(bed.reach)
    up = bed.nose_height - case.scene.height - stick  # tip height over the face with the spindle right up
    over = np.column_stack([case.high[:, :2] - reach[:2], case.high[:, 2] - up])
    under = np.column_stack([-case.low[:, :2], up - reach[2] - case.low[:, 2]])
    miss = np.maximum(over, under)
    axis, most = miss.argmax(axis=1), miss.max(axis=1)

    def message(k: int) -> str:
        side = "over the upper end" if over[k, axis[k]] > 0 else "past the lower end"
        return f"goes {most[k]:.2f} mm {side} of the travel in {'XYZ'[axis[k]]}; move the work or shorten the move"

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
                    f"{name} ends without M2 or M30, so nothing stops the spindle; add M5 and M30",
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
                    f"{named(name, last)}: ends with the cutter {height:.2f} mm over the face; "
                    f"raise it to Z{case.job.file.cutting.safe_height:g} before the end",
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
            f"{named(name, line)}: {what}; nobody knows how high the spindle stands, so begin with a rapid to "
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
            f"runs sideways at rapid only {low[k]:.2f} mm over the face, lower than the job's clearance of {clear:g} mm"
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
