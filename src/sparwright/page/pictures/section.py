"""The section with its walls, its axes and its figures."""

from __future__ import annotations

from functools import partial

from sparwright.job.models import Job
from sparwright.packet.figures import Display
from sparwright.packet.section_picture import COLUMN, HEIGHT, WIDTH, section_picture
from sparwright.page.pictures import PictureData
from sparwright.stiffness.section import section_figures
from sparwright.stock.model import Member
from sparwright.stock.walls import find_walls


def build(job: Job, member: Member) -> PictureData:
    """The drawing as SVG, under "svg", with its size and the width of its column of figures in mm of paper, and what it shows in one sentence for those who do not see it, under "words"."""
    figures, walls = section_figures(member.section, member.material.poisson), find_walls(member.section)

    def words(show: Display) -> str:
        listed = ", ".join(f"{w.name} {show.size(w.thickness)}" for w in walls.walls)
        return f"Cross-section, {member.section.drawing}, to scale. Walls: {listed or 'none that are flat'}."

    svg = partial(section_picture, member.section, figures, walls, printed=False)
    return PictureData({"svg": svg, "size": [WIDTH, HEIGHT], "column": COLUMN, "words": words})
