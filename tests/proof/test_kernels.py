"""Closed-form sweeps against stamping the cutter at thousands of steps, and exact looks against geometry."""

import math

import numpy as np
import pytest

from sparwright.proof import kernels
from sparwright.proof.kernels import AIR, ARC, BALL, CONE, FLAT, LINE, Grid, Metal, Sweeps, Tools
from sparwright.proof.tiles import ray_weights

GRID = Grid(-9.0, -9.0, 0.3)
ROWS = COLS = 60
FORMS = {"flat": FLAT, "ball": BALL, "vee": CONE, "drill": CONE}


def one_tool(form, radius=2.5, tip=0.0, slope=1.0):
    def of(value, kind=float):
        return np.array([value], dtype=kind)

    return Tools(of(FORMS[form], np.int64), *(of(v) for v in (radius, tip, slope, 20.0, radius, 30.0, 11.0)))


def one_sweep(start, end, centre=None, turn=0.0):
    return Sweeps(
        kind=np.array([LINE if centre is None else ARC], dtype=np.int8),
        tool=np.zeros(1, dtype=np.int64),
        start=np.array([start], dtype=float),
        end=np.array([end], dtype=float),
        centre=np.array([centre if centre is not None else (np.nan, np.nan)], dtype=float),
        turn=np.array([turn]),
        rapid=np.zeros(1, dtype=bool),
        joined=np.zeros(1, dtype=bool),
    )


def profile(tools, rho, grow):
    """Height over the tip of the grown cutter at distances rho; inf outside."""
    radius, d = tools.radius[0], np.maximum(rho - grow, 0)
    if tools.form[0] == FLAT:
        rise = np.zeros_like(rho)
    elif tools.form[0] == BALL:
        rise = radius - np.sqrt(np.maximum(radius**2 - d**2, 0))
    else:
        rise = tools.slope[0] * np.maximum(rho - grow - tools.tip[0], 0)
    return np.where(rho <= radius + grow, rise, np.inf)


def stamped(sweeps, tools, grow, steps=1200):
    """The map after stamping the cutter at many places along the move: the slow way round."""
    x = GRID.x0 + (np.arange(COLS) + 0.5) * GRID.cell
    y = GRID.s0 + (np.arange(ROWS) + 0.5) * GRID.cell
    px, py = np.meshgrid(x, y)
    lowest = np.zeros((ROWS, COLS))
    for share in np.linspace(0, 1, steps):
        at = sweeps.start[0] + (sweeps.end[0] - sweeps.start[0]) * share
        if sweeps.kind[0] == ARC:
            c, s = math.cos(sweeps.turn[0] * share), math.sin(sweeps.turn[0] * share)
            d = sweeps.start[0, :2] - sweeps.centre[0]
            at[:2] = sweeps.centre[0] + (d[0] * c - d[1] * s, d[0] * s + d[1] * c)
        lowest = np.minimum(lowest, at[2] + profile(tools, np.hypot(px - at[0], py - at[1]), grow))
    return lowest


def cut_map(H, L, sweeps, tools, grow, metal=None, watch=False):
    """Cut sweeps into a map without tiles; returns seen, at and met of each."""
    count = len(sweeps.kind)
    seen, at, met = (np.zeros((count, c), np.float32) for c in (6, 2, 10))
    nothing = np.empty((ROWS, 0), np.float32)
    kernels.cut_tile(
        H, L, GRID, metal or Metal(nothing, nothing, 0, COLS), sweeps, np.arange(count, dtype=np.int32), tools, grow,
        0.0, watch, (-math.inf, math.inf), ray_weights(0.25), seen, at, met,
    )  # fmt: skip
    return seen, at, met


def cut(sweeps, tools, grow):
    H = np.zeros((ROWS, COLS), np.float32)
    L = np.full((ROWS, COLS), -1, np.int32)
    cut_map(H, L, sweeps, tools, grow)
    assert ((L == 0) == (H < 0)).all()
    return H


CUTTERS = {
    "flat": one_tool("flat"),
    "ball": one_tool("ball"),
    "vee": one_tool("vee", radius=3.0, tip=0.2, slope=1.0),
    "steep vee": one_tool("vee", radius=2.0, tip=0.1, slope=2.0),
    "drill": one_tool("drill", radius=1.5, slope=0.6),
}
LINES = {
    "level along": ((-5, 0.13, -2), (4, 0.13, -2)),
    "level across": ((0.3, -6, -2), (0.3, 5, -2)),
    "level diagonal": ((-5, -4, -2), (3.3, 4.7, -2)),
    "ramp down": ((-5, 2, -0.5), (5, -3, -3)),
    "ramp up, steep": ((-1, 2, -4), (0.53, 1.01, -0.2)),
    "upright": ((1.1, 0.7, 1), (1.1, 0.7, -2.5)),
}
ARCS = {
    "level quarter": (0.5 * math.pi, -2.0, -2.0, 4.0),
    "level half, clockwise": (-math.pi, -2.0, -2.0, 3.0),
    "level, tighter than the cutter": (2.5, -2.0, -2.0, 1.0),
    "helix": (-3.0, -0.5, -2.5, 3.5),
    "helix, rising and tight": (2.9, -2.5, -0.5, 0.8),
    "short": (0.05, -2.0, -2.0, 5.0),
}


@pytest.mark.parametrize("grow", [0.0, 0.1414, -0.1414])
@pytest.mark.parametrize("line", LINES)
@pytest.mark.parametrize("cutter", CUTTERS)
def test_lines_match_stamping(cutter, line, grow):
    sweeps, tools = one_sweep(*LINES[line]), CUTTERS[cutter]
    closed, slow = cut(sweeps, tools, grow), stamped(sweeps, tools, grow)
    # stamping leaves out what lies between two steps: it can only be higher, by less than a step's chord
    # (length 12 / 1200 steps, at a slope of up to 2 on flanks; beside a flat cutter whole cells may differ)
    differ = np.abs(closed - slow) > 0.02
    assert (closed <= slow + 1e-5).all()
    assert differ.sum() <= (4 if tools.form[0] == FLAT else 12)


@pytest.mark.parametrize("grow", [0.0, 0.1414, -0.1414])
@pytest.mark.parametrize("arc", ARCS)
@pytest.mark.parametrize("cutter", CUTTERS)
def test_arcs_match_stamping(cutter, arc, grow):
    turn, n0, n1, radius = ARCS[arc]
    begin = 0.7
    centre = np.array([0.21, -0.37])
    start = (*(centre + radius * np.array([math.cos(begin), math.sin(begin)])), n0)
    end = (*(centre + radius * np.array([math.cos(begin + turn), math.sin(begin + turn)])), n1)
    sweeps, tools = one_sweep(start, end, centre, turn), CUTTERS[cutter]
    closed, slow = cut(sweeps, tools, grow), stamped(sweeps, tools, grow)
    differ = np.abs(closed - slow) > 0.02  # chords of 0.002 mm, on flanks of slope 2
    assert differ.sum() <= 12


def test_joined_moves_cut_the_same_as_whole_ones():
    rng = np.random.default_rng(3)
    points = np.cumsum(rng.uniform(-1.5, 1.5, (40, 2)), axis=0) * 0.6
    n = np.full(40, -1.5)
    ends = np.column_stack([points, n])
    count = len(ends) - 1
    fields = dict(
        kind=np.zeros(count, np.int8), tool=np.zeros(count, np.int64), start=ends[:-1].copy(),
        end=ends[1:].copy(), centre=np.full((count, 2), np.nan), turn=np.zeros(count),
        rapid=np.zeros(count, bool),
    )  # fmt: skip
    joined = np.ones(count, bool)
    joined[0] = False
    tools = CUTTERS["flat"]
    maps = []
    for flags in (joined, np.zeros(count, bool)):
        H, L = np.zeros((ROWS, COLS), np.float32), np.full((ROWS, COLS), -1, np.int32)
        cut_map(H, L, Sweeps(**fields, joined=flags), tools, 0.0)
        maps.append((H, L))
    assert (maps[0][0] == maps[1][0]).all()
    assert (maps[0][1] == maps[1][1]).all()


# --- what a move meets ----------------------------------------------------------------------------------


def watched(sweeps, tools, H):
    tops, bottoms = np.zeros((ROWS, 1), np.float32), np.full((ROWS, 1), -8, np.float32)
    L = np.full(H.shape, -1, np.int32)
    seen, at, _ = cut_map(H, L, sweeps, tools, 0.0, Metal(tops, bottoms, 0, COLS), watch=True)
    return seen[0], at[0]


@pytest.mark.parametrize("width", [0.5, 1.0, 1.5, 2.5])
def test_chip_cosine_of_a_side_cut(width):
    """A side cut `width` wide with a cutter of radius R meets metal up to a cosine of sin(acos(1 - width / R))."""
    H = np.zeros((ROWS, COLS), np.float32)
    edge = 1.0
    y = GRID.s0 + (np.arange(ROWS) + 0.5) * GRID.cell
    H[y > edge] = AIR
    seen, _ = watched(
        one_sweep((-5, edge + 2.5 - width, -2), (5, edge + 2.5 - width, -2)), one_tool("flat"), H
    )
    assert seen[0] == pytest.approx(math.sin(math.acos(1 - width / 2.5)), abs=0.12)
    assert seen[1] == pytest.approx(2.0, abs=1e-6)


def test_full_slot_meets_the_chip_whole_and_air_meets_none():
    seen, _ = watched(
        one_sweep((-5, 0, -2), (5, 0, -2)), one_tool("flat"), np.zeros((ROWS, COLS), np.float32)
    )
    assert seen[0] == pytest.approx(1.0, abs=0.01)
    seen, _ = watched(
        one_sweep((-5, 0, -2), (5, 0, -2)), one_tool("flat"), np.full((ROWS, COLS), AIR, np.float32)
    )
    assert seen[0] == 0.0


@pytest.mark.parametrize("width", [0.3, 1.0, 2.5])
@pytest.mark.parametrize("slant", [0.0, 0.4])
def test_exact_chip_cosine(width, slant):
    """As above, but found to the spacing of the looks whatever the cells, and however the cut lies to them."""
    tools = one_tool("flat")
    c, s = math.cos(slant), math.sin(slant)

    def at(along, across):
        return (along * c - across * s, along * s + across * c, -2.0)

    first = one_sweep(at(-6, 0), at(6, 0))
    second = one_sweep(at(-2, -width), at(2, -width))
    both = Sweeps(*(np.concatenate([a, b]) for a, b in zip(first, second, strict=True)))
    buckets = kernels.fill_buckets(both, tools, 1.0, 0.0, GRID.x0, GRID.s0, 3.0, 8, 8)
    cosine = np.ones(1)
    H = np.zeros((ROWS, COLS), np.float32)
    tops, bottoms = np.zeros((ROWS, 1), np.float32), np.full((ROWS, 1), -8, np.float32)
    kernels.meet_exactly(H, GRID, tops, bottoms, buckets, both, tools, np.array([1]), cosine)
    wanted = math.sin(math.acos(1 - width / 2.5))
    assert cosine[0] == pytest.approx(wanted, abs=0.06)


def test_rapid_plunge_shank_and_holder_touches():
    flat = np.zeros((ROWS, COLS), np.float32)
    rapid = one_sweep((-5, 0, -1.25), (5, 0, -1.25))._replace(rapid=np.ones(1, bool))
    seen, at = watched(rapid, one_tool("flat"), flat.copy())
    assert seen[2] == pytest.approx(1.25)
    assert abs(at[0]) <= 7.5
    seen, _ = watched(one_sweep((0, 0, 2), (0, 0, -0.75)), one_tool("flat"), flat.copy())
    assert seen[3] == pytest.approx(0.75)
    short = one_tool("flat")._replace(flute=np.array([1.0]), stick=np.array([1.5]))
    seen, _ = watched(one_sweep((-3, 0, -2), (3, 0, -2)), short, flat.copy())
    assert seen[4] == pytest.approx(1.0, abs=1e-6)
    assert seen[5] == pytest.approx(0.5, abs=1e-6)


# --- exact looks ----------------------------------------------------------------------------------------


def gap_of(sweeps, tools, point):
    buckets = kernels.fill_buckets(sweeps, tools, 1.0, 0.0, GRID.x0, GRID.s0, 3.0, 8, 8)
    gap, who = np.empty(1), np.empty(1, np.int64)
    kernels.gaps(np.array([point], dtype=float), buckets, sweeps, tools, 1.0, gap, who)
    return gap[0], who[0]


@pytest.mark.parametrize("cutter", CUTTERS)
@pytest.mark.parametrize("line", LINES)
def test_gaps_of_lines_match_sampling(cutter, line):
    sweeps, tools = one_sweep(*LINES[line]), CUTTERS[cutter]
    check_gaps(sweeps, tools)


@pytest.mark.parametrize("cutter", CUTTERS)
@pytest.mark.parametrize("arc", ARCS)
def test_gaps_of_arcs_match_sampling(cutter, arc):
    turn, n0, n1, radius = ARCS[arc]
    start = (radius * math.cos(0.7), radius * math.sin(0.7), n0)
    end = (radius * math.cos(0.7 + turn), radius * math.sin(0.7 + turn), n1)
    check_gaps(one_sweep(start, end, (0, 0), turn), CUTTERS[cutter])


def radii_at(tools, height):
    if tools.form[0] == FLAT:
        return np.full(len(height), tools.radius[0])
    if tools.form[0] == BALL:
        return np.sqrt(tools.radius[0] ** 2 - np.maximum(tools.radius[0] - height, 0) ** 2)
    return np.minimum(tools.tip[0] + height / tools.slope[0], tools.radius[0])


def check_gaps(sweeps, tools):
    share = np.linspace(0, 1, 4001)
    at = sweeps.start[0] + (sweeps.end[0] - sweeps.start[0]) * share[:, None]
    if sweeps.kind[0] == ARC:
        c, s = np.cos(sweeps.turn[0] * share), np.sin(sweeps.turn[0] * share)
        d = sweeps.start[0, :2] - sweeps.centre[0]
        at[:, 0], at[:, 1] = d[0] * c - d[1] * s, d[0] * s + d[1] * c
    rng = np.random.default_rng(11)
    looked = 0
    chorded = sweeps.kind[0] == ARC and at[0, 2] != at[-1, 2] and tools.form[0] != FLAT
    for point in np.column_stack([rng.uniform(-7, 7, (400, 2)), rng.uniform(-3, -0.05, 400)]):
        low = at[at[:, 2] <= point[2]]
        if len(low) == 0:
            continue
        radii = radii_at(tools, point[2] - low[:, 2])
        slow = (np.hypot(low[:, 0] - point[0], low[:, 1] - point[1]) - radii).min()
        fast, who = gap_of(sweeps, tools, point)
        if slow > 0.98:
            assert fast > 0.97
            continue
        looked += 1
        assert who == 0
        assert fast == pytest.approx(slow, abs=0.006)
        assert fast <= slow + (kernels.CHORD if chorded else 0) + 1e-9
    assert looked >= 5


def test_wall_distance_of_level_moves_is_exact():
    tools = one_tool("flat")
    sweeps = one_sweep((-4, -3, -2), (4, 3, -2))
    along, across = np.array([0.8, 0.6]), np.array([-0.6, 0.8])
    for offset in (-0.04, 0.0, 0.05):
        point = along * 1.7 + across * (2.5 + offset)
        gap, _ = gap_of(sweeps, tools, (*point, -1.9))
        assert gap == pytest.approx(offset, abs=1e-12)


# --- areas ----------------------------------------------------------------------------------------------


def test_outline_runs_follow_the_even_odd_rule():
    outer = np.array([[-6, -6], [6, -5], [5, 6], [-4, 5], [-6, -6]], float)
    inner = np.array([[-2, -2], [2, -2], [2, 2], [-2, 2], [-2, -2]], float)
    runs = kernels.outline_runs(np.concatenate([outer, inner]), np.array([0, 5, 10]), GRID, ROWS, COLS)
    filled = np.zeros((ROWS, COLS), bool)
    for j, a, b in runs:
        filled[j, a:b] = True
    import shapely

    x, y = np.meshgrid(-8.85 + 0.3 * np.arange(COLS), -8.85 + 0.3 * np.arange(ROWS))
    assert (filled == shapely.contains_xy(shapely.Polygon(outer, [inner]), x, y)).all()


def test_metal_in_a_hollow_wall_is_counted_once():
    tops = np.array([[0, -40]], np.float32)
    bottoms = np.array([[-4, -50]], np.float32)
    upper, lower = np.zeros((1, 3), np.float32), np.array([[-3, -20, -45]], np.float32)
    total, over = kernels.metal_lost(upper, lower, tops, bottoms, 3.5)
    assert total == pytest.approx(3 + 4 + 9)
    assert over.tolist() == [[0, 4, 9]]
