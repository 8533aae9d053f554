"""What a piece hangs on: walls and webs of a hollow section, tabs left in a window."""

import re
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))
from block_help import CASE, CUTTERS

from sparwright.answers import Verdict
from sparwright.proof.casefile import load_case
from sparwright.proof.elsewhere import prove_known
from sparwright.proof.joined import pieces
from sparwright.proof.kernels import AIR
from sparwright.proof.prove import prove_side
from sparwright.stock.model import Hole, Pocket

# --- what hangs together, by the section ----------------------------------------------------------------


def tube_rows(*webs):
    """Intervals of a tube 10 wide and 8 high with walls of 2, a row each mm, webs in the rows named: tops, bottoms."""
    tops, bottoms = np.full((10, 2), AIR), np.full((10, 2), AIR)
    for j in range(10):
        if j < 2 or j >= 8 or j in webs:
            tops[j], bottoms[j] = (0, AIR), (-8, AIR)
        else:
            tops[j], bottoms[j] = (0, -6), (-2, -8)
    return tops, bottoms


def ring(heights, depth):
    """A ring cut round rows 3 to 6, columns 5 to 14."""
    out = heights.copy()
    out[2:8, 4:16] = depth
    out[3:7, 5:15] = heights[3:7, 5:15]
    return out


def test_a_slot_end_to_end_through_one_wall_leaves_one_piece():
    tops, bottoms = tube_rows()
    heights = np.zeros((10, 30))
    assert len(pieces(heights, tops, bottoms).bulk) == 1
    heights[4] = -2.5
    found = pieces(heights, tops, bottoms)
    assert len(found.bulk) == 1
    assert found.bulk[0] == pytest.approx(30 * (4 * 8 + 6 * 4) - 30 * 2)
    heights[4] = -8.5  # and through the far wall as well: two halves
    assert sorted(pieces(heights, tops, bottoms).bulk) == pytest.approx([30 * 24, 30 * 28])


def test_a_ring_through_a_wall_frees_its_middle_unless_a_web_holds_it():
    heights = ring(np.zeros((10, 30)), -2.5)
    found = pieces(heights, *tube_rows())
    assert sorted(found.bulk)[0] == pytest.approx(4 * 10 * 2)
    assert len(found.bulk) == 2
    assert len(pieces(heights, *tube_rows(5)).bulk) == 1  # held from below
    deep = ring(np.zeros((10, 30)), -9)
    assert len(pieces(deep, *tube_rows(5)).bulk) == 2  # the web cut as well


@pytest.mark.parametrize("seed", range(12))
def test_pieces_are_those_of_a_count_cube_by_cube(seed):
    """Against a plain labelling of cubes 1 mm on a side, on cuts to whole depths."""
    from scipy import ndimage

    rng = np.random.default_rng(seed)
    tops, bottoms = tube_rows(*rng.choice(np.arange(2, 8), rng.integers(0, 3), replace=False))
    heights = -rng.choice([0, 1, 2, 5, 8], size=(10, 24), p=[0.4, 0.1, 0.2, 0.1, 0.2]).astype(float)
    n = -np.arange(8) - 0.5
    solid = ((n[:, None] < tops[:, None, :]) & (n[:, None] > bottoms[:, None, :])).any(axis=2)[:, None, :] & (
        n < heights[..., None]
    )
    labels, count = ndimage.label(solid)
    found = pieces(heights, tops, bottoms)
    assert len(found.bulk) == count
    assert sorted(found.bulk) == pytest.approx(sorted(np.bincount(labels.ravel())[1:]))


# --- a hollow stock of a case file ----------------------------------------------------------------------


@pytest.fixture(scope="module")
def tube(tmp_path_factory):
    where = tmp_path_factory.mktemp("tube")
    (where / "my-cutters.toml").write_text(CUTTERS)
    (where / "tube.toml").write_text(
        CASE[: CASE.index("[stock]")]
        + '[stock]\nsection = {shape = "rectangular tube", width = 40, height = 30, wall = 3}\nlength = 80\n'
        + 'face = "top"\nat = [0, 0]\n'
    )
    return load_case(where / "tube.toml")


def loose(tube, *lines):
    text = "\n".join(["G21 G90 G54", "T1 M6", "G0 Z20", "S16000 M3", *lines, "G0 Z20", "M5", "M30", ""])
    proof = prove_known([("cut.nc", text)], tube)
    return [f for f in proof.findings if f.check == "loose piece" and f.verdict is Verdict.NO_GO], text


def test_a_slot_through_a_tube_s_wall_from_end_to_end_frees_nothing(tube):
    assert loose(tube, "G0 X-5 Y20", "G0 Z-3.5", "G1 X85 F300")[0] == []


def test_a_ring_through_a_tube_s_wall_frees_its_middle(tube):
    ring = ["G0 X30 Y12", "G1 Z-3.2 F100", "G1 X50 F300", "G1 Y28", "G1 X30", "G1 Y12"]
    found, text = loose(tube, *ring)
    assert len(found) == 1
    assert found[0].line == text.splitlines().index("G1 Y12") + 1  # the line that closes it
    assert found[0].value == pytest.approx(13.6 * 9.6, abs=1)  # less half a diagonal all round
    assert loose(tube, *ring[:-1], "G1 Y20")[0] == []


# --- tabs -----------------------------------------------------------------------------------------------


def window_text(maker, tabs=(), half=False, lap_depth=3.3):
    """A window through the top wall, its outline cut by a 4 mm cutter in one lap, which rises over tabs.

    tabs: (side, width, thickness), side +1 or -1 across. half: stop after the first half of the lap.
    """
    x, (a, b), r = 75.0, (maker.half[0] - 2, maker.half[1] - 2), maker.corner - 2
    w = maker.Writer(1, 540)
    w.rapid(x + a, 0)
    w.rapid_z(2)
    w.plunge(-lap_depth, 200)
    w.line(x + a, b - r)
    w.arc(x + a - r, b, x + a - r, b - r)
    for side in (1, -1):
        for over, wide, thick in tabs:
            if over == side:
                first, last = x + side * (wide / 2 + 2), x - side * (wide / 2 + 2)
                w.line(first, side * b)
                w.plunge(-3 + thick, 200)
                w.line(last, side * b)
                w.plunge(-lap_depth, 200)
        w.mark(f"far {side}")
        w.line(x - side * (a - r), side * b)
        w.arc(x - side * a, side * (b - r), x - side * (a - r), side * (b - r))
        if side > 0 and not half:
            w.line(x - a, -(b - r))
            w.arc(x - a + r, -b, x - a + r, -(b - r))
        elif half:
            break
    if not half:
        w.line(x + a, 0)
    w.rapid_z(20)
    return w


def prove_window(sample, maker, w):
    window = Pocket(
        "window/1", "top", "w", "w", (75, 0), maker.rounded(75, 0), (), maker.corner, maker.wall, 0.0, 0.0
    )
    member = replace(sample.member, pockets=(window,), holes=())
    return prove_side([("window.nc", w.text())], member, sample.setup, sample.job)


def bad(proof):
    return [f for f in proof.findings if f.verdict is Verdict.NO_GO]


def on_tabs(proof):
    return [f for f in proof.findings if f.check == "tabs"]


@pytest.mark.parametrize(("wide", "thick"), [(3.0, 0.8), (4.0, 1.5), (3.0, 3.0)])
def test_a_slug_on_two_tabs_is_a_caution_that_measures_them(sample, maker, wide, thick):
    proof = prove_window(sample, maker, window_text(maker, [(1, wide, thick), (-1, wide + 1, thick)]))
    assert bad(proof) == []
    (found,) = on_tabs(proof)
    assert found.verdict is Verdict.CAUTION
    told = re.search(
        r"a piece of ([\d.]+) by ([\d.]+) mm, ([\d.]+) g, in pocket window/1 on 2 tabs, the least ([\d.]+) mm wide and "
        r"([\d.]+) mm thick\. The weakest tears at \d+ N, the cutter pulls with \d+ N\. Tape or clamp",
        found.message,
    )
    long, across, grams, width, thickness = map(float, told.groups())
    assert (long, across) == pytest.approx((16, 12), abs=0.21)
    assert grams == pytest.approx((16 * 12 * 3 + 2 * 4 * wide * thick) * 2.7e-3, abs=0.15)
    assert width == pytest.approx(wide, abs=0.21)  # a cell
    assert thickness == pytest.approx(thick, abs=0.005)
    assert found.value == pytest.approx(wide * thick * 0.6 * 215, rel=0.08)
    assert found.margin > 0
    assert not any(f.check == "metal removed" and f.verdict is not Verdict.GO for f in proof.findings)


def test_a_tab_the_cutter_could_tear_off_is_no_go(sample, maker):
    proof = prove_window(sample, maker, window_text(maker, [(1, 4.0, 1.0), (-1, 0.8, 0.25)]))
    (found,) = on_tabs(proof)
    assert found.verdict is Verdict.NO_GO
    assert found.value < found.limit
    assert found.margin < 0
    assert "Make them wider or thicker" in found.message


def test_a_slug_without_tabs_is_loose_and_has_none(sample, maker):
    proof = prove_window(sample, maker, window_text(maker))
    assert on_tabs(proof) == []
    assert "loose piece" in {f.check for f in bad(proof)}


@pytest.mark.parametrize(
    "made",
    [
        {"tabs": [(1, 4.0, 0.1), (-1, 4.0, 0.1)]},  # films, no tabs
        {"half": True},  # half the outline uncut
        {"lap_depth": 2.9},  # a film all round
    ],
)
def test_metal_that_is_no_tab_is_still_no_go(sample, maker, made):
    proof = prove_window(sample, maker, window_text(maker, **made))
    assert {"floor", "wall"} & {f.check for f in bad(proof)}


def test_a_sliver_beside_good_tabs_is_still_no_go(sample, maker):
    """The lap runs up to 0.3 mm off the wall along the left side, where there is no tab."""
    w = window_text(maker, [(1, 3.0, 1.0), (-1, 3.0, 1.0)])
    x, a, b = 75.0, maker.half[0] - 2, maker.half[1] - 2
    words = ["X{:.4f} Y{:.4f}".format(*w.bed(x - a + off, -(b - 0.5))) for off in (0.0, 0.3)]
    assert sum(words[0] in line for line in w.lines) == 1
    w.lines = [line.replace(*words) for line in w.lines]
    proof = prove_window(sample, maker, w)
    assert len(on_tabs(proof)) == 1
    (found,) = [f for f in bad(proof) if f.check == "wall"]
    assert 0.29 < found.value < 0.5
    assert w.lines[found.line - 1].startswith(("G1 X", "G3 X"))


def test_a_ridge_between_passes_is_no_piece_on_tabs(sample, maker):
    """The window cleared but for one strip 2 mm wide that hangs on both of its ends."""
    x, a, b = 75.0, maker.half[0] - 2, maker.half[1] - 2
    w = maker.Writer(1, 540)
    for half in ((-b, -5.5, -3), (b, 5.5, 3)):
        w.rapid(x + a, half[0])
        w.rapid_z(2)
        w.plunge(-3.3, 200)
        for s in half:
            for end in (1, -1, 1):
                w.line(x + end * a, s)
        w.rapid_z(20)
    proof = prove_window(sample, maker, w)
    assert on_tabs(proof) == []
    assert "floor" in {f.check for f in bad(proof)}


def test_a_round_slug_on_tabs_in_a_hole(sample, maker):
    """A hole of 20 mm through the wall, its middle held by two tabs 4 mm wide on the cutter's path."""
    hole = Hole("big/1", "top", "drilled", (75.0, 0.0), 20.0, maker.wall, "wall")
    member = replace(sample.member, pockets=(), holes=(hole,))
    gap = 2 * np.arcsin((4 + 4) / 2 / 8)  # of the cutter's middle over a tab, radians
    w = maker.Writer(1, 540)
    for begin in (0.0, np.pi):
        a, b = begin + gap / 2, begin + np.pi - gap / 2
        w.rapid(75 + 8 * np.cos(a), 8 * np.sin(a))
        w.rapid_z(2)
        w.plunge(-3.3, 200)
        w.arc(75 + 8 * np.cos(b), 8 * np.sin(b), 75, 0)
        w.plunge(-2, 200)
        w.arc(75 + 8 * np.cos(b + gap), 8 * np.sin(b + gap), 75, 0)
        w.rapid_z(20)
    proof = prove_side([("hole.nc", w.text())], member, sample.setup, sample.job)
    (found,) = on_tabs(proof)
    assert "a piece of 12.0 by 12.0 mm" in found.message
    assert "in hole big/1 on 2 tabs" in found.message
    assert found.value == pytest.approx(4 * 1 * 0.6 * 215, rel=0.1)
    assert bad(proof) == []


# --- loose for a while ----------------------------------------------------------------------------------


def cleared_after(maker, lap_first, tabs=()):
    """The window outlined and its middle milled away, the one first or the other."""
    lap = window_text(maker, tabs)
    w = maker.Writer(1, 540)
    w.rapid(65.5, -5.5)
    w.rapid_z(2)
    w.plunge(-3.3, 200)
    for k, s in enumerate(np.arange(-5.5, 5.6, 1.9)):
        side = 1 if k % 2 else -1
        w.line(75 + side * 9.5, s)
        w.line(75 - side * 9.5, s)
    w.rapid_z(20)
    first, second = (lap, w) if lap_first else (w, lap)
    first.lines += second.lines[4:]
    return first


def test_a_piece_cut_free_and_milled_away_after_is_found(sample, maker):
    w = cleared_after(maker, True)
    (found,) = [f for f in bad(prove_window(sample, maker, w)) if f.check == "loose piece"]
    assert "that later cuts go through" in found.message
    assert found.feature == "window/1"
    assert 15 * 11 < found.value <= 16 * 12
    assert found.line <= len(window_text(maker).lines)


def test_a_window_cleared_from_its_middle_frees_nothing(sample, maker):
    assert bad(prove_window(sample, maker, cleared_after(maker, False))) == []


def test_a_piece_on_tabs_until_it_is_milled_away_is_held(sample, maker):
    w = cleared_after(maker, True, [(1, 3.0, 1.0), (-1, 3.0, 1.0)])
    assert "loose piece" not in {f.check for f in bad(prove_window(sample, maker, w))}
