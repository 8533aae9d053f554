"""The table of docs/stiffness.md: it says what was computed, and what was computed keeps its bands.

The figures are kept in benchmarks/stiffness_table.json; the slow tests compute some of them again.
"""

import importlib.util
import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sparwright.stiffness.bay import mesh_options, pattern_properties
from sparwright.stiffness.mirror import find_mirrors
from sparwright.stiffness.pattern import Pattern, field_pattern
from sparwright.stiffness.section import section_properties

ROOT = Path(__file__).parents[2]
_spec = importlib.util.spec_from_file_location("stiffness_table", ROOT / "benchmarks" / "stiffness_table.py")
table = importlib.util.module_from_spec(_spec)
sys.modules["stiffness_table"] = table
_spec.loader.exec_module(table)

BENDING = ("EA", "EIy", "EIz")


@pytest.fixture(scope="module")
def kept():
    return json.loads(table.KEPT.read_text())


def off(value, true):
    return abs(value / true - 1)


def test_the_page_shows_the_figures_kept(kept):
    text = table.PAGE.read_text()
    assert text.split(table.BEGIN)[1].split(table.END)[0].strip() == table.page(kept)


def test_whole_members_cover_what_they_must(kept):
    designs = [table.designs.DESIGNS[name] for name in kept["whole"]]
    assert len(designs) >= 6
    assert len({d.section for d in designs}) >= 4
    assert any(d.section.startswith("drawn") for d in designs)
    assert sum(d.windows for d in designs) >= 2
    for name, found in kept["whole"].items():
        first, second = (run["length"] for run in found["runs"])
        y0, z0, y1, z1 = table.designs.member(name).section.shape.bounds
        assert second > first >= 2.9 * max(y1 - y0, z1 - z0)


def test_bay_against_whole_members(kept):
    """EA and EI within 0.5 %, GJ within 2 %, shear centre within 0.1 mm where one face is patterned."""
    for name, found in kept["whole"].items():
        bay, whole = kept["bay"][name]["as whole"], found["whole"]
        for key in BENDING:
            assert off(bay[key], whole[key]) < 5e-3, (name, key)
        assert off(bay["GJ"], whole["GJ"]) < 2e-2, name
        if sum(len(faces) for faces, _ in table.designs.DESIGNS[name].fields) == 1:
            assert bay["shear_centre"] == pytest.approx(whole["shear_centre"], abs=0.1), name


def test_order_three_against_order_four(kept):
    """GJ within 1.5 %, EA and EI within 0.5 %, and always from above; the error stated covers it."""
    for name in table.designs.DESIGNS:
        low, high = kept["bay"][name]["3"], kept["bay"][name]["4"]
        for key in BENDING:
            assert -1e-4 < low[key] / high[key] - 1 < 5e-3, (name, key)
        assert -1e-4 < low["GJ"] / high["GJ"] - 1 < 1.5e-2, name
        for key in ("EA", "EIy", "EIz", "GJ", "GAy", "GAz"):
            assert off(low[key], high[key]) < low["spread"][key], (name, key)


def test_wall_model_against_the_bay(kept):
    """EA and EI within 2 % (4 % windows), GJ within 4 %, wherever the wall model says it may be believed."""
    believed = 0
    for name, found in kept["wall"].items():
        if found["trust"]:
            assert "wall" not in found
            continue
        believed += 1
        bay, wall = kept["bay"][name]["3"], found["wall"]
        band = 4e-2 if table.designs.DESIGNS[name].windows else 2e-2
        for key in BENDING:
            assert off(wall[key], bay[key]) < band, (name, key)
        assert off(wall["GJ"], bay["GJ"]) < 4e-2, name
    assert believed >= 12


def test_a_plain_whole_member_is_its_section(kit):
    """The yardstick itself: a bar's difference of two lengths against the two-dimensional section, 0.5 % at order 3;
    with the middle planes as mirrors and without, which are other meshes."""
    bar, metal = kit.section("flat bar", width=20, thickness=10), kit.metal()
    prism = Pattern(30.0, 0.0, ())
    exact = section_properties(bar, metal)
    for mirrors in (table_mirrors(bar, prism), replace(table_mirrors(bar, prism), y=False, z=False)):
        flexibilities = [
            table.whole.end_flexibility(
                bar, replace(prism, period=length), metal, {"maxh": 6, "parallel_meshing": False}, 3, mirrors
            )[0]
            for length in (60.0, 100.0)
        ]
        gain = flexibilities[1] - flexibilities[0]
        found = table.constants(gain, 40.0, (10.0, 5.0))
        for key in table.STIFFNESSES:
            assert found[key] == pytest.approx(getattr(exact, key), rel=5e-3), key
        assert found["shear_centre"] == pytest.approx((10, 5), abs=0.02)
        assert found["centroid"] == pytest.approx((10, 5), abs=0.02)


def table_mirrors(section, pattern):
    """The middle planes alone."""
    return replace(find_mirrors(section, pattern), x=None)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["E1", "G1", "D1"])
def test_the_bay_again(kept, name):
    """The figures kept are those of today's code, 0.5 %."""
    design, member = table.designs.DESIGNS[name], table.designs.member(name)
    pattern = field_pattern(member.section, member.bays, windows=False)
    found = pattern_properties(member.section, member.material, pattern, open_through=design.windows)
    for key in table.STIFFNESSES:
        assert getattr(found, key) == pytest.approx(kept["bay"][name]["3"][key], rel=5e-3), key


@pytest.mark.slow
@pytest.mark.parametrize("name", ["D1", "G1"])
def test_a_whole_member_again(kept, name):
    """On the part between the middle planes, so another mesh than the one kept where that was whole: 0.3 and 1.5 %."""
    design, member = table.designs.DESIGNS[name], table.designs.member(name)
    pattern = field_pattern(member.section, member.bays, windows=False)
    options = mesh_options(member.section, pattern, design.size, design.windows)
    longs = [table.whole.many_periods(pattern, count) for count in design.counts]
    first, second = (
        table.whole.end_flexibility(
            member.section,
            long,
            member.material,
            options,
            design.order,
            table_mirrors(member.section, pattern),
        )[0]
        for long in longs
    )
    centroid = member.section.shape.centroid
    found = table.constants(second - first, longs[1].period - longs[0].period, (centroid.x, centroid.y))
    for key in BENDING:
        assert found[key] == pytest.approx(kept["whole"][name]["whole"][key], rel=3e-3), key
    assert found["GJ"] == pytest.approx(kept["whole"][name]["whole"]["GJ"], rel=1.5e-2)
    assert found["shear_centre"] == pytest.approx(kept["whole"][name]["whole"]["shear_centre"], abs=0.15)
