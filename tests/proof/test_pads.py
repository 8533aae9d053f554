"""Pads proved as blocks of sheet: slots by width, depth and place, insert holes, reach, and the bed left alone."""

from dataclasses import replace

import pytest

from sparwright.answers import Verdict
from sparwright.placing.model import Fit, Pad, Placement
from sparwright.proof.prove import prove_pads

SLOT, DEPTH = 20.05, 4.0


def pad_setup(maker):
    pads = tuple(
        Pad(
            f"pad {k}", (x, x + 20), (-30, 40), 18.0, {"top": (-SLOT, SLOT)}, DEPTH, True,
            inserts=((x + 10, 30.0),), insert_diameter=6.0,
        )
        for k, x in enumerate((0.0, 95.0), 1)
    )  # fmt: skip
    return replace(maker.setup(), pads=pads)


def placement(maker):
    setup = pad_setup(maker)
    fit = Fit(True, setup.pose, 5.0, "", ((0.0, 1.0),), ((0.0, 120.0),))
    return Placement(fit, (setup,), (), ())


def slot_program(maker, widen=0.0, depth=DEPTH, hole_depth=10.0, hole_off=0.0):
    w = maker.Writer(1, 1500)
    for pad in pad_setup(maker).pads:
        x0, x1 = pad.x[0] - 3.5, pad.x[1] + 3.5
        w.rapid(x0, 0)
        for level in (-depth / 2, -depth):
            w.rapid_z(6)
            w.rapid(x0, -SLOT + 2 - widen)
            w.plunge(level, 400)
            s, side = -SLOT + 2 - widen, 1
            while True:
                w.line(x1 if side > 0 else x0, s)
                side = -side
                if s >= SLOT - 2 + widen - 1e-9:
                    break
                s = min(s + 1.9, SLOT - 2 + widen)
                w.line(x0 if side > 0 else x1, s)
        w.rapid_z(20)
        x, s = pad.inserts[0][0] + hole_off, pad.inserts[0][1]
        w.rapid(x, s)
        w.rapid_z(6)
        w.plunge(0.2, 400)
        w.line(x + 1, s)
        n = 0.2
        while n > -hole_depth:
            n = max(n - 1.0, -hole_depth)
            w.arc(x - 1, s, x, s, n + 0.25 if n + 0.25 < 0.2 else None)
            w.arc(x + 1, s, x, s, n)
        w.arc(x - 1, s, x, s)
        w.arc(x + 1, s, x, s)
        w.rapid_z(20)
    return (("pads.nc", w.text()),)


def job_for_pads(maker):
    job = maker.job()
    # the sheet takes thicker chips than the metal; only then may the slots be cut at this feed
    assert 1.6 * job.cutter(1).chip < 1500 / 18000
    bed = job.bed.model_copy(update={"reach": (200, 170, 80)})
    return job.model_copy(update={"bed": bed})


def test_good_pads_pass(maker):
    proof = prove_pads(slot_program(maker), placement(maker), job_for_pads(maker))
    assert [(f.check, f.message) for f in proof.findings if f.verdict is not Verdict.GO] == []
    assert proof.side == "pads"
    # two slots 40.1 wide over pads 20 long, and two holes 6 wide and 10 deep
    assert proof.removed_mm3 == pytest.approx(2 * (40.1 * 20 * 4 + 28.274 * 10), rel=0.01)


@pytest.mark.parametrize(
    ("change", "check", "feature"),
    [
        ({"widen": 0.2}, "wall", "pad 1/slot"),
        ({"widen": -0.1}, "wall", "pad 1/slot"),
        ({"depth": 4.3}, "floor", "pad 1/slot"),
        ({"depth": 3.8}, "floor", "pad 1/slot"),
        ({"hole_depth": 19.0}, "bed", None),
        ({"hole_depth": 2.0}, "hole depth", "pad 1/insert 1"),
        ({"hole_off": 0.3}, "hole place", "pad 2/insert 1"),
    ],
)
def test_bad_pads_are_found(maker, change, check, feature):
    proof = prove_pads(slot_program(maker, **change), placement(maker), job_for_pads(maker))
    found = [f for f in proof.findings if f.verdict is Verdict.NO_GO and f.check == check]
    assert found
    assert found[0].line > 0
    assert feature is None or feature in {f.feature for f in found}
