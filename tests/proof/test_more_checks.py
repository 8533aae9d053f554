"""Checks over and above the single cut: other sides, loose pieces, swapped programs, places of the machine, margins."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import box

from sparwright.answers import BadInput, Verdict
from sparwright.placing.model import Pose
from sparwright.proof.between import NEAR, designed_places, metal_to
from sparwright.proof.kinds import margin_of
from sparwright.proof.load_checks import STRENGTH, greatest_force
from sparwright.proof.model import ProofFinding
from sparwright.proof.prove import prove_side
from sparwright.proof.scene import member_targets
from sparwright.proof.spread import floor_spread
from sparwright.stock.model import Face, Hole, Pocket, Section


def prove(sample, **options):
    return prove_side(sample.programs, sample.member, sample.setup, sample.job, **options)


def told(proof, check, verdict=Verdict.NO_GO):
    return [f for f in proof.findings if f.check == check and f.verdict is verdict]


def with_lines(sample, name, change):
    lines = sample.text(name).splitlines()
    return sample.with_text(name, "\n".join(change(lines)) + "\n")


# --- other sides ----------------------------------------------------------------------------------------


@pytest.fixture
def solid(sample, maker):
    """The sample in solid stock 4.5 mm thick, with a pocket opposite the first one: 4.5 - 1.8 - 1.6 = 1.1 mm between."""
    thick = 4.5
    shape = box(0, 0, 40, thick)
    top = Face("top", math.pi / 2, (20, thick), 40)
    bottom = Face("bottom", -math.pi / 2, (20, 0), 40)
    under = Pocket(
        "under/1", "bottom", "under", "u", (30, 0), box(24, -5, 36, 5), ((24, -5), (36, -5), (36, 5), (24, 5)), 0.0,
        1.6, 1.1, 0.0,
    )  # fmt: skip
    pockets = tuple(replace(p, skin=thick - p.depth) for p in sample.member.pockets)
    holes = tuple(replace(h, depth=2.6, through="blind") for h in sample.member.holes)
    member = replace(
        sample.member,
        section=Section("bar", shape, (top, bottom)),
        pockets=(*pockets, under),
        holes=holes,
    )
    return replace(sample, member=member, programs=(sample.programs[0], sample.programs[2]))


def test_least_metal_between_two_floors_of_solid_stock_is_told(solid):
    good = told(prove(solid), "between sides", Verdict.GO)
    assert good[0].value == pytest.approx(1.1, abs=1e-5)
    assert "under/1 of bottom" in good[0].message


def test_floor_too_deep_over_another_sides_pocket_is_found_with_its_line(solid):
    line = solid.marks["pockets.nc"]["ramp 0 -1.8"] + 1
    deep = with_lines(
        solid,
        "pockets.nc",
        lambda ls: [t.replace("Z-1.8", "Z-2.3") if i == line else t for i, t in enumerate(ls, 1)],
    )
    found = told(prove(deep), "between sides")
    assert found[0].value == pytest.approx(0.6, abs=1e-5)
    assert found[0].margin == pytest.approx(0.6 - (1.1 - 0.04), abs=1e-5)
    assert found[0].feature == "field/top/r1c01"
    assert found[0].line in range(line, solid.marks["pockets.nc"]["retract 0"])


def test_holes_that_meet_inside_are_measured_as_prisms(sample):
    """Two blind holes at right angles, 6 and 4 mm wide, axes 1 mm past one another's ends."""
    shape = box(0, 0, 40, 40)
    top, side = Face("top", math.pi / 2, (20, 40), 40), Face("side", 0.0, (40, 20), 40)
    one = Hole("a", "top", "drilled", (50.0, 0.0), 6.0, 20.0, "blind")
    for gap in (2.0, 0.3, -1.0):
        reach = 20.0 - 3.0 - gap  # from y = 40 inward to the first hole's wall at y = 23
        two = Hole("b", "side", "drilled", (50.0, 10.0), 4.0, reach, "blind")
        member = replace(
            sample.member, section=Section("bar", shape, (top, side)), pockets=(), holes=(one, two)
        )
        target = member_targets(member, "side")[0]
        at = side.from_member(np.array([[50.0, 30.0, 30.0]]))[0]
        assert abs(at[1]) == pytest.approx(10.0)
        target = member_targets(replace(member, holes=(one, replace(two, at=(50.0, float(at[1]))))), "side")[
            0
        ]
        found = metal_to(member, top, side, designed_places(member_targets(member, "top")[0]), target)
        assert found is not None
        if gap > 0:
            assert found[0] == pytest.approx(gap, abs=0.06)
        else:
            assert found[0] < 0
    assert NEAR > 2.0


# --- loose pieces ---------------------------------------------------------------------------------------


def window_sample(sample, maker, tab):
    """A window outlined by a 4 mm cutter in one lap, with a bridge `tab` mm long left on its right side, or none."""
    window = Pocket(
        "window/1", "top", "w", "w", (75, 0), maker.rounded(75, 0), (), maker.corner, maker.wall, 0.0, 0.0
    )
    member = replace(sample.member, pockets=(window,), holes=())
    w = maker.Writer(1, 540)
    w.rapid(75 + 10, tab / 2)
    w.rapid_z(2)
    w.plunge(-3.3, 200)
    ends = ((85, 7.5), (65, 7.5), (65, -7.5), (85, -7.5), (85, -tab / 2))
    w.mark("lap")
    for x, s in ends:
        w.line(x, s)
    w.rapid_z(20)
    return replace(sample, member=member, programs=(("window.nc", w.text()),), marks={"window.nc": w.marks})


def test_slug_that_hangs_on_nothing_is_found(sample, maker):
    found = told(prove(window_sample(sample, maker, 0.0)), "loose piece")
    assert len(found) == 1
    assert found[0].feature == "window/1"
    assert found[0].program == "window.nc"
    # 16 by 11 mm, less half a cell's diagonal all round and at most a cell
    assert 15.5 * 10.5 < found[0].value <= 16 * 11
    assert re.search(r"15\.[68] by 10\.[68] mm", found[0].message)


def test_slug_on_a_tab_does_not_drop(sample, maker):
    assert not told(prove(window_sample(sample, maker, 6.0)), "loose piece")


def test_bridge_thinner_than_a_cell_holds_nothing(sample, maker):
    assert told(prove(window_sample(sample, maker, 4.2)), "loose piece")


# --- swapped --------------------------------------------------------------------------------------------


def turned(sample, maker):
    """The programs as for the member lying end for end."""

    def place(m):
        x, s = maker.pose.to_face(np.array([[float(m[1]), float(m[2])]]))[0]
        bx, by = maker.pose.to_bed(np.array([[sample.member.length - x, -s]]))[0]
        return f"X{bx:.4f} Y{by:.4f}"

    def centre(m):
        return f"I{-float(m[1]):.4f} J{-float(m[2]):.4f}"

    programs = tuple(
        (n, re.sub(r"I(-?[\d.]+) J(-?[\d.]+)", centre, re.sub(r"X(-?[\d.]+) Y(-?[\d.]+)", place, t)))
        for n, t in sample.programs
    )
    return replace(sample, programs=programs, setup=replace(sample.setup, clamps=()))


def test_member_lying_end_for_end_is_said_once_for_each_program(sample, maker):
    proof = prove(turned(sample, maker))
    no_go = [f for f in proof.findings if f.verdict is Verdict.NO_GO]
    assert {f.check for f in no_go} == {"wrong side"}
    assert {f.program for f in no_go} == {"pockets.nc", "hole.nc", "edges.nc"}
    assert all("end for end" in f.message for f in no_go)


def test_a_program_of_another_side_is_known_by_that_sides_pose(sample):
    """The second side lies elsewhere on the bed; its program is run with this side on the bed."""
    shift = Pose(45.0, 28.0, math.radians(30))
    back = Face("back", -math.pi / 2, (20, 0), 40)
    section = replace(sample.member.section, faces=(*sample.member.section.faces, back))
    mine = tuple(p for p in sample.member.pockets if p.id.endswith("c01"))
    other = replace(mine[0], id="back/1", face="back")
    member = replace(sample.member, section=section, pockets=(*mine, other), holes=())

    def moved(text):
        def place(m):
            p = sample.setup.pose.to_face(np.array([[float(m[1]), float(m[2])]]))
            x, y = shift.to_bed(p)[0]
            return f"X{x:.4f} Y{y:.4f}"

        return re.sub(r"X(-?[\d.]+) Y(-?[\d.]+)", place, text)

    lines = sample.text("pockets.nc").splitlines()
    end = sample.marks["pockets.nc"]["approach 1"] - 1
    text = moved("\n".join([*lines[:end], "M5", "M30"]))
    setup = replace(sample.setup, clamps=())
    setups = (setup, replace(setup, side="back", face="back", pose=shift))
    planted = replace(sample, member=member, programs=(("back.nc", text),), setup=setup)
    found = told(prove(planted, setups=setups), "wrong side")
    assert [f.program for f in found] == ["back.nc"]
    assert "side back" in found[0].message


# --- places of the machine ------------------------------------------------------------------------------


def test_going_home_from_over_everything_is_a_caution_and_no_more(sample):
    done = with_lines(sample, "hole.nc", lambda ls: [*ls[:-2], "G28", *ls[-2:]])
    proof = prove(done)
    assert proof.verdict is Verdict.CAUTION
    assert (
        "See that the place stored lies no lower" in told(proof, "machine place", Verdict.CAUTION)[0].message
    )
    assert not told(proof, "work zero")


def test_a_retract_in_machine_coordinates_is_followed(sample):
    done = with_lines(
        sample, "pockets.nc", lambda ls: [re.sub(r"^G0 Z20\.0000$", "G53 G0 Z0", t) for t in ls]
    )
    proof = prove(done)
    assert proof.verdict is Verdict.CAUTION
    assert [f.check for f in proof.findings if f.verdict is Verdict.CAUTION] == ["machine place"]
    assert [k.least for k in proof.skins] == pytest.approx([1.2, 1.2], abs=1e-6)


def test_a_machine_place_in_the_metal_is_found(sample):
    line = sample.marks["pockets.nc"]["approach 0"] + 1
    lines = sample.text("pockets.nc").splitlines()
    # right up is 110 - 44 - 22 = 44 mm over the face
    lines[line - 1] = "G53 G0 Z-45.5"
    found = told(prove(sample.with_text("pockets.nc", "\n".join(lines))), "rapid")
    assert [(f.line, f.value) for f in found] == [(line, pytest.approx(1.5, abs=1e-4))]


# --- modes, throat, margins -----------------------------------------------------------------------------


def test_zero_not_stated_is_a_caution(sample):
    done = with_lines(sample, "edges.nc", lambda ls: [ls[0].replace(" G54", ""), *ls[1:]])
    found = told(prove(done), "modes", Verdict.CAUTION)
    assert [(f.program, f.line) for f in found] == [("edges.nc", 3)]
    assert "G54" in found[0].message


def test_uprights_against_the_member(sample):
    bed = sample.job.bed.model_copy(update={"throat": 90, "upright_depth": 0})
    job = sample.job.model_copy(update={"bed": bed})
    found = told(prove(replace(sample, job=job)), "throat")
    assert found[0].value < 0
    assert found[0].margin == found[0].value
    assert found[0].line > 0


def test_margins_follow_the_sense_of_each_kind(sample):
    cutting = sample.job.file.cutting
    cases = (
        (ProofFinding("skin", Verdict.NO_GO, "", value=1.1, limit=1.2), cutting.floor_tolerance - 0.1),
        (ProofFinding("wall", Verdict.NO_GO, "", value=-0.5, limit=0.03), -0.47),
        (ProofFinding("clearance height", Verdict.CAUTION, "", value=2.0, limit=6.0), -4.0),
        (ProofFinding("reach", Verdict.NO_GO, "", value=3.0, limit=0.0), -3.0),
        (ProofFinding("reach", Verdict.GO, "", value=19.0, limit=0.0), 19.0),
        (ProofFinding("chip", Verdict.GO, "", value=1.0, limit=1.5), 0.5),
        (ProofFinding("units", Verdict.NO_GO, ""), None),
    )
    for finding, margin in cases:
        assert margin_of(finding, cutting) == (None if margin is None else pytest.approx(margin))


def test_no_fault_past_its_limit_has_a_margin_over_nothing(sample):
    """Whatever the fault, its margin is negative where it has one."""
    lines = sample.text("pockets.nc").splitlines()
    worse = [t.replace("Z-1.8", "Z-2.1").replace("F540", "F2000").replace("S18000", "S7000") for t in lines]
    proof = prove(sample.with_text("pockets.nc", "\n".join(worse)))
    faults = [f for f in proof.findings if f.verdict is Verdict.NO_GO and f.margin is not None]
    assert {"skin", "spindle speed", "chip"} <= {f.check for f in faults}
    assert all(f.margin < 0 for f in faults), [(f.check, f.margin) for f in faults]


def test_spread_of_a_skin_by_hand(sample):
    bed = sample.job.bed
    by_hand = 2 * math.sqrt(
        bed.touch_off**2
        + ((bed.tramming / 100 * 2) ** 2 + (bed.backlash / 2) ** 2 + (bed.step_scale * 1.8) ** 2) / 3
    )
    assert floor_spread(bed, 4.0, 1.8) == pytest.approx(by_hand)
    proof = prove(sample)
    assert [k.spread for k in proof.skins] == pytest.approx([by_hand, by_hand])


# --- loads ----------------------------------------------------------------------------------------------


def test_force_a_cutter_takes_by_hand(sample):
    """A 4 mm cutter with 12 mm of flute, 22 mm out: its core of 3 mm at the flutes' root."""
    cutter = sample.job.cutters[0]
    assert greatest_force(cutter) == pytest.approx(STRENGTH * math.pi * 3.0**3 / 32 / 12)


def test_power_over_the_spindles_is_found_where_it_is_met(sample):
    good = next(f for f in prove(sample).findings if f.check == "power")
    assert good.verdict is Verdict.GO
    assert 0 < good.value < good.limit
    spindle = sample.job.bed.spindle
    weak = spindle.model_copy(update={"power": 0.9 * good.value / spindle.efficiency / (18000 / 24000)})
    job = sample.job.model_copy(update={"bed": sample.job.bed.model_copy(update={"spindle": weak})})
    found = told(prove(replace(sample, job=job)), "power")
    assert found[0].line > 0
    assert found[0].margin < 0
    assert found[0].feature


def test_a_long_thin_cutter_snaps(sample):
    long = sample.job.cutters[0].model_copy(update={"flute_length": 1000.0, "stick_out": 1100.0})
    bed = sample.job.bed.model_copy(update={"nose_height": 1200, "reach": (200, 150, 1200)})
    job = sample.job.model_copy(update={"cutters": (long, *sample.job.cutters[1:]), "bed": bed})
    proof = prove(replace(sample, job=job))
    assert told(proof, "force")[0].program == "pockets.nc"
    assert told(proof, "deflection", Verdict.CAUTION)


def test_a_zero_set_by_where_the_spindle_stands_is_found_even_where_it_seems_to_shift_nothing(sample):
    """Before the first sideways move nobody knows where the spindle stands, so G92 X0 Y0 may shift by anything."""
    line = sample.marks["pockets.nc"]["approach 0"]
    done = with_lines(sample, "pockets.nc", lambda ls: [*ls[: line - 1], "G92 X0 Y0", *ls[line - 1 :]])
    found = told(prove(done), "work zero")
    assert [(f.program, f.line) for f in found] == [("pockets.nc", line)]
    assert "where the spindle stands" in found[0].message


def test_programs_on_a_side_that_has_no_features_are_all_in_the_wrong_place(sample):
    bare = replace(sample.member, pockets=(), holes=(), notches=())
    proof = prove(replace(sample, member=bare))
    assert proof.verdict is Verdict.NO_GO
    assert {f.check for f in proof.findings if f.verdict is Verdict.NO_GO} >= {"gouge"}


def test_the_chip_of_a_lift_is_what_its_feed_over_the_face_makes_it(sample):
    """Half way along a row the cutter climbs out at F5000, 1 mm on and 7 mm up: over the face that is F700, not F5000."""
    line = sample.marks["pockets.nc"]["floor 0 -0.9"] + 2
    rows = sample.text("pockets.nc").splitlines()
    start, end = (
        np.array([float(v) for v in re.search(r"X(-?[\d.]+) Y(-?[\d.]+)", row).groups()])
        for row in rows[line - 2 : line]
    )
    half, along = (start + end) / 2, (end - start) / np.linalg.norm(end - start)

    def climbing(rise):
        x, y = half + along
        lift = [
            f"G1 X{half[0]:.4f} Y{half[1]:.4f}",
            f"G1 X{x:.4f} Y{y:.4f} Z{-0.9 + rise:.4f} F5000",
            f"G1 X{half[0]:.4f} Y{half[1]:.4f} Z-0.9 F540",
        ]
        proof = prove(
            with_lines(sample, "pockets.nc", lambda lines: [*lines[: line - 1], *lift, *lines[line - 1 :]])
        )
        return {f.check for f in proof.findings if f.line == line + 1 and f.verdict is not Verdict.GO}

    assert "chip" not in climbing(7.0)
    assert "chip" in climbing(0.1)


def test_words_the_bed_passes_over_are_a_caution_and_else_refused(sample):
    """O words and rotary axes mean nothing to some machines: the bed's file may say so."""

    def spoiled(lines):
        return [*lines[:6], "M98", "A10.", "M98", *lines[6:]]

    foreign = with_lines(sample, "pockets.nc", spoiled)
    assert [f.line for f in told(prove(foreign), "reading")] == [7, 8, 9]
    controller = sample.job.bed.controller.model_copy(update={"passes_over": ("A", "M98")})
    bed = sample.job.bed.model_copy(update={"controller": controller})
    allowed = replace(foreign, job=sample.job.model_copy(update={"bed": bed}))
    proof = prove(allowed)
    assert told(proof, "reading") == []
    found = told(proof, "passed over", Verdict.CAUTION)
    assert [(f.message.split(": ")[1].split()[0], f.line) for f in found] == [("M98", 7), ("A", 8)]
    assert "2 times in all" in found[0].message
    controller = controller.model_copy(update={"passes_over": ("G1",)})
    bed = bed.model_copy(update={"controller": controller})
    with pytest.raises(BadInput, match="G1 has a meaning"):
        prove(replace(foreign, job=sample.job.model_copy(update={"bed": bed})))
