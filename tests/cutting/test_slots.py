"""Pads: slots of the width wanted, holes of their size, and nothing below the sheet."""

import itertools
import math

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, box

from sparwright.answers import Verdict
from sparwright.cutting.model import LINE, RAPID
from sparwright.cutting.slots import plan_pads
from sparwright.placing.place import place


@pytest.fixture(scope="module")
def placement(bridge_member, bridge_job):
    return place(bridge_member, bridge_job)


@pytest.fixture(scope="module")
def pads(placement, bridge_job):
    return plan_pads(placement, bridge_job)


def swept(path, radius, level):
    """Plan view of what the cutter sweeps at or below a level."""
    points = np.vstack([path.start, path.end])
    lines = [
        LineString([a[:2], b[:2]])
        for a, b in itertools.pairwise(points)
        if max(a[2], b[2]) <= level + 1e-9 and not np.allclose(a[:2], b[:2])
    ]
    return shapely.union_all(lines).buffer(radius, quad_segs=64)


def test_slots_have_the_width_the_pads_ask_for(pads, placement, bridge_job):
    setup = placement.setups[0]
    cut = next(c for c in pads[0].cuts if c.kind == "slot")
    radius = bridge_job.cutter(cut.cutter).diameter / 2
    assert len(cut.pieces) == len(setup.pads)
    for piece, pad in zip(cut.pieces, setup.pads, strict=True):
        got = swept(piece.path, radius, -pad.slot_depth)
        low, high = pad.slot[setup.side]
        assert got.bounds[1] == pytest.approx(low, abs=1e-9)
        assert got.bounds[3] == pytest.approx(high, abs=1e-9)
        assert box(pad.x[0], low + 1e-6, pad.x[1], high - 1e-6).difference(got).area < 1e-6
        assert piece.path.end[:, 2].min() == pytest.approx(-pad.slot_depth)


def test_cutter_goes_down_outside_the_sheet(pads, placement, bridge_job):
    for cut in pads[0].cuts:
        if cut.kind != "slot":
            continue
        radius = bridge_job.cutter(cut.cutter).diameter / 2
        for piece, pad in zip(cut.pieces, placement.setups[0].pads, strict=True):
            points = np.vstack([piece.path.start, piece.path.end])
            for a, b in itertools.pairwise(points):
                if b[2] < a[2]:
                    assert b[0] <= pad.x[0] - radius or b[0] >= pad.x[1] + radius


def test_holes_are_bored_to_size_and_leave_sheet_under_them(pads, placement, bridge_job):
    setup = placement.setups[0]
    wanted = {(round(x, 3), round(s, 3)): pad.insert_diameter for pad in setup.pads for x, s in pad.inserts}
    bored = [p for cut in pads[0].cuts if cut.kind == "bore" for p in cut.pieces]
    cutter = {id(p): bridge_job.cutter(cut.cutter) for cut in pads[0].cuts for p in cut.pieces}
    assert len(bored) == len(wanted)
    for piece in bored:
        centre = piece.path.centre[np.isfinite(piece.path.centre[:, 0])][0]
        diameter = wanted[(round(float(centre[0]), 3), round(float(centre[1]), 3))]
        r = math.hypot(*(piece.path.start[:2] - centre))
        assert 2 * r + cutter[id(piece)].diameter == pytest.approx(diameter)
        assert -piece.path.end[:, 2].min() <= setup.pads[0].thickness - 3


def test_rapids_stay_above_the_pads(pads, bridge_job):
    for cut in pads[0].cuts:
        for piece in cut.pieces:
            points = np.vstack([piece.path.start, piece.path.end])
            for kind, a, b in zip(piece.path.kind, points[:-1], points[1:], strict=True):
                if kind == RAPID and not np.allclose(a[:2], b[:2]):
                    assert min(a[2], b[2]) >= bridge_job.file.cutting.clearance
                if kind == LINE and b[2] > a[2]:
                    pytest.fail("a feed move rises")


def test_equal_slots_are_cut_once(pads):
    assert [s.side for s in pads] == ["pads"]


def test_a_wider_second_side_only_widens(placement, bridge_job):
    from dataclasses import replace

    setups = []
    for setup in placement.setups:
        wide = tuple(
            replace(
                p,
                slot={
                    s: (low - 3 * (i > 0), high + 5 * (i > 0))
                    for i, (s, (low, high)) in enumerate([(q.side, p.slot[q.side]) for q in placement.setups])
                },
            )
            for p in setup.pads
        )
        setups.append(replace(setup, pads=wide))
    first, second = plan_pads(replace(placement, setups=tuple(setups)), bridge_job)
    assert second.side == f"pads-{placement.setups[1].side}"
    pad = setups[0].pads[0]
    radius = bridge_job.cutter(second.cuts[0].cutter).diameter / 2
    got = swept(second.cuts[0].pieces[0].path, radius, -pad.slot_depth)
    both = got.union(swept(first.cuts[0].pieces[0].path, radius, -pad.slot_depth))
    low, high = pad.slot[placement.setups[1].side]
    assert (got.bounds[1], got.bounds[3]) == pytest.approx((low, high))
    assert box(pad.x[0], low + 1e-6, pad.x[1], high - 1e-6).difference(both).area < 1e-6


@pytest.mark.parametrize(("nose", "sheet"), [(250.0, 18.0), (9000.0, 18.0), (122.0, 3.0)])
def test_a_machine_or_a_sheet_that_leaves_no_depth_for_holes_is_told(bridge_member, bridge_job, nose, sheet):
    bed = bridge_job.bed.model_copy(update={"nose_height": nose})
    placing = bridge_job.file.placing.model_copy(update={"pad_thickness": sheet, "slot_depth": 0.5})
    file = bridge_job.file.model_copy(update={"placing": placing})
    job = bridge_job.model_copy(update={"bed": bed, "file": file})
    cuts = plan_pads(place(bridge_member, job), job)[0]
    assert [c for c in cuts.cuts if c.kind == "bore"] == []
    told = [f for f in cuts.findings if f.name == "depth of a pad's hole"]
    assert {f.verdict for f in told} == {Verdict.NO_GO}
    assert all(f.value < 1 and "use thicker pads" in f.why for f in told)
