"""The command end to end: real models, real workers, and the bay's word on the choice."""

import json

import pytest

from sparwright.cli import main


def test_a_small_sweep_of_the_bridge_beam(examples, tmp_path, capfd):
    words = [
        "sweep",
        str(examples / "bridge-beam" / "job.toml"),
        "--vary",
        "isogrid.skin=0.8,1.2,4",
        "isogrid.rib=5",
    ]
    words += ["--workers", "2", "--json", "--out", str(tmp_path)]
    assert main(words) == 0
    data = json.loads(capfd.readouterr().out)  # one object and nothing else, whatever a mesher says
    thin, thick, none = data["candidates"]
    assert "leaves nothing to cut of the 4 mm wall" in none["left_out"]
    assert thin["mass_out_kg"] > thick["mass_out_kg"] > 0.6
    assert 0.4 < thin["twist_kept"] < thick["twist_kept"] < 0.65
    assert thin["method"] == "wall"
    assert thin["minutes"] > thick["minutes"] > 300
    assert set(data["front"]) == {thin["key"], thick["key"]}
    chosen = data["chosen"]
    assert chosen["confirmed"] is True
    assert chosen["bay"]["method"] == "bay"
    band = chosen["candidate"]["spread"]["twist_kept"] + chosen["bay"]["spread"]["twist_kept"]
    assert chosen["candidate"]["twist_kept"] == pytest.approx(chosen["bay"]["twist_kept"], rel=band)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "sweep.csv",
        "sweep.json",
        "sweep.jsonl",
        "sweep.svg",
    ]
    assert (tmp_path / "sweep.jsonl").read_text(encoding="utf-8").count("\n") == 4


def test_bad_words_are_bad_input(examples, capfd):
    job = str(examples / "bridge-beam" / "job.toml")
    assert main(["sweep", job, "--vary", "isogrd.rib=4"]) == 2
    assert 'Did you mean "isogrid"?' in capfd.readouterr().err
