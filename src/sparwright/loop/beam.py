"""The machine served, thin: the member as a beam on its two carriages, before and after it is reworked.

It is the member on its carriages only: the frame, the drive and the tool's own mount add compliance that is not
counted here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sparwright.answers import BadInput, Finding, Verdict
from sparwright.job.models import Served, Wishes
from sparwright.loop.elements import (
    TX,
    Beam,
    Stretch,
    U,
    V,
    W,
    build_beam,
    energies,
    first_of,
    modes,
)
from sparwright.loop.stretches import plain_stretches, worked_stretches
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

NOTE = "This is the member on its two carriages only, not the whole machine: frame, drive and tool mount come on top."
MODES = {"bend_y": "moving in y", "bend_z": "moving in z", "twist": "twist"}
_SEARCHED = 12  # modes among which the first of each kind is looked for


@dataclass(frozen=True)
class BeamState:
    """Figures of one state of the member. Deflections mm under the stated force at mid-span, frequencies Hz.

    shares: of the tip's compliance by strain energy: bending, shear, twist (of the member), carriages; they add
    up to 1. spread: half-widths by the names tip, bend_y, bend_z, twist, from the carriages' spread and, in
    quadrature, from the stiffness model's own.
    """

    tip_mm: float
    shares: dict[str, float]
    bend_y_Hz: float
    bend_z_Hz: float
    twist_Hz: float
    spread: dict[str, float]

    @property
    def frequencies(self) -> dict[str, float]:
        """First frequencies, Hz, by the names bend_y, bend_z, twist."""
        return {"bend_y": self.bend_y_Hz, "bend_z": self.bend_z_Hz, "twist": self.twist_Hz}


@dataclass(frozen=True)
class ServedResult:
    """The machine served with the plain member and with the reworked one."""

    name: str
    force_N: float
    before: BeamState
    after: BeamState

    def findings(self, wishes: Wishes) -> list[Finding]:
        """Tip deflection and first frequencies against the job's wishes; reported where there is none."""
        a, b = self.after, self.before
        parts = ", ".join(f"{k} {100 * v:.0f} %" for k, v in a.shares.items())
        tip = Finding(
            "tip deflection",
            Verdict.GO,
            a.tip_mm,
            "mm",
            spread=a.spread["tip"],
            why=f"Under {self.force_N:g} N at mid-span; {b.tip_mm:.4f} mm before. Of it {parts}. {NOTE}",
            where=self.name,
        )
        lowest = min(a.frequencies, key=lambda kind: a.frequencies[kind])
        first = Finding(
            "first frequency",
            Verdict.GO,
            a.frequencies[lowest],
            "Hz",
            spread=a.spread[lowest],
            why=f"Mode: {MODES[lowest]}. Before: {_listed(b)}; after: {_listed(a)}. {NOTE}",
            where=self.name,
        )
        return [
            _judge(tip, wishes.tip_deflection, upper=True),
            _judge(first, wishes.first_frequency, upper=False),
        ]


def _listed(state: BeamState) -> str:
    return ", ".join(f"{MODES[kind]} {f:.0f} Hz" for kind, f in state.frequencies.items())


def _judge(finding: Finding, wish: float | None, *, upper: bool) -> Finding:
    if wish is None or finding.value is None:
        return finding
    margin = wish - finding.value if upper else finding.value - wish
    verdict = (
        Verdict.NO_GO if margin < 0 else Verdict.CAUTION if margin < (finding.spread or 0.0) else Verdict.GO
    )
    tail = {
        Verdict.NO_GO: " Beyond the wish: keep more metal, stiffen the carriages, or move them closer together.",
        Verdict.CAUTION: " The spread of the stiffnesses could use up the margin: measure the carriages with a push test.",
        Verdict.GO: "",
    }[verdict]
    return replace(finding, verdict=verdict, limit=wish, margin=margin, why=finding.why + tail)


def _on_carriages(beam: Beam, served: Served, factor: float) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness with the carriages' springs, (6 (n + 1))^2, and the springs alone as its diagonal's addition.

    Each carriage holds y, z and twist on the reference axis; the first also holds x. None holds the slopes.
    """
    springs = np.zeros(len(beam.K))
    for place in served.supports:
        springs[[beam.unknown(place, V), beam.unknown(place, W)]] += served.support_stiffness * factor
        springs[beam.unknown(place, TX)] += served.support_twist_stiffness * factor
    springs[beam.unknown(served.supports[0], U)] += served.support_stiffness * factor
    return beam.K + np.diag(springs), springs


def beam_state(
    stretches: Sequence[Stretch], axis: tuple[float, float], served: Served, factor: float = 1.0
) -> BeamState:
    """Figures of a member of these stretches on its carriages, without spread; factor: on the carriages' stiffness.

    The tool stands at mid-span, its tip `tool_offset` to the side of the axis (y, z) as the force sees it. Its
    mass rides on the axis for bending; for twist it is taken at the tip's distance, which is the cautious side.
    """
    a, b = served.supports
    middle = (a + b) / 2
    beam = build_beam(stretches, axis, (a, middle, b), elements=28)
    K, springs = _on_carriages(beam, served, factor)
    along = beam.unknown(middle, V if served.force_direction == "y" else W)
    twist = beam.unknown(middle, TX)
    # A force in z to the side +y turns the member by +x; a force in y to the side +z by -x.
    lever = served.tool_offset if served.force_direction == "z" else -served.tool_offset
    reach = np.zeros(len(K))
    reach[along], reach[twist] = 1.0, lever
    moved = np.linalg.solve(K, served.force * reach)
    parts = energies(beam, moved)
    parts["carriages"] = float((springs * moved**2).sum()) / 2
    whole = sum(parts.values())
    M = beam.M.copy()
    at = [beam.unknown(middle, which) for which in (U, V, W)]
    M[at, at] += served.tool_mass * 1e-3
    M[twist, twist] += served.tool_mass * 1e-3 * served.tool_offset**2
    found = modes(K, M, _SEARCHED)
    first = {kind: first_of(found, kind).frequency for kind in MODES}
    shares = {kind: part / whole for kind, part in parts.items()}
    return BeamState(float(reach @ moved), shares, first["bend_y"], first["bend_z"], first["twist"], {})


def _with_spread(
    stretches: Sequence[Stretch], axis: tuple[float, float], served: Served, own: dict[str, float]
) -> BeamState:
    """The state with its spread; own: relative half-widths of the stiffness model, by name."""
    middle = beam_state(stretches, axis, served)
    soft = beam_state(stretches, axis, served, 1.0 - served.support_spread)
    stiff = beam_state(stretches, axis, served, 1.0 + served.support_spread)
    EI = max(own.get("EIy", 0.0), own.get("EIz", 0.0))
    GA = max(own.get("GAy", 0.0), own.get("GAz", 0.0))
    compliance = sum(
        middle.shares[part] * wide
        for part, wide in (("bending", EI), ("shear", GA), ("twist", own.get("GJ", 0.0)))
    )
    # A frequency follows the root of the stiffness.
    wide = {"bend_y": max(EI, GA) / 2, "bend_z": max(EI, GA) / 2, "twist": own.get("GJ", 0.0) / 2}
    spread = {
        kind: math.hypot((stiff.frequencies[kind] - soft.frequencies[kind]) / 2, wide[kind] * f)
        for kind, f in middle.frequencies.items()
    }
    spread["tip"] = math.hypot((soft.tip_mm - stiff.tip_mm) / 2, compliance * middle.tip_mm)
    return replace(middle, spread=spread)


def serve(member: Member, intact: BeamProperties, reworked: BeamProperties, served: Served) -> ServedResult:
    """Deflection at the tool and first frequencies of the member on its carriages, before and after.

    Raises BadInput where a carriage stands beyond the member.
    """
    for place in served.supports:
        if not 0 <= place <= member.length:
            raise BadInput(
                f"{served.name}: a carriage at x = {place:g} mm stands beyond the member, which is {member.length:g} mm "
                f"long. Allowed: supports from 0 to {member.length:g} mm. Move it under the member."
            )
    before, after = plain_stretches(member, intact), worked_stretches(member, intact, reworked)
    return ServedResult(
        served.name,
        served.force,
        _with_spread(before, intact.centroid, served, intact.spread),
        _with_spread(after, intact.centroid, served, reworked.spread),
    )
