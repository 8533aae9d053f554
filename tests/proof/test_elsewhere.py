"""Programs from elsewhere against an STL, against stock alone, and against nothing at all."""

import hashlib
import sys
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from block_help import (
    BALL,
    CASE,
    CUTTERS,
    binary_stl,
    block_program,
    block_triangles,
    slot_program,
    slot_triangles,
)

from sparwright.answers import BadInput, Verdict
from sparwright.proof.casefile import NOTHING, CaseFile, load_case
from sparwright.proof.elsewhere import prove_known


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    where = tmp_path_factory.mktemp("block")
    (where / "block.stl").write_bytes(binary_stl(block_triangles()))
    (where / "inch.stl").write_bytes(binary_stl(block_triangles() / 25.4))
    (where / "long.stl").write_bytes(binary_stl(block_triangles() * [2, 1, 1]))
    (where / "my-cutters.toml").write_text(CUTTERS)
    (where / "case.toml").write_text(CASE)
    return where


@pytest.fixture(scope="module")
def known(folder):
    return load_case(folder / "case.toml")


def told(proof, verdict=Verdict.NO_GO):
    return [f for f in proof.findings if f.verdict is verdict]


def line_of(text, start, nth=0):
    """Number of the nth line that starts so."""
    return [k for k, line in enumerate(text.splitlines(), 1) if line.startswith(start)][nth]


def test_the_block_s_own_program_is_good(known):
    text = block_program()
    proof = prove_known([("block.nc", text)], known)
    assert proof.verdict is Verdict.GO
    assert {"cut too deep", "metal left", "reach", "obstacles", "chip", "metal removed"} <= {
        f.check for f in proof.findings
    }
    assert proof.digests == {"block.nc": hashlib.sha256(text.encode()).hexdigest()}
    left = next(f for f in proof.findings if f.check == "metal left")
    assert left.value < 0.0025  # the chords of the STL's corners
    removed = next(f for f in proof.findings if f.check == "metal removed")
    assert removed.value == pytest.approx(removed.limit, rel=1e-3)


@pytest.mark.parametrize("angle", [0, 33])
def test_a_stock_turned_on_the_bed_and_a_zero_elsewhere_are_the_same_to_it(folder, known, angle):
    """The same block with Z0 on its underside, its corner not on zero; the program carried over word by word."""
    import math

    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    words = known.words
    stock = words.stock.model_copy(update={"at": (30.0, 40.0), "angle": float(angle), "top": 12.0})
    moved = replace(known, words=words.model_copy(update={"stock": stock}))
    lines, x, y = [], 0.0, 0.0
    for line in block_program().splitlines():
        out, seen = [], {}
        for word in line.split():
            if word[0] in "XYIJZ" and line[0] == "G":
                seen[word[0]] = float(word[1:])
            else:
                out.append(word)
        if "X" in seen or "Y" in seen:
            x, y = seen.get("X", x), seen.get("Y", y)
            out += [f"X{30 + c * x - s * y:.5f}", f"Y{40 + s * x + c * y:.5f}"]
        if "Z" in seen:
            out.append(f"Z{seen['Z'] + 12:.5f}")
        if "I" in seen or "J" in seen:
            i, j = seen.get("I", 0.0), seen.get("J", 0.0)
            out += [f"I{c * i - s * j:.5f}", f"J{s * i + c * j:.5f}"]
        lines.append(" ".join(out))
    proof = prove_known([("turned.nc", "\n".join(lines) + "\n")], moved)
    assert told(proof) == []
    assert proof.removed_mm3 == pytest.approx(40 * 24 * 8 - 8 * 4 * (16 - 4 * math.pi), rel=1e-3)


FAULTS = {
    "floor": (
        {"deep": 8.05},
        "cut too deep", 0.05, lambda t: range(line_of(t, "T1"), len(t.splitlines())),
        "cuts 0.050 mm deeper than the part at x ",
    ),
    "floor high": ({"deep": 7.95}, "metal left", 0.05, None, "0.050 mm of metal is left on the part at x "),
    "wall cut": ({"grow": 0.04}, "cut too deep", 0.042, None, "mm into a wall of the part at x "),
    "wall left": ({"grow": -0.05}, "metal left", 0.05, None, "mm of metal is left on a wall of the part at x "),
    "stray": (
        {"stray": (70, 10)},
        "cut too deep", 0.3, lambda t: [line_of(t, "G1 Z-0.3")],
        "cuts 0.300 mm deeper than the part at x ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS)
def test_planted_faults_are_found_with_amount_and_line(known, fault):
    options, check, amount, lines, words = FAULTS[fault]
    text = block_program(**options)
    proof = prove_known([("block.nc", text)], known)
    found = told(proof)
    assert proof.verdict is Verdict.NO_GO
    assert {f.check for f in found} == {check}
    assert max(f.value for f in found) == pytest.approx(amount, abs=0.001)
    assert words in found[0].message
    assert all(f.program == "block.nc" and f.line > 0 and f.at is not None for f in found)
    if lines is not None:
        assert found[0].line in lines(text)


@pytest.mark.parametrize("width", [0.05, 0.1, 0.25, 0.5])
def test_a_sliver_left_by_the_last_lap_on_one_side_is_found(known, width):
    """Told as its width; the last clearing ring runs 0.4 mm off the wall, so no sliver is wider."""
    found = told(prove_known([("block.nc", block_program(short=width))], known))
    assert {f.check for f in found} == {"metal left"}
    assert max(f.value for f in found) == pytest.approx(min(width, 0.4), abs=0.001)
    assert all(59.4 < f.at[0] < 60.01 and 17 < f.at[1] < 33 for f in found)


def test_metal_may_be_left_for_a_later_program_where_the_case_says_so(known):
    words = known.words
    loose = words.model_copy(update={"tolerance": words.tolerance.model_copy(update={"left": 0.3})})
    proof = prove_known([("block.nc", block_program(grow=-0.2))], replace(known, words=loose))
    assert told(proof) == []
    assert told(prove_known([("block.nc", block_program(grow=-0.35))], replace(known, words=loose))) != []


def test_a_pocket_never_cut_is_metal_left(known):
    text = "G21 G90 G54\nT1 M6\nG0 Z20\nS16000 M3\nG0 X5 Y5\nM5\nM30\n"
    found = told(prove_known([("nothing.nc", text)], known))
    assert {f.check for f in found} == {"not cut", "metal left"}
    by_check = {f.check: f.message for f in found}
    assert "The programs never touch the stock. Check its at, angle and top" in by_check["not cut"]
    assert "8.000 mm of metal is left on the part" in found[0].message + found[1].message
    assert "Nothing is cut there" in by_check["metal left"]


# --- less known -----------------------------------------------------------------------------------------


def margins_wrong(proof):
    """Findings with value and limit whose margin is missing or has the wrong sign."""
    measured = [f for f in proof.findings if f.value is not None and f.limit is not None]
    assert measured
    return [
        f
        for f in measured
        if f.margin is None
        or (f.verdict is Verdict.GO and f.margin < 0)
        or (f.verdict is Verdict.NO_GO and f.margin >= 0)
    ]


def test_what_cutters_spindle_and_uprights_bear_is_judged_as_for_a_job(known):
    proof = prove_known([("block.nc", block_program())], known)
    good = {f.check: f for f in proof.findings if f.verdict is Verdict.GO}
    assert {"force", "power", "deflection", "engagement", "throat", "second way"} <= set(good)
    assert margins_wrong(proof) == []
    fast = block_program().replace("F500", "F4000")
    found = told(prove_known([("block.nc", fast)], known))
    assert {"force", "power"} & {f.check for f in found}
    assert all(f.line > 0 and f.margin < 0 for f in found if f.check in ("force", "power", "chip"))
    narrow = known.bed.model_copy(update={"throat": 60.0})
    found = told(prove_known([("block.nc", block_program())], replace(known, bed=narrow)))
    assert [f.check for f in found] == ["throat"]


def test_what_is_not_judged_for_want_of_an_input_is_said(known):
    """Without a bed the power is told and held against nothing; without a material the force says what it is for."""
    words = known.words.model_copy(update={"bed": None})
    proof = prove_known([("block.nc", block_program())], replace(known, bed=None, words=words, material=None))
    by = {f.check: f for f in proof.findings}
    assert by["power"].limit is None
    assert "spindle's is not known" in by["power"].message
    assert "No material is stated, so forces are taken for EN AW-6063-T6" in by["force"].message
    assert "the spindle's power" in by["not judged"].message
    assert "throat" not in by
    assert margins_wrong(proof) == []


@pytest.mark.parametrize("fault", FAULTS)
def test_margins_have_the_sign_of_their_verdict(known, fault):
    assert margins_wrong(prove_known([("block.nc", block_program(**FAULTS[fault][0]))], known)) == []


def test_with_nothing_known_all_that_needs_no_part_is_still_told():
    proof = prove_known([("block.nc", block_program())], NOTHING)
    checks = {f.check: f for f in proof.findings}
    assert proof.verdict is Verdict.CAUTION
    assert set(checks) == {
        "reading", "units", "cutter", "spindle", "feed", "program end", "clearance height", "extents", "depth", "modes",
        "tool length", "tool change", "not judged",
    }  # fmt: skip
    assert checks["extents"].message.startswith(
        "The programs go from X 23.00 to 57.00, Y 16.00 to 34.00, Z -8.00"
    )
    assert checks["depth"].value == pytest.approx(8)
    assert checks["cutter"].message.startswith("Cutters called: T1. No table of cutters")
    assert "16000 to 16000 rpm" in checks["spindle"].message
    for thing in ("the part", "the stock", "the cutters", "the bed"):
        assert thing in checks["not judged"].message


@pytest.mark.parametrize(
    ("old", "new", "check"),
    [
        ("M3", "", "spindle"),
        ("F400", "", "feed"),
        ("M30", "", "program end"),
        ("G1 X57.0000 Y25.0000", "G1 X57.0000 Q25.0000 K", "reading"),
        ("G21 ", "", "units"),
    ],
)
def test_with_nothing_known_faults_of_the_words_are_found(old, new, check):
    proof = prove_known([("block.nc", block_program().replace(old, new, 1))], NOTHING)
    assert check in {f.check for f in told(proof)}


def test_going_home_from_up_high_is_a_caution_and_from_low_a_no_go(known):
    high = block_program().replace("M5\nM30", "G28 X0 Y0\nM5\nM30")
    proof = prove_known([("block.nc", high)], known)
    assert {f.check for f in told(proof)} == set()
    assert "machine place" in {f.check for f in told(proof, Verdict.CAUTION)}
    low = high.replace("G1 X40.0000\nG0 Z20\nG28", "G1 X40.0000\nG28")
    assert low != high
    assert "machine place" in {f.check for f in told(prove_known([("block.nc", low)], known))}


def test_with_the_stock_alone_rapids_and_depth_are_seen(known):
    bare = replace(known, part=None, mesh=None, words=known.words.model_copy(update={"part": None}))
    good = prove_known([("block.nc", block_program())], bare)
    assert told(good) == []
    assert "the part (wrong cuts, metal left)" in told(good, Verdict.CAUTION)[0].message
    text = block_program(stray=(70, 10)).replace("G1 Z-0.3 F300", "G0 Z-0.3")
    found = told(prove_known([("block.nc", text)], bare))
    assert [f.check for f in found] == ["rapid"]
    assert found[0].line == line_of(text, "G0 Z-0.3")


def test_a_clamp_and_the_bed_are_seen(known):
    clamp = {"name": "left clamp", "low": [22, 10], "high": [30, 20], "top": 5}
    words = CaseFile.model_validate(known.words.model_dump() | {"clamp": [clamp], "height": 6})
    found = told(prove_known([("block.nc", block_program())], replace(known, words=words)))
    assert {"clamp", "bed"} <= {f.check for f in found}


def test_a_program_longer_than_the_travel_is_found_without_knowing_its_place(known):
    words = known.words.model_copy(update={"zero": None})
    text = block_program().replace("G0 X30 Y25", "G0 X1030 Y25", 1)
    found = told(prove_known([("block.nc", text)], replace(known, words=words)))
    assert "reach" in {f.check for f in found}


# --- refusals of the case file --------------------------------------------------------------------------

REFUSED = {
    "too long": (
        ('"block.stl"', '"long.stl"'),
        "long.stl: the part, 160 x 50 x 12 mm as it lies, reaches 80.00 mm past the stock along; the stock is 80 x 50 x "
        "12 mm; correct [part] at, up, along or units, or [stock]",
    ),
    "wrong unit": (
        ('"block.stl"', '"block.stl"\nunits = "inch"'),
        'in units of mm it would fit: was it drawn so? Write units = "mm"',
    ),
    "missing": (('"block.stl"', '"blok.stl"'), 'no file "blok.stl" beside the job file'),
    "no cutters": (('"my-cutters.toml"', '"cuters.toml"'), 'Did you mean "cutters.toml"?'),
    "material": (('"EN AW-6063-T6"', '"EN AW-6063"'), 'material: no material "EN AW-6063" ships'),
    "two stocks": (
        ("[stock]", '[stock]\nlength = 90\nsection = {shape = "flat bar", width = 40, thickness = 6}'),
        "state either size, for a block, or section, not both and not neither",
    ),
    "no stock": (
        ("[stock]\nsize = [80, 50, 12]\nat = [0, 0]\n", ""),
        "a part is cut from stock; add a table [stock]",
    ),
    "axis": (('"block.stl"', '"block.stl"\nup = "+x"'), 'along = "+x" and up = "+x" are the same axis'),
    "unknown key": (("height = 30", "hight = 30"), 'Did you mean "height"?'),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_a_bad_case_file_is_refused_in_words(folder, case):
    (old, new), words = REFUSED[case]
    path = folder / "bad.toml"
    path.write_text(CASE.replace(old, new))
    with pytest.raises(BadInput) as refused:
        load_case(path)
    assert words in str(refused.value)


def test_a_part_drawn_in_inches_is_never_taken_for_millimetres_in_silence(folder):
    """Taken as millimetres it lies within the stock."""
    path = folder / "inch.toml"
    path.write_text(CASE.replace("block.stl", "inch.stl"))
    proof = prove_known([("block.nc", block_program())], load_case(path))
    assert proof.verdict is not Verdict.GO
    doubt = next(f.message for f in proof.findings if f.check == "part size")
    assert doubt == (
        "The part is only 3.15 x 1.969 x 0.4724 mm. In units of inch it would fill the stock. If it was drawn so write "
        'units = "inch" in [part].'
    )
    path.write_text(CASE.replace('"block.stl"', '"inch.stl"\nunits = "inch"'))
    assert told(prove_known([("block.nc", block_program())], load_case(path))) == []


# --- slopes, hollow stock, the page's own example --------------------------------------------------------


@pytest.fixture(scope="module")
def slot(tmp_path_factory):
    where = tmp_path_factory.mktemp("slot")
    (where / "block.stl").write_bytes(binary_stl(slot_triangles()))
    (where / "my-cutters.toml").write_text(CUTTERS + BALL)
    (where / "case.toml").write_text(CASE)
    return load_case(where / "case.toml")


def test_a_round_bottomed_slot_is_good_when_its_own_ball_cuts_it(slot):
    assert told(prove_known([("slot.nc", slot_program())], slot)) == []


@pytest.mark.parametrize(
    ("options", "check", "amount"),
    [
        ({"deep": 5.05}, "cut too deep", 0.05),
        ({"deep": 4.95}, "metal left", 0.05),
        ({"off": 0.06}, "cut too deep", 0.06),
    ],
)
def test_faults_on_slopes_are_found_with_their_amount(slot, options, check, amount):
    text = slot_program(**options)
    found = [f for f in told(prove_known([("slot.nc", text)], slot)) if f.check == check]
    assert max(f.value for f in found) == pytest.approx(amount, abs=0.003)
    assert found[0].line == line_of(text, "G1 X86", 4)


def test_a_hollow_length_of_section_counts_its_metal_truly(folder, known):
    """A slot 6 mm wide through the 3 mm wall of a tube: the hollow below is no metal."""
    text = (
        CASE[: CASE.index("[stock]")]
        + '[stock]\nsection = {shape = "rectangular tube", width = 40, height = 30, wall = 3}\nlength = 80\n'
        + 'face = "top"\nat = [0, 0]\n'
    )
    (folder / "tube.toml").write_text(text)
    program = "G21 G90 G54\nT1 M6\nG0 Z20\nS16000 M3\nG0 X-5 Y20\nG0 Z-3.5\nG1 X85 F300\nG0 Z20\nM5\nM30\n"
    proof = prove_known([("slot.nc", program)], load_case(folder / "tube.toml"))
    assert told(proof) == []
    assert proof.removed_mm3 == pytest.approx(80 * 6 * 3, rel=0.01)
    (folder / "tube.toml").write_text(text.replace('"top"', '"lid"'))
    with pytest.raises(BadInput, match=r'face: no face "lid"; this section has .*top'):
        load_case(folder / "tube.toml")


def test_the_page_s_own_example_is_a_case(folder):
    page = Path(__file__).parents[2] / "docs" / "programs-from-elsewhere.md"
    example = page.read_text().split("```toml\n")[1].split("```")[0]
    (folder / "page.toml").write_text(example)
    words = load_case(folder / "page.toml").words
    assert words.part is not None
    assert words.tolerance.left == 0.5
    stated = {line.split("=")[0].strip() for line in example.splitlines() if "=" in line}
    assert set(CaseFile.model_fields) - {"stock", "part", "clamp", "tolerance"} <= stated


# --- a part cut free of its frame, with a hole through it ------------------------------------------------


def plate_triangles():
    """A plate 50 x 30 x 12 mm with a 12 mm hole through its middle."""
    import manifold3d as m3
    import numpy as np

    body = m3.Manifold.cube((50, 30, 12)) - m3.Manifold.cylinder(40, 6, 6, 360).translate((25, 15, -10))
    mesh = body.to_mesh()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype(float)


def plate_program(*, hole=True, gap=0.0):
    """Round the plate lying 15, 10 mm into the block, then its hole, with T1. gap: how far off one side runs."""
    lines = ["G21 G90 G54 G17 G94", "T1 M6", "G0 Z20", "S16000 M3", "G0 X12 Y7"]
    for level in (3.0, 6.0, 9.0, 12.2):
        lines += [f"G1 Z{-level:g} F300", "G1 X68 F400", "G1 Y43", f"G1 X{12 - gap:g}", "G1 Y7", "G1 X12"]
    if hole:
        lines += ["G0 Z20", "G0 X43 Y25", "G0 Z1"]
        for level in (3.0, 6.0, 9.0, 12.2):
            lines += [f"G1 Z{-level:g}", "G2 X43 Y25 I-3 J0"]
        lines += ["G1 X40"]
    return "\n".join([*lines, "G0 Z20", "M5", "M30", ""])


@pytest.fixture(scope="module")
def plate(tmp_path_factory):
    where = tmp_path_factory.mktemp("plate")
    (where / "block.stl").write_bytes(binary_stl(plate_triangles()))
    (where / "my-cutters.toml").write_text(CUTTERS)
    (where / "case.toml").write_text(CASE + "at = [15, 10, 0]\n")
    return load_case(where / "case.toml")


def test_a_plate_cut_out_of_a_larger_block_is_good_but_for_coming_loose(plate):
    found = told(prove_known([("plate.nc", plate_program())], plate))
    assert {f.check for f in found} == {"loose piece"}
    held = plate_program().replace("Z-12.2", "Z-11.9")
    loose = plate.words.model_copy(
        update={"tolerance": plate.words.tolerance.model_copy(update={"left": 0.2})}
    )
    assert told(prove_known([("plate.nc", held)], replace(plate, words=loose))) == []


def test_its_hole_forgotten_or_one_side_off_is_found(plate):
    found = told(prove_known([("plate.nc", plate_program(hole=False))], plate))
    assert {f.check for f in found} == {"metal left", "loose piece"}
    found = [f for f in found if f.check == "metal left"]
    assert all(abs((f.at[0] - 40) ** 2 + (f.at[1] - 25) ** 2 - 36) < 0.1 for f in found)
    assert found[0].message.startswith("At least 0.6")
    text = plate_program(gap=0.05)
    found = told(prove_known([("plate.nc", text)], plate))
    found = [f for f in found if f.check == "metal left"]
    assert max(f.value for f in found) == pytest.approx(0.05, abs=0.001)
    assert all(f.at[0] == pytest.approx(15, abs=0.001) for f in found)


# --- odd programs ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "check"),
    [
        ("", "not cut"),
        ("(nothing)\nM30\n", "not cut"),
        ("\x00\x07 what\n", "reading"),
        (block_program().replace("T1 M6", "T9 M6"), "cutter"),
        (block_program().replace("T1 M6\n", ""), "cutter"),
        ("G21 G90 G54\nT1 M6\nG0 Z20\nM3 S10000\nG1 X1e9 F100\nM30\n", "reading"),
        ("G21 G90 G54\nT1 M6\nG0 Z20\nM3 S10000\nG1 X900000 F100\nG1 Z-3\nM30\n", "reach"),
    ],
)
def test_odd_programs_get_a_finding_with_everything_known_and_with_nothing(known, text, check):
    assert check in {f.check for f in told(prove_known([("odd.nc", text)], known))}
    prove_known([("odd.nc", text)], NOTHING)
