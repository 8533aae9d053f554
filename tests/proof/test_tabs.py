"""What a piece hangs on: walls and webs of a hollow section, tabs left in a window."""

import sys
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
