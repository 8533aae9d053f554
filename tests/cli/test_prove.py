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
        (("--case", "CASE"), "no program is named; give the files in the order they are run"),
        (
            ("GOOD", "--job", "x.toml", "--side", "top", "--side", "bottom"),
            "good.nc stands before the first --side",
        ),
        (("GOOD", "--job", "x.toml", "--side", "top", "p.nc"), "good.nc stands before the first --side"),
        (
            ("--job", "x.toml", "--side", "top", "GOOD", "--side", "bottom"),
            "no program is named after --side bottom",
        ),
        (("--job", "x.toml", "--side", "top", "GOOD", "--side", "top", "p.nc"), "--side top is given twice"),
        (
            ("--job", "x.toml", "--side", "top", "GOOD", "--side", "bottom", "GOOD"),
            "two programs are called good.nc",
        ),
        (("nowhere.nc", "--case", "CASE"), "there is no file nowhere.nc; check the name"),
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


BAR = """
[job]
title = "bar worked from two sides"
bed = "bench-router.toml"
cutters = "cutters.toml"

[stock]
material = "EN AW-6063-T6"
length = 200

[stock.section]
shape = "flat bar"
width = 60
thickness = 20

[[pocket]]
name = "one"
face = "top"
pocket = "square"
at = [100, 0]
size = 34
corner_radius = 4
depth = 8

[[pocket]]
name = "two"
face = "bottom"
pocket = "square"
at = [105, 0]
size = 30
corner_radius = 4
depth = 9
"""


@pytest.fixture(scope="module")
def bar(tmp_path_factory):
    """A solid bar 20 mm thick with pockets 8 and 9 mm deep from both sides: 3 mm between them; and its programs."""
    folder = tmp_path_factory.mktemp("bar")
    (folder / "job.toml").write_text(BAR)
    assert main(["plan", str(folder / "job.toml"), "--out", str(folder / "packet"), "--json"]) in (0, 1)
    return folder


def programs_of(bar, side):
    return sorted((bar / "packet" / "programs").glob(f"{side}-*.nc"))


def test_two_sides_are_proved_and_held_together(capsys, bar):
    words = [w for side in ("top", "bottom") for w in ("--side", side, *programs_of(bar, side))]
    capsys.readouterr()
    status, out, _ = run(
        capsys, "prove", "--job", bar / "job.toml", *words, "--json", "--report", bar / "report"
    )
    told = json.loads(out)
    assert [s["side"] for s in told["sides"]] == ["top", "bottom"]
    least = next(f for f in told["together"]["findings"] if f["check"] == "between sides")
    assert least["value"] == pytest.approx(3.0, abs=1e-4)
    assert least["limit"] == pytest.approx(3.0 - 0.02, abs=1e-4)
    assert least["verdict"] == "go"
    files = [f for side in ("top", "bottom") for f in programs_of(bar, side)]
    digests = {f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in files}
    assert told["together"]["digests"] == digests
    assert status == (told["verdict"] == "no-go")
    assert "all-sides-together/report.pdf" in told["files"]
    page = (bar / "report" / "all-sides-together" / "report.html").read_text()
    assert "Least metal between cuts of opposite sides 3.000 mm" in page


def test_a_plan_holds_its_sides_together(bar):
    """The packet's answers name the proof of all sides together, as they do each side's."""
    proofs = json.loads((bar / "packet" / "answers.json").read_text())["proofs"]
    assert [p["side"] for p in proofs][-1] == "all sides together"
    least = next(f for f in proofs[-1]["findings"] if f["check"] == "between sides")
    assert least["value"] == pytest.approx(3.0, abs=1e-4)


def test_a_side_s_programs_may_follow_its_name(capsys, bar):
    capsys.readouterr()
    before = run(
        capsys, "prove", *programs_of(bar, "top"), "--job", bar / "job.toml", "--side", "top", "--json"
    )
    after = run(
        capsys, "prove", "--job", bar / "job.toml", "--side", "top", *programs_of(bar, "top"), "--json"
    )
    assert before[:2] == after[:2]
    assert set(json.loads(after[1])) == {
        "verdict", "findings", "digests", "digest", "removed_mm3", "seconds", "files",
    }  # fmt: skip


def test_a_program_cut_too_deep_breaks_into_the_other_side(capsys, bar):
    """The top's deepest level, 8 mm, made 12 mm: 1 mm into the bottom's pocket."""
    wrong = []
    for file in programs_of(bar, "top"):
        changed = bar / f"wrong-{file.name}"
        changed.write_bytes(
            file.read_bytes()
            .replace(b"Z-8.", b"Z-12.")
            .replace(b"Z-8 ", b"Z-12 ")
            .replace(b"Z-8\n", b"Z-12\n")
        )
        wrong.append(changed)
    capsys.readouterr()
    status, out, _ = run(
        capsys, "prove", "--job", bar / "job.toml", "--side", "top", *wrong, "--side", "bottom",
        *programs_of(bar, "bottom"), "--json",
    )  # fmt: skip
    assert status == 1
    worst = json.loads(out)["together"]["findings"][0]
    assert worst["check"] == "sides meet"
    assert worst["value"] == pytest.approx(-1.0, abs=1e-3)
    assert worst["program"].startswith("wrong-top-")
    line = (bar / worst["program"]).read_text().splitlines()[worst["line"] - 1]
    assert line.strip()
