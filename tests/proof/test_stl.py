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
from block_help import HIGH, LONG, WIDE, ascii_stl, binary_stl, block_triangles

from sparwright.proof.kernels import AIR, Grid
from sparwright.proof.lookdown import height_map, wall_points
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
