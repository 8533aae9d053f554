"""What the exact looks certify, against geometry: ramps, walls at 45 degrees and on arcs, slivers and gouges."""

import math

import numpy as np
import pytest

from sparwright.proof import kernels
from sparwright.proof.kernels import ARC, BALL, CONE, FLAT, LINE, Sweeps, Tools
from sparwright.proof.tiles import cut_tiles

RADIUS = 1.5
CELL = 0.2
WALL = 20.0
FORMS = {"flat": FLAT, "ball": BALL, "vee": CONE}


def tool(form="flat"):
    kind = np.array([FORMS[form]])
    return Tools(kind, *(np.array([v]) for v in (RADIUS, 0.0, 1.0, 20.0, RADIUS, 30.0, 11.0)))


def sweeps_of(moves):
    """Sweeps from (start, end, centre or None, turn)."""
    count = len(moves)
    return Sweeps(
        kind=np.array([LINE if c is None else ARC for _, _, c, _ in moves], np.int8),
        tool=np.zeros(count, np.int64),
        start=np.array([m[0] for m in moves], float),
        end=np.array([m[1] for m in moves], float),
        centre=np.array([(np.nan, np.nan) if c is None else c for _, _, c, _ in moves], float),
        turn=np.array([m[3] for m in moves], float),
        rapid=np.zeros(count, bool),
        joined=np.zeros(count, bool),
    )


def buckets(sweeps, tools):
    return kernels.fill_buckets(sweeps, tools, 0.6, 0.0, -20.0, -20.0, 3.0, 16, 16)


def depths(sweeps, tools, places):
    low, who = np.empty(len(places)), np.empty(len(places), np.int64)
    kernels.depths(np.asarray(places, float), buckets(sweeps, tools), sweeps, tools, low, who)
    return low, who


def gaps(sweeps, tools, probes):
    gap, who = np.empty(len(probes)), np.empty(len(probes), np.int64)
    kernels.gaps(np.ascontiguousarray(probes, float), buckets(sweeps, tools), sweeps, tools, 0.6, gap, who)
    return gap, who


@pytest.mark.parametrize("turned", [0.0, math.pi / 4, 1.234])
@pytest.mark.parametrize("grade", [0.05, -0.3, 1.0])
def test_ramp_floor_of_a_flat_cutter(turned, grade):
    """Under a flat cutter on a ramp the floor is as low as the lower end of the span that covers a place."""
    c, s = math.cos(turned), math.sin(turned)
    n0, n1 = -4.0, -4.0 + grade * 10.0
    n0, n1 = (n0, n1) if n1 <= -0.1 else (n0, min(n1, -0.1))
    grade = (n1 - n0) / 10.0
    ramp = sweeps_of([((-5 * c, -5 * s, n0), (5 * c, 5 * s, n1), None, 0.0)])
    rng = np.random.default_rng(5)
    u, v = rng.uniform(-4, 4, 500), rng.uniform(-1.4, 1.4, 500)
    low, who = depths(ramp, tool(), np.column_stack([u * c - v * s, u * s + v * c]))
    back = np.sqrt(RADIUS**2 - v**2)
    first, last = np.maximum(u - back, -5), np.minimum(u + back, 5)
    exact = n0 + grade * ((first if grade > 0 else last) + 5)
    assert np.abs(low - exact).max() < 1e-9
    assert (who == 0).all()


def test_helix_floor_and_the_vee_groove():
    """A flat cutter down a half turn of helix; a 90 degree vee along a ramp, straight over its line."""
    turn, radius = math.pi, 5.0
    helix = sweeps_of([((radius, 0, -1.0), (-radius, 0, -3.0), (0, 0), turn)])
    angle = np.linspace(0.6, turn - 0.6, 200)
    low, _ = depths(helix, tool(), np.column_stack([radius * np.cos(angle), radius * np.sin(angle)]))
    ahead = 2 * math.asin(RADIUS / 2 / radius)  # the cutter still covers a place this far on
    assert np.abs(low - (-1.0 - 2.0 * (angle + ahead) / turn)).max() < 1e-9
    groove = sweeps_of([((-5, 0, -1.0), (5, 0, -2.0), None, 0.0)])
    v = np.linspace(-0.9, 0.9, 50)
    low, _ = depths(groove, tool("vee"), np.column_stack([np.zeros(50), v]))
    # the flank's depth over a place v aside: the cone of slope 1 rolled along grade g: |v| sqrt(1 - g^2)
    exact = -1.5 + np.abs(v) * math.sqrt(1 - 0.1**2)
    assert np.abs(low - exact).max() < 1e-9


@pytest.mark.parametrize("off", [0.0, 0.001, 0.05, -0.001, -0.04])
@pytest.mark.parametrize("turned", [0.0, math.pi / 4, 0.3])
def test_straight_walls_at_any_angle(turned, off):
    """A wall left `off` proud, or cut `off` too deep, shows as just that, at every look and every cell's place."""
    c, s = math.cos(turned), math.sin(turned)
    cut = sweeps_of([((-8 * c, -8 * s, -1.5), (8 * c, 8 * s, -1.5), None, 0.0)])
    along = np.linspace(-7, 7, 997)
    across = RADIUS + off
    probes = np.column_stack([along * c - across * s, along * s + across * c, np.full(997, -1.4)])
    gap, who = gaps(cut, tool(), probes)
    assert np.abs(gap - off).max() < 1e-12
    assert (who == 0).all()


@pytest.mark.parametrize("off", [0.0, 0.05, -0.04])
@pytest.mark.parametrize("inside", [True, False])
def test_round_walls(off, inside):
    """The same on both walls of a groove along an arc."""
    turn, radius = 2.2, 6.0
    end = (radius * math.cos(turn), radius * math.sin(turn), -1.5)
    groove = sweeps_of([((radius, 0, -1.5), end, (0, 0), turn)])
    angle = np.linspace(0.05, turn - 0.05, 777)
    wall = radius - RADIUS - off if inside else radius + RADIUS + off
    probes = np.column_stack([wall * np.cos(angle), wall * np.sin(angle), np.full(777, -1.4)])
    gap, _ = gaps(groove, tool(), probes)
    assert np.abs(gap - off).max() < 1e-12


@pytest.mark.parametrize("seed", range(20))
def test_slivers_and_gouges_are_found_with_their_move(seed):
    """Passes side by side, turned and placed at random; one shifted by 0.04 mm into the wall, or its wall left
    0.05 mm proud: the looks along the wall tell how much and which move.
    """
    rng = np.random.default_rng(seed)
    turned, shift = rng.uniform(0, math.pi), rng.choice([0.04, -0.05])
    c, s = math.cos(turned), math.sin(turned)
    middle = rng.uniform(-0.1, 0.1, 2)
    wall_at, ends = 4.0, np.linspace(-9, 9, 7)
    bad = int(rng.integers(6))
    moves = []
    for v in (0.0, 1.2, wall_at - RADIUS):
        for i in range(6):
            here = v + (shift if v > 2 and i == bad else 0.0)
            a, b = (
                (u * c - here * s + middle[0], u * s + here * c + middle[1], -1.5) for u in ends[i : i + 2]
            )
            moves.append((a, b, None, 0.0))
    along = np.arange(-8.5, 8.5, 0.05)
    probes = np.column_stack(
        [along * c - wall_at * s + middle[0], along * s + wall_at * c + middle[1], np.full(len(along), -1.4)]
    )
    gap, who = gaps(sweeps_of(moves), tool(), probes)
    worst = int(gap.argmin() if shift > 0 else gap.argmax())
    assert gap[worst] == pytest.approx(-shift, abs=1e-6)
    if shift > 0:
        assert who[worst] == 12 + bad
    else:  # metal left: the nearest move is the bad one, or one beside it at the very ends
        assert who[worst] in (12 + bad - 1, 12 + bad, 12 + bad + 1)


@pytest.mark.parametrize("cell", [0.4, 0.2, 0.1])
def test_level_floors_are_exact_whatever_the_cells(cell):
    """Floors of the map are the moves' heights to the last bit of a 32 bit number."""
    rows = cols = round(WALL / cell)
    tops, bottoms = np.zeros((rows, 1), np.float32), np.full((rows, 1), -6, np.float32)
    moves = [((x, 4, -1.2345), (x, 16, -1.2345), None, 0.0) for x in np.arange(4, 16.1, 1.0)]
    cut = cut_tiles(
        np.zeros((rows, cols), np.float32), kernels.Grid(0.0, 0.0, cell), tops, bottoms, sweeps_of(moves), tool(),
        cell / math.sqrt(2), 0.25,
    )  # fmt: skip
    inner = slice(round(5 / cell), round(15 / cell))
    for heights in (cut.after, cut.grown, cut.shrunk):
        assert np.abs(heights[inner, inner] + 1.2345).max() < 1e-6
    # bounds: what shrunk cutters cut is cut all over, what grown ones leave is left all over
    assert (cut.grown <= cut.after).all()
    assert (cut.after <= cut.shrunk).all()
