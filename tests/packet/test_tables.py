"""The tables read back by plain code, against the job file read as plain text of its format."""

import csv
import io
import tomllib
from collections import Counter
from dataclasses import replace

import pytest

from sparwright.packet.write import hole_table

TAP_DRILL = {"M3": 2.5, "M6": 5.0}  # mm, ISO 2306


def read(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_hole_table_holds_the_holes_of_the_job(examples, bridge_member):
    """Face, place, drill and thread of every hole, from the job file itself; each mark and name once."""
    job = tomllib.loads((examples / "bridge-beam" / "job.toml").read_text(encoding="utf-8"))
    asked = {}
    for kind in job["hole"]:
        for i, (x, s) in enumerate(kind["at"], 1):
            asked[f"{kind['name']}/{i}"] = (kind["face"], x, s, TAP_DRILL[kind["thread"]], kind["thread"])
    rows = read(hole_table(bridge_member))
    told = {
        r["hole"]: (
            r["face"],
            float(r["x_mm"]),
            float(r["s_mm"]),
            float(r["drill_mm"]),
            r["what"].split(",")[0].removeprefix("tap "),
        )
        for r in rows
    }
    assert told == asked
    assert len(rows) == len(told) == len({r["mark"] for r in rows})
    assert any(float(r["s_mm"]) < 0 for r in rows), "a minus sign that reads as one"
    # The face is 100 mm wide over its rounded edges, its centre line in the middle.
    assert all(float(r["from_edge_mm"]) == float(r["s_mm"]) + 50 for r in rows)


def test_hole_table_keeps_places_to_a_micrometre_and_faces_apart(bridge_member):
    hole = replace(bridge_member.holes[0], id="odd", at=(123.4567, -7.0005), diameter=3.3, thread="M4")
    other = replace(hole, id="far", face="back", at=(10.0, 0.25))
    rows = read(hole_table(replace(bridge_member, holes=(hole, other))))
    assert Counter(r["face"] for r in rows) == {"front": 1, "back": 1}
    assert {r["mark"][0] for r in rows} == {"A", "B"}
    odd = next(r for r in rows if r["hole"] == "odd")
    assert float(odd["x_mm"]) == pytest.approx(123.4567, abs=5.1e-4)
    assert float(odd["s_mm"]) == pytest.approx(-7.0005, abs=5.1e-4)
    assert float(odd["drill_mm"]) == 3.3
