"""The report of a proof as data and pictures, the same for the page and the printed sheets."""

from __future__ import annotations

from typing import Any

from sparwright.answers import Verdict
from sparwright.packet.document import Document
from sparwright.packet.figures import counted, number
from sparwright.packet.proof_close import close_up
from sparwright.packet.proof_map import dangerous, map_strips, spots, top_of_scale
from sparwright.packet.proof_shown import Shown
from sparwright.packet.proof_time import time_chart, tracks
from sparwright.proof.kinds import BY_NAME
from sparwright.proof.loads import UNITS
from sparwright.proof.model import ProofFinding

CLOSE_UPS = 24  # pictures of findings at most
SKINS = 80  # lines of the table of skins at most
KEY = (
    "In the pictures: ring, the place; thin black on white, the outline wanted; heavy, the path of the guilty line; "
    "dashed, the rim of its cutter; white, other paths, dotted at rapid."
)
UNKNOWN_SPEED = 1e8  # mm/min; rapids of a bed nobody stated are faster
LOAD_WORDS = {
    "engaged": "engaged angle", "width": "radial width", "depth": "depth met", "chip": "chip thickness",
    "force": "force on a tooth, mean in the cut", "tooth": "force on a tooth, greatest", "steady": "force, mean over a turn",
    "power": "power at the cutter", "deflection": "deflection of the cutter's end", "rate": "removal rate",
}  # fmt: skip


def build_report(shown: Shown) -> Document:
    """Everything the report shows."""
    doc = Document()
    dangers, skins = dangerous(shown.proof.findings), _skins(shown)
    doc.data = {
        "title": shown.title,
        "against": shown.against,
        "verdict": shown.proof.verdict.value,
        "summary": summary(shown),
        "digest": shown.digest,
        "key": KEY,
        "programs": _programs(shown),
        "facts": _facts(shown),
        "findings": [_danger(doc, shown, k, f) for k, f in enumerate(dangers, 1)],
        "good": [
            {"check": f.check, "message": f.message} for f in shown.proof.findings if f.verdict is Verdict.GO
        ],
        "maps": [doc.picture(f"map-{k}.svg", svg) for k, svg in enumerate(map_strips(shown), 1)],
        "time": "",
        "skins": skins[:SKINS],
        "more_skins": max(0, len(skins) - SKINS),
    }
    chart = time_chart(shown, tracks(shown))
    if chart:
        doc.data["time"] = doc.picture("time.svg", chart)
    return doc


def summary(shown: Shown) -> str:
    """The verdict in one sentence."""
    dangers = dangerous(shown.proof.findings)
    bad = sum(f.verdict is Verdict.NO_GO for f in dangers)
    if bad:
        return f"{counted(bad, 'finding')} must be put right before the first cut."
    if dangers:
        return f"Nothing was found wrong, but {counted(len(dangers), 'finding')} should be read before the first cut."
    return "Nothing was found wrong: the programs cut exactly this part."


def place_text(f: ProofFinding) -> str:
    """Where a finding is, in words."""
    at = "" if f.at is None else f"x {f.at[0]:.2f}, s {f.at[1]:.2f}, n {f.at[2]:.2f} mm"
    return "; ".join(t for t in (f.feature, at) if t)


def _danger(doc: Document, shown: Shown, k: int, f: ProofFinding) -> dict[str, Any]:
    svg = close_up(shown, f) if k <= CLOSE_UPS else ""
    kind = BY_NAME.get(f.check)
    return {
        "number": k,
        "verdict": f.verdict.value,
        "check": f.check,
        "message": f.message,
        "means": f"{kind.means} {kind.cure}" if kind else "",
        "where": place_text(f),
        "line": f"{f.program}, line {f.line}" if f.line else f.program,
        "text": line_text(shown, f),
        "value": number(f.value, f.unit),
        "limit": number(f.limit, f.unit),
        "margin": number(f.margin, f.unit),
        "spread": number(f.spread, f.unit),
        "picture": doc.picture(f"finding-{k}.svg", svg) if svg else "",
    }


def line_text(shown: Shown, f: ProofFinding) -> str:
    """The guilty line as the program has it; "" without one."""
    if shown.case is None or not f.line or f.program not in shown.case.names:
        return ""
    text = shown.case.texts[shown.case.names.index(f.program)]
    lines = text.split("\n", f.line)
    return lines[f.line - 1].strip()[:100] if len(lines) >= f.line else ""


def _programs(shown: Shown) -> list[dict[str, str]]:
    rows = []
    for name, digest in shown.proof.digests.items():
        lines, cutters = "", ""
        if shown.case is not None and name in shown.case.names:
            p = shown.case.names.index(name)
            mine = shown.case.moves.program == p
            lines = str(shown.case.texts[p].count("\n") + (not shown.case.texts[p].endswith("\n")))
            cutters = ", ".join(f"T{t}" for t in sorted(set(shown.case.moves.tool[mine].tolist())) if t)
        rows.append({"name": name, "lines": lines, "cutters": cutters, "digest": digest})
    return rows


def _facts(shown: Shown) -> list[tuple[str, str]]:
    proof, case = shown.proof, shown.case
    known = case is None or case.job.bed.rapid[0] < UNKNOWN_SPEED
    facts = [
        (
            "time by length over feed",
            f"{proof.seconds / 60:.1f} min" + ("" if known else ", rapids not counted"),
        )
    ]
    if proof.removed_mm3:
        facts.append(("metal cut away", f"{proof.removed_mm3 / 1000:.2f} cm³"))
    if case is not None and shown.loads is not None:
        facts.append(("motions", str(len(case.moves.line))))
        peaks = shown.loads.peaks(case)
        facts += [
            (f"most: {LOAD_WORDS[p.name]}", f"{_load(p.name, p.value)} ({p.program} line {p.line})")
            for p in peaks
        ]
    return facts


def _load(name: str, value: float) -> str:
    if UNITS[name] == "rad":
        return f"{value * 57.29578:.0f}°"
    return number(value, {"mm3/min": "mm³/min"}.get(UNITS[name], UNITS[name]))


def _skins(shown: Shown) -> list[dict[str, str]]:
    """A line for all features that have the same skins, the line nearest under what is wanted first."""
    same: dict[tuple[str, ...], list[str]] = {}
    for s in sorted(shown.proof.skins, key=lambda s: s.least - s.wanted):
        figures = tuple(f"{v:.3f}" for v in (s.least, s.mean, s.greatest, s.wanted))
        same.setdefault(figures, []).append(s.feature)
    rows = []
    for figures, names in same.items():
        names = sorted(names)
        feature = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}, {len(names)} features"
        rows.append(
            dict(zip(("least", "mean", "greatest", "wanted"), figures, strict=True)) | {"feature": feature}
        )
    return rows


def report_json(shown: Shown) -> dict[str, Any]:
    """The proof for machines: stable keys, lengths in mm."""
    proof, case, cut, loads = shown.proof, shown.case, shown.cut, shown.loads
    told: dict[str, Any] = {
        "title": shown.title,
        "against": shown.against,
        "side": proof.side,
        "verdict": proof.verdict.value,
        "findings": [f.as_dict() | {"text": line_text(shown, f)} for f in proof.findings],
        "digests": proof.digests,
        "digest": shown.digest,
        "skins": [vars(s) for s in proof.skins],
        "removed_mm3": proof.removed_mm3,
        "seconds": proof.seconds,
        "figures": proof.figures,
        "loads": [],
        "level_places": [],
    }
    if case is not None and cut is not None and loads is not None:
        told["loads"] = [
            {
                "name": p.name,
                "value": p.value,
                "unit": p.unit,
                "program": p.program,
                "line": p.line,
                "at_mm": list(p.at),
            }
            for p in loads.peaks(case)
        ]
        told["level_places"] = [
            {"x_mm": s.x, "s_mm": s.s, "metal_left_mm": s.left, "width_mm": s.room} for s in spots(case, cut)
        ]
        told["first_wall_mm"] = top_of_scale(case)
    return told
