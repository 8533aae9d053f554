"""Checks of what the cutters bear along the program, as met in simulation: force, power, deflection, engagement."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from sparwright.answers import Verdict
from sparwright.job.models import Cutter
from sparwright.proof.case import Case, blame_moves, passed
from sparwright.proof.loads import CORE_SHARE, Loads
from sparwright.proof.model import ProofFinding

STRENGTH = 2000.0
"""Bending stress at which a carbide cutter snaps, about, MPa.

The transverse rupture strength of cemented carbide runs from about 1000 to 3000 MPa, with the width of the binder
between its grains, and its modulus from about 700 GPa with little cobalt to 350 with half of it (Humphry-Baker and
Smith, Phil. Trans. R. Soc. A 377, 20170443, 2019, section 3, doi 10.1098/rsta.2017.0443). Where a cutter's grade lies
in that range nobody states, so the middle is taken; that fluted cutters are ground from the stronger half, and that
notches and wear take some of it back, is from memory.
"""
FORCE_CAUTION = 0.8  # share of that: common practice, no source
POWER_CAUTION = 0.8  # share of the spindle's power: common practice, no source
BEND = (
    0.2  # mm usually left on walls for finishing; a cutter that bends further cuts into them: common practice
)
WIDEST = 180.0  # engagement of a full slot, degrees: no cut is wider


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


def check_loads(case: Case, loads: Loads, bed_known: bool = True) -> list[ProofFinding]:
    """The peaks of force, power, deflection and engagement against what cutter and spindle take.

    bed_known: whether the spindle is one that was stated; else the power is told and held against nothing.
    """
    power = _power(case, loads) if bed_known else _power_told(loads)
    return [*_force(case, loads), *power, *_bend(case, loads), *_engagement(case, loads)]


def bending_force(case: Case, loads: Loads) -> tuple[np.ndarray, np.ndarray]:
    """Of each motion the greatest force on a tooth that bends its cutter, and the force that snaps that cutter, N, (k,) each.

    A tooth is taken as straight: a wound one, whose edge meets the chip over a spell, bears less; what the chip pushes
    outward is left out (some 0.3 of it for a sharp tooth in aluminium, 4 % of the sum: from memory).
    """
    cutter = np.maximum(case.moves.cutter, 0)
    takes = np.array([greatest_force(c) for c in case.job.cutters])[cutter]
    flutes = np.array([c.flutes for c in case.job.cutters])[cutter]
    plunges = loads.engaged > 2 * math.pi - 1e-6
    return np.where(
        plunges & (flutes > 1), 0.0, loads.tooth
    ), takes  # edges that plunge hold each other's force


def _force(case: Case, loads: Loads) -> list[ProofFinding]:
    """The greatest force on a tooth against what snaps the cutter."""
    force, takes = bending_force(case, loads)
    cutter = np.maximum(case.moves.cutter, 0)
    share = force / takes
    findings: list[ProofFinding] = []
    for t in np.unique(cutter[share > FORCE_CAUTION]):
        worst = share[cutter == t].max()
        limit, verdict = (1.0, Verdict.NO_GO) if worst > 1 else (FORCE_CAUTION, Verdict.CAUTION)
        findings += blame_moves(
            case,
            "force",
            np.flatnonzero((share > limit) & (cutter == t)),
            verdict,
            lambda k: (
                f"loads T{case.moves.tool[k]} with {force[k]:.0f} N. It snaps at about {takes[k]:.0f} N. Lower feed or "
                "depth, or set the cutter out less"
            ),
            value=force,
            limit=limit * takes,
            unit="N",
        )
    if findings:
        return findings
    k = int(share.argmax())
    text = f"the force nearest its limit is {force[k]:.0f} N, on T{case.moves.tool[k]}, which snaps at about {takes[k]:.0f} N"
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
                    f"asks for {loads.power[k]:.0f} W at the cutter, and the spindle gives {there[k]:.0f} W at "
                    f"{case.moves.rpm[k]:.0f} rpm. Lower feed or depth"
                ),
                value=loads.power,
                limit=limit * there,
                unit="W",
            )
    k = int(share.argmax())
    text = f"the power nearest its limit is {loads.power[k]:.0f} W of {there[k]:.0f} at the cutter"
    return [passed("power", text, float(loads.power[k]), float(there[k]), "W")]


def _power_told(loads: Loads) -> list[ProofFinding]:
    most = float(loads.power.max(initial=0.0))
    text = f"the greatest power at the cutter is {most:.0f} W. The spindle's is not known, and so not judged"
    return [passed("power", text, most, None, "W")]


def _bend(case: Case, loads: Loads) -> list[ProofFinding]:
    """How far the cutter's end bends under the force a tooth bears on the mean while it is in the metal: the peak comes
    where the chip is thickest, ahead of the cutter, and has passed when the tooth comes by the wall.
    """
    most = float(loads.deflection.max(initial=0.0))
    return blame_moves(
        case,
        "deflection",
        np.flatnonzero(loads.deflection > BEND),
        Verdict.CAUTION,
        lambda k: (
            f"bends T{case.moves.tool[k]} by {loads.deflection[k]:.3f} mm. Lower feed or depth, or set the cutter out less"
        ),
        value=loads.deflection,
        limit=BEND,
        unit="mm",
    ) or [passed("deflection", f"cutters bend by {most:.3f} mm at most", most, BEND, "mm")]


def _engagement(case: Case, loads: Loads) -> list[ProofFinding]:
    milling = np.where(loads.engaged < 2 * math.pi - 1e-6, loads.engaged, 0.0)
    if len(milling) == 0:
        return []
    k = int(milling.argmax())
    program, line = case.line_of(k)
    wide = min(math.degrees(milling[k]), WIDEST)
    text = f"the widest engagement is {wide:.0f} degrees, {loads.width[k]:.2f} mm wide"
    place = case.end_of(k)
    found = passed("engagement", text, wide, WIDEST, "deg")
    return [
        replace(found, feature=case.feature_near(*place[:2]), program=program, line=line, at=place),
    ]
