"""Placing whole members: the demo on its diagonal, and small jobs that lie straight, do not fit, or need care."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import pytest
from shapely.geometry import MultiPoint, Polygon, box

from sparwright.answers import BadInput, Verdict
from sparwright.job.models import Job
from sparwright.placing.model import Placement
from sparwright.placing.place import fit_sides, needed_positions, place
from sparwright.stock.model import Member

Maker = Callable[..., tuple[Member, Job]]


@pytest.fixture(scope="module")
def bridge(demo: tuple[Member, Job]) -> Placement:
    return place(*demo)


def finding(placement: Placement, name: str):  # type: ignore[no-untyped-def]
    found = [f for f in (*placement.fit_findings, *placement.hold_findings) if f.name == name]
    assert found, [f.name for f in (*placement.fit_findings, *placement.hold_findings)]
    return found[0]


def brute_margin(points: np.ndarray, reach: tuple[float, float]) -> tuple[float, float]:
    """Greatest margin over a fine scan of angles, each with its best offset; (margin, degrees)."""
    best = (-math.inf, 0.0)
    for degrees in np.array_split(np.arange(0, 180, 0.002), 300):
        t = np.radians(degrees)[:, None]
        x = points[:, 0] * np.cos(t) - points[:, 1] * np.sin(t)
        y = points[:, 0] * np.sin(t) + points[:, 1] * np.cos(t)
        left, right = -x.min(axis=1), reach[0] - x.max(axis=1)
        front, back = -y.min(axis=1), reach[1] - y.max(axis=1)
        m = np.minimum((right - left) / 2, (back - front) / 2)
        if m.max() > best[0]:
            best = (float(m.max()), float(degrees[m.argmax()]))
    return best


def test_the_bridge_beam_fits_only_on_the_diagonal(bridge: Placement, demo: tuple[Member, Job]) -> None:
    member, job = demo
    points, names = needed_positions(member, job)
    corners = points[np.unique(np.round(points, 6), axis=0, return_index=True)[1]]
    ring = np.asarray(MultiPoint(corners).convex_hull.exterior.coords)
    margin, degrees = brute_margin(ring, (860, 860))
    fit = bridge.fit
    assert fit.fits
    assert fit.best is not None
    assert fit.margin == pytest.approx(margin, abs=0.01)
    assert abs(math.degrees(fit.best.angle) - 45) < 1
    # On a square reach the pose a quarter turn on is as good; of equals the one nearer straight is taken.
    assert degrees % 90 == pytest.approx(math.degrees(fit.best.angle), abs=0.01)
    for low, high in np.degrees(fit.angles):
        assert (43 < low < high < 47) or (133 < low < high < 137)
    assert finding(bridge, "lying straight").value < -100
    assert "turned" in finding(bridge, "lying straight").why
    assert finding(bridge, "cuts in the reach").verdict is Verdict.GO
    assert len(names) == len(points)


def test_every_outline_of_the_bridge_beam_lies_where_a_cutter_inside_it_stays_in_reach(
    bridge: Placement, demo: tuple[Member, Job]
) -> None:
    member, job = demo
    smallest = min(c.diameter for c in job.cutters if c.kind == "flat") / 2
    nearest = math.inf
    for setup in bridge.setups:
        for pocket in (p for p in member.pockets if p.face == setup.face):
            bed = setup.pose.to_bed(np.asarray(pocket.outline.exterior.coords)[:, :2])
            nearest = min(nearest, bed.min(), (860 - bed).min())
        for hole in (h for h in member.holes if h.face == setup.face):
            at = setup.pose.to_bed(np.array([hole.at]))
            nearest = min(nearest, at.min() - hole.diameter / 2, (860 - at).min() - hole.diameter / 2)
    assert nearest + smallest > bridge.fit.margin


def test_the_body_of_the_bridge_beam_stays_between_the_uprights(
    bridge: Placement, demo: tuple[Member, Job]
) -> None:
    _, job = demo
    bed = job.bed
    band = box(-5000, -bed.upright_depth / 2, 5000, bed.reach[1] + bed.upright_depth / 2)
    gaps = []
    for setup in bridge.setups:
        body = Polygon(setup.pose.to_bed(np.asarray(setup.body.exterior.coords)[:, :2]))
        x0, _, x1, _ = body.intersection(band).bounds
        middle = bed.reach[0] / 2 + bed.throat_offset
        gaps += [x0 - (middle - bed.throat / 2), middle + bed.throat / 2 - x1]
    assert min(gaps) == pytest.approx(finding(bridge, "body between the uprights").value, abs=1e-6)


def test_both_sides_of_the_bridge_beam_lie_on_one_pose_line_in_one_slot(bridge: Placement) -> None:
    first, second = bridge.setups
    assert {first.side, second.side} == {"front", "back"}
    assert first.pose.angle == second.pose.angle
    assert (first.pose.x, first.pose.y) == pytest.approx((second.pose.x, second.pose.y))
    assert first.face_height == 64
    assert first.pad_top == 18
    locating = [p for p in first.pads if p.locates]
    assert [p.name for p in locating] == ["pad 1", "pad 4"]
    for pad in locating:
        low, high = pad.slot["front"]
        assert high - low == pytest.approx(100.10)
    for pad in first.pads[1:3]:
        low, high = pad.slot["front"]
        assert high - low == pytest.approx(104)
    assert "half a turn" in second.flip
    assert "right" in second.flip


def test_the_straps_of_the_bridge_beam_press_on_plain_metal_over_pads(
    bridge: Placement, demo: tuple[Member, Job]
) -> None:
    member, job = demo
    widest = max(c.diameter for c in job.cutters) / 2
    for setup in bridge.setups:
        assert len(setup.clamps) == 4
        body = setup.body
        for clamp in setup.clamps:
            for feature in member.on_face(setup.face):
                outline = getattr(feature, "outline", None)
                if outline is not None:
                    assert clamp.footprint.distance(outline) >= widest + 1 - 1e-9
            assert clamp.footprint.intersection(body).area > 100
            pressed = clamp.footprint.intersection(body).centroid.x
            assert any(p.x[0] < pressed < p.x[1] for p in setup.pads if p.locates)
            lever = clamp.torque_Nm * 1000 / (0.2 * 6)
            assert clamp.force_N < lever < 2 * clamp.force_N


def test_holes_bored_in_pads_lie_in_the_reach_inside_their_pad_beside_the_slot(
    bridge: Placement, demo: tuple[Member, Job]
) -> None:
    _, job = demo
    setup = bridge.setups[0]
    holes = [(p, h) for p in setup.pads for h in p.inserts]
    assert len(holes) == 4
    for pad, (x, s) in holes:
        r = pad.insert_diameter / 2
        assert pad.x[0] + r < x < pad.x[1] - r
        assert pad.s[0] + r < s < pad.s[1] - r
        assert min(abs(s - edge) for edge in pad.slot[setup.side]) > r + 5
        at = setup.pose.to_bed(np.array([(x, s)]))[0]
        # Bored with the 6.35 cutter the centre strays (8.5 - 6.35) / 2.
        assert min(at.min(), (np.array(job.bed.reach[:2]) - at).min()) > 2 + 1.07


def test_the_stop_touches_the_datum_end_clear_of_the_notch(bridge: Placement) -> None:
    for setup in bridge.setups:
        assert setup.dowel is not None
        x, s = setup.dowel
        assert x == -3
        assert abs(s) >= 7 + 3 + 1
        at = setup.pose.to_bed(np.array([setup.dowel]))[0]
        assert f"X {at[0]:.3f} Y {at[1]:.3f}" in setup.zero
        assert at.min() > 2
    assert all(p.stop is None for p in bridge.setups[0].pads)


def test_findings_say_what_they_mean_in_words_and_margins(bridge: Placement) -> None:
    for f in (*bridge.fit_findings, *bridge.hold_findings):
        assert f.why.strip(), f.name
        if f.limit is not None:
            assert f.margin is not None
            assert f.value is not None
        if f.verdict is Verdict.GO and f.margin is not None:
            assert f.margin >= 0, f.name
    assert finding(bridge, "tip over face and clamps").value == pytest.approx(122 - 26 - 64 - 25)
    assert finding(bridge, "tip down to the deepest cut").value == pytest.approx(14 - (122 - 95 - 18))
    assert finding(bridge, "member and clamps under the bridge").value == pytest.approx(120 - 64 - 14)
    assert finding(bridge, "holding against sliding").value == pytest.approx(4 * 600 / (60 / 0.2 + 20))


HOLES = """
[[hole]]
name = "row"
face = "top"
kind = "drilled"
diameter = 6
at = [[60, 0], [250, 10], [440, -10]]
"""


def test_a_short_bar_has_its_stop_pin_and_lies_straight(small_job: Maker) -> None:
    member, job = small_job(HOLES, placing='fit = "push"\npads = 2')
    placement = place(member, job)
    assert placement.fit.fits
    setup = placement.setups[0]
    first = setup.pads[0]
    assert first.stop is not None
    assert first.stop[0] == -first.stop_diameter / 2
    assert first.x[0] < first.stop[0] - first.stop_diameter / 2
    low, high = first.slot["top"]
    assert high - low == pytest.approx(60.05)
    assert len(setup.pads) == 2
    assert "It lies straight" in finding(placement, "lying straight").why
    assert setup.pose.angle == 0.0
    assert placement.fit.taken is not None
    assert placement.fit.margin > placement.fit.taken.margin >= 10
    assert "straight does with room" in finding(placement, "greatest margin of any pose").why
    assert setup.face_height == 18 - 4 + 12


def test_the_narrower_slot_goes_first(small_job: Maker) -> None:
    tee = 'shape = "tee"\nwidth = 60\nheight = 40\nweb = 6\nflange = 6'
    features = "".join(
        f'\n[[hole]]\nname = "{face}"\nface = "{face}"\nkind = "drilled"\ndiameter = 5\nat = [[120, 0], [300, 0]]\n'
        for face in ("top", "bottom")
    )
    member, job = small_job(features, section=tee)
    placement = place(member, job)
    # With the flange up it stands on the web: 6 mm wide, the narrower slot.
    assert [s.side for s in placement.setups] == ["top", "bottom"]
    pad = placement.setups[0].pads[0]
    assert pad.slot["top"][1] - pad.slot["top"][0] == pytest.approx(6.10)
    assert pad.slot["bottom"][1] - pad.slot["bottom"][0] == pytest.approx(60.10)
    assert "narrower" in finding(placement, "which side first").why
    middles = []
    for setup in placement.setups:
        low, high = setup.pads[0].slot[setup.side]
        middles.append(setup.pose.to_bed(np.array([(0, (low + high) / 2)])))
    # "bottom" is the flange's underside beside the web: its own middle lies off the slots' line, the slots do not.
    assert placement.setups[0].pose.y != placement.setups[1].pose.y
    assert middles[0] == pytest.approx(middles[1], abs=1e-9)


def test_sides_whose_slots_lie_off_centre_still_share_one_line(small_job: Maker) -> None:
    """An angle: each leg's slot lies to one side of the other's face, so the sides' poses differ by a shift across."""
    section = 'shape = "angle"\nwidth = 60\nheight = 40\nthickness = 5'
    features = "".join(
        f'\n[[hole]]\nname = "{face}"\nface = "{face}"\nkind = "drilled"\ndiameter = 5\nat = [[120, 0], [300, 0]]\n'
        for face in ("bottom", "front")
    )
    member, job = small_job(features, section=section, placing="pad_width = 260")
    placement = place(member, job)
    assert placement.fit.fits
    lines = []
    for setup in placement.setups:
        low, high = setup.pads[0].slot[setup.side]
        lines.append(setup.pose.to_bed(np.array([(0, (low + high) / 2), (400, (low + high) / 2)])))
    assert lines[0] == pytest.approx(lines[1], abs=1e-9)
    sheets = [s.pose.to_bed(np.array([(s.pads[0].x[0], s.pads[0].s[0])])) for s in placement.setups]
    assert sheets[0] == pytest.approx(sheets[1], abs=1e-9)
    for setup in placement.setups:
        face = member.section.face(setup.face)
        corners = face.from_member(
            np.column_stack(
                [np.zeros(len(member.section.shape.exterior.coords)), member.section.shape.exterior.coords]
            )
        )
        lowest = corners[corners[:, 2] < corners[:, 2].min() + 4 + 1e-9]
        low, high = setup.pads[0].slot[setup.side]
        assert low == pytest.approx(lowest[:, 1].min() - 0.05, abs=0.01)
        assert high == pytest.approx(lowest[:, 1].max() + 0.05, abs=0.01)


def test_a_member_too_long_for_any_pose_is_told_its_stations(small_job: Maker) -> None:
    row = ", ".join(f"[{x}, 0]" for x in range(60, 1950, 60))
    member, job = small_job(
        f'[[hole]]\nname = "row"\nface = "top"\nkind = "drilled"\ndiameter = 6\nat = [{row}]\n',
        length=2000,
    )
    placement = place(member, job)
    assert not placement.fit.fits
    assert placement.fit.best is None
    assert placement.setups == ()
    # 32 holes over 1860 mm, 856 mm to a station fed along Y.
    assert len(placement.fit.stations) == 3
    assert placement.fit.stations[0][0] == 0
    assert placement.fit.stations[-1][1] == 2000
    stations = finding(placement, "stations")
    assert stations.verdict is Verdict.NO_GO
    assert "not written yet" in stations.why
    reach = finding(placement, "cuts in the reach")
    assert reach.verdict is Verdict.NO_GO
    assert reach.margin < 0
    assert fit_sides(member, job, ("top",)).stations == placement.fit.stations


def test_a_fit_below_the_wanted_margin_is_a_caution(small_job: Maker) -> None:
    _, job = small = small_job(HOLES, bed="reach = [60, 387, 95]\nthroat = 400")
    placement = place(*small)
    reach = finding(placement, "cuts in the reach")
    assert 0 <= placement.fit.margin < job.file.placing.margin
    assert reach.verdict is Verdict.CAUTION
    assert "Less than the 2 mm wanted" in reach.why
    # Neither pin nor dowel is in reach, nor the clamp screws' holes: said, and left to the hand.
    assert finding(placement, "stop at the datum end").verdict is Verdict.CAUTION
    setup = placement.setups[0]
    assert all(not p.inserts for p in setup.pads)
    assert sum(len(p.by_hand) for p in setup.pads) == 4
    assert "by hand: template printed" in setup.zero
    assert "touch the datum end" in setup.zero


def test_no_room_for_straps_is_a_no_go_with_the_margin_to_leave(small_job: Maker) -> None:
    features = """
[[field]]
name = "slots"
faces = ["top"]
pocket = "square"
cell = 20
rib = 3
depth = 4
"""
    placement = place(*small_job(features))
    clamps = finding(placement, "clamps")
    assert clamps.verdict is Verdict.NO_GO
    assert re.search(r"Leave at least \d+ mm at each end", clamps.why)


@pytest.mark.parametrize(
    ("placing", "message"),
    [
        ("slot_depth = 17", "leaves no floor in pads 18 mm thick"),
        ("slot_depth = 10", "swallows the member, which is 12 mm high"),
    ],
)
def test_impossible_slots_are_refused_with_line_and_remedy(
    small_job: Maker, placing: str, message: str
) -> None:
    member, job = small_job(HOLES, placing=placing)
    with pytest.raises(BadInput, match=message) as caught:
        place(member, job)
    assert "job.toml" in str(caught.value)
    assert "slot_depth" in str(caught.value)


def test_narrow_pads_and_high_members_are_told(small_job: Maker) -> None:
    placement = place(*small_job(HOLES, placing="pad_width = 70\npad_thickness = 70\nslot_depth = 4"))
    assert finding(placement, "width of the pads").verdict is Verdict.NO_GO
    assert finding(placement, "tip over face and clamps").verdict is Verdict.NO_GO
    assert "thinner pads" in finding(placement, "tip over face and clamps").why


def test_the_job_may_name_its_angle_and_its_place(small_job: Maker) -> None:
    placement = place(*small_job(HOLES, placing="angle = 30"))
    (setup,), taken = placement.setups, placement.fit.taken
    assert taken is not None
    assert math.degrees(setup.pose.angle) == pytest.approx(30)
    assert "names its own pose" in finding(placement, "greatest margin of any pose").why
    placed = place(*small_job(HOLES, placing="angle = 30\nat = [180, 250]"))
    assert placed.fit.taken is not None
    assert placed.fit.fits
    pose = placed.setups[0].pose
    assert (pose.x, pose.y) == pytest.approx((180, 250))
    # The margin is the nearest needed position's, by hand: positions turned, moved, and held against the reach.
    member, job = small_job(HOLES, placing="angle = 30\nat = [180, 250]")
    bed = placed.fit.taken.pose.to_bed(needed_positions(member, job)[0])
    least = min(bed.min(), 860 - bed.max())
    assert placed.fit.taken.margin == pytest.approx(least, abs=1e-6)
    assert placed.fit.taken.margin < taken.margin


def test_a_named_pose_out_of_reach_is_a_no_go_that_says_what_would_fit(small_job: Maker) -> None:
    placement = place(*small_job(HOLES, placing="angle = 0\nat = [500, 400]"))
    assert not placement.fit.fits
    assert placement.setups == ()
    assert placement.fit.taken is not None
    assert placement.fit.taken.margin == pytest.approx(860 - 940, abs=5)
    reach = finding(placement, "cuts in the reach")
    assert reach.verdict is Verdict.NO_GO
    assert "take the two keys out and it fits" in reach.why


def test_a_place_without_an_angle_is_refused(small_job: Maker) -> None:
    with pytest.raises(BadInput, match="half a pose; give angle too"):
        small_job(HOLES, placing="at = [10, 10]")


def test_a_member_without_features_needs_no_place(small_job: Maker) -> None:
    member, job = small_job("")
    placement = place(member, job)
    assert placement.setups == ()
    assert placement.fit.fits
    assert placement.fit.taken is None


def test_an_unknown_side_is_refused(small_job: Maker) -> None:
    member, job = small_job(HOLES)
    with pytest.raises(BadInput, match='no face "lid"; this section has top'):
        fit_sides(member, job, ("lid",))
