# ruff: noqa: SIM300 (the trade writes E and G in capitals; they are no constants)
"""The plate cell against closed forms for ribbed skins, lattices and perforated plates.

Two strips that differ by whole rows differ by plain lattice: their free edges cancel, and the lattice's own
stiffness stands alone.
"""

import math

import numpy as np
import pytest
from shapely.affinity import scale, translate
from shapely.geometry import Polygon, box

from sparwright.stiffness.plate import PLATE, SHEAR, STRETCH, patterned_wall
from sparwright.stiffness.strip import StripShape

FREE = (True, True)


def regular(corners, radius, first=90.0):
    angles = np.radians(first + 360 / corners * np.arange(corners))
    return Polygon(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))


def strip(cell, pitch, height, rows, margin, size, through=True):
    """Rows of a cell's pockets, each other row half a pitch further."""
    outlines = []
    for row in range(rows):
        across = (row - (rows - 1) / 2) * height
        outlines += [translate(o, pitch / 2 * (1 + row % 2), across) for o in cell]
    return StripShape(pitch, rows * height + 2 * margin, (tuple(outlines),), (through,), size)


def lattice(cell, pitch, height, rows, margin, size, poisson, thickness=1.0, depth=None):
    """Stiffness (5, 5) a unit of width and of modulus from strips with free edges, and the shear modulus."""
    free, held, widths = [], [], []
    for count in rows:
        shape = strip(cell, pitch, height, count, margin, size, depth is None)
        depths = (depth or thickness,)
        free.append(patterned_wall(shape, thickness, depths, poisson, FREE).K)
        held.append(patterned_wall(shape, thickness, depths, poisson).K[SHEAR, SHEAR])
        widths.append(shape.width)
    added = widths[1] - widths[0]
    # In shear the rows are in line: their displacements add, each b²/K a unit of shear flow.
    give = widths[1] ** 2 / held[1] - widths[0] ** 2 / held[0]
    return (free[1] - free[0]) / added, added / give / thickness


def triangles(side, rib):
    """The pockets of a grid of bars `rib` wide along the sides of equilateral triangles: one up, one down."""
    height = side * math.sqrt(3) / 2
    up = regular(3, 2 * (height / 3 - rib / 2))
    down = scale(up, 1, -1, origin=(0, 0))
    return (
        translate(up, 0, height / 3 - height / 2),
        translate(down, side / 2, height / 2 - height / 3),
    ), height


@pytest.mark.parametrize(("diameter", "modulus", "contraction"), [(5, 0.5288, 0.3193), (7, 0.2673, 0.3839)])
def test_perforated_plate(diameter, modulus, contraction):
    """Round holes at pitch 10 in a 60 degree array, Poisson's ratio 0.3 (own unit-cell elements): within 1 %."""
    hole = (regular(72, diameter / 2),)
    pitch = 10.0
    K, G = lattice(hole, pitch, pitch * math.sqrt(3) / 2, (3, 5), 2.0, 1.6, 0.3)
    assert K[STRETCH, STRETCH] == pytest.approx(modulus, rel=1e-2)
    assert 2 * (1 + contraction) * G == pytest.approx(modulus, rel=1.5e-2)
    solid = 1 - math.pi / (2 * math.sqrt(3)) * (diameter / pitch) ** 2
    assert K[STRETCH, STRETCH] < solid / (3 - 2 * solid)


def test_honeycomb_bends():
    """Regular hexagons, t/l = 0.1: E* = (4/sqrt 3)(t/l)³, G* = E*/4 (Gibson and Ashby, Cellular Solids), lowered by
    axial and shear give, factor 1/(1 + (5.4 + 1.5 nu)(t/l)²); raised by the joints' own size, at most as
    ribs shorter by t/sqrt 3 would be."""
    length, t = 10.0, 1.0
    cell = (regular(6, length - t / math.sqrt(3)),)
    K, G = lattice(cell, math.sqrt(3) * length, 1.5 * length, (3, 5), 3.0, 2.0, 0.3)
    slender = 4 / math.sqrt(3) * (t / length) ** 3 / (1 + (5.4 + 1.5 * 0.3) * (t / length) ** 2)
    short = slender / (1 - t / (math.sqrt(3) * length)) ** 3
    assert slender < K[STRETCH, STRETCH] < short
    assert slender < 4 * G < short


def test_triangular_grid():
    """Bars along three families of lines: E* = E b/h, nu = 1/3 (handbook of isogrid design, NASA CR-124075; the
    constant by summing the bars); joints and rib bending add up to 5 %."""
    side, rib = 40.0, 2.0
    cell, height = triangles(side, rib)
    K, G = lattice(cell, side, height, (1, 3), 4.0, 5.0, 0.3)
    assert 1 < K[STRETCH, STRETCH] / (rib / height) < 1.05
    assert 8 / 3 * G == pytest.approx(K[STRETCH, STRETCH], rel=1.5e-2)


def test_isogrid_skin():
    """Skin t with ribs d deep, alpha = b d/(t h) = 0.2, delta = d/t = 10, nu = 1/3: E* t* = E t (1 + alpha),
    E* t*³ = E t³ beta²/(1 + alpha), beta = 9.8894, t* = 8.2412 t, E* = 0.14561 E (NASA CR-124075). Nodes and the ribs' own
    twist add 2 to 3 %."""
    alpha, delta, skin, height = 0.2, 10.0, 1.0, 100.0
    beta = math.sqrt(3 * alpha * (1 + delta) ** 2 + (1 + alpha) * (1 + alpha * delta**2))
    assert beta == pytest.approx(9.889, abs=5e-4)
    rib = alpha * skin * height / (delta * skin)
    cell, _ = triangles(2 * height / math.sqrt(3), rib)
    wall = skin * (1 + delta)
    K, _ = lattice(
        cell, 2 * height / math.sqrt(3), height, (1, 2), 4.0, 30.0, 1 / 3, thickness=wall, depth=delta * skin
    )
    t_star, E_star = skin * beta / (1 + alpha), (1 + alpha) ** 2 / beta
    assert (t_star, E_star) == pytest.approx((8.24116, 0.145611), rel=1e-5)
    assert K[STRETCH, STRETCH] == pytest.approx(E_star * t_star, rel=0.04)
    bending = K[PLATE, PLATE] - K[STRETCH, PLATE] ** 2 / K[STRETCH, STRETCH]
    assert bending == pytest.approx(E_star * t_star**3 / 12, rel=0.04)


@pytest.mark.parametrize("share", [0.5, 0.75])
def test_no_window_pattern_beats_the_bound(share):
    """In-plane isotropic windows: E*/E <= rho/(3 - 2 rho) (Hashin 1965), whatever their shape; `share` is how wide the
    pocket is over its pitch."""
    pitch = 20.0
    row = pitch * math.sqrt(3) / 2
    across = share * pitch
    triangle, height = triangles(pitch, (1 - share) * row * 2 / 3)
    for cell, tall in (
        ((regular(6, across / math.sqrt(3)),), row),
        ((regular(48, across / 2),), row),
        (triangle, height),
    ):
        K, G = lattice(cell, pitch, tall, (2, 4), 3.0, 4.0, 0.3)
        solid = 1 - sum(o.area for o in cell) / (pitch * tall)
        assert 0 < K[STRETCH, STRETCH] < solid / (3 - 2 * solid)
        assert 0 < G < solid / (3 - 2 * solid)


def test_battened_panel():
    """Chords and posts between rectangular windows: gamma = V (a²/(24 E Ic) + a b/(12 E Ib)) (Timoshenko and Gere,
    battened columns, from memory). A chord at a corner line bends about that line, so Ic = t c³/3. The bars' own
    width makes the panel stiffer than centre lines say, and softer than clear lengths alone do."""
    pitch, width, bar = 60.0, 50.0, 1.0
    window = box(bar / 2, -width / 2 + bar, pitch - bar / 2, width / 2 - bar)
    K = patterned_wall(StripShape(pitch, width, ((window,),), (True,), 3.0), 1.0, (1.0,), 0.3).K[SHEAR, SHEAR]
    chord, post = bar**3 / 3, bar**3 / 12
    lines = pitch**2 / (24 * chord) + pitch * width / (12 * post)
    clear, high = pitch - bar, width - 2 * bar
    short = clear**3 / pitch / (24 * chord) + pitch * high**3 / width**2 / (12 * post)
    assert 1 / lines < K < 1 / short
