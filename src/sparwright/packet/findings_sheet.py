"""The answers and findings as the sheets tell them: dangers first and whole, what is go in one short table."""

from __future__ import annotations

from typing import Any

from sparwright.answers import Answer, Finding, Verdict, key_finding, share_used
from sparwright.packet.figures import Display


def answer_data(a: Answer, show: Display) -> dict[str, Any]:
    """One answer on the cover: its verdict and headline, and the finding nearest to its limit."""
    best = key_finding(a)
    key = None
    if best is not None:
        used, f = best
        key = {
            "used": used,
            "text": f"{f.name}: {show.number(f.value, f.unit)} against {show.number(f.limit, f.unit)}, "
            f"margin {show.number(f.margin, f.unit)}",
        }
    return {
        "question": a.question,
        "title": a.title,
        "verdict": a.word,
        "headline": show.sentence(a.headline),
        "key": key,
    }


def dangers(answers: tuple[Answer, ...], show: Display) -> list[dict[str, str]]:
    """Every no-go, then every caution, the one furthest beyond its limit first."""
    bad = [(a, f) for a in answers for f in a.findings if f.verdict is not Verdict.GO]
    bad.sort(key=lambda pair: (-pair[1].verdict.rank, -(share_used(pair[1]) or 0.0)))
    return [
        {
            "question": str(a.question),
            "verdict": f.verdict.value,
            "name": f.name,
            "value": show.spread(f.value, f.spread, f.unit) if f.value is not None else "",
            "limit": show.number(f.limit, f.unit),
            "why": show.sentence(f.why + (f" [{f.where}]" if f.where else "")),
        }
        for a, f in bad
    ]


def at_ease(answers: tuple[Answer, ...], show: Display) -> list[dict[str, Any]]:
    """What is go, by question: one row for each kind of finding, with the place that uses most of its limit."""
    out = []
    for a in answers:
        kinds: dict[tuple[str, str], list[Finding]] = {}
        for f in a.findings:
            if f.verdict is Verdict.GO:
                kinds.setdefault((f.name.split(",")[0], f.unit), []).append(f)
        rows = [row for (name, _), many in kinds.items() for row in _rows(name, many, show)]
        if rows:
            out.append({"title": f"{a.question} {a.title}", "rows": rows})
    return out


def _rows(name: str, many: list[Finding], show: Display) -> list[tuple[str, str, str]]:
    """Findings of one kind as one row with the one nearest to its limit; figures without a limit keep a row each."""
    judged = [f for f in many if share_used(f) is not None]
    if not judged and len({f.value for f in many}) > 1:
        return [(f.name, show.number(f.value, f.unit), show.number(f.limit, f.unit)) for f in many]
    worst = max(many, key=lambda f: share_used(f) or 0.0)
    words = worst.name if len(many) == 1 else f"{name}, {'worst of' if judged else 'all'} {len(many)}"
    return [
        (
            words,
            show.number(worst.value, worst.unit) or "as it should be",
            show.number(worst.limit, worst.unit),
        )
    ]
