"""The member as a beam against the whole member in solid elements: free frequencies, and twist at a notch."""

import importlib.util
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from sparwright.job.models import Material
from sparwright.loop.elements import Stretch
from sparwright.loop.frame import BeamLink, Frame, Node, frame_modes
from sparwright.loop.inertia import part_inertia, plain_inertia
from sparwright.loop.racking_note import racking_warning
from sparwright.stiffness.along import member_along
from sparwright.stiffness.bay import mesh_options, pattern_properties
from sparwright.stiffness.pattern import Cut, Pattern
from sparwright.stiffness.racking import racking
from sparwright.stiffness.section import section_properties
from sparwright.stock.model import Member, NotchCut, Pocket
from sparwright.stock.section import section_from_polygon

PITCH, ACROSS, WALL, LENGTH, PERIODS = 26.0, 22.0, 4.0, 885.0, 32
METAL = Material(
    name="test metal",
    modulus=69500,
    poisson=0.33,
    density=2700,
    proof_strength=160,
    tensile_strength=205,
    cutting_force=750,
    cutting_exponent=0.23,
    source="made up for the tests",
)
TUBE = section_from_polygon(box(0, 0, 80, 40).difference(box(4, 4, 76, 36)), "rectangular tube 80 x 40 x 4")
FACES = [f for f in TUBE.faces if f.width > 70]


@pytest.fixture(scope="module")
def solids():
    """The module with the solid models, which lies beside this one."""
    spec = importlib.util.spec_from_file_location("solid_modes", Path(__file__).with_name("solid_modes.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def hexagons(skin: float, periods: int) -> Pattern:
    """Three staggered rows of sharp hexagons in both wide faces."""
    angles = np.radians(30 + 60 * np.arange(6))
    one = Polygon(ACROSS / math.sqrt(3) * np.column_stack([np.cos(angles), np.sin(angles)]))
    row = PITCH * math.sqrt(3) / 2
    depth = WALL - skin if skin else WALL + 0.2
    cuts = tuple(
        Cut(face, translate(one, PITCH * (k + 0.25 + 0.5 * abs(i)), row * i), depth)
        for face in FACES
        for i in (-1, 0, 1)
        for k in range(periods)
    )
    return Pattern(PITCH * periods, 0.0, cuts)


def beam_modes(skin: float, size: float):
    """Free frequencies of the beam by kind, lowest first: plain ends and the field between them.

    The field's constants come from four periods with the mesh of the whole, so that what the mesh itself adds to the
    stiffness (windows at order 2: 10 to 17 % in GJ) is the same in both.
    """
    intact = section_properties(TUBE, METAL)
    bay = pattern_properties(TUBE, METAL, hexagons(skin, 4), order=2, size=size, open_through=not skin)
    density = METAL.density * 1e-12
    end = (LENGTH - PERIODS * PITCH) / 2
    pockets = tuple(
        Pocket(str(i), c.face.name, "f", f"k{i}", (0, 0), c.outline, (), 0, min(c.depth, WALL), skin, 0)
        for i, c in enumerate(hexagons(skin, 1).copies())
    )
    # Copies reach over the period's ends, where the part inside counts.
    worked = part_inertia(Member("t", TUBE, LENGTH, METAL, pockets=pockets), density, 0.0, PITCH)
    plain = plain_inertia(TUBE.shape, density)
    stretches = (
        Stretch(0.0, end, intact, plain),
        Stretch(end, LENGTH - end, bay, worked),
        Stretch(LENGTH - end, LENGTH, intact, plain),
    )
    nodes = (Node("a", (0, 0, 0)), Node("b", (LENGTH, 0, 0)))
    frame = Frame(nodes, (BeamLink("member", "a", "b", stretches=stretches, elements=40),))
    found: dict[str, list[float]] = {"stretch": [], "y": [], "z": [], "twist": []}
    for mode in frame_modes(frame, 9, free=6):
        squares = (mode.along["member"][1] ** 2).sum(axis=0)[:4] * [1, 1, 1, 40**2 + 20**2]
        found[list(found)[int(squares.argmax())]].append(mode.frequency)
    return found


@pytest.mark.slow
@pytest.mark.parametrize(("skin", "size"), [(0.0, 1.0), (1.0, 1.4)], ids=["windows", "skin 1 mm"])
def test_free_frequencies_of_a_tube_with_hexagons(skin, size, solids):
    whole = hexagons(skin, PERIODS)
    end = (LENGTH - whole.period) / 2
    options = mesh_options(TUBE, hexagons(skin, 1), size, not skin)
    moved = tuple(replace(c, outline=translate(c.outline, end)) for c in whole.cuts)
    solid, unknowns = solids.free_modes(TUBE, Pattern(LENGTH, 0.0, moved), METAL, options, 2, 6)
    assert unknowns > 100_000
    beam = beam_modes(skin, size)
    rack = racking(TUBE, METAL, hexagons(skin, 1))
    kinds: dict[str, list[float]] = {}
    for mode in solid:
        kinds.setdefault(mode.kind, []).append(mode.frequency)
    print(
        {k: [round(f, 1) for f in v] for k, v in kinds.items()},
        {k: [round(f, 1) for f in v] for k, v in beam.items()},
    )
    for kind, count in (("z", 2), ("y", 1)):
        assert beam[kind][:count] == pytest.approx(kinds[kind][:count], rel=0.01)
    for found, wanted in zip(beam["twist"], kinds["twist"], strict=False):
        lowered = rack.torsion(found)
        if not racking_warning(found, float(rack.frequencies[0]), lowered):
            assert found == pytest.approx(wanted, rel=0.02)
        assert 0.98 * lowered < wanted < 1.02 * found
    assert len(kinds["twist"]) >= 1


@pytest.mark.slow
@pytest.mark.parametrize(("depth", "width"), [(30.0, 14.0), (80.0, 14.0), (30.0, 30.0)])
def test_twist_at_a_notched_end(depth, width, solids):
    # The end kept in shape but free to warp; what the notch adds to the plain tube's twist.
    length = 250.0
    top = next(f for f in FACES if f.normal[1] > 0.9)
    cut = NotchCut("n", top.name, "datum", box(-5, -width / 2, depth, width / 2), 0.0, WALL, 0.0)
    intact = section_properties(TUBE, METAL)
    plain, notched = (solids.end_twist(TUBE, METAL, length, notches, 2) for notches in ((), (cut,)))
    parts = member_along(
        Member("t", TUBE, length, METAL, notches=(cut,)),
        intact,
        lambda p: pattern_properties(TUBE, METAL, p, order=2, open_through=True),
        lambda bays: pytest.fail("no field here"),
    )
    added = sum(p.length * (1 / p.properties.GJ - 1 / intact.GJ) for p in parts)
    print(depth, width, (notched - plain) * intact.GJ, added * intact.GJ)
    assert plain == pytest.approx(length / intact.GJ, rel=0.03)
    # To the soft side: 1 and 11 % for notches of 30 mm, 28 % for the one as deep as the section is wide.
    assert 0.98 < added / (notched - plain) < (1.15 if depth < 40 else 1.35)
    free_to_warp = depth * (1 / parts[0].softest_GJ - 1 / intact.GJ)
    assert free_to_warp > 20 * (notched - plain)
