"""Data of the drawings: faces with their holes, the section, a detail of each kind of pocket."""

from __future__ import annotations

from typing import Any

from sparwright.packet import details, faces
from sparwright.packet.face_detail import face_detail
from sparwright.packet.figures import Display
from sparwright.plan.model import Plan
from sparwright.stock.model import Section
from sparwright.stock.section import wall_thickness

MOST_DETAILS = 4
BESIDE_TABLE, ALONE = (
    84.0,
    180.0,
)  # mm of paper a face's detail is wide at most, beside a hole table and without one


def section_words(section: Section, show: Display) -> str:
    """A section in words with its outside size: rectangular tube 50 x 100 x 4 (mm), outside 1.969 x 3.937 in."""
    low_y, low_z, high_y, high_z = section.shape.bounds
    named = f"{section.drawing} (mm)" if show.inch and " x " in section.drawing else section.drawing
    return f"{named}, outside {show.length(high_y - low_y)} x {show.size(high_z - low_z)}"


def face_sheet(plan: Plan, name: str, show: Display) -> tuple[dict[str, Any], dict[str, str]]:
    """The sheet of one face, and its picture by file name."""
    member = plan.member
    drilled = any(h.face == name for h in member.holes)
    width = BESIDE_TABLE if drilled else ALONE
    detail = face_detail(member, name, faces.face_scale(member, name), show, width=width)
    svg, scale = faces.face_drawing(member, name, show, framed=detail.span if detail else None)
    picture = f"face-{name}.svg"
    pictures = {picture: svg} | ({f"face-{name}-detail.svg": detail.svg} if detail else {})
    rows = [
        {
            "mark": r.mark,
            "name": r.name,
            "x": show.length(r.x),
            "s": show.length(r.s),
            "edge": show.length(r.from_edge),
            "drill": show.drill(r.drill),
            "what": r.what,
        }
        for r in faces.hole_rows(plan.member, show)
        if r.face == name
    ]
    crossed = any(p.window for p in plan.member.pockets if p.face == name)
    return {
        "name": name,
        "picture": picture,
        "scale": scale,
        "note": "Crossed: windows. " * crossed + "Grey: pockets, drawn whole on the sheet of pockets.",
        "holes": rows,
        "detail": {"picture": f"face-{name}-detail.svg", "scale": detail.scale} if detail else None,
    }, pictures


def section_sheet(plan: Plan, show: Display) -> tuple[dict[str, Any], dict[str, str]]:
    """The sheet of the section and the pockets, and its pictures by file name."""
    member = plan.member
    svg, scale = details.section_drawing(member.section, show, named=member.worked_faces)
    pictures = {"section.svg": svg}
    kinds = details.distinct_pockets(member)
    width = 118.0 if len(kinds) == 1 else 78.0  # one column of details, or two
    pockets = []
    for i, (pocket, count) in enumerate(kinds[:MOST_DETAILS], 1):
        wall = wall_thickness(member.section, member.section.face(pocket.face), pocket.origin[1])
        pictures[f"pocket-{i}.svg"], detail_scale = details.pocket_detail(pocket, wall, show, width=width)
        pockets.append(
            {
                "picture": f"pocket-{i}.svg",
                "text": f"{count} of {pocket.field or pocket.id}, scale {detail_scale}. "
                f"Depth ± {show.size(plan.job.file.cutting.floor_tolerance)}.",
            }
        )
    dropped = "; ".join(f"{p.id} ({p.reason})" for p in member.dropped)
    data: dict[str, Any] = {
        "section": {"picture": "section.svg", "scale": scale, "text": section_words(member.section, show)},
        "pockets": pockets,
        "more_kinds": max(0, len(kinds) - MOST_DETAILS),
        "dropped": dropped,
    }
    return data, pictures
