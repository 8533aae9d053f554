"""Canned cycles. Outside checks: NIST IR 6556, section 3.5.16 and appendix C.3."""

from __future__ import annotations

import numpy as np
import pytest
from tests_program_help import clean, error_of

from sparwright.program import limits
from sparwright.program.reader import read_program


def zs(text: str, **options: object) -> list[float]:
    """Z of the end points of a program's motions."""
    return [round(z, 9) for z in clean(text, **options).end[:, 2]]


def test_first_example_of_section_3_5_16_2() -> None:
    # From (1, 2, 3): to (4, 5, 3), (4, 5, 2.8), feed to (4, 5, 1.5), back to (4, 5, 3).
    reading = clean("g90 g81 g98 x4 y5 z1.5 r2.8", start=(1, 2, 3))
    assert reading.end.tolist() == [[4, 5, 3], [4, 5, 2.8], [4, 5, 1.5], [4, 5, 3]]
    assert reading.kind.tolist() == [0, 0, 1, 0]
    assert reading.cycle.tolist() == [81] * 4


def test_second_example_of_section_3_5_16_2() -> None:
    # From (1, 2, 3), three holes by steps: up to 4.8, then at each of (5, 7), (9, 12), (13, 17): 4.8, feed 4.2, 4.8.
    reading = clean("g91 g81 g98 x4 y5 z-0.6 r1.8 l3", start=(1, 2, 3))
    wanted = [(1, 2, 4.8)]
    for x, y in ((5, 7), (9, 12), (13, 17)):
        wanted += [(x, y, 4.8), (x, y, 4.2), (x, y, 4.8)]
    assert np.allclose(reading.end, wanted, atol=1e-9)
    assert reading.kind.tolist() == [0] + [0, 1, 0] * 3


def test_return_to_r_or_to_the_old_height() -> None:
    assert zs("g99 g81 x1 z-1 r2\nx2", start=(0, 0, 9)) == [9, 2, -1, 2, 2, -1, 2]
    assert zs("g98 g81 x1 z-1 r2\nx2", start=(0, 0, 9)) == [9, 2, -1, 9, 9, 2, -1, 9]
    assert zs("g98 g81 x1 z-1 r2", start=(0, 0, 1)) == [2, 2, -1, 2]


def test_what_stays_in_force() -> None:
    reading = clean("g99 g81 x1 z-1 r2 f50\nx2 l2\ny3 z-2\nr1 x0\ng83 q1.5 x5", start=(0, 0, 2))
    holes = [tuple(p) for p, k in zip(reading.end.tolist(), reading.kind, strict=True) if k == 1]
    assert holes[:5] == [(1, 0, -1), (2, 0, -1), (2, 0, -1), (2, 3, -2), (0, 3, -2)]
    assert [h[0] for h in holes[5:]] == [5, 5]
    assert error_of("g81 x1 z-1 r1\ng0 x0\ng81 x2 z-1") == "G81 needs R"
    assert error_of("g81 x1 z-1 r1\ng80\ng81 x2 r1") == "G81 needs Z"
    assert error_of("g82 x1 z-1 r1 p1\ng81 x2\ng82 x3") == "G82 needs P"


def test_dwell_at_the_bottom() -> None:
    reading = clean("g82 x1 z-1 r1 p0.5\nx2 l3", start=(0, 0, 1))
    assert reading.dwell_seconds == pytest.approx(0.5 * 4)


def test_pecks_of_appendix_c_3() -> None:
    # "n0090 g83 ... r.2 z-1.1 q.21": seven pecks, the last full one to -1.06; clear between pecks.
    reading = clean("g99 g83 x1 z-1.1 r.2 q.21 f20", start=(0, 0, 0.2))
    cuts = reading.end[reading.kind == 1, 2]
    assert len(cuts) == 7
    assert cuts[5] == pytest.approx(-1.06, abs=1e-9)
    assert cuts[6] == -1.1
    after = np.flatnonzero(reading.kind == 1) + 1
    assert np.all(reading.end[after, 2] == 0.2)
    # The rapid back down stops 0.010 inch above the last peck, and never above where it came from.
    assert reading.end[after[:-1] + 1, 2] == pytest.approx(np.minimum(cuts[:-1] + 0.254, 0.2), abs=1e-9)


def test_tapping_turns_the_spindle_round() -> None:
    reading = clean("m3 s300 f150\ng99 g84 x1 z-4 r2", start=(0, 0, 2))
    assert reading.kind.tolist() == [0, 1, 1]
    assert reading.spindle.tolist() == [1, 1, -1]
    assert reading.feed[1] / reading.rpm[1] == 0.5  # 150 mm/min at 300 rev/min: two threads a millimetre
    assert error_of("m4\ng84 x1 z-4 r2") == "G84 needs the spindle turning clockwise (M3)"


def test_boring() -> None:
    out = clean("f80 g98 g85 x1 z-4 r2", start=(0, 0, 5))
    assert out.kind.tolist() == [0, 0, 1, 1, 0]
    assert out.end[:, 2].tolist() == [5, 2, -4, 2, 5]
    waits = clean("f80 g99 g89 x1 z-4 r2 p3", start=(0, 0, 5))
    assert waits.kind.tolist() == [0, 0, 1, 1]
    assert waits.dwell_seconds == 3
    stopped = clean("m3 f80 g99 g86 x1 z-4 r2 p1", start=(0, 0, 5))
    assert stopped.kind.tolist() == [0, 0, 1, 0]
    assert stopped.spindle.tolist() == [1, 1, 1, 0]
    by_hand = clean("m3 f80\ng99 g88 x1 z-4 r2 p1\nx2", start=(0, 0, 5))
    assert by_hand.stops == (2, 3)
    assert by_hand.spindle.tolist() == [1, 1, 1, 0, 1, 1, 0]


def test_back_boring() -> None:
    reading = clean("m3 f80 g99 g87 x10 y5 z-8 r2 i1 j-0.5 k-6", start=(0, 0, 5))
    assert reading.end.tolist() == [
        [10, 5, 5],
        [10, 5, 2],
        [11, 4.5, 2],
        [11, 4.5, -8],
        [10, 5, -8],
        [10, 5, -6],
        [10, 5, -8],
        [11, 4.5, -8],
        [11, 4.5, 2],
        [10, 5, 2],
    ]
    assert reading.kind.tolist() == [0, 0, 0, 0, 0, 1, 1, 0, 0, 0]
    assert reading.spindle.tolist() == [1, 1, 1, 0, 0, 1, 1, 0, 0, 0]
    steps = clean("m3 f80 g91 g99 g87 x1 z-8 r2 i1 j0 k1.5", start=(0, 0, 0))
    assert steps.end[steps.kind == 1, 2].tolist() == [-4.5, -6]


def test_the_other_planes() -> None:
    # Section 3.5.16: the cycle's axis is Y in the XZ plane and X in the YZ plane.
    xz = clean("g18 g99 g81 x1 z2 y-3 r1", start=(0, 5, 0))
    assert xz.end.tolist() == [[1, 5, 2], [1, 1, 2], [1, -3, 2], [1, 1, 2]]
    yz = clean("g19 g99 g81 y1 z2 x-3 r1", start=(5, 0, 0))
    assert yz.end.tolist() == [[5, 1, 2], [1, 1, 2], [-3, 1, 2], [1, 1, 2]]


def test_work_offsets_and_inches() -> None:
    reading = clean("g20 g99 g81 x1 z-1 r0.5", start=(0, 0, 30), offsets={"G54": (100, 0, 10)})
    assert np.allclose(reading.end[-1], [125.4, 0, 10 + 12.7])
    assert np.allclose(reading.end[2], [125.4, 0, 10 - 25.4])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("g81 z-1 r1 f10\ng81", "G81 needs X, Y or Z"),
        ("g81 x1 r1", "G81 needs Z"),
        ("g81 x1 z-1", "G81 needs R"),
        ("g82 x1 z-1 r1", "G82 needs P"),
        ("g82 x1 z-1 r1 p-1", "P-1: a dwell cannot be negative"),
        ("g83 x1 z-1 r1", "G83 needs Q"),
        ("g83 x1 z-1 r1 q0", "G83 needs a Q above zero"),
        ("g83 x1 z-1 r1 q-1", "G83 needs a Q above zero"),
        ("g83 x1 z-1 r1 q0.0001", "Q0.0001 mm takes more than 10000 pecks"),
        ("g81 x1 z-1 r1 l0", "L0: the number of repeats runs from 1 to 10000"),
        ("g81 x1 z-1 r1 l1.5", "L must be a whole number, not 1.5"),
        ("g81 x1 z-1 r1 l99999", "L99999: the number of repeats runs from 1 to 10000"),
        ("g81 x1 z1 r0.5", "R lies below Z: 0.5 mm is under 1 mm"),
        ("g91 g81 x1 z1 r0.5", "R lies below Z: 0.5 mm is under 1.5 mm"),
        ("g93 g81 x1 z-1 r1 f1", "G81 cannot be used with G93"),
        ("f0 g81 x1 z-1 r1", "G81 at a feed of zero would never end"),
        ("g86 x1 z-1 r1 p0", "G86 needs the spindle turning"),
        ("m3 g87 x1 z-1 r1 j0 k0", "G87 needs I"),
        ("m3 g87 x1 z-1 r1 i1 j0 k-2", "G87 bores upward: K must lie above Z"),
        ("g81 x1 z-1 r1 a4", "A is a rotary axis; this reader follows the straight axes X, Y and Z"),
    ],
)
def test_cycles_that_cannot_be_made(text: str, message: str) -> None:
    assert error_of(text) == message


def test_repeats_cannot_flood_the_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limits, "MOST_CYCLE_MOTIONS", 20_000)
    reading = read_program("g91 g99\n" + "g83 x0.001 z-10 r0 q0.0015 l10000 f9\n" * 3)
    assert [e.line for e in reading.errors] == [2, 3, 4]
    assert reading.errors[0].message == "canned cycles have made 20000 motions; this reader makes no more"
    assert len(reading.kind) == 20_000
