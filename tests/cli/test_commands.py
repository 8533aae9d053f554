"""The commands' exit status, their JSON, and that bad input gets one message on standard error."""

import json
import subprocess
import sys

import pytest

from sparwright.cli import main

PROGRAM = """(a square)
G21 G90 G94 G17
G0 Z5
G0 X0 Y0
S10000 M3
G1 Z-1 F100
G1 X10 F600
G3 X10 Y10 I0 J5
G1 X0
G1 Y0
G0 Z5
M30
"""


def run(capsys, *words):
    status = main([str(w) for w in words])
    out, err = capsys.readouterr()
    return status, out, err


@pytest.fixture
def program(tmp_path):
    path = tmp_path / "square.nc"
    path.write_text(PROGRAM)
    return path


def test_read_says_what_a_program_does(capsys, program):
    status, out, err = run(capsys, "read", program, "--json", "--offset", "G54=100,0,0", "--start", "0,0,50")
    figures = json.loads(out)
    assert status == 0
    assert err == ""
    assert figures["cutting_length_mm"] == pytest.approx(6 + 10 + 5 * 3.141592653589793 + 10 + 10)
    assert figures["extents_mm"][1][0] == pytest.approx(115)
    assert figures["errors"] == []


def test_a_program_with_errors_is_a_no_go_with_its_line(capsys, tmp_path):
    bad = tmp_path / "bad.nc"
    bad.write_text("G21 G90\nG1 X10\nG2 G3 X1\nM30\n")
    status, out, _ = run(capsys, "read", bad, "--json")
    assert status == 1
    assert 3 in [e["line"] for e in json.loads(out)["errors"]]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("read", "nowhere.nc"), "nowhere.nc"),
        (("plan", "nowhere.toml"), "no file nowhere.toml"),
        (("fit", "nowhere.toml"), "no file"),
        (("pose", "nowhere.toml"), "nowhere.toml"),
        (("weigh", "JOB", "--before", "3 mm", "--after", "2"), "mass"),
        (("weigh", "JOB", "--before", "2", "--after", "3"), "at most before"),
        (("fit", "JOB", "--side", "top"), 'no side "top"'),
    ],
)
def test_bad_input_is_status_2_and_one_message(capsys, examples, words, said):
    job = examples / "bridge-beam" / "job.toml"
    status, out, err = run(capsys, *(job if w == "JOB" else w for w in words))
    assert status == 2
    assert out == ""
    assert said in err
    assert err.count("\n") == 1
    assert err.endswith(".\n")
    assert not err.endswith("..\n")


def test_read_refuses_a_bad_offset_and_start(capsys, program):
    assert run(capsys, "read", program, "--offset", "G92=1,2,3")[0] == 2
    assert run(capsys, "read", program, "--start", "1,2")[0] == 2


def test_fit_of_the_bridge_beam(capsys, examples):
    status, out, _ = run(capsys, "fit", examples / "bridge-beam" / "job.toml", "--json")
    fit = json.loads(out)
    assert status == 0
    assert fit["fits"] is True
    assert set(fit["best"]) == {"angle_deg", "x_mm", "y_mm", "margin_mm", "limited_by"}
    assert all(low <= high for low, high in fit["angles_deg"])


def test_weigh_in(capsys, examples):
    status, out, _ = run(
        capsys,
        "weigh",
        examples / "bridge-beam" / "job.toml",
        "--before",
        "3570 g",
        "--after",
        "2870 g",
        "--json",
    )
    result = json.loads(out)
    assert status == 0
    assert result["measured"]["out_kg"] == pytest.approx(0.7)
    assert {"predicted", "measured", "inferred"} <= set(result)


def test_a_fault_of_ours_is_status_3(capsys, monkeypatch):
    import sparwright.job.reading as reading

    def broken(_: object) -> None:
        raise ZeroDivisionError("ours")

    monkeypatch.setattr(reading, "load_job", broken)
    status, out, err = run(capsys, "plan", "x.toml")
    assert status == 3
    assert out == ""
    assert "a fault of ours" in err


def test_a_reader_that_stops_early_is_no_fault(program):
    command = f"{sys.executable} -m sparwright.cli read {program} --json | true; exit ${{PIPESTATUS[0]}}"
    done = subprocess.run(["bash", "-c", command], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stderr == ""


def test_stiffness_tells_the_member_and_its_machine(capsys, examples):
    status, out, err = run(
        capsys, "stiffness", examples / "bridge-beam" / "job.toml", "--method", "wall", "--json"
    )
    told = json.loads(out)
    assert (status, err, told["method"]) == (0, "", "wall")
    assert {"mass_out_kg", "intact", "reworked", "kept", "spread", "parts", "machine", "answer"} <= set(told)


def test_section_gives_figures_and_a_picture(capsys, examples, tmp_path):
    picture = tmp_path / "section.svg"
    status, out, _ = run(capsys, "section", examples / "webbed-rail" / "job.toml", "--svg", picture, "--json")
    told = json.loads(out)
    assert status == 0
    assert told["cells"] == 2
    assert told["area_mm2"] == pytest.approx(938.8, abs=0.5)
    assert picture.read_text().startswith("<svg")
    status, out, _ = run(capsys, "section", examples / "webbed-rail" / "job.toml")
    assert "wall web: " in out


def test_a_picture_that_cannot_be_written_is_told(capsys, examples, tmp_path):
    where = tmp_path / "nowhere" / "section.svg"
    status, out, err = run(capsys, "section", examples / "webbed-rail" / "job.toml", "--svg", where)
    assert (status, out) == (2, "")
    assert "section.svg cannot be written" in err
