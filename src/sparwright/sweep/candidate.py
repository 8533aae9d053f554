"""One candidate: what its change leaves of the stiffness, takes out, and costs in minutes."""

from __future__ import annotations

import time

from sparwright.answers import BadInput
from sparwright.cutting.plan_work import CannotCut
from sparwright.job.faults import JobError
from sparwright.job.models import Job
from sparwright.loop.quick import quick_figures
from sparwright.loop.stretches import worked_stretches
from sparwright.stiffness.fast import Model, fast_model, intact_properties
from sparwright.stiffness.model import BeamProperties, kept
from sparwright.stock.member import build_member
from sparwright.stock.model import Member
from sparwright.sweep.mass import mass_kept, quick_mass_out
from sparwright.sweep.minutes import quick_minutes
from sparwright.sweep.model import Candidate, Figures
from sparwright.sweep.vary import Change, LeftOut, changed_job


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
