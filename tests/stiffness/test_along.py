"""The member divided along x: where constants change, what stands for a hole, a pocket and a notch."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from shapely.affinity import scale, translate
from shapely.geometry import Polygon, box

from sparwright.stiffness.along import member_along
from sparwright.stiffness.along_cuts import cell_pattern, features, pattern_key
from sparwright.stiffness.along_notch import open_twist_stiffness
from sparwright.stiffness.bay import pattern_properties
from sparwright.stiffness.pattern import field_pattern
from sparwright.stiffness.section import section_properties, wall_scale
from sparwright.stock.model import Hole, NotchCut, Pocket

WALL = 4.0
TUBE = {"width": 80, "height": 40, "wall": WALL}


@pytest.fixture(scope="module")
def tube(kit):
    """Tube 80 x 40 x 4, faces named top, bottom, front, back."""
    return kit.section(**TUBE)


@pytest.fixture(scope="module")
def intact(kit, tube):
    return section_properties(tube, kit.metal())


class Asked:
    """Constants that tell apart what they were asked for, and how often."""

    def __init__(self, intact):
        self.intact = intact
        self.patterns, self.sets = [], []

    def constants(self, pattern):
        self.patterns.append(pattern)
        return replace(self.intact, EIy=self.intact.EIy * (1 - 0.01 * len(self.patterns)))

    def fields(self, bays):
        self.sets.append(bays)
        return replace(self.intact, EIy=self.intact.EIy / (1 + len(bays)))


def hole(name, face, x, s=0.0, diameter=24.0, **more):
    given = {"kind": "drilled", "depth": WALL, "through": "wall"}
    return Hole(id=name, face=face, at=(x, s), diameter=diameter, **(given | more))


def pocket(name, face, outline, skin=0.0):
    return Pocket(name, face, name, name, (0, 0), outline, (), 0.0, WALL - skin, skin, 0.0)


def notch(name, face, inner, width, end="datum", length=1200.0):
    x = (-5.0, inner) if end == "datum" else (length - inner, length + 5.0)
    return NotchCut(name, face, end, box(x[0], -width / 2, x[1], width / 2), 2.0, WALL, 0.0)


def divided(member, asked):
    parts = member_along(member, asked.intact, asked.constants, asked.fields)
    assert parts[0].start == 0.0
    assert parts[-1].end == member.length
    for a, b in itertools.pairwise(parts):
        assert a.end == b.start
    assert all(p.length > 0 for p in parts)
    return parts


def test_a_plain_member_is_one_part(kit, tube, intact):
    parts = divided(kit.member(tube), Asked(intact))
    assert [(p.kind, p.length, p.properties) for p in parts] == [("plain", 1200.0, intact)]


def test_each_set_of_fields_is_asked_for_once(kit, tube, intact):
    top = kit.field_on(tube, "top", WALL, pocket="hexagon", cell=22, rib=4, skin=1)
    front = kit.field_on(tube, "front", WALL, pocket="hexagon", cell=22, rib=4, skin=1)
    top, front = replace(top, span=(50.0, 1150.0)), replace(front, span=(400.0, 700.0))
    asked = Asked(intact)
    parts = divided(kit.member(tube, (top, front)), asked)
    assert [(p.start, p.end, p.kind) for p in parts] == [
        (0.0, 50.0, "plain"),
        (50.0, 400.0, "field"),
        (400.0, 700.0, "field"),
        (700.0, 1150.0, "field"),
        (1150.0, 1200.0, "plain"),
    ]
    assert asked.sets == [(top,), (top, front)]
    assert parts[1].properties.EIy > parts[2].properties.EIy


def test_fields_that_end_a_little_apart_end_together(kit, tube, intact):
    top = kit.field_on(tube, "top", WALL, pocket="hexagon", cell=22, rib=4, skin=1)
    bottom = kit.field_on(tube, "bottom", WALL, pocket="hexagon", cell=22, rib=4, skin=1)
    member = kit.member(tube, (replace(top, span=(50.0, 1150.0)), replace(bottom, span=(55.0, 1140.0))))
    asked = Asked(intact)
    parts = divided(member, asked)
    assert [(p.start, p.end, p.kind) for p in parts] == [
        (0.0, 50.0, "plain"),
        (50.0, 1150.0, "field"),
        (1150.0, 1200.0, "plain"),
    ]
    assert asked.sets == [member.bays]


def test_a_hole_gets_its_length_and_the_larger_side_and_twins_are_asked_for_once(kit, tube, intact):
    member = replace(
        kit.member(tube), holes=(hole("one", "top", 300), hole("two", "top", 700), hole("end", "top", 20))
    )
    asked = Asked(intact)
    parts = divided(member, asked)
    assert [(p.start, p.end, p.names) for p in parts if p.kind == "hole"] == [
        (0.0, 72.0, ("end",)),
        (248.0, 352.0, ("one",)),
        (648.0, 752.0, ("two",)),
    ]
    assert [p.period for p in asked.patterns] == [72.0, 104.0]
    cut = asked.patterns[1].cuts[0]
    assert cut.outline.centroid.x == pytest.approx(52.0)
    assert cut.depth > WALL


def test_holes_over_one_another_share_a_stretch_and_near_ones_part_half_way(kit, tube, intact):
    holes = (
        hole("a", "top", 300),
        hole("b", "bottom", 310),
        hole("c", "top", 350),
        hole("d", "top", 400, through="all", depth=40),
    )
    asked = Asked(intact)
    parts = [p for p in divided(replace(kit.member(tube), holes=holes), asked) if p.kind == "hole"]
    assert [(p.names, p.start, p.end) for p in parts] == [
        (("a", "b"), 248.0, 330.0),
        (("c",), 330.0, 375.0),
        (("d",), 375.0, 452.0),
    ]
    assert [len(p.cuts) for p in asked.patterns] == [2, 1, 1]
    assert asked.patterns[2].cuts[0].depth > 40


def test_small_holes_are_named_but_not_counted(kit, tube, intact):
    few = tuple(hole(f"m4/{i}", "top", 100 + 300 * i, diameter=3.3) for i in range(4))
    asked = Asked(intact)
    parts = divided(replace(kit.member(tube), holes=few), asked)
    assert [(p.kind, p.names) for p in parts] == [("plain", ("m4/0", "m4/1", "m4/2", "m4/3"))]
    # Together they may take no more than a thousandth of the metal: a long row does count.
    row = tuple(hole(f"m4/{i}", "top", 15 + 10 * i, diameter=5.0) for i in range(110))
    parts = divided(replace(kit.member(tube), holes=row), asked)
    taken = sum(math.pi / 4 * 25 * WALL for p in parts if p.kind == "plain" for _ in p.names)
    assert sum(p.kind == "hole" for p in parts) > 90
    assert taken <= 0.001 * tube.shape.area * 1200
    assert len(asked.patterns) <= 4  # the row's own, and those at its ends


def test_what_a_counterbore_takes_is_counted_as_a_wider_hole(kit, tube):
    member = replace(kit.member(tube), holes=(hole("cb", "top", 300, diameter=6.6, counterbore=(11.0, 2.5)),))
    (found,) = features(member)
    assert found.volume == pytest.approx(math.pi / 4 * (11**2 * 2.5 + 6.6**2 * 1.5), rel=2e-3)
    through = hole("all", "top", 300, diameter=10, depth=40, through="all")
    (found,) = features(replace(kit.member(tube), holes=(through,)))
    assert found.volume == pytest.approx(math.pi * 25 * 8, rel=2e-3)


def test_under_a_field_only_what_takes_more_than_its_pockets_counts(kit, tube, intact):
    top = replace(
        kit.field_on(tube, "top", WALL, pocket="hexagon", cell=22, rib=4, skin=1), span=(50.0, 1150.0)
    )
    holes = (
        hole("small", "top", 300, diameter=16),
        hole("wide", "top", 600, diameter=40),
        hole("side", "front", 900),
    )
    asked = Asked(intact)
    parts = divided(replace(kit.member(tube, (top,)), holes=holes), asked)
    assert [p.names for p in parts if p.kind == "hole"] == [(top.field, "wide"), (top.field, "side")]
    assert "small" in next(p.names for p in parts if p.start <= 300 < p.end)
    whole = field_pattern(tube, (top,), windows=False)
    wide, side = asked.patterns
    assert side.period == pytest.approx(2 * whole.period)  # a pitch of 22 has no room for a hole of 24
    assert len(side.cuts) == 2 * len(whole.cuts) + 1
    # The wide hole takes two periods, and the pockets it meets were dropped.
    assert wide.period == pytest.approx(math.ceil((40 + 3) / whole.period) * whole.period)
    rim = wide.cuts[-1].outline
    assert not any(c.outline.intersects(rim) for c in wide.cuts[:-1])
    assert pytest.approx(50.0 + rim.centroid.x + wide.period * math.floor((600 - 50.0) / wide.period)) == 600


def test_patterns_know_their_likes(kit, tube):
    member = replace(kit.member(tube), holes=(hole("a", "top", 300), hole("b", "top", 777.7)))
    a, b = features(member)
    keys = [
        pattern_key(cell_pattern((f,), f.middle - w, f.middle + 48)) for f, w in ((a, 48), (b, 48), (b, 47))
    ]
    assert keys[0] == keys[1] != keys[2]


def test_a_window_s_softness_hardly_depends_on_the_period(kit, tube, intact):
    # Compliance that one window adds to the plain stretch, about a fixed axis: nearly the same with twice the period,
    # so a stretch of the section's larger side holds the disturbance. By the bay.
    metal = kit.metal()
    window = pocket("w", "top", box(500, -20, 540, 20))
    (found,) = features(replace(kit.member(tube), pockets=(window,)))

    def added(period):
        low = found.middle - period / 2
        pattern = cell_pattern((found,), low, low + period)
        p = pattern_properties(tube, metal, pattern, order=2, open_through=True)
        e = p.centroid[1] - intact.centroid[1]
        along = 1 / p.EA + e**2 / p.EIy - 1 / intact.EA
        return [period * along] + [
            period * (1 / getattr(p, k) - 1 / getattr(intact, k)) for k in ("EIy", "EIz", "GJ")
        ]

    near, far = added(120.0), added(240.0)
    assert near == pytest.approx(far, rel=0.1)
    assert near[3] > far[3]  # the shorter period errs to the soft side in twist
    assert min(far) > 0


def test_a_small_hole_softens_by_three_times_what_it_takes(kit, tube, intact):
    # Kirsch's plate: a round hole adds 3 s^2 V/2E to the energy of a pull s, and 4/(1 + nu) t^2 V/2G to that of a
    # shear t (from memory); V its metal. As lengths of plain tube: 3 V/A, and that times J/(2 Am t)^2. By the bay.
    metal = kit.metal()
    (found,) = features(replace(kit.member(tube), holes=(hole("h", "top", 500, diameter=10),)))
    pattern = cell_pattern((found,), 455, 545)
    p = pattern_properties(tube, metal, pattern, order=3, open_through=True)
    e = p.centroid[1] - intact.centroid[1]
    along = pattern.period * (intact.EA / p.EA + intact.EA * e**2 / p.EIy - 1)
    A, J = intact.EA / metal.modulus, intact.GJ / metal.shear_modulus
    assert along == pytest.approx(3 * found.volume / A, rel=0.06)
    twist = pattern.period * (intact.GJ / p.GJ - 1)
    # A tenth of a per cent of the bay's GJ, its own error, is 0.09 mm of tube here, of 1.09.
    assert twist == pytest.approx(4 / 1.33 * found.volume * J / (2 * 76 * 36 * WALL) ** 2, rel=0.15)


def test_the_shear_centre_moves_where_one_wall_is_open(kit, tube, intact):
    metal = kit.metal()
    member = replace(kit.member(tube), pockets=(pocket("w", "top", box(500, -20, 540, 20)),))
    parts = member_along(
        member,
        intact,
        lambda p: pattern_properties(tube, metal, p, order=2, open_through=True),
        lambda bays: pytest.fail("no field here"),
    )
    (part,) = (p for p in parts if p.kind == "pocket")
    assert (part.start, part.end) == (460.0, 580.0)
    top = next(f for f in tube.faces if f.name == "top")
    moved = np.subtract(part.properties.shear_centre, intact.shear_centre) @ top.normal
    assert moved < -1.0  # away from the open wall
    assert part.properties.GJ < 0.8 * intact.GJ


# --- notches --------------------------------------------------------------------------------------------


def test_a_notch_leaves_an_open_section(kit, tube):
    # Thin open section: J = sum of b t^3/3 along its middle line (any text), here 14 mm cut from the top.
    G = kit.metal().shear_modulus
    found = open_twist_stiffness(tube, kit.metal(), (notch("n", "top", 30, 14),))
    middle_line = 2 * (76 + 36) - 14
    assert found / G == pytest.approx(middle_line * WALL**3 / 3, rel=0.05)
    pair = (notch("a", "top", 30, 14), notch("b", "bottom", 30, 14))
    assert open_twist_stiffness(tube, kit.metal(), pair) / G == pytest.approx(
        (middle_line - 14) * WALL**3 / 3, rel=0.05
    )


def test_a_notch_is_half_a_slot(kit, tube, intact):
    cut = replace(
        notch("n", "top", 30, 14), outline=Polygon([(-5, -7), (28, -7), (30, -5), (30, 5), (28, 7), (-5, 7)])
    )
    asked = Asked(intact)
    first, rest = divided(replace(kit.member(tube), notches=(cut,)), asked)
    assert (first.kind, first.names, first.start, first.end, rest.kind) == (
        "notch",
        ("n",),
        0.0,
        70.0,
        "plain",
    )
    (pattern,) = asked.patterns
    assert pattern.period == 140.0
    slot = pattern.cuts[0].outline
    assert slot.bounds == (40.0, -7.0, 100.0, 7.0)
    assert slot.area == pytest.approx(2 * (30 * 14 - 4))
    assert len(slot.exterior.coords) == 9
    assert pattern.cuts[0].depth > WALL
    assert first.softest_GJ < 0.02 * intact.GJ
    assert rest.softest_GJ is None
    # The same at the far end is the same pattern, and is not asked for again.
    far = replace(cut, id="m", end="far", outline=translate(scale(cut.outline, -1, 1, origin=(0, 0)), 1200))
    asked = Asked(intact)
    parts = divided(replace(kit.member(tube), notches=(cut, far)), asked)
    assert [(p.start, p.end, p.kind) for p in parts] == [
        (0.0, 70.0, "notch"),
        (70.0, 1130.0, "plain"),
        (1130.0, 1200.0, "notch"),
    ]
    assert len(asked.patterns) == 1


def test_notches_of_one_end_go_together_and_near_fields_shorten_them(kit, tube, intact):
    top = replace(
        kit.field_on(tube, "top", WALL, pocket="hexagon", cell=22, rib=4, skin=1), span=(50.0, 1150.0)
    )
    pair = (notch("a", "top", 30, 14), notch("b", "front", 20, 10))
    asked = Asked(intact)
    parts = divided(replace(kit.member(tube, (top,)), notches=pair), asked)
    assert [(p.start, p.end, p.kind) for p in parts[:2]] == [(0.0, 50.0, "notch"), (50.0, 1150.0, "field")]
    assert (asked.patterns[0].period, len(asked.patterns[0].cuts)) == (100.0, 2)


def test_a_notch_under_a_field_multiplies_both(kit, tube, intact):
    front = replace(
        kit.field_on(tube, "front", WALL, pocket="hexagon", cell=22, rib=4, skin=1), span=(30.0, 1150.0)
    )
    cut = notch("n", "top", 60, 14)
    asked = Asked(intact)
    parts = divided(replace(kit.member(tube, (front,)), notches=(cut,)), asked)
    alone, both, field = parts[:3]
    assert (alone.end, both.names, field.kind) == (30.0, ("n", front.field), "field")
    assert both.end == pytest.approx(60 + wall_scale(tube.shape))
    assert both.properties.EIy == pytest.approx(alone.properties.EIy / 2)
    assert pytest.approx(alone.properties.EA) == both.properties.EA


def test_twist_at_a_notch_against_the_solid_end(kit, tube, intact):
    # A tube 250 mm long, far end held, the notched end turned as a rigid figure in its plane and free to warp, in
    # solid elements of order 2: the notch of 30 x 14 mm adds 7.03 % to the plain tube's twist. Reckoned beforehand.
    metal = kit.metal()
    member = replace(kit.member(tube), notches=(notch("n", "top", 30, 14),))
    first = member_along(
        member,
        intact,
        lambda p: pattern_properties(tube, metal, p, order=2, open_through=True),
        lambda bays: pytest.fail("no field here"),
    )[0]
    added = first.length * (1 / first.properties.GJ - 1 / intact.GJ)
    assert added * intact.GJ / (0.9865 * 250) == pytest.approx(0.0703, rel=0.1)


def test_the_bridge_beam_is_divided_as_drawn(bridge_member):
    intact = section_properties(bridge_member.section, bridge_member.material)
    asked = Asked(intact)
    parts = divided(bridge_member, asked)
    assert [p.kind for p in parts] == ["plain", "field", "plain"]
    assert (parts[1].start, parts[1].end) == (73.0, 1107.0)
    assert len(asked.sets) == 1
    assert not asked.patterns  # every hole and the notch of 8 mm are too small to matter
    assert parts[0].names == ("cable",)
    assert {"cable", "head-rail/3", "switch/1", "stop/2"} <= {n for p in parts for n in p.names}


def test_moved_holes_move_the_parts_and_nothing_else(kit, tube, intact):
    asked = Asked(intact)
    for shift in (0.0, 123.4):
        holes = (hole("a", "top", 300 + shift), hole("b", "front", 500 + shift))
        parts = divided(replace(kit.member(tube), holes=holes), asked)
        spans = np.array([(p.start, p.end) for p in parts if p.kind == "hole"]) - shift
        assert spans == pytest.approx(np.array([(248, 352), (448, 552)]))
    assert len(asked.patterns) == 4
    assert pattern_key(asked.patterns[0]) == pattern_key(asked.patterns[2])
