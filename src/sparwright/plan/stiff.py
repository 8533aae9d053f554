"""Question 1 put together: the member, the machine it serves, and the local questions its loads ask."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sparwright.answers import Answer, Finding, Verdict, answer
from sparwright.job.models import Job
from sparwright.loop.elements import Stretch
from sparwright.loop.racking_note import racking_warning
from sparwright.loop.serve import ServedResult, serve
from sparwright.loop.stretches import plain_stretches, stretches_from
from sparwright.loop.supports import member_supports
from sparwright.measure.taptone import Tone, member_tones
from sparwright.stiffness.along_ends import held_end_bonus
from sparwright.stiffness.local import local_findings
from sparwright.stiffness.report import StiffnessResult
from sparwright.stock.model import Member

CLOSE = 0.05
"""A wish met by less than this share of its limit is a caution."""
LEAST_OUT = 1e-9
"""Share of the stock's mass below which what comes out is the rounding of the integrals."""
MORE_KEPT = "leave a thicker skin, wider ribs or fewer pockets, or lower the wish."
MORE_OUT = "leave a thinner skin or narrower ribs, pocket more faces, or lower the wish."


@dataclass(frozen=True)
class Stiff:
    """Everything question 1 rests on.

    before, after: the member as stretches of beam, plain and reworked. served: None where the job names no machine.
    tones: free-free frequencies before and after. local: findings on corners, skins, walls, threads and clamps.
    """

    member: StiffnessResult
    before: tuple[Stretch, ...]
    after: tuple[Stretch, ...]
    served: ServedResult | None
    tones: tuple[Tone, Tone]
    local: tuple[Finding, ...]
    answer: Answer

    def as_dict(self) -> dict[str, Any]:
        """The answer and what it rests on, with the stable keys of the command line's JSON."""
        return self.member.as_dict() | {
            "machine": None if self.served is None else self.served.as_dict(),
            "answer": self.answer.as_dict(),
        }


def stiff_enough(
    job: Job, member: Member, result: StiffnessResult, masses: tuple[float, float], thrust: float | None
) -> Stiff:
    """Question 1 from the member's constants.

    masses: of the stock at the member's length, and out, kg. thrust: of the cutter on the pockets' floors, N; None
    takes the greatest force the job allows.
    Raises BadInput where the machine served or a push test on it cannot be.
    """
    before, after = plain_stretches(member, result.intact), stretches_from(member, result.parts)
    served = None if job.served is None else serve(member, before, after, job.served)
    tones = member_tones(before, after, result.spread)
    file = job.file
    local = local_findings(
        member,
        () if served is None else served.member_forces,
        clamp_force_N=file.placing.clamp_force,
        thrust_N=thrust or file.cutting.thrust_limit,
        floor_tolerance=file.cutting.floor_tolerance,
        places=() if served is None else member_supports(served.machine),
    )
    findings = _member(job, result, masses)
    if served is not None:
        findings += served.findings(file.wishes)
    findings += [*_racking(result, tones[1]), *_held_ends(member, result), *local]
    kept, windows = result.kept, result.kept_windows
    headline = f"{1000 * max(masses[1], 0.0):.0f} g come out and {100 * kept['GJ']:.0f} % of the twist stiffness stays"
    if windows is not None:
        headline += f"; open windows would keep {100 * windows['GJ']:.0f} %"
    return Stiff(result, before, after, served, tones, tuple(local), answer(1, headline + ".", findings))


def _member(job: Job, s: StiffnessResult, masses: tuple[float, float]) -> list[Finding]:
    """The member against its intact self, and the skin against windows."""
    wishes, windows, whole = job.file.wishes, s.kept_windows, s.end_to_end

    def percent(key: str, wish: float | None, name: str, what: str) -> Finding:
        why = f"{what} against the plain stock, where least is kept."
        if key in whole:
            why += f" From end to end {100 * whole[key]:.1f} % is kept."
        if windows is not None:
            why += f" Windows instead of skins would keep {100 * windows[key]:.1f} %."
        if s.kept[key] > 1:
            why += " Over 100 % is no slip: pockets in the walls beside make the shear spread another way."
        spread = s.spread.get(key)
        return at_least(
            name,
            100 * s.kept[key],
            "%",
            None if wish is None else 100 * wish,
            why,
            None if spread is None else 100 * s.kept[key] * spread,
        )

    mass, out = masses
    return [
        at_least(
            "mass out",
            out if out > LEAST_OUT * mass else 0.0,
            "kg",
            wishes.mass_out,
            f"Of {mass:.3f} kg of stock.",
            remedy=MORE_OUT,
        ),
        percent("GJ", wishes.twist_kept, "twist kept", "Stiffness in twist, GJ,"),
        percent("EIy", wishes.bending_kept, "bending kept, moving in z", "Stiffness in bending, EIy,"),
        percent("EIz", wishes.bending_kept, "bending kept, moving in y", "Stiffness in bending, EIz,"),
        percent("EA", None, "stretch kept", "Stiffness along the member, EA,"),
        percent("GAy", None, "shear kept in y", "Stiffness in shear, GAy,"),
        percent("GAz", None, "shear kept in z", "Stiffness in shear, GAz,"),
    ]


def _racking(s: StiffnessResult, tone: Tone) -> list[Finding]:
    """The section going out of square, and what it takes off a fast twist."""
    if s.racking is None:
        return []
    racking = float(s.racking.frequencies[0])
    warning = racking_warning(tone.twist_Hz, racking, s.racking.torsion(tone.twist_Hz))
    why = f"The section alone racks out of square at this frequency, however long the member. {warning}"
    return [Finding("racking of the section", Verdict.GO, racking, "Hz", why=why.strip())]


def _held_ends(member: Member, s: StiffnessResult) -> list[Finding]:
    """What rigid ends would add in twist: told as a bonus, counted nowhere."""
    bonus = held_end_bonus(member, s.reworked)
    if bonus is None:
        return []
    why = f"Each end, if held rigidly, makes the member twist as if {bonus:.0f} mm shorter. Counted nowhere: real fastenings give."
    return [Finding("held ends, a bonus in twist", Verdict.GO, bonus, "mm", why=why)]


def at_least(
    name: str,
    value: float,
    unit: str,
    wish: float | None,
    why: str,
    spread: float | None = None,
    remedy: str = MORE_KEPT,
) -> Finding:
    """A finding for a value that must not fall below a wish; reported only where there is no wish."""
    if wish is None:
        return Finding(name, Verdict.GO, value, unit, spread=spread, why=why)
    margin = value - wish
    if margin < 0:
        verdict, tail = Verdict.NO_GO, f" Less than wished: {remedy}"
    elif margin < max(CLOSE * abs(wish), spread or 0.0):
        verdict, tail = Verdict.CAUTION, f" The margin is thin: {remedy}"
    else:
        verdict, tail = Verdict.GO, ""
    return Finding(name, verdict, value, unit, wish, margin, spread, why + tail)
