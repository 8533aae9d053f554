"""What can be said of a changed job at once: its layout, its stiffness by the fast model, whether it fits."""

from __future__ import annotations

from collections.abc import Callable

from sparwright.answers import Answer, Finding, Verdict, answer
from sparwright.job.models import Job
from sparwright.loop.quick import quick_figures
from sparwright.loop.stretches import worked_stretches
from sparwright.placing.place import fit_sides
from sparwright.plan.answering import NOTHING_TO_CUT
from sparwright.plan.stiff import at_least
from sparwright.stiffness.fast import fast_model, intact_properties
from sparwright.stiffness.model import kept
from sparwright.stiffness.pattern import BayError
from sparwright.stock.model import Member
from sparwright.stock.solids import blank_mass_kg
from sparwright.sweep.mass import quick_mass_out

CLOSE = 0.05
"""A wish met by less than this share of its limit is a caution."""


def quick_mass(job: Job, member: Member) -> Answer:
    """Question 1 as far as the layout alone tells: the mass that comes out."""
    out_kg = quick_mass_out(member)
    why = f"Of {blank_mass_kg(member):.3f} kg of stock."
    finding = at_least("mass out", out_kg, "kg", job.file.wishes.mass_out, why)
    return answer(1, f"{1000 * out_kg:.0f} g come out.", [finding])


def quick_stiffness(job: Job, member: Member) -> Answer:
    """Question 1 by the fast model: what is kept where least is kept, the mass out, the tip and the first mode."""
    mass = quick_mass(job, member)
    findings, headline = list(mass.findings), mass.headline.rstrip(".")
    wishes = job.file.wishes
    if member.bays:
        intact = intact_properties(member.section, member.material)
        try:
            reworked, note = fast_model(member)
        except BayError as problem:
            return answer(1, f"{headline}; the stiffness kept could not be found: {problem}", findings)
        share = kept(reworked, intact)
        why = "Share kept of the plain stock, where least is kept, by the fast model." + (
            f" {note}." if note else ""
        )
        for name, key, wish in (
            ("twist kept", "GJ", wishes.twist_kept),
            ("bending kept, moving in z", "EIy", wishes.bending_kept),
            ("bending kept, moving in y", "EIz", wishes.bending_kept),
        ):
            spread = reworked.spread.get(key)
            findings.append(
                at_least(
                    name,
                    100 * share[key],
                    "%",
                    None if wish is None else 100 * wish,
                    why,
                    None if spread is None else 100 * share[key] * spread,
                )
            )
        headline += f" and {100 * share['GJ']:.0f} % of the twist stiffness stays"
        if job.served is not None:
            found = quick_figures(worked_stretches(member, intact, reworked), job.served, member)
            findings.append(
                _at_most(
                    "deflection at the tool",
                    found.tip_mm,
                    "mm",
                    wishes.tip_deflection,
                    "Under the stated force.",
                )
            )
            first = "First natural frequency of the machine served."
            findings.append(at_least("first frequency", found.first_Hz, "Hz", wishes.first_frequency, first))
    return answer(1, headline + ".", findings)


def quick_fit(job: Job, member: Member) -> Answer:
    """Question 2: the pose the whole plan would cut in, by the same search."""
    if not member.worked_faces:
        return Answer(2, Verdict.CAUTION, NOTHING_TO_CUT)
    fit = fit_sides(member, job, member.worked_faces)
    least = job.file.placing.margin
    margin, held = (
        (fit.margin, fit.limited_by) if fit.taken is None else (fit.taken.margin, fit.taken.limited_by)
    )
    verdict = Verdict.NO_GO if not fit.fits else Verdict.CAUTION if margin < least else Verdict.GO
    why = f"Least distance of a cut to the end of the reach; limited by {held}."
    if not fit.fits and fit.best is not None:
        why += f" Where the job puts it; elsewhere it fits with {fit.margin:.1f} mm to spare."
    elif verdict is not Verdict.GO:
        why += " Move the member, shorten the cuts near its ends, or plan with stations."
    found = Finding("margin of the pose", verdict, margin, "mm", least, margin - least, why=why)
    if fit.fits:
        headline = f"It fits with {margin:.1f} mm to spare, limited by {held}."
    else:
        headline = f"It does not fit: {-margin:.1f} mm of reach are missing, limited by {held}."
    return answer(2, headline, [found])


def _at_most(name: str, value: float, unit: str, wish: float | None, why: str) -> Finding:
    """A finding for a value that must not rise over a wish; reported only where there is no wish."""
    if wish is None:
        return Finding(name, Verdict.GO, value, unit, why=why)
    margin = wish - value
    if margin < 0:
        return Finding(
            name, Verdict.NO_GO, value, unit, wish, margin, why=why + " Leave more metal, or allow more."
        )
    if margin < CLOSE * abs(wish):
        thin = " The margin is thin: leave more metal, or allow more."
        return Finding(name, Verdict.CAUTION, value, unit, wish, margin, why=why + thin)
    return Finding(name, Verdict.GO, value, unit, wish, margin, why=why)


QUICK: dict[int, Callable[[Job, Member], Answer]] = {1: quick_stiffness, 2: quick_fit}
"""How each question that can be answered at once is answered, the quickest first."""
