"""Motions turned into sweeps, and the stock turned into maps, against plain geometry."""

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from sparwright.placing.model import Pose
from sparwright.program.reader import read_program
from sparwright.proof.extents import extents
from sparwright.proof.kernels import AIR
from sparwright.proof.motion import collect, nominal_seconds, sweeps_of, to_face
from sparwright.proof.scene import metal_intervals
from sparwright.stock.model import Face, Section


def moves_of(text, maker):
    return collect([read_program(text)], maker.job().cutters)


def test_face_frame_is_the_pose_turned_back():
    pose = Pose(30, 20, 0.7)
    face = np.array([[5.0, -3.0], [100.0, 12.0]])
    bed = np.column_stack([pose.to_bed(face), [-1.0, 2.0]])
    assert to_face(bed, pose) == pytest.approx(np.column_stack([face, [-1.0, 2.0]]))


@pytest.mark.parametrize("plane", ["G17", "G18", "G19"])
@pytest.mark.parametrize("way", ["G2", "G3"])
def test_arcs_in_every_plane_become_sweeps_on_the_circle(maker, plane, way):
    axes = {"G17": "XYZIJ", "G18": "ZXYKI", "G19": "YZXJK"}[plane]
    a, b, c, i, j = axes
    text = f"G21 {plane} T1 M6\nG0 X0 Y0 Z0\n{way} {a}10 {b}10 {c}3 {i}0 {j}10 F100\n"
    moves = moves_of(text, maker)
    turn = (1 if way == "G3" else -1) * (math.pi / 2 if way == "G3" else 3 * math.pi / 2)
    assert moves.turn[-1] == pytest.approx(turn)
    assert moves.length[-1] == pytest.approx(math.hypot(10 * abs(turn), 3))
    sweeps, move = sweeps_of(moves, Pose(0, 0, 0.0), np.ones(3, dtype=bool))
    mine = np.flatnonzero(move == len(moves.line) - 1)
    first, second = "XYZ".index(a), "XYZ".index(b)
    for points in (sweeps.start[mine], sweeps.end[mine]):
        assert np.hypot(points[:, first], points[:, second] - 10) == pytest.approx(10, abs=1e-9)
    assert sweeps.end[mine[:-1]] == pytest.approx(sweeps.start[mine[1:]])
    assert (np.abs(sweeps.turn) <= math.pi + 1e-12).all()
    if plane != "G17":
        middle = (sweeps.start[mine] + sweeps.end[mine]) / 2
        sag = 10 - np.hypot(middle[:, first], middle[:, second] - 10)
        assert sag.max() <= 0.0021


def test_full_turn_and_extents(maker):
    moves = moves_of("G21 G17 T1 M6\nG0 X10 Y5 Z1\nG3 X10 Y5 I-4 J3 F100\n", maker)
    assert moves.turn[-1] == pytest.approx(2 * math.pi)
    low, high = extents(moves)
    assert low[-1] == pytest.approx([1, 3, 1])
    assert high[-1] == pytest.approx([11, 13, 1])


def test_time_is_length_over_feed(maker):
    moves = moves_of("G21 T1 M6\nG0 X60 Y0 Z0\nG1 X120 F600\n", maker)
    assert nominal_seconds(moves, maker.job().bed) == pytest.approx(60 / 6000 * 60 + 6.0)


# --- metal under a face ---------------------------------------------------------------------------------

SHAPES = {
    "two cells and a web": Polygon(
        box(0, 0, 60, 30).exterior.coords,
        [box(3, 3, 25, 27).exterior.coords, box(28, 3, 57, 27).exterior.coords],
    ),
    "round tube": Polygon(
        Point(20, 20).buffer(20, quad_segs=64).exterior.coords,
        [Point(20, 20).buffer(17, quad_segs=64).exterior.coords],
    ),
    "channel": Polygon([(0, 0), (40, 0), (40, 4), (4, 4), (4, 46), (40, 46), (40, 50), (0, 50)]),
}


@pytest.mark.parametrize("angle", [0.5 * math.pi, 0.0, 1.1])
@pytest.mark.parametrize("name", SHAPES)
def test_metal_intervals_match_line_intersection(name, angle):
    """Against shapely's own intersection of the section with a line going in at each s."""
    shape = SHAPES[name]
    x0, y0, x1, y1 = shape.bounds
    face = Face("f", angle, ((x0 + x1) / 2, (y0 + y1) / 2), 10.0)
    s = np.linspace(-24.87, 24.9, 41)
    tops, bottoms = metal_intervals(Section("t", shape, (face,)), face, s)
    for j, across in enumerate(s):
        foot = np.asarray(face.centre) + across * face.across
        line = LineString([foot + 100 * face.normal, foot - 100 * face.normal])
        cut = shapely.intersection(line, shape)
        pieces = [g for g in getattr(cut, "geoms", [cut]) if g.length > 0]
        wanted = sorted(
            (
                tuple(sorted(((np.asarray(g.coords) - face.centre) @ face.normal), reverse=True))
                for g in pieces
            ),
            reverse=True,
        )
        got = [(t, b) for t, b in zip(tops[j], bottoms[j], strict=True) if t > AIR]
        assert len(got) == len(wanted)
        for a, b in zip(got, wanted, strict=True):
            assert a == pytest.approx(b, abs=1e-4)
