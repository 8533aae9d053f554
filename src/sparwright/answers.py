"""Answers to the six questions: verdicts, findings and the sentence that heads each answer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any


class BadInput(Exception):
    """Something the user gave cannot be used; the message says where, what is wrong and what to do.

    Root of every such error in the house: the command line turns it into exit status 2.
    """


def as_sentence(problem: Exception) -> str:
    """The message of bad input as it is shown: with a full stop, where its last line has none of its own."""
    text = str(problem)
    return text if text.endswith((".", "!", "?", ":")) else f"{text}."


def unread(path: object, problem: OSError) -> str:
    """What is wrong with a file that could not be read."""
    if isinstance(problem, FileNotFoundError):
        return f"there is no file {path}"
    return f"{path} cannot be read: {problem.strerror}"


class Verdict(Enum):
    """Outcome of a finding or of a whole answer, in rising order of danger."""

    GO = "go"
    CAUTION = "caution"
    NO_GO = "no-go"

    @property
    def rank(self) -> int:
        """0 for go, 1 for caution, 2 for no-go."""
        return (Verdict.GO, Verdict.CAUTION, Verdict.NO_GO).index(self)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The most dangerous of several verdicts; go where there are none."""
    return max(verdicts, key=lambda v: v.rank, default=Verdict.GO)


@dataclass(frozen=True)
class Finding:
    """One thing found: a figure against its limit, with the reason and the place.

    value, limit, margin and spread are in `unit`; `spread` is the half-width that uncertain inputs put on
    the value. `why` is one sentence in trade words; for a no-go it ends with what to change. `where` names
    the feature, place or program line to look at.
    """

    name: str
    verdict: Verdict
    value: float | None = None
    unit: str = ""
    limit: float | None = None
    margin: float | None = None
    spread: float | None = None
    why: str = ""
    where: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The finding with the stable keys of the command line's JSON."""
        return {
            "name": self.name,
            "verdict": self.verdict.value,
            "value": self.value,
            "unit": self.unit,
            "limit": self.limit,
            "margin": self.margin,
            "spread": self.spread,
            "why": self.why,
            "where": self.where,
        }


QUESTIONS = {
    1: "Is it stiff enough?",
    2: "Does it fit?",
    3: "Will it stay where it is put?",
    4: "Can this machine cut it?",
    5: "Do the programs cut exactly this part?",
    6: "Did it come out right?",
}


@dataclass(frozen=True)
class Answer:
    """The answer to one question: a verdict, one headline sentence, and the findings behind it."""

    question: int
    verdict: Verdict
    headline: str
    findings: tuple[Finding, ...] = ()

    @property
    def title(self) -> str:
        """The question in words."""
        return QUESTIONS[self.question]

    @property
    def word(self) -> str:
        """The verdict as it is shown: "not measured" where question 6 only tells what to expect, for "go" there would read
        as if the part had come out right.
        """
        expected = all(f.limit is None for f in self.findings)
        if self.question == 6 and self.verdict is Verdict.GO and expected:
            return "not measured"
        return self.verdict.value

    def as_dict(self) -> dict[str, Any]:
        """The answer with the stable keys of the command line's JSON."""
        return {
            "question": self.question,
            "title": self.title,
            "verdict": self.verdict.value,
            "headline": self.headline,
            "findings": [f.as_dict() for f in self.findings],
        }


def answer(question: int, headline: str, findings: Sequence[Finding]) -> Answer:
    """An answer whose verdict is the worst of its findings."""
    return Answer(question, worst(f.verdict for f in findings), headline, tuple(findings))


def share_used(finding: Finding) -> float | None:
    """How much of the limit is used: 1 at the limit, above 1 beyond it; None where the finding has no limit.

    Where the margin is to neither side of the limit, the limit is the middle of a band: the share is how much of the
    band's half-width the value is off it. A limit met to within rounding gives 1 exactly.
    """
    value, limit, margin = finding.value, finding.limit, finding.margin
    if value is None or limit is None or margin is None or limit == 0:
        return None
    near = 1e-6 * max(1.0, abs(limit))
    if abs((limit - value) - margin) <= near:
        used = max(0.0, value / limit)
    elif abs((value - limit) - margin) <= near:
        used = max(0.0, limit / value) if value > 0 else 2.0
    else:
        off = abs(value - limit)
        used = off / (off + margin) if off + margin > 0 else 2.0
    return 1.0 if abs(used - 1) <= 1e-9 else used


def key_finding(answer: Answer) -> tuple[float, Finding] | None:
    """The finding that uses most of its limit.

    One that is go with nothing to spare and no spread stands where it was put (a height, a full engagement) and tells
    nothing of danger: it comes after every other.
    """
    scored = [(used, f) for f in answer.findings if (used := share_used(f)) is not None]

    def place(pair: tuple[float, Finding]) -> tuple[bool, float]:
        used, f = pair
        return not (used == 1.0 and f.verdict is Verdict.GO and not f.spread), used

    return max(scored, key=place, default=None)
