# ruff: noqa: SIM300 (the trade writes EA and GJ in capitals; they are no constants)
"""One period of the pattern against the section, against earlier runs, and against laws.

The table of ratios is our own earlier trial (finer mesh, order 3), kept to notice a change: it is no outside truth.
The outside check of the method is the whole member in test_whole_member.py.
"""

import math
from dataclasses import replace

import pytest
from shapely.geometry import box

from sparwright.stiffness import pattern
from sparwright.stiffness.bay import bay_properties, pattern_properties, stretch_properties
from sparwright.stiffness.model import kept
from sparwright.stiffness.pattern import BayError, Pattern, Period, field_pattern, periods, stretches
from sparwright.stiffness.section import section_properties

BENDING = ("EA", "EIy", "EIz")
STIFFNESSES = (*BENDING, "GJ", "GAy", "GAz")


@pytest.fixture(scope="module")
def tubes(kit):
    """The two tubes of the earlier trial: 80 x 40 x 4 and 100 x 50 x 3, sharp corners, lying on the wide side."""
    return {4: kit.section(width=80, height=40, wall=4), 3: kit.section(width=100, height=50, wall=3)}


@pytest.fixture(scope="module")
def designs(kit, tubes):
    """Members of the earlier trial, by its names; the number is the skin, 0 a window."""
    hexes = {"pocket": "hexagon", "cell": 26, "rib": 4, "rows": 3}
    grid = {"pocket": "triangle", "cell": 40, "rib": 4, "rows": 2, "radius": 2}
    rounds = {"pocket": "round", "cell": 25, "rib": 5, "rows": 3}

    def fields(wall, faces, spec, skin):
        return kit.member(tubes[wall], [kit.field_on(tubes[wall], f, wall, skin=skin, **spec) for f in faces])

    wide = ("top", "bottom")
    return {
        "A1": fields(4, wide, hexes, 1),
        "A0": fields(4, wide, hexes, 0),
        "C1": fields(3, wide, grid, 1),
        "A0 r 1.5": fields(4, wide, hexes | {"radius": 1.5}, 0),
        "D0": fields(3, ("top",), rounds, 0),
    }


@pytest.fixture(scope="module")
def solved(designs):
    """Intact and reworked, computed once each when asked for."""
    done = {}

    def solve(name):
        if name not in done:
            m = designs[name]
            done[name] = section_properties(m.section, m.material), bay_properties(m)
        return done[name]

    return solve


# Own earlier trial, regression: mass, EA, EIy, EIz, GJ kept. Windows with sharp corners, which no cutter leaves,
# need a finer mesh than the house's: A0 is held to 2.5 % in GJ, its twin with corners of 1.5 mm to 1.5 %.
EARLIER = {
    "A1": (0.676, 0.5922, 0.4539, 0.8031, 0.3864),
    "A0": (0.568, 0.4159, 0.2605, 0.7168, 0.0507),
    "C1": (0.785, 0.7346, 0.6465, 0.9231, 0.6048),
    "D0": (0.869, 0.8100, 0.7008, 0.9511, 0.3839),
}


@pytest.mark.parametrize("name", EARLIER)
def test_ratios_of_the_earlier_trial(solved, name):
    intact, reworked = solved(name)
    ratios = kept(reworked, intact)
    for key, value in zip(("mass", "EA", "EIy", "EIz", "GJ"), EARLIER[name], strict=True):
        tolerance = 2.5e-2 if (name, key) == ("A0", "GJ") else 1.5e-2
        assert ratios[key] == pytest.approx(value, rel=tolerance), key


@pytest.mark.slow
def test_window_corners_of_the_earlier_trial(solved):
    """GJ 0.768e9 N mm² with corners of 1.5 mm against 0.734e9 sharp (own earlier trial): 4.6 % more."""
    _, rounded = solved("A0 r 1.5")
    assert rounded.GJ == pytest.approx(0.768e9, rel=1.5e-2)
    assert rounded.GJ > 1.02 * solved("A0")[1].GJ


def test_intact_tubes_of_the_earlier_trial(kit, tubes):
    """Own earlier trial, N and N mm²."""
    small, large = (section_properties(tubes[wall], kit.metal()) for wall in (4, 3))
    assert (small.EA, small.EIy, small.EIz, small.GJ) == pytest.approx(
        (62.272e6, 15.989e9, 49.438e9, 14.483e9), rel=1e-3
    )
    assert (large.EA, large.EIy, large.EIz, large.GJ) == pytest.approx(
        (60.048e6, 26.020e9, 77.923e9, 23.085e9), rel=1e-3
    )
    assert (small.GAy, small.GAz) == pytest.approx((14.91e6, 5.277e6), rel=1e-2)


def test_pattern_on_one_face_moves_the_shear_centre(solved):
    """D0: centroid 5.5 below the middle, shear centre 29.5 below (own earlier trial, whole member and bay)."""
    _, window = solved("D0")
    assert window.centroid == pytest.approx((50, 25 - 5.5), abs=0.1)
    assert window.shear_centre == pytest.approx((50, 25 - 29.5), abs=0.6)


def test_symmetric_pattern_keeps_the_centres(solved):
    for name in ("A1", "A0", "C1"):
        _, p = solved(name)
        middle = (40, 20) if name != "C1" else (50, 25)
        assert p.centroid == pytest.approx(middle, abs=0.02)
        assert p.shear_centre == pytest.approx(middle, abs=0.3)


def test_taking_the_skin_out_lowers_every_stiffness_but_shear_across_the_windows(solved):
    _, with_skin = solved("A1")
    _, without = solved("A0")
    for key in (*BENDING, "GJ", "GAy"):
        assert getattr(without, key) < getattr(with_skin, key), key


def test_metal_bounds_what_is_kept(solved):
    """Axial stiffness cannot keep a greater share than the metal does (Voigt's bound); windows keep less than skins."""
    for name in EARLIER:
        ratios = kept(*reversed(solved(name)))
        assert ratios["EA"] < ratios["mass"]
        assert 0 < ratios["GJ"] < 1


def test_mass_is_the_metal_left(designs, solved):
    for name in ("C1", "D0"):
        m = designs[name]
        _, p = solved(name)
        taken = sum(sum(o.area for o in b.outlines) * b.depth / b.pitch for b in m.bays)
        expected = m.material.density * (m.section.shape.area - taken) * 1e-6
        assert p.mass_kg_per_m == pytest.approx(expected, rel=5e-4)


def test_spread_covers_the_distance_to_the_finer_trial(solved):
    for name in ("A1", "A0", "D0"):
        intact, reworked = solved(name)
        assert set(reworked.spread) == set(STIFFNESSES)
        off = reworked.GJ / intact.GJ / EARLIER[name][4] - 1
        assert abs(off) < reworked.spread["GJ"]


@pytest.mark.parametrize(
    ("shape", "measures", "period"),
    [
        ("rectangular tube", {"width": 50, "height": 100, "wall": 4, "outer_radius": 4}, 12),
        ("channel", {"width": 40, "height": 60, "web": 4, "flange": 5}, 12),
        ("angle", {"width": 60, "height": 40, "thickness": 5}, 12),
    ],
)
def test_plain_prism_gives_the_section_back(kit, shape, measures, period):
    """The three-dimensional bay and the two-dimensional section are different code for one thing: 0.3 %."""
    section, metal = kit.section(shape, **measures), kit.metal()
    plain = section_properties(section, metal)
    prism = pattern_properties(section, metal, Pattern(period, 0.0, ()))
    for key in ("mass_kg_per_m", *STIFFNESSES):
        assert getattr(prism, key) == pytest.approx(getattr(plain, key), rel=3e-3), key
    assert prism.EIyz == pytest.approx(plain.EIyz, abs=3e-3 * plain.EIy)
    assert prism.centroid == pytest.approx(plain.centroid, abs=0.01)
    assert prism.shear_centre == pytest.approx(plain.shear_centre, abs=0.05)


def test_where_the_period_is_cut_open_does_not_matter(kit, designs):
    """Pockets that cross the ends are cut at both; order 2 and its mesh scatter, 2 %."""
    m = designs["D0"]
    laid = field_pattern(m.section, m.bays, windows=False)
    here, there = (
        pattern_properties(m.section, m.material, laid.shifted(by), order=2, mirrored=False)
        for by in (0.0, 0.37)
    )
    for key in STIFFNESSES:
        assert getattr(there, key) == pytest.approx(getattr(here, key), rel=2e-2), key
    assert there.mass_kg_per_m == pytest.approx(here.mass_kg_per_m, rel=1e-4)


def test_sparse_window_in_a_plate_softens_as_the_dilute_limit(kit):
    """Few round holes of area share phi in a plate: in-plane stiffness falls as 1 - 3 phi (dilute limit, Hashin),
    and stays under the bound (1 - phi)/(1 + 2 phi); a strip one row wide is free at its edges, so 10 % of the fall."""
    bar = kit.section("flat bar", width=60, thickness=3)
    field = kit.field_on(bar, "top", 3, pocket="round", cell=60, rib=48, rows=1, skin=0)
    m = kit.member(bar, [field])
    ratio = kept(bay_properties(m, order=2), section_properties(bar, m.material))["EA"]
    phi = math.pi * 6**2 / 60**2
    assert 1 - ratio == pytest.approx(3 * phi, rel=0.1)
    assert ratio < 1 - phi


def test_no_fields_give_the_section(kit, tubes):
    m = kit.member(tubes[4])
    plain, section = bay_properties(m), section_properties(tubes[4], m.material)
    assert plain.method == "section"
    assert plain.GJ == pytest.approx(section.GJ, rel=1e-9)


def test_two_pitches_to_one_share_a_period(kit, tubes):
    coarse = kit.field_on(tubes[4], "top", 4, pocket="round", cell=40, rib=20, rows=1, skin=1)
    fine = kit.field_on(tubes[4], "bottom", 4, pocket="round", cell=20, rib=8, rows=1, skin=1)
    nearly = replace(fine, pitch=19.95)
    assert periods((coarse, fine)) == (Period(40, (1, 2)),)
    assert periods((fine, coarse)) == (Period(40, (2, 1)),)
    laid = field_pattern(tubes[4], (coarse, nearly), windows=False)
    assert laid.misfit == pytest.approx(40 / 39.9 - 1)
    assert len(laid.cuts) == 3


def test_two_odd_pitches_are_bracketed(kit, tubes):
    """40 and 29 mm: three of 29 to two of 40 shortens them by 8.0 %, four to three lengthens them by 3.4 %."""
    a = kit.field_on(tubes[4], "top", 4, pocket="round", cell=40, rib=14, rows=1, skin=1)
    b = kit.field_on(tubes[4], "bottom", 4, pocket="round", cell=29, rib=14, rows=1, skin=1)
    below, above = periods((b, a))
    assert (below.length, below.counts) == (80, (3, 2))
    assert (above.length, above.counts) == (120, (4, 3))
    stretched = (80 / 87 - 1, 120 / 116 - 1)
    assert below.share * stretched[0] + above.share * stretched[1] == pytest.approx(0, abs=1e-12)
    assert below.share + above.share == pytest.approx(1)


def test_a_value_between_two_stretched_patterns_is_that_of_the_true_ones(kit, monkeypatch):
    """Pitches of 24 and 18 mm share a period of 72. Kept from it (at most three pitches), the answer comes from
    stretches of -11 and +33 %: 0.5 % in bending, 1.5 % in twist, and within what it says of itself."""
    tube = kit.section(width=40, height=30, wall=3)
    spec = {"pocket": "round", "rows": 1, "skin": 1}
    top, bottom = (
        replace(kit.field_on(tube, face, 3, cell=cell, rib=rib, **spec), span=(0, 240))
        for face, cell, rib in (("top", 24, 6), ("bottom", 18, 5))
    )
    true = stretch_properties(tube, kit.metal(), (top, bottom), order=2)
    monkeypatch.setattr(pattern, "MOST_PITCHES", 3)
    assert [p.counts for p in periods((top, bottom))] == [(2, 3), (1, 1)]
    between = stretch_properties(tube, kit.metal(), (top, bottom), order=2)
    for key in STIFFNESSES:
        tolerance = 5e-3 if key in BENDING else 1.5e-2
        assert getattr(between, key) == pytest.approx(getattr(true, key), rel=tolerance), key
        assert abs(getattr(between, key) / getattr(true, key) - 1) < between.spread[key]
    assert between.mass_kg_per_m == pytest.approx(true.mass_kg_per_m, rel=5e-4)
    assert between.shear_centre == pytest.approx(true.shear_centre, abs=0.15)


def test_a_near_miss_is_stretched_and_stated(kit):
    """Pitches of 20 and 20.15 mm: one period, and the 0.75 % of stretch is in the spread of every stiffness."""
    bar = kit.section(width=40, height=30, wall=3)
    spec = {"pocket": "round", "cell": 20, "rib": 6, "rows": 1, "skin": 1}
    top, bottom = (replace(kit.field_on(bar, f, 3, **spec), span=(0, 200)) for f in ("top", "bottom"))
    odd = replace(bottom, pitch=20.15)
    exact, missed = (
        stretch_properties(bar, kit.metal(), pair, order=2) for pair in ((top, bottom), (top, odd))
    )
    for key in STIFFNESSES:
        assert missed.spread[key] - exact.spread[key] == pytest.approx(1 - 20 / 20.15, abs=4e-3), key
        assert abs(getattr(missed, key) / getattr(exact, key) - 1) < missed.spread[key]


@pytest.mark.parametrize("cells", [(40, 29, 23.3), (90, 20)], ids=["three pitches", "a wide ratio"])
def test_pitches_without_a_common_period_are_refused(kit, tubes, cells):
    faces = ("top", "bottom", "front")
    bays = [
        kit.field_on(tubes[4], face, 4, pocket="round", cell=cell, rib=8, rows=1, skin=1)
        if cell < 80
        else replace(
            kit.field_on(tubes[4], face, 4, pocket="round", cell=40, rib=8, rows=1, skin=1), pitch=90.0
        )
        for face, cell in zip(faces, cells, strict=False)
    ]
    with pytest.raises(
        BayError, match=rf"rounds on top {cells[0]:.3f} mm, rounds on bottom {cells[1]:.3f} mm"
    ) as told:
        bay_properties(kit.member(tubes[4], bays))
    assert "neither may be more than 4 times the other" in str(told.value)
    assert "simple ratio" in str(told.value)


def test_fields_one_behind_the_other_give_the_weaker_stretch(kit):
    bar = kit.section("flat bar", width=20, thickness=6)
    spec = {"pocket": "round", "cell": 16, "rib": 4, "rows": 1}
    deep = replace(kit.field_on(bar, "top", 6, skin=1, **spec), span=(30, 330))
    shallow = replace(kit.field_on(bar, "top", 6, skin=3, **spec), span=(400, 800))
    assert stretches((deep, shallow)) == ((deep,), (shallow,))
    both, weak, strong = (
        bay_properties(kit.member(bar, bays), order=2) for bays in ([shallow, deep], [deep], [shallow])
    )
    for key in STIFFNESSES:
        least = min(getattr(weak, key), getattr(strong, key))
        assert getattr(both, key) == pytest.approx(least, rel=1e-6)
    assert both.mass_kg_per_m == pytest.approx(weak.mass_kg_per_m, rel=1e-9)


def test_fields_that_overlap_are_one_stretch(kit, tubes):
    spec = {"pocket": "round", "cell": 30, "rib": 10, "rows": 2, "skin": 1}
    top, bottom = kit.field_on(tubes[4], "top", 4, **spec), kit.field_on(tubes[4], "bottom", 4, **spec)
    later = replace(bottom, span=(top.span[0] + 10, top.span[1]))
    assert stretches((top, later)) == ((top, later),)


def test_a_member_cut_apart_is_told_clearly(kit):
    bar = kit.section("flat bar", width=80, thickness=4)
    field = kit.field_on(bar, "top", 4, pocket="square", cell=26, rib=4, rows=2, skin=0)
    apart = replace(field, outlines=(box(5, -60, 13, 60),))
    with pytest.raises(
        BayError, match=r"squares on top \(26.00 mm\) could not be computed in 4 attempts"
    ) as told:
        bay_properties(kit.member(bar, [apart]), order=2)
    assert "change rib or cell" in str(told.value)


def test_a_failed_mesh_says_nothing_on_standard_output(kit, tubes, capfd):
    """Doubled outlines make a solid the mesher refuses, loudly: the output stays clean for a command's JSON."""
    from netgen.meshing import NgException

    field = kit.field_on(tubes[3], "top", 3, pocket="round", cell=25, rib=5, rows=3, skin=1)
    good = field_pattern(tubes[3], (field,), windows=False).shifted(0.5)
    doubled = replace(good, cuts=good.cuts + tuple(replace(c, depth=c.depth + 1e-7) for c in good.cuts))
    with pytest.raises(NgException, match="Meshing failed"):
        pattern_properties(tubes[3], kit.metal(), doubled, order=2, mirrored=False)
    assert capfd.readouterr().out == ""


def test_ends_that_a_pocket_only_touches_are_refused_not_computed(kit):
    """A round pocket tangent to the cutting plane: the mesher then ties nothing, and all stiffness would be lost."""
    bar = kit.section(width=40, height=30, wall=3)
    spec = {"pocket": "round", "cell": 20, "rib": 6, "rows": 1}
    field = kit.field_on(bar, "top", 3, skin=1, **spec)
    laid = field_pattern(bar, (field,), windows=False).shifted(0.15)
    assert laid.cuts[0].outline.bounds[0] == pytest.approx(0)
    with pytest.raises(ValueError, match="ends of the period are not tied"):
        pattern_properties(bar, kit.metal(), laid, order=2, mirrored=False)


def test_order_must_be_two_or_more(designs):
    with pytest.raises(ValueError, match="order 2 or more"):
        bay_properties(designs["A1"], order=1)
