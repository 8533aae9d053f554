"""Cuts of the pads: locating slots, and the holes for clamp inserts and the stop pin, in sheet on the bed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.cutting.entry import helix_moves
from sparwright.cutting.feeds import Feed, Limits, feed_for
from sparwright.cutting.model import Cut, Path, Peak, Piece, SideCuts
from sparwright.cutting.motion import path_seconds
from sparwright.cutting.paths import Rates, Trace, joined
from sparwright.job.models import Cutter, Job, Material
from sparwright.placing.model import Pad, Placement

SHEET = Material(
    name="sheet",
    modulus=2500,
    poisson=0.25,
    density=750,
    proof_strength=20,
    tensile_strength=20,
    cutting_force=60,
    cutting_exponent=0.25,
    cutting_spread=0.5,
    source="E: EN 622-5 boards, from memory; specific cutting force of fibreboard: common practice, no source",
)
CHIP_SHARE = 0.015
"""Chip load in sheet as a share of the cutter's diameter; common practice, no source."""
STEPOVER = 0.4
"""Width of a pass in sheet as a share of the cutter's diameter; common practice, no source."""
DEEPEST = 0.8
"""Deepest pass in sheet as a share of the cutter's diameter; common practice, no source."""
LEAD = 1.0
"""How far past the pad's end, beyond its own radius, the cutter starts and ends, mm."""
LEFT_UNDER = 3.0
"""Sheet left under a hole at least, mm, so that the bed is not cut."""
SHALLOWEST = 1.0
"""A hole in a pad less deep than this holds nothing, mm."""
RAMP = 5.0
"""Ramp of a helix in sheet, degrees."""


def _flats(job: Job) -> list[Cutter]:
    return sorted((c for c in job.cutters if c.kind == "flat"), key=lambda c: -c.diameter)


def _deepest_tip(job: Job, cutter: Cutter, pad_top: float) -> float:
    """How far below the pads' top the machine can bring this cutter's tip, mm."""
    return pad_top - (job.bed.nose_height - job.bed.reach[2] - cutter.stick_out)


def _levels(depth: float, step: float, start: float = 0.0) -> list[float]:
    count = max(1, math.ceil((depth - start) / step - 1e-9))
    return [-(start + (depth - start) * (i + 1) / count) for i in range(count)]


def _rows(low: float, high: float, step: float) -> list[float]:
    """Places of passes from low to high, both included, at most `step` apart."""
    count = max(1, math.ceil((high - low) / step - 1e-9))
    return [low + (high - low) * i / count for i in range(count + 1)] if high > low else [low]


def _passes(
    rows: Sequence[float], x: tuple[float, float], depth: float, cutter: Cutter, rates: Rates
) -> Path:
    """Passes along x at each place in `rows`, both ways, running off the pad at its ends, level by level."""
    trace = Trace(x[0], rows[0], rates.clearance)
    for level in _levels(depth, DEEPEST * cutter.diameter):
        trace.lift(rates.clearance)
        trace.rapid(x[0], rows[0], rates.clearance)
        trace.down(level, rates.plunge)
        here = 0
        for row in rows:
            if abs(trace.here[1] - row) > 1e-9:
                trace.line(trace.here[0], row, level, rates.feed)
            here = 1 - here
            trace.line(x[here], row, level, rates.feed)
    trace.lift(rates.clearance)
    return trace.path()


def slot_path(
    pad: Pad, side: str, cutter: Cutter, rates: Rates, already: tuple[float, float] | None = None
) -> Path:
    """The slot of one pad for one side: passes along the member, from outside the sheet at both ends.

    already: from and to across of a slot cut before, which is then only widened at its walls.
    """
    radius = cutter.diameter / 2
    low, high = pad.slot[side]
    x = (pad.x[0] - radius - LEAD, pad.x[1] + radius + LEAD)
    step = STEPOVER * cutter.diameter
    if already is None:
        return _passes(_rows(low + radius, high - radius, step), x, pad.slot_depth, cutter, rates)
    paths = []
    if low < already[0] - 1e-9:
        paths.append(
            _passes(
                _rows(low + radius, already[0] + radius, step)[::-1][1:], x, pad.slot_depth, cutter, rates
            )
        )
    if high > already[1] + 1e-9:
        paths.append(
            _passes(_rows(already[1] - radius, high - radius, step)[1:], x, pad.slot_depth, cutter, rates)
        )
    return paths[0] if len(paths) == 1 else _both(paths[0], paths[1], rates)


def _both(first: Path, second: Path, rates: Rates) -> Path:
    trace = Trace(float(first.end[-1][0]), float(first.end[-1][1]), rates.clearance)
    trace.rapid(float(second.start[0]), float(second.start[1]), rates.clearance)
    return joined([first, trace.path(), second])


def bore_path(at: tuple[float, float], diameter: float, depth: float, cutter: Cutter, rates: Rates) -> Path:
    """A hole bored down a helix, with one level turn at its end."""
    radius = (diameter - cutter.diameter) / 2
    trace = Trace(at[0] + radius, at[1], rates.clearance)
    trace.down(0.3, rates.quick)
    if radius < 1e-6:
        trace.down(-depth, rates.plunge)
    else:
        feed = rates.feed * max(0.25, (diameter - cutter.diameter) / diameter)
        pitch = 2 * math.pi * radius * math.tan(math.radians(RAMP))
        trace.extend(helix_moves(at, radius, trace.here[2], -depth, pitch, feed))
        trace.line(at[0], at[1], -depth, rates.feed)
    trace.lift(rates.clearance)
    return trace.path()


def _feed(job: Job, cutter: Cutter, depth: float) -> Feed:
    limits = Limits(force_N=job.file.cutting.thrust_limit, chip=CHIP_SHARE * cutter.diameter)
    return feed_for(cutter, SHEET, job.bed, cutter.diameter, min(depth, DEEPEST * cutter.diameter), limits)


def _rates(job: Job, f: Feed) -> Rates:
    return Rates(f.feed, f.plunge, job.bed.feed_limit[2], job.file.cutting.clearance)


def _cut(name: str, kind: str, cutter: Cutter, f: Feed, pieces: tuple[Piece, ...], job: Job) -> Cut:
    seconds = 0.0
    here = None
    for piece in pieces:
        p = piece.path
        seconds += path_seconds(p.kind, p.start, p.end, p.centre, p.feed, job.bed)
        if here is not None:
            seconds += 60.0 * float(np.linalg.norm(p.start - here)) / min(job.bed.rapid[:2])
        here = p.end[-1]
    peak = Peak(f.thickest, f.force, f.power, f.deflection)
    return Cut(name, kind, cutter.number, f.rpm, pieces, peak, seconds)


def _slots(
    pads: Sequence[Pad], side: str, job: Job, before: str | None, findings: list[Finding]
) -> list[Cut]:
    flats = [c for c in _flats(job) if c.flute_length >= pads[0].slot_depth]
    if not flats:
        findings.append(
            Finding(
                "cutter for the slots",
                Verdict.NO_GO,
                pads[0].slot_depth,
                "mm",
                why="No flat cutter's flutes reach the slots' depth: list a longer one or lower placing.slot_depth.",
            )
        )
        return []
    cutter = flats[0]
    f = _feed(job, cutter, pads[0].slot_depth)
    pieces = []
    for pad in pads:
        already = pad.slot[before] if before is not None else None
        low, high = pad.slot[side]
        if already is not None and low >= already[0] - 1e-9 and high <= already[1] + 1e-9:
            continue
        if high - low < cutter.diameter:
            findings.append(
                Finding(
                    "slot width",
                    Verdict.NO_GO,
                    high - low,
                    "mm",
                    cutter.diameter,
                    why=f"The slot of {pad.name} is narrower than the cutter: list a smaller cutter.",
                    where=pad.name,
                )
            )
            continue
        pieces.append(Piece(f"slot of {pad.name}", slot_path(pad, side, cutter, _rates(job, f), already)))
    return [_cut("slots", "slot", cutter, f, tuple(pieces), job)] if pieces else []


def _holes(pads: Sequence[Pad], job: Job, pad_top: float, findings: list[Finding]) -> list[Cut]:
    wanted = [
        (f"insert {i} of {pad.name}", at, pad.insert_diameter, pad)
        for pad in pads
        for i, at in enumerate(pad.inserts, 1)
    ]
    wanted += [
        (f"stop pin of {pad.name}", pad.stop, pad.stop_diameter, pad) for pad in pads if pad.stop is not None
    ]
    by_cutter: dict[int, list[Piece]] = {}
    feeds: dict[int, Feed] = {}
    for name, at, diameter, pad in wanted:
        fitting = [c for c in _flats(job) if c.diameter <= diameter + 1e-9 and c.diameter >= diameter / 2]
        if not fitting:
            findings.append(
                Finding(
                    "cutter for a pad's hole",
                    Verdict.NO_GO,
                    diameter,
                    "mm",
                    why=f"There is no flat cutter between {diameter / 2:g} and {diameter:g} mm to bore it: drill it by hand, or list one.",
                    where=name,
                )
            )
            continue
        cutter = fitting[0]
        depth = min(pad.thickness - LEFT_UNDER, cutter.flute_length, _deepest_tip(job, cutter, pad_top))
        if depth < SHALLOWEST:
            findings.append(
                Finding(
                    "depth of a pad's hole",
                    Verdict.NO_GO,
                    depth,
                    "mm",
                    SHALLOWEST,
                    depth - SHALLOWEST,
                    why=f"No more is left by the sheet, {cutter.name} and the bottom of Z: use thicker pads, or let it stick out further.",
                    where=name,
                )
            )
            continue
        f = feeds.setdefault(cutter.number, _feed(job, cutter, cutter.diameter / 2))
        by_cutter.setdefault(cutter.number, []).append(
            Piece(name, bore_path(at, diameter, depth, cutter, _rates(job, f)))
        )
        findings.append(
            Finding(
                "depth of a pad's hole",
                Verdict.GO,
                depth,
                "mm",
                why=f"Ø{diameter:g} mm. If the insert is longer, deepen it by hand after the pads are cut.",
                where=name,
            )
        )
    return [
        _cut("holes", "bore", job.cutter(n), feeds[n], tuple(pieces), job) for n, pieces in by_cutter.items()
    ]


def plan_pads(placement: Placement, job: Job) -> tuple[SideCuts, ...]:
    """Cuts of the pads in the (x, s) axes of the first setup, n = 0 on the pads' top.

    The first entry, side "pads", is made before any side: slots for the first side, then holes. A further entry
    "pads-<side>" widens the slots before a later side that needs them wider.
    """
    if not placement.setups:
        return ()
    first = placement.setups[0]
    findings: list[Finding] = []
    cuts = _slots(first.pads, first.side, job, None, findings) + _holes(
        first.pads, job, first.pad_top, findings
    )
    out = [SideCuts("pads", tuple(cuts), tuple(findings))]
    before = first.side
    for setup in placement.setups[1:]:
        more: list[Finding] = []
        widened = _slots(first.pads, setup.side, job, before, more)
        if widened or more:
            out.append(SideCuts(f"pads-{setup.side}", tuple(widened), tuple(more)))
        before = setup.side
    return tuple(out)
