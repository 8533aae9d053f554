"""The sweep's papers: the table, the JSON, the picture; whole or not at all. And what a terminal shows."""

import csv
import io
import json
import os
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from sweep_helpers import cheap_evaluate

from sparwright.packet import fronts
from sparwright.packet.fronts import front_picture, sweep_csv, write_sweep
from sparwright.sweep.choose import choose
from sparwright.sweep.console import MOST_ROWS, print_sweep, time_left
from sparwright.sweep.faults import SweepError
from sparwright.sweep.front import front_of
from sparwright.sweep.model import Chosen, SweepResult
from sparwright.sweep.run import Progress

GOALS = ("mass_out_kg", "twist_kept", "bending_kept")
WISHES = {"mass_out_kg": 0.4, "twist_kept": 0.35}
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def result(bridge_job, ribs):
    """A sweep of candidates by the plain rule, two of them left out."""
    changes = ribs("isogrid.rib=4:9:0.5", "isogrid.skin=0,1.2")
    made = tuple(cheap_evaluate(bridge_job, c) for c in changes)
    front = tuple(c.key for c in front_of(made, GOALS))
    chosen = choose(made, WISHES, lambda c: c)
    words = ("isogrid.rib=4:9:0.5", "isogrid.skin=0,1.2")
    return SweepResult("Bridge beam", "digest", words, made, GOALS, WISHES, front, chosen)


def test_the_table_has_every_candidate_with_units_in_its_heads(result):
    rows = list(csv.DictReader(io.StringIO(sweep_csv(result))))
    assert len(rows) == len(result.candidates)
    assert list(rows[0])[:3] == ["isogrid.rib", "isogrid.skin", "mass_out_kg"]
    for row, c in zip(rows, result.candidates, strict=True):
        assert (row["left_out"] == "") is (c.figures is not None)
        assert (row["front"] == "yes") is (c.key in result.front)
        assert (row["chosen"] == "yes") is (c is result.chosen.candidate)
        if c.figures is not None:
            assert float(row["twist_kept"]) == pytest.approx(c.figures.twist_kept, rel=1e-5)
            assert row["tip_mm"] == ""
    assert sum(row["chosen"] == "yes" for row in rows) == 1


def test_the_json_has_candidates_front_and_chosen(result):
    data = json.loads(json.dumps(result.as_dict(), allow_nan=False))
    assert {"candidates", "front", "chosen", "goals", "wishes", "vary", "digest"} <= set(data)
    keys = [c["key"] for c in data["candidates"]]
    assert set(data["front"]) <= set(keys)
    assert data["chosen"]["key"] in keys
    assert data["chosen"]["confirmed"] is True
    assert data["candidates"][0]["change"] == {"isogrid.rib": 4.0, "isogrid.skin": 0.0}
    assert "left_out" in next(c for c in data["candidates"] if c["change"]["isogrid.rib"] == 6)


def test_the_picture_has_every_candidate_once_and_rings_the_chosen_one(result):
    root = ElementTree.fromstring(front_picture(result))
    circles = root.findall(f"{SVG}circle")
    ring = [c for c in circles if c.get("r") == "2.6"]
    assert len(ring) == 1
    marks = {(c.get("cx"), c.get("cy")) for c in circles if c is not ring[0]}
    assert (ring[0].get("cx"), ring[0].get("cy")) in marks
    made = [c for c in result.candidates if c.figures is not None]
    circled = [c for c in made if any(s.key == "skin" and s.value == 0 for s in c.change.settings)]
    inside = [c for c in circles if float(c.get("cx")) < fronts.FRAME[2]]
    assert len(inside) == len(circled) + 1
    squares = [
        p for p in root.findall(f"{SVG}path") if p.get("d").count("L") == 3 and p.get("d").endswith("Z")
    ]
    assert len(squares) == len(made) - len(circled) + 1 + 1  # one in the legend, and the frame
    words = [t.text for t in root.findall(f"{SVG}text")]
    assert "wished: 0.4 kg or more" in words
    assert "wished: 35 % or more" in words
    assert any(w.startswith("Recommended, confirmed by the bay: isogrid.rib=") for w in words)


def test_the_marks_lie_where_the_numbers_say(result):
    """A straight line through axis numbers and grid gives every mark's place back."""
    root = ElementTree.fromstring(front_picture(result))
    numbers = [
        (float(t.get("x")), float(t.text))
        for t in root.findall(f"{SVG}text")
        if t.get("text-anchor") == "middle" and re.fullmatch(r"[\d.]+", t.text)
    ]
    (a, at), (b, bt) = numbers[0], numbers[-1]
    ring = next(c for c in root.findall(f"{SVG}circle") if c.get("r") == "2.6")
    read = at + (float(ring.get("cx")) - a) / (b - a) * (bt - at)
    assert read == pytest.approx(result.chosen.candidate.figures.mass_out_kg, abs=2e-4)


@pytest.mark.parametrize("left", ["all", "one"])
def test_a_picture_of_little(result, left):
    few = [c for c in result.candidates if (c.figures is None) is (left == "all")][:1]
    small = replace(
        result,
        candidates=tuple(few),
        front=tuple(c.key for c in few if c.figures),
        chosen=Chosen(None, "None."),
    )
    words = [t.text for t in ElementTree.fromstring(front_picture(small)).findall(f"{SVG}text")]
    assert ("Every candidate is left out." in words) is (left == "all")


def test_papers_appear_whole_or_not_at_all(result, tmp_path, monkeypatch):
    out = tmp_path / "new" / "folder"
    assert write_sweep(result, out) == ("sweep.csv", "sweep.json", "sweep.svg")
    assert sorted(p.name for p in out.iterdir()) == ["sweep.csv", "sweep.json", "sweep.svg"]
    before = (out / "sweep.csv").read_bytes()
    monkeypatch.setattr(
        os, "replace", lambda *_: (_ for _ in ()).throw(OSError(28, "No space left on device"))
    )
    with pytest.raises(
        SweepError, match=r"cannot be written: No space left on device\. Name another folder with --out"
    ):
        write_sweep(replace(result, title="Another"), out)
    assert sorted(p.name for p in out.iterdir()) == ["sweep.csv", "sweep.json", "sweep.svg"]
    assert (out / "sweep.csv").read_bytes() == before


def test_the_terminal_shows_the_front_and_the_reason(result, capsys):
    print_sweep(replace(result, resumed=3), ("sweep.csv",), "here")
    said = capsys.readouterr().out
    assert f"{len(result.candidates)} candidates" in said
    assert f"Recommended: {result.chosen.candidate.key}" in said
    assert result.chosen.reason in said
    assert "sweep.csv in here" in said
    assert "3 from an earlier sweep" in said
    assert said.count(" wall") == min(len(result.front), MOST_ROWS)


def test_time_left_in_words():
    def at(left):
        return time_left(Progress(1, 2, 0, 0, 1.0, left))

    assert [at(None), at(12.3), at(150), at(9000)] == ["starting", "12 s left", "2 min left", "2.5 h left"]
