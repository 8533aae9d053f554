"""Time and accuracy of an intact section's figures: `python benchmarks/bench_section.py`.

Median CPU time of five runs on one core after a first one; errors against the same sections at order 8 on a mesh half as
coarse. Set OMP_NUM_THREADS=1.
"""

from __future__ import annotations

import statistics
import time
from unittest import mock

from pydantic import TypeAdapter
from shapely.geometry import Point, Polygon, box

from sparwright.job.models import AnySection
from sparwright.stiffness import section as figures_room
from sparwright.stiffness import section_solve
from sparwright.stiffness.section import SectionFigures, section_figures
from sparwright.stock.model import Section
from sparwright.stock.section import make_section, section_from_polygon

POISSON = 0.33
FINE = {"ORDER": 8, "COARSE": 0.75}


def stated(shape: str, **measures: float) -> Section:
    """A section by its measures."""
    return make_section(TypeAdapter(AnySection).validate_python({"shape": shape, **measures}), ".")


def slotted_bar() -> Polygon:
    """Square 40, four slots 8 x 6, bore 7."""
    shape = box(-20, -20, 20, 20).difference(Point(0, 0).buffer(3.5, quad_segs=64))
    for slot in (box(-4, 14, 4, 20), box(-4, -20, 4, -14), box(14, -4, 20, 4), box(-20, -4, -14, 4)):
        shape = shape.difference(slot)
    return shape


def two_cells() -> Polygon:
    """103 x 63, walls 3, web 2."""
    return box(0, 0, 103, 63).difference(box(3, 3, 60.5, 60)).difference(box(62.5, 3, 100, 60))


SECTIONS = {
    "rectangular tube 50x100x4, sharp": stated("rectangular tube", width=50, height=100, wall=4),
    "the same, rounded 6/4": stated(
        "rectangular tube", width=50, height=100, wall=4, outer_radius=6, inner_radius=4
    ),
    "two cells 103x63x3, web 2": section_from_polygon(two_cells(), "two cells"),
    "channel 52x104x4": stated("channel", width=52, height=104, web=4, flange=4),
    "angle 60x40x5": stated("angle", width=60, height=40, thickness=5),
    "slotted bar 40": section_from_polygon(slotted_bar(), "slotted bar"),
    "webbed rail (example)": make_section(
        TypeAdapter(AnySection).validate_python({"shape": "drawn", "file": "section.dxf"}),
        "examples/webbed-rail",
    ),
    "round tube 40x2": stated("round tube", diameter=40, wall=2),
    "rectangular tube 300x200x3": stated("rectangular tube", width=300, height=200, wall=3),
    "round tube 300x2": stated("round tube", diameter=300, wall=2),
    "rectangular tube 100x100x0.5": stated("rectangular tube", width=100, height=100, wall=0.5),
    "flat bar 100x12": stated("flat bar", width=100, thickness=12),
    "flat bar 200x60": stated("flat bar", width=200, thickness=60),
}


def seconds(section: Section) -> float:
    """Median CPU time of five runs after a first one."""
    section_figures(section, POISSON)
    times = []
    for _ in range(5):
        start = time.process_time()
        section_figures(section, POISSON)
        times.append(time.process_time() - start)
    return statistics.median(times)


def reference(section: Section) -> SectionFigures:
    """The figures at high order on a fine mesh."""
    with mock.patch.multiple(section_solve, **FINE), mock.patch.object(figures_room, "ORDER", FINE["ORDER"]):
        return section_figures(section, POISSON)


def main() -> None:
    """Print the table."""
    print("| section | CPU ms | J | GAy | GAz | shear centre, mm | peak stress |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for name, section in SECTIONS.items():
        took, ours, fine = seconds(section), section_figures(section, POISSON), reference(section)
        off = [
            f"{100 * (getattr(ours, key) / getattr(fine, key) - 1):+.3f} %"
            for key in ("J", "shear_y", "shear_z", "torsion_peak")
        ]
        moved = max(abs(a - b) for a, b in zip(ours.shear_centre, fine.shear_centre, strict=True))
        print(f"| {name} | {1000 * took:.0f} | {off[0]} | {off[1]} | {off[2]} | {moved:.4f} | {off[3]} |")


if __name__ == "__main__":
    main()
