"""Finished candidates on disk: kept whole, torn lines dropped, other jobs' files refused."""

import json

import pytest
from sweep_helpers import cheap_evaluate, figures

from sparwright import __version__
from sparwright.sweep.faults import SweepError
from sparwright.sweep.model import Candidate
from sparwright.sweep.store import Store


@pytest.fixture
def some(bridge_job, ribs):
    """Candidates with every kind of value, one of them left out."""
    changes = [
        *ribs("isogrid.rib=4:6:1", "isogrid.skin=1.2"),
        *ribs(
            "isogrid.faces=front+back", "isogrid.rows=auto", "isogrid.stagger=no", "isogrid.pocket=hexagon"
        ),
    ]
    return [cheap_evaluate(bridge_job, c) for c in changes]


def fill(path, candidates, digest="job"):
    with Store(path, digest) as store:
        for c in candidates:
            store.add(c)


def test_what_is_kept_comes_back_the_same(tmp_path, some):
    fill(tmp_path / "new folder" / "s.jsonl", some)
    with Store(tmp_path / "new folder" / "s.jsonl", "job") as store:
        assert list(store.finished.values()) == some
    assert any(c.figures is None for c in some)


@pytest.mark.parametrize("cut", [1, 7, 40])
def test_a_torn_last_line_is_dropped_and_the_file_goes_on(tmp_path, some, cut):
    path = tmp_path / "s.jsonl"
    fill(path, some)
    whole = path.read_bytes()
    path.write_bytes(whole[:-cut])
    with Store(path, "job") as store:
        assert list(store.finished.values()) == some[:-1]
        store.add(some[-1])
    assert path.read_bytes() == whole


def test_a_torn_first_line_begins_anew(tmp_path, some):
    path = tmp_path / "s.jsonl"
    fill(path, some)
    whole = path.read_bytes()
    path.write_bytes(whole[:9])
    fill(path, some)
    assert path.read_bytes() == whole


def test_faults_of_ours_are_not_kept(tmp_path, some):
    path = tmp_path / "s.jsonl"
    fill(path, [Candidate(some[0].change, None, "a fault", fault=True), some[1]])
    with Store(path, "job") as store:
        assert list(store.finished) == [some[1].key]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            json.dumps({"sweep of job": "another", "version": __version__}) + "\n",
            "holds candidates of another job",
        ),
        (json.dumps({"sweep of job": "job", "version": "0.0.1"}) + "\n", "was made by version 0.0.1"),
        ("some notes\nof mine\n", "line 1: this is no candidate of a sweep"),
        ("[1, 2]\n", "is not a file of a sweep"),
        ("a letter without an end", "is not a file of a sweep"),
        (
            json.dumps({"sweep of job": "job", "version": __version__}) + '\n{"figures": 3}\n',
            "line 2: this is no candidate of a sweep",
        ),
    ],
)
def test_files_that_are_not_this_sweeps_are_refused_and_left_alone(tmp_path, text, said):
    path = tmp_path / "s.jsonl"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(SweepError) as caught:
        Store(path, "job")
    assert said in str(caught.value)
    assert str(path) in str(caught.value)
    assert path.read_text(encoding="utf-8") == text


def test_a_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(SweepError, match=r"cannot be used: .* Name another folder with --out"):
        Store(tmp_path / "file" / "s.jsonl", "job")


def test_figures_know_the_lesser_bending():
    f = figures(EIy=0.7, EIz=0.6, spread={"EIy_kept": 0.1, "EIz_kept": 0.03, "twist_kept": 0.2})
    assert (f.bending_kept, f.spread_of("bending_kept"), f.spread_of("twist_kept")) == (0.6, 0.03, 0.2)
    assert f.spread_of("mass_out_kg") == 0.0
