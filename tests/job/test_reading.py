"""Job files: what is read, and that every mistake gets one message with its line and a remedy."""

import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparwright.job.models import CutterFile, MaterialFile
from sparwright.job.positions import Positions, value_at
from sparwright.job.reading import JobError, job_error, load_job, parse_table, shipped_names

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam"


@pytest.fixture
def folder(tmp_path):
    for file in EXAMPLE.glob("*.toml"):
        shutil.copy(file, tmp_path)
    return tmp_path


def edited(folder: Path, old: str, new: str, name: str = "job.toml") -> JobError:
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(JobError) as caught:
        load_job(folder / "job.toml")
    return caught.value


def line_of(name: str, words: str) -> int:
    lines = (EXAMPLE / name).read_text(encoding="utf-8").splitlines()
    return next(i for i, line in enumerate(lines, 1) if line.startswith(words))


def test_the_demo_job_is_read_whole():
    job = load_job(EXAMPLE / "job.toml")
    assert job.material.name == "EN AW-6063-T6"
    assert job.bed.reach == (860, 860, 95)
    assert job.bed.spindle.power == pytest.approx(1100)
    assert job.bed.step_scale == pytest.approx(0.0003)
    assert [c.diameter for c in job.cutters] == [6.35, 3.175, 1.5875, 6.35]
    assert len(job.digest) == 64


def test_the_digest_follows_every_file(folder):
    before = load_job(folder / "job.toml").digest
    (folder / "plotter.toml").write_text((folder / "plotter.toml").read_text() + "\n# a remark\n")
    assert load_job(folder / "job.toml").digest != before


@pytest.mark.parametrize(
    ("old", "new", "line", "words"),
    [
        ("rib = 5", "rib = -5", "rib", ["field[1].rib", "-5", "above 0 and 200 or less mm"]),
        ("rib = 5", "ribb = 5", "rib", ["unknown key", 'did you mean "rib"?']),
        ("skin = 1.2", 'skin = "1.2 kg"', "skin", ["1.2 kg", "write a number in mm"]),
        (
            'shape = "rectangular tube"',
            'shape = "rectangle tube"',
            "shape",
            ["not one of its choices", 'Did you mean "rectangular tube"?'],
        ),
        (
            'material = "EN AW-6063-T6"',
            'material = "EN AW-6063"',
            "material",
            ['Did you mean "EN AW-6063-T6"?'],
        ),
        ('cutters = "cutters.toml"', 'cutters = "cuters.toml"', "cutters", ['Did you mean "cutters.toml"?']),
        ('cutters = "cutters.toml"', 'cutters = "../cutters.toml"', "cutters", ["outside the job's folder"]),
        ('bed = "bench-router.toml"', 'bed = "/etc/hosts"', "bed", ["outside the job's folder"]),
        ("length = 1180", "length = 1180 mm", "length", ["not valid TOML"]),
        ("length = 1180", "length = true", "length", ["a length is wanted"]),
        ("at = [[90, 0]", 'at = [[90, "x"]', "at", ["hole[1].at[1][2]"]),
        ('thread = "M6"', 'thread = "M7"', "thread", ["M2.5", "M12"]),
    ],
)
def test_every_mistake_gets_its_line_and_a_remedy(folder, old, new, line, words):
    error = edited(folder, old, new)
    assert error.line == line_of("job.toml", line)
    assert f"line {error.line}:" in str(error)
    for w in words:
        assert w.lower() in str(error).lower()


def test_a_mistake_in_a_named_file_points_at_that_file(folder):
    error = edited(folder, 'power = "1.1 kW"', 'power = "1.1 kN"', "bench-router.toml")
    assert error.file.endswith("bench-router.toml")
    assert error.line == line_of("bench-router.toml", "power")


def test_a_missing_key_names_its_table(folder):
    error = edited(folder, 'title = "Bridge beam"\n', "")
    assert error.key == "job.title"
    assert error.line == line_of("job.toml", "[job]")
    assert "missing" in str(error)


def test_other_mistakes_are_counted(folder):
    path = folder / "job.toml"
    path.write_text(path.read_text().replace("rib = 5", "rib = -5").replace("width = 50", "width = -1"))
    with pytest.raises(JobError, match="1 more on line"):
        load_job(path)


def test_no_such_job_and_a_folder():
    with pytest.raises(JobError, match="no file"):
        load_job("nowhere.toml")
    with pytest.raises(JobError, match="folder"):
        load_job(EXAMPLE)


def test_a_link_out_of_the_folder_is_refused(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("other") / "c.toml"
    shutil.copy(EXAMPLE / "cutters.toml", outside)
    (folder / "cutters.toml").unlink()
    (folder / "cutters.toml").symlink_to(outside)
    with pytest.raises(JobError, match="outside"):
        load_job(folder / "job.toml")


def test_later_rooms_can_point_at_a_line():
    job = load_job(EXAMPLE / "job.toml")
    error = job_error(job, ("hole", 1, "at", 1), "off the face", "s from -46 to 46 mm", "move it")
    assert error.line == next(
        i
        for i, t in enumerate((EXAMPLE / "job.toml").read_text().splitlines(), 1)
        if t.startswith("at = [[200")
    )
    assert str(error).endswith("Allowed: s from -46 to 46 mm. Move it.")


def test_what_ships_is_valid():
    assert {"materials.toml", "bench-router.toml", "cutters.toml"} <= set(shipped_names())
    data = Path(__file__).parents[2] / "src" / "sparwright" / "job" / "data"
    assert parse_table((data / "cutters.toml").read_text(), CutterFile, "cutters.toml").cutter
    materials = parse_table((data / "materials.toml").read_text(), MaterialFile, "materials.toml").material
    # EN 1999-1-1:2004, 3.2.5 prints G = 27 000 MPa for E = 70 000 MPa.
    assert next(m for m in materials if m.name == "EN AW-6063-T6").shear_modulus == pytest.approx(
        27000, rel=0.005
    )


AWKWARD = """
"quoted key" = 1
a.b.c = 2
list = [
  1,  # one
  [2, 3],
  { p = 4, q.r = 5 },
]
[t."x.y"]
z = 6
[[arr]]
k = 7
[arr.sub]
m = 8
[[arr]]
k = 9
[[arr.deep]]
n = 10
"""


def test_positions_in_awkward_toml():
    p = Positions(AWKWARD)
    rows = AWKWARD.splitlines()

    def row(words: str) -> int:
        return next(i for i, r in enumerate(rows, 1) if words in r)

    assert p.line(("quoted key",)) == 2
    assert p.line(("a", "b", "c")) == 3
    assert p.line(("list", 1, 1)) == row("[2, 3]")
    assert p.line(("list", 2, "q", "r")) == row("q.r")
    assert p.line(("t", "x.y", "z")) == row("z = 6")
    assert p.line(("arr", 0, "sub", "m")) == row("m = 8")
    assert p.line(("arr", 1, "k")) == row("k = 9")
    assert p.line(("arr", 1, "deep", 0, "n")) == row("n = 10")
    assert p.line(("arr", 1, "nothing")) == row("n = 10") - 3


names = st.text(alphabet="abcdefg", min_size=1, max_size=3)


@given(st.lists(st.tuples(names, st.dictionaries(names, st.integers(), max_size=4)), max_size=6))
def test_every_value_is_found_on_its_own_line(tables):
    lines = []
    for name, pairs in tables:
        lines.append(f"[[{name}]]")
        lines += [f"{k} = {v}" for k, v in pairs.items()]
    text = "\n".join(lines) + "\n"
    data, positions = tomllib.loads(text), Positions(text)
    for name, rows in data.items():
        for i, row in enumerate(rows):
            for k, v in row.items():
                assert value_at(data, (name, i, k)) == v
                assert lines[positions.line((name, i, k)) - 1] == f"{k} = {v}"
