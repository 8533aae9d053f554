"""What a finding and a headline must be like to be read at a machine: whole sentences, short, with units and a remedy."""

import re

from sparwright.answers import Answer, Finding, Verdict

LONGEST_SENTENCE, LONGEST_HEADLINE = 30, 25
"""Words."""
FOG = (
    "accordingly", "actually", "appropriate", "basically", "critical path", "etc", "functionality", "furthermore",
    "hence", "henceforth", "instantiate", "invalid", "leverage", "optimal", "parameter", "please", "proper",
    "properly", "respectively", "robust", "sub-optimal", "suitable", "therefore", "thus", "utilise", "utilize",
    "various", "whilst",
)  # fmt: skip
UNITS = {
    "", "%", "Hz", "MPa", "N", "W", "cells", "deg", "kg", "min", "mm", "mm/min", "mm/s²", "mm2", "mm3", "mm3/min",
    "rpm", "s", "times the service load", "um",
}  # fmt: skip
COUNTS = (
    "cannot be cut", "chip", "corner radius over cutter radius", "edge cannot be broken", "holding against sliding",
    "holding down against lift", "push test", "stations", "threads", "wrong side",
)  # fmt: skip
"""Findings whose figure is a number of things or a ratio."""
REMEDIES = (
    "add", "ask", "check", "clamp", "clear", "correct", "cut", "drill", "enter", "find", "fit", "give", "go", "hold",
    "keep", "lay", "leave", "let", "lift", "list", "look", "lower", "make", "measure", "mend", "move",
    "open", "pack", "prop", "push", "put", "raise", "ramp", "report", "run", "saw", "say", "see", "set", "shift",
    "shorten", "spread", "start", "state", "stay", "stiffen", "stop", "support", "take", "tap", "tape", "tighten",
    "touch", "try", "turn", "use", "watch", "weigh", "write",
)  # fmt: skip
"""What a sentence that tells what to do may begin with; a clause may also follow a colon or a comma."""
_REMEDY = re.compile(rf"(?:^|[.:;,] |\bor )(?:{'|'.join(REMEDIES)})\b", re.IGNORECASE)
_CODE = re.compile(r"\b(?:None|True|False|nan|inf)\b|np\.|array\(|Verdict|[{}<>]|\['|\b\w+Error\b")
_SENTENCE = re.compile(r"(?<=[.!?]) +(?=[A-Z0-9Ø])")
_DECIMAL = re.compile(
    r"(?<![\w.])(\d+)\.(\d+)(?=[,;:)]|\.?$|\. | ?[%°]| ?(?:[µukm]?m|[kmM]?N|k?W|MPa|k?g|Hz|s|min|rpm|degrees)\b)"
)


def sentences(text: str) -> list[str]:
    """The sentences of a text."""
    return _SENTENCE.split(text)


def told_too_finely(text: str) -> list[str]:
    """Decimal fractions of more than four significant digits; places and a slot's width, which are set, may have more."""
    out = []
    for found in _DECIMAL.finditer(text):
        before = text[: found.start()].rstrip("+-").split()[-1:]
        set_place = before and before[0].strip("(,") in ("x", "s", "X", "Y", "Z", "slots", "and", "to")
        if not set_place and len((found[1] + found[2]).lstrip("0")) > 4:
            out.append(found[0])
    return out


def faults_in_text(text: str, longest: int = LONGEST_SENTENCE) -> list[str]:
    """What is wrong with the words of a message; empty where nothing is."""
    out = []
    if not text.endswith("."):
        out.append("does not end with a full stop")
    if text[:1].islower():
        out.append("does not begin with a capital")
    if "  " in text or ".." in text:
        out.append("double blank or stop")
    for s in sentences(text):
        if len(s.split()) > longest:
            out.append(f"{len(s.split())} words: {s}")
    out += [f"fog: {w}" for w in FOG if re.search(rf"\b{w}\b", text, re.IGNORECASE)]
    out += [f"code: {found[0]}" for found in _CODE.finditer(text)]
    return out + [f"too fine: {figure}" for figure in told_too_finely(text)]


def faults_in_finding(f: Finding) -> list[str]:
    """What is wrong with a finding's name, figures and words; empty where nothing is."""
    out = faults_in_text(f.why)
    if f.name[:1].isupper() or f.name.endswith("."):
        out.append("a name is no sentence")
    if f.unit not in UNITS:
        out.append(f"unit {f.unit!r}")
    if f.value is not None and not f.unit and not f.name.startswith(COUNTS):
        out.append("no unit")
    if f.verdict is not Verdict.GO and not any(_REMEDY.search(s) for s in sentences(f.why)):
        out.append("no remedy")
    return [f"{f.name}: {fault} | {f.why}" for fault in out]


def faults_in_answer(answer: Answer) -> list[str]:
    """What is wrong with an answer's headline and findings; empty where nothing is."""
    head = faults_in_text(answer.headline, LONGEST_HEADLINE)
    if len(answer.headline.split()) > LONGEST_HEADLINE:
        head.append("headline too long")
    return [f"headline: {h}" for h in head] + [x for f in answer.findings for x in faults_in_finding(f)]
