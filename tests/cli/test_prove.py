"""The prove command: its doors, its exit status, its digests and its report."""

import hashlib
import json
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "proof"))
from block_help import CASE, CUTTERS, ascii_stl, block_program, block_triangles

from sparwright.cli import main


def run(capsys, *words):
    status = main([str(w) for w in words])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "block.stl").write_bytes(ascii_stl(block_triangles()))
    (tmp_path / "my-cutters.toml").write_text(CUTTERS)
    (tmp_path / "case.toml").write_text(CASE)
    (tmp_path / "good.nc").write_text(block_program())
    (tmp_path / "bad.nc").write_text(block_program(stray=(70, 10)))
    return tmp_path


def test_a_good_program_goes_and_its_report_is_written(capsys, folder):
    status, out, err = run(
        capsys,
        "prove",
        folder / "good.nc",
        "--case",
        folder / "case.toml",
        "--json",
        "--report",
        folder / "out",
    )
    told = json.loads(out)
    assert (status, err) == (0, "")
    assert told["verdict"] == "go"
    assert told["files"] == ["proof.json", "report.html", "report.pdf"]
    assert len(told["digest"]) == 64
    assert json.loads((folder / "out" / "proof.json").read_text())["digests"] == told["digests"]


def test_a_planted_fault_is_a_no_go_with_its_line(capsys, folder):
    status, out, _ = run(capsys, "prove", folder / "bad.nc", "--case", folder / "case.toml", "--json")
    worst = json.loads(out)["findings"][0]
    assert status == 1
    assert worst["check"] == "cut too deep"
    assert block_program(stray=(70, 10)).splitlines()[worst["line"] - 1] == "G1 Z-0.3 F300"


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_the_digest_is_that_of_the_file_s_bytes(capsys, folder, ends):
    data = block_program().replace("\n", ends).encode()
    (folder / "p.nc").write_bytes(data)
    status, out, _ = run(capsys, "prove", folder / "p.nc", "--case", folder / "case.toml", "--json")
    assert status == 0
    assert json.loads(out)["digests"] == {"p.nc": hashlib.sha256(data).hexdigest()}
    _, text, _ = run(capsys, "prove", folder / "p.nc", "--case", folder / "case.toml")
    assert hashlib.sha256(data).hexdigest() in text.replace("\n", "")


def test_with_no_part_at_all_the_program_is_still_looked_at(capsys, folder):
    status, out, _ = run(capsys, "prove", folder / "good.nc", "--json")
    told = json.loads(out)
    assert status == 0
    assert told["verdict"] == "caution"
    assert told["findings"][0]["check"] == "not judged"
    (folder / "still.nc").write_text(block_program().replace("S16000 M3", "S16000"))
    assert run(capsys, "prove", folder / "still.nc")[0] == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("GOOD", "--case", "CASE", "--job", "x.toml"),
            "--job and --case both say what the programs are held against",
        ),
        (
            ("GOOD", "--case", "CASE", "--side", "top"),
            "--side names a side of a job; give --job too, or leave it out",
        ),
        (("GOOD", "GOOD", "--case", "CASE"), "two programs are called good.nc; rename one"),
        (("nowhere.nc", "--case", "CASE"), "nowhere.nc: No such file or directory"),
        (("GOOD", "--case", "nowhere.toml"), "there is no file nowhere.toml"),
        (("STL", "--case", "CASE", "--report", "FOLDER"), "holds something else than a report"),
    ],
)
def test_bad_input_is_refused_in_one_line(capsys, folder, words, said):
    names = {
        "GOOD": folder / "good.nc",
        "CASE": folder / "case.toml",
        "STL": folder / "good.nc",
        "FOLDER": folder,
    }
    status, out, err = run(capsys, "prove", *(names.get(w, w) for w in words))
    assert status == 2
    assert out == ""
    assert said in err
    assert err.strip().splitlines()[-1].startswith("sparwright: ")


def test_a_program_that_is_no_text_is_refused(capsys, folder):
    (folder / "p.nc").write_bytes(b"G21\n\xff\xfe")
    status, _, err = run(capsys, "prove", folder / "p.nc")
    assert status == 2
    assert "p.nc: not a text file; a program is plain text" in err


def test_a_job_is_asked_for_its_side_and_proves_what_it_is_given(capsys, folder, examples):
    """A foreign program against the bridge beam: the features of the side are never cut, and the block's pocket is."""
    job = examples / "bridge-beam" / "job.toml"
    status, _, err = run(capsys, "prove", folder / "good.nc", "--job", job)
    assert status == 2
    assert "name the side with --side; this job has " in err
    status, out, _ = run(
        capsys,
        "prove",
        folder / "good.nc",
        "--job",
        job,
        "--side",
        "front",
        "--json",
        "--report",
        folder / "out",
    )
    told = json.loads(out)
    assert status == 1
    assert {"not cut", "cutter"} & {f["check"] for f in told["findings"]}
    assert told["files"] == ["proof.json", "report.html", "report.pdf"]
