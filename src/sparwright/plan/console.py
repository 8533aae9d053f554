"""What the commands print for people. Plain in a pipe, with signs as well as colour on a terminal."""

from __future__ import annotations

import math
import sys
import time
from typing import Any

from rich.console import Console
from rich.table import Table

from sparwright.answers import Finding, Verdict
from sparwright.loop.serve import ServedResult
from sparwright.measure.weigh import WeighResult
from sparwright.placing.model import Fit
from sparwright.placing.pose import TouchPose
from sparwright.plan.model import Plan
from sparwright.plan.stiff import Stiff
from sparwright.proof.model import Proof
from sparwright.stiffness.report import StiffnessResult

SIGN = {Verdict.GO: "go     ", Verdict.CAUTION: "CAUTION", Verdict.NO_GO: "NO-GO  "}
STYLE = {Verdict.GO: "", Verdict.CAUTION: "bold", Verdict.NO_GO: "bold reverse"}


def _console() -> Console:
    return Console(highlight=False, soft_wrap=not sys.stdout.isatty())


class Steps:
    """Says on a terminal which step is under way; silent in a pipe."""

    def __init__(self, *, quiet: bool = False) -> None:
        console = Console(stderr=True, highlight=False)
        self._status = console.status("") if console.is_terminal and not quiet else None
        self._start = time.perf_counter()

    def __enter__(self) -> Steps:
        if self._status is not None:
            self._status.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._status is not None:
            self._status.stop()

    def begin(self, step: str) -> None:
        """A step begins."""
        if self._status is not None:
            self._status.update(f"{step} ...  ({time.perf_counter() - self._start:.0f} s)")


def _figure(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.4g} {unit}".strip()


def _finding_line(f: Finding) -> str:
    parts = [_figure(f.value, f.unit)]
    if f.limit is not None:
        parts.append(f"limit {_figure(f.limit, f.unit)}")
    if f.margin is not None:
        parts.append(f"margin {_figure(f.margin, f.unit)}")
    figures = ", ".join(p for p in parts if p)
    return f"{f.name}: {figures}" if figures else f.name


def print_plan(plan: Plan, files: tuple[str, ...], out: str | None, *, most: int = 7) -> None:
    """The six answers with their findings (at most `most` a question, worst first), and where the packet is."""
    console = _console()
    console.print(
        f"{plan.member.title}: {plan.member.section.drawing}, {plan.member.length:g} mm, {plan.member.material.name}",
        style="bold",
    )
    for a in plan.answers:
        console.print(
            f"\n{a.question}. {a.title}  [{STYLE[a.verdict] or 'default'}]{a.word if a.verdict is Verdict.GO else a.word.upper()}[/]",
            highlight=False,
        )
        console.print(f"   {a.headline}", markup=False)
        ordered = sorted(a.findings, key=lambda f: -f.verdict.rank)
        for f in ordered[:most]:
            console.print(f"     {SIGN[f.verdict]}  {_finding_line(f)}", markup=False)
            if f.verdict is not Verdict.GO:
                console.print(f"              {f.why}{f' [{f.where}]' if f.where else ''}", markup=False)
        if len(ordered) > most:
            console.print(f"     and {len(ordered) - most} more in the packet", markup=False)
    times = ", ".join(f"{k} {v:.1f}" for k, v in plan.seconds.items() if v >= 0.05)
    console.print(f"\nSeconds: {times}", markup=False)
    if out is not None:
        console.print(f"Packet: {len(files)} files in {out}", markup=False)


def print_stiffness(stiff: Stiff, mass_out: float) -> None:
    """Question 1: what the member keeps, the machine served before and after, and what was found."""
    console = _console()
    result = stiff.member
    console.print(_kept_table(result))
    whole = ", ".join(f"{key} {100 * share:.1f} %" for key, share in result.end_to_end.items())
    console.print(f"{mass_out:.3f} kg come out. Kept from end to end: {whole}.", markup=False)
    for note in result.notes:
        console.print(note, markup=False)
    if stiff.served is not None:
        console.print(f"\n{stiff.served.name}, {stiff.served.kind}", markup=False)
        console.print(_machine_table(stiff.served))
    console.print()
    for f in sorted(stiff.answer.findings, key=lambda f: -f.verdict.rank):
        console.print(f"{SIGN[f.verdict]}  {_finding_line(f)}", markup=False)
        if f.verdict is not Verdict.GO:
            console.print(f"         {f.why}{f' [{f.where}]' if f.where else ''}", markup=False)


def _kept_table(result: StiffnessResult) -> Table:
    table = Table(show_edge=False)
    for head in (
        "",
        "plain stock",
        "reworked",
        "kept",
        *(("as windows", "kept") if result.windows is not None else ()),
    ):
        table.add_column(head, justify="left" if not head else "right")
    rows = {
        "mass": "mass_kg_per_m",
        "EA": "EA",
        "EIy": "EIy",
        "EIz": "EIz",
        "GJ": "GJ",
        "GAy": "GAy",
        "GAz": "GAz",
    }
    units = {"mass": "kg/m", "EA": "N", "EIy": "N mm²", "EIz": "N mm²", "GJ": "N mm²", "GAy": "N", "GAz": "N"}
    for key, attribute in rows.items():
        cells = [
            f"{key} {units[key]}",
            f"{getattr(result.intact, attribute):.4g}",
            f"{getattr(result.reworked, attribute):.4g}",
            f"{100 * result.kept[key]:.1f} %",
        ]
        if result.windows is not None and result.kept_windows is not None:
            cells += [f"{getattr(result.windows, attribute):.4g}", f"{100 * result.kept_windows[key]:.1f} %"]
        table.add_row(*cells)
    return table


def print_section(told: dict[str, Any]) -> None:
    """The figures of a section, and its walls."""
    console = _console()
    console.print(f"{told['section']}, {told['cells']} cells", markup=False)
    for key, value in told.items():
        if isinstance(value, float):
            console.print(f"  {key}: {value:.6g}", markup=False)
        elif isinstance(value, list) and value and isinstance(value[0], float):
            console.print(f"  {key}: {', '.join(f'{v:.5g}' for v in value)}", markup=False)
    for w in told["walls"]:
        face = f", face {w['face']}" if w["face"] else ""
        console.print(
            f"  wall {w['name']}: {w['length_mm']:.2f} x {w['thickness_mm']:.3f} mm{face}", markup=False
        )


def _machine_table(served: ServedResult) -> Table:
    table = Table(show_edge=False)
    for head in ("", "before", "after", "change"):
        table.add_column(head, justify="left" if not head else "right")
    for r in served.side_by_side():
        table.add_row(f"{r.name}, {r.unit}", f"{r.before:.4g}", f"{r.after:.4g}", f"{100 * r.change:+.1f} %")
    shares = served.after.shares[served.after.direction]
    told = ", ".join(f"{link} {100 * share:.0f} %" for link, share in list(shares.items())[:5])
    table.caption = f"Of the give at the tool along {served.after.direction}: {told}."
    table.caption_justify = "left"
    return table


def fit_dict(fit: Fit) -> dict[str, Any]:
    """A fit with the stable keys of the command line's JSON."""
    best = None
    if fit.best is not None:
        best = {
            "angle_deg": math.degrees(fit.best.angle),
            "x_mm": fit.best.x,
            "y_mm": fit.best.y,
            "margin_mm": fit.margin,
            "limited_by": fit.limited_by,
        }
    taken = None
    if fit.taken is not None:
        taken = {
            "angle_deg": math.degrees(fit.taken.pose.angle),
            "x_mm": fit.taken.pose.x,
            "y_mm": fit.taken.pose.y,
            "margin_mm": fit.taken.margin,
            "limited_by": fit.taken.limited_by,
        }
    return {
        "fits": fit.fits,
        "best": best,
        "taken": taken,
        "angles_deg": [[math.degrees(a), math.degrees(b)] for a, b in fit.angles],
        "stations": [list(s) for s in fit.stations],
    }


def print_fit(fit: Fit) -> None:
    """Question 2."""
    console = _console()
    taken = fit.taken
    if taken is None:
        console.print("Nothing is cut on these sides, so every pose does.", markup=False)
    elif fit.best is not None and fit.fits:
        console.print(
            f"It fits, and is cut at {math.degrees(taken.pose.angle):.3f}°, margin {taken.margin:.2f} mm, "
            f"limited by {taken.limited_by}.",
            markup=False,
        )
        console.print(
            f"Greatest margin of any pose: {fit.margin:.2f} mm at {math.degrees(fit.best.angle):.3f}°.",
            markup=False,
        )
        spans = ", ".join(f"{math.degrees(a):.2f} to {math.degrees(b):.2f}°" for a, b in fit.angles)
        console.print(f"All angles that fit: {spans}", markup=False)
    else:
        console.print(
            f"It does not fit in one station: {-taken.margin:.2f} mm are missing, limited by {taken.limited_by}.",
            markup=False,
        )
        if fit.stations:
            console.print(f"Stations it would take: {len(fit.stations)}", markup=False)


def print_pose(pose: TouchPose) -> None:
    """The pose found from touches."""
    d = pose.as_dict()
    console = _console()
    console.print(
        f"X {d['x_mm']:.3f} ± {d['u_x_mm']:.3f}, Y {d['y_mm']:.3f} ± {d['u_y_mm']:.3f} mm, angle {d['angle_deg']:.4f} ± {d['u_angle_deg']:.4f}°",
        markup=False,
    )
    if d["rejected"]:
        console.print(f"Left out as wrong: touches {', '.join(str(r) for r in d['rejected'])}", markup=False)


def print_reading(name: str, figures: dict[str, Any]) -> None:
    """What a program says."""
    console = _console()
    console.print(
        f"{name}: {figures['blocks']} blocks, {figures['motions']} motions, {figures['seconds']:.1f} s at the programmed feeds",
        markup=False,
    )
    console.print(
        f"cutting {figures['cutting_length_mm']:.3f} mm, rapid {figures['rapid_length_mm']:.3f} mm",
        markup=False,
    )
    if figures["extents_mm"]:
        low, high = figures["extents_mm"]
        console.print(
            f"from {[round(v, 3) for v in low]} to {[round(v, 3) for v in high]} mm; ends at {figures['end_mm']}",
            markup=False,
        )
    for e in figures["errors"]:
        console.print(f"  line {e['line']}: {e['message']}", markup=False)
    for p in figures["passed_over"]:
        console.print(f"  line {p['line']}: {p['word']} passed over; what it does is not known", markup=False)


def print_proof(proof: Proof) -> None:
    """The verdict on programs."""
    console = _console()
    console.print(
        f"{proof.title.capitalize()}: {proof.verdict.value}", style=STYLE[proof.verdict], markup=False
    )
    for f in sorted(proof.findings, key=lambda f: -f.verdict.rank):
        console.print(
            f"  {SIGN[f.verdict]}  {f.check}{' ' * bool(f.feature)}{f.feature}: {f.message}", markup=False
        )
    for name, digest in proof.digests.items():
        console.print(f"  {name}  sha256 {digest}", markup=False)


def print_weigh(result: WeighResult) -> None:
    """Predicted, measured and what follows."""
    console = _console()
    for f in result.findings():
        spread = f" ± {_figure(f.spread, f.unit)}" if f.spread is not None else ""
        console.print(f"{SIGN[f.verdict]}  {f.name}: {_figure(f.value, f.unit)}{spread}", markup=False)
        if f.why:
            console.print(f"         {f.why}", markup=False)
