"""Everything a plan holds."""

from __future__ import annotations

from dataclasses import dataclass

from sparwright.answers import Answer, Finding, Verdict, worst
from sparwright.cutting.model import SideCuts
from sparwright.job.models import Job
from sparwright.placing.model import Placement
from sparwright.plan.stiff import Stiff
from sparwright.program.model import Program
from sparwright.proof.model import Proof
from sparwright.stock.model import Member


@dataclass(frozen=True)
class Plan:
    """A planned job.

    pads: cuts of the pads, first those made before any side. sides: cuts of each side in the order they are made.
    programs: all programs in the order they are run. proofs: one for the pads, one a side and, of two
    sides and more, one for all of them together. seconds: where the planning time went, by step.
    """

    job: Job
    member: Member
    mass_kg: float
    mass_out_kg: float
    stiff: Stiff
    placement: Placement
    pads: tuple[SideCuts, ...]
    sides: tuple[SideCuts, ...]
    programs: tuple[Program, ...]
    proofs: tuple[Proof, ...]
    expected: tuple[Finding, ...]
    answers: tuple[Answer, ...]
    seconds: dict[str, float]

    @property
    def verdict(self) -> Verdict:
        """The worst of the six answers."""
        return worst(a.verdict for a in self.answers)
