"""The proof of a small job against exact geometry: what it finds good, and how finely it measures."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from sparwright.answers import Verdict
from sparwright.placing.model import Pose
from sparwright.proof.prove import prove_side


def prove(sample, **options):
    return prove_side(sample.programs, sample.member, sample.setup, sample.job, **options)


def bad(proof, check=None):
    return [f for f in proof.findings if f.verdict is not Verdict.GO and check in (None, f.check)]


def test_good_programs_pass_with_every_check_told(sample):
    proof = prove(sample)
    assert bad(proof) == []
    assert proof.verdict is Verdict.GO
    told = {f.check for f in proof.findings}
    assert told == {
        "reading", "units", "cutter", "spindle", "feed", "reach", "program end", "clearance height", "modes",
        "tool length", "tool change", "throat", "obstacles", "touch", "chip", "depth of cut", "skin", "not cut",
        "second way", "gouge", "wall", "edge break", "loose piece", "metal removed", "force", "power", "deflection", "engagement",
    }  # fmt: skip


def test_room_left_to_the_end_of_the_travel_is_that_of_the_moves_made(sample):
    """The least distance of any written X or Y to the ends of the travel, the unknown start not counted."""
    reach = sample.job.bed.reach
    room = []
    for _, text in sample.programs:
        x = [float(v) for v in re.findall(r"X(-?[\d.]+)", text)]
        y = [float(v) for v in re.findall(r"Y(-?[\d.]+)", text)]
        room += [min(x), reach[0] - max(x), min(y), reach[1] - max(y)]
    up = sample.job.bed.nose_height - 44.0 - 22.0 - 25.0  # the tip at Z25, the nose right up
    told = next(f.value for f in prove(sample).findings if f.check == "reach")
    assert told == pytest.approx(min(*room, up), abs=0.3)  # arcs bulge past their ends


def test_skins_are_exact_on_level_floors(sample):
    proof = prove(sample)
    assert len(proof.skins) == 2
    for skin in proof.skins:
        assert skin.least == pytest.approx(1.2, abs=1e-6)
        assert skin.mean == pytest.approx(1.2, abs=1e-6)
        assert skin.greatest == pytest.approx(1.2, abs=1e-6)
        assert skin.wanted == pytest.approx(1.2)


def test_skin_is_that_of_the_wall_over_a_web_too_and_a_thinner_wall_shows(sample):
    outer = sample.member.section.shape.exterior.coords
    cells = {
        "web": [box(3, 3, 18, 27), box(22, 3, 37, 27)],
        "thin": [box(3, 3, 37, 27.3)],  # 2.7 mm of wall where 3 mm are stated
    }
    skins = {}
    for name, holes in cells.items():
        section = replace(sample.member.section, shape=Polygon(outer, [h.exterior.coords for h in holes]))
        proof = prove(replace(sample, member=replace(sample.member, section=section)))
        skins[name] = proof.skins[0]
    assert (skins["web"].least, skins["web"].greatest) == pytest.approx((1.2, 1.2), abs=1e-5)
    assert (skins["thin"].least, skins["thin"].greatest) == pytest.approx((0.9, 0.9), abs=1e-5)


def test_removed_metal_matches_exact_volume(sample, maker):
    """Pockets: rounded rectangle times depth; edge breaks: a triangle carried round the rim, out round the corners;
    hole: a cylinder through the wall, the hollow below counting nothing.
    """
    a, b = maker.half
    r, w = maker.corner, maker.edge
    area = 4 * a * b - (4 - math.pi) * r**2
    rim = 4 * (a + b) - 8 * r + 2 * math.pi * r
    edge = rim * w**2 / 2 + 2 * math.pi * w**3 / 6
    exact = 2 * (area * maker.depth + edge) + math.pi / 4 * maker.hole[1] ** 2 * maker.wall
    # sides along the rows fall between cells: the error is a share of a cell along them, whatever its sign
    for cell, share in ((0.2, 1.5e-3), (0.1, 8e-4), (0.05, 4e-4)):
        assert prove(sample, cell=cell).removed_mm3 == pytest.approx(exact, rel=share)


@pytest.mark.parametrize("cell", [0.4, 0.137, 0.06])
def test_size_of_cells_decides_nothing(sample, cell):
    proof = prove(sample, cell=cell)
    assert bad(proof) == []
    walls = [f.value for f in proof.findings if f.check == "wall"]
    assert walls == pytest.approx([f.value for f in prove(sample).findings if f.check == "wall"], abs=1e-12)


@pytest.mark.parametrize("angle", [0.0, 45.0, 73.1, 90.0])
def test_moving_the_member_on_the_bed_changes_nothing(sample, maker, angle):
    pose = Pose(70.0, 22.0, math.radians(angle))

    def moved(text):
        def place(match):
            p = np.array([[float(match[1]), float(match[2])]])
            x, y = pose.to_bed(maker.pose.to_face(p))[0]
            return f"X{x:.6f} Y{y:.6f}"

        def centre(match):
            turn = pose.angle - maker.pose.angle
            i, j = float(match[1]), float(match[2])
            return f"I{i * math.cos(turn) - j * math.sin(turn):.6f} J{i * math.sin(turn) + j * math.cos(turn):.6f}"

        text = re.sub(r"X(-?[\d.]+) Y(-?[\d.]+)", place, text)
        return re.sub(r"I(-?[\d.]+) J(-?[\d.]+)", centre, text)

    turned = replace(
        sample,
        setup=replace(sample.setup, pose=pose),
        programs=tuple((n, moved(t)) for n, t in sample.programs),
    )
    proof = prove(turned)
    assert bad(proof) == []
    assert proof.removed_mm3 == pytest.approx(prove(sample).removed_mm3, rel=1e-3)


def test_inches_are_as_good_as_millimetres(sample):
    def inch(text):
        text = re.sub(r"([XYZIJ])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) / 25.4:.7f}", text)
        text = re.sub(r"F([\d.]+)", lambda m: f"F{float(m[1]) / 25.4:.6f}", text)
        return text.replace("G21", "G20")

    proof = prove(replace(sample, programs=tuple((n, inch(t)) for n, t in sample.programs)))
    assert bad(proof) == []


def test_result_carries_digests_time_and_json(sample):
    proof = prove(sample)
    assert set(proof.digests) == {"pockets.nc", "hole.nc", "edges.nc"}
    assert all(len(d) == 64 for d in proof.digests.values())
    assert 60 < proof.seconds < 600
    keys = {
        "check",
        "verdict",
        "feature",
        "program",
        "line",
        "at_mm",
        "value",
        "limit",
        "margin",
        "spread",
        "unit",
        "message",
    }
    assert all(set(f.as_dict()) == keys for f in proof.findings)


def test_progress_is_told_and_nothing_is_printed(sample, capsys):
    told = []
    prove(sample, progress=told.append)
    assert "cutting in simulation" in told
    assert capsys.readouterr().out == ""


def test_nothing_to_prove_is_no_proof(sample):
    assert prove_side([], sample.member, sample.setup, sample.job).verdict is Verdict.NO_GO
    proof = prove_side([("empty.nc", "G21\nM30\n")], sample.member, sample.setup, sample.job)
    assert proof.verdict is Verdict.NO_GO
    assert [f.check for f in bad(proof)] == ["not cut"]


def test_huge_moves_and_nonsense_end_in_findings(sample):
    """Whatever the text, the proof comes to an end with a no-go and no exception."""
    texts = (
        "G21 G90 T1 M6\nG0 Z25\nS9000 M3\nG1 X9999999 Y-9999999 Z-9999999 F500\nM30\n",
        "G21 G90 T1 M6\nG0 Z25\nS9000 M3\nG18 G2 X900000 Z25 I450000 K0 F500\nM30\n",
        "G21 G90 T1 M6\nG0 Z25\nS9000 M3\nG17 G3 X0 Y0 I500000 J0 Z-1 F500\nM30\n",
        "this is no program\n\x00\x01 G1 X\n%%%%\n",
        "",
    )
    for text in texts:
        proof = prove_side([("odd.nc", text)], sample.member, sample.setup, sample.job)
        assert proof.verdict is Verdict.NO_GO


# --- how finely walls are seen --------------------------------------------------------------------------


def with_lap(sample, maker, inset_of_second):
    """The pockets' program with the last lap of the second pocket moved in by another figure."""
    writer = maker.Writer(1, 540)
    x = 75.0
    writer.rapid(x, 0)
    writer.rapid_z(2)
    writer.plunge(-maker.depth, 400)
    start = len(writer.lines) + 1
    writer.lap(x, 0, inset_of_second)
    stop = len(writer.lines)
    writer.line(x, 0)
    writer.rapid_z(20)
    return writer.text(), range(start, stop + 1)


def wall_faults(sample, programs):
    proof = prove(replace(sample, programs=programs))
    return [f for f in bad(proof) if f.check == "wall"]


def test_a_sliver_of_five_hundredths_is_found_on_every_wall_it_stands_on(sample, maker):
    text = sample.text("pockets.nc").splitlines()
    marks = sample.marks["pockets.nc"]
    # the last lap of the second pocket, redone 0.05 mm too far in
    lap, lines = with_lap(sample, maker, 2.05)
    first, last = marks["wall 1 -1.8"], marks["retract 1"] - 4
    redone = text[: first - 1] + [lap.splitlines()[k - 1] for k in lines] + text[last:]
    faults = wall_faults(sample, (("pockets.nc", "\n".join(redone)), *sample.programs[1:]))
    assert [f.feature for f in faults] == ["field/top/r1c02"]
    assert faults[0].value == pytest.approx(0.05, abs=2e-4)
    assert faults[0].line in range(first, last + 1)


@pytest.mark.parametrize("share", [0.21, 0.5, 0.83])
def test_a_gouge_of_four_hundredths_is_found_and_its_line_named(sample, maker, share):
    """One extra dab of the cutter 0.04 mm into the wall: the line is the dab's."""
    a, b = maker.half
    writer = maker.Writer(1, 540)
    along = -(b - 3) + share * 2 * (b - 3)
    writer.rapid(75, 0)
    writer.rapid_z(2)
    writer.plunge(-1.5, 400)
    writer.line(75 + a - 2.5, along)
    dab = len(writer.lines) + 1
    writer.line(75 + a - 2 + 0.04, along)
    writer.line(75 + a - 2.5, along)
    writer.rapid_z(20)
    programs = (sample.programs[0], ("dab.nc", writer.text()), *sample.programs[1:])
    faults = wall_faults(sample, programs)
    assert len(faults) == 1
    assert faults[0].program == "dab.nc"
    assert faults[0].line in (dab, dab + 1)
    assert faults[0].value == pytest.approx(-0.04, abs=0.003)
    assert faults[0].feature == "field/top/r1c02"
    assert faults[0].at[0] == pytest.approx(75 + a, abs=0.01)
    assert faults[0].at[1] == pytest.approx(along, abs=0.2)


def test_slivers_between_cells_are_found_by_bound_and_not_by_luck(sample, maker):
    """A strip 0.03 mm wide left on a floor between two passes, narrower than a cell and off the cells' centres."""
    x, s = 30.0, 0.0
    writer = maker.Writer(1, 540)
    writer.rapid(x - 9, -7)
    writer.rapid_z(2)
    for n in (-0.9, -1.8):
        writer.plunge(n, 400)
        first = [-7.6, -5, -2.515 + 0.0, -2.515 + 4.03, 4, 7.6] if n == -1.8 else np.linspace(-7.6, 7.6, 7)
        for i, across in enumerate(first):
            side = 1 if i % 2 == 0 else -1
            if n == -1.8 and i == 3:
                writer.rapid_z(2)
                writer.rapid(x - side * 9.6, across)
                writer.plunge(n, 400)
            writer.line(x - side * 9.6, s + across)
            writer.line(x + side * 9.6, s + across)
        writer.lap(x, s, 2.0)
        writer.line(x - 9, 7)
        writer.rapid_z(2)
        writer.rapid(x - 9, -7)
    writer.rapid_z(20)
    second = sample.text("pockets.nc").splitlines()
    start = sample.marks["pockets.nc"]["approach 1"]
    text = "\n".join(writer.lines + second[start - 1 :])
    proof = prove(replace(sample, programs=(("pockets.nc", text), *sample.programs[1:])))
    skin = [f for f in bad(proof) if f.check == "skin"]
    assert [f.feature for f in skin] == ["field/top/r1c01"]
    assert skin[0].at[1] == pytest.approx(-0.5, abs=0.2)
