"""Data of the sheets for the machine: pads, a setup for each side and station, programs and cutters."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from sparwright.answers import Verdict, worst
from sparwright.packet import bed, pads, words
from sparwright.packet.figures import Display
from sparwright.placing.model import Setup
from sparwright.plan.model import Plan
from sparwright.program.model import Program


def program_rows(programs: list[Program], plan: Plan) -> list[dict[str, str]]:
    """Programs with their cutters, minutes, digests and what their proof said."""
    proved: dict[str, Verdict] = {}
    for proof in plan.proofs:
        for name in proof.digests:  # a side's own programs are also in the proof of all sides together
            proved[name] = worst((proof.verdict, proved.get(name, Verdict.GO)))
    rows = []
    for p in programs:
        verdict = proved.get(p.name)
        said = "none" if verdict is None else "not passed" if verdict is Verdict.NO_GO else "passed"
        rows.append(
            {
                "name": p.name,
                "cutter": ", ".join(f"T{n} {plan.job.cutter(n).name}" for n in p.cutters),
                "minutes": f"{p.minutes:.1f} min",
                "digest": p.digest[:12],
                "proof": said,
            }
        )
    return rows


def pads_sheet(plan: Plan, show: Display) -> tuple[dict[str, Any], dict[str, str]]:
    """The sheet of the pads, and their pictures by file name; empty where there are none."""
    if not plan.placement.setups or not plan.pads:
        return {"pads": [], "pad_rows": [], "pad_holes": [], "pad_programs": [], "pads_text": ""}, {}
    setup = plan.placement.setups[0]
    pictures = {
        f"pad-{i}.svg": pads.pad_drawing(pad, i, setup.side, show)[0] for i, pad in enumerate(setup.pads, 1)
    }
    first = setup.pads[0]
    text = (
        f"{len(setup.pads)} pieces of {plan.job.file.placing.pad_material}, {show.size(first.thickness)} thick, "
        f"fixed to the bed so that each corner lies within {show.size(2)} of the place below; they are then machined "
        "where they are, so that the slots are true to the machine. Z0 is the top of the pads. Keep fixing screws out "
        f"of the slots and at least {show.size(15)} from any hole. Drawn as seen looking along the member from its "
        f"datum end; hatched: the slot. The dot is the corner to measure from; lengths in {show.unit_word}."
    )
    data: dict[str, Any] = {
        "pads": list(pictures),
        "pad_rows": pads.pad_table(setup, show),
        "pad_holes": pads.pad_hole_table(setup, show),
        "pad_programs": program_rows([p for p in plan.programs if p.side.startswith("pads")], plan),
        "pads_text": text,
    }
    return data, pictures


def _cutters(plan: Plan, side: str, show: Display) -> list[dict[str, str]]:
    cuts = [cut for s in (*plan.pads, *plan.sides) if s.side == side for cut in s.cuts]
    speeds: dict[int, set[int]] = {}
    for cut in cuts:
        speeds.setdefault(cut.cutter, set()).add(round(cut.rpm))
    rows = []
    for n, turned in speeds.items():
        c = plan.job.cutter(n)
        rows.append(
            {
                "number": f"T{n}",
                "name": c.name,
                "diameter": show.size(c.diameter, 4),
                "stick_out": show.size(c.stick_out),
                "rpm": ", ".join(str(s) for s in sorted(turned)) + " rpm",
            }
        )
    return rows


def side_sheet(plan: Plan, setup: Setup, show: Display) -> tuple[dict[str, Any], dict[str, str]]:
    """The two sheets of one side and station, to set it up and to run it, and the picture by file name."""
    picture = f"bed-{setup.side}-{setup.station}.svg"
    svg, scale, detail = bed.bed_drawing(plan.member, setup, plan.job.bed, show)
    made = [p for p in plan.programs if p.side == setup.side]
    ends = setup.pose.to_bed(np.array([[0.0, 0.0], [plan.member.length, 0.0]]))
    last = setup.order == max(s.order for s in plan.placement.setups)
    data: dict[str, Any] = {
        "side": setup.side,
        "order": setup.order,
        "station": setup.station if any(s.station != 1 for s in plan.placement.setups) else 0,
        "flip": setup.flip,
        "picture": picture,
        "scale": scale,
        "detail": detail,
        "place": [
            ("Angle of the member from X", f"{math.degrees(setup.pose.angle):.3f}°"),
            ("Face above the bed", show.size(setup.face_height)),
            ("Datum end, middle of the face, X Y", _point(ends[0], show)),
            ("Far end, middle of the face, X Y", _point(ends[1], show)),
            *_dowel(setup, show),
        ],
        "zero": setup.zero,
        "minutes": f"{sum(p.minutes for p in made):.0f} min",
        "clamps": bed.clamp_rows(setup.clamps, show),
        "cutters": _cutters(plan, setup.side, show),
        "programs": program_rows(made, plan),
        "checks": list(words.CHECKS),
        "between_title": "Before a clamp is opened" + ("" if last else ", and between sides"),
        "between": list(words.AFTER_LAST_SIDE if last else words.BETWEEN_SIDES),
        "cautions": words.SIDE_CAUTIONS,
    }
    return data, {picture: svg}


def _dowel(setup: Setup, show: Display) -> list[tuple[str, str]]:
    """Where the dowel in the collet stands that stops the datum end, as a row of the place; none without one."""
    if setup.dowel is None:
        return []
    return [
        ("Dowel that stops the datum end, X Y", _point(setup.pose.to_bed(np.array([setup.dowel]))[0], show))
    ]


def _point(at: np.ndarray, show: Display) -> str:
    return f"{show.length(at[0])}, {show.size(at[1])}"


def order_of_work(plan: Plan, show: Display) -> list[dict[str, Any]]:
    """Steps in order; a stop is a step at which nothing goes on until it is ticked."""
    steps: list[tuple[str, bool]] = [(f"Saw: {text}", False) for text in plan.member.sawn]
    steps.append(
        (
            f"Weigh and measure the stock, fill in the last sheet: {show.number(plan.mass_kg, 'kg')} expected.",
            False,
        )
    )
    made_of_pads = [p for p in plan.programs if p.side.startswith("pads")]
    first = plan.placement.setups[0].side if plan.placement.setups else ""
    second = [p for p in made_of_pads if p.side not in ("pads", f"pads-{first}")]
    if plan.pads:
        count = len(plan.placement.setups[0].pads)
        made = sum(p.minutes for p in made_of_pads if p not in second)
        text = f"Cut {count} pads, screw them to the bed as drawn, machine their slots and holes in place: {made:.0f} min."
        steps += [
            (text, False),
            ("Try the member in the slots: it slides in by hand and does not rock.", True),
        ]
    for setup in plan.placement.setups:
        programs = [p for p in plan.programs if p.side == setup.side]
        minutes = sum(p.minutes for p in programs)
        run = "the program" if len(programs) == 1 else f"the {len(programs)} programs"
        steps.append((setup.flip, False))
        steps.append((f"Clamp, set the zero, go through the checks on the sheet of side {setup.side}.", True))
        steps.append((f"Run {run} of side {setup.side} in their order: {minutes:.0f} min of cutting.", False))
        steps.append((f"Look at side {setup.side} and measure it before a clamp is opened.", True))
        if second and setup.order == 1:
            steps.append(("Take the member out and widen the slots with the second pads programs.", False))
    threads = sorted({h.thread for h in plan.member.holes if h.kind == "tapped" and h.thread})
    if threads:
        steps.append((f"Tap {', '.join(threads)} by hand.", False))
    steps.append(("Deburr, wash, weigh, tap and listen: fill in the last sheet.", False))
    return [{"text": text, "stop": stop} for text, stop in steps]
