"""Job files: what is read, and that every mistake gets one message with its line and a remedy."""

import hashlib
import shutil
from pathlib import Path

import pytest

from sparwright.job.basis import basis_of
from sparwright.job.models import CutterFile, MaterialFile
from sparwright.job.reading import JobError, job_error, load_job, parse_table, shipped_names

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam"
DATA = Path(__file__).parents[2] / "src" / "sparwright" / "job" / "data"


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


# (what the demo's job file says, what a mistake makes of it, the start of the line at fault, what the message says)
MISTAKES = [
    (
        "rib = 5",
        "rib = -5",
        "rib",
        "field[1].rib: -5 is out of range. Allowed: a number above 0 and at most 200 mm. Change rib (metal between",
    ),
    (
        "rib = 5",
        'rib = "1/0 in"',
        "rib",
        '"1/0 in" is not a quantity; write a number in mm, or a number and a unit. Allowed: a number above 0',
    ),
    ("rib = 5", "rib = nan", "rib", "a length must be a finite number. Allowed: a number above 0"),
    (
        "rib = 5",
        "ribb = 5",
        "ribb",
        "field[1].ribb: unknown key (its value is 5). Allowed: the keys name, faces, pocket,",
    ),
    ("rib = 5", "ribb = 5", "ribb", 'Did you mean "rib"?'),
    ("rib = 5", "rib = 5\ncolour = 5", "colour", "Take it out, or write one of these."),
    (
        "skin = 1.2",
        'skin = "1.2 kg"',
        "skin",
        '"1.2 kg" is not a length; write a number in mm, or a number and a unit such as mm, cm',
    ),
    (
        "skin = 1.2",
        "",
        "[[field]]",
        "field[1].skin: neither skin nor depth is said; add one of the two. Allowed: a number at least 0 and at most 50 mm.",
    ),
    (
        "skin = 1.2",
        "skin = 1.2\ndepth = 2",
        "depth",
        "2: skin and depth are both said; take one of the two out.",
    ),
    ("rib = 5", "rib = 5\nwidth = 9", "width", "width goes with slot pockets only; take it out."),
    (
        'pocket = "triangle"',
        'pocket = "slot"',
        "[[field]]",
        "field[1].width: slot pockets need a width; add it.",
    ),
    (
        'pocket = "triangle"',
        'pocket = "triangel"',
        "pocket",
        'Allowed: "triangle", "hexagon", "square", "diamond", "round" or "slot". Did you mean "triangle"?',
    ),
    ('pocket = "triangle"', "pocket = 3", "pocket", "3 is not one of its choices."),
    (
        'faces = ["front", "back"]',
        "faces = []",
        "faces",
        "[] is too short. Allowed: a list of one or more texts.",
    ),
    (
        'faces = ["front", "back"]',
        'faces = "front"',
        "faces",
        '"front" is of the wrong kind. Allowed: a list of one or more texts.',
    ),
    (
        'faces = ["front", "back"]',
        'faces = [\n  "front",\n  7]',
        "  7",
        "field[1].faces[2]: 7 is of the wrong kind. Allowed: text in quotes.",
    ),
    ('name = "isogrid"', 'name = ""', "name", "field[1].name: it is empty."),
    (
        'name = "switch"',
        'name = "head-rail"',
        'name = "head-rail"',
        "another hole has the name 'head-rail' already; give each its own.",
    ),
    (
        'shape = "rectangular tube"',
        'shape = "rectangle tube"',
        "shape",
        'Allowed: "angle", "channel", "drawn", "flat bar",',
    ),
    ('shape = "rectangular tube"', 'shape = "rectangle tube"', "shape", 'Did you mean "rectangular tube"?'),
    ('shape = "rectangular tube"', "", "[stock.section]", "stock.section.shape: this key is missing."),
    (
        "wall = 4",
        "wall = 30",
        "wall",
        "stock.section.wall: 30: must be less than half the smaller side, 25 mm, or nothing is hollow.",
    ),
    (
        "wall = 4",
        "wall = 4\nthickness = 4",
        "thickness",
        "unknown key (its value is 4). Allowed: the keys shape, width, height, wall, outer_radius",
    ),
    (
        "length = 1180",
        "length = 1180 mm",
        "length",
        "not valid TOML, expected newline or end of document after a statement, in: length = 1180 mm. Mend this line",
    ),
    (
        "length = 1180",
        "length = true",
        "length",
        "stock.length: a length is wanted, not true or false. Allowed: a number above 0 and at most 20000 mm.",
    ),
    (
        "length = 1180",
        "length = 2020-01-01",
        "length",
        "a length is wanted: a number in mm, or text with a unit.",
    ),
    (
        "length = 1180",
        "",
        "[stock]",
        "stock.length: this key is missing. Allowed: a number above 0 and at most 20000 mm. Add length = ... to stock (length as it",
    ),
    (
        'title = "Bridge beam"',
        "",
        "[job]",
        "job.title: this key is missing. Allowed: text in quotes. Add title = ... to job",
    ),
    (
        'title = "Bridge beam"',
        "title = 7",
        "title",
        "job.title: 7 is of the wrong kind. Allowed: text in quotes. Change title (title printed on every sheet).",
    ),
    ("[wishes]", "[wish]", "[wish]", 'Did you mean "wishes"?'),
    (
        "[wishes]",
        "[[wishes]]",
        "[[wishes]]",
        "this is a list, not a table. Allowed: a table. Write its header once, as [wishes].",
    ),
    (
        "[[notch]]",
        "[notch]",
        "[notch]",
        "one table is not a list of tables. Allowed: any number of tables. Write its header as [[notch]].",
    ),
    (
        "[wishes]",
        "[cutting]\ndrill_by_milling = 7\n[wishes]",
        "drill_by",
        "7 is of the wrong kind. Allowed: true or false.",
    ),
    (
        "[wishes]",
        "[placing]\npads = 2.5\n[wishes]",
        "pads",
        "2.5 is of the wrong kind. Allowed: a whole number at least 2 and at most 12.",
    ),
    (
        "[wishes]",
        "[placing]\npads = true\n[wishes]",
        "pads",
        "a number is wanted, not true or false. Allowed: a whole number",
    ),
    (
        "at = [[200, 38], [220, 38]]",
        "at = [\n [200, 38],\n [220],\n]",
        " [220]",
        "hole[2].at[2]: [220] is too short. Allowed: a list of 2 numbers in mm. Give all of them.",
    ),
    (
        "at = [[200, 38], [220, 38]]",
        "at = [[200, 38, 1]]",
        "at = [[200",
        "[200, 38, 1] is too long. Allowed: a list of 2 numbers in mm.",
    ),
    (
        "at = [[200, 38], [220, 38]]",
        'at = [[200, "x"]]',
        "at = [[200",
        'hole[2].at[1][2]: "x" is not a quantity;',
    ),
    (
        "at = [[200, 38], [220, 38]]",
        "at = []",
        "at = []",
        "[] is too short. Allowed: a list of one or more lists of 2 numbers.",
    ),
    (
        'thread = "M6"',
        'thread = "M7"',
        "thread",
        '"M7" is not one of its choices. Allowed: "M2", "M2.5", "M3"',
    ),
    (
        'thread = "M6"',
        'thread = "M6"\ndiameter = 5',
        "diameter",
        "5: a tapped hole takes its thread and no diameter; take it out.",
    ),
    ('thread = "M6"', "", "[[hole]]", "hole[1].thread: a tapped hole needs a thread; add it."),
    (
        'material = "EN AW-6063-T6"',
        'material = "EN AW-6063"',
        "material",
        'no material "EN AW-6063". Allowed: "EN AW-6063-T6", "EN AW-6060-T66"',
    ),
    ('material = "EN AW-6063-T6"', 'material = "EN AW-6063"', "material", 'Did you mean "EN AW-6063-T6"?'),
    ('cutters = "cutters.toml"', 'cutters = "cuters.toml"', "cutters", 'Did you mean "cutters.toml"?'),
    (
        'cutters = "cutters.toml"',
        'cutters = "../cutters.toml"',
        "cutters",
        'job.cutters: "../cutters.toml" lies outside the job\'s folder. Allowed: a plain name',
    ),
    (
        'cutters = "cutters.toml"',
        'cutters = "x/../../cutters.toml"',
        "cutters",
        "lies outside the job's folder",
    ),
    ('bed = "bench-router.toml"', 'bed = "/etc/hosts"', "bed", "lies outside the job's folder"),
    ('bed = "bench-router.toml"', "bed = 'C:\\hosts'", "bed", "lies outside the job's folder"),
    ('bed = "bench-router.toml"', 'bed = ""', "bed", "lies outside the job's folder"),
    (
        'bed = "bench-router.toml"',
        'bed = "zzz"',
        "bed",
        'none of that name ships. Allowed: "bench-router.toml". ',
    ),
]


@pytest.mark.parametrize(("old", "new", "line", "says"), MISTAKES)
def test_every_mistake_gets_its_line_and_a_remedy(folder, old, new, line, says):
    error = edited(folder, old, new)
    text = (folder / "job.toml").read_text(encoding="utf-8").splitlines()
    starts = [i for i, written in enumerate(text, 1) if written.startswith(line)]
    assert error.line in starts, str(error)
    assert str(error).startswith(f"{folder / 'job.toml'}, line {error.line}: "), str(error)
    assert says in str(error).splitlines()[0], str(error)
    assert error.others == (), str(error)


@pytest.mark.parametrize(
    ("name", "old", "new", "line", "says"),
    [
        (
            "bench-router.toml",
            'power = "1.1 kW"',
            'power = "1.1 kN"',
            "power",
            'spindle.power: "1.1 kN" is not a power',
        ),
        (
            "bench-router.toml",
            "slowest = 8000",
            "slowest = 30000",
            "slowest",
            "must be at most the fastest speed, 24000 rpm",
        ),
        (
            "bench-router.toml",
            "reach = [860, 860, 95]",
            "reach = [860, -860, 95]",
            "reach",
            "reach[2]: -860 is out of range. Allowed: a number above 0 mm.",
        ),
        (
            "bench-router.toml",
            "tramming = 0.08",
            "tramming = inf",
            "tramming",
            "tramming: inf is of the wrong kind. Allowed: a number at least 0",
        ),
        (
            "bench-router.toml",
            'tool_change = "one file a cutter"',
            'tool_change = "sometimes"',
            "tool_change",
            '"sometimes" is not one of its choices. Allowed: "one file a cutter", "stop" or "M6". Write one of these in quotes.',
        ),
        (
            "bench-router.toml",
            "tramming = 0.08",
            "tramming = 0.08\ntramming = 0.09",
            "tramming = 0.09",
            "this key stands twice in its table, in: tramming = 0.09. Take one of the two out.",
        ),
        (
            "plotter.toml",
            "[service]",
            "[tool]\n[service]",
            "[tool]",
            "this table stands twice, or after it was written as a key, in: [tool]. Take one of the two out.",
        ),
        (
            "cutters.toml",
            "included_angle = 90",
            "",
            "[[cutter]]",
            "cutter[4].included_angle: a vee cutter needs the angle at its point; add it.",
        ),
        (
            "cutters.toml",
            "number = 2",
            "number = 1",
            "number",
            "another cutter has the number 1 already; give each its own.",
        ),
        (
            "cutters.toml",
            "stick_out = 26",
            "stick_out = 6",
            "stick_out",
            "must be at least the flute_length, 16 mm.",
        ),
        (
            "plotter.toml",
            "at = [28, 1152]",
            "at = [28, 1200]",
            "at",
            "uprights.at[2]: an upright at 1200 mm stands beyond the bridge, which is 1180 mm long; give a place from 0 to 1180 mm.",
        ),
        ("plotter.toml", "at = [28, 1152]", "at = [128, 110]", "at", "swap them"),
    ],
)
def test_a_mistake_in_a_named_file_points_at_that_file(folder, name, old, new, line, says):
    error = edited(folder, old, new, name)
    written = (folder / name).read_text(encoding="utf-8").splitlines()[error.line - 1]
    assert error.file == str(folder / name)
    assert written.startswith(line), str(error)
    assert says in str(error), str(error)


def test_all_mistakes_of_a_file_are_listed_first_line_first(folder):
    path = folder / "job.toml"
    path.write_text(path.read_text().replace("rib = 5", "rib = -5").replace("width = 50", "width = -1"))
    with pytest.raises(JobError) as caught:
        load_job(path)
    error = caught.value
    assert error.key == "stock.section.width"
    assert [other.key for other in error.others] == ["field[1].rib"]
    assert f"\n  also line {line_of('job.toml', 'rib')}: field[1].rib: -5 is out of range." in str(error)


def test_no_such_job_and_a_folder():
    with pytest.raises(JobError, match=r"there is no file nowhere\.toml\. Check"):
        load_job("nowhere.toml")
    with pytest.raises(JobError, match=r"this is a folder\. Name the job file in it"):
        load_job(EXAMPLE)


def test_bytes_that_are_no_text(folder):
    path = folder / "job.toml"
    path.write_bytes(path.read_bytes().replace(b"Bridge beam", b"Br\xfccke"))
    with pytest.raises(JobError, match="no UTF-8 text") as caught:
        load_job(path)
    assert caught.value.line == line_of("job.toml", "title")


def test_lists_without_end(folder):
    (folder / "job.toml").write_text("a = " + "[" * 20000)
    with pytest.raises(JobError, match=r"nested too deeply|not valid TOML"):
        load_job(folder / "job.toml")


def test_byte_order_mark_and_line_ends_of_other_systems(folder):
    path = folder / "job.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load_job(path).title == "Bridge beam"
    error = edited(folder, "rib = 5", "rib = 0")
    assert error.line == line_of("job.toml", "rib")


def test_a_link_out_of_the_folder_is_refused(folder, tmp_path_factory):
    outside = tmp_path_factory.mktemp("other") / "c.toml"
    shutil.copy(EXAMPLE / "cutters.toml", outside)
    (folder / "cutters.toml").unlink()
    (folder / "cutters.toml").symlink_to(outside)
    with pytest.raises(JobError, match="outside"):
        load_job(folder / "job.toml")


OWN = """
[[material]]
name = "EN AW-6063-T6"
modulus = "69 GPa"
poisson = 0.33
density = "2.69 g/cm3"
proof_strength = 170
tensile_strength = 215
cutting_force = 700
cutting_exponent = 0.25
source = "certificate of this piece"
"""


def test_own_materials_come_before_shipped_ones_and_files_that_ship_are_found(folder):
    (folder / "own").mkdir()
    (folder / "own" / "metals.toml").write_text(OWN)
    (folder / "bench-router.toml").unlink()
    path = folder / "job.toml"
    shipped = load_job(path)
    assert shipped.bed.name == "bench router"
    path.write_text(path.read_text().replace("[job]", '[job]\nmaterials = "own/metals.toml"'))
    job = load_job(path)
    assert job.material.modulus == 69000
    assert job.material.density == pytest.approx(2690)
    path.write_text(path.read_text().replace("EN AW-6063-T6", "S235"))
    assert load_job(path).material.modulus == 210000


def test_the_digest_follows_the_drawing_whatever_its_bytes(folder):
    path = folder / "job.toml"
    text = path.read_text()
    start, end = text.index("[stock.section]"), text.index("[[field]]")
    path.write_text(text[:start] + '[stock.section]\nshape = "drawn"\nfile = "rail.dxf"\n' + text[end:])
    with pytest.raises(JobError, match=r'no file "rail\.dxf"'):
        load_job(path)
    (folder / "rail.dxf").write_bytes(b"0\nSECTION \xfc\n")
    before = load_job(path).digest
    (folder / "rail.dxf").write_bytes(b"0\nSECTION \xfd\n")
    assert load_job(path).digest != before


def test_the_digest_is_that_of_the_files_in_the_order_said(folder):
    names = ["job.toml", "bench-router.toml", "cutters.toml", "plotter.toml"]
    shipped = ("typical-stiffness.toml", "materials.toml")
    parts = [(folder / name).read_bytes() for name in names] + [
        (DATA / name).read_bytes() for name in shipped
    ]
    whole = b"".join(len(p).to_bytes(8, "big") + p for p in parts)
    assert load_job(folder / "job.toml").digest == hashlib.sha256(whole).hexdigest()


def test_the_digest_is_that_of_the_answers_which_no_units_change(folder):
    job = folder / "job.toml"
    plain, text = load_job(job).digest, job.read_text(encoding="utf-8")
    for line in ('units = "mm"', 'units = "inch"', 'units = "inch" # as the shop likes it'):
        job.write_text(text.replace("[job]\n", f"[job]\n{line}\n", 1), encoding="utf-8")
        assert load_job(job).file.job.units == line.split('"')[1]
        assert load_job(job).digest == plain


@pytest.mark.parametrize(
    ("text", "basis"),
    [
        ('[job]\na = 1\nunits = "mm"', "[job]\na = 1\n"),
        ('[job]\r\nunits = "mm"\r\na = 1\r\n', "[job]\r\na = 1\r\n"),
        ('job.units = "inch"\njob.a = 1\n', "job.a = 1\n"),
        ('\ufeff[job]\nunits = "mm"\n', "[job]\n"),
        ('job = { a = 1, units = "mm" }\n', "job = { a = 1,  }\n"),
        ('[job]\nname = "\\u00e4 units"\n', None),
        ('[job]\nunits = "cubits"\n', None),
        ("[job]\nunits = [ ]\n", None),
        ("[job]\nunits = \n", None),
        ('[part]\nunits = "mm"\n', None),
        ("\ufeff[job]\na = 1 # units\n", None),
    ],
)
def test_what_a_job_file_s_answers_rest_on(text, basis):
    assert basis_of(text.encode()) == (text if basis is None else basis).encode()


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
    assert parse_table((DATA / "cutters.toml").read_text(), CutterFile, "cutters.toml").cutter
    materials = parse_table((DATA / "materials.toml").read_text(), MaterialFile, "materials.toml").material
    # EN 1999-1-1:2004, 3.2.5 prints G = 27 000 MPa for E = 70 000 MPa.
    assert next(m for m in materials if m.name == "EN AW-6063-T6").shear_modulus == pytest.approx(
        27000, rel=0.005
    )


def test_bytes_may_stand_in_for_those_on_disk(folder):
    job = folder / "job.toml"
    cutters = (folder / "cutters.toml").read_bytes().replace(b"chip = 0.04", b"chip = 0.05")
    changed = load_job(job, {folder / "cutters.toml": cutters})
    assert [c.chip for c in changed.cutters][:1] == [0.05]
    assert [c.chip for c in load_job(job).cutters][:1] == [0.04]
    (folder / "cutters.toml").write_bytes(cutters)
    assert load_job(job).digest == changed.digest
