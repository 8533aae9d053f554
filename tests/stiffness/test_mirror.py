"""Mirror planes: found where they are, and the part between them tells what the whole period tells."""

from dataclasses import replace

import pytest
from shapely.affinity import translate

from sparwright.stiffness.bay import pattern_properties
from sparwright.stiffness.mirror import NO_MIRRORS, Mirrors, find_mirrors, part_between
from sparwright.stiffness.pattern import Pattern, field_pattern

STIFFNESSES = ("EA", "EIy", "EIz", "GJ", "GAy", "GAz")


@pytest.fixture(scope="module")
def tube(kit):
    return kit.section(width=80, height=40, wall=4)


def pattern_of(kit, tube, faces, **spec):
    bays = tuple(kit.field_on(tube, face, 4, skin=1, **spec) for face in faces)
    return field_pattern(tube, tuple(replace(b, span=bays[0].span) for b in bays), windows=False)


HEXES = {"pocket": "hexagon", "cell": 26, "rib": 4, "rows": 3, "radius": 1.5}


def test_two_like_faces_are_mirrored_every_way(kit, tube):
    found = find_mirrors(tube, pattern_of(kit, tube, ("top", "bottom"), **HEXES))
    assert (found.y, found.z) == (True, True)
    # Pockets at 6.5 and 19.5 mm of a period of 26 mm: planes go through them.
    assert found.x % 13 == pytest.approx(6.5)
    assert found.copies == 8


def test_one_face_has_no_plane_below_it(kit, tube):
    found = find_mirrors(tube, pattern_of(kit, tube, ("top",), **HEXES))
    assert (found.y, found.z, found.copies) == (True, False, 4)


def test_a_shifted_face_takes_the_plane_across_away(kit, tube):
    pattern = pattern_of(kit, tube, ("top", "bottom"), **HEXES)
    below = [c for c in pattern.cuts if c.face.name == "bottom"]
    shifted = [replace(c, outline=translate(c.outline, 3.0)) for c in below]
    top = [c for c in pattern.cuts if c.face.name == "top"]
    found = find_mirrors(tube, replace(pattern, cuts=(*top, *shifted)))
    assert (found.x, found.y, found.z) == (None, True, False)


def test_a_deeper_pocket_takes_its_planes_away(kit, tube):
    pattern = pattern_of(kit, tube, ("top", "bottom"), **HEXES)
    first, *rest = pattern.cuts
    found = find_mirrors(tube, replace(pattern, cuts=(replace(first, depth=3.2), *rest)))
    assert not found.z
    assert found.x is not None  # still through the deeper one itself


def test_a_channel_is_mirrored_one_way_only(kit):
    channel = kit.section("channel", width=40, height=60, web=4, flange=5)
    found = find_mirrors(channel, Pattern(12.0, 0.0, ()))
    assert found == Mirrors(0.0, False, True)
    assert part_between(channel, found).area == pytest.approx(channel.shape.area / 2, rel=1e-9)
    assert part_between(channel, NO_MIRRORS).equals(channel.shape)


@pytest.mark.parametrize(
    "case", ["three planes", "two planes", "the middle plane alone", "none across y or z"]
)
def test_the_part_tells_what_the_whole_tells(kit, case):
    """Order 2 on coarse meshes: what differs is the mesh, 1.5 %; the balance of shear is checked in every run."""
    bar = kit.section(width=40, height=30, wall=3)
    spec = {"pocket": "round", "cell": 20, "rib": 6, "rows": 1}
    top, bottom = (replace(kit.field_on(bar, f, 3, skin=1, **spec), span=(0, 200)) for f in ("top", "bottom"))
    bays, mirrors = {
        "three planes": ((top, bottom), (True, True, True)),
        "two planes": ((top,), (True, True, False)),
        "the middle plane alone": ((top, replace(bottom, span=(2.5, 202.5))), (False, True, False)),
        "none across y or z": (
            (replace(top, outlines=tuple(translate(o, 0.0, 4.0) for o in top.outlines)),),
            (True, False, False),
        ),
    }[case]
    pattern = field_pattern(bar, bays, windows=False)
    found = find_mirrors(bar, pattern)
    assert (found.x is not None, found.y, found.z) == mirrors
    part, whole = (
        pattern_properties(bar, kit.metal(), pattern, order=2, mirrored=mirrored)
        for mirrored in (True, False)
    )
    for key in STIFFNESSES:
        assert getattr(part, key) == pytest.approx(getattr(whole, key), rel=1.5e-2), key
    assert part.EIyz == pytest.approx(whole.EIyz, abs=3e-3 * whole.EIy)
    assert part.centroid == pytest.approx(whole.centroid, abs=0.05)
    assert part.shear_centre == pytest.approx(whole.shear_centre, abs=0.1)
    assert part.mass_kg_per_m == pytest.approx(whole.mass_kg_per_m, rel=1e-4)
