"""Programs as written: read back they are the cuts that went in, they start and end safe, and they say so."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Cut, Path, Piece, SideCuts
from sparwright.placing.model import Pose
from sparwright.program.reader import read_program
from sparwright.program.writer import plain, write_programs

NAN = math.nan


def path_of(start, moves):
    """moves: (kind, end, centre or None, feed)."""
    return Path(
        np.array(start, float),
        np.array([m[0] for m in moves], np.int8),
        np.array([m[1] for m in moves], float).reshape(-1, 3),
        np.array([m[2] or (NAN, NAN) for m in moves], float).reshape(-1, 2),
        np.array([m[3] for m in moves], float),
    )


SQUARE = path_of(
    (0, 0, 6),
    [
        (RAPID, (0, 0, 1), None, NAN),
        (LINE, (0, 0, -1), None, 200),
        (LINE, (30, 0, -1), None, 800),
        (ARC_CCW, (30, 10, -1), (30, 5), 600),
        (ARC_CW, (20, 10, -2), (25, 10), 600),
        (RAPID, (20, 10, 6), None, NAN),
    ],
)


def cuts(*paths, cutter=1, rpm=15000.0, side="front"):
    pieces = tuple(Piece(f"thing/{i}", p) for i, p in enumerate(paths))
    return SideCuts(side, (Cut("clear", "clear", cutter, rpm, pieces, seconds=90.0),))


def replay(text, pose):
    reading = read_program(text)
    assert reading.errors == ()
    xs = pose.to_face(reading.end[:, :2])
    return reading, np.column_stack([xs, reading.end[:, 2]])


def test_what_is_written_is_read_back(bridge_job):
    pose = Pose(120.0, 80.0, 0.7)
    (program,) = write_programs(cuts(SQUARE), pose, bridge_job)
    reading, points = replay(program.text, pose)
    feeds = reading.kind != 0
    want = SQUARE.end[SQUARE.kind != RAPID]
    assert points[feeds] == pytest.approx(want, abs=1e-3)
    assert reading.kind[feeds].tolist() == [1, 1, 3, 2]
    assert reading.feed[feeds].tolist() == [200, 800, 600, 600]
    centre = pose.to_face(reading.centre[reading.kind == 2][:, :2])
    assert centre == pytest.approx(np.array([[25, 10]]), abs=2e-3)


def test_it_starts_and_ends_safe_with_the_spindle_named(bridge_job):
    (program,) = write_programs(cuts(SQUARE), Pose(0, 0, 0), bridge_job)
    lines = [line for line in program.text.splitlines() if not line.startswith("(")]
    assert lines[0] == "G21 G90 G94 G17 G40 G49 G80 G54"
    assert lines[1:5] == ["G0 Z25", "T1", "S15000 M3", "G4 P4"]
    assert lines[-3:] == ["G0 Z25", "M5", "M30"] or lines[-3:] == ["Z25", "M5", "M30"]
    assert program.text.isascii()
    assert all(len(line) < 256 for line in program.text.splitlines())
    assert "-0 " not in program.text
    reading = read_program(program.text)
    assert (reading.spindle[reading.kind != 0] == 1).all()
    assert reading.ended


def test_the_header_says_what_matters(bridge_job):
    (program,) = write_programs(cuts(SQUARE), Pose(0, 0, 0), bridge_job)
    head = program.text.split("G21")[0]
    for words in (
        "Bridge beam",
        "side front",
        "cutter 1: 6.35 single flute",
        "zero:",
        "1.5 minutes",
        bridge_job.digest[:12],
    ):
        assert words in head


def test_the_same_cuts_give_the_same_bytes(bridge_job):
    a, b = (write_programs(cuts(SQUARE, SQUARE), Pose(3, 4, 0.5), bridge_job)[0] for _ in range(2))
    assert a == b


def controlled(job, **more):
    return job.model_copy(
        update={"bed": job.bed.model_copy(update={"controller": job.bed.controller.model_copy(update=more)})}
    )


def two_cutters():
    first, second = cuts(SQUARE).cuts[0], replace(cuts(SQUARE).cuts[0], cutter=2, rpm=20000.0)
    return SideCuts("front", (first, first, second, first))


def test_one_file_a_cutter(bridge_job):
    programs = write_programs(two_cutters(), Pose(0, 0, 0), bridge_job)
    assert [p.cutters for p in programs] == [(1,), (2,), (1,)]
    assert len({p.name for p in programs}) == 3


@pytest.mark.parametrize(("how", "word"), [("stop", "M0"), ("M6", "M6")])
def test_one_file_where_the_controller_changes_cutters(bridge_job, how, word):
    (program,) = write_programs(two_cutters(), Pose(0, 0, 0), controlled(bridge_job, tool_change=how))
    assert program.cutters == (1, 2, 1)
    assert word in program.text
    reading = read_program(program.text)
    assert reading.errors == ()
    assert set(reading.tool[reading.kind != 0].tolist()) == {1, 2}


def test_a_controller_without_arcs_gets_chords(bridge_job):
    (program,) = write_programs(cuts(SQUARE), Pose(0, 0, 0), controlled(bridge_job, arcs=False))
    assert "G2 " not in program.text.replace("G21", "")
    assert "G3 " not in program.text
    reading = read_program(program.text)
    near = reading.end[(reading.end[:, 0] > 30.001)]
    assert np.hypot(near[:, 0] - 30, near[:, 1] - 5) == pytest.approx(np.full(len(near), 5.0), abs=2e-3)


def test_rapids_never_move_down_and_across_together(bridge_job):
    slanted = path_of(
        (5, 5, 6),
        [(RAPID, (9, 9, 1), None, NAN), (LINE, (12, 9, -1), None, 300), (RAPID, (40, 0, 6), None, NAN)],
    )
    reading = read_program(write_programs(cuts(SQUARE, slanted), Pose(0, 0, 0), bridge_job)[0].text)
    rapid = reading.kind == 0
    across = np.hypot(*(reading.end - reading.start)[:, :2].T) > 1e-9
    down = np.abs((reading.end - reading.start)[:, 2]) > 1e-9
    assert not (rapid & across & down).any()


def test_comments_are_plain():
    assert plain("Ø6 (both) × 2°") == "D6 [both] x 2 deg"


coordinate = st.floats(-40, 40, allow_nan=False)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(coordinate, coordinate, st.floats(-3, 3), st.floats(0.05, 6.2), st.booleans()),
        min_size=1,
        max_size=12,
    ),
    st.floats(-3.2, 3.2),
)
def test_any_arc_reads_back_within_the_reports_tolerance(bridge_job, arcs, angle):
    here, moves = np.array([0.0, 0.0]), []
    for cx, cy, z, sweep, cw in arcs:
        centre = here + np.array([cx, cy])
        if math.hypot(cx, cy) < 0.2:
            continue
        turn = -sweep if cw else sweep
        c, s = math.cos(turn), math.sin(turn)
        d = here - centre
        here = centre + np.array([d[0] * c - d[1] * s, d[0] * s + d[1] * c])
        moves.append((ARC_CW if cw else ARC_CCW, (*here, z), tuple(centre), 500.0))
    if not moves:
        return
    pose = Pose(10.0, -20.0, angle)
    path = path_of((0, 0, 0), moves)
    (program,) = write_programs(cuts(path), pose, bridge_job)
    _, points = replay(program.text, pose)
    assert points[-2, :2] == pytest.approx(here, abs=2e-3)
