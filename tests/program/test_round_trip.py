"""Random paths written and read back: the same curve, in the same order, within the rounding of the controller."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests_program_help import NAN, clean, controlled, path_of

from sparwright.cutting.model import ARC_CCW, ARC_CW, LINE, RAPID, Cut, Path, Piece, SideCuts
from sparwright.job.models import Job
from sparwright.placing.model import Pose
from sparwright.program.model import Reading
from sparwright.program.writer import write_programs


def sampled(kind: int, start: np.ndarray, end: np.ndarray, centre: np.ndarray) -> np.ndarray:
    """Places along one move at most 0.2 mm apart, ends included, (n, 3)."""
    around = 0.0 if kind < ARC_CW else 2 * math.pi * math.dist(start[:2], centre[:2])
    count = 24 + math.ceil((math.dist(start, end) + around) / 0.2)
    share = np.linspace(0, 1, count + 1)[:, None]
    if kind < ARC_CW:
        return start + (end - start) * share
    a = math.atan2(*(start[:2] - centre[:2])[::-1])
    b = math.atan2(*(end[:2] - centre[:2])[::-1])
    turn = (a - b if kind == ARC_CW else b - a) % (2 * math.pi)
    if np.array_equal(start[:2], end[:2]):
        turn = 2 * math.pi
    angle = a + (-turn if kind == ARC_CW else turn) * share[:, 0]
    r0, r1 = (math.dist(p[:2], centre[:2]) for p in (start, end))
    radius = r0 + (r1 - r0) * share[:, 0]
    return np.column_stack(
        [
            centre[0] + radius * np.cos(angle),
            centre[1] + radius * np.sin(angle),
            start[2] + (end[2] - start[2]) * share[:, 0],
        ]
    )


def run_of(line: np.ndarray) -> np.ndarray:
    """Length run at each corner of a polyline."""
    return np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])


def curve_of_path(path: Path, pose: Pose, least: float) -> np.ndarray:
    """The feed moves of a path longer than `least` as one fine polyline on the bed."""
    places = np.vstack([path.start, path.end])
    parts = [
        sampled(int(k), a, b, c)
        for k, (a, b), c in zip(path.kind, pairwise(places), path.centre, strict=True)
        if k != RAPID
    ]
    line = np.concatenate([part for part in parts if run_of(part)[-1] > least])
    return np.column_stack([pose.to_bed(line[:, :2]), line[:, 2]])


def curve_of_reading(reading: Reading) -> np.ndarray:
    """The feed moves of a reading as one fine polyline."""
    cutting = np.flatnonzero(reading.kind > 0)
    return np.concatenate(
        [sampled(int(reading.kind[i]), reading.start[i], reading.end[i], reading.centre[i]) for i in cutting]
    )


def at_shares(line: np.ndarray, count: int = 2000) -> np.ndarray:
    """Places at even shares of a polyline's length: two curves run in the same order give the same places."""
    run = run_of(line)
    return np.column_stack([np.interp(np.linspace(0, run[-1], count), run, line[:, k]) for k in range(3)])


def distances(places: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Distance of some 300 of the places from a polyline, each against every piece of it."""
    some = places[:: max(1, len(places) // 300)]
    a, b = line[:-1], line[1:]
    run = np.einsum("ij,ij->i", b - a, b - a)
    away = some[:, None, :] - a[None]
    share = np.einsum("nij,ij->ni", away, b - a) / np.where(run > 0, run, 1.0)
    foot = np.clip(share, 0, 1)[:, :, None] * (b - a)[None]
    return np.sqrt(((away - foot) ** 2).sum(axis=2).min(axis=1))


def side_of(*paths: Path, kind: str = "clear") -> SideCuts:
    pieces = tuple(Piece(f"thing/{i}", p) for i, p in enumerate(paths))
    return SideCuts("front", (Cut(kind, kind, 1, 15000.0, pieces),))


place = st.floats(-15, 15, allow_nan=False)
moves = st.lists(
    st.one_of(
        st.tuples(st.just(LINE), place, place, st.floats(-5, 0), st.just(0.0)),
        st.tuples(st.just(RAPID), place, place, st.floats(-5, 6), st.just(0.0)),
        st.tuples(st.sampled_from([ARC_CW, ARC_CCW]), place, place, st.floats(-5, 0), st.floats(0.001, 6.28)),
        st.tuples(
            st.sampled_from([ARC_CW, ARC_CCW]),
            st.floats(-0.01, 0.01),
            st.floats(0, 0.01),
            st.just(-1.0),
            st.floats(0.1, 6.2),
        ),
    ),
    min_size=1,
    max_size=10,
)


def random_path(listed: list[tuple[int, float, float, float, float]]) -> Path:
    """A path from moves: ends of straight ones; of arcs the step to their centre, their rise and their sweep."""
    here, out = np.array([0.0, 0.0, 6.0]), [(LINE, (0.0, 0.0, -1.0), None, 200.0)]
    for kind, x, y, z, sweep in listed:
        if kind < ARC_CW:
            here = np.array([x, y, z])
            out.append((kind, tuple(here), None, NAN if kind == RAPID else 900.0))
            continue
        centre = here[:2] + np.array([x, y])
        turn = -sweep if kind == ARC_CW else sweep
        c, s = math.cos(turn), math.sin(turn)
        d = here[:2] - centre
        here = np.array([centre[0] + d[0] * c - d[1] * s, centre[1] + d[0] * s + d[1] * c, z])
        out.append((kind, tuple(here), tuple(centre), 500.0))
    return path_of((0, 0, 6), out)


@settings(max_examples=50, deadline=None)
@given(
    listed=moves,
    x=st.floats(-900, 900),
    y=st.floats(-900, 900),
    angle=st.floats(-3.2, 3.2),
    decimals=st.sampled_from([2, 3, 4, 5]),
    arcs=st.booleans(),
)
def test_a_random_path_comes_back(
    bridge_job: Job, listed: list, x: float, y: float, angle: float, decimals: int, arcs: bool
) -> None:
    path, pose = random_path(listed), Pose(x, y, angle)
    job = controlled(bridge_job, decimals=decimals, arcs=arcs)
    (program,) = write_programs(side_of(path), pose, job)
    reading = clean(program.text)  # the reader refuses arcs whose radii differ by more than 0.002 mm
    assert arcs or (reading.kind < 2).all()
    wanted, got = curve_of_path(path, pose, 0.0), curve_of_reading(reading)
    # Ends are rounded (half a step across each axis) and so are centres; flat arcs and chords lie inside their arcs.
    close = 1.3 * 10.0**-decimals + 0.0008 + (0 if arcs else 0.004)
    assert distances(curve_of_path(path, pose, 0.1), got).max() < close  # shorter moves may round away
    assert distances(got, wanted).max() < close
    if any(kind == RAPID for kind, *_ in listed):
        return  # what follows compares lengths run, which gaps would spoil
    slip = abs(run_of(got)[-1] - run_of(wanted)[-1])
    assert slip < 4 * close * (1 + len(listed)) + 3e-3 * run_of(wanted)[-1] * (not arcs)
    assert np.abs(at_shares(wanted) - at_shares(got)).max() < 8 * close * (1 + len(listed)) + slip


@settings(max_examples=80, deadline=None)
@given(listed=moves, angle=st.floats(-3.2, 3.2))
def test_starts_and_ends_safe_and_rapids_never_slant(bridge_job: Job, listed: list, angle: float) -> None:
    path = random_path(listed)
    (program,) = write_programs(side_of(path, path.shifted(60, 0)), Pose(3, 4, angle), bridge_job)
    reading = clean(program.text)
    step = reading.end - reading.start
    rapid = np.flatnonzero(reading.kind == 0)
    across = np.hypot(step[:, 0], step[:, 1]) > 1e-9
    assert not (across[rapid] & (np.abs(step[rapid, 2]) > 1e-9)).any()
    assert reading.end[0, 2] == 25  # before anything else, up
    assert not across[0]
    assert reading.end_position[2] == 25
    assert (reading.spindle[reading.kind > 0] == 1).all()


@pytest.mark.parametrize(("low", "high"), [(-2.0, 3.0), (3.0, -2.0), (1.0, 1.0)])
def test_rapids_go_up_first_and_down_last(bridge_job: Job, low: float, high: float) -> None:
    path = path_of((0, 0, 6), [(LINE, (0, 0, low), None, 100), (RAPID, (8, 5, high), None, NAN)])
    reading = clean(write_programs(side_of(path), Pose(0, 0, 0), bridge_job)[0].text)
    after = int(np.flatnonzero(reading.kind > 0)[-1]) + 1
    crossing = max(low, high)
    wanted = [[0, 0, crossing], [8, 5, crossing], [8, 5, high]]
    places = [[0.0, 0.0, low], *reading.end[after:-1].tolist()]
    kept = [p for p, q in zip(wanted, [[0, 0, low], *wanted], strict=False) if p != q]
    assert places[1:] == kept


def drilled(x: float, s: float, depths: list[float]) -> Path:
    """A hole drilled from n = 1 with a clearance of 6, one plunge a depth."""
    listed: list = [(RAPID, (x, s, 1.0), None, NAN)]
    for k, depth in enumerate(depths):
        listed.append((LINE, (x, s, depth), None, 120.0))
        if k < len(depths) - 1:
            listed += [(RAPID, (x, s, 1.0), None, NAN), (RAPID, (x, s, depth + 0.2), None, NAN)]
    return path_of((x, s, 6), [*listed, (RAPID, (x, s, 6.0), None, NAN)])


def bottoms(reading: Reading) -> list[tuple[float, ...]]:
    """Ends of the plunges."""
    return [tuple(p) for p in reading.end[reading.kind == 1].round(6).tolist()]


def test_drilled_holes_as_canned_cycles(bridge_job: Job) -> None:
    job = controlled(bridge_job, canned_cycles=True)
    pose = Pose(100, 200, 0)
    side = side_of(drilled(0, 0, [-4]), drilled(10, 5, [-4]), drilled(20, 5, [-3]), kind="drill")
    (program,) = write_programs(side, pose, job)
    lines = program.text.splitlines()
    assert "G98 G81 X100 Y200 Z-4 R1 F120" in lines
    assert "X110 Y205" in lines
    assert "G98 G81 X120 Y205 Z-3 R1 F120" in lines
    assert lines.count("G80") == 1
    reading, plain = clean(program.text), clean(write_programs(side, pose, bridge_job)[0].text)
    assert bottoms(reading) == bottoms(plain) == [(100, 200, -4), (110, 205, -4), (120, 205, -3)]
    assert reading.cycle[reading.kind == 1].tolist() == [81] * 3
    assert (plain.cycle == 0).all()
    assert set(reading.feed[reading.kind == 1]) == {120}
    across = np.hypot(*(reading.end - reading.start)[:, :2].T) > 0
    assert reading.end[across, 2].tolist() == [25, 6, 6]


def test_pecked_holes_as_canned_cycles(bridge_job: Job) -> None:
    job = controlled(bridge_job, canned_cycles=True)
    side = side_of(drilled(0, 0, [-1, -3, -4.5]), drilled(9, 0, [-1, -3, -4.5]), kind="drill")
    (program,) = write_programs(side, Pose(0, 0, 0), job)
    assert "G98 G83 X0 Y0 Z-4.5 R1 Q2 F120" in program.text.splitlines()
    assert [z for _, _, z in bottoms(clean(program.text))] == [-1, -3, -4.5] * 2


@pytest.mark.parametrize(
    "path",
    [
        drilled(0, 0, [-1, -4, -5]),  # pecks uneven
        path_of((0, 0, 6), [(LINE, (0, 0, -4), None, 100), (LINE, (0, 0, 6), None, 100)]),  # feeds out
        path_of((0, 0, 6), [(LINE, (1, 0, -4), None, 100), (RAPID, (1, 0, 6), None, NAN)]),  # slants
        path_of((0, 0, 6), [(LINE, (0, 0, -4), None, 100), (RAPID, (0, 0, 9), None, NAN)]),  # ends higher
        path_of((0, 0, 6), [(LINE, (0, 0, -4), None, 100), (ARC_CW, (0, 0, -4), (1, 0), 90)]),
    ],
)
def test_what_is_no_plain_hole_is_written_out(bridge_job: Job, path: Path) -> None:
    job = controlled(bridge_job, canned_cycles=True)
    side = side_of(drilled(30, 0, [-4]), path, kind="drill")
    (program,) = write_programs(side, Pose(0, 0, 0), job)
    assert (clean(program.text).cycle == 0).all()


def test_full_turns_and_halves(bridge_job: Job) -> None:
    path = path_of(
        (5, 0, 6),
        [
            (LINE, (5, 0, -1), None, 100),
            (ARC_CCW, (5, 0, -2), (0, 0), 500),
            (ARC_CW, (-5, 0, -2), (0, 0), 500),
            (ARC_CCW, (-5, 0.0002, -2), (-5, 0.0001), 500),
        ],
    )
    (program,) = write_programs(side_of(path), Pose(0, 0, 0), bridge_job)
    reading = clean(program.text)
    assert reading.kind.tolist()[-5:-1] == [1, 3, 3, 2]
    assert reading.end[-4:-1].tolist() == [[-5, 0, -1.5], [5, 0, -2], [-5, 0, -2]]


def test_nothing_is_written_for_nothing(bridge_job: Job) -> None:
    path = path_of((0, 0, 6), [(LINE, (0.0001, 0, 6), None, 100), (ARC_CW, (0, 0.0001, 6), (0, 0), 100)])
    (program,) = write_programs(side_of(path), Pose(0, 0, 0), bridge_job)
    assert (clean(program.text).kind == 0).all()
