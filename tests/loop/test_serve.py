"""The machine served, before and after: figures by hand, what the findings say, push tests, the quick figures."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from sparwright.answers import BadInput, Verdict
from sparwright.job.models import Wishes
from sparwright.loop.excitation import shakes
from sparwright.loop.frame import compliance
from sparwright.loop.machine import Loaded, prepared
from sparwright.loop.machine_state import link_spreads, machine_state
from sparwright.loop.push import infer
from sparwright.loop.quick import quick_basis, quick_figures
from sparwright.loop.serve import load_member, serve

BELT = {"kind": "belt", "specific": 24000.0, "spread": 0.35, "ends": [0, 1000], "tooth": 2, "step": 0.2}
SOFT = {
    "cross.drive": BELT,
    "cross.force": 50,
    "cross.extra_mass": 0.5,
    "cross.carriage.radial": 2000.0,
    "cross.carriage.axial": 900.0,
    "cross.carriage.mass": 0.5,
    "long.carriage.radial": 4000.0,
    "long.force": 90,
    "long.acceleration": 40000,
    "service": {"force": 30, "feeds": [6000], "rpm": [9000], "flutes": 2},
    "tool.offset": [0, -60, -100],
}


@pytest.fixture(scope="module")
def soft(machine_of):
    return machine_of("moving bridge", SOFT)


@pytest.fixture(scope="module")
def result(soft, member_stretches, bridge_member):
    after = member_stretches(
        mass=2.2e-6, EIy=6e10, EIz=3e10, GJ=8e9, mass_kg_per_m=2.2, spread={"EIy": 0.02, "GJ": 0.04}
    )
    return serve(bridge_member, member_stretches(), after, soft)


def test_nothing_cut_changes_nothing(soft, member_stretches, bridge_member):
    same = serve(bridge_member, member_stretches(), member_stretches(), soft)
    before, after = same.before.as_dict(), same.after.as_dict()
    assert before == after


def test_shares_add_up_and_name_the_weakest(result):
    for state in (result.before, result.after):
        for shares in state.shares.values():
            assert sum(shares.values()) == pytest.approx(1.0, abs=1e-12)
        for mode in state.modes:
            assert sum(mode.strain.values()) == pytest.approx(1.0, abs=1e-9)
        assert sum(state.member.values()) == pytest.approx(state.shares[state.direction]["bridge"], rel=1e-6)
    assert result.after.weakest == next(iter(result.after.shares[result.after.direction]))


def test_lightening_costs_deflection_and_buys_acceleration(result):
    before, after = result.before, result.after
    for direction in ("Y", "Z"):
        assert after.tips_mm[direction] > before.tips_mm[direction]
    assert after.worst.principal[0][0] >= after.best.principal[0][0]
    lighter = 1000 * (3e-6 - 2.2e-6) * 1000.0
    assert before.moving_kg["Y"] - after.moving_kg["Y"] == pytest.approx(lighter, rel=1e-9)
    assert after.moving_kg["X"] == pytest.approx(0.5 + 0.5 + 1.0)
    assert result.acceleration(after, "X") == pytest.approx(1000 * 50 / 2.0)
    assert result.acceleration(after, "Y") > result.acceleration(before, "Y")


def test_settling_by_hand(result):
    # ln 50 / (zeta 2 pi f): the swing falls by exp(-2 pi zeta) a period.
    time, wide = result.settling_s(result.after)
    periods = time * result.after.first_Hz
    assert math.exp(-2 * math.pi * 0.02 * periods) == pytest.approx(0.02)
    assert wide > 0.5 * time


def test_tip_stiffness_is_a_matrix_with_principal_directions(result):
    for place in result.after.places:
        values, directions = place.principal
        assert values[0] >= values[1] >= values[2] > 0
        assert directions @ place.compliance @ directions.T == pytest.approx(np.diag(values), abs=1e-9)
        assert place.stiffness @ place.compliance == pytest.approx(np.eye(3), abs=1e-9)
    assert len(result.after.places) == 9
    assert result.after.tip_mm == pytest.approx(max(result.after.tips_mm.values()))


def test_the_spread_is_the_first_order_of_the_links_spreads(soft, member_stretches):
    # Against a finite difference: every link softened by a hundredth of its spread, root of the sum of squares.
    parts = member_stretches()
    spreads = link_spreads(soft)
    state = machine_state(Loaded(soft, parts, parts, (0.0, 0.0)), spreads)
    i = "XYZ".index(state.direction)
    position = {a.name: state.worst.at[a.name] - a.zero for a in soft.axes}

    def tip(link: str, factor: float) -> float:
        loaded = Loaded(soft, parts, parts, (0.0, 0.0), {link: factor})
        return 30 * compliance(prepared(loaded, position), "tool")[i, i]

    moved = [(tip(n, 1 / (1 + 0.01 * s)) - state.tip_mm) / 0.01 for n, s in spreads.items()]
    assert state.spread["tip_mm"] == pytest.approx(math.hypot(*moved), rel=1e-3)


def test_a_heavy_tool_on_a_belt_swings_at_its_own_frequency(machine_of, member_stretches):
    # f = sqrt(k/m)/2 pi with 4EA/L at mid-travel; lowest at an end is not asked here.
    machine = machine_of("moving bridge", {"cross.drive": BELT, "tool.mass": 20.0})
    loaded = load_member(machine, member_stretches(EA=1e12), member_stretches(EA=1e12), {})
    from sparwright.loop.machine_modes import machine_modes

    mode = machine_modes(machine, prepared(loaded, {}), 1)[0]
    assert mode.frequency == pytest.approx(math.sqrt(4 * 24000 / 1000 / 0.02) / (2 * math.pi), rel=1e-3)
    assert mode.words == "tool moves along X, on the tool drive (100 %)"
    assert np.abs(mode.tip) == pytest.approx([1, 0, 0], abs=1e-3)
    assert set(mode.lines) >= {"bridge"}


def test_modes_of_the_bridge_are_told_by_its_shape(machine_of, member_stretches):
    from sparwright.loop.machine_modes import machine_modes

    # A light tool on a soft member: the bridge bends level first (EIz is the smaller), then up; weak in twist it twists.
    light = {"tool.mass": 0.01}
    parts = member_stretches()
    modes = machine_modes(
        machine_of("moving bridge", light),
        prepared(load_member(machine_of("moving bridge", light), parts, parts, {}), {}),
        2,
    )
    assert [m.words.split(",")[0] for m in modes] == ["bridge bends along Y", "bridge bends along Z"]
    parts = member_stretches(GJ=1e7)
    machine = machine_of("moving bridge", light)
    (first,) = machine_modes(machine, prepared(load_member(machine, parts, parts, {}), {}), 1)
    assert first.words.startswith("bridge twists")


def test_findings_speak_of_the_wish_and_the_weakest_link(result):
    a = result.after
    tip, first = result.findings(Wishes())[:2]
    assert (tip.verdict, first.verdict, tip.limit) == (Verdict.GO, Verdict.GO, None)
    assert tip.value == a.tip_mm
    assert f"It comes from: {a.weakest}" in tip.why
    tight = Wishes(tip_deflection=a.tip_mm * 0.9, first_frequency=a.first_Hz - a.spread["first_Hz"] / 2)
    tip, first = result.findings(tight)[:2]
    assert tip.verdict is Verdict.NO_GO
    assert tip.margin == pytest.approx(-0.1 * a.tip_mm)
    assert f'The weakest link is "{a.weakest}"' in tip.why
    assert first.verdict is Verdict.CAUTION
    assert "measure with a push test" in first.why
    assert "More metal left in the bridge helps little" in first.why


def test_a_weak_member_is_told_to_keep_its_metal(machine_of, member_stretches, bridge_member):
    weak = member_stretches(EIy=1e8, EIz=1e9, mass_kg_per_m=1.0)
    found = serve(bridge_member, member_stretches(), weak, machine_of("moving bridge"))
    tip = found.findings(Wishes(tip_deflection=1e-6))[0]
    told = "The bridge itself is the weakest link: keep more metal in it, on the faces furthest from its axis"
    assert told in tip.why
    limp = member_stretches(GJ=1e6)
    changes = {"tool.offset": [0, 0, -150], "service": {"force": 30, "directions": ["Y"]}}
    found = serve(bridge_member, member_stretches(), limp, machine_of("moving bridge", changes))
    assert "in skins all round, since it twists" in found.findings(Wishes(tip_deflection=1e-6))[0].why


def test_acceleration_and_excitation_are_judged(result, soft):
    found = {f.name: f for f in result.findings(Wishes())}
    speed = found["acceleration along Y"]
    assert speed.verdict is Verdict.CAUTION
    assert "Set a lower acceleration, or fit a stronger motor." in speed.why
    assert found["acceleration along X"].verdict is Verdict.GO
    # Teeth of 2 mm at 100 mm/s 50 Hz, steps of 0.2 mm 500 Hz, spindle 150 Hz, two edges 300 Hz.
    assert sorted(s.frequency for s in shakes(soft)) == pytest.approx([50, 150, 300, 500])
    far = found["distance from excitation"]
    nearest = min(abs(f / m.frequency - 1) for f in (50, 150, 300, 500) for m in result.after.modes[:4])
    assert far.value == pytest.approx(100 * nearest)
    assert (far.verdict is Verdict.CAUTION) == (nearest < 0.2)


def test_member_forces_carry_the_service_load(machine_of, member_stretches, bridge_member):
    # A clamped bridge with 30 N in its middle: half to either side, P L/8 at its ends; end places, and the mean of
    # the shears where the tool stands between.
    machine = machine_of(
        "moving bridge", {"cross.carriage.along": [0], "cross.carriage.tilting": 1e12, "cross.wanted": None}
    )
    found = serve(bridge_member, member_stretches(), member_stretches(), machine)
    middle = found.member_forces[len(found.member_forces) // 2 :]
    assert max(abs(f.My) for f in middle) == pytest.approx(30 * 1000 / 8, rel=1e-3)
    assert max(abs(f.Vz) for f in middle) == pytest.approx(15, rel=1e-3)
    assert {f.x for f in middle} >= {0.0, 500.0, 1000.0}


def test_side_by_side(result):
    rows = {r.name: r for r in result.side_by_side()}
    down = rows["deflection along Z under 30 N"]
    assert (down.before, down.after) == (result.before.tips_mm["Z"], result.after.tips_mm["Z"])
    assert down.change > 0
    assert not down.more_is_better
    assert rows["acceleration along Y"].change == pytest.approx(
        rows["mass that moves along Y"].before / rows["mass that moves along Y"].after - 1
    )


def test_the_result_is_plain_json(result):
    text = json.dumps(result.as_dict())
    for key in ("tip_mm", "compliance_um_per_N", "moving_kg", "frequency_Hz", "settling_s", "travel_mm"):
        assert f'"{key}"' in text


# --- push tests -------------------------------------------------------------------------------------------


def reading(machine, parts, scales, axis="X", **position):
    loaded = Loaded(machine, parts, parts, (0.0, 0.0), scales)
    return float(compliance(prepared(loaded, position), "tool")["XYZ".index(axis), "XYZ".index(axis)])


@pytest.mark.parametrize("planted", [0.4, 1.0, 2.3])
def test_a_push_finds_a_planted_stiffness(planted, machine_of, member_stretches, bridge_member):
    parts = member_stretches()
    dial = 20 * reading(machine_of("moving bridge", SOFT), parts, {"tool drive": planted})
    push = {"link": "tool drive", "force": 20, "reading": dial, "direction": "X", "reading_spread": 0.002}
    machine = machine_of("moving bridge", SOFT | {"push": [push]})
    found = serve(bridge_member, parts, parts, machine)
    (pushed,) = found.pushes
    assert pushed.told
    assert pushed.factor == pytest.approx(planted, rel=1e-6)
    assert found.before.middle.compliance[0, 0] * 20 == pytest.approx(dial, rel=1e-6)
    assert found.spreads["tool drive"] == pushed.spread < 0.35
    finding = next(f for f in found.findings(Wishes()) if f.name == "push test, tool drive")
    assert f"{planted:.3g} times as stiff" in finding.why


def test_two_pushes_are_told_apart(machine_of, member_stretches):
    parts = member_stretches()
    planted = {"tool drive": 0.6, "tool carriage": 1.8}
    plain = machine_of("moving bridge", SOFT)
    pushes = [
        {"link": "tool drive", "force": 20, "reading": 20 * reading(plain, parts, planted, "X"), "direction": "X"},
        {"link": "tool carriage", "force": 20, "reading": 20 * reading(plain, parts, planted, "Z"), "direction": "Z", "reading_spread": 1e-4},
    ]  # fmt: skip
    loaded = Loaded(machine_of("moving bridge", SOFT | {"push": pushes}), parts, parts, (0.0, 0.0))
    found = {p.link: p.factor for p in infer(loaded, loaded, link_spreads(plain))}
    assert found == pytest.approx(planted, rel=1e-5)


def test_a_push_that_tells_less_than_is_known_changes_nothing(machine_of, member_stretches, bridge_member):
    parts = member_stretches()
    dial = 20 * reading(machine_of("moving bridge", SOFT), parts, {})
    push = {"link": "base carriages", "force": 20, "reading": dial, "direction": "X"}
    found = serve(bridge_member, parts, parts, machine_of("moving bridge", SOFT | {"push": [push]}))
    (pushed,) = found.pushes
    assert (pushed.told, pushed.factor) == (False, 1.0)
    finding = next(f for f in found.findings(Wishes()) if f.name.startswith("push test"))
    assert finding.verdict is Verdict.CAUTION
    assert "Push and read right beside the link" in finding.why


@pytest.mark.parametrize(
    ("dial", "says"),
    [(0.001, "the rest of the machine alone would read"), (900.0, "even with next to no stiffness in it")],
)
def test_a_push_nothing_can_explain_is_refused(dial, says, machine_of, member_stretches, bridge_member):
    push = {"link": "tool drive", "force": 20, "reading": min(dial, 100), "direction": "X"}
    changes = SOFT | {"push": [push | ({"force": 1e-3} if dial > 100 else {})]}
    with pytest.raises(BadInput, match=r"Allowed: a reading between .* Check the force, the dial") as fault:
        serve(bridge_member, member_stretches(), member_stretches(), machine_of("moving bridge", changes))
    assert 'no stiffness of "tool drive" can explain that' in str(fault.value)
    assert says in str(fault.value)


# --- a general machine ------------------------------------------------------------------------------------


def test_a_portal_said_by_its_parts_is_the_same_machine(machine_of, member_stretches):
    # The same bridge as a portal's and as points and links: the two must agree in every figure.
    changes = {"cross.drive": BELT, "cross.carriage.radial": 2000.0, "cross.carriage.axial": 900.0}
    changes |= {
        "service": {"force": 30},
        "long": None,
        "table": None,
        "tool.offset": [0, -60, -100],
        "tool.mass_at": [0, -50, -40],
    }
    portal = machine_of("portal", changes)
    reach = portal.axis("X").high
    blocks = {"contacts": "blocks", "along": [-40, 40], "across": [-30, 30], "width": 100}
    whole = {
        "service": {"force": 30},
        "axis": [{"name": "X", "direction": [1, 0, 0], "travel": [-reach, reach]}],
        "point": [
            {"name": "start", "at": [0, 0, 0], "held": True},
            {"name": "end", "at": [1000, 0, 0], "held": True},
            {"name": "head", "at": [500, 0, 0], "moves_with": ["X"]},
            {"name": "tool", "at": [500, -60, -100], "moves_with": ["X"]},
        ],
        "strut": [{"name": "bridge", "between": ["start", "end"], "member": True}],
        "plate": [{"name": "head plate", "points": ["head", "tool"]}],
        "runner": [
            blocks | {"name": "tool carriage", "body": "head", "on": "bridge", "axis": "X", "radial": 2000.0, "axial": 900.0}
        ],
        "mover": [BELT | {"name": "tool drive", "point": "head", "on": "bridge", "axis": "X", "ends": [-500, 500]}],
        "fixing": [],
        "weight": [{"name": "tool", "point": "tool", "mass": 1.0, "offset": [0, 10, 60]}],
    }  # fmt: skip
    general = machine_of("general", whole)
    parts = member_stretches()
    one, other = (
        machine_state(Loaded(m, parts, parts, (0.0, 0.0)), link_spreads(m)) for m in (portal, general)
    )
    assert one.tips_mm == pytest.approx(other.tips_mm, rel=1e-9)
    assert one.worst.compliance == pytest.approx(other.worst.compliance, rel=1e-6, abs=1e-12)
    assert [m.frequency for m in one.modes] == pytest.approx([m.frequency for m in other.modes], rel=1e-6)
    assert one.shares["Y"] == pytest.approx(other.shares["Y"], abs=1e-9)
    assert one.spread == pytest.approx(other.spread, rel=1e-6)


# --- quick ------------------------------------------------------------------------------------------------


def test_quick_figures_are_those_of_the_whole(bridge_job, bridge_member, bridge_loaded):
    plain = bridge_loaded.stretches
    after = tuple(replace(s, properties=replace(s.properties, EIy=3e10, GJ=6e9)) for s in plain)
    whole = serve(bridge_member, plain, after, bridge_job.served)
    found = quick_figures(after, bridge_job.served, bridge_member, quick_basis(bridge_job.served, plain))
    assert found.tip_mm == pytest.approx(whole.after.tip_mm, rel=1e-9)
    assert found.direction == whole.after.direction
    assert found.first_Hz == pytest.approx(whole.after.first_Hz, rel=1e-6)
    assert found.moving_kg == pytest.approx(whole.after.moving_kg)


def test_quick_figures_find_their_own_basis(bridge_job, bridge_member, bridge_loaded):
    whole = serve(bridge_member, bridge_loaded.stretches, bridge_loaded.stretches, bridge_job.served)
    found = quick_figures(bridge_loaded.stretches, bridge_job.served, bridge_member)
    assert found.tip_mm == pytest.approx(whole.after.tip_mm, rel=1e-9)
    assert found.first_Hz == pytest.approx(whole.after.first_Hz, rel=1e-6)
