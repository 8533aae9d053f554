"""Plain walls joined: thin-walled theory's closed forms, and the section's own two-dimensional solution."""

import math

import numpy as np
import pytest
from shapely.geometry import box

from sparwright.stiffness.plate import INPLANE, PLATE, SHEAR, STRETCH, TWIST, plain_wall
from sparwright.stiffness.section import section_properties
from sparwright.stiffness.wall_join import PlacedWall, join
from sparwright.stock.walls import find_walls

POISSON = 0.33
G_OVER_E = 1 / (2 * (1 + POISSON))


def joined(section, poisson=POISSON):
    """The wall model of a plain section about its centroid."""
    found = find_walls(section)
    origin = np.array(section.shape.centroid.coords[0])
    placed = []
    for wall in found.walls:
        low, high = (np.array(found.nodes[end]) for end in wall.ends)
        width = float(np.linalg.norm(high - low))
        free = tuple(len(found.at_node(end)) == 1 for end in wall.ends)
        stiffness = plain_wall(round(width, 6), wall.thickness, poisson, free)
        placed.append(PlacedWall((low + high) / 2 - origin, (high - low) / width, wall.ends, stiffness))
    return join(tuple(placed), len(found.nodes)), origin


def test_one_wall():
    """Stretch t b, in-plane bending t b³/12, plate bending t³ b/12 free of moment across at its hinged edges, shear
    G t b; twist G b t³/3. At a free edge shear turns back, which costs 0.316 t of width (shear-flexible plate: tanh(r b)/(r b)
    with r² = 10/t², the first term of Saint-Venant's 0.315)."""
    width, t = 76.0, 4.0
    K = plain_wall(width, t, POISSON).K
    expected = {
        STRETCH: t * width,
        INPLANE: t * width**3 / 12,
        SHEAR: G_OVER_E * t * width,
        TWIST: G_OVER_E * t**3 / 3 * width,
    }
    for strain, value in expected.items():
        assert K[strain, strain] == pytest.approx(value, rel=2e-3), strain
    leg = plain_wall(width, t, POISSON, (False, True)).K[TWIST, TWIST]
    assert leg == pytest.approx(G_OVER_E * t**3 / 3 * (width - t / math.sqrt(10)), rel=1e-4)
    sheet = t**3 * width / 12
    assert sheet < K[PLATE, PLATE] < sheet / (1 - POISSON**2)
    assert np.abs(K - np.diag(np.diag(K))).max() < 1e-6 * K[PLATE, PLATE]


def test_shear_of_one_wall_is_parabolic():
    """Bending that grows along a leg with free edges: energy 6/5 V²/(2 G A), V = E I a unit (any text)."""
    width, t = 60.0, 3.0
    leg = PlacedWall(np.zeros(2), np.array([1.0, 0.0]), (0, 1), plain_wall(width, t, 0.0, (False, True)))
    web = PlacedWall(
        np.array([-30.0, 0.1]), np.array([0.0, 1.0]), (2, 0), plain_wall(0.2, 0.2, 0.0, (True, False))
    )
    found = join((leg, web), 3)
    assert found.compliance[0, 0] == pytest.approx(1.2 / (0.5 * t * width), rel=1e-3)


def test_single_cell(kit):
    """Bredt: J = 4 A²/closed integral of ds/t (Hartsuijker; TU Delft open textbook). Middle lines 96 x 46, t = 4:
    1 098 650 mm⁴, and the walls' own twist besides."""
    found, _ = joined(kit.section(width=100, height=50, wall=4))
    own = 4**3 / 3 * 2 * (96 + 46)
    assert found.twist / G_OVER_E == pytest.approx(1098650 + own, rel=1e-3)


def test_two_cells(kit):
    """Equal twist of both cells: middle lines 60 x 60 and 40 x 60, outer 3, web 2: J 1 353 600 mm⁴; solved here from the
    two shear flows. The walls' own twist adds 0.3 %."""
    outer, web = 3.0, 2.0
    shape = box(0, 0, 103, 63) - box(3, 3, 60.5, 60) - box(62.5, 3, 100, 60)
    flows = np.linalg.solve(
        [
            [(180 / outer + 60 / web) / 7200, -60 / web / 7200],
            [-60 / web / 4800, (140 / outer + 60 / web) / 4800],
        ],
        [1.0, 1.0],
    )
    bredt = 2 * (3600 * flows[0] + 2400 * flows[1])
    assert bredt == pytest.approx(1353600, rel=1e-5)
    found, _ = joined(kit.drawn(shape))
    # The drawn web is half a millimetre off the cells' common middle line, as thickness allows.
    assert found.twist / G_OVER_E == pytest.approx(bredt, rel=5e-3)


def test_idle_web_of_a_symmetric_tube(kit):
    """Two equal cells: the web carries no shear flow, J that of one cell, 1 350 000 mm⁴ for 100 x 60, t = 3."""
    shape = box(0, 0, 103, 63) - box(3, 3, 50.5, 60) - box(52.5, 3, 100, 60)
    found, _ = joined(kit.drawn(shape))
    own = (27 * 320 + 8 * 60) / 3
    assert found.twist / G_OVER_E == pytest.approx(1350000 + own, rel=1e-3)


def test_channel(kit):
    """Middle lines 50 and 100, t = 4: shear centre 3 b²/(h + 6 b) = 18.75 mm behind the web, J = sum b t³/3 = 4266.7 mm⁴
    (less its two ends), Ix 1 333 333 mm⁴ in middle lines and 2 x 50 x 4³/12 for the flanges' own."""
    found, origin = joined(kit.section("channel", width=52, height=104, web=4, flange=4))
    assert origin[0] + found.shear_centre[0] - 2 == pytest.approx(-18.75, abs=0.05)
    assert found.shear_centre[1] == pytest.approx(0, abs=1e-6)
    assert found.twist / G_OVER_E == pytest.approx(4266.7, rel=0.02)
    assert found.C[2, 2] == pytest.approx(1333333, rel=5e-3)


@pytest.mark.parametrize(
    ("shape", "measures"),
    [
        ("rectangular tube", {"width": 80, "height": 40, "wall": 1}),
        ("channel", {"width": 52, "height": 104, "web": 4, "flange": 4}),
        ("i-beam", {"width": 50, "height": 80, "web": 3, "flange": 3}),
        ("angle", {"width": 60, "height": 40, "thickness": 3}),
    ],
)
def test_walls_against_the_plane_solution(kit, shape, measures):
    """Thin walls against two-dimensional elements: stiffness within 3.5 %, shear centre within 0.15 mm."""
    section = kit.section(shape, **measures)
    exact = section_properties(section, kit.metal(POISSON, 1.0))
    found, origin = joined(section)
    values = {"EA": found.C[0, 0], "EIz": found.C[1, 1], "EIy": found.C[2, 2], "GJ": found.twist}
    values |= {"GAy": 1 / found.compliance[0, 0], "GAz": 1 / found.compliance[1, 1]}
    for key, value in values.items():
        assert value == pytest.approx(getattr(exact, key), rel=3.5e-2), key
    assert origin + found.shear_centre == pytest.approx(exact.shear_centre, abs=0.15)
