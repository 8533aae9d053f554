"""A machine file that cannot be is refused with one message: line, what is wrong, what to do. And typical values."""

import shutil
from pathlib import Path

import pytest

from sparwright.job.reading import JobError, load_job
from sparwright.job.typical import TypicalFile, typical_values

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam"

GENERAL = """\
name = "own machine"
kind = "general"
service = { force = 20 }

[[axis]]
name = "X"
direction = [1, 0, 0]
travel = [-400, 400]

[[point]]
name = "left end"
at = [0, 0, 0]
held = true

[[point]]
name = "right end"
at = [1180, 0, 0]
held = true

[[point]]
name = "head"
at = [590, 0, 0]
moves_with = ["X"]

[[point]]
name = "tool"
at = [590, -50, -90]
moves_with = ["X"]

[[strut]]
name = "beam"
between = ["left end", "right end"]
member = true

[[plate]]
name = "head plate"
points = ["head", "tool"]

[[runner]]
name = "head carriage"
body = "head"
on = "beam"
axis = "X"
contacts = "blocks"
along = [-35, 35]
across = [-30, 30]
like = "linear block, 12 mm rail"
width = 110

[[mover]]
name = "head drive"
point = "head"
on = "beam"
axis = "X"
kind = "belt"
like = "2 mm pitch, 9 mm wide"
ends = [-580, 580]

[[weight]]
name = "spindle"
point = "tool"
mass = 1.6
"""


@pytest.fixture
def folder(tmp_path) -> Path:
    for path in EXAMPLE.iterdir():
        shutil.copy(path, tmp_path)
    return tmp_path


def refused(folder: Path, text: str) -> JobError:
    (folder / "plotter.toml").write_text(text, encoding="utf-8")
    with pytest.raises(JobError) as fault:
        load_job(folder / "job.toml")
    assert Path(fault.value.file).name == "plotter.toml"
    return fault.value


def line_of(text: str, start: str, number: int = 1) -> int:
    found = [i for i, line in enumerate(text.split("\n"), 1) if line.startswith(start)]
    return found[number - 1]


PLAIN = (EXAMPLE / "plotter.toml").read_text(encoding="utf-8")
MISTAKES = [
    ("like = \"steel V wheel\"", 'like = "steel V whel"', "like", "there are: 'polymer V wheel'"),
    ('like = "steel V wheel"', 'like = "steel V whel"', "like", 'did you mean "steel V wheel"?'),
    ('like = "steel V wheel"', "radial = 0\naxial = 100", "radial", "Allowed: a number above 0 and at most 1e+09 N/mm"),
    ('like = "steel V wheel"', "radial = 500", "[cross.carriage]", 'say "like" with a typical value, or both radial and axial; add one'),
    ("at = [28, 1152]", "at = [28]", "at", "a moving bridge stands on 2; give 2 places"),
    ('part = "bridge"', 'part = "arm"', "part", 'the member of a moving bridge is its "bridge" or "rail" and cannot be its arm'),
    ('part = "bridge"', 'part = "rail"', "part", "so the bridge or arm must be said; add [beam] with its length and section"),
    ("rail_length = 1060", "rail_length = 1160", "rail_length", "a rail of 1160 mm from 60 mm on does not lie on its beam, which is 1180 mm long; shorten it"),
    ("along = [-40, 40]", "along = [-72, 40]", "width", "its contacts stand 112 mm apart and it covers 104 mm of rail"),
    ("rail_length = 900", "rail_length = 150", "width", "no travel is left: the rail is 150 mm long"),
    ("ends = [-30, 1090]", "ends = [-30, 900]", "ends", "the carriage travels from 80 to 996 mm, and the belt reaches from -30 to 900 mm; move its ends outside the travel"),
    ("ends = [-30, 1090]", "ends = [1090, -30]", "ends", "the first of the two ends must be the smaller one; swap them"),
    ("to = [0, -70, -75]", "to = [0, -25, 0]", "to", "the plate has no length"),
    ('directions = ["X", "Y", "Z"]', 'directions = ["W"]', "directions", 'Allowed: "X", "Y" or "Z"'),
    ("[service]", '[[push]]\nlink = "head"\nforce = 20\nreading = 0.1\ndirection = "X"\n[service]', "link", 'no link "head" can be measured by a push; there are: "uprights"'),
    ("[service]", '[[push]]\nlink = "tool drive"\nforce = 20\nreading = 0.1\ndirection = "X"\nposition = [40, 400]\n[service]', "position", "X cannot stand at 40 mm; it travels from 80 to 996 mm; correct it"),
    ("[service]", '[[push]]\nlink = "tool drive"\nforce = 20\nreading = 0.1\ndirection = "X"\nat = "brush"\n[service]', "at = \"brush", 'no point "brush"; there are: bridge start'),
    ("[service]", '[[strut]]\nname = "a"\nbetween = ["b", "c"]\n[service]', "[[strut]]", "a beam has a section or is the member; say one of the two"),
    ("[service]", '[[weight]]\nname = "a"\npoint = "c"\nmass = 1\n[service]', "[[weight]]", '[[weight]] belongs to a general machine and this is a moving bridge; leave it out, or say kind = "general"'),
    ('kind = "moving bridge"', 'kind = "moving bridg"', "kind", 'Allowed: "moving bridge", "portal", "cantilever arm" or "general"'),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "says"), MISTAKES)
def test_a_mistake_in_a_plain_machine(old, new, line, says, folder):
    assert old in PLAIN
    text = PLAIN.replace(old, new, 1)
    fault = refused(folder, text)
    assert says in str(fault)
    assert text.split("\n")[fault.line - 1].strip().startswith(line)
    assert fault.remedy or fault.allowed or ";" in fault.what


BROKEN = [
    ('on = "beam"\naxis = "X"\ncontacts', 'on = "bean"\naxis = "X"\ncontacts', 'on = "bean"', 'it leads to beam "bean", which is not there; beams there are: "beam". Name one of these, or add it'),
    ('points = ["head", "tool"]', 'points = ["head", "tooth"]', "points", 'it leads to point "tooth", which is not there; points there are: "left end", "right end", "head", "tool"'),
    ('point = "tool"', 'point = "spindle"', "point = ", 'it leads to point "spindle", which is not there'),
    ('moves_with = ["X"]', 'moves_with = ["Z"]', "moves_with", 'it leads to axis "Z", which is not there; axes there are: "X"'),
    ('name = "head plate"', 'name = "beam"', 'name = "beam"', "another part has the name 'beam' already; give each its own"),
    ("at = [1180, 0, 0]", "at = [1100, 0, 0]", "between", "its points are 1100 mm apart, and the member is 1180 mm long; make them agree"),
    ("travel = [-400, 400]", "travel = [-600, 400]", "along", "a contact stands at -45 mm of the beam"),
    ("travel = [-400, 400]", "travel = [40, 400]", "travel", "the points stand outside this travel"),
    ("ends = [-580, 580]", "ends = [-580, 300]", "ends", "its point travels from -400 to 400 mm; move its ends outside that"),
    ("member = true", "up = [2, 0, 0]\nmember = true", "up", "it runs along the beam; give a direction across it"),
    ('name = "tool"\n', 'name = "tip"\n', "points", 'it leads to point "tool", which is not there'),
    ('between = ["left end", "right end"]', 'between = ["left end", "left end"]', "between", "it names one point twice; name different ones"),
    ('kind = "general"', 'kind = "general"\nuprights = { at = [1] }', "uprights", "a general machine has no uprights"),
    ('between = ["left end", "right end"]', 'between = ["left end"]', "between", "['left end'] is too short. Allowed: a list of 2 texts. Give all of them."),
    ("width = 110", "width = 110\nradial = -5", "radial", "Allowed: a number above 0"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "line", "says"), BROKEN)
def test_a_mistake_in_a_general_machine(old, new, line, says, folder):
    assert old in GENERAL
    text = GENERAL.replace(old, new, 1)
    fault = refused(folder, text)
    assert says in str(fault)
    assert text.split("\n")[fault.line - 1].strip().startswith(line)


def test_a_general_machine_is_read(folder):
    (folder / "plotter.toml").write_text(GENERAL, encoding="utf-8")
    machine = load_job(folder / "job.toml").served
    assert machine is not None
    assert machine.links == ("beam", "head carriage", "head drive")
    assert machine.where("head") == f"{folder / 'plotter.toml'}, line {line_of(GENERAL, '[[point]]', 3)}"


def test_every_typical_value_has_a_spread_and_says_where_it_comes_from():
    values = typical_values()
    for kind in TypicalFile.model_fields:
        for value in getattr(values, kind):
            assert 0 < value.spread < 1
            assert value.source.startswith(("common practice, no source:", "from memory:")), value.name


def test_what_the_page_shows_can_be_read(folder):
    page = (EXAMPLE.parents[1] / "docs" / "machine.md").read_text(encoding="utf-8")
    shown = [part.split("```")[0] for part in page.split("```toml\n")[1:]]
    assert shown
    for part in shown:
        (folder / "plotter.toml").write_text(PLAIN + "\n" + part, encoding="utf-8")
        machine = load_job(folder / "job.toml").served
        assert machine is not None
        assert len(machine.pushes) == 1


def test_own_stiffness_comes_before_the_typical_one(folder):
    text = PLAIN.replace('like = "steel V wheel"', 'like = "steel V wheel"\nradial = "3 N/µm"', 1)
    (folder / "plotter.toml").write_text(text, encoding="utf-8")
    machine = load_job(folder / "job.toml").served
    assert machine is not None
    contact = machine.runners[0].contacts[0]
    assert contact.stiffness[1:3] == (3000, 2500)
    assert machine.runners[0].spread == 0.3


def test_a_list_left_open_at_the_end_of_the_file_is_told(folder):
    fault = refused(folder, PLAIN + "\n[[push]]\nposition = [\n")
    assert "not valid TOML" in str(fault)
    assert "mend this line" in fault.remedy
