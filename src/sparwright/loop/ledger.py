"""The travel ledger: where every millimetre of rail goes, and whether the machine fits the room it must stand in."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sparwright.answers import Finding, Verdict
from sparwright.job.machine_parts import AxisPart, ServedMachine, Travel


@dataclass(frozen=True)
class Ledger:
    """The rail of one axis: entries (what, mm) that add up to its length, the travel among them.

    rail None for a general machine, which states its travel outright. stands: length it takes up with what stands
    out past the rail.
    """

    axis: str
    rail: float | None
    entries: tuple[tuple[str, float], ...]
    travel: float
    wanted: float | None
    stands: float | None
    footprint: float | None

    def findings(self, where: str) -> list[Finding]:
        """Travel against the travel wanted, and the length it takes up against the room there is."""
        out = [self._travel(where)]
        if self.footprint is not None and self.stands is not None:
            margin = self.footprint - self.stands
            why = f"The rail and what stands out past it take {self.stands:g} mm along {self.axis}."
            if margin < 0:
                why += f" Shorten the rail or what stands out by {-margin:g} mm, or find it more room."
            out.append(
                Finding(
                    f"room along {self.axis}",
                    Verdict.NO_GO if margin < 0 else Verdict.GO,
                    self.stands,
                    "mm",
                    self.footprint,
                    margin,
                    why=why,
                    where=where,
                )
            )
        return out

    def _travel(self, where: str) -> Finding:
        spent = [(what, mm) for what, mm in self.entries if what != "travel" and mm]
        words = f"Of {self.rail:g} mm of rail: " if self.rail is not None else ""
        words += ", ".join(f"{what} {mm:g} mm" for what, mm in spent)
        words = (words + "." if spent else "").strip()
        margin, verdict = None, Verdict.GO
        if self.wanted is not None:
            margin = self.travel - self.wanted
            if margin < -1e-9:
                verdict = Verdict.NO_GO
                most = max(spent, key=lambda e: e[1])[0] if spent else "travel"
                words += f" {-margin:g} mm of travel are missing: lengthen the rail, or save on the {most}."
        return Finding(
            f"travel along {self.axis}",
            verdict,
            self.travel,
            "mm",
            self.wanted,
            margin,
            why=words.strip(),
            where=where,
        )

    def as_dict(self) -> dict[str, Any]:
        """The ledger with units in its keys."""
        return {
            "axis": self.axis,
            "rail_mm": self.rail,
            "entries_mm": dict(self.entries),
            "travel_mm": self.travel,
            "wanted_mm": self.wanted,
            "stands_mm": self.stands,
            "footprint_mm": self.footprint,
        }


def axis_ledger(axis: AxisPart) -> Ledger:
    """The ledger of one axis."""
    if axis.travel is None:
        travel = axis.high - axis.low
        return Ledger(axis.name, None, (("travel", travel),), travel, axis.wanted, None, None)
    t = axis.travel
    entries = _spent(t)
    travel = t.rail - math.fsum(mm for _, mm in entries)
    stands = t.rail + max(t.outside[0], t.overhang[0]) + max(t.outside[1], t.overhang[1])
    return Ledger(axis.name, t.rail, (*entries, ("travel", travel)), travel, axis.wanted, stands, t.footprint)


def _spent(t: Travel) -> tuple[tuple[str, float], ...]:
    """Everything but the travel; what the carriage may hang over comes back."""
    return (
        ("carriage", t.width),
        ("end fitting, start", t.ends[0]),
        ("end fitting, end", t.ends[1]),
        ("stop, start", t.stops[0]),
        ("stop, end", t.stops[1]),
        (f"switch, {t.switch_at}", t.switch),
        ("hanging over, start", -t.overhang[0]),
        ("hanging over, end", -t.overhang[1]),
    )


def ledgers(machine: ServedMachine) -> tuple[Ledger, ...]:
    """The ledgers of all axes."""
    return tuple(axis_ledger(axis) for axis in machine.axes)
