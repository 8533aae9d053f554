"""Checks of what the cutters bear along the program, as met in simulation: force, power, deflection."""

from __future__ import annotations

import math

import numpy as np

from sparwright.answers import Verdict
from sparwright.job.models import Cutter
from sparwright.proof.case import Case, blame_moves, passed
from sparwright.proof.loads import CORE_SHARE, Loads, loads_of
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway

STRENGTH = 2000.0  # MPa in bending at which a carbide cutter snaps, about (from memory)
FORCE_CAUTION = 0.8  # share of that: common practice, no source
POWER_CAUTION = 0.8  # share of the spindle's power: common practice, no source
BEND = (
    0.2  # mm usually left on walls for finishing; a cutter that bends further cuts into them: common practice
)


def greatest_force(cutter: Cutter) -> float:
    """Force at the end that the fluted length takes in bending, N: its root, or the shank's at the holder."""
    flute = min(cutter.flute_length, cutter.stick_out)

    def takes(diameter: float, lever: float) -> float:
        return STRENGTH * math.pi * diameter**3 / 32 / lever

    return min(takes(CORE_SHARE * cutter.diameter, flute), takes(cutter.shank, cutter.stick_out))


def power_there_is(case: Case) -> np.ndarray:
    """Power at the cutter of each motion, W, (k,): in proportion to speed below that of full power."""
    spindle = case.job.bed.spindle
    full = spindle.full_power_at or spindle.fastest
    return np.asarray(spindle.power * spindle.efficiency * np.minimum(1.0, case.moves.rpm / full))


def check_loads(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """The peaks of force, power, deflection and engagement against what cutter and spindle take."""
    loads = loads_of(case, cut)
    return [*_force(case, loads), *_power(case, loads), *_bend(case, loads), *_engagement(case, loads)]


def _force(case: Case, loads: Loads) -> list[ProofFinding]:
    cutter = np.maximum(case.moves.cutter, 0)
    takes = np.array([greatest_force(c) for c in case.job.cutters])[cutter]
    plunges = loads.engaged > 2 * math.pi - 1e-6  # the edges of a plunging cutter hold each other's force
    force = np.where(plunges, 0.0, loads.force)
    share = force / takes
    findings: list[ProofFinding] = []
    for limit, verdict in ((1.0, Verdict.NO_GO), (FORCE_CAUTION, Verdict.CAUTION)):
        for t in np.unique(cutter[share > limit]) if not findings else ():
            findings += blame_moves(
                case,
                "force",
                np.flatnonzero((share > limit) & (cutter == t)),
                verdict,
                lambda k: (
                    f"loads T{case.moves.tool[k]} with {force[k]:.0f} N; it snaps at about {takes[k]:.0f} N; lower feed or "
                    "depth, or set the cutter out less"
                ),
                value=force,
                limit=limit * greatest_force(case.job.cutters[t]),
                unit="N",
            )
    if findings:
        return findings
    k = int(share.argmax())
    text = f"the greatest force is {force[k]:.0f} N, on T{case.moves.tool[k]}, which snaps at about {takes[k]:.0f} N"
    return [passed("force", text, float(force[k]), float(takes[k]), "N")]


def _power(case: Case, loads: Loads) -> list[ProofFinding]:
    there = power_there_is(case)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(loads.power > 0, loads.power / there, 0.0)
    for limit, verdict in ((1.0, Verdict.NO_GO), (POWER_CAUTION, Verdict.CAUTION)):
        bad = np.flatnonzero(share > limit)
        if len(bad):
            return blame_moves(
                case,
                "power",
                bad,
                verdict,
                lambda k: (
                    f"asks for {loads.power[k]:.0f} W at the cutter; the spindle gives {there[k]:.0f} W at "
                    f"{case.moves.rpm[k]:.0f} rpm; lower feed or depth"
                ),
                value=loads.power,
                limit=float(limit * there[bad[0]]),
                unit="W",
            )
    k = int(share.argmax())
    text = f"the greatest power is {loads.power[k]:.0f} W of {there[k]:.0f} at the cutter"
    return [passed("power", text, float(loads.power[k]), float(there[k]), "W")]


def _bend(case: Case, loads: Loads) -> list[ProofFinding]:
    return blame_moves(
        case,
        "deflection",
        np.flatnonzero(loads.deflection > BEND),
        Verdict.CAUTION,
        lambda k: (
            f"bends T{case.moves.tool[k]} by {loads.deflection[k]:.3f} mm; lower feed or depth, or set the cutter out less"
        ),
        value=loads.deflection,
        limit=BEND,
        unit="mm",
    ) or [
        passed(
            "deflection",
            f"cutters bend by {loads.deflection.max(initial=0.0):.3f} mm at most",
            float(loads.deflection.max(initial=0.0)),
            BEND,
            "mm",
        )
    ]


def _engagement(case: Case, loads: Loads) -> list[ProofFinding]:
    milling = np.where(loads.engaged < 2 * math.pi - 1e-6, loads.engaged, 0.0)
    if len(milling) == 0:
        return []
    k = int(milling.argmax())
    name, line = case.line_of(k)
    text = f"the widest engagement is {math.degrees(milling[k]):.0f} degrees, {loads.width[k]:.2f} mm wide"
    place = case.end_of(k)
    return [
        ProofFinding(
            "engagement", Verdict.GO, text, case.feature_near(*place[:2]), name, line, place,
            math.degrees(milling[k]), None, "deg",
        )
    ]  # fmt: skip
