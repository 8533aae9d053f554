"""Parts as STL files: what is read, what is refused and in which words, and the body seen from above."""

import struct
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

sys.path.insert(0, str(Path(__file__).parent))
from block_help import (
    CASE,
    CUTTERS,
    HIGH,
    LONG,
    WIDE,
    ascii_stl,
    binary_stl,
    block_program,
    block_triangles,
)

from sparwright.answers import Verdict
from sparwright.proof.casefile import load_case
from sparwright.proof.elsewhere import prove_known
from sparwright.proof.kernels import AIR, Grid
from sparwright.proof.lookdown import height_map, upright_share, wall_points
from sparwright.proof.rims import Lines, bounded, rims_and_feet
from sparwright.proof.stl import PartError, lay, read_stl

WHOLE = binary_stl(block_triangles())


@pytest.fixture(scope="module")
def triangles():
    return block_triangles()


def test_both_forms_give_the_same_body_with_its_exact_volume(triangles):
    one, two = read_stl(binary_stl(triangles), "a.stl"), read_stl(ascii_stl(triangles), "b.stl")
    assert one.triangles == pytest.approx(two.triangles, abs=1e-5)
    corner = 4**2 - np.pi * 4**2 / 4  # one corner's metal outside a round of radius 4
    pocket = (40 * 24 - 4 * corner) * 8
    assert one.volume == pytest.approx(80 * 50 * 12 - pocket, abs=8 * 0.08)  # chords hold a little less
    assert one.size == pytest.approx((LONG, WIDE, HIGH))


def test_a_body_drawn_inside_out_is_turned(triangles):
    mesh = read_stl(binary_stl(triangles[:, ::-1]), "a.stl")
    assert mesh.volume > 40000


def test_units(triangles):
    assert read_stl(binary_stl(triangles / 25.4), "a.stl", "inch").size == pytest.approx(
        (80, 50, 12), rel=1e-6
    )


def _hole(triangles):
    return binary_stl(triangles[1:])


REFUSED = {
    "empty": (lambda t: b"", "p.stl: the file is empty; export the part again"),
    "text": (lambda t: b"hello", "p.stl: neither an ASCII nor a binary STL file; export the part as STL"),
    "no triangle": (lambda t: binary_stl(t[:0]), "p.stl: it holds no triangle; export the part again"),
    "no facet": (lambda t: b"solid x\nendsolid x\n", "p.stl: it holds no triangle; export the part again"),
    "cut off": (
        lambda t: binary_stl(t)[:-7],
        "not an STL file, or a damaged one: as a binary STL of {count} triangles it would hold {bytes} bytes, but it "
        "holds {less}; export the part again",
    ),
    "bad number": (
        lambda t: ascii_stl(t).replace(b"vertex 0 0 0", b"vertex 0 zero 0", 1),
        'is not "vertex" and 3 numbers',
    ),
    "two corners": (
        lambda t: b"solid x\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nendloop\n",
        "p.stl, line 5: a facet with 2 corners; each has 3; export again",
    ),
    "not a number": (
        lambda t: binary_stl(t)[:96] + struct.pack("<f", float("nan")) + binary_stl(t)[100:],
        "p.stl: triangle 1 has a corner that is no number; export the part again",
    ),
    "not closed": (
        _hole,
        "p.stl: its surface is not closed: 3 edges have a triangle on one side only, or triangles that face opposite "
        "ways, the first at (",
    ),
    "metres": (
        lambda t: binary_stl(t / 1000),
        'p.stl: the part would be 0.08 x 0.05 x 0.012 mm; allowed: 0.5 to 20000 mm for its longest measure; if it was '
        'drawn in another unit say so: units = "m"',
    ),
    "huge": (lambda t: binary_stl(t * 1000), "the part would be 8e+04 x 5e+04 x 1.2e+04 mm; allowed: 0.5 to 20000 mm"),
    "flat": (
        lambda t: binary_stl(np.array([[[0, 0, 0], [9, 0, 0], [0, 9, 0]], [[0, 0, 0], [0, 9, 0], [9, 0, 0]]], float)),
        "p.stl: its surface holds no volume; export the part as a solid body",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_words(case, triangles):
    make, words = REFUSED[case]
    data = make(triangles)
    words = words.format(count=len(triangles), bytes=84 + 50 * len(triangles), less=len(data))
    with pytest.raises(PartError) as told:
        read_stl(data, "p.stl")
    assert words in str(told.value)
    assert "\n" not in str(told.value)


def test_one_axis_named_twice_is_refused(triangles):
    with pytest.raises(
        PartError, match=r'along = "\+z" and up = "-z" are the same axis of the part; name two'
    ):
        lay(read_stl(binary_stl(triangles), "p.stl"), "-z", "+z")


@pytest.mark.parametrize("up", ["+z", "-z", "+x", "-y"])
def test_laid_down_any_way_it_stays_a_body_with_its_top_at_zero(triangles, up):
    mesh = read_stl(binary_stl(triangles), "p.stl")
    laid = lay(mesh, up, "+y" if up[1] != "y" else "-x")
    assert laid.min(axis=(0, 1))[:2] == pytest.approx((0, 0))
    assert laid[..., 2].max() == pytest.approx(0)
    volume = np.einsum("ij,ij->", laid[:, 0], np.cross(laid[:, 1], laid[:, 2])) / 6
    assert volume == pytest.approx(mesh.volume)  # turned, never mirrored


def test_seen_from_above_every_cell_has_the_height_of_the_body(triangles):
    laid = lay(read_stl(binary_stl(triangles), "p.stl"), "+z", "+x")
    grid = Grid(-1.0, -1.0, 0.5)
    heights, slopes = height_map(laid, grid, (104, 164))
    x, s = (-1 + (np.arange(n) + 0.5) * 0.5 for n in (164, 104))
    inside = ((s > 0) & (s < WIDE))[:, None] & ((x > 0) & (x < LONG))[None, :]
    middle = ((s > 13.5) & (s < 36.5))[:, None] & ((x > 24.5) & (x < 55.5))[None, :]
    assert np.all(heights[~inside] == AIR)
    assert np.all(heights[middle] == -8)
    assert set(np.unique(heights[inside])) == {np.float32(-8), np.float32(0)}
    assert slopes.max() == 0


def test_looks_at_walls_lie_on_them_and_close_together(triangles):
    points, normals = wall_points(triangles, 0.3, 0.25)
    outer = (
        np.isclose(points[:, 0], 0) | np.isclose(points[:, 0], LONG) | np.isclose(points[:, 1], 0) | np.isclose(points[:, 1], WIDE)
    )  # fmt: skip
    assert np.abs(normals[:, 2]).max() < 1e-9
    in_pocket = points[~outer]
    off = np.maximum(np.abs(in_pocket[:, 0] - 40) - 20, np.abs(in_pocket[:, 1] - 25) - 12)
    assert off.max() <= 1e-9
    straight = in_pocket[np.isclose(in_pocket[:, 1], 37)]
    nearest, _ = cKDTree(straight).query(straight, k=2)
    assert nearest[:, 1].max() < 0.36
    assert len(straight) == pytest.approx(32 * 8 / 0.25**2, rel=0.1)


def sound(data):
    """Whether the bytes give a body with a volume, or a message that names the file."""
    try:
        return read_stl(data, "p.stl").volume > 0
    except PartError as problem:
        return str(problem).startswith("p.stl")


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400), st.sampled_from([b"", b"solid x\n", b"solid x\nfacet\nouter loop\nvertex "]))
def test_no_bytes_whatever_do_more_than_get_a_message(data, before):
    assert sound(before + data)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 255))
def test_one_byte_changed_is_read_or_refused(place, byte):
    data = bytearray(WHOLE)
    data[place % len(data)] = byte
    assert sound(bytes(data))


# --- walls as bounds ------------------------------------------------------------------------------------


NEEDLE = """
[[cutter]]
number = 3
name = "0.5 flat"
kind = "flat"
diameter = 0.5
flutes = 2
flute_length = 2
stick_out = 26
shank = 0.5
chip = 0.005
"""


@pytest.fixture(scope="module")
def needled(tmp_path_factory):
    """The pocketed block, with a cutter of 0.5 mm at hand, as a case."""
    where = tmp_path_factory.mktemp("needle")
    (where / "block.stl").write_bytes(WHOLE)
    (where / "my-cutters.toml").write_text(CUTTERS + NEEDLE)
    (where / "case.toml").write_text(CASE)
    return load_case(where / "case.toml")


def dab(x, into):
    """The block's program, and then the small cutter driven down 0.2 mm, `into` mm into the far wall at x."""
    more = [
        "T3 M6",
        "S16000 M3",
        f"G0 X{x:.4f} Y{37 - 0.25 + into:.4f}",
        "G0 Z1",
        "G1 Z-0.2 F100",
        "G0 Z20",
        "M5",
        "M30",
    ]
    return block_program().replace("M5\nM30\n", "\n".join(more) + "\n")


def between_looks(needled):
    """The place along the far wall's rim that is furthest from all looks spread 0.25 mm apart."""
    points, _ = wall_points(needled.part, 0.3, 0.25)
    near = np.isclose(points[:, 1], 37, atol=1e-4) & (points[:, 2] > -0.2) & (abs(points[:, 0] - 40) < 5)
    x = np.sort(points[near, 0])
    k = int(np.diff(x).argmax())
    assert x[k + 1] - x[k] > 0.24
    return (x[k] + x[k + 1]) / 2


def test_a_gouge_between_looks_a_quarter_of_a_millimetre_apart_is_found(needled):
    """0.04 mm deep and 0.27 mm wide: at looks 0.25 mm apart no more than 0.006 mm of it would show."""
    x = between_looks(needled)
    text = dab(x, 0.04)
    proof = prove_known([("dab.nc", text)], needled)
    found = [f for f in proof.findings if f.check == "cut too deep" and f.verdict is Verdict.NO_GO]
    assert [f.line for f in found] == [text.splitlines().index("G1 Z-0.2 F100") + 1]
    assert found[0].value == pytest.approx(0.04, abs=0.002)
    assert found[0].at == pytest.approx((x, 37, -0.03), abs=0.03)
    proof = prove_known([("dab.nc", dab(x, 0.026))], needled)
    assert not [f for f in proof.findings if f.check == "cut too deep" and f.verdict is Verdict.NO_GO]


def rim_of(points):
    """Level stretches between points (m, 2), their wall facing across them."""
    ends = np.stack([points[:-1], points[1:]], axis=1)
    ends = np.concatenate([ends, np.zeros((*ends.shape[:2], 1))], axis=2)
    return Lines(ends, np.tile([0.0, -1.0, 0.0], (len(ends), 1)))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 10), st.floats(0.02, 0.4), st.floats(-0.06, 0.06)), max_size=6))
def test_no_disc_anywhere_gets_past_the_bound(discs):
    """Discs (place, radius, how far over the line) cut along y = 0; what they truly cut is known in closed form."""
    middle = np.array([(x, h - r) for x, r, h in discs]).reshape(-1, 2)
    radius = np.array([r for _, r, _ in discs])

    def look(at, _):
        far = np.hypot(*(at[:, None, :2] - middle).transpose(2, 0, 1)) - radius
        gap = np.minimum(far.min(axis=1, initial=0.6), 0.6)
        return gap, np.zeros(len(at), dtype=np.int64), np.ones(len(at), dtype=bool)

    looks = bounded(rim_of(np.array([(0.0, 0.0), (3.0, 0.0), (10.0, 0.0)])), look, -1, 0.01, 0.03)
    deepest = max((r - abs(h - r) for _, r, h in discs), default=0.0)  # at the line's nearest point
    if deepest > 0.032:
        assert looks.off.max() > 0.03
    if looks.off.max() <= 0.03:
        assert max(deepest, 0.0) <= looks.bound + 1e-9
        assert looks.bound <= 0.03 + 0.002
    assert len(looks.off) < 3000


def test_rims_and_feet_are_the_upper_and_lower_edges_of_upright_walls(triangles):
    laid = lay(read_stl(binary_stl(triangles), "p.stl"), "+z", "+x")
    rims, feet = rims_and_feet(laid, upright_share(laid)[0])
    corner = 2 * np.pi * 4 * np.sinc(1 / 96)  # four quarters of a circle, by 96 chords
    round_it = 2 * (32 + 16) + corner
    for lines, outer, inner in ((rims, 0.0, 0.0), (feet, -12.0, -8.0)):
        length = np.hypot(*(lines.ends[:, 1, :2] - lines.ends[:, 0, :2]).T)
        assert length.sum() == pytest.approx(2 * (80 + 50) + round_it, abs=1e-3)
        assert set(np.unique(lines.ends[..., 2])) == {outer, inner}
