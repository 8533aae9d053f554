"""Whole sides: what the cutters sweep against the design's outlines, heights, order, and what is refused."""

import dataclasses
import itertools
import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Point, box

from sparwright.answers import Verdict
from sparwright.cutting.model import RAPID
from sparwright.cutting.motion import path_seconds
from sparwright.cutting.order import WAITS
from sparwright.cutting.paths import joined, last_point
from sparwright.cutting.plan import plan_side
from sparwright.placing.model import Clamp
from sparwright.placing.place import place


@pytest.fixture(scope="module")
def setups(bridge_member, bridge_job):
    return {s.face: s for s in place(bridge_member, bridge_job).setups}


@pytest.fixture(scope="module")
def few(bridge_member):
    """The member with a handful of its features, for plans that are changed again and again."""
    pockets = [p for p in bridge_member.pockets if p.face == "front"]
    chosen = tuple(pockets[k] for k in (0, 1, 20, 21, 60))
    return dataclasses.replace(bridge_member, pockets=chosen)


@pytest.fixture(scope="module")
def front(few, setups, bridge_job):
    return plan_side(few, setups["front"], bridge_job)


def with_cutters(job, keep):
    return job.model_copy(update={"cutters": tuple(c for c in job.cutters if keep(c))})


def swept_by(cuts, feature, job, judge, level, kinds):
    """Ground swept at or below a level by all cuts of some kinds on one feature."""
    parts = [
        judge.swept(piece.path, job.cutter(cut.cutter).diameter / 2, level)
        for cut in cuts
        if cut.kind in kinds
        for piece in cut.pieces
        if piece.feature == feature
    ]
    return shapely.union_all(parts)


def test_pockets_are_cut_to_their_outline(few, front, bridge_job, judge):
    for pocket in few.pockets[:2]:
        got = swept_by(front.cuts, pocket.id, bridge_job, judge, -pocket.depth, ("clear", "floor", "wall"))
        assert got.difference(pocket.outline.buffer(0.003)).area < 1e-6, "gouge"
        left = pocket.outline.difference(got.buffer(0.01))
        assert left.area < 1e-6, f"{left.area:.4f} mm² of floor left"


def test_holes_and_notch_are_cut_through(few, front, bridge_job, judge):
    through = -4.0 - bridge_job.file.cutting.break_through
    for hole in few.holes:
        got = swept_by(front.cuts, hole.id, bridge_job, judge, through, ("bore",))
        want = Point(hole.at).buffer(hole.diameter / 2, quad_segs=256)
        assert got.symmetric_difference(want).area < 0.003 * want.length
    notch = few.notches[0]
    got = swept_by(front.cuts, notch.id, bridge_job, judge, through, ("clear", "wall"))
    metal = notch.outline.intersection(box(0, -50, few.length, 50))
    assert metal.difference(got.buffer(0.01)).area < 1e-6
    assert got.intersection(box(0, -50, few.length, 50)).difference(metal.buffer(0.003)).area < 1e-6


def test_no_path_goes_deeper_than_its_feature(few, front, bridge_job):
    through = bridge_job.file.cutting.break_through
    depths = {p.id: p.depth for p in few.pockets} | {
        f.id: f.depth + through for f in (*few.holes, *few.notches)
    }
    for cut in front.cuts:
        for piece in cut.pieces:
            assert piece.path.end[:, 2].min() >= -depths[piece.feature] - 1e-9


def test_rapids_stay_up_and_pieces_meet_at_one_height(front, setups, bridge_job, judge):
    clearance = bridge_job.file.cutting.clearance
    footprints = [(c.footprint, c.top) for c in setups["front"].clamps]
    for cut in front.cuts:
        cutter = bridge_job.cutter(cut.cutter)
        for piece in cut.pieces:
            judge.check_rapids(piece.path, clearance)
        for a, b in itertools.pairwise(cut.pieces):
            height = last_point(a.path)[2]
            assert height == b.path.start[2] >= clearance
            way = shapely.LineString([last_point(a.path)[:2], b.path.start[:2]])
            for ground, top in footprints:
                if way.distance(ground) < cutter.diameter / 2:
                    assert height > top


def test_feeds_are_set_and_within_the_bed(front, bridge_job):
    limit = max(bridge_job.bed.feed_limit)
    for cut in front.cuts:
        for piece in cut.pieces:
            moving = piece.path.kind != RAPID
            assert np.all(piece.path.feed[moving] > 0)
            assert np.all(piece.path.feed[moving] <= limit + 1e-9)


def test_cuts_wait_for_each_other_and_each_cutter_comes_once(front):
    names = [c.name for c in front.cuts]
    for i, name in enumerate(names):
        assert not set(names[i + 1 :]) & set(WAITS[name])
    runs = [k for k, _ in itertools.groupby(c.cutter for c in front.cuts)]
    assert len(runs) == len(set(runs)) == 4


def test_seconds_are_those_of_the_whole_path(front, bridge_job):
    """Copies are timed once and rapids between them in closed form: the whole cut timed as one path agrees."""
    for cut in front.cuts:
        paths = [p.path for p in cut.pieces]
        bridged = [paths[0]]
        for a, b in itertools.pairwise(paths):
            hop = dataclasses.replace(
                b, start=last_point(a), kind=np.array([RAPID], np.int8), end=b.start[None, :],
                centre=np.full((1, 2), np.nan), feed=np.array([np.nan]),
            )  # fmt: skip
            bridged += [hop, b]
        p = joined(bridged)
        whole = path_seconds(p.kind, p.start, p.end, p.centre, p.feed, bridge_job.bed)
        assert cut.seconds == pytest.approx(whole, rel=0.02, abs=0.5)


def test_same_plan_twice(few, setups, bridge_job, front):
    again = plan_side(few, setups["front"], bridge_job)
    for a, b in zip(front.cuts, again.cuts, strict=True):
        for p, q in zip(a.pieces, b.pieces, strict=True):
            assert np.array_equal(p.path.end, q.path.end)


def test_findings_of_a_good_side_are_all_go(front):
    assert all(f.verdict is Verdict.GO for f in front.findings), [
        f for f in front.findings if f.verdict is not Verdict.GO
    ]
    names = {f.name for f in front.findings}
    assert {
        "thinnest chip", "push off finished walls", "flutes for the depth", "corner radius over cutter radius",
        "time, side front", "threads, side front", "cutting force, clear pockets",
    } <= names  # fmt: skip


def test_forces_stay_within_the_limits(front, bridge_job):
    limit = bridge_job.file.cutting.thrust_limit
    for cut in front.cuts:
        assert 0 < cut.peak.force_N <= limit + 1e-9
        assert 0 < cut.peak.chip_mm <= 0.06


def test_weak_machine_takes_more_passes(few, setups, bridge_job, front):
    """A tenth of the thrust: shallower passes with a healthy chip, not one deep pass that rubs."""
    wishes = bridge_job.file.cutting.model_copy(update={"thrust_limit": 6})
    weak = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"cutting": wishes})})
    one = dataclasses.replace(few, pockets=few.pockets[:1], holes=(), notches=())

    def depths(side):
        cut = next(c for c in side.cuts if c.name == "clear pockets")
        heights, count = np.unique(np.round(cut.pieces[0].path.end[:, 2], 6), return_counts=True)
        return heights[count > 30]  # levels, not the turns of the entry helix

    cut = next(c for c in plan_side(one, setups["front"], weak).cuts if c.name == "clear pockets")
    assert cut.peak.force_N <= 6 + 1e-9
    assert cut.peak.chip_mm >= 0.5 * bridge_job.cutter(cut.cutter).chip - 1e-9
    assert len(depths(plan_side(one, setups["front"], weak))) > len(
        depths(plan_side(one, setups["front"], bridge_job))
    )


# --- refusals ---------------------------------------------------------------------------------------------


def test_no_vee_leaves_only_the_edges_out(few, setups, bridge_job):
    side = plan_side(few, setups["front"], with_cutters(bridge_job, lambda c: c.kind != "vee"))
    bad = [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert len(bad) == 1
    assert bad[0].name == "edge cannot be broken"
    assert bad[0].value == 5
    assert "list one, or set edge_break to 0" in bad[0].why
    assert "finish walls" in {c.name for c in side.cuts}
    assert "break edges" not in {c.name for c in side.cuts}


def test_no_small_cutter_leaves_the_pockets_out(few, setups, bridge_job):
    side = plan_side(few, setups["front"], with_cutters(bridge_job, lambda c: c.number in (1, 4)))
    bad = [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert {f.name for f in bad} == {"cannot be cut"}
    assert sum(f.value for f in bad) == 5 + len(few.holes) + 1
    assert any("Corners of 2.100 mm radius need a flat cutter of 4.200 mm or less" in f.why for f in bad)
    assert side.cuts == ()


def test_hole_through_all_is_refused_by_stick_out(few, setups, bridge_job):
    hole = dataclasses.replace(few.holes[0], through="all", depth=50.0)
    member = dataclasses.replace(few, pockets=(), notches=(), holes=(hole,))
    side = plan_side(member, setups["front"], bridge_job)
    (bad,) = [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert bad.where == hole.id
    assert "sticks out" in bad.why
    assert "drill it by hand" in bad.why


def test_clamp_over_a_pocket_is_told_and_the_pocket_left_out(few, setups, bridge_job):
    pocket = few.pockets[2]
    x, s = pocket.origin
    clamp = Clamp("strap over it", box(x - 5, s - 5, x + 5, s + 5), 12.0, (x, s), 800, 1.0, "M6")
    setup = dataclasses.replace(setups["front"], clamps=(clamp,))
    side = plan_side(few, setup, bridge_job)
    (bad,) = [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert pocket.id in bad.where
    assert "move the clamp" in bad.why
    assert pocket.id not in {p.feature for c in side.cuts for p in c.pieces}


def test_rapids_rise_over_a_clamp_on_the_way(few, setups, bridge_job):
    """A strap right across the face between the first pockets and the others."""
    clamp = Clamp("strap across", box(250, -60, 265, 60), 14.0, (257, 0), 800, 1.0, "M6")
    setup = dataclasses.replace(setups["front"], clamps=(clamp,))
    member = dataclasses.replace(few, holes=(), notches=())
    side = plan_side(member, setup, bridge_job)
    cut = next(c for c in side.cuts if c.name == "finish walls")
    crossings = 0
    for a, b in itertools.pairwise(cut.pieces):
        x0, x1 = sorted((last_point(a.path)[0], b.path.start[0]))
        if x0 < 250 and x1 > 265:
            crossings += 1
            assert (
                last_point(a.path)[2]
                == b.path.start[2]
                == pytest.approx(14 + bridge_job.file.cutting.clearance)
            )
        else:
            assert last_point(a.path)[2] == bridge_job.file.cutting.clearance
    assert crossings >= 1


def test_windows_go_through_without_a_slug(few, setups, bridge_job, judge):
    pocket = dataclasses.replace(few.pockets[0], skin=0.0, depth=4.0)
    member = dataclasses.replace(few, pockets=(pocket,), holes=(), notches=())
    side = plan_side(member, dataclasses.replace(setups["front"], clamps=()), bridge_job)
    assert not [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert "finish floors" not in {c.name for c in side.cuts}
    got = swept_by(side.cuts, pocket.id, bridge_job, judge, -4.4, ("clear", "wall"))
    assert pocket.outline.difference(got.buffer(0.01)).area < 1e-6
    assert got.difference(pocket.outline.buffer(0.003)).area < 1e-6


@pytest.mark.parametrize("stock", [0.0, 0.1])
def test_no_stock_wished_still_plans(few, setups, bridge_job, stock):
    wishes = bridge_job.file.cutting.model_copy(update={"wall_stock": stock, "floor_stock": 0.0})
    job = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"cutting": wishes})})
    one = dataclasses.replace(few, pockets=few.pockets[:1], holes=(), notches=())
    side = plan_side(one, setups["front"], job)
    assert not [f for f in side.findings if f.verdict is Verdict.NO_GO]
    assert math.isfinite(sum(c.seconds for c in side.cuts))


def test_all_pockets_of_a_shape_share_one_path(bridge_member, setups, bridge_job):
    """The whole back side: every copy is the same path moved, and all 94 pockets are there."""
    side = plan_side(bridge_member, setups["back"], bridge_job)
    where = {p.id: (np.array(p.origin), p.shape_key) for p in bridge_member.pockets if p.face == "back"}
    for cut in side.cuts:
        assert {p.feature for p in cut.pieces} == set(where)
        shapes = {}
        for piece in cut.pieces:
            origin, key = where[piece.feature]
            inner = piece.path.kind != RAPID
            local = piece.path.end[inner] - np.append(origin, 0.0)
            first = shapes.setdefault(key, local)
            assert np.allclose(local, first, atol=1e-9)
    assert len({p.shape_key for p in bridge_member.pockets}) == 2
