"""The answers to questions 2 to 6, put together from what the rooms found."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from sparwright.answers import Answer, Finding, Verdict, answer, worst
from sparwright.cutting.model import SideCuts
from sparwright.placing.model import Placement
from sparwright.program.model import Program
from sparwright.proof.model import Proof

NOTHING_TO_CUT = "There is nothing to cut: the job names no field, pocket, hole or notch. Add one, or take the stock as it is."


def fits(placement: Placement) -> Answer:
    """Question 2."""
    taken = placement.fit.taken
    if taken is None:
        return Answer(2, Verdict.CAUTION, NOTHING_TO_CUT)
    if placement.fit.fits:
        lies = f"It fits at {math.degrees(taken.pose.angle):.2f}° with {taken.margin:.1f} mm to spare"
        headline = f"{lies}, limited by {_shortly(taken.limited_by)}."
    else:
        headline = f"It does not fit: {-taken.margin:.3g} mm of reach are missing, limited by {_shortly(taken.limited_by)}."
    return answer(2, headline, placement.fit_findings)


def _shortly(limits: str) -> str:
    """What limits a pose without the features, which the findings name."""
    return re.sub(r" \([^()]*\)", "", limits)


def stays(placement: Placement) -> Answer:
    """Question 3."""
    if placement.fit.taken is None:
        return Answer(3, Verdict.CAUTION, NOTHING_TO_CUT)
    if not placement.setups:
        return Answer(3, Verdict.NO_GO, "Nothing can be placed until it fits.")
    verdict = worst(f.verdict for f in placement.hold_findings)
    setup = placement.setups[0]
    headline = f"{len(setup.pads)} pads cut in place and {len(setup.clamps)} clamps a side hold it"
    headline += {
        Verdict.GO: ".",
        Verdict.CAUTION: "; mind the cautions.",
        Verdict.NO_GO: ", but not safely: see what to change.",
    }[verdict]
    return answer(3, headline, placement.hold_findings)


def can_cut(
    placement: Placement, pads: Sequence[SideCuts], sides: Sequence[SideCuts], programs: Sequence[Program]
) -> Answer:
    """Question 4."""
    if placement.fit.taken is None:
        return Answer(4, Verdict.CAUTION, NOTHING_TO_CUT)
    if not placement.setups:
        return Answer(4, Verdict.NO_GO, "Nothing can be cut until it fits.")
    findings = [f for s in (*pads, *sides) for f in s.findings]
    minutes = sum(p.minutes for p in programs)
    cutters = sorted({n for p in programs for n in p.cutters})
    headline = f"{minutes / 60:.1f} hours of cutting in {_count(len(programs), 'program')} with {_count(len(cutters), 'cutter')}."
    if any(f.verdict is Verdict.NO_GO for f in findings):
        headline = "Not all of it can be cut; the rest: " + headline
    return answer(4, headline, findings)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def cuts_this_part(placement: Placement, proofs: Sequence[Proof], programs: Sequence[Program]) -> Answer:
    """Question 5."""
    if placement.fit.taken is None:
        return Answer(5, Verdict.CAUTION, NOTHING_TO_CUT)
    if not proofs:
        return Answer(5, Verdict.NO_GO, "There is no program to prove until it fits.")
    findings = []
    for proof in proofs:
        for f in proof.findings:
            line = f", line {f.line}" if f.line else ""
            where = f"{f.program}{line}" if f.program else proof.title
            name = f"{f.check}, {f.feature}" if f.feature else f.check
            findings.append(
                Finding(name, f.verdict, f.value, f.unit, f.limit, f.margin, f.spread, f.message, where)
            )
    findings.sort(key=lambda f: -f.verdict.rank)
    verdict = worst(f.verdict for f in findings)
    skins = [s for proof in proofs for s in proof.skins]
    if verdict is Verdict.NO_GO:
        bad = sum(f.verdict is Verdict.NO_GO for f in findings)
        headline = f"{_count(bad, 'finding')} {'forbids' if bad == 1 else 'forbid'} the first cut."
    else:
        headline = f"{_count(len(programs), 'program')}, read back and cut in simulation, {'cuts' if len(programs) == 1 else 'cut'} this part"
        if skins:
            ends = [f"{min(s.least for s in skins):.3f}", f"{max(s.greatest for s in skins):.3f}"]
            headline += f", skins {' to '.join(dict.fromkeys(ends))} mm"
        headline += "."
    return answer(5, headline, findings)


def came_out_right(expected: Sequence[Finding]) -> Answer:
    """Question 6: nothing is measured when a job is planned."""
    return answer(6, "Not measured yet. Below: what to expect on the scale and in the tap tone.", expected)
