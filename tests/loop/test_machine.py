"""Machines against hand computation: every kind's expansion, drives, joints, and what yields where."""

import math

import numpy as np
import pytest

from sparwright.answers import BadInput
from sparwright.job.machine_parts import link_of
from sparwright.loop.frame import compliance, solve
from sparwright.loop.machine import drive_springs, frame_at, prepared
from sparwright.loop.machine_state import grid
from sparwright.loop.plain_sections import box_shear, plain_section
from sparwright.loop.quick import check_served

L, EIy, EIz, GAy, GAz, GJ, EA = 1000.0, 9e10, 4e10, 8e6, 1.2e7, 2e10, 7e7


def tip(loaded, **position):
    return compliance(prepared(loaded, position), "tool", loaded.machine.work)


def test_a_beam_on_two_springs(loaded_of):
    # P L^3/48EI + P L/4GA + P/2k: beam tables (checks 3.2, 3.4) and springs side by side.
    found = tip(loaded_of("general"))
    assert found[2, 2] == pytest.approx(L**3 / (48 * EIy) + L / (4 * GAz) + 1 / 1000, rel=1e-6)
    assert found[1, 1] == pytest.approx(L**3 / (48 * EIz) + L / (4 * GAy) + 1 / 1000, rel=1e-6)


def test_static_centre_of_a_beam_on_end_springs(loaded_of):
    # Check 3.7: kbar = k L^3/EI = 100 gives 0.0258333 P L^3/EI.
    k = 100 * EIy / L**3
    found = tip(loaded_of("general", {"fixing.0.linear": k, "fixing.1.linear": k}, GAz=1e15))
    assert found[2, 2] == pytest.approx(0.0258333 * L**3 / EIy, rel=1e-5)


@pytest.mark.parametrize("kind", ["moving bridge", "portal"])
def test_a_bridge_clamped_at_its_ends_with_the_tool_in_the_middle(kind, loaded_of):
    # P L^3/192EI + P L/4GA. The head's blocks, 80 mm apart, hold a length of the bridge almost rigid where they
    # stand, so one pair of places is taken.
    changes = {"cross.carriage.along": [0], "cross.carriage.tilting": 1e12}
    if kind == "portal":
        changes |= {"long": None, "table": None}
    found = tip(loaded_of(kind, changes))
    assert found[2, 2] == pytest.approx(L**3 / (192 * EIy) + L / (4 * GAz), rel=1e-3)
    assert found[1, 1] == pytest.approx(L**3 / (192 * EIz) + L / (4 * GAy), rel=1e-3)


@pytest.mark.parametrize("kind", ["moving bridge", "portal"])
def test_wheels_under_the_bridge_come_on_top(kind, loaded_of):
    # Each side runs on two blocks of radial k pressed up: the sides share the force, 1/(2 * 2k) on top; a portal's
    # table on its four contacts of k the same.
    changes = {"long.carriage.radial": 5000.0, "long.carriage.across": [0], "long.carriage.tilting": 1e12}
    stiff, soft = tip(loaded_of(kind)), tip(loaded_of(kind, changes))
    assert soft[2, 2] - stiff[2, 2] == pytest.approx(1 / (4 * 5000.0), rel=2e-3)


def test_press_turns_the_radial_stiffness(loaded_of):
    # Two rows of wheels above and below press up and down; blocks in two rows on a face press square to it.
    soft = {"cross.carriage.radial": 2000.0}
    up = tip(loaded_of("moving bridge", soft | {"cross.carriage.contacts": "wheels"}))
    level = tip(loaded_of("moving bridge", soft))
    stiff = tip(loaded_of("moving bridge"))
    assert (up - stiff)[2, 2] == pytest.approx(1 / (4 * 2000.0), rel=1e-3)
    assert (up - stiff)[1, 1] == pytest.approx(0.0, abs=1e-8)
    assert (level - stiff)[1, 1] == pytest.approx(1 / (4 * 2000.0), rel=1e-3)
    assert (level - stiff)[2, 2] == pytest.approx(0.0, abs=1e-8)


def test_a_cantilever_arm(loaded_of):
    # P a^3/3EI + P a/GA with the tool a from the root; its carriage's middle ends 50 mm short of the arm's end.
    changes = {"cross.carriage.along": [0], "cross.carriage.tilting": 1e12}
    loaded = loaded_of("cantilever arm", changes)
    axis = loaded.machine.axis("X")
    assert (axis.zero + axis.low, axis.zero + axis.high) == (50, 950)
    for q in (axis.low, 0.0, axis.high):
        a = axis.zero + q
        assert tip(loaded, X=q)[2, 2] == pytest.approx(a**3 / (3 * EIy) + a / GAz, rel=1e-3)


def test_a_tool_that_hangs_out_twists_the_arm(loaded_of):
    # Force along Y at a tip c below the axis: c^2 a/GJ on top of bending.
    changes = {"cross.carriage.along": [0], "cross.carriage.tilting": 1e13, "tool.offset": [0, 0, -120]}
    loaded = loaded_of("cantilever arm", changes)
    a = 950.0
    q = {"X": loaded.machine.axis("X").high}
    found = compliance(prepared(loaded, q), "tool")
    assert found[1, 1] == pytest.approx(a**3 / (3 * EIz) + a / GAy + 120**2 * a / GJ, rel=1e-3)


@pytest.mark.parametrize("both", [True, False])
def test_the_member_as_rails_under_a_bridge(both, loaded_of):
    # A stiff bridge in the middle of two rails held firmly at both ends: half the force each, L^3/192EI + L/4GA, and
    # the tool sinks by the mean of the two rails.
    changes = {
        "part": "rail",
        "beam": {"length": 700, "section": {"shape": "stated", "EA": 1e13, "EI": [1e16, 1e16], "GJ": 1e15}},
        "uprights.at": [0, 700],
        "long.rail_length": None,
        "long.carriage.along": [0],
        "long.carriage.tilting": 1e12,
        "rails": {"both": both},
    }
    loaded = loaded_of("moving bridge", changes)
    axis = loaded.machine.axis("Y")
    assert (axis.low, axis.high) == (-450, 450)
    one = L**3 / (192 * EIy) + L / (4 * GAz)
    assert tip(loaded)[2, 2] == pytest.approx(one / 2, rel=2e-3)
    names = [b.name for b in loaded.machine.beams]
    assert (loaded.machine.member, "other rail" in names) == ("rail", True)
    assert [b.plain for b in loaded.machine.beams if b.name == "other rail"] == [not both]


@pytest.mark.parametrize(("up", "strong"), [("z", 2), ("-z", 2), ("y", 1), ("-y", 1)])
def test_up_turns_the_member(up, strong, loaded_of):
    # EIy, the stiffer way, is bending that moves along the member's z: up in the machine with "z", level with "y".
    changes = {"up": up, "cross.carriage.along": [0], "cross.carriage.tilting": 1e12}
    found = tip(loaded_of("moving bridge", changes))
    weak = 3 - strong
    assert found[strong, strong] == pytest.approx(L**3 / (192 * EIy) + L / (4 * GAz), rel=1e-3)
    assert found[weak, weak] == pytest.approx(L**3 / (192 * EIz) + L / (4 * GAy), rel=1e-3)


def test_a_joint_and_a_plate_to_the_tool(loaded_of):
    # A plate of width 80 (X), thickness 10, 100 mm down, bent along Y: l^3/3EI + l/GA, and the mount's linear and
    # tilting compliance with the tip 50 mm below it.
    plate = {"to": [0, 0, -100], "width": 80, "thickness": 10}
    mount = {"linear": 4000.0, "tilting": 2e7}
    at_tip = {"tool.offset": [0, 0, -150]}
    whole = tip(loaded_of("moving bridge", at_tip | {"tool.plate": plate, "tool.mount": mount}, GJ=1e15))
    bare = tip(loaded_of("moving bridge", at_tip, GJ=1e15))
    EI, GA = 70000 * 80 * 10**3 / 12, 70000 / 2.6 * 800 * 13 / 15.3
    # Force F and moment 50 F at the plate's end: deflection and slope of a cantilever carried to the tip.
    bend = 100**3 / 3 + 2 * 50 * 100**2 / 2 + 50**2 * 100
    hand = bend / EI + 100 / GA + 1 / 4000 + 50**2 / 2e7
    assert (whole - bare)[1, 1] == pytest.approx(hand, rel=2e-3)


def test_belts_and_screws_along_their_travel(machine_of):
    # Checks 4.4 and 4.5.
    belt = {"cross.drive": {"kind": "belt", "specific": 24000.0, "ends": [0, 1000]}}
    drive = machine_of("moving bridge", belt).drives[0]
    for at, k in ((250, 128), (500, 96), (50, 505.263)):
        assert sum(k for _, k in drive_springs(drive, at)) == pytest.approx(k, rel=1e-6)
    loop = machine_of("moving bridge", {"cross.drive": belt["cross.drive"] | {"run": "loop"}}).drives[0]
    assert sum(k for _, k in drive_springs(loop, 400)) == pytest.approx(24000 * (1 / 400 + 1 / 1600))
    screw = {"kind": "screw", "root": 10, "ends": [-250, 1250], "stiffness": 1e5}
    area = math.pi * 25
    found = drive_springs(machine_of("moving bridge", {"cross.drive": screw}).drives[0], 250)
    assert found == [(-250, pytest.approx(1 / (500 / (206000 * area) + 1e-5)))]
    assert 1 / (1 / found[0][1] - 1e-5) == pytest.approx(32358.4, rel=1e-5)
    both = screw | {"far_end": "fixed", "bearing": 8e4, "motor": 2e4, "ends": [-1, 1001]}
    found = drive_springs(machine_of("moving bridge", {"cross.drive": both}).drives[0], 500)
    side = 1 / (501 / (206000 * area) + 1 / 8e4)
    assert sum(k for _, k in found) == pytest.approx(1 / (1 / (2 * side) + 1e-5 + 1 / 2e4))


def test_the_belt_rules_along_its_axis(loaded_of):
    # 4EA/L in the middle, both spans; the rest of the machine is stiff that way.
    belt = {"cross.drive": {"kind": "belt", "specific": 24000.0, "ends": [0, 1000]}}
    loaded = loaded_of("moving bridge", belt, EA=1e12)
    assert tip(loaded)[0, 0] == pytest.approx(1000 / (4 * 24000), rel=1e-4)
    found = solve(prepared(loaded, {}), {"tool": [1.0, 0, 0, 0, 0, 0]})
    drive = sum(share for name, share in found.shares.items() if link_of(name) == "tool drive")
    assert drive == pytest.approx(1.0, abs=1e-4)


def test_a_belt_pulls_on_the_beam_between_its_ends(loaded_of):
    # A drive against the middle of a clamped bridge: half of EA's two lengths take it, 1/(EA/a + EA/b).
    changes = {"cross.carriage.along": [0], "cross.carriage.tilting": 1e12}
    found = tip(loaded_of("moving bridge", changes))
    assert found[0, 0] == pytest.approx(1 / (EA / 500 + EA / 500), rel=1e-2)


def test_shares_add_up_everywhere(bridge_loaded):
    for position in grid(bridge_loaded.machine):
        found = solve(prepared(bridge_loaded, position), {"tool": [10.0, -5, 3, 0, 0, 0]})
        assert sum(found.shares.values()) == pytest.approx(1.0, abs=1e-12)
        assert sum(found.energy.values()) == pytest.approx(found.work, rel=1e-6)


def test_the_compliance_is_symmetric_and_positive_everywhere(bridge_loaded):
    for position in grid(bridge_loaded.machine):
        found = tip(bridge_loaded, **position)
        assert np.linalg.eigvalsh(found)[0] > 0


def test_what_moves_with_an_axis_moves(bridge_loaded):
    here = {n.name: np.array(n.at) for n in frame_at(bridge_loaded, {}).nodes}
    there = {n.name: np.array(n.at) for n in frame_at(bridge_loaded, {"X": 100.0, "Y": -50.0}).nodes}
    assert there["tool"] - here["tool"] == pytest.approx([100, -50, 0])
    assert there["bridge start"] - here["bridge start"] == pytest.approx([0, -50, 0])


def test_a_mechanism_is_told_with_its_line(loaded_of):
    # One wheel on either side lets the whole bridge rock about the line through both.
    changes = {"long.carriage.along": [0], "long.carriage.across": [0]}
    with pytest.raises(BadInput, match=r"mechanism: node .* is free to"):
        prepared(loaded_of("moving bridge", changes), {})


def test_a_mechanism_in_a_job_points_at_the_file_s_line(bridge_member, bridge_loaded, tmp_path, examples):
    import shutil
    from dataclasses import replace

    from sparwright.job.reading import load_job

    shutil.copytree(examples / "bridge-beam", tmp_path, dirs_exist_ok=True)
    file = tmp_path / "plotter.toml"
    text = file.read_text().replace("along = [-40, 40]\nacross = [-57, 57]", "along = [0]\nacross = [0]")
    file.write_text(text)
    line = text.split("\n").index("[cross.carriage]") + 1
    loaded = replace(bridge_loaded, machine=load_job(tmp_path / "job.toml").served)
    with pytest.raises(BadInput) as fault:
        prepared(loaded, {})
    told = f'{file}, line {line}: the machine is a mechanism: node "tool carriage" is free to'
    assert str(fault.value).startswith(told)
    with pytest.raises(BadInput) as fault:
        check_served(loaded.machine, bridge_member)
    assert str(fault.value).startswith(told)


@pytest.mark.parametrize("size", [(50, 100, 4), (60, 60, 3), (80, 40, 3)])
def test_plain_tubes_against_finite_elements(size, bridge_job):
    from sparwright.job.links import BeamSection
    from sparwright.job.models import RectangularTube
    from sparwright.stiffness.section import section_properties
    from sparwright.stock.section import make_section

    width, height, wall = size
    own, _ = plain_section(BeamSection(shape="rectangular tube", width=width, height=height, wall=wall))
    metal = bridge_job.material.model_copy(update={"modulus": 70000, "poisson": 0.3, "density": 2700})
    spec = RectangularTube(shape="rectangular tube", width=width, height=height, wall=wall)
    fine = section_properties(make_section(spec, "."), metal)
    for key, rel in (("EA", 1e-6), ("EIy", 1e-6), ("EIz", 1e-6), ("GJ", 0.04), ("mass_kg_per_m", 1e-6)):
        assert getattr(own, key) == pytest.approx(getattr(fine, key), rel=rel), key
    for key in ("GAy", "GAz"):
        assert getattr(own, key) == pytest.approx(getattr(fine, key), rel=0.08), key


def test_plain_bars_and_round_tubes():
    from sparwright.job.links import BeamSection

    # Square bar: J = 0.1406 a^4 (Saint-Venant); Cowper 10(1+nu)/(12+11nu) = 0.8497 (check 3.3).
    bar, _ = plain_section(BeamSection(shape="flat bar", width=20, height=20))
    assert pytest.approx(70000 / 2.6 * 0.1406 * 20**4, rel=1e-3) == bar.GJ
    assert bar.GAy == pytest.approx(70000 / 2.6 * 400 * 0.849673, rel=1e-5)
    # Hollow round with m = 0.9: 0.532969 (check 3.3).
    tube, _ = plain_section(BeamSection(shape="round tube", diameter=40, wall=2, metal="steel"))
    area = math.pi / 4 * (40**2 - 36**2)
    assert tube.GAz == pytest.approx(210000 / 2.6 * area * 0.532969, rel=1e-5)
    assert tube.mass_kg_per_m == pytest.approx(area * 7.85e-3)
    # Thin square tube: 20(1+nu)/(48+39nu) = 0.435511 (check 3.3).
    assert box_shear(50, 50, 0.3) == pytest.approx(0.435511, rel=1e-5)
