"""Frames of beams and springs against closed forms, and the laws that every frame keeps."""

import itertools
import math
import time
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from sparwright.loop.elements import Stretch
from sparwright.loop.frame import (
    BeamLink,
    Frame,
    Hold,
    Mass,
    Node,
    Rigid,
    Spring,
    compliance,
    frame_mass,
    frame_modes,
    prepare,
    solve,
)
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

MASS = 3e-6  # t/mm
EI = 9.772e10
PINNED = (True, True, True, True, False, False)
ROLLER = (False, True, True, False, False, False)


def props(**more) -> BeamProperties:
    """Stiff in everything but bending about y, unless said otherwise."""
    given = {
        "method": "section",
        "mass_kg_per_m": MASS * 1e6,
        "EA": 1e12,
        "EIy": EI,
        "EIz": 400 * EI,
        "EIyz": 0.0,
        "GJ": 1e14,
        "GAy": 1e15,
        "GAz": 1e15,
        "centroid": (0.0, 0.0),
        "shear_centre": (0.0, 0.0),
    }
    return BeamProperties(**(given | more))


def inertia(mass: float = MASS, yy: float = 1.0, zz: float = 1.0, yz: float = 0.0) -> Inertia:
    return Inertia(mass, (0.0, 0.0), (mass * yy, mass * zz, mass * yz))


def bar(length: float, p: BeamProperties, held, mass: Inertia | None = None, **more) -> Frame:
    """One beam along x from "a" to "b", with "m" at its middle."""
    nodes = (Node("a", (0, 0, 0)), Node("m", (length / 2, 0, 0)), Node("b", (length, 0, 0)))
    beam = BeamLink("bar", "a", "b", properties=p, inertia=mass or inertia(), between=("m",), **more)
    return Frame(nodes, (beam,), held=held)


# Thomson, Theory of Vibration with Applications, Table 9.5-1 and App. D: (bL)^2 of uniform slender beams.
@pytest.mark.parametrize(
    ("held", "free", "wanted"),
    [
        (("a",), 0, (3.51602, 22.0345, 61.6972)),
        (("a", "b"), 0, (22.3733, 61.6728, 120.903)),
        (("a", Hold("b", ROLLER)), 0, (15.4182, 49.9649, 104.248)),
        ((Hold("a", PINNED), Hold("b", ROLLER)), 0, (9.8696, 39.4784, 88.8264)),
        ((), 6, (22.3733, 61.6728, 120.903)),
    ],
    ids=["clamped-free", "clamped", "clamped-hinged", "simply supported", "free"],
)
def test_frequencies_of_slender_beams(held, free, wanted):
    L = 5000.0
    found = frame_modes(bar(L, props(), held, elements=24), 3, free)
    scale = 2 * math.pi * math.sqrt(MASS * L**4 / EI)
    assert [m.frequency * scale for m in found] == pytest.approx(wanted, rel=2e-4)


# Beam tables (Roark; Gere, from memory): P 50 N, L 300 mm, EI 70000 x 1.396e6 N mm2, w 0.02 N/mm.
@pytest.mark.parametrize(
    ("held", "node", "wanted"),
    [
        (("a",), "b", 0.00460499),
        ((Hold("a", PINNED), Hold("b", ROLLER)), "m", 0.000287812),
        (("a", "b"), "m", 7.1953e-05),
        (("a", Hold("b", ROLLER)), "m", 0.000125918),
    ],
    ids=["cantilever", "simply supported", "clamped", "clamped and pinned"],
)
def test_deflections_as_the_beam_tables_say(held, node, wanted):
    frame = bar(300.0, props(EIy=70000 * 1.396e6), held, elements=2)
    assert solve(frame, {node: (0, 0, 50, 0, 0, 0)}).motions[node][2] == pytest.approx(wanted, rel=1e-4)
    assert compliance(frame, node)[2, 2] * 50 == pytest.approx(wanted, rel=1e-4)


@pytest.mark.parametrize(
    ("held", "node", "wanted"),
    [(("a",), "b", 0.000207225), ((Hold("a", PINNED), Hold("b", ROLLER)), "m", 2.15859e-05)],
    ids=["cantilever", "simply supported"],
)
def test_a_beam_under_its_own_weight(held, node, wanted):
    # w L^4/8EI and 5 w L^4/384EI with w = 0.02 N/mm as a mass in a field of gravity.
    field = (0.0, 0.0, -0.02 / MASS)
    found = solve(bar(300.0, props(EIy=70000 * 1.396e6), held), {}, field)
    assert found.motions[node][2] == pytest.approx(-wanted, rel=1e-4)
    assert sum(found.energy.values()) == pytest.approx(found.work, rel=1e-9)
    ends = found.forces["bar"]
    assert (ends[-1].Vz, ends[0].My) == pytest.approx(
        (0.0, 0.02 * 300**2 / 2) if held == ("a",) else (0.02 * 150, 0.0), abs=1e-6
    )


def test_timoshenko_cantilever_and_its_share_of_shear():
    # P L^3/3EI + P L/(kappa G A): 100 x 50 x 4 tube, kappa 0.6416 by 2-D finite elements.
    p = props(EIy=70000 * 1.396e6, GAz=0.6416 * 27000 * 1118.8)
    found = solve(bar(300.0, p, ("a",), elements=1), {"b": (0, 0, 50, 0, 0, 0)})
    assert found.motions["b"][2] == pytest.approx(0.00537894, rel=1e-5)
    assert found.kinds["bar"]["shear"] / found.work == pytest.approx(0.143884, rel=1e-5)
    assert found.work == pytest.approx(50 * 0.00537894 / 2, rel=1e-5)


@pytest.mark.parametrize(("ratio", "x"), [(1.0, 1.24792), (0.2, 1.6164)])
def test_cantilever_with_a_tip_mass(ratio, x):
    # 1 + cosh x cos x + (M/m) x (cos x sinh x - sin x cosh x) = 0.
    L = 1000.0
    frame = replace(bar(L, props(), ("a",)), masses=(Mass("tip", "b", ratio * MASS * L * 1e3),))
    wanted = x**2 * math.sqrt(EI / (MASS * L**4)) / (2 * math.pi)
    mode = frame_modes(frame, 1)[0]
    assert mode.frequency == pytest.approx(wanted, rel=1e-4)
    assert sum(mode.kinetic.values()) == pytest.approx(1.0)
    assert frame_mass(frame) == pytest.approx({"bar": 3.0, "tip": 3.0 * ratio})


def test_carriage_on_two_springs():
    # M 4 kg, I 0.05 kg m2, l1 0.15, l2 0.25 m, k1 2e6, k2 1e6 N/m: 137.015 and 233.848 Hz (two degrees of freedom).
    nodes = (Node("c", (0, 0, 0)), Node("1", (-150, 0, 0)), Node("2", (250, 0, 0)))
    frame = Frame(
        nodes,
        springs=tuple(
            Spring(f"s{n}", n, None, (0, 0, k, 0, 0, 0)) for n, k in (("1", 2000.0), ("2", 1000.0))
        ),
        rigids=(Rigid("r1", "c", "1"), Rigid("r2", "c", "2")),
        masses=(Mass("carriage", "c", 4.0, inertia=((1, 0, 0), (0, 5e4, 0), (0, 0, 1))),),
        held=(Hold("c", (True, True, False, True, False, True)),),
    )
    found = frame_modes(frame, 2)
    assert [m.frequency for m in found] == pytest.approx([137.015, 233.848], rel=1e-5)
    for mode in found:
        assert sum(mode.strain.values()) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("kbar", "root"), [(1, 1.40253), (10, 4.13041), (100, 8.2757), (1e6, 9.86941)])
def test_beam_on_two_end_springs(kbar, root):
    # Symmetric mode, k = kbar EI / L^3 (own derivation, checked by a second method); statics P L^3/48EI + P/2k.
    L = 1000.0
    k = kbar * EI / L**3
    frame = bar(
        L,
        props(),
        (
            Hold("a", (True, True, False, True, False, False)),
            Hold("b", (False, True, False, False, False, False)),
        ),
    )
    frame = replace(frame, springs=tuple(Spring(n, n, None, (0, 0, k, 0, 0, 0)) for n in "ab"))
    symmetric = [m for m in frame_modes(frame, 3) if m.motions["a"][2] * m.motions["b"][2] > 0]
    unit = math.sqrt(EI / (MASS * L**4)) / (2 * math.pi)
    assert symmetric[0].frequency == pytest.approx(root * unit, rel=2e-4)
    found = solve(frame, {"m": (0, 0, 30, 0, 0, 0)})
    assert found.motions["m"][2] == pytest.approx(30 * L**3 / (48 * EI) + 15 / k, rel=1e-4)
    assert found.shares["a"] == pytest.approx(found.shares["b"])


def test_shaft_and_torsion_pendulum():
    # Steel rod d 6, L 500, G 81000, rho 7850: 1606.12 Hz alone, 16.1572 Hz with a disc of 0.002 kg m2.
    d, L = 6.0, 500.0
    area, ip = math.pi * d * d / 4, math.pi * d**4 / 32
    rod = inertia(7.85e-9 * area, ip / 2 / area, ip / 2 / area)
    frame = bar(L, props(GJ=81000 * ip, EIy=1e14, EIz=1e14), ("a",), rod, elements=40)
    assert frame_modes(frame, 1)[0].frequency == pytest.approx(1606.12, rel=1e-4)
    disc = Mass("disc", "b", 0.0, inertia=((2000.0, 0, 0), (0, 1, 0), (0, 0, 1)))
    assert frame_modes(replace(frame, masses=(disc,)), 1)[0].frequency == pytest.approx(16.1572, rel=2e-4)


def test_two_springs_in_series_and_side_by_side():
    # Belt 96 N/mm side by side with its twin; nut 100 and bearing 80 N/um in series with a screw (worked cases).
    nodes = (Node("nut", (0, 0, 0)), Node("screw", (0, 0, 0)), Node("bearing", (0, 0, 0)))
    rest = tuple(Hold(n, (False, *(True,) * 5)) for n in ("nut", "screw", "bearing"))
    along = {"screw": 32358.4, "nut": 100e3, "bearing": 80e3}
    series = Frame(
        nodes,
        springs=(
            Spring("nut", "nut", "screw", (along["nut"], 0, 0, 0, 0, 0)),
            Spring("screw", "screw", "bearing", (along["screw"], 0, 0, 0, 0, 0)),
            Spring("bearing", "bearing", None, (along["bearing"], 0, 0, 0, 0, 0)),
        ),
        held=rest,
    )
    whole = 1 / sum(1 / k for k in along.values())
    found = solve(series, {"nut": (500, 0, 0, 0, 0, 0)})
    assert found.motions["nut"][0] == pytest.approx(500 / whole, rel=1e-12)
    assert found.shares == pytest.approx({n: whole / k for n, k in along.items()}, rel=1e-9)
    assert 1 / compliance(series, "nut", "screw")[0, 0] == pytest.approx(100e3)
    twin = replace(
        series,
        springs=(*series.springs, Spring("second nut", "nut", "screw", (along["nut"], 0, 0, 0, 0, 0))),
    )
    assert solve(twin, {"nut": (500, 0, 0, 0, 0, 0)}).shares["nut"] == pytest.approx(
        solve(twin, {"nut": (500, 0, 0, 0, 0, 0)}).shares["second nut"]
    )
    assert 1 / compliance(twin, "nut", "screw")[0, 0] == pytest.approx(200e3)


def test_an_inclined_spring_gives_its_share_to_each_axis():
    # k at 30 degrees from x in the x z plane: k cos^2, k sin^2, k sin cos.
    c, s, k = math.cos(math.pi / 6), math.sin(math.pi / 6), 700.0
    turn = ((c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c))
    frame = Frame(
        (Node("n", (1, 2, 3)),),
        springs=(
            Spring("oblique", "n", None, (k, 0, 0, 0, 0, 0), turn),
            Spring("straight", "n", None, (10, 10, 10, 1e6, 1e6, 1e6)),
        ),
    )
    stiff = np.linalg.inv(compliance(frame, "n"))
    wanted = np.diag([10.0, 10.0, 10.0]) + k * np.outer([c, 0, s], [c, 0, s])
    assert stiff == pytest.approx(wanted, rel=1e-9, abs=1e-9)


def test_portal_against_slope_deflection():
    # Fixed-base portal under a side load H at the beam: sway H h^3/12EI x (2 + 3k)... by slope deflection, with
    # k = (Ib/Ic)(h/L): sway = H h^3 (3k + 2) / (12 E Ic (6k + 1)), moment at the foot H h (3k + 1)/(2 (6k + 1)).
    h, L, H = 700.0, 1100.0, 250.0
    column, beam = props(EA=1e13), props(EA=1e13, EIy=2.5 * EI)
    nodes = (Node("A", (0, 0, 0)), Node("B", (0, 0, h)), Node("C", (L, 0, h)), Node("D", (L, 0, 0)))
    frame = Frame(
        nodes,
        (
            BeamLink("left", "A", "B", (-1, 0, 0), properties=column),
            BeamLink("top", "B", "C", (0, 0, 1), properties=beam),
            BeamLink("right", "D", "C", (-1, 0, 0), properties=column),
        ),
        held=("A", "D"),
    )
    found = solve(frame, {"B": (H / 2, 0, 0, 0, 0, 0), "C": (H / 2, 0, 0, 0, 0, 0)})
    k = 2.5 * h / L
    assert found.motions["B"][0] == pytest.approx(H * h**3 * (3 * k + 2) / (12 * EI * (6 * k + 1)), rel=1e-4)
    assert abs(found.forces["left"][0].My) == pytest.approx(H * h * (3 * k + 1) / (2 * (6 * k + 1)), rel=1e-4)
    assert abs(found.forces["left"][-1].My) == pytest.approx(H * h * 3 * k / (2 * (6 * k + 1)), rel=1e-4)
    assert sum(found.shares.values()) == pytest.approx(1.0, abs=1e-12)


def machine() -> Frame:
    """A bridge on two columns with a carriage on four blocks, a belt and a tool that hangs down."""
    p = props(
        EA=7e7,
        EIz=4e10,
        GJ=1e10,
        GAy=1e7,
        GAz=2e7,
        centroid=(25.0, 50.0),
        shear_centre=(20.0, 47.0),
        EIyz=2e9,
    )
    soft = replace(p, EIy=5e10, GJ=3e9, GAy=2e6)
    mass = Inertia(MASS, (25 * MASS, 50 * MASS), (MASS * 1100, MASS * 3900, MASS * 1250))
    stretches = (Stretch(0, 100, p, mass), Stretch(100, 900, soft, mass), Stretch(900, 1000, p, mass))
    nodes = [
        Node("left foot", (0, 0, 0)),
        Node("left top", (0, 0, 400)),
        Node("right foot", (1000, 0, 0)),
        Node("right top", (1000, 0, 400)),
        Node("rail 1", (430, 0, 400)),
        Node("rail 2", (570, 0, 400)),
        Node("block 1", (430, -40, 400)),
        Node("block 2", (570, -40, 400)),
        Node("plate", (500, -60, 400)),
        Node("tool", (500, -110, 250)),
    ]
    springs = [
        Spring(f"block {i}", f"rail {i}", f"block {i}", (0, 3e4, 5e4, 1e8, 1e7, 1e7), at=(x, -20.0, 400.0))
        for i, x in ((1, 430.0), (2, 570.0))
    ]
    return Frame(
        tuple(nodes),
        (
            BeamLink("left column", "left foot", "left top", (0, 1, 0), properties=p, inertia=mass),
            BeamLink("right column", "right foot", "right top", (0, 1, 0), properties=p, inertia=mass),
            BeamLink(
                "bridge",
                "left top",
                "right top",
                (0, 0, 1),
                stretches,
                between=("rail 1", "rail 2"),
                axis=(25, 50),
            ),
        ),
        (*springs, Spring("belt", "plate", "left top", (150, 0, 0, 0, 0, 0), at=(250.0, -30.0, 430.0))),
        (
            Rigid("plate 1", "plate", "block 1"),
            Rigid("plate 2", "plate", "block 2"),
            Rigid("tool mount", "plate", "tool"),
        ),
        (
            Mass("carriage", "plate", 2.5, (0, -10, 5), ((9e3, 100, 0), (100, 8e3, 0), (0, 0, 7e3))),
            Mass("spindle", "tool", 1.2),
        ),
        ("left foot", "right foot"),
    )


def moved(frame: Frame, turn: np.ndarray, shift: np.ndarray) -> Frame:
    """The whole machine carried elsewhere."""

    def carry(v):
        return tuple((turn @ np.asarray(v, dtype=float)).tolist())

    def place(v):
        return tuple((turn @ np.asarray(v, dtype=float) + shift).tolist())

    def axes(t):
        return tuple(map(tuple, (np.asarray(t, dtype=float) @ turn.T).tolist()))

    return replace(
        frame,
        nodes=tuple(replace(n, at=place(n.at)) for n in frame.nodes),
        beams=tuple(replace(b, up=carry(b.up)) for b in frame.beams),
        springs=tuple(
            replace(s, turn=axes(s.turn), at=None if s.at is None else place(s.at)) for s in frame.springs
        ),
        masses=tuple(
            replace(
                m,
                offset=carry(m.offset),
                inertia=tuple(map(tuple, (turn @ np.asarray(m.inertia, dtype=float) @ turn.T).tolist())),
            )
            for m in frame.masses
        ),
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_moving_and_turning_the_whole_machine_changes_nothing(seed):
    rng = np.random.default_rng(seed)
    turn, shift = Rotation.random(rng=rng).as_matrix(), rng.uniform(-2000, 2000, 3)
    here, there = machine(), moved(machine(), turn, shift)
    assert [m.frequency for m in frame_modes(there, 6)] == pytest.approx(
        [m.frequency for m in frame_modes(here, 6)], rel=1e-6
    )
    C = compliance(here, "tool")
    assert compliance(there, "tool") == pytest.approx(turn @ C @ turn.T, rel=1e-6, abs=1e-8 * C.max())
    load = np.array([7.0, -20.0, 11.0])
    a = solve(here, {"tool": (*load, 0, 0, 0)})
    b = solve(there, {"tool": (*(turn @ load), 0, 0, 0)})
    assert b.shares == pytest.approx(a.shares, rel=1e-6, abs=1e-12)
    most = max(abs(f.My) for f in a.forces["bridge"])
    for one, other in zip(a.forces["bridge"], b.forces["bridge"], strict=True):
        assert (other.My, other.Mz, other.T) == pytest.approx((one.My, one.Mz, one.T), abs=1e-6 * most)


def test_energy_shares_add_up_and_are_the_work_of_the_load():
    frame = machine()
    found = solve(frame, {"tool": (10, 20, -30, 0, 0, 0)})
    assert sum(found.shares.values()) == pytest.approx(1.0, abs=1e-14)
    assert sum(found.energy.values()) == pytest.approx(found.work, rel=1e-9)
    assert found.work == pytest.approx(np.array([10, 20, -30]) @ found.motions["tool"][:3] / 2, rel=1e-12)
    assert set(found.shares) == {"left column", "right column", "bridge", "block 1", "block 2", "belt"}
    assert all(share >= 0 for share in found.shares.values())
    for name, kinds in found.kinds.items():
        assert sum(kinds.values()) == pytest.approx(found.energy[name], rel=1e-6)
    for mode in frame_modes(frame, 5):
        assert sum(mode.strain.values()) == pytest.approx(1.0, abs=1e-12)
        assert sum(mode.kinetic.values()) == pytest.approx(1.0, abs=1e-9)


def test_compliance_is_the_motion_under_unit_forces_and_symmetric():
    frame = machine()
    C = compliance(frame, "tool")
    for axis in range(3):
        load = np.eye(6)[axis]
        assert solve(frame, {"tool": load}).motions["tool"][:3] == pytest.approx(
            C[:, axis], rel=1e-9, abs=1e-12
        )
    assert pytest.approx(C.T) == C
    pair = compliance(frame, "tool", "left top")
    both = solve(frame, {"tool": (0, 0, 1, 0, 0, 0), "left top": (0, 0, -1, 0, 0, 0)}).motions
    assert (both["tool"] - both["left top"])[:3] == pytest.approx(pair[:, 2], rel=1e-9, abs=1e-12)


def test_a_stiffened_link_never_softens_the_tool():
    # Rayleigh: adding stiffness lowers every compliance, and by what its share of the energy says to first order.
    frame = machine()
    direction = np.array([0.3, 0.9, -0.4])
    before = direction @ compliance(frame, "tool") @ direction
    shares = solve(frame, {"tool": (*direction, 0, 0, 0)}).shares
    for i, spring in enumerate(frame.springs):
        firmer = replace(spring, stiffness=tuple(1.001 * k for k in spring.stiffness))
        after = compliance(
            replace(frame, springs=(*frame.springs[:i], firmer, *frame.springs[i + 1 :])), "tool"
        )
        change = 1 - direction @ after @ direction / before
        assert change == pytest.approx(0.001 * shares[spring.name], rel=2e-3, abs=1e-10)


def test_an_element_mesh_changes_no_deflection():
    rough, fine = (
        replace(machine(), beams=tuple(replace(b, elements=n) for b in machine().beams)) for n in (1, 24)
    )
    assert compliance(rough, "tool") == pytest.approx(compliance(fine, "tool"), rel=1e-7, abs=1e-12)


def test_frequencies_converge_with_the_fourth_power_of_the_mesh():
    # Consistent mass on exact static shapes: order 4 in frequency for a slender beam, 2 where twist alone moves.
    L, counts = 4000.0, (4, 8, 16, 32)
    exact_root = 7.853204624095838  # second root of cosh x cos x = 1
    exact = exact_root**2 * math.sqrt(EI / (MASS * L**4)) / (2 * math.pi)
    misses = []
    for n in counts:
        frame = bar(L, props(), ("a", "b"), inertia(yy=1e-9, zz=1e-9), elements=n)
        misses.append(frame_modes(frame, 2)[1].frequency / exact - 1)
    slope = np.polyfit(np.log(counts), np.log(misses), 1)[0]
    assert slope == pytest.approx(-4.0, abs=0.3)
    assert misses[1] < 2e-3
    twist = []
    shaft = math.sqrt(1e10 / (MASS * 1400)) / (4 * L)
    for n in counts:
        frame = bar(L, props(GJ=1e10, EIy=1e14, EIz=1e14), ("a",), inertia(yy=700, zz=700), elements=n)
        twist.append(frame_modes(frame, 1)[0].frequency / shaft - 1)
    assert np.polyfit(np.log(counts), np.log(twist), 1)[0] == pytest.approx(-2.0, abs=0.2)


def test_forces_along_a_member_balance_the_loads():
    # Simply supported in three dimensions, load off the node line: statics alone gives every force.
    p = props(centroid=(3.0, 4.0), shear_centre=(10.0, -6.0), EA=7e7, GJ=1e10, GAz=1e7, GAy=1e7, EIz=4e10)
    frame = replace(
        bar(800.0, p, (Hold("a", PINNED), Hold("b", ROLLER)), elements=4, axis=(0.0, 0.0)), masses=()
    )
    found = solve(frame, {"m": (0, 0, 100, 0, 0, 0), "b": (60, 0, 0, 700, 0, 0)}).forces["bar"]
    before = next(f for f in found if f.x == 200.0)
    assert (before.N, before.Vz, before.Vy) == pytest.approx((60, 50, 0), abs=1e-7)
    # From the far side, 100 at x = 400 and the reaction -50 at 800, both at y = z = 0, and the pull 60 there too.
    # My about the centroid at z = 4: the pull sits 4 mm below it.
    assert before.My == pytest.approx(50 * 200 - 60 * 4, rel=1e-9)
    # T about the shear centre at y = 10: the torque 700 and Vz = 50 at y = 0.
    assert pytest.approx(700 + 50 * (0 - 10.0), rel=1e-9) == before.T
    jump = [f for f in found if f.x == 400.0]
    assert len(jump) == 2
    assert jump[0].Vz - jump[1].Vz == pytest.approx(100)


def test_a_load_beside_the_shear_centre_spends_its_energy_in_twist():
    # Force F on the axis, shear centre e off it: twist energy (F e)^2 L / 2GJ.
    e, L, F = 12.0, 800.0, 20.0
    p = props(shear_centre=(e, 0.0), GJ=1e10)
    kinds = solve(bar(L, p, ("a",), axis=(0.0, 0.0)), {"b": (0, 0, F, 0, 0, 0)}).kinds["bar"]
    assert kinds["twist"] == pytest.approx((F * e) ** 2 * L / (2 * p.GJ), rel=1e-6)
    assert kinds["bending"] == pytest.approx(F**2 * L**3 / (6 * EI), rel=1e-6)


def test_rigid_links_are_exact_and_may_close_a_loop():
    # A rigid arm e on a cantilever's tip: tip force turns into moment; closing the arms into a ring changes nothing.
    L, e = 600.0, 150.0
    p = props(EA=7e7, GJ=1e10, EIz=4e10)
    nodes = (Node("a", (0, 0, 0)), Node("b", (L, 0, 0)), Node("c", (L, e, 0)), Node("d", (L, e, 90)))
    frame = Frame(
        nodes,
        (BeamLink("arm", "a", "b", properties=p),),
        rigids=(Rigid("1", "b", "c"), Rigid("2", "c", "d"), Rigid("3", "d", "b")),
        held=("a",),
    )
    z = solve(frame, {"c": (0, 0, 1, 0, 0, 0)}).motions["c"][2]
    assert z == pytest.approx(L**3 / (3 * EI) + e * e * L / p.GJ, rel=1e-6)
    two = replace(frame, rigids=frame.rigids[:2])
    assert compliance(two, "d") == pytest.approx(compliance(frame, "d"), rel=1e-12)


def test_quick_enough_for_a_map_of_positions():
    def at(x):
        frame = machine()
        return replace(
            frame,
            nodes=tuple(
                replace(n, at=(n.at[0] + x, *n.at[1:])) if n.at[0] in (430, 570, 500) else n
                for n in frame.nodes
            ),
        )

    places = [float(x) for x in np.linspace(-300, 300, 9)]
    for x in places:
        compliance(at(x), "tool")  # warm
    times = []
    for _ in range(3):
        start = time.perf_counter()
        for x in places:
            compliance(prepare(at(x)), "tool")
        times.append(time.perf_counter() - start)
    start = time.perf_counter()
    frame_modes(at(0.0), 8)
    modes = time.perf_counter() - start
    assert min(times) < 1.0, times
    assert modes < 1.0


def test_springs_of_a_whole_matrix_couple_as_it_says():
    k = np.diag([1e3, 2e3, 3e3, 1e6, 2e6, 3e6])
    k[0, 4] = k[4, 0] = 1e4
    frame = Frame((Node("n", (0, 0, 0)),), springs=(Spring("s", "n", None, tuple(map(tuple, k.tolist()))),))
    found = solve(frame, {"n": (5, 0, 0, 0, 0, 0)}).motions["n"]
    assert found == pytest.approx(np.linalg.solve(k, [5, 0, 0, 0, 0, 0]), rel=1e-9, abs=1e-15)


def test_shapes_follow_the_beam():
    L = 2000.0
    mode = frame_modes(bar(L, props(), (Hold("a", PINNED), Hold("b", ROLLER)), elements=12), 1)[0]
    x, shape = mode.along["bar"]
    wanted = np.sin(math.pi * x / L)
    assert shape[:, 2] / shape[:, 2][np.argmax(np.abs(shape[:, 2]))] == pytest.approx(wanted, abs=1e-3)
    # Modal mass 1 tonne: amplitude sqrt(2/(m L)).
    assert np.abs(shape[:, 2]).max() == pytest.approx(math.sqrt(2 / (MASS * L)), rel=1e-3)
    for a, b in itertools.pairwise(x):
        assert b > a
