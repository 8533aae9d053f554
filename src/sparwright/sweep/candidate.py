"""One candidate: what its change leaves of the stiffness, takes out, and costs in minutes."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import lru_cache

from sparwright.answers import BadInput
from sparwright.cutting.plan_work import CannotCut
from sparwright.job.faults import JobError
from sparwright.job.models import Job, Material
from sparwright.loop.quick import quick_figures
from sparwright.loop.stretches import worked_stretches
from sparwright.stiffness.bay import bay_properties
from sparwright.stiffness.model import BeamProperties, kept
from sparwright.stiffness.pattern import BayError
from sparwright.stiffness.section import section_properties
from sparwright.stiffness.wall import wall_properties
from sparwright.stock.member import build_member
from sparwright.stock.model import Member, Section
from sparwright.sweep.model import Candidate, Figures
from sparwright.sweep.quick import mass_kept, quick_mass_out, quick_minutes
from sparwright.sweep.vary import Change, LeftOut, changed_job

# A stiffness model: constants of the reworked member, and a sentence on why it was not the first choice ("" if it was).
Model = Callable[[Member], tuple[BeamProperties, str]]
STAND_IN_ORDER = 2  # of the bay's elements where it stands in for the wall model: half the time, error stated


def fast_model(member: Member) -> tuple[BeamProperties, str]:
    """The wall model, or the bay where the wall model says it must not be believed. Raises BayError where both fail."""
    try:
        return wall_properties(member), ""
    except BayError as reason:
        return bay_properties(member, order=STAND_IN_ORDER), str(reason)


def bay_model(member: Member) -> tuple[BeamProperties, str]:
    """The bay as the plan's question 1 has it, to confirm a choice."""
    return bay_properties(member), ""


@lru_cache(maxsize=8)
def intact_properties(section: Section, material: Material) -> BeamProperties:
    """The plain section's constants, kept for the next candidate."""
    return section_properties(section, material)


def evaluate(job: Job, change: Change, model: Model = fast_model) -> Candidate:
    """The candidate that `change` makes of the job, its stiffness from `model`.

    What cannot be laid out, computed or cut with the cutters at hand is left out with the reason.
    """
    start = time.perf_counter()
    try:
        changed = changed_job(job, change)
        figures = _figures(changed, build_member(changed), model)
    except CannotCut as problem:
        return _left_out(change, f"it cannot be cut: {problem}", start)
    except JobError as problem:
        return _left_out(change, problem.sentence(), start)
    except (LeftOut, BadInput) as problem:
        return _left_out(change, str(problem), start)
    return Candidate(change, figures, seconds=time.perf_counter() - start)


def _left_out(change: Change, why: str, start: float) -> Candidate:
    return Candidate(change, None, why[:1].upper() + why[1:], time.perf_counter() - start)


def _figures(job: Job, member: Member, model: Model) -> Figures:
    minutes = quick_minutes(member, job)
    intact = intact_properties(member.section, member.material)
    reworked, note = model(member)
    share = kept(reworked, intact)
    out_kg = quick_mass_out(member)
    tip, first = _served(job, member, intact, reworked)
    return Figures(
        mass_out_kg=out_kg,
        mass_kept=mass_kept(member, out_kg),
        twist_kept=share["GJ"],
        EIy_kept=share["EIy"],
        EIz_kept=share["EIz"],
        tip_mm=tip,
        first_Hz=first,
        minutes=minutes,
        method=reworked.method,
        note=note,
        spread={
            name: reworked.spread[key]
            for name, key in (("twist_kept", "GJ"), ("EIy_kept", "EIy"), ("EIz_kept", "EIz"))
            if key in reworked.spread
        },
        pockets=len(member.pockets),
        dropped=len(member.dropped),
    )


def _served(
    job: Job, member: Member, intact: BeamProperties, reworked: BeamProperties
) -> tuple[float | None, float | None]:
    """Deflection at the tool, mm, and first frequency, Hz, of the machine served; None without one.

    The member is its fields between plain ends: holes, notches and single pockets are the same in every candidate.
    """
    if job.served is None:
        return None, None
    found = quick_figures(worked_stretches(member, intact, reworked), job.served, member)
    return found.tip_mm, found.first_Hz
