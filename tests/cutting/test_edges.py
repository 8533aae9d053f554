"""Edge breaks: the chamfer a swept cone leaves, the window of places for the vee, passes of equal area.

The widths 0.289, 0.408, 0.500 for w = 0.5 in three passes of equal area are w sqrt(k / 3) worked by hand.
"""

import itertools
import math

import numpy as np
import pytest

from sparwright.cutting.edges import (
    Break,
    NoWindow,
    Rim,
    break_laps,
    break_plunge,
    edge_break,
    hole_break,
    pass_widths,
    plunge_break,
    rim_of,
    tip_depth,
    window,
)
from sparwright.cutting.model import RAPID
from sparwright.cutting.paths import Rates
from sparwright.cutting.paths_outline import Outline
from sparwright.job.models import Cutter

VEE = Cutter(
    number=4, name="90 V", kind="vee", diameter=6.35, flutes=2, flute_length=3.1, stick_out=22, shank=6.35,
    included_angle=90, tip=0.1, chip=0.02,
)  # fmt: skip
STEEP = VEE.model_copy(update={"included_angle": 60, "flute_length": 5.0, "tip": 0.2})
RATES = Rates(600, 150, 1500, 6)
TRIANGLE = Outline(tuple((20 * math.cos(t), 20 * math.sin(t)) for t in np.radians([90, 210, 330])), 2.1)


def cone_surface(path, cutter, at, judge, n_top=0.0):
    """Lowest height a swept cone leaves at points `at` (k, 2), by brute force over the path's own points."""
    t = math.tan(math.radians(cutter.included_angle / 2))
    tips = np.vstack([p for p, k in zip(judge.points(path, 0.0002), path.kind, strict=True) if k != RAPID])
    dense = [tips[:1]]
    for a, b in itertools.pairwise(tips):
        n = max(1, math.ceil(np.linalg.norm(b - a) / 0.02))
        dense.append(a + (b - a) * (np.arange(1, n + 1) / n)[:, None])
    tips = np.vstack(dense)
    low = np.full(len(at), n_top)
    for i, p in enumerate(at):
        d = np.hypot(*(tips[:, :2] - p).T)
        inside = d <= cutter.diameter / 2
        height = tips[:, 2] + np.maximum(d - cutter.tip / 2, 0) / t
        low[i] = min(low[i], np.min(height[inside], initial=n_top))
    return low


@pytest.mark.parametrize("cutter", [VEE, STEEP])
def test_chamfer_has_its_width_all_round(judge, cutter):
    rim = rim_of(TRIANGLE, 0.4, 2.8)
    brk = edge_break(cutter, rim)
    path = break_laps(TRIANGLE, brk, RATES)
    t = math.tan(math.radians(cutter.included_angle / 2))
    loop = TRIANGLE.inset(0.0)
    for seg in loop:
        for share in (0.0, 0.13, 0.5, 0.77, 1.0):
            p, (hx, hs) = np.array(seg.at(share)), seg.heading(share)
            outward = np.array([hs, -hx])
            across = np.array([-0.3, 0.0, 0.1, 0.2, 0.3, 0.39, 0.41, 0.6])
            low = cone_surface(path, cutter, p + across[:, None] * outward, judge)
            chamfer = np.where(across >= 0, np.minimum(0.0, (across - 0.4) / t), -math.inf)
            wall = across >= 0
            assert np.allclose(low[wall], chamfer[wall], atol=0.003)
    judge.check_rapids(path, 6, -2.8 + 0.2)


def test_tip_depth_closed_form():
    # 90 degrees: p = e + w - d_t/2
    assert tip_depth(VEE, 1.2, 0.4) == pytest.approx(1.55)


def test_window_is_what_the_geometry_says():
    low, high = window(VEE, Rim(0.4, 20.4, 2.8, 2.1))
    assert low == pytest.approx(0.05 + 0.25)
    assert high == pytest.approx(2.1)  # the inside corners bind
    _, high = window(VEE, Rim(0.4, 20.4, 1.0, 2.1))
    assert high == pytest.approx((1.0 - 0.2) + 0.05 - 0.4)  # the floor binds


@pytest.mark.parametrize(
    ("rim", "word"),
    [
        (Rim(0.4, 1.2, math.inf, 2.1), "far edge"),
        (Rim(0.4, 20, 0.6, 2.1), "floor"),
        (Rim(3.1, 40, math.inf, 9), "diameter|flutes"),
        (Rim(0.4, 20, math.inf, 0.2), "inside corners"),
    ],
)
def test_empty_window_refused_with_figures(rim, word):
    with pytest.raises(NoWindow, match=word) as fault:
        edge_break(VEE, rim)
    assert "0.30 mm from the wall" in str(fault.value)
    assert max(len(s.split()) for s in str(fault.value).split(". ")) < 27, "too long a breath"
    assert "smaller vee cutter" in str(fault.value)


def test_skin_floor_never_touched():
    for depth in (1.0, 1.6, 2.8):
        brk = edge_break(VEE, rim_of(TRIANGLE, 0.4, depth))
        assert min(brk.levels) >= -(depth - 0.2) - 1e-9


def test_passes_of_equal_area():
    widths = np.array(pass_widths(0.85))
    assert widths[-1] == 0.85
    assert widths[-2] == pytest.approx(0.8)
    assert np.allclose(np.diff(np.concatenate([[0], widths[:-1]]) ** 2), 0.8**2 / 2)
    assert np.allclose([0.5 * math.sqrt(k / 3) for k in (1, 2, 3)], [0.289, 0.408, 0.5], atol=5e-4)
    assert pass_widths(0.1) == (0.1,)


@pytest.mark.parametrize(("diameter", "width"), [(2.5, 0.35), (5.0, 0.6), (9.0, 0.5)])
def test_hole_edges(judge, diameter, width):
    path = hole_break(VEE, (10.0, -3.0), diameter, width, 4.4, RATES)
    a = np.linspace(0, 2 * math.pi, 7)[:-1]
    for d, want in [
        (0.0, -width),
        (width * 0.5, -width * 0.5),
        (width * 0.97, -width * 0.03),
        (width + 0.02, 0.0),
    ]:
        at = (10, -3) + (diameter / 2 + d) * np.column_stack([np.cos(a), np.sin(a)])
        assert np.allclose(cone_surface(path, VEE, at, judge), want, atol=0.004)
    judge.check_rapids(path, 6)


def test_plunge_needs_a_vee_wide_enough():
    with pytest.raises(NoWindow, match="take a larger vee"):
        plunge_break(VEE, 6.0, 0.5)
    assert break_plunge((0, 0), Break(1, (-1.0,)), RATES).end[:, 2].min() == -1.0
