"""Heights over the bed: can every cutter get down to its deepest cut and up over face, clamps and under the bridge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely.geometry import Polygon, box

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.placing.fitting import judged
from sparwright.placing.lying import Lying
from sparwright.placing.model import Pose, Setup
from sparwright.placing.straps import HEAD_HEIGHT, STRAP_THICKNESS
from sparwright.stock.model import Member

CLAMP_TOP = STRAP_THICKNESS + HEAD_HEIGHT
"""Top of a strap's screw over the face it lies on, mm."""
FREE = 2.0
"""Wanted above the needed, in Z, mm (common practice, no source)."""


def floor_height(job: Job) -> float:
    """Height of the slots' floor over the bed, mm."""
    return job.file.placing.pad_thickness - job.file.placing.slot_depth


def deepest_cut(member: Member, face: str) -> float:
    """Depth below the face of the deepest feature, mm."""
    return max((float(f.depth) for f in member.on_face(face)), default=0.0)


def height_findings(member: Member, job: Job, lyings: Sequence[Lying]) -> tuple[Finding, ...]:
    """Question 2: highest and lowest position of the cutters' tips, and the bridge."""
    bed, wishes, floor = job.bed, job.file.cutting, floor_height(job)
    long = max(job.cutters, key=lambda c: c.stick_out)
    short = min(job.cutters, key=lambda c: c.stick_out)
    tallest = max(lyings, key=lambda y: y.height + y.above)
    top = floor + tallest.height + tallest.above
    over = max(wishes.safe_height, CLAMP_TOP + wishes.clearance)
    high = bed.nose_height - long.stick_out - (top + over)
    low_nose = bed.nose_height - bed.reach[2]
    deepest = min(floor + y.height - deepest_cut(member, y.face) - wishes.break_through for y in lyings)
    low = min(deepest, floor) - (low_nose - short.stick_out)
    bridge = bed.bridge_clearance - (top + CLAMP_TOP)
    out = [
        Finding(
            "tip over face and clamps",
            judged(high, FREE),
            high,
            "mm",
            FREE,
            high - FREE,
            why=f"{long.name}, the longest out of the collet, at the top of Z, above the height where programs start "
            f"({over:g} mm above the face, {top:.1f} mm above the bed)."
            + ("" if high >= FREE else " Use thinner pads, a shorter stick-out, or a lower safe_height."),
        ),
        Finding(
            "tip down to the deepest cut",
            judged(low, 0.0),
            low,
            "mm",
            0.0,
            low,
            why=f"{short.name}, the shortest out of the collet, at the bottom of Z. It must get down to {min(deepest, floor):.1f} mm above the bed."
            + ("" if low >= 0 else " Use thicker pads or let the cutters stick out further."),
        ),
        Finding(
            "member and clamps under the bridge",
            judged(bridge, FREE),
            bridge,
            "mm",
            FREE,
            bridge - FREE,
            why=f"Clamps rise to {top + CLAMP_TOP:.1f} mm above the bed."
            + ("" if bridge >= FREE else " Use thinner pads or lay the member on another side."),
        ),
    ]
    return tuple(out)


def bed_finding(setup: Setup, job: Job) -> Finding:
    """Question 2: whether the pads stand on the bed; a corner that hangs over is a caution, half a pad a no-go."""
    (x, y), (w, d) = job.bed.bed_offset, job.bed.bed_size
    table = box(x, y, x + w, y + d)
    worst, where, share = float("inf"), "", 1.0
    for pad in setup.pads:
        corners = _corners(setup.pose, pad.x, pad.s)
        gap = float(min((corners - (x, y)).min(), ((x + w, y + d) - corners).min()))
        if gap < worst:
            worst, where = gap, pad.name
            sheet = Polygon(corners)
            share = float(sheet.intersection(table).area / sheet.area)
    verdict = Verdict.GO
    why = "Every pad stands on the bed."
    if worst < 0:
        verdict = Verdict.CAUTION if share >= 0.8 else Verdict.NO_GO
        why = (
            f"A corner of {where} hangs over the bed's edge; {100 * share:.0f} % of the pad stands on it. Saw the corner off, or "
            "make the pads shorter or narrower."
        )
    return Finding("pads on the bed", verdict, worst, "mm", 0.0, worst, why=why, where=where)


def _corners(pose: Pose, x: tuple[float, float], s: tuple[float, float]) -> np.ndarray:
    return pose.to_bed(np.array([(x[0], s[0]), (x[1], s[0]), (x[1], s[1]), (x[0], s[1])]))
