"""Data of the sheets on stiffness: the section, what is kept, the machine served with its weakest link."""

from __future__ import annotations

from typing import Any

from sparwright.loop.serve import ServedResult
from sparwright.packet.figures import METRIC, Display
from sparwright.packet.machine_picture import machine_picture
from sparwright.packet.section_picture import section_picture
from sparwright.packet.stiffness_bars import stiffness_bars
from sparwright.plan.stiff import Stiff
from sparwright.stock.model import Section
from sparwright.stock.walls import find_walls

UNITS = {"mass": "kg/m", "EA": "N", "EIy": "N mm²", "EIz": "N mm²", "GJ": "N mm²", "GAy": "N", "GAz": "N"}
MODELS = {
    "section": "the plain section",
    "wall": "the wall model",
    "bay": "solid finite elements of one period",
}


def stiffness_sheet(
    stiff: Stiff, section: Section, wishes: dict[str, float | None], show: Display = METRIC
) -> tuple[dict[str, Any], dict[str, str]]:
    """Data for the template, and pictures (SVG) by file name. wishes: least share wished for, by name of the stiffness."""
    s = stiff.member
    pictures = {
        "section-figures.svg": section_picture(section, s.figures, find_walls(section), show),
        "bars.svg": stiffness_bars(s.kept, s.kept_windows, s.spread, wishes),
    }
    data: dict[str, Any] = {
        "section": "section-figures.svg",
        "bars": "bars.svg",
        "kept": _kept(stiff, show),
        "parts": [
            (
                f"{show.length(p.start, 0)} to {show.length(p.end, 0)}",
                p.kind,
                ", ".join(p.names[:4]) + (f" and {len(p.names) - 4} more" if len(p.names) > 4 else ""),
                MODELS[p.properties.method],
                f"{100 * p.properties.EIy / s.intact.EIy:.0f} %",
                f"{100 * p.properties.EIz / s.intact.EIz:.0f} %",
                f"{100 * p.properties.GJ / s.intact.GJ:.0f} %",
            )
            for p in s.parts
        ],
        "notes": [show.sentence(note) for note in s.notes],
        "machine": None,
    }
    if stiff.served is not None:
        pictures["machine.svg"] = machine_picture(stiff.served)
        data["machine"] = _machine(stiff.served, show)
    return data, pictures


def _kept(stiff: Stiff, show: Display) -> list[tuple[str, ...]]:
    s = stiff.member
    rows: list[tuple[str, ...]] = []
    for key, unit in UNITS.items():
        attribute = "mass_kg_per_m" if key == "mass" else key
        windows = getattr(s.windows, attribute) if s.windows is not None else None
        ratio = s.kept_windows[key] if s.kept_windows is not None else None
        rows.append(
            (
                key,
                show.number(getattr(s.intact, attribute), unit),
                show.number(getattr(s.reworked, attribute), unit),
                f"{100 * s.kept[key]:.1f} %",
                show.number(windows, unit),
                "" if ratio is None else f"{100 * ratio:.1f} %",
            )
        )
    return rows


def _machine(served: ServedResult, show: Display) -> dict[str, Any]:
    a = served.after
    at = ", ".join(f"{axis} {show.length(mm, 0)}" for axis, mm in a.worst.at.items())
    directions = list(a.shares)
    return {
        "picture": "machine.svg",
        "name": served.name,
        "text": f"A {served.kind}; the member is its {served.member}. Shares of the give at the tool along {a.direction}, under "
        f"{show.number(served.force_N, 'N')}, axes at {at} {show.unit} of their rails, where it yields most. Dashed: the first mode, {a.first_Hz:.0f} Hz, far too large. "
        f"The weakest link is the {a.weakest}.",
        "before_after": [
            (r.name, show.number(r.before, r.unit), show.number(r.after, r.unit), f"{100 * r.change:+.1f} %")
            for r in served.side_by_side()
        ],
        "directions": directions,
        "shares": [
            (link, *(f"{100 * a.shares[d].get(link, 0.0):.1f} %" for d in directions))
            for link in a.shares[a.direction]
        ],
        "modes": [(f"{m.frequency:.0f} Hz", m.words) for m in a.modes],
        "ledgers": [
            {
                "axis": ledger.axis,
                "rows": [(what, show.size(mm)) for what, mm in ledger.entries if mm]
                + ([("rail", show.size(ledger.rail))] if ledger.rail is not None else []),
            }
            for ledger in served.ledgers
        ],
    }
