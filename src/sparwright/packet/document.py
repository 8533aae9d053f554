"""The packet's document: a plan turned into the data and pictures the sheets are set from."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sparwright.answers import Answer, Verdict, key_finding, worst
from sparwright.packet import bed, faces, words
from sparwright.packet.faces import mm
from sparwright.packet.figures import counted, number
from sparwright.packet.stiffness_sheet import stiffness_sheet
from sparwright.placing.model import Setup
from sparwright.plan.model import Plan
from sparwright.program.model import Program
from sparwright.stock.section import wall_thickness


@dataclass
class Document:
    """Data for the template and its pictures, SVG text by file name."""

    data: dict[str, Any] = field(default_factory=dict)
    pictures: dict[str, str] = field(default_factory=dict)

    def picture(self, name: str, svg: str) -> str:
        """Keep a picture and give back its name."""
        self.pictures[name] = svg
        return name


def build(plan: Plan) -> Document:
    """Everything the sheets show, from a finished plan."""
    doc = Document()
    doc.data.update(_head(plan))
    doc.data["answers"] = [_answer(a) for a in plan.answers]
    doc.data["order"] = _order_of_work(plan)
    doc.data.update(_pads(plan, doc))
    doc.data["sides"] = [_side(plan, doc, setup) for setup in plan.placement.setups]
    doc.data["faces"] = [_face(plan, doc, name) for name in plan.member.worked_faces]
    doc.data.update(_section_and_pockets(plan, doc))
    doc.data["stiffness"] = _stiffness(plan, doc)
    doc.data.update(_after(plan))
    doc.data["cautions"] = list(words.CAUTIONS)
    return doc


def _head(plan: Plan) -> dict[str, Any]:
    member = plan.member
    cut = ", ".join(
        counted(len(many), word)
        for many, word in ((member.pockets, "pocket"), (member.holes, "hole"), (member.notches, "notch"))
    )
    return {
        "title": member.title,
        "notes": plan.job.file.job.notes,
        "digest": plan.job.digest[:12],
        "summary": f"{member.section.drawing}, {member.material.name}, {mm(member.length)} mm long: {cut}. "
        f"{number(plan.mass_kg, 'kg')} before, {number(plan.mass_out_kg, 'kg')} cut out.",
    }


def _answer(a: Answer) -> dict[str, Any]:
    best = key_finding(a)
    key = None
    if best is not None:
        used, f = best
        key = {
            "used": used,
            "text": f"{f.name}: {number(f.value, f.unit)} against {number(f.limit, f.unit)}, margin {number(f.margin, f.unit)}",
        }
    return {
        "question": a.question,
        "title": a.title,
        "verdict": a.verdict.value,
        "headline": a.headline,
        "key": key,
        "findings": [
            {
                "name": f.name,
                "verdict": f.verdict.value,
                "value": number(f.value, f.unit) + (f" ± {number(f.spread)}" if f.spread else ""),
                "limit": number(f.limit, f.unit),
                "margin": number(f.margin, f.unit),
                "why": f.why + (f" [{f.where}]" if f.where else ""),
            }
            for f in a.findings
        ],
    }


def _order_of_work(plan: Plan) -> list[str]:
    steps = [f"Saw: {text}" for text in plan.member.sawn]
    steps.append(f"Weigh the stock: {number(plan.mass_kg, 'kg')} expected.")
    if plan.pads:
        steps.append(
            f"Cut {len(plan.placement.setups[0].pads)} pads, screw them to the bed as drawn, then machine their slots and holes in place."
        )
    for setup in plan.placement.setups:
        made = [p for p in plan.programs if p.side == setup.side]
        minutes = sum(p.minutes for p in made)
        steps.append(
            f"{setup.flip} Clamp, set Z0 on the face, run {len(made)} programs of side {setup.side}: {minutes:.0f} min of cutting."
        )
        widened = [p for p in plan.programs if p.side.startswith("pads-") and p.side != f"pads-{setup.side}"]
        if widened and setup.order == 1:
            steps.append("Take the member out and widen the slots with the second pads programs.")
    threads = sorted({h.thread for h in plan.member.holes if h.kind == "tapped" and h.thread})
    if threads:
        steps.append(f"Tap {', '.join(threads)} by hand.")
    steps.append("Deburr, wash, weigh, tap and listen: fill in the last sheet.")
    return steps


def _programs(programs: list[Program], plan: Plan) -> list[dict[str, str]]:
    proved: dict[str, Verdict] = {}
    for proof in plan.proofs:
        for name in proof.digests:  # a side's own programs are also in the proof of all sides together
            proved[name] = worst((proof.verdict, proved.get(name, Verdict.GO)))
    rows = []
    for p in programs:
        verdict = proved.get(p.name)
        rows.append(
            {
                "name": p.name,
                "cutter": ", ".join(f"{n} {plan.job.cutter(n).name}" for n in p.cutters),
                "minutes": f"{p.minutes:.1f}",
                "digest": p.digest[:12],
                "proof": "none"
                if verdict is None
                else ("not passed" if verdict is Verdict.NO_GO else "passed"),
            }
        )
    return rows


def _pads(plan: Plan, doc: Document) -> dict[str, Any]:
    if not plan.placement.setups or not plan.pads:
        return {"pads": [], "pad_rows": [], "pad_programs": [], "pads_text": ""}
    setup = plan.placement.setups[0]
    pictures = []
    for i, pad in enumerate(setup.pads, 1):
        svg, _ = bed.pad_drawing(pad, i, setup.side)
        pictures.append(doc.picture(f"pad-{i}.svg", svg))
    first = setup.pads[0]
    return {
        "pads": pictures,
        "pad_rows": bed.pad_table(setup),
        "pad_programs": _programs([p for p in plan.programs if p.side.startswith("pads")], plan),
        "pads_text": f"{len(setup.pads)} pieces of {plan.job.file.placing.pad_material}, {mm(first.thickness)} mm thick, fixed to the bed so that each "
        "corner lies within 2 mm of the place below; they are then machined where they are, so the slots are true to the machine. "
        "Z0 is the top of the pads. Keep the fixing screws out of the slots and at least 15 mm from any hole. "
        "Pads are drawn as seen looking along the member from its datum end; the dot is the corner to measure from. Figures at a hole: across and along from it.",
    }


def _side(plan: Plan, doc: Document, setup: Setup) -> dict[str, Any]:
    svg, scale = bed.bed_drawing(plan.member, setup, plan.job.bed)
    made = [p for p in plan.programs if p.side == setup.side]
    cuts = next((s.cuts for s in plan.sides if s.side == setup.side), ())
    pose, length = setup.pose, plan.member.length
    ends = pose.to_bed(np.array([[0.0, 0.0], [length, 0.0]]))
    depths: dict[int, float] = {}
    speeds: dict[int, float] = {}
    for cut in cuts:
        low = min(float(piece.path.end[:, 2].min()) for piece in cut.pieces)
        depths[cut.cutter] = min(depths.get(cut.cutter, 0.0), low)
        speeds[cut.cutter] = cut.rpm
    cutters = []
    for n in dict.fromkeys(cut.cutter for cut in cuts):
        c = plan.job.cutter(n)
        cutters.append(
            {
                "number": str(n),
                "name": c.name,
                "diameter": mm(c.diameter, 4),
                "stick_out": mm(c.stick_out),
                "rpm": f"{speeds[n]:.0f}",
            }
        )
    return {
        "side": setup.side,
        "order": setup.order,
        "flip": setup.flip,
        "picture": doc.picture(f"bed-{setup.side}.svg", svg),
        "scale": scale,
        "place": [
            ("Angle of the member from X", f"{mm(math.degrees(pose.angle), 3)}°"),
            ("Datum end, middle of the face, X Y", f"{mm(ends[0][0])}, {mm(ends[0][1])} mm"),
            ("Far end, middle of the face, X Y", f"{mm(ends[1][0])}, {mm(ends[1][1])} mm"),
            ("Face above the bed", f"{mm(setup.face_height)} mm"),
            ("Zero point", setup.zero),
            ("Minutes of cutting", f"{sum(p.minutes for p in made):.0f}"),
        ],
        "clamps": bed.clamp_rows(setup.clamps),
        "cutters": cutters,
        "programs": _programs(made, plan),
        "checks": list(words.CHECKS),
        "cautions": words.SIDE_CAUTIONS,
    }


def _face(plan: Plan, doc: Document, name: str) -> dict[str, Any]:
    svg, scale = faces.face_drawing(plan.member, name)
    kinds = faces.distinct_pockets(plan.member)
    note = "Pockets: see the sheet of pockets." if kinds else ""
    return {
        "name": name,
        "picture": doc.picture(f"face-{name}.svg", svg),
        "scale": scale,
        "note": note,
        "holes": [
            {
                "mark": r.mark,
                "name": r.name,
                "x": mm(r.x),
                "s": mm(r.s),
                "edge": mm(r.from_edge),
                "drill": mm(r.drill),
                "what": r.what,
            }
            for r in faces.hole_rows(plan.member)
            if r.face == name
        ],
    }


def _section_and_pockets(plan: Plan, doc: Document) -> dict[str, Any]:
    member = plan.member
    svg, scale = faces.section_drawing(member.section)
    pockets = []
    for i, (pocket, count) in enumerate(faces.distinct_pockets(member)[:4], 1):
        wall = wall_thickness(member.section, member.section.face(pocket.face), pocket.origin[1])
        picture, detail_scale = faces.pocket_detail(member, pocket, wall)
        broken = f", edge broken {mm(pocket.edge_break)}" if pocket.edge_break else ""
        pockets.append(
            {
                "picture": doc.picture(f"pocket-{i}.svg", picture),
                "text": f"{count} pockets of {pocket.field or pocket.id}, scale {detail_scale}{broken}. Depth tolerance {mm(plan.job.file.cutting.floor_tolerance)} mm.",
            }
        )
    dropped = "; ".join(f"{p.id} ({p.reason})" for p in member.dropped)
    return {
        "section": {
            "picture": doc.picture("section.svg", svg),
            "scale": scale,
            "text": member.section.drawing,
        },
        "pockets": pockets,
        "dropped": dropped,
    }


def _stiffness(plan: Plan, doc: Document) -> dict[str, Any]:
    wishes = plan.job.file.wishes
    wished = {"GJ": wishes.twist_kept, "EIy": wishes.bending_kept, "EIz": wishes.bending_kept}
    data, pictures = stiffness_sheet(plan.stiff, plan.member.section, wished)
    doc.pictures.update(pictures)
    return data


def _after(plan: Plan) -> dict[str, Any]:
    rows = [
        (f.name, number(f.value, f.unit) + (f" ± {number(f.spread, f.unit)}" if f.spread else ""))
        for f in plan.expected
        if f.value is not None
    ]
    return {
        "after": rows,
        "after_text": "Nothing is measured yet. `sparwright weigh` compares the two weighings with what was planned.",
    }
