"""Question 3: what locates the member, what holds it, and what the clamps do to it."""

from __future__ import annotations

import math
from itertools import pairwise

from sparwright.answers import Finding, Verdict
from sparwright.placing.clamps import (
    Squeeze,
    bending_between_pads,
    bending_stiffness,
    safety_against_slip,
    straps_for,
    wall_squeeze,
)
from sparwright.placing.lying import Lying
from sparwright.placing.pads import CLEARANCE, Arrangement, Bench, make_pads, strap_gap
from sparwright.placing.straps import SCATTER, clamps_needed

SAFE, SAFE_WANTED = 2.0, 2.5
"""Safety against slipping, least and wanted (common practice, no source)."""
LIFT = 1 / 3
"""Lift of an up-cut cutter over the cutting force (common practice, no source)."""
FRICTION_HIGH = 0.6
"""High end of friction of wood on dry metal; the low end is the job's."""
PULL_OUT = {"M5": 900.0, "M6": 1110.0, "M8": 1500.0}
"""Force that pulls a pronged T-nut out of a wood panel, N: M6 in plywood 1113 to 1158 (Drvna industrija 73(3),
2022); M5 and M8 in proportion to the thread, from memory."""
BEND_LIMIT = 0.02
"""Greatest yield of the member between and beyond its pads under the cutting force, mm (common practice, no source)."""
TIP_ROOM = 2.0


def hold_findings(bench: Bench, a: Arrangement, reason: str) -> tuple[Finding, ...]:
    """Everything question 3 asks of pads, stop and clamps; the error budget is apart."""
    lyings = bench.lyings
    out = [_order(reason), _slot(bench), *_pad_width(bench), _stop(bench, a)]
    out += [_rest(y) for y in lyings]
    if a.contacts == (None, None):
        out.append(
            Finding(
                "clamps",
                Verdict.NO_GO,
                why="There is no plain metal near either end for a strap. Leave at least "
                f"{bench.strap_width + 2 * bench.keep:.0f} mm at each end without pockets, holes or notches.",
            )
        )
        return tuple(out)
    if None in a.contacts:
        end = "datum" if a.contacts[0] is None else "far"
        out.append(
            Finding(
                "clamps at both ends",
                Verdict.CAUTION,
                why=f"There is no plain metal for straps at the {end} end. Hold that end with a stop that cannot rise, or leave "
                f"{bench.strap_width + 2 * bench.keep:.0f} mm of plain metal there.",
            )
        )
    out += [_clear_of_cuts(bench, a), *_slip(bench, a), _screws(bench, a)]
    out += [*_bending(bench, a), _squeeze(bench, a)]
    return tuple(out)


def _order(reason: str) -> Finding:
    return Finding("which side first", Verdict.GO, why=reason)


def _slot(bench: Bench) -> Finding:
    play = CLEARANCE[bench.placing.fit]
    widths = " and ".join(sorted({f"{2 * y.half_width + play:.2f}" for y in bench.lyings}))
    return Finding(
        "clearance in the slots",
        Verdict.GO,
        play,
        "mm",
        why=f"A {bench.placing.fit} fit for the section as stated: slots {widths} mm wide. Extrusions may be 0.3 to 0.7 mm off "
        "(EN 755-9). Measure the member where the pads stand, and state that width before the pads are cut.",
    )


def _pad_width(bench: Bench) -> tuple[Finding, ...]:
    have, need = bench.placing.pad_width, bench.pad_width_needed
    if have >= need:
        return ()
    return (
        Finding(
            "width of the pads",
            Verdict.NO_GO,
            have,
            "mm",
            need,
            have - need,
            why=f"Slot and clamp screws have no room side by side. Make pad_width at least {math.ceil(need)} mm.",
        ),
    )


def _stop(bench: Bench, a: Arrangement) -> Finding:
    if a.stop == "pin":
        return Finding(
            "stop at the datum end",
            Verdict.GO,
            why="A 6 mm pin in a hole of the datum-end pad, clear of notches on every side.",
        )
    if a.stop == "dowel":
        return Finding(
            "stop at the datum end",
            Verdict.GO,
            why="There is no stop pin: a pad under the datum end would lie outside the reach. A 6 mm dowel in the collet, "
            "driven to the place the sheet gives, is the stop until the member is clamped.",
        )
    return Finding(
        "stop at the datum end",
        Verdict.CAUTION,
        why="No stop in reach would meet metal of the datum end. Find x by touching the datum end with every side up.",
    )


def _rest(lying: Lying) -> Finding:
    inside = min(lying.middle - lying.rest[0], lying.rest[1] - lying.middle)
    verdict = Verdict.GO if inside >= TIP_ROOM else Verdict.CAUTION
    stands = f"With side {lying.face} up it stands on {lying.rest[1] - lying.rest[0]:.1f} mm"
    why = f"{stands}, its weight well inside."
    if verdict is not Verdict.GO:
        why = f"{stands}, its weight at the edge or outside. It tips until it is clamped: prop it up at the side while clamping."
    return Finding(
        "standing in the slots", verdict, inside, "mm", TIP_ROOM, inside - TIP_ROOM, why=why, where=lying.face
    )


def _clear_of_cuts(bench: Bench, a: Arrangement) -> Finding:
    gaps = []
    for contact, inward in ((a.contacts[0], 1.0), (a.contacts[1], -1.0)):
        if contact is not None:
            gaps.append(strap_gap(bench, contact, contact + inward * a.shift))
    gap = min(gaps)
    if math.isinf(gap):
        return Finding("straps clear of the cuts", Verdict.GO, why="No cut comes near the straps.")
    good = gap >= bench.keep
    return Finding(
        "straps clear of the cuts",
        Verdict.GO if good else Verdict.NO_GO,
        gap,
        "mm",
        bench.keep,
        gap - bench.keep,
        why="From the nearest pocket, hole or notch of any side. Needed: the largest cutter's radius and 1 mm."
        + ("" if good else " Leave more plain metal at the ends, or use a smaller cutter."),
    )


def _slip(bench: Bench, a: Arrangement) -> tuple[Finding, ...]:
    p, thrust = bench.placing, bench.job.file.cutting.thrust_limit
    count = len(bench.signs) * sum(c is not None for c in a.contacts)
    lift = LIFT * thrust
    least = safety_against_slip((1 - SCATTER) * p.clamp_force, count, thrust, lift, p.friction)
    most = safety_against_slip(
        (1 + SCATTER) * p.clamp_force, count, thrust, lift, max(p.friction, FRICTION_HIGH)
    )
    slack = (1 - SCATTER) * p.clamp_force
    needed = math.ceil(clamps_needed(thrust, lift, p.friction, slack, SAFE_WANTED) - 1e-9)
    enough = SAFE_WANTED * p.clamp_force / least
    verdict = Verdict.GO if least >= SAFE_WANTED else Verdict.CAUTION if least >= SAFE else Verdict.NO_GO
    why = (
        f"{count} clamps against {thrust:g} N of cutting force and {lift:.0f} N of lift, friction {p.friction:g} on the pads alone, "
        f"screws a quarter slack. Up to {most:.0f} with friction {max(p.friction, FRICTION_HIGH):g}. {needed} such clamps, "
        f"or {enough:.0f} N a clamp, would do."
    )
    if verdict is not Verdict.GO:
        why += " Raise clamp_force, or line the slots with something that grips and state its friction."
    held = count * (1 - SCATTER) * p.clamp_force / max(lift, 1e-9)
    tight = held >= SAFE_WANTED
    return (
        Finding("holding against sliding", verdict, least, "", SAFE, least - SAFE, why=why),
        Finding(
            "holding down against lift",
            Verdict.GO if tight else Verdict.NO_GO,
            held,
            "",
            SAFE,
            held - SAFE,
            why=f"All clamps together against the {lift:.0f} N with which an up-cut cutter lifts."
            + ("" if tight else " Raise clamp_force."),
        ),
    )


def _screws(bench: Bench, a: Arrangement) -> Finding:
    p = bench.placing
    levers = [s.lever for y in bench.lyings for _, s in straps_for(bench, a, y)]
    force = p.clamp_force / min(levers)
    limit = PULL_OUT[p.clamp_screw]
    verdict = Verdict.GO if 3 * force <= limit else Verdict.CAUTION if force <= limit else Verdict.NO_GO
    why = f"The screw pulls {force:.0f} N for {p.clamp_force:g} N on the member (lever {min(levers):.2f})."
    if verdict is not Verdict.GO:
        why += f" A nut or insert in a wood panel pulls out at about {limit:.0f} N; load it with a third of that at most. "
        lower = f"lower clamp_force to {limit / 3 * min(levers):.0f} N if that still holds."
        if verdict is Verdict.CAUTION:
            why += f"Put the nut or a plate under the pad, or {lower}"
        else:
            verdict = Verdict.CAUTION
            why += f"As it is, a plate under the pad is a must; or {lower}"
    return Finding("clamp screws in the pads", verdict, force, "N", limit / 3, limit / 3 - force, why=why)


def _bending(bench: Bench, a: Arrangement) -> tuple[Finding, ...]:
    thrust = bench.job.file.cutting.thrust_limit
    pads = make_pads(bench, a)
    span = max(right.x[0] - left.x[1] for left, right in pairwise(pads))
    stiffness = min(bending_stiffness(bench.member, y) for y in bench.lyings)
    least, most = bending_between_pads(thrust, span, stiffness)
    verdict = Verdict.GO if most <= BEND_LIMIT else Verdict.CAUTION if least <= BEND_LIMIT else Verdict.NO_GO
    out = [
        Finding(
            "bending between the pads",
            verdict,
            most,
            "mm",
            BEND_LIMIT,
            BEND_LIMIT - most,
            spread=most - least,
            why=f"{thrust:g} N in the middle of the {span:.0f} mm between pads, all pockets cut and no ribs counted, ends hinged. "
            f"With ends held: {least:.2g} mm." + ("" if verdict is Verdict.GO else " Add pads."),
        )
    ]
    out.append(_overhang(bench, a, thrust, stiffness))
    out.append(_bow(bench, a, span=pads[-1].x[0] - pads[0].x[1], stiffness=stiffness))
    return tuple(out)


def _overhang(bench: Bench, a: Arrangement, thrust: float, stiffness: float) -> Finding:
    xs = [float(x) for y in bench.lyings for x in y.needed.points[:, 0]]
    arm = max(0.0, a.outer[0][0] - max(0.0, min(xs)), min(bench.member.length, max(xs)) - a.outer[1][1])
    sag = thrust * arm**3 / (3 * stiffness)
    return Finding(
        "bending beyond the pads",
        Verdict.GO if sag <= BEND_LIMIT else Verdict.CAUTION,
        sag,
        "mm",
        BEND_LIMIT,
        BEND_LIMIT - sag,
        why=f"Cuts reach {arm:.0f} mm beyond the outer pads."
        + ("" if sag <= BEND_LIMIT else " Put loose packing under the end, as high as the slots' floor."),
    )


def _bow(bench: Bench, a: Arrangement, span: float, stiffness: float) -> Finding:
    """Straps that press beyond the pads bend the member up between them: f = M L² / 8 EI, M = n F e with n straps at an end."""
    arms = [0.0]
    if a.contacts[0] is not None:
        arms.append(a.outer[0][0] - a.contacts[0])
    if a.contacts[1] is not None:
        arms.append(a.contacts[1] - a.outer[1][1])
    arm = max(arms)
    bow = len(bench.signs) * bench.placing.clamp_force * arm * span**2 / (8 * stiffness)
    return Finding(
        "bow put in by the clamps",
        Verdict.GO if bow <= BEND_LIMIT else Verdict.CAUTION,
        bow,
        "mm",
        BEND_LIMIT,
        BEND_LIMIT - bow,
        why="The straps press over the pads, so they do not bend the member."
        if arm <= 0
        else f"The straps press {arm:.0f} mm beyond the pads and lift the middle. Put packing as high as the slots' floor under each strap.",
    )


def _squeeze(bench: Bench, a: Arrangement) -> Finding:
    material, force = bench.member.material, bench.placing.clamp_force
    limit = bench.job.file.cutting.floor_tolerance
    worst, where = Squeeze(0.0, 0.0, 0.0), ""
    for lying in bench.lyings:
        for name, strap in straps_for(bench, a, lying):
            here = wall_squeeze(lying, strap.contact[1], force, material.modulus, material.poisson)
            if here.most >= worst.most:
                worst, where = here, f"{lying.face}, {name}"
    good = worst.most <= limit
    why = "The toes press over metal or close to a web, where the wall hardly yields."
    if not good:
        why = (
            f"The wall, {worst.span:.0f} mm wide between webs, goes down under the toe, and skins cut near it come out too thick. "
            "Lay a block over both webs under the strap, or put a snug plug inside the member there."
        )
    return Finding(
        "wall under the straps",
        Verdict.GO if good else Verdict.CAUTION,
        worst.most,
        "mm",
        limit,
        limit - worst.most,
        spread=worst.most - worst.least,
        why=why,
        where=where,
    )
