"""Weigh-in: the mass that came out against the mass that was planned, and what a difference means.

Two weighings know the stock's mean wall and the pockets' mean depth, and so the mean skin, better than a caliper
that reaches a few places. Uncertainties by the GUM, expanded to about 95 % (k = 2).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.measure.budget import Part, even, expanded
from sparwright.stock.model import Member
from sparwright.stock.solids import blank_mass_kg, mass_out_kg

DENSITY_HALF = 0.005
"""Half-width of a metal's density, relative; from memory."""
LENGTH_HALF = 0.5
"""Half-width of the member's length as sawn, mm; common practice, no source."""
MEASURED_WALL_HALF = 0.05
"""Half-width of a wall measured at a few places, mm; common practice, no source."""


@dataclass(frozen=True)
class Figure:
    """A figure with its expanded uncertainty (k = 2) and the inputs that make it."""

    value: float
    parts: tuple[Part, ...]

    @property
    def u(self) -> float:
        """Expanded uncertainty, about 95 %."""
        return expanded(self.parts)


@dataclass(frozen=True)
class Predicted:
    """What the job says the scale will show, kg, and what a millimetre is worth.

    per_wall: kg per mm of the whole section's wall; per_depth: kg per mm of depth of all pockets that leave a skin.
    depth_tolerance: of the floors, half-width, mm.
    """

    stock: Figure
    out: Figure
    per_wall: float
    per_depth: float
    depth_tolerance: float


@dataclass(frozen=True)
class WeighResult:
    """Predicted, measured and inferred. Masses kg, errors mm; each Figure carries its uncertainty.

    wall: mean error of the stock's wall, positive where thick. depth: mean error of the pockets' depth, positive
    where deep; skin: of the skins left, positive where thick; both None where no pocket leaves a skin.
    """

    predicted: Predicted
    before: Figure
    after: Figure
    out: Figure
    wall: Figure
    depth: Figure | None
    skin: Figure | None

    def as_dict(self) -> dict[str, Any]:
        """The result with the stable keys of the command line's JSON."""

        def pair(name: str, unit: str, figure: Figure | None) -> dict[str, float | None]:
            value, u = (figure.value, figure.u) if figure else (None, None)
            return {f"{name}_{unit}": value, f"u_{name}_{unit}": u}

        return {
            "predicted": pair("stock", "kg", self.predicted.stock) | pair("out", "kg", self.predicted.out),
            "measured": pair("before", "kg", self.before)
            | pair("after", "kg", self.after)
            | pair("out", "kg", self.out),
            "inferred": pair("wall_error", "mm", self.wall)
            | pair("depth_error", "mm", self.depth)
            | pair("skin_error", "mm", self.skin),
            "findings": [f.as_dict() for f in self.findings()],
        }

    def findings(self) -> list[Finding]:
        """What the two weighings say."""
        found = [
            _agreement(
                "stock against nominal",
                self.before,
                self.predicted.stock,
                f"Its walls seem {self.wall.value:+.2f} mm off: measure them and put the figure in the job as measured_wall.",
            ),
            _agreement(
                "mass out against planned",
                self.out,
                self.predicted.out,
                "More or less came out than planned: measure the depth of several pockets.",
            ),
        ]
        if self.depth is not None and self.skin is not None:
            found.append(_depth_finding(self.depth, self.predicted.depth_tolerance))
            found.append(_skin_finding(self.skin, self.predicted.depth_tolerance))
        return found


def _agreement(name: str, measured: Figure, wanted: Figure, remedy: str) -> Finding:
    room = expanded((*measured.parts, *wanted.parts))
    margin = room - abs(measured.value - wanted.value)
    why = (
        f"Expected {wanted.value:.4g} kg; the scale differs by {measured.value - wanted.value:+.3g} kg. Scale and tolerances "
        f"explain up to {room:.3g} kg (k = 2)."
    )
    verdict = Verdict.GO if margin >= 0 else Verdict.CAUTION
    why = why if margin >= 0 else f"{why} {remedy}"
    return Finding(name, verdict, measured.value, "kg", wanted.value, margin, measured.u, why)


def _depth_finding(depth: Figure, tolerance: float) -> Finding:
    sure = abs(depth.value) - depth.u > tolerance
    return Finding(
        "mean depth error",
        Verdict.CAUTION if sure else Verdict.GO,
        depth.value,
        "mm",
        tolerance,
        tolerance - abs(depth.value),
        depth.u,
        "If all pockets are off by the same depth, this explains the difference; positive is too deep."
        + (" Touch off again and check the cutter's length before the next side." if sure else ""),
    )


def _skin_finding(skin: Figure, tolerance: float) -> Finding:
    thin = skin.value + skin.u < -tolerance
    return Finding(
        "mean skin error",
        Verdict.CAUTION if thin else Verdict.GO,
        skin.value,
        "mm",
        -tolerance,
        skin.value + tolerance,
        skin.u,
        "The stock's wall error less the depth error; negative is too thin."
        + (
            " Put measured_wall in the job and plan again to see what the thinner skin costs in stiffness."
            if thin
            else ""
        ),
    )


def predict(member: Member, job: Job, stock_kg: float, out_kg: float) -> Predicted:
    """What the scale should show. stock_kg: of the stock at the member's length; out_kg: mass of all that is cut out."""
    rho = member.material.density * 1e-9
    stock, cutting = job.file.stock, job.file.cutting
    shape = member.section.shape
    edges = float(shape.exterior.length + sum(hole.length for hole in shape.interiors))
    per_wall = edges / 2 * member.length * rho
    skins = [p for p in member.pockets if not p.window]
    per_depth = float(sum(p.outline.area for p in skins)) * rho
    through = float(sum(p.outline.area for p in member.pockets if p.window)) * rho
    sides = float(sum(p.outline.length * p.depth for p in member.pockets)) * rho
    u_wall = even(stock.wall_tolerance if stock.measured_wall is None else MEASURED_WALL_HALF)
    u_density = even(DENSITY_HALF)
    return Predicted(
        stock=Figure(
            stock_kg,
            (
                Part("wall", u_wall, per_wall),
                Part("density", u_density, stock_kg),
                Part("length", even(LENGTH_HALF), stock_kg / member.length),
            ),
        ),
        out=Figure(
            out_kg,
            (
                Part("depth of pockets", even(cutting.floor_tolerance), per_depth),
                Part("walls of pockets", even(cutting.wall_tolerance), sides),
                Part("wall under windows", u_wall, through),
                Part("density of what came out", u_density, out_kg),
            ),
        ),
        per_wall=per_wall,
        per_depth=per_depth,
        depth_tolerance=cutting.floor_tolerance,
    )


def weigh(predicted: Predicted, before_kg: float, after_kg: float, scale_step_kg: float) -> WeighResult:
    """Compare two weighings with what was predicted. scale_step_kg: the scale's smallest step, whose whole width is
    taken as the half-width of a reading, its zero included."""

    def reading(name: str) -> Part:
        return Part(name, even(scale_step_kg))

    first, second = reading("scale before"), reading("scale after")
    out = Figure(before_kg - after_kg, (first, second))
    wall = Figure(
        (before_kg - predicted.stock.value) / predicted.per_wall,
        _scaled((first, *(p for p in predicted.stock.parts if p.name != "wall")), 1 / predicted.per_wall),
    )
    depth = skin = None
    if predicted.per_depth > 0:
        others = (p for p in predicted.out.parts if p.name != "depth of pockets")
        depth = Figure(
            (out.value - predicted.out.value) / predicted.per_depth,
            _scaled((first, second, *others), 1 / predicted.per_depth),
        )
        skin = Figure(wall.value - depth.value, (*wall.parts, *depth.parts))
    return WeighResult(
        predicted, Figure(before_kg, (first,)), Figure(after_kg, (second,)), out, wall, depth, skin
    )


def _scaled(parts: tuple[Part, ...], factor: float) -> tuple[Part, ...]:
    return tuple(Part(p.name, p.u, p.sensitivity * factor, p.freedom) for p in parts)


def weigh_job(
    member: Member, job: Job, before_kg: float, after_kg: float, scale_step_kg: float
) -> WeighResult:
    """Compare two weighings with what was planned. scale_step_kg: the scale's smallest step."""
    predicted = predict(member, job, blank_mass_kg(member), mass_out_kg(member))
    return weigh(predicted, before_kg, after_kg, scale_step_kg)
