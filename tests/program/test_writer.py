"""Programs as written: read back they are the cuts that went in, they start and end safe, and they say so."""

import hashlib
import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from tests_program_help import NAN, controlled, path_of

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Cut, Piece, SideCuts
from sparwright.placing.model import Pose
from sparwright.program.pen import feed_word
from sparwright.program.reader import read_program, summary
from sparwright.program.writer import plain, write_programs

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
    assert plain("50 % done? yes! ~$;\t\n x") == "50 percent done yes , x"
    assert plain("Müller Straße 5 m²") == "Muller Strae 5 m2"


def test_names_sort_in_the_order_they_are_run(bridge_job):
    setup = SimpleNamespace(order=2, zero="X0 Y0 at the stop pin, Z0 on the top")
    programs = write_programs(two_cutters(), Pose(0, 0, 0), bridge_job, station=2, setup=setup)
    names = [p.name for p in programs]
    assert names == ["2-front-station2-01-t1.nc", "2-front-station2-02-t2.nc", "2-front-station2-03-t1.nc"]
    assert "(zero: X0 Y0 at the stop pin, Z0 on the top)" in programs[0].text
    odd = write_programs(cuts(SQUARE, side="Top / left!"), Pose(0, 0, 0), bridge_job)
    assert odd[0].name == "top-left-01-t1.nc"
    assert write_programs(SideCuts("front", ()), Pose(0, 0, 0), bridge_job) == ()


WORDS = re.compile(r"(?:[GMTSFPXYZIJ]-?[0-9]+(?:\.[0-9]+)? ?)+")


@pytest.mark.parametrize("how", ["one file a cutter", "stop"])
@pytest.mark.parametrize("arcs", [True, False])
def test_only_words_that_simple_controllers_take(bridge_job, how, arcs):
    job = controlled(bridge_job, tool_change=how, arcs=arcs)
    allowed = {"G0", "G1", "G2", "G3", "G4", "G17", "G21", "G40", "G49", "G54", "G80", "G90", "G94"}
    allowed |= {"M0", "M3", "M5", "M30"}
    for program in write_programs(two_cutters(), Pose(1, 2, 0.3), job):
        assert program.text.endswith("M30\n")
        for line in program.text.splitlines():
            assert line == line.strip()
            if line.startswith("("):
                assert re.fullmatch(r"\([A-Za-z0-9 .,:;+\-=/#'_*\[\]]+\)", line)
                continue
            assert WORDS.fullmatch(line), line
            assert "-0 " not in f"{line} "
            assert set(re.findall(r"[GM][0-9.]+", line)) <= allowed, line


def test_after_a_stop_everything_is_said_again(bridge_job):
    (program,) = write_programs(two_cutters(), Pose(0, 0, 0), controlled(bridge_job, tool_change="stop"))
    assert read_program(program.text).messages[0][1] == "put in cutter 2 3.175 single flute and set Z0 anew"
    lines = [line for line in program.text.splitlines() if not line.startswith("(")]
    stop = lines.index("M0")
    assert lines[stop - 2 : stop] == ["Z25", "M5"] or lines[stop - 2 : stop] == ["G0 Z25", "M5"]
    assert lines[stop + 1 : stop + 6] == ["G0 Z25", "T2", "S20000 M3", "G4 P4", "X0 Y0"]


def test_a_changer_takes_the_tools_length(bridge_job):
    (program,) = write_programs(two_cutters(), Pose(0, 0, 0), controlled(bridge_job, tool_change="M6"))
    lines = [line for line in program.text.splitlines() if not line.startswith("(")]
    assert lines[1:5] == ["T1 M6", "G43 H1", "G0 Z25", "S15000 M3"]
    change = lines.index("T2 M6")
    assert lines[change - 1] == "M5"
    assert lines[change + 1 : change + 3] == ["G43 H2", "G0 Z25"]


def test_a_change_of_speed_is_said_at_the_clearance_height(bridge_job):
    first = cuts(SQUARE).cuts[0]
    side = SideCuts("front", (first, replace(first, rpm=18000.0)))
    (program,) = write_programs(side, Pose(0, 0, 0), bridge_job)
    reading = read_program(program.text)
    assert sorted(set(reading.rpm[reading.kind > 0])) == [15000, 18000]
    assert reading.dwell_seconds == 6
    change = program.text.splitlines().index("S18000 M3") + 1
    assert reading.end[reading.line < change][-1, 2] == 6


def test_the_safe_height_clears_every_path(bridge_job):
    (program,) = write_programs(cuts(SQUARE.shifted(0, 0, 40.0)), Pose(0, 0, 0), bridge_job)
    reading = read_program(program.text)
    assert reading.end[0, 2] == 46
    assert reading.end_position[2] == 46


def test_minutes_digest_and_extents(bridge_job):
    (program,) = write_programs(cuts(SQUARE), Pose(100, 50, 0), bridge_job)
    assert program.minutes == 1.5
    assert program.digest == hashlib.sha256(program.text.encode()).hexdigest()
    # The first arc bulges to x = 35, the second stays between; lowest is -2, highest the safe height.
    assert np.allclose(program.extents, [[100, 50, -2], [135, 60, 25]], atol=2e-3)
    assert "(extents: X 100.0 to 135.0, Y 50.0 to 60.0, Z -2.0 to 25.0 mm)" in program.text
    box = summary(read_program(program.text, start=(100, 50, 25)))["extents_mm"]
    assert np.allclose(program.extents, box, atol=1e-9)


def test_feeds_are_rounded_down():
    assert [feed_word(f) for f in (800.0, 799.9999, 799.99999999, 10.9, 9.96, 0.55, 0.01)] == [
        "F800", "F799", "F800", "F10", "F9.9", "F0.5", "F0.1",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "spoilt",
    [
        (LINE, (1, 1, NAN), None, 100),
        (LINE, (1, 1, 1), None, NAN),
        (LINE, (1, 1, 1), None, 0),
        (ARC_CW, (1, 1, 1), None, 100),
        (7, (1, 1, 1), None, 100),
    ],
)
def test_a_path_that_cannot_be_written_is_refused_by_name(bridge_job, spoilt):
    with pytest.raises(ValueError, match='the path of "thing/1" cannot be written'):
        write_programs(cuts(SQUARE, path_of((0, 0, 6), [spoilt])), Pose(0, 0, 0), bridge_job)
