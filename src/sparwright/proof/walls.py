"""Walls, edge breaks and holes, by the exact distance from looks at the wanted outline (probes.py) to what is cut away."""

from __future__ import annotations

import math

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named, passed
from sparwright.proof.kernels import CONE
from sparwright.proof.model import ProofFinding
from sparwright.proof.probes import (
    Probes,
    bound_wall,
    in_stock,
    kept_walls,
    neighbours,
    outline_points,
    probe_wall,
    together,
)
from sparwright.proof.scene import Target
from sparwright.proof.simulate import Cutaway, gaps_at
from sparwright.proof.surface import vee_slope
from sparwright.proof.tabs import NOTHING, Held

EDGE_TOLERANCE = 0.1  # of an edge break's width, mm: common practice, no source
EDGE_LOOK = 0.01  # depth of the look at an edge break's width, mm


def _nearest_sweep(case: Case, at: np.ndarray, within: np.ndarray | None = None) -> int:
    """The sweep that ends nearest to a place, of those whose tip goes as low, and of those `within` (bool) where any
    is; -1 where none does.
    """
    low = np.minimum(case.sweeps.start[:, 2], case.sweeps.end[:, 2])
    far = np.hypot(case.sweeps.end[:, 0] - at[0], case.sweeps.end[:, 1] - at[1])
    far[low > at[2]] = np.inf
    if within is not None and np.isfinite(far[within]).any():
        far[~within] = np.inf
    if len(far) == 0:
        return -1
    k = int(far.argmin())
    return k if np.isfinite(far[k]) else -1


def _other_cutter(case: Case, sweep: int, off: float) -> str:
    """A hint where a wall is off by just the difference of two cutters' radii; else empty."""
    if sweep < 0:
        return ""
    t = int(case.sweeps.tool[sweep])
    for i, cutter in enumerate(case.job.cutters):
        if i != t and abs(case.tools.radius[t] - off * -1 - case.tools.radius[i]) < 0.02:
            return f". Off by just what T{cutter.number} in place of T{case.job.cutters[t].number} would make good"
    return ""


def _wall_finding(case: Case, target: Target, probes: Probes, i: int, check: str = "wall") -> ProofFinding:
    """The finding on the look i of a target's wall."""
    off = float(probes.gap[i])
    sweep = int(probes.who[i])
    if sweep < 0:
        sweep = _nearest_sweep(case, probes.at[i])
    program, line = case.line_of_sweep(sweep)
    x, s, n = (float(v) for v in probes.at[i])
    if off < 0:
        what = f"cuts {-off:.3f} mm into the wall of"
    else:
        least = "at least " if probes.who[i] < 0 else ""
        what = f"leaves {least}{off:.3f} mm on the wall of"
    return ProofFinding(
        check,
        Verdict.NO_GO,
        f"{named(program, line)} {what} {target.kind} {target.id} at x {x:.2f}, s {s:.2f}, Z {n:.2f}"
        + (_other_cutter(case, sweep, off) or ". Correct this path"),
        feature=target.id,
        program=program,
        line=line,
        at=(x, s, n),
        value=off,
        limit=case.job.file.cutting.wall_tolerance,
        unit="mm",
    )


def _wall_faults(case: Case, target: Target, probes: Probes) -> list[ProofFinding]:
    """The worst gouge and the most metal left on one wall, where they pass the tolerance."""
    tolerance = case.job.file.cutting.wall_tolerance
    findings = []
    if len(probes.gap) and probes.gap.min() < -tolerance:
        findings.append(_wall_finding(case, target, probes, int(probes.gap.argmin())))
    if len(probes.gap) and probes.gap.max() > tolerance:
        findings.append(_wall_finding(case, target, probes, int(probes.gap.argmax())))
    return findings


# --- holes ----------------------------------------------------------------------------------------------


def hole_figures(target: Target, probes: Probes) -> tuple[float, float, float]:
    """Diameter and offset (x, s) of a round hole as cut, by least squares over the looks round it.

    A hole shifted by d in direction a shows a gap of -d cos(angle - a); one too wide by 2 e a gap of -e.
    """
    assert target.circle is not None
    x, s, diameter = target.circle
    angle = np.arctan2(probes.at[:, 1] - s, probes.at[:, 0] - x)
    fit = np.column_stack([np.ones(len(angle)), np.cos(angle), np.sin(angle)])
    mean, dx, ds = np.linalg.lstsq(fit, probes.gap, rcond=None)[0]
    return float(diameter - 2 * mean), float(-dx), float(-ds)


def _hole_faults(case: Case, target: Target, probes: Probes, closer: Probes) -> list[ProofFinding]:
    """A round hole that is off, said as its size and its place, by looks evenly round it; as a wall where it is off in
    one spot only, by all looks.
    """
    faults = _wall_faults(case, target, together([probes, closer]))
    if not faults or target.circle is None:
        return faults
    tolerance = case.job.file.cutting.wall_tolerance
    diameter, dx, ds = hole_figures(target, probes)
    worst = faults[0]
    found = []
    told = named(worst.program, worst.line)
    if abs(diameter - target.circle[2]) > tolerance:
        found.append(
            ProofFinding(
                "hole size",
                Verdict.NO_GO,
                f"{told} makes {target.kind} {target.id} {diameter:.3f} mm wide, and {target.circle[2]:.3f} mm is wanted. "
                "Check the cutter's diameter and the path",
                feature=target.id,
                program=worst.program,
                line=worst.line,
                at=worst.at,
                value=diameter,
                limit=target.circle[2],
                unit="mm",
            )
        )
    if math.hypot(dx, ds) > tolerance:
        found.append(
            ProofFinding(
                "hole place",
                Verdict.NO_GO,
                f"{told} makes {target.kind} {target.id} {math.hypot(dx, ds):.3f} mm off its place "
                f"(x {dx:+.3f}, s {ds:+.3f}). Shift the path back",
                feature=target.id,
                program=worst.program,
                line=worst.line,
                at=worst.at,
                value=math.hypot(dx, ds),
                limit=tolerance,
                unit="mm",
            )
        )
    return found or faults


# --- edge breaks ----------------------------------------------------------------------------------------


def probe_edge(case: Case, cut: Cutaway, target: Target, others: list[Target]) -> Probes:
    """Looks at a target's edge break; gap is the width wanted less the width cut, at the face and half way down."""
    slope = vee_slope(case)
    points = outline_points(target)
    points = points[in_stock(case, points)]
    looks = []
    for n in (-EDGE_LOOK, -0.5 * target.edge_break * slope):
        here = points[kept_walls(points, n, others)]
        at = np.column_stack([here, np.full(len(here), n)])
        gap, who = gaps_at(case, cut, at)
        cone = (
            (who >= 0) & (case.tools.form[case.sweeps.tool[who]] == CONE)
            if len(case.sweeps.tool)
            else who >= 0
        )
        own = (
            np.where(cone, case.tools.slope[case.sweeps.tool[who]], slope) if len(case.sweeps.tool) else slope
        )
        looks.append(Probes(at, gap + target.edge_break + n / own, who))
    return together(looks)


def _edge_fault(case: Case, target: Target, probes: Probes) -> list[ProofFinding]:
    if len(probes.gap) == 0 or np.abs(probes.gap).max() <= EDGE_TOLERANCE:
        return []
    i = int(np.abs(probes.gap).argmax())
    off = float(probes.gap[i])
    cone = case.tools.form[case.sweeps.tool] == CONE
    sweep = int(probes.who[i])
    if sweep < 0 or not cone[sweep]:
        sweep = _nearest_sweep(case, probes.at[i], cone)
    program, line = case.line_of_sweep(sweep)
    width = target.edge_break - off
    text = "leaves sharp the edge of" if width < 0.02 else f"breaks by {width:.2f} mm the edge of"
    return [
        ProofFinding(
            "edge break",
            Verdict.NO_GO,
            f"{named(program, line)} {text} {target.kind} {target.id}, and {target.edge_break:.2f} mm is wanted. "
            f"Set the vee cutter {'lower' if width < target.edge_break else 'higher'} by the difference",
            feature=target.id,
            program=program,
            line=line,
            at=tuple(float(v) for v in probes.at[i]),  # type: ignore[arg-type]
            value=max(width, 0.0),
            limit=target.edge_break,
            unit="mm",
        )
    ]


# --- all of them ----------------------------------------------------------------------------------------


def _but_tabs(case: Case, probes: Probes, held: Held) -> Probes:
    """The looks but those that show metal left where a piece hangs on tabs."""
    keep = (probes.gap <= 0) | ~held.at(case, probes.at)
    return Probes(probes.at[keep], probes.gap[keep], probes.who[keep])


def check_walls(
    case: Case, cut: Cutaway, uncut: frozenset[tuple[str, str]], held: Held = NOTHING
) -> tuple[list[ProofFinding], int]:
    """Walls, holes and edge breaks of every target that was cut; the findings, and how many looks were made.

    held: what hangs on tabs, whose feet are no fault of a wall.
    """
    findings: list[ProofFinding] = []
    worst, bound, edge, looks = 0.0, 0.0, 0.0, 0
    broken = False
    others = neighbours(case)
    for i, target in enumerate(case.scene.targets):
        if (target.id, target.kind) in uncut:
            continue
        probes = _but_tabs(case, probe_wall(case, cut, target, others[i]), held)
        closer, most = bound_wall(case, cut, target, others[i], held)
        looks += len(probes.gap) + len(closer.gap)
        findings += _hole_faults(case, target, probes, closer)
        worst, bound = max(worst, float(np.abs(probes.gap).max(initial=0.0))), max(bound, most)
        if target.edge_break > 0:
            broken = True
            probes = probe_edge(case, cut, target, others[i])
            looks += len(probes.gap)
            findings += _edge_fault(case, target, probes)
            edge = max(edge, float(np.abs(probes.gap).max(initial=0.0)))
    if not any(f.check != "edge break" for f in findings):
        tolerance = case.job.file.cutting.wall_tolerance
        text = f"every wall and hole lies within {worst:.4f} mm of its place where looked at, {bound:.3f} mm anywhere"
        findings.append(passed("wall", text, worst, tolerance, "mm"))
    if broken and not any(f.check == "edge break" for f in findings):
        findings.append(
            passed("edge break", f"edges are broken to within {edge:.4f} mm", edge, EDGE_TOLERANCE, "mm")
        )
    return findings, looks
