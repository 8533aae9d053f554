"""The machine served, thin: the member as a beam on its two carriages, before and after.

It is the member on its carriages only: the frame, the drive and the tool's own mount add compliance that is not
counted here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Served, Wishes
from sparwright.loop.elements import (
    bending_energies,
    bending_matrices,
    chain,
    frequencies,
    twist_matrices,
    worked_spans,
)
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

NOTE = "The member on its two carriages only; frame, drive and tool mount are not counted."


@dataclass(frozen=True)
class BeamState:
    """Figures of one state of the member. Deflections mm under the stated force at mid-span, frequencies Hz.

    shares: of the tip's compliance by strain energy: bending, shear, twist, carriages; they add up to 1.
    spread: half-widths from the carriages' spread, by the names tip, bend_y, bend_z, twist.
    """

    tip_mm: float
    shares: dict[str, float]
    bend_y_Hz: float
    bend_z_Hz: float
    twist_Hz: float
    spread: dict[str, float]


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
        tip = _judge(
            Finding(
                "tip deflection",
                Verdict.GO,
                a.tip_mm,
                "mm",
                spread=a.spread["tip"],
                why=f"Under {self.force_N:g} N at mid-span; {b.tip_mm:.4f} mm before. Of it {parts}. {NOTE}",
                where=self.name,
            ),
            wishes.tip_deflection,
            upper=True,
        )
        lowest = min(
            ("bending in y", a.bend_y_Hz, "bend_y"),
            ("bending in z", a.bend_z_Hz, "bend_z"),
            ("twist", a.twist_Hz, "twist"),
            key=lambda t: t[1],
        )
        first = _judge(
            Finding(
                "first frequency",
                Verdict.GO,
                lowest[1],
                "Hz",
                spread=a.spread[lowest[2]],
                why=f"Mode: {lowest[0]}. Before: bending in y {b.bend_y_Hz:.0f}, in z {b.bend_z_Hz:.0f}, twist {b.twist_Hz:.0f} Hz; "
                f"after: {a.bend_y_Hz:.0f}, {a.bend_z_Hz:.0f}, {a.twist_Hz:.0f} Hz.",
                where=self.name,
            ),
            wishes.first_frequency,
            upper=False,
        )
        return [tip, first]


def _judge(finding: Finding, wish: float | None, *, upper: bool) -> Finding:
    if wish is None or finding.value is None:
        return finding
    margin = wish - finding.value if upper else finding.value - wish
    verdict = (
        Verdict.NO_GO if margin < 0 else Verdict.CAUTION if margin < (finding.spread or 0.0) else Verdict.GO
    )
    tail = {
        Verdict.NO_GO: " Beyond the wish: keep more metal, stiffen the carriages, or move them closer together.",
        Verdict.CAUTION: " The spread of the carriages' stiffness could use up the margin: measure it with a push test.",
        Verdict.GO: "",
    }[verdict]
    return replace(finding, verdict=verdict, limit=wish, margin=margin, why=finding.why + tail)


def _state(
    length: float,
    plain: BeamProperties,
    worked: BeamProperties | None,
    spans: list[tuple[float, float]],
    served: Served,
    factor: float,
) -> BeamState:
    k, kt = served.support_stiffness * factor, served.support_twist_stiffness * factor
    a, b = served.supports
    middle = (a + b) / 2
    places = (a, middle, b)
    tool = served.tool_mass * 1e-3
    bend = {}
    energies: dict[str, float] = {}
    deflection = 0.0
    for plane in ("y", "z"):
        c = chain(length, plain, worked, spans, places, plane=plane)
        K, M = bending_matrices(c)
        ends = [2 * c.node_at(a), 2 * c.node_at(b)]
        for e in ends:
            K[e, e] += k
        mid = 2 * c.node_at(middle)
        if plane == served.force_direction:
            f = np.zeros(len(K))
            f[mid] = served.force
            u = np.linalg.solve(K, f)
            deflection = float(u[mid])
            energies["bending"], energies["shear"] = bending_energies(c, u)
            energies["carriages"] = float(sum(k * u[e] ** 2 / 2 for e in ends))
        M[mid, mid] += tool
        bend[plane] = float(frequencies(K, M, 1)[0][0])
    c = chain(length, plain, worked, spans, places)
    K, M = twist_matrices(c)
    ends = [c.node_at(a), c.node_at(b)]
    for e in ends:
        K[e, e] += kt
    mid = c.node_at(middle)
    f = np.zeros(len(K))
    f[mid] = served.force * served.tool_offset
    angle = np.linalg.solve(K, f)
    held = float(sum(kt * angle[e] ** 2 / 2 for e in ends))
    energies["twist"] = float(f @ angle / 2) - held
    energies["carriages"] += held
    M[mid, mid] += tool * served.tool_offset**2
    whole = sum(energies.values())
    shares = {key: energies[key] / whole for key in ("bending", "shear", "twist", "carriages")}
    tip = deflection + float(angle[mid]) * served.tool_offset
    return BeamState(tip, shares, bend["y"], bend["z"], float(frequencies(K, M, 1)[0][0]), {})


def _with_spread(
    length: float,
    plain: BeamProperties,
    worked: BeamProperties | None,
    spans: list[tuple[float, float]],
    served: Served,
) -> BeamState:
    middle = _state(length, plain, worked, spans, served, 1.0)
    soft = _state(length, plain, worked, spans, served, 1.0 - served.support_spread)
    stiff = _state(length, plain, worked, spans, served, 1.0 + served.support_spread)
    spread = {
        "tip": (soft.tip_mm - stiff.tip_mm) / 2,
        "bend_y": (stiff.bend_y_Hz - soft.bend_y_Hz) / 2,
        "bend_z": (stiff.bend_z_Hz - soft.bend_z_Hz) / 2,
        "twist": (stiff.twist_Hz - soft.twist_Hz) / 2,
    }
    return replace(middle, spread=spread)


def serve(member: Member, intact: BeamProperties, reworked: BeamProperties, served: Served) -> ServedResult:
    """Deflection at the tool and first frequencies of the member on its carriages, before and after.

    The tool stands at mid-span. Supports beyond the member's ends are brought to the ends.
    """
    a, b = (min(max(s, 0.0), member.length) for s in served.supports)
    on = served.model_copy(update={"supports": (min(a, b), max(a, b))})
    return ServedResult(
        served.name,
        served.force,
        _with_spread(member.length, intact, None, [], on),
        _with_spread(member.length, intact, reworked, worked_spans(member), on),
    )
