"""The packet's document: a plan turned into the data and pictures the sheets are set from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from sparwright.packet import words
from sparwright.packet.drawing_sheets import face_sheet, section_sheet, section_words
from sparwright.packet.figures import Display, counted, display_of
from sparwright.packet.findings_sheet import answer_data, at_ease, dangers
from sparwright.packet.measured_sheet import measured_sheet
from sparwright.packet.setup_sheets import order_of_work, pads_sheet, program_rows, side_sheet
from sparwright.packet.stiffness_sheet import stiffness_sheet
from sparwright.plan.model import Plan


@dataclass
class Document:
    """Data for the template and its pictures, SVG text by file name."""

    data: dict[str, Any] = field(default_factory=dict)
    pictures: dict[str, str] = field(default_factory=dict)

    def picture(self, name: str, svg: str) -> str:
        """Keep a picture and give back its name."""
        self.pictures[name] = svg
        return name

    def keep(self, sheet: tuple[dict[str, Any], Mapping[str, str]]) -> dict[str, Any]:
        """Keep the pictures of a sheet and give back its data."""
        self.pictures.update(sheet[1])
        return sheet[0]


def build(plan: Plan) -> Document:
    """Everything the sheets show, from a finished plan, in the units its job asks for."""
    show = display_of(plan.job)
    doc = Document()
    doc.data.update(_head(plan, show))
    doc.data["answers"] = [answer_data(a, show) for a in plan.answers]
    doc.data["dangers"] = dangers(plan.answers, show)
    doc.data["at_ease"] = at_ease(plan.answers, show)
    doc.data["order"] = order_of_work(plan, show)
    doc.data["programs"] = program_rows(list(plan.programs), plan)
    doc.data["minutes"] = f"{sum(p.minutes for p in plan.programs):.0f} min"
    doc.data.update(doc.keep(pads_sheet(plan, show)))
    doc.data["sides"] = [doc.keep(side_sheet(plan, setup, show)) for setup in plan.placement.setups]
    doc.data["faces"] = [doc.keep(face_sheet(plan, name, show)) for name in plan.member.worked_faces]
    doc.data.update(doc.keep(section_sheet(plan, show)))
    doc.data["stiffness"] = _stiffness(plan, doc, show)
    doc.data.update(measured_sheet(plan, show))
    doc.data["cautions"] = list(words.CAUTIONS)
    return doc


def _head(plan: Plan, show: Display) -> dict[str, Any]:
    member = plan.member
    cut = ", ".join(
        counted(len(many), word)
        for many, word in ((member.pockets, "pocket"), (member.holes, "hole"), (member.notches, "notch"))
    )
    return {
        "title": member.title,
        "notes": plan.job.file.job.notes,
        "digest": plan.job.digest[:12],
        "unit": show.unit,
        "unit_word": show.unit_word,
        "units_note": words.INCH_NOTE if show.inch else "",
        "material": member.material.name,
        "summary": f"{section_words(member.section, show)}, {member.material.name}, {show.size(member.length)} long: {cut}. "
        f"{show.number(plan.mass_kg, 'kg')} before, {show.number(plan.mass_out_kg, 'kg')} cut out.",
    }


def _stiffness(plan: Plan, doc: Document, show: Display) -> dict[str, Any]:
    wishes = plan.job.file.wishes
    wished = {"GJ": wishes.twist_kept, "EIy": wishes.bending_kept, "EIz": wishes.bending_kept}
    return doc.keep(stiffness_sheet(plan.stiff, plan.member.section, wished, show))
