"""The pipeline, in the order of the six questions."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from contextlib import contextmanager
from functools import partial
from multiprocessing import get_context

from sparwright.answers import Answer
from sparwright.cutting.model import SideCuts
from sparwright.cutting.plan import plan_side
from sparwright.cutting.slots import plan_pads
from sparwright.job.models import Job
from sparwright.loop.quick import check_served
from sparwright.measure.expect import expect
from sparwright.placing.model import Placement
from sparwright.placing.place import place
from sparwright.plan import answering
from sparwright.plan.model import Plan
from sparwright.plan.stiff import stiff_enough
from sparwright.program.model import Program
from sparwright.program.writer import write_programs
from sparwright.proof.model import Proof
from sparwright.proof.prove import prove_pads
from sparwright.proof.sidecut import prove_and_keep
from sparwright.proof.together import prove_together
from sparwright.stiffness.report import StiffnessResult, member_stiffness
from sparwright.stock.member import build_member
from sparwright.stock.model import Member
from sparwright.stock.solids import blank_mass_kg, mass_out_kg

Progress = Callable[[str], None]
Answered = Callable[[Answer], None]
STEPS = ("member", "mass", "fit", "cuts", "programs", "proof", "stiffness", "machine served")
"""The steps of a plan, in their order."""


class Clock:
    """Where the time went, by step."""

    def __init__(self, progress: Progress | None) -> None:
        self.seconds: dict[str, float] = {}
        self._progress = progress

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """Time one step and tell the listener of it."""
        if self._progress is not None:
            self._progress(name)
        start = time.perf_counter()
        try:
            yield
        finally:
            self.seconds[name] = time.perf_counter() - start


class Answers:
    """The answers as they are found; each is handed to the listener, if there is one."""

    def __init__(self, answered: Answered | None) -> None:
        self._found: dict[int, Answer] = {}
        self._answered = answered

    def add(self, *found: Answer) -> None:
        """Keep answers and hand them out."""
        for answer in found:
            self._found[answer.question] = answer
            if self._answered is not None:
                self._answered(answer)

    def all(self) -> tuple[Answer, ...]:
        """In the order of the questions."""
        return tuple(self._found[q] for q in sorted(self._found))


def make_plan(job: Job, progress: Progress | None = None, answered: Answered | None = None) -> Plan:
    """Answer all six questions of a job.

    The stiffness, whose finite elements take as long as all else together, is computed in a process of its own
    meanwhile, and the sides are proved side by side. progress: called with the name of each of STEPS as it begins.
    answered: called with each answer as soon as it is found, those to questions 2 and 3 first. Raises BadInput for what
    the job file cannot mean.
    """
    clock, answers = Clock(progress), Answers(answered)
    with clock.step("member"):
        member = build_member(job)
        if job.served is not None:
            check_served(job.served, member)
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        stiffness_later = pool.submit(member_stiffness, member)
        with clock.step("mass"):
            mass, mass_out = blank_mass_kg(member), mass_out_kg(member)
        with clock.step("fit"):
            placement = place(member, job)
        answers.add(answering.fits(placement), answering.stays(placement))
        with clock.step("cuts"):
            pads, sides = _cuts(member, placement, job)
        with clock.step("programs"):
            programs = _programs(pads, sides, placement, job)
        answers.add(answering.can_cut(placement, pads, sides, programs))
        with clock.step("proof"):
            proofs = _proofs(programs, member, placement, job, pool)
        answers.add(answering.cuts_this_part(placement, proofs, programs))
        with clock.step("stiffness"):
            stiffness: StiffnessResult = stiffness_later.result()
    with clock.step("machine served"):
        stiff = stiff_enough(job, member, stiffness, (mass, mass_out), _floor_force(sides))
    expected = expect(member, job, stiff.tones, stiffness.racking, (mass, mass_out))
    answers.add(stiff.answer, answering.came_out_right(expected))
    return Plan(
        job=job,
        member=member,
        mass_kg=mass,
        mass_out_kg=mass_out,
        stiff=stiff,
        placement=placement,
        pads=pads,
        sides=sides,
        programs=programs,
        proofs=proofs,
        expected=expected,
        answers=answers.all(),
        seconds={k: round(v, 3) for k, v in clock.seconds.items()},
    )


def _floor_force(sides: tuple[SideCuts, ...]) -> float | None:
    """The greatest force of a tooth in any floor pass, N; None where no floor is cut."""
    return max((c.peak.force_N for s in sides for c in s.cuts if c.kind == "floor"), default=None)


def _cuts(
    member: Member, placement: Placement, job: Job
) -> tuple[tuple[SideCuts, ...], tuple[SideCuts, ...]]:
    if not placement.setups:
        return (), ()
    return plan_pads(placement, job), tuple(plan_side(member, setup, job) for setup in placement.setups)


def _programs(
    pads: tuple[SideCuts, ...], sides: tuple[SideCuts, ...], placement: Placement, job: Job
) -> tuple[Program, ...]:
    out: list[Program] = []
    for cuts in pads:
        out += write_programs(cuts, placement.setups[0].pose, job)
    for cuts, setup in zip(sides, placement.setups, strict=True):
        out += write_programs(cuts, setup.pose, job, station=setup.station)
    return tuple(out)


def _proofs(
    programs: tuple[Program, ...], member: Member, placement: Placement, job: Job, pool: Executor
) -> tuple[Proof, ...]:
    """One proof for the pads, one a side, and, of two sides and more, one for all of them together.

    All sides but the last are proved in other processes meanwhile; each hands back what it really cut.
    """
    if not placement.setups:
        return ()

    def texts(side: str) -> list[tuple[str, str]]:
        return [(p.name, p.text) for p in programs if p.side == side or p.side.startswith(f"{side}-")]

    *others, last = placement.setups
    prove = partial(prove_and_keep, setups=placement.setups)
    later = [pool.submit(prove, texts(setup.side), member, setup, job) for setup in others]
    here = prove(texts(last.side), member, last, job)
    pads = prove_pads(texts("pads"), placement, job)
    sides = [*(f.result() for f in later), here]
    cuts = [cut for _, cut in sides if cut is not None]
    together = [prove_together(cuts, member, job)] if len(cuts) > 1 else []
    return (pads, *(proof for proof, _ in sides), *together)
