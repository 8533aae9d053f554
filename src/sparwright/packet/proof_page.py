"""The report of a proof as one HTML file that needs nothing else: no script, no font, no picture from outside."""

from __future__ import annotations

from html import escape
from typing import Any

from sparwright.packet.document import Document

STYLE = """
body{margin:0;background:#fff;color:#000;font:15px/1.45 "Source Sans Pro","Source Sans 3",Helvetica,Arial,sans-serif}
main{max-width:190mm;margin:8mm auto;padding:0 5mm}
h1{font-size:27px;line-height:1.15;margin:0 0 2mm}
h2{font-size:17px;border-top:1px solid #000;margin:9mm 0 3mm;padding-top:2mm}
p{margin:0 0 2mm}
.small{font-size:13px}
.head{display:flex;justify-content:space-between;gap:6mm;align-items:flex-start}
.v{display:inline-block;padding:1px 9px;font-weight:bold;white-space:nowrap;border:1px solid #000}
.v.no-go{background:#000;color:#fff}
.v.caution{border-width:2.5px}
.v.go{font-weight:normal}
table{border-collapse:collapse;width:100%;font-size:13px}
th{text-align:left;border-bottom:1.5px solid #000;padding:2px 6px 2px 0}
td{border-bottom:.5px solid #999;padding:2px 6px 2px 0;vertical-align:top}
.digest{font-family:ui-monospace,Menlo,Consolas,monospace;font-size:11px;overflow-wrap:anywhere}
.f{display:flex;gap:6mm;border-top:.5px solid #999;padding:3mm 0;break-inside:avoid}
.f:first-of-type{border-top:0}
.f .n{font-size:22px;font-weight:bold;min-width:9mm}
.f .w{flex:1}
.f svg{width:54mm;height:auto;flex:none}
code{font-family:ui-monospace,Menlo,Consolas,monospace;font-size:12.5px;background:#eee;padding:0 3px}
svg text{font-family:"Source Sans Pro","Source Sans 3",Helvetica,Arial,sans-serif}
figure{margin:0 0 3mm}
figure svg{width:100%;height:auto;display:block}
@media print{main{margin:0 auto}h2{break-after:avoid}@page{margin:14mm}}
@media (max-width:640px){.f{flex-wrap:wrap}}
"""
SIGNS = {"no-go": "× no-go", "caution": "! caution", "go": "go"}


def _verdict(word: str) -> str:
    return f'<span class="v {word}">{SIGNS[word]}</span>'


def _table(head: list[str], rows: list[list[str]]) -> str:
    """A table; cells are HTML already."""
    top = "".join(f"<th>{escape(h)}</th>" for h in head)
    body = "".join("<tr>" + "".join(f"<td>{c}</td>" for c in row) + "</tr>" for row in rows)
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def page(doc: Document) -> str:
    """The report as HTML text."""
    d = doc.data
    parts = [
        f'<div class="head"><div><h1>{escape(d["title"])}</h1><p>{escape(d["against"])}</p></div>'
        f"{_verdict(d['verdict'])}</div>",
        f"<p><strong>{escape(d['summary'])}</strong></p>",
    ]
    if d["findings"]:
        parts.append("<h2>Findings, the most dangerous first</h2>")
        if any(f["picture"] for f in d["findings"]):
            parts.append(f'<p class="small">{escape(d["key"])}</p>')
        parts += [_finding(doc, f) for f in d["findings"]]
    if d["maps"]:
        parts.append("<h2>Metal left</h2>")
        parts += [f"<figure>{doc.pictures[name]}</figure>" for name in d["maps"]]
    if d["skins"]:
        parts.append("<h2>Skin under each feature, the thinnest first</h2>")
        parts.append(_skins(d))
    if d["time"]:
        parts.append("<h2>The programs along the time</h2>")
        parts.append(f"<figure>{doc.pictures[d['time']]}</figure>")
    parts.append("<h2>Figures</h2>")
    parts.append(_table(["", ""], [[escape(a), escape(b)] for a, b in d["facts"]]))
    if d["good"]:
        parts.append("<h2>Checks that found nothing wrong</h2>")
        parts.append(
            _table(["Check", "Found"], [[escape(g["check"]), escape(g["message"])] for g in d["good"]])
        )
    parts.append("<h2>Programs proved</h2>")
    parts.append(_programs(d))
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{escape(d['title'])}: proof</title><style>{STYLE}</style></head>"
        f"<body><main>{''.join(parts)}</main></body></html>\n"
    )


def figures_text(f: dict[str, Any]) -> str:
    """Value, limit, margin and spread in one line."""
    named = ((f["limit"], "limit"), (f["margin"], "margin"), (f["spread"], "machine's own spread ±"))
    return ", ".join([f["value"], *(f"{name} {value}" for value, name in named if value)])


def _finding(doc: Document, f: dict[str, Any]) -> str:
    lines = [
        f"<p>{_verdict(f['verdict'])} <strong>{escape(f['check'])}</strong></p>",
        f"<p>{escape(f['message'])}</p>",
    ]
    if f["value"]:
        lines.append(f'<p class="small">{escape(figures_text(f))}</p>')
    if f["means"]:
        lines.append(f'<p class="small">{escape(f["means"])}</p>')
    if f["where"]:
        lines.append(f'<p class="small">{escape(f["where"])}</p>')
    if f["line"]:
        text = f": <code>{escape(f['text'])}</code>" if f["text"] else ""
        lines.append(f'<p class="small">{escape(f["line"])}{text}</p>')
    picture = doc.pictures[f["picture"]] if f["picture"] else ""
    return f'<div class="f"><div class="n">{f["number"]}</div><div class="w">{"".join(lines)}</div>{picture}</div>'


def _skins(d: dict[str, Any]) -> str:
    keys = ("feature", "least", "mean", "greatest", "wanted")
    head = ["Feature", "Least, mm", "Mean", "Greatest", "Wanted"]
    more = f'<p class="small">and {d["more_skins"]} more in proof.json</p>' if d["more_skins"] else ""
    return _table(head, [[escape(s[k]) for k in keys] for s in d["skins"]]) + more


def _programs(d: dict[str, Any]) -> str:
    rows = [
        [escape(p["name"]), p["lines"], p["cutters"], f'<span class="digest">{p["digest"]}</span>']
        for p in d["programs"]
    ]
    note = f'<p class="small">Digest of what they were held against: <span class="digest">{d["digest"]}</span></p>'
    return _table(["Program", "Lines", "Cutters", "SHA-256 of its bytes"], rows) + (
        note if d["digest"] else ""
    )
