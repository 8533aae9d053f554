"""Times of the wall model: median of five in a warm process. Run as `python benchmarks/bench_wall.py`.

Four members over three sections: one, two and four faces with skins, and two faces of windows. For each: the intact
section; the answer after a changed skin, a changed wall thickness (the section's own solution with it, and without),
a changed rib, which needs a new mesh.
"""

from __future__ import annotations

import os
import statistics
import sys
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


def median_ms(run: Callable[[int], object]) -> float:
    """Median time of `run` with five different numbers, after one that is not counted, ms."""
    run(0)
    times = []
    for k in range(1, REPEATS + 1):
        start = time.perf_counter()
        run(k)
        times.append(1e3 * (time.perf_counter() - start))
    return statistics.median(times)


WIDE, ALL = {"top": 3, "bottom": 3}, {"top": 3, "bottom": 3, "front": 1, "back": 1}
CASES: dict[str, tuple[tuple[float, float, float], dict[str, int], float, Shape]] = {
    "one face, round, skin": ((100, 50, 4), {"top": 3}, 1.0, "round"),
    "two faces, hexagon, skin": ((80, 40, 4), WIDE, 1.0, "hexagon"),
    "two faces, hexagon, windows": ((80, 40, 4), WIDE, 0.0, "hexagon"),
    "four faces, hexagon, skin": ((80, 40, 4), ALL, 1.0, "hexagon"),
}


def main() -> None:
    """Print the table."""
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores", file=sys.stderr)
    print(
        "| member | intact section | changed skin | changed wall, section apart | changed wall, all | changed rib |"
    )
    print("| --- | --- | --- | --- | --- | --- |")
    for name, ((width, height, wall), faces, skin, pocket) in CASES.items():
        base = tube(width, height, wall)
        walls = [tube(width, height, wall - 0.01 * k) for k in range(REPEATS + 1)]
        wall_properties(member(base, wall, faces, skin, 4.0, pocket))

        def skinned(k: int) -> object:
            return wall_properties(member(base, wall, faces, skin + 0.05 * k if skin else 0.0, 4.0, pocket))  # noqa: B023

        def walled(k: int) -> object:
            return wall_properties(member(walls[k], wall - 0.01 * k, faces, skin, 4.1, pocket))  # noqa: B023

        def ribbed(k: int) -> object:
            return wall_properties(member(base, wall, faces, skin, 4.2 + 0.03 * k, pocket))  # noqa: B023

        intact = median_ms(lambda k: section_properties(walls[k], METAL))  # noqa: B023
        times = [intact, median_ms(skinned) if skin else float("nan")]
        whole = median_ms(walled)
        times += [whole - intact, whole, median_ms(ribbed)]
        print(f"| {name} | " + " | ".join("-" if t != t else f"{t:.0f} ms" for t in times) + " |")


if __name__ == "__main__":
    main()
