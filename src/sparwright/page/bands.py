"""The six bands of the page as plain values: verdict, sentence, tightest margin, findings."""

from __future__ import annotations

import math
from typing import Any

from sparwright.answers import Answer, Finding, key_finding, share_used
from sparwright.packet.figures import METRIC, Display
from sparwright.page.board import State, empty_band
from sparwright.page.help import of_finding


def band_of(answer: Answer, by: str, digest: str, inch: Display) -> State:
    """A band from an answer. by: "quick" or "plan". digest: of the text it answers. inch: how it is shown in inches.

    Its words and figures are metric; under the key "inch" are those that differ where inches are wanted.
    """
    return (
        empty_band(answer.question)
        | {
            "verdict": answer.verdict.value,
            "word": answer.word,
            "status": "fresh",
            "by": by,
            "as_of": digest,
            "inch": _told(answer, inch),
        }
        | _told(answer, METRIC)
    )


def _told(answer: Answer, show: Display) -> State:
    """What of a band depends on the units."""
    return {
        "headline": show.sentence(answer.headline),
        "margin": _margin(answer, show),
        "findings": [_finding(answer.question, f, show) for f in sorted(answer.findings, key=_ease)],
    }


def _ease(f: Finding) -> tuple[int, float]:
    """Smallest for the most dangerous finding; those without a limit last of their verdict."""
    used = share_used(f)
    return -f.verdict.rank, math.inf if used is None else -used


def _margin(answer: Answer, show: Display) -> dict[str, Any] | None:
    """The finding that uses most of its limit: `used` is 1 at the limit, above 1 beyond it."""
    best = key_finding(answer)
    if best is None:
        return None
    used, f = best
    spread = None if not f.spread or not f.value else abs(f.spread / f.value) * used
    return {"used": used, "spread": spread, "name": f.name, "words": _margin_words(f, show)}


def _margin_words(f: Finding, show: Display) -> str:
    """A finding's value, what is wanted of it, and what is left of that or missing, as one says it."""
    assert f.value is not None
    assert f.limit is not None
    margin = f.limit - f.value if f.margin is None else f.margin
    least = (f.value < f.limit) == (
        margin < 0
    )  # a value below its limit that is not good enough had to be above it
    wanted = f"at {'least' if least else 'most'} {show.number(f.limit, f.unit)}"
    left = "to spare" if margin >= 0 else "too little" if least else "too much"
    return (
        f"{f.name} {show.number(f.value, f.unit)}, {wanted} wanted: {show.number(abs(margin), f.unit)} {left}"
    )


def _finding(question: int, f: Finding, show: Display) -> dict[str, Any]:
    """A finding with its figures as they are written ("shown"), and the paragraph that derives it ("derived")."""
    shown = {
        "value": show.number(f.value, f.unit) + (f" ± {show.number(f.spread, f.unit)}" if f.spread else ""),
        "limit": show.number(f.limit, f.unit),
        "margin": show.number(f.margin, f.unit),
    }
    found = of_finding(question, f.name)
    return f.as_dict() | {
        "why": show.sentence(f.why),
        "where": show.sentence(f.where),
        "shown": shown,
        "derived": None if found is None else found.place,
    }
