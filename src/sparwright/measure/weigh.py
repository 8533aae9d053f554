"""Weigh-in: the mass that came out against the mass that was planned, and what a difference means."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.stock.model import Member
from sparwright.stock.solids import blank_mass_kg, mass_out_kg

COVER = 2.0
"""Coverage factor of stated uncertainties (about 95 %, JCGM 100)."""
MASS_SPREAD = 0.005
"""Half-width of the density, relative; from memory."""


@dataclass(frozen=True)
class WeighResult:
    """Masses in kg with expanded uncertainties u_ (k = 2); floor_mm: mean error of the pockets' depth that would
    explain the difference, positive where too much came out."""

    stock_expected: float
    u_stock_expected: float
    out_expected: float
    u_out_expected: float
    before: float
    after: float
    u_scale: float
    floor_mm: float | None
    u_floor_mm: float | None
    depth_tolerance: float

    @property
    def out(self) -> float:
        """Mass that came out, kg."""
        return self.before - self.after

    @property
    def u_out(self) -> float:
        """Its expanded uncertainty, kg."""
        return self.u_scale * math.sqrt(2)

    def as_dict(self) -> dict[str, Any]:
        """The result with the stable keys of the command line's JSON."""
        return {
            "predicted": {
                "stock_kg": self.stock_expected,
                "u_stock_kg": self.u_stock_expected,
                "out_kg": self.out_expected,
                "u_out_kg": self.u_out_expected,
            },
            "measured": {
                "before_kg": self.before,
                "after_kg": self.after,
                "out_kg": self.out,
                "u_out_kg": self.u_out,
            },
            "inferred": {"depth_error_mm": self.floor_mm, "u_depth_error_mm": self.u_floor_mm},
            "findings": [f.as_dict() for f in self.findings()],
        }

    def findings(self) -> list[Finding]:
        """What the two weighings say."""
        found = [
            _agreement("stock against nominal", self.before, self.stock_expected, math.hypot(self.u_stock_expected, self.u_scale),
                       "The stock's walls are not what the job says: measure them and put measured_wall in the job."),
            _agreement("mass out against planned", self.out, self.out_expected, math.hypot(self.u_out_expected, self.u_out),
                       "More or less came out than planned: measure the depth of several pockets."),
        ]  # fmt: skip
        if self.floor_mm is not None and self.u_floor_mm is not None:
            sure = abs(self.floor_mm) - self.u_floor_mm > self.depth_tolerance
            found.append(
                Finding(
                    "mean depth error",
                    Verdict.CAUTION if sure else Verdict.GO,
                    self.floor_mm,
                    "mm",
                    self.depth_tolerance,
                    self.depth_tolerance - abs(self.floor_mm),
                    self.u_floor_mm,
                    "Depth error of all pockets together that would explain the difference; positive is too deep.",
                )
            )
        return found


def _agreement(name: str, value: float, wanted: float, u: float, remedy: str) -> Finding:
    margin = u - abs(value - wanted)
    ok = margin >= 0
    why = f"{wanted:.4f} kg expected; they differ by {value - wanted:+.4f} kg, and {u:.4f} kg can be put down to scale and tolerances (k = 2)."
    return Finding(
        name,
        Verdict.GO if ok else Verdict.CAUTION,
        value,
        "kg",
        None,
        margin,
        u,
        why if ok else f"{why} {remedy}",
    )


def pocket_floor_area(member: Member) -> float:
    """Area of all pocket floors that are skins, mm2."""
    return float(sum(p.outline.area for p in member.pockets if not p.window))


def mass_uncertainties(member: Member, job: Job) -> tuple[float, float]:
    """Expanded uncertainty (k = 2) of the stock's mass and of the mass out, kg.

    The wall's tolerance (half-width, taken as uniform) acts on the stock with the section's whole wall area; the
    mass out has the pockets' depth tolerance and the density.
    """
    section = member.section.shape
    walls = section.length / 2 if section.interiors else 0.0
    rho = member.material.density * 1e-9
    wall = walls * member.length * job.file.stock.wall_tolerance * rho / math.sqrt(3)
    density = MASS_SPREAD / math.sqrt(3)
    u_stock = COVER * math.hypot(wall, blank_mass_kg(member) * density)
    floor = pocket_floor_area(member) * job.file.cutting.floor_tolerance * rho / math.sqrt(3)
    u_out = COVER * math.hypot(floor, mass_out_kg(member) * density)
    return u_stock, u_out


def weigh_job(
    member: Member, job: Job, before_kg: float, after_kg: float, scale_step_kg: float
) -> WeighResult:
    """Compare two weighings with what was planned. scale_step_kg: the scale's smallest step."""
    u_stock, u_out = mass_uncertainties(member, job)
    expected = mass_out_kg(member)
    u_scale = COVER * scale_step_kg / math.sqrt(3)
    area = pocket_floor_area(member)
    floor = u_floor = None
    if area > 0:
        per_mm = area * member.material.density * 1e-9
        floor = (before_kg - after_kg - expected) / per_mm
        density = COVER * expected * MASS_SPREAD / math.sqrt(3)
        u_floor = math.hypot(u_scale * math.sqrt(2), density) / per_mm
    return WeighResult(
        blank_mass_kg(member),
        u_stock,
        expected,
        u_out,
        before_kg,
        after_kg,
        u_scale,
        floor,
        u_floor,
        job.file.cutting.floor_tolerance,
    )
