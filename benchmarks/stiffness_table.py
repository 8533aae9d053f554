"""Every stiffness model on every design: the bay against whole members, against a higher order, and the wall model.

    python benchmarks/stiffness_table.py whole A1 A0 ...   whole members, hours of work for all of them
    python benchmarks/stiffness_table.py bay A1 A0 ...     the bay at orders 2, 3 and 4, minutes
    python benchmarks/stiffness_table.py wall A1 A0 ...    the wall model and what it is said to be trusted for
    python benchmarks/stiffness_table.py write             the table of docs/stiffness.md, from the figures kept

No names mean every design. What is computed is kept in stiffness_table.json, so that the table can be written again at once.
"""

from __future__ import annotations

import fcntl
import importlib.util
import json
import sys
import tempfile
import time
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).parent
KEPT = HERE / "stiffness_table.json"
PAGE = HERE.parent / "docs" / "stiffness.md"
BEGIN, END = "<!-- table: begin -->", "<!-- table: end -->"
STIFFNESSES = ("EA", "EIy", "EIz", "GJ")


def load(path: Path) -> Any:
    """A module by its file."""
    name = path.stem
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, path)
        assert spec is not None
        assert spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    return sys.modules[name]


designs = load(HERE / "stiffness_designs.py")
whole = load(HERE.parent / "tests" / "stiffness" / "whole.py")


def keep(kind: str, name: str, figures: dict[str, Any]) -> None:
    """Put one design's figures among those kept; several of these may run at once."""
    with (Path(tempfile.gettempdir()) / "stiffness-table.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        table = json.loads(KEPT.read_text()) if KEPT.exists() else {}
        table.setdefault(kind, {})[name] = figures
        ordered = {k: dict(sorted(table[k].items())) for k in sorted(table)}
        KEPT.write_text(json.dumps(ordered, indent=1) + "\n")


def constants(gain: np.ndarray, length: float, middle: tuple[float, float]) -> dict[str, Any]:
    """Beam constants from what the longer member is more flexible by, as the bay forms them.

    A pull, two moments and a torque are the same all along the member, so that part of the gain is the extra length
    times the beam's own flexibility; a force across turns the member by its distance from the shear centre.
    """
    order = [whole.ALONG, whole.ABOUT_Z, whole.ABOUT_Y, whole.TWIST]
    S = gain[np.ix_(order, order)] / length
    C = np.linalg.inv(S)
    bending = np.linalg.inv(S[1:3, 1:3])
    turn = gain[whole.TWIST, whole.TWIST]
    return {
        "EA": C[0, 0] - C[0, 3] ** 2 / C[3, 3],
        "EIy": bending[1, 1],
        "EIz": bending[0, 0],
        "GJ": 1 / S[3, 3],
        "centroid": [middle[0] - C[0, 1] / C[0, 0], middle[1] + C[0, 2] / C[0, 0]],
        "shear_centre": [
            middle[0] - gain[whole.TWIST, whole.Z] / turn,
            middle[1] + gain[whole.TWIST, whole.Y] / turn,
        ],
    }


def whole_member(name: str) -> None:
    """The whole member of two lengths against the bay: same order, same mesh size."""
    from sparwright.stiffness.bay import mesh_options
    from sparwright.stiffness.mirror import find_mirrors
    from sparwright.stiffness.pattern import field_pattern

    design, member = designs.DESIGNS[name], designs.member(name)
    pattern = field_pattern(member.section, member.bays, windows=False)
    options = mesh_options(member.section, pattern, design.size, design.windows)
    mirrors = replace(find_mirrors(member.section, pattern), x=None)
    runs = []
    for count in design.counts:
        begun, own = time.perf_counter(), time.process_time()
        long = whole.many_periods(pattern, count)
        flexibility, nodes = whole.end_flexibility(
            member.section, long, member.material, options, design.order, mirrors
        )
        runs.append(
            {
                "length": long.period,
                "nodes": nodes,
                "seconds": round(time.perf_counter() - begun, 1),
                "processor_seconds": round(time.process_time() - own, 1),
                "flexibility": flexibility.tolist(),
            }
        )
        print(name, {k: v for k, v in runs[-1].items() if k != "flexibility"}, flush=True)
    gain = np.array(runs[1]["flexibility"]) - np.array(runs[0]["flexibility"])
    centroid = member.section.shape.centroid
    found = constants(gain, runs[1]["length"] - runs[0]["length"], (centroid.x, centroid.y))
    keep(
        "whole",
        name,
        {
            "runs": runs,
            "mirrors": len(mirrors.axes),
            "size": design.size,
            "order": design.order,
            "whole": found,
        },
    )


def bay_orders(name: str) -> None:
    """The bay at the order and mesh size of the whole member, and at orders 3 and 4 at its own."""
    from sparwright.stiffness.bay import pattern_properties
    from sparwright.stiffness.pattern import field_pattern

    design, member = designs.DESIGNS[name], designs.member(name)
    pattern = field_pattern(member.section, member.bays, windows=False)
    figures = {}
    for key, order, size in (("as whole", design.order, design.size), ("3", 3, 1.0), ("4", 4, 1.0)):
        own = time.process_time()
        answer = pattern_properties(
            member.section, member.material, pattern, order=order, size=size, open_through=design.windows
        )
        figures[key] = asdict(answer) | {"processor_seconds": round(time.process_time() - own, 2)}
    keep("bay", name, figures)
    print(name, *(f"{key} {100 * (figures['3'][key] / figures['4'][key] - 1):+.2f} %" for key in STIFFNESSES))


def wall_model(name: str) -> None:
    """The wall model, or why it must not be believed; and the plain section."""
    from sparwright.stiffness.pattern import field_pattern
    from sparwright.stiffness.section import section_properties
    from sparwright.stiffness.wall import wall_pattern, wall_trust

    member = designs.member(name)
    pattern = field_pattern(member.section, member.bays, windows=False)
    figures: dict[str, Any] = {"trust": wall_trust(member.section, pattern)}
    figures["section"] = asdict(section_properties(member.section, member.material))
    if not figures["trust"]:
        own = time.process_time()
        answer = asdict(wall_pattern(member.section, member.material, pattern))
        figures["wall"] = answer | {"processor_seconds": round(time.process_time() - own, 2)}
    keep("wall", name, figures)
    print(name, figures["trust"] or "trusted", flush=True)


def percent(value: float, true: float) -> str:
    """How far a value is off, with its sign."""
    return f"{100 * (value / true - 1):+.2f}"


def page(table: dict[str, Any]) -> str:
    """The tables of the page, from the figures kept."""
    return "\n".join([*_against_wholes(table), "", *_against_order(table), "", *_against_bay(table)])


def _row(cells: list[str]) -> str:
    return f"| {' | '.join(cells)} |"


def _head(cells: list[str]) -> list[str]:
    return [_row(cells), _row(["---"] * len(cells))]


def _against_wholes(table: dict[str, Any]) -> list[str]:
    lines = [
        "Whole members between rigid ends, difference of two lengths, against the bay at the same order and mesh size;",
        "bay over whole member, %. Shear centre: how far the bay's is off, mm, where the pattern moves it. Members too",
        "short mislead: D0 at 300 and 450 mm put the bay's GJ 3.7 % over. Halves mirrored in the middle plane are marked so.",
        "",
        *_head(
            [
                "design",
                "section; pattern",
                "lengths; nodes",
                "order",
                "EA",
                "EIy",
                "EIz",
                "GJ",
                "shear centre",
            ]
        ),
    ]
    for name, kept in table["whole"].items():
        half = "half: " if kept.get("mirrors") else ""
        design, bay, found = designs.DESIGNS[name], table["bay"][name]["as whole"], kept["whole"]
        runs = kept["runs"]
        one_face = sum(len(faces) for faces, _ in design.fields) == 1
        off = bay["shear_centre"][1] - found["shear_centre"][1]
        lines.append(
            _row(
                [
                    name,
                    f"{design.section}; {design.words}",
                    f"{runs[0]['length']:.0f}, {runs[1]['length']:.0f} mm; {half}{runs[0]['nodes']}, {runs[1]['nodes']}",
                    str(kept["order"]),
                    *(percent(bay[key], found[key]) for key in STIFFNESSES),
                    f"{off:+.2f}" if one_face else "",
                ]
            )
        )
    return lines


def _against_order(table: dict[str, Any]) -> list[str]:
    lines = [
        "The bay at order 3 against order 4 on the same mesh, %; the error it states of itself; processor time, warm.",
        "",
        *_head(["design", "section; pattern", "EA", "EIy", "EIz", "GJ", "GJ stated", "s"]),
    ]
    for name, kept in table["bay"].items():
        design, low, high = designs.DESIGNS[name], kept["3"], kept["4"]
        lines.append(
            _row(
                [
                    name,
                    f"{design.section}; {design.words}",
                    *(percent(low[key], high[key]) for key in STIFFNESSES),
                    f"{100 * low['spread']['GJ']:.1f}",
                    f"{low['processor_seconds']:.1f}",
                ]
            )
        )
    return lines


def _against_bay(table: dict[str, Any]) -> list[str]:
    lines = [
        "The wall model against the bay at order 3, %; kept: of the plain section's, by the bay.",
        "",
        *_head(["design", "EA", "EIy", "EIz", "GJ", "EA kept", "GJ kept", "not believed because"]),
    ]
    for name, kept in table["wall"].items():
        bay = table["bay"][name]["3"]
        wall, section = kept.get("wall"), kept["section"]
        lines.append(
            _row(
                [
                    name,
                    *((percent(wall[key], bay[key]) if wall else "") for key in STIFFNESSES),
                    *(f"{bay[key] / section[key]:.3f}" for key in ("EA", "GJ")),
                    kept["trust"],
                ]
            )
        )
    return lines


def write_page() -> None:
    """Put the tables between their marks."""
    text = PAGE.read_text()
    before, rest = text.split(BEGIN)
    _, after = rest.split(END)
    tables = page(json.loads(KEPT.read_text()))
    PAGE.write_text(f"{before}{BEGIN}\n{tables}\n{END}{after}")


def main(words: list[str]) -> None:
    """What the command line asks for."""
    kind, names = words[0], words[1:] or list(designs.DESIGNS)
    if kind == "write":
        write_page()
        return
    for name in names:
        if kind == "whole" and designs.DESIGNS[name].counts:
            whole_member(name)
        elif kind in ("bay", "wall"):
            {"bay": bay_orders, "wall": wall_model}[kind](name)


if __name__ == "__main__":
    main(sys.argv[1:])
