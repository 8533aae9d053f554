"""Data of the last sheet: what to measure, what is expected, and room to write it down."""

from __future__ import annotations

from typing import Any

from sparwright.packet.figures import Display
from sparwright.plan.model import Plan
from sparwright.stock.section import wall_thickness

SAMPLES = 3
"""Pockets of each face whose skin is to be measured: the first, the middle one and the last."""


def measured_sheet(plan: Plan, show: Display) -> dict[str, Any]:
    """Rows (what, expected) for the stock, the finished member, skins, and how each figure is taken."""
    return {
        "stock_rows": _stock(plan, show),
        "after": [
            (
                f.name,
                show.spread(f.value, f.spread, f.unit),
                show.sentence(f.why.removeprefix("Not measured yet. ")),
            )
            for f in plan.expected
            if f.value is not None
        ],
        "skins": _skins(plan, show),
    }


def _stock(plan: Plan, show: Display) -> list[tuple[str, str]]:
    section = plan.member.section
    _, _, wide, high = section.shape.bounds
    rows = [
        ("length", show.size(plan.member.length)),
        ("width of the section", show.size(wide)),
        ("height of the section", show.size(high)),
    ]
    for name in plan.member.worked_faces:
        face = section.face(name)
        across = {round(p.origin[1], 2) for p in plan.member.pockets if p.face == name}
        across |= {round(h.at[1], 2) for h in plan.member.holes if h.face == name}
        if across:  # where it is worked: elsewhere a web may stand behind it
            wall = min(wall_thickness(section, face, s) for s in across)
            rows.append((f"wall at face {name}, thinnest where it is worked", show.size(wall)))
    return rows


def _skins(plan: Plan, show: Display) -> list[tuple[str, str]]:
    rows = []
    for name in plan.member.worked_faces:
        pockets = sorted(
            (p for p in plan.member.pockets if p.face == name and not p.window), key=lambda p: p.origin
        )
        picks = (
            sorted({0, len(pockets) // 2, len(pockets) - 1})
            if len(pockets) >= SAMPLES
            else range(len(pockets))
        )
        for p in (pockets[i] for i in picks):
            text = f"{show.size(p.depth)} deep, skin {show.size(p.skin)}"
            rows.append((f"{p.id}, x {show.size(p.origin[0], 0)}, s {show.size(p.origin[1], 0)}", text))
    return rows
