"""Questions 2 and 3 from a member and a job: one pose line for all sides, pads, clamps, and what was found."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from shapely.geometry import box

from sparwright.answers import BadInput, Finding, Verdict
from sparwright.job.models import Job
from sparwright.job.reading import job_error
from sparwright.placing.clamps import make_clamps
from sparwright.placing.error import Situation, error_findings, situation
from sparwright.placing.fit import TOUCH, Lie
from sparwright.placing.fitting import (
    Fitted,
    body_corners,
    fit_findings,
    fit_job,
    limited_by,
    stations_for,
)
from sparwright.placing.heights import bed_finding, floor_height, height_findings
from sparwright.placing.holding import hold_findings
from sparwright.placing.lying import Lying, lie_down, side_order
from sparwright.placing.model import Fit, Placement, Pose, Setup, Taken
from sparwright.placing.pads import CLEARANCE, Arrangement, Bench, make_bench, make_pads, shifted_pad, stop_at
from sparwright.stock.model import Member

LEAST_FLOOR = 2.0
"""Least thickness of a slot's floor, mm (common practice, no source)."""
LEAST_PROUD = 0.7
"""Greatest share of the member's height that may lie in the slot (common practice, no source)."""


def bench_of(member: Member, job: Job, sides: Sequence[str]) -> tuple[Bench, str]:
    """The sides as they lie, in the order they are cut, and why in that order."""
    depth, thick = job.file.placing.slot_depth, job.file.placing.pad_thickness
    if depth >= thick - LEAST_FLOOR:
        raise job_error(
            job,
            ("placing", "slot_depth"),
            f"a slot {depth:g} mm deep leaves no floor in pads {thick:g} mm thick",
            f"below {thick - LEAST_FLOOR:g} mm",
            "make the slot shallower or the pads thicker",
        )
    lyings = {side: lie_down(member, side, depth, job.cutters) for side in sides}
    lowest = min(lyings.values(), key=lambda y: y.height)
    if depth > LEAST_PROUD * lowest.height:
        raise job_error(
            job,
            ("placing", "slot_depth"),
            f"a slot {depth:g} mm deep swallows the member, which is {lowest.height:g} mm high with face {lowest.face} up",
            f"at most {LEAST_PROUD * lowest.height:.2f} mm",
            "make the slot shallower, so that cutters stay clear of the pads",
        )
    order, reason = side_order(member, list(lyings.values()))
    return make_bench(member, job, [lyings[side] for side in order]), reason


def _side_pose(lie: Lie, lying: Lying) -> Pose:
    """Pose of one face: its (0, 0) lies beside the common line by the place of the slot's middle."""
    c = lying.centre
    return Pose(lie.x + c * math.sin(lie.angle), lie.y - c * math.cos(lie.angle), lie.angle)


def _nothing_to_cut(member: Member) -> Fit:
    return Fit(True, None, 0.0, "nothing: no side is cut", ((0.0, math.pi),), ((0.0, member.length),))


def _as_fit(bench: Bench, fitted: Fitted) -> tuple[Fit, tuple[Finding, ...]]:
    """The fit as handed on, and a finding on stations where one pose does not do."""
    member, best, lie = bench.member, fitted.found.best, fitted.lie
    body = body_corners(member.length, bench.lyings)

    def held(by: Lie) -> Taken:
        return Taken(_side_pose(by, bench.lyings[0]), by.margin, limited_by(fitted, by, body, bench.job.bed))

    most, taken = held(best), held(lie)
    fits = lie.margin >= -TOUCH
    if fits or fitted.asked:
        pose = most.pose if best.margin >= -TOUCH else None
        whole = ((0.0, member.length),) if fits else ()
        return Fit(fits, pose, best.margin, most.limited_by, fitted.found.angles, whole, taken), ()
    plan, how = stations_for(bench)
    if plan is None:
        found = Finding(
            "stations",
            Verdict.NO_GO,
            why=f"Feeding the member through does not help. {how[0].upper()}{how[1:]}.",
        )
        return Fit(False, None, best.margin, most.limited_by, (), (), taken), (found,)
    count = len(plan.ranges)
    seams = ", ".join(f"{high:.0f}" for _, high in plan.ranges[:-1])
    found = Finding(
        "stations",
        Verdict.NO_GO,
        float(count),
        "",
        why=f"It would take {count} stations, {how}, with seams at x = {seams} mm. Programs for stations are not written yet. "
        "Shorten what is cut so that one pose does, or use a larger machine.",
    )
    return Fit(False, None, best.margin, most.limited_by, (), plan.ranges, taken), (found,)


def fit_sides(member: Member, job: Job, sides: Sequence[str]) -> Fit:
    """Question 2 for some sides of the member, one pose line for all of them; the pads' own cuts counted.

    Raises BadInput for a side the section has no face for.
    """
    known = [f.name for f in member.section.faces]
    for side in sides:
        if side not in known:
            raise BadInput(f'no face "{side}"; this section has {", ".join(known)}')
    if not sides or not any(member.on_face(side) for side in sides):
        return _nothing_to_cut(member)
    bench, _ = bench_of(member, job, sides)
    return _as_fit(bench, fit_job(bench))[0]


def needed_positions(member: Member, job: Job) -> tuple[np.ndarray, tuple[str, ...]]:
    """All cutter-centre positions the placing counts, (k, 2) in (x, t) of the pose line, and what each belongs to."""
    bench, _ = bench_of(member, job, member.worked_faces)
    needed = fit_job(bench).needed
    return needed.points, needed.names


def place(member: Member, job: Job) -> Placement:
    """How the member lies on the bed, side by side, with the findings of questions 2 and 3.

    Where one pose does not serve all cuts there are no setups.
    """
    if not member.worked_faces:
        return Placement(_nothing_to_cut(member), (), (), ())
    bench, reason = bench_of(member, job, member.worked_faces)
    fitted = fit_job(bench)
    fit, station_findings = _as_fit(bench, fitted)
    findings = [*fit_findings(bench, fitted), *station_findings, *height_findings(member, job, bench.lyings)]
    a = fitted.arrangement
    if not fit.fits:
        return Placement(fit, (), tuple(findings), ())
    if a is None:
        findings.append(
            Finding(
                "pads in the reach",
                Verdict.NO_GO,
                why="The features fit, but no pair of locating slots does. Make the pads shorter (pad_length), keep cuts further from the "
                "member's edges, or use a larger machine.",
            )
        )
        return Placement(fit, (), tuple(findings), ())
    setups = tuple(_setup(bench, fitted, a, i) for i in range(len(bench.lyings)))
    findings.append(bed_finding(setups[0], job))
    errors, walls = errors_situation(bench, fitted, a), bearing_walls(bench)
    holds = (
        *hold_findings(bench, a, reason),
        *error_findings(member, bench.lyings, walls, errors, CLEARANCE[job.file.placing.fit]),
    )
    return Placement(fit, setups, tuple(findings), holds)


def errors_situation(bench: Bench, fitted: Fitted, a: Arrangement) -> Situation:
    """What the errors of the features' places come from, with the member as it lies."""
    middles = tuple((x0 + x1) / 2 for x0, x1 in a.outer)
    return situation(
        bench.job.bed,
        bench.member.material,
        bench.job.file.cutting.thrust_limit,
        fitted.lie.angle,
        stop_at(bench),
        (middles[0], middles[1]),
        max(y.half_width for y in bench.lyings),
    )


def bearing_walls(bench: Bench) -> tuple[float, ...]:
    """The slot's wall that each side bears on, 1.0 left, -1.0 right: the same edge of the member each time."""
    return tuple(_wall(bench, i) for i in range(len(bench.lyings)))


def _setup(bench: Bench, fitted: Fitted, a: Arrangement, i: int) -> Setup:
    lying, job = bench.lyings[i], bench.job
    pose = _side_pose(fitted.lie, lying)
    dowel = None
    if a.stop == "dowel":
        x, t = stop_at(bench)
        dowel = (x, t + lying.centre)
    return Setup(
        side=lying.face,
        face=lying.face,
        order=i + 1,
        station=1,
        pose=pose,
        face_height=floor_height(job) + lying.height,
        pad_top=job.file.placing.pad_thickness,
        body=box(0.0, lying.body[0], bench.member.length, lying.body[1]),
        pads=tuple(shifted_pad(p, lying.centre) for p in make_pads(bench, a)),
        clamps=make_clamps(bench, a, lying),
        flip=_how_it_lies(bench, i),
        zero=_zero(pose, dowel, a),
        dowel=dowel,
    )


def _turn(bench: Bench, i: int) -> float:
    """Turn about the long axis from the first side to side i, radians in (-pi, pi]."""
    section = bench.member.section
    first, here = (section.face(bench.lyings[k].face).angle for k in (0, i))
    return math.remainder(here - first, 2 * math.pi)


def _wall(bench: Bench, i: int) -> float:
    """The slot's wall that side i bears on, 1.0 left, -1.0 right: the same edge of the member each time."""
    return -1.0 if abs(math.degrees(_turn(bench, i))) > 90 else 1.0


def _how_it_lies(bench: Bench, i: int) -> str:
    """How the member gets there; left is +s, seen along the member from its datum end.

    The same edge bears on the slot each time, so after a half turn it is pushed the other way.
    """
    side = bench.lyings[i].face
    if i == 0:
        return f"Lay the member in the slots, face {side} up, datum end to the stop, and push it to the left."
    turn = abs(math.degrees(_turn(bench, i)))
    how = "half a turn" if abs(turn - 180) < 0.5 else f"{turn:.0f}°"
    push = "right, so that the same edge bears" if _wall(bench, i) < 0 else "left"
    return f"Turn the member {how} about its long axis, face {side} up, the datum end at the stop as before, and push it to the {push}."


def _zero(pose: Pose, dowel: tuple[float, float] | None, a: Arrangement) -> str:
    words = "X0 Y0 at the left front corner of the reach, Z0 on the face after clamping."
    if dowel is not None:
        x, y = pose.to_bed(np.array([dowel]))[0]
        words += f" Stop: a 6 mm dowel in the collet at X {x:.3f} Y {y:.3f}, taken out after clamping."
    if a.stop == "none":
        words += " No stop: touch the datum end for x."
    if a.by_hand:
        words += " Holes for the clamp screws by hand: template printed."
    return words
