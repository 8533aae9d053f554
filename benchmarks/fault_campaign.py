"""Plants faults of every kind in good programs at random places and counts how many the proof finds.

    python benchmarks/fault_campaign.py [faults] [variants] [seed]

A fault counts as found where a finding of one of the expected checks names a guilty line (where a line is guilty)
and the feature that suffers (where one does). Good variants say the same thing in other words; no no-go may be found.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from fault_job import Good, make_good
from fault_kinds import KINDS, Planted
from fault_variants import vary

from sparwright.answers import Verdict
from sparwright.proof.model import Proof, ProofFinding
from sparwright.proof.prove import prove_side


@dataclass(frozen=True)
class Outcome:
    """One planted fault and whether it was found. told: what the proof said instead, where it was not."""

    kind: str
    seed: int
    found: bool
    told: tuple[str, ...]


def prove(good: Good) -> Proof:
    """The proof of a job's programs."""
    return prove_side(good.programs, good.member, good.setup, good.job)


def fits(planted: Planted, finding: ProofFinding) -> bool:
    """Whether a finding tells of the planted fault, with its line and feature."""
    if finding.verdict is Verdict.GO or (finding.verdict is Verdict.CAUTION and not planted.caution):
        return False
    if finding.check not in planted.checks:
        return False
    if planted.lines is not None and finding.line not in planted.lines.get(finding.program, frozenset()):
        return False
    placed = finding.at is not None or finding.feature
    return planted.features is None or not placed or finding.feature in planted.features


def try_fault(good: Good, kind: int, seed: int) -> Outcome:
    """Plant one fault and look for it."""
    planted = KINDS[kind](good, np.random.default_rng([seed, kind]))
    proof = prove(planted.good)
    found = any(fits(planted, f) for f in proof.findings)
    told = tuple(
        f"{f.check} {f.verdict.value} {f.program}:{f.line} {f.feature}: {f.message}"
        for f in proof.findings
        if f.verdict is not Verdict.GO
    )
    return Outcome(KINDS[kind].__name__, seed, found, () if found else told)


def faults(count: int, seed: int) -> list[Outcome]:
    """So many faults, the kinds in turn."""
    good = make_good()
    return [try_fault(good, k % len(KINDS), seed + k // len(KINDS)) for k in range(count)]


def variants(count: int, seed: int) -> list[tuple[int, str, str]]:
    """Findings of no-go on so many good variants: seed, what was varied, what was said."""
    good = make_good()
    alarms = []
    for k in range(count):
        other, how = vary(good, np.random.default_rng([seed, k]))
        alarms += [
            (seed + k, how, f"{f.check} {f.program}:{f.line} {f.message}")
            for f in prove(other).findings
            if f.verdict is Verdict.NO_GO
        ]
    return alarms


def table(outcomes: list[Outcome]) -> str:
    """Kinds with planted and found, as a table of the page."""
    planted = Counter(o.kind for o in outcomes)
    found = Counter(o.kind for o in outcomes if o.found)
    rows = [f"| {kind.replace('_', ' ')} | {planted[kind]} | {found[kind]} |" for kind in planted]
    total = f"| **all {len(planted)} kinds** | **{len(outcomes)}** | **{sum(found.values())}** |"
    return "\n".join(["| kind of fault | planted | found |", "| --- | --- | --- |", *rows, total])


def main() -> None:
    count, good, seed = (int(a) for a in (sys.argv[1:] + ["500", "200", "1"][len(sys.argv) - 1 :]))
    begin = time.process_time()
    outcomes = faults(count, seed)
    spent = time.process_time() - begin
    print(table(outcomes))
    for o in outcomes:
        if not o.found:
            print(f"missed: {o.kind} seed {o.seed}", *o.told[:5], sep="\n    ")
    begin = time.process_time()
    alarms = variants(good, seed)
    print(f"{len({a[0] for a in alarms})} of {good} good variants with a no-go")
    first = {alarm[0]: alarm for alarm in reversed(alarms)}
    for alarm in sorted(first.values()):
        print("   ", *alarm)
    if count and good:
        each = (time.process_time() - begin) / good
        print(f"cpu {spent / count:.3f} s a fault, {each:.3f} s a variant")


if __name__ == "__main__":
    main()
