"""Plants faults of every kind in good programs at random places and counts how many the proof finds.

    python benchmarks/fault_campaign.py [faults] [variants] [seed] [only this one]

A fault counts as found only where one finding has the right kind and verdict, a guilty line, the feature that suffers and
a place on it, as far as the fault has these; what the good programs are told as well never counts. Good variants say the
same thing in other words; no no-go may be found. Every fault has random numbers of its own, by seed and its number.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from fault_bases import BASES
from fault_job import Good
from fault_kinds import KINDS
from fault_plant import Planted
from fault_variants import vary

from sparwright.answers import Verdict
from sparwright.proof.model import Proof, ProofFinding
from sparwright.proof.prove import prove_side


@dataclass(frozen=True)
class Outcome:
    """One planted fault and whether it was found. told: what the proof said instead, where it was not."""

    kind: str
    base: str
    number: int
    found: bool
    told: tuple[str, ...]


def prove(good: Good) -> Proof:
    """The proof of a job's programs."""
    return prove_side(good.programs, good.member, good.setup, good.job)


def same(finding: ProofFinding) -> tuple[str, str, str]:
    """What makes a finding the same one in another version of the programs."""
    return finding.check, finding.verdict.value, finding.feature


@cache
def bases() -> tuple[tuple[Good, frozenset[tuple[str, str, str]]], ...]:
    """The good jobs, each with what is said of it as it is."""
    goods = [make() for make in BASES]
    return tuple(
        (g, frozenset(same(f) for f in prove(g).findings if f.verdict is not Verdict.GO)) for g in goods
    )


def found(planted: Planted, proof: Proof, usual: frozenset[tuple[str, str, str]]) -> bool:
    """Whether a finding tells of the planted fault, beside those that the good programs have as well."""
    fresh = [f for f in proof.findings if same(f) not in usual]
    return any(w.met_by(f) for w in planted.wanted for f in fresh)


def plant(number: int, seed: int) -> tuple[int, int, Planted]:
    """Kind, base and fault of a number: the kinds in turn, in the bases by turns, in the other one where a base has nothing
    of the sort.
    """
    k = number % len(KINDS)
    first = k + number // len(KINDS)
    for b in (first % len(BASES), (first + 1) % len(BASES)):
        for again in range(20):
            planted = KINDS[k](bases()[b][0], np.random.default_rng([seed, number, again]))
            if planted is not None:
                return k, b, planted
    raise ValueError(f"{KINDS[k].__name__} can be planted nowhere")


def try_fault(number: int, seed: int) -> Outcome:
    """Plant one fault and look for it."""
    k, b, planted = plant(number, seed)
    good, usual = bases()[b]
    proof = prove(planted.good)
    seen = found(planted, proof, usual)
    told = tuple(
        f"{f.check} {f.verdict.value} {f.program}:{f.line} {f.feature} {f.at}: {f.message}"
        for f in proof.findings
        if f.verdict is not Verdict.GO
    )
    return Outcome(KINDS[k].__name__, good.layout.title, number, seen, () if seen else told)


def faults(count: int, seed: int) -> list[Outcome]:
    """So many faults, the kinds in turn."""
    return [try_fault(number, seed) for number in range(count)]


def variants(count: int, seed: int) -> list[tuple[int, str, str]]:
    """Findings of no-go on so many good variants, the bases by turns: number, what was varied, what was said."""
    alarms = []
    for k in range(count):
        other, how = vary(bases()[k % len(BASES)][0], np.random.default_rng([seed, k]))
        alarms += [
            (k, how, f"{f.check} {f.program}:{f.line} {f.message}")
            for f in prove(other).findings
            if f.verdict is Verdict.NO_GO
        ]
    return alarms


def table(outcomes: list[Outcome]) -> str:
    """Kinds with planted and found, two to a row, as a table of the page."""
    planted = Counter(o.kind for o in outcomes)
    seen = Counter(o.kind for o in outcomes if o.found)
    cells = [f"{kind.replace('_', ' ')} | {planted[kind]} | {seen[kind]}" for kind in planted]
    half = (len(cells) + 1) // 2
    pairs = zip(cells[:half], [*cells[half:], " | | "][:half], strict=True)
    head = "| kind of fault | planted | found | kind of fault | planted | found |\n| --- | --- | --- | --- | --- | --- |"
    return "\n".join([head, *(f"| {a} | {b} |" for a, b in pairs)])


def main(count: int = 500, good: int = 200, seed: int = 1, only: int = -1) -> None:
    """Run and tell."""
    if only >= 0:
        _, _, planted = plant(only, seed)
        print(*planted.wanted, *planted.good.programs, try_fault(only, seed), sep="\n")
        return
    bases()
    begin = time.process_time()
    outcomes = faults(count, seed)
    spent = time.process_time() - begin
    print(table(outcomes))
    print(f"seed {seed}: {sum(o.found for o in outcomes)} of {len(outcomes)} found, {len(KINDS)} kinds")
    for base in sorted({o.base for o in outcomes}):
        mine = [o for o in outcomes if o.base == base]
        print(f"in the {base}: {sum(o.found for o in mine)} of {len(mine)}")
    for o in outcomes:
        if not o.found:
            print(f"missed: {o.number} {o.kind} in the {o.base}", *o.told[:5], sep="\n    ")
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
    main(*(int(a) for a in sys.argv[1:]))
