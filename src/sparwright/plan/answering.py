"""Each question's answer, put together from what the rooms found."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.answers import Answer, Finding, Verdict, answer, worst
from sparwright.cutting.model import SideCuts
from sparwright.job.models import Job
from sparwright.loop.serve import ServedResult
from sparwright.placing.model import Placement
from sparwright.program.model import Program
from sparwright.proof.model import Proof
from sparwright.stiffness.report import StiffnessResult

CLOSE = 0.05
"""A wish met by less than this share of its limit is a caution."""


def _at_least(
    name: str, value: float, unit: str, wish: float | None, why: str, spread: float | None = None
) -> Finding:
    """A finding for a value that must not fall below a wish; reported only where there is no wish."""
    if wish is None:
        return Finding(name, Verdict.GO, value, unit, spread=spread, why=why)
    margin = value - wish
    if margin < 0:
        verdict, tail = (
            Verdict.NO_GO,
            " Less is kept than wished: leave a thicker skin, wider ribs or fewer pockets, or lower the wish.",
        )
    elif margin < max(CLOSE * abs(wish), spread or 0.0):
        verdict, tail = Verdict.CAUTION, " The margin is thin."
    else:
        verdict, tail = Verdict.GO, ""
    return Finding(name, verdict, value, unit, wish, margin, spread, why + tail)


def stiff_enough(
    job: Job, s: StiffnessResult, served: ServedResult | None, mass: float, mass_out: float
) -> Answer:
    """Question 1: the member against its intact self, the skin against windows, and on the machine it serves."""
    wishes = job.file.wishes
    kept, windows = s.kept, s.kept_windows

    def beside(key: str) -> str:
        return f" With windows instead of skins: {100 * windows[key]:.1f} %." if windows is not None else ""

    def percent(key: str, wish: float | None, name: str, what: str) -> Finding:
        spread = s.reworked.spread.get(key)
        return _at_least(
            name,
            100 * kept[key],
            "%",
            None if wish is None else 100 * wish,
            f"{what}: share kept of the plain stock.{beside(key)}",
            None if spread is None else 100 * kept[key] * spread,
        )

    findings = [
        _at_least("mass out", mass_out, "kg", wishes.mass_out, f"Of {mass:.3f} kg of stock."),
        percent("GJ", wishes.twist_kept, "twist kept", "Torsional stiffness GJ"),
        percent("EIy", wishes.bending_kept, "bending kept, moving in z", "Bending stiffness EIy"),
        percent("EIz", wishes.bending_kept, "bending kept, moving in y", "Bending stiffness EIz"),
        percent("EA", None, "stretch kept", "Axial stiffness EA"),
        percent("GAy", None, "shear kept in y", "Shear stiffness GAy"),
        percent("GAz", None, "shear kept in z", "Shear stiffness GAz"),
    ]
    if served is not None:
        findings += served.findings(wishes)
    headline = f"{1000 * mass_out:.0f} g come out and {100 * kept['GJ']:.0f} % of the twist stiffness stays"
    if windows is not None:
        headline += f"; open windows would keep {100 * windows['GJ']:.0f} %"
    return answer(1, headline + ".", findings)


def fits(placement: Placement) -> Answer:
    """Question 2."""
    fit = placement.fit
    if fit.fits and fit.best is not None:
        import math

        headline = f"It fits at {math.degrees(fit.best.angle):.2f}° with {fit.margin:.1f} mm to spare, limited by {fit.limited_by}."
    else:
        headline = f"It does not fit: {-fit.margin:.1f} mm of reach are missing; limited by {fit.limited_by}."
    return answer(2, headline, placement.fit_findings)


def stays(placement: Placement) -> Answer:
    """Question 3."""
    if not placement.setups:
        return Answer(3, Verdict.NO_GO, "Nothing can be placed until it fits.")
    verdict = worst(f.verdict for f in placement.hold_findings)
    setup = placement.setups[0]
    headline = f"{len(setup.pads)} pads cut in place and {len(setup.clamps)} clamps a side hold it"
    headline += {
        Verdict.GO: ".",
        Verdict.CAUTION: ", with points to mind.",
        Verdict.NO_GO: ", but not safely: see what to change.",
    }[verdict]
    return answer(3, headline, placement.hold_findings)


def can_cut(
    placement: Placement, pads: Sequence[SideCuts], sides: Sequence[SideCuts], programs: Sequence[Program]
) -> Answer:
    """Question 4."""
    if not placement.setups:
        return Answer(4, Verdict.NO_GO, "Nothing can be cut until it fits.")
    findings = [f for s in (*pads, *sides) for f in s.findings]
    minutes = sum(p.minutes for p in programs)
    cutters = sorted({n for p in programs for n in p.cutters})
    headline = f"{minutes / 60:.1f} hours of cutting in {len(programs)} programs with {len(cutters)} cutters."
    if any(f.verdict is Verdict.NO_GO for f in findings):
        headline = "Not all of it with these cutters: " + headline
    return answer(4, headline, findings)


def cuts_this_part(proofs: Sequence[Proof], programs: Sequence[Program]) -> Answer:
    """Question 5."""
    if not proofs:
        return Answer(5, Verdict.NO_GO, "There is no program to prove.")
    findings = []
    for proof in proofs:
        for f in proof.findings:
            line = f", line {f.line}" if f.line else ""
            where = f"{f.program}{line}" if f.program else f"side {proof.side}"
            margin = None
            if f.limit is not None and f.value is not None and f.verdict is Verdict.GO and f.value <= f.limit:
                margin = f.limit - f.value
            name = f"{f.check}, {f.feature}" if f.feature else f.check
            findings.append(
                Finding(name, f.verdict, f.value, f.unit, f.limit, margin, None, f.message, where)
            )
    findings.sort(key=lambda f: -f.verdict.rank)
    verdict = worst(f.verdict for f in findings)
    skins = [s for proof in proofs for s in proof.skins]
    if verdict is Verdict.NO_GO:
        bad = sum(f.verdict is Verdict.NO_GO for f in findings)
        headline = f"No: {bad} findings forbid the first cut."
    else:
        headline = f"{len(programs)} programs were read back and cut in simulation; they cut this part"
        headline += (
            f", skins {min(s.least for s in skins):.3f} to {max(s.greatest for s in skins):.3f} mm."
            if skins
            else "."
        )
    return answer(5, headline, findings)


def came_out_right(expected: Sequence[Finding]) -> Answer:
    """Question 6: nothing is measured when a job is planned."""
    return answer(6, "Not measured yet; what to expect on the scale and in the tap tone is below.", expected)
