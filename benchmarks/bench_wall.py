"""Times of the wall model: median of five in a warm process. Run as `python benchmarks/bench_wall.py`.

Four members over three sections: one, two and four faces with skins, and two faces of windows. For each: the intact
section; the answer after a changed skin, after a changed wall thickness, which needs the section's own solution anew,
and after a changed rib, which needs a new mesh.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from pydantic import TypeAdapter
from shapely.affinity import translate

from sparwright.job.models import AnySection, Material, PocketField
from sparwright.stiffness.section import section_properties
from sparwright.stiffness.wall import wall_properties
from sparwright.stock.model import FieldBay, Member, Section
from sparwright.stock.pockets import field_size, lay_out, pocket_form
from sparwright.stock.section import make_section

LENGTH = 1200.0
REPEATS = 5
METAL = Material(
    name="bench metal",
    modulus=69500,
    poisson=0.33,
    density=2700,
    proof_strength=160,
    tensile_strength=205,
    cutting_force=750,
    cutting_exponent=0.23,
    source="made up for the benchmark",
)


def tube(width: float, height: float, wall: float) -> Section:
    spec = {"shape": "rectangular tube", "width": width, "height": height, "wall": wall}
    return make_section(TypeAdapter(AnySection).validate_python(spec), Path())


Shape = Literal["round", "hexagon"]


def member(
    section: Section, wall: float, faces: dict[str, int], skin: float, rib: float, pocket: Shape
) -> Member:
    """A member with rows of pockets 22 mm across on every face named; values are the rows."""
    bays = []
    for face, rows in faces.items():
        radius = 0.0 if skin else 1.5
        field = PocketField(
            name="bench",
            faces=(face,),
            pocket=pocket,
            cell=22 + rib,
            rib=rib,
            rows=rows,
            skin=skin,
        )
        layout = lay_out(field, section.face(face).width, LENGTH)
        outlines = tuple(
            translate(
                pocket_form(pocket, field_size(field), field.width, 180.0 * s.half_turned, radius).outline,
                *s.at,
            )
            for s in layout.period_sites
        )
        bays.append(
            FieldBay(
                "bench", face, layout.pitch, layout.rows, outlines, outlines, wall - skin, skin, layout.span
            )
        )
    return Member("bench", section, LENGTH, METAL, bays=tuple(bays))


def median_ms(run: Callable[[int], object]) -> str:
    """Median time of `run` with five different numbers, after one that is not counted: by the clock, and of the
    processor, which says more on a busy machine."""
    run(0)
    clock, processor = [], []
    for k in range(1, REPEATS + 1):
        start, worked = time.perf_counter(), time.process_time()
        run(k)
        clock.append(time.perf_counter() - start)
        processor.append(time.process_time() - worked)
    return f"{1e3 * statistics.median(clock):.0f} ms ({1e3 * statistics.median(processor):.0f})"


WIDE, ALL = {"top": 3, "bottom": 3}, {"top": 3, "bottom": 3, "front": 1, "back": 1}
CASES: dict[str, tuple[tuple[float, float, float], dict[str, int], float, Shape]] = {
    "one face, round, skin": ((100, 50, 4), {"top": 3}, 1.0, "round"),
    "two faces, hexagon, skin": ((80, 40, 4), WIDE, 1.0, "hexagon"),
    "two faces, hexagon, windows": ((80, 40, 4), WIDE, 0.0, "hexagon"),
    "four faces, hexagon, skin": ((80, 40, 4), ALL, 1.0, "hexagon"),
}


def main() -> None:
    """Print the table."""
    print(
        f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; by the clock, processor time in brackets\n"
    )
    print("| member | intact section | changed skin | changed wall, with its section | changed rib |")
    print("| --- | --- | --- | --- | --- |", flush=True)
    for number, (name, ((width, height, wall), faces, skin, pocket)) in enumerate(CASES.items()):
        # Ribs of its own, or a case would find the strips of the one before ready made.
        own = 0.007 * number
        walls = [tube(width, height, wall - 0.01 * k) for k in range(REPEATS + 1)]

        def made(k: int, skin: float, rib: float) -> Member:
            return member(walls[k], wall - 0.01 * k, faces, skin, rib, pocket)  # noqa: B023

        # The members are laid out beforehand: the model's own time is asked for.
        steps = range(REPEATS + 1)
        skins = [made(0, skin + 0.05 * k, 4.0 + own) for k in steps] if skin else []
        thinner = [made(k, skin, 4.1 + own) for k in steps]
        ribs = [made(0, skin, 4.2 + 0.03 * k + own) for k in steps]
        times = [median_ms(lambda k: section_properties(walls[k], METAL))]  # noqa: B023
        for members in (skins, thinner, ribs):
            times.append(median_ms(lambda k: wall_properties(members[k])) if members else "-")  # noqa: B023
        print(f"| {name} | " + " | ".join(times) + " |", flush=True)


if __name__ == "__main__":
    main()
