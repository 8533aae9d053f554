"""The member as a whole: what stays, what is dropped or refused and why, depths, end cuts, bays."""

import numpy as np
import pytest
import shapely

from sparwright.job.reading import JobError
from sparwright.stock.member import build_member

BAR = 'shape = "flat bar"\nwidth = 100\nthickness = 12\n'
CHANNEL = 'shape = "channel"\nwidth = 50\nheight = 100\nweb = 5\nflange = 6\nroot_radius = 3\n'


def field(**keys):
    lines = {
        "name": '"f"',
        "faces": '["front"]',
        "pocket": '"square"',
        "cell": "24",
        "rib": "4",
        "skin": "1.2",
    } | keys
    return "[[field]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items() if v is not None)


def single(**keys):
    lines = {
        "name": '"p"',
        "face": '"front"',
        "pocket": '"square"',
        "at": "[300, 0]",
        "size": "20",
        "skin": "1.2",
    } | keys
    return "[[pocket]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items() if v is not None)


def hole(**keys):
    lines = {
        "name": '"h"',
        "face": '"front"',
        "kind": '"drilled"',
        "diameter": "6",
        "at": "[[300, 0]]",
    } | keys
    return "[[hole]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items())


def zone(**keys):
    lines = {"name": '"z"', "face": '"front"', "x": "[200, 260]", "s": "[-50, 50]"} | keys
    return "[[keep_clear]]\n" + "".join(f"{k} = {v}\n" for k, v in lines.items())


# --- the bridge beam ------------------------------------------------------------------------------------


def test_bridge_beam_in_figures(bridge_member):
    """94 places a face: 47 columns of two rows; the front loses those near its ten holes."""
    m = bridge_member
    assert len([p for p in m.pockets if p.face == "back"]) == 94
    front = [p for p in m.pockets if p.face == "front"]
    assert len(front) + len(m.dropped) == 94
    assert {d.face for d in m.dropped} == {"front"}
    assert {p.depth for p in m.pockets} == {2.8}
    assert {p.corner_radius for p in m.pockets} == {2.1}
    assert {p.edge_break for p in m.pockets} == {0.4}
    assert m.worked_faces == ("front", "back")
    assert len(m.holes) == 10
    assert [b.face for b in m.bays] == ["front", "back"]


def test_bridge_pockets_keep_clear_of_ends_edges_holes_and_each_other(bridge_member):
    m = bridge_member
    front = [p for p in m.pockets if p.face == "front"]
    for face in ("front", "back"):
        outlines = np.array([p.outline for p in m.pockets if p.face == face], dtype=object)
        x0, s0, x1, s1 = shapely.total_bounds(outlines)
        assert x0 >= 60
        assert x1 <= 1120
        assert max(-s0, s1) <= 46 - 8
        pairs = shapely.STRtree(outlines).query(outlines, predicate="dwithin", distance=4.999)
        assert (pairs[0] == pairs[1]).all()
    for h in m.holes:
        gap = min(p.outline.distance(shapely.Point(h.at)) for p in front) - h.diameter / 2
        assert gap >= 3 - 1e-6


def test_dropped_pockets_would_have_met_their_hole(bridge_member):
    holes = {f"hole {h.id}": h for h in bridge_member.holes}
    turned = {p.shape_key: p for p in bridge_member.pockets}
    for d in bridge_member.dropped:
        named = [h for name, h in holes.items() if name in d.reason]
        assert len(named) == 1
        gaps = []
        for p in turned.values():
            shift = (d.at[0] - p.origin[0], d.at[1] - p.origin[1])
            moved = shapely.affinity.translate(p.outline, *shift)
            gaps.append(moved.distance(shapely.Point(named[0].at)) - named[0].diameter / 2)
        assert min(gaps) < 3


def test_copies_share_a_key_and_an_outline(bridge_member):
    by_key = {}
    for p in bridge_member.pockets:
        by_key.setdefault(p.shape_key, []).append(p)
    assert len(by_key) == 2
    for copies in by_key.values():
        first = np.array(copies[0].outline.exterior.coords) - copies[0].origin
        for p in copies[1:]:
            assert np.array(p.outline.exterior.coords) - p.origin == pytest.approx(first, abs=1e-9)


def test_bay_is_one_period_of_the_pockets(bridge_member):
    """Bay outlines, moved on by whole pitches from the span's start, are the pockets' outlines."""
    for bay in bridge_member.bays:
        assert bay.pitch == 44
        assert bay.rows == 2
        pockets = [p for p in bridge_member.pockets if p.face == bay.face]
        for p in pockets:
            x = (p.origin[0] - bay.span[0]) // bay.pitch * bay.pitch + bay.span[0]
            match = [shapely.affinity.translate(o, x, 0) for o in bay.outlines]
            assert max(o.intersection(p.outline).area for o in match) == pytest.approx(
                p.outline.area, rel=1e-9
            )
        assert all(s.buffer(1e-9).covers(o) for s, o in zip(bay.sharp_outlines, bay.outlines, strict=True))


def test_same_job_gives_the_same_member(bridge_job, bridge_member):
    assert build_member(bridge_job) == bridge_member


# --- depth and skin -------------------------------------------------------------------------------------


def test_depth_comes_from_the_skin_or_the_other_way_round(member_of):
    (p,) = member_of(single(skin="1.5")).pockets
    assert (p.depth, p.skin) == (2.5, 1.5)
    (p,) = member_of(single(skin=None, depth="3")).pockets
    assert (p.depth, p.skin) == (3, 1)
    (p,) = member_of(single(skin="0")).pockets
    assert (p.depth, p.skin, p.window) == (4, 0, True)


def test_measured_wall_takes_the_place_of_the_nominal(member_of):
    m = member_of(single(skin="1.2"), stock="measured_wall = 4.22")
    assert m.pockets[0].depth == pytest.approx(3.02)
    assert m.section.drawing == "rectangular tube 50 x 100 x 4.22"
    with pytest.raises(JobError, match="measured_wall is for tubes"):
        member_of("", section=BAR, stock="measured_wall = 11.9")


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"skin": "4"}, "a skin of 4 mm leaves nothing to cut of the 4 mm wall of front"),
        ({"skin": None, "depth": "4"}, "a depth of 4 mm goes through the 4 mm wall of front"),
    ],
)
def test_skins_and_depths_beyond_the_wall_are_refused(member_of, keys, words):
    with pytest.raises(JobError, match=words) as fault:
        member_of(single(**keys))
    assert fault.value.key in ("pocket[1].skin", "pocket[1].depth")


def test_edge_breaks_leave_the_ribs_a_flat_and_stay_in_their_pocket(member_of):
    assert member_of(field(edge_break="1.9")).pockets[0].edge_break == 1.9
    with pytest.raises(JobError, match="leaves no flat on ribs of 4 mm") as fault:
        member_of(field(edge_break="2"))
    assert fault.value.key == "field[1].edge_break"
    with pytest.raises(JobError, match=r"as deep as its pocket, 2\.8 mm"):
        member_of(single(edge_break="3"))
    with pytest.raises(JobError, match="as deep as what it breaks, 4 mm"):
        member_of(hole(edge_break="4"))


# --- webs -----------------------------------------------------------------------------------------------


def test_window_over_a_web_is_dropped_and_a_skinned_pocket_stays(member_of):
    over_web = {"face": '"top"', "at": "[300, -12]"}
    with pytest.raises(JobError, match="a web or a fillet lies behind it"):
        member_of(single(skin="0", **over_web), section=CHANNEL)
    (p,) = member_of(single(skin="2", **over_web), section=CHANNEL).pockets
    assert p.depth == 4


def test_bay_leaves_out_rows_over_a_web(member_of):
    """An I stands on its web: of three rows of windows in the flange the middle one falls away."""
    beam = 'shape = "i-beam"\nwidth = 90\nheight = 100\nweb = 6\nflange = 5\nroot_radius = 3\n'
    m = member_of(field(faces='["top"]', skin="0"), section=beam)
    (bay,) = m.bays
    assert bay.rows == 2
    assert sorted(o.centroid.y for o in bay.outlines) == pytest.approx([-24, 24])
    assert {round(d.at[1], 6) for d in m.dropped} == {0}
    with pytest.raises(JobError, match="no pocket of f on top can stay"):
        member_of(field(faces='["top"]', skin="0", rows="1"), section=beam)


def test_pockets_of_neighbouring_faces_keep_clear_round_the_corner(member_of):
    """Two pockets 10 deep whose floors meet inside the corner of a square bar."""
    bar = 'shape = "square bar"\nside = 40\n'
    front = single(skin=None, depth="10", at="[300, 8]")
    top = single(name='"q"', face='"top"', skin=None, depth="10", at="[{x}, -8]")
    with pytest.raises(JobError, match="cuts into pocket p"):
        member_of(front + top.format(x=300), section=bar)
    with pytest.raises(JobError, match=r"0\.50 mm from pocket p, 1 mm wanted"):
        member_of(front + top.format(x=320.5), section=bar)
    assert len(member_of(front + top.format(x=321.5), section=bar).pockets) == 2


def test_pocket_over_mostly_uneven_wall_is_refused(member_of):
    with pytest.raises(JobError, match="even over"):
        member_of(single(face='"top"', at="[300, -20.5]", size="9", skin="2"), section=CHANNEL)


# --- conflicts ------------------------------------------------------------------------------------------


def test_refuse_names_the_pocket_and_the_hole(member_of):
    with pytest.raises(JobError, match=r"pocket f/front/r\dc\d\d at .* cannot stay: .*hole h/1") as fault:
        member_of(hole() + field(on_conflict='"refuse"'))
    assert fault.value.key == "field[1]"


def test_keep_clear_zone_is_kept_clear_and_may_be_touched(member_of):
    plain = member_of(field())
    m = member_of(field() + zone())
    inside = shapely.box(200, -50, 260, 50)
    assert all(p.outline.intersection(inside).area < 1e-9 for p in m.pockets)
    assert m.dropped
    assert all(d.reason == "enters keep-clear zone z" for d in m.dropped)
    first = plain.pockets[0].outline.bounds
    touching = member_of(field() + zone(x=f"[0, {first[0]!r}]"))
    assert len(touching.pockets) == len(plain.pockets)


def test_pockets_keep_their_rib_from_a_notch(member_of):
    notch = '[[notch]]\nname = "n"\nface = "front"\nend = "datum"\nwidth = 30\ndepth = 40\n'
    m = member_of(field() + notch)
    assert min(p.outline.distance(m.notches[0].outline) for p in m.pockets) >= 4 - 1e-6
    assert any("notch n" in d.reason for d in m.dropped)


def test_field_gives_way_to_a_single_pocket_and_keeps_its_rib(member_of):
    m = member_of(single(size="30", turn="17") + field())
    alone = m.pockets[0]
    assert alone.id == "p"
    assert min(p.outline.distance(alone.outline) for p in m.pockets[1:]) >= 4 - 1e-6
    assert all("pocket p" in d.reason for d in m.dropped)


def test_two_single_pockets_too_close_are_refused(member_of):
    other = single(name='"q"', at="[320.5, 0]")
    with pytest.raises(JobError, match=r"0\.50 mm from pocket p, 1 mm wanted"):
        member_of(single() + other)


def test_single_pocket_over_the_edge_or_the_end_is_refused(member_of):
    with pytest.raises(JobError, match="runs over the edge of front"):
        member_of(single(at="[300, 40]"))
    with pytest.raises(JobError, match="runs over the end"):
        member_of(single(at="[595, 0]"))
    m = member_of(single() + single(name='"q"', at="[595, 0]", on_conflict='"drop"'))
    assert [d.id for d in m.dropped] == ["q"]


def test_hole_through_all_clears_the_far_face_too(member_of):
    plain = member_of(hole() + field(faces='["back"]'))
    assert plain.dropped == ()
    m = member_of(hole(through='"all"', at="[[300, 20]]") + field(faces='["back"]'))
    assert m.dropped
    assert all("hole h/1" in d.reason for d in m.dropped)
    back = m.section.face("back")
    point = shapely.Point(
        300, back.from_member(m.section.face("front").to_member(np.array([[300, 20, 0]])))[0, 1]
    )
    assert min(p.outline.distance(point) for p in m.pockets) >= 3 + 3 - 1e-6


def test_pockets_of_two_sides_leave_the_skins_they_promise(member_of):
    def both(skin):
        return single(face='"top"', skin=skin) + single(name='"q"', face='"bottom"', skin=skin)

    with pytest.raises(JobError, match=r"leaves 2\.00 mm under it to pocket p, 7 mm wanted"):
        member_of(both("7"), section=BAR)
    with pytest.raises(JobError, match="cuts into pocket p"):
        member_of(both("4"), section=BAR)
    by_depth = single(face='"top"', skin=None, depth="5") + single(
        name='"q"', face='"bottom"', skin=None, depth="5"
    )
    m = member_of(by_depth, section=BAR)
    assert [(p.depth, p.skin) for p in m.pockets] == [(5, 2), (5, 2)]


def test_nothing_left_is_refused_with_the_commonest_reason(member_of):
    with pytest.raises(JobError, match=r"no pocket of f on front can stay; .*keep-clear zone z"):
        member_of(field() + zone(x="[0, 600]"))


def test_names_are_unique_over_all_features(member_of):
    with pytest.raises(JobError, match='"x" already names a pocket'):
        member_of(single(name='"x"') + hole(name='"x"', at="[[100, 0]]"))


def test_a_face_named_twice_is_refused(member_of):
    with pytest.raises(JobError, match="a face is named twice"):
        member_of(field(faces='["front", "front"]'))


def test_layout_faults_point_at_their_key(member_of):
    with pytest.raises(JobError) as fault:
        member_of(field(corner_radius="0.4"))
    assert fault.value.key == "field[1].corner_radius"
    with pytest.raises(JobError) as fault:
        member_of(field(rows="9"))
    assert fault.value.key == "field[1].rows"
    with pytest.raises(JobError) as fault:
        member_of(field(rib="24"))
    assert fault.value.key == "field[1].rib"


def test_a_fault_tells_the_line_of_its_key(member_of, tmp_path):
    with pytest.raises(JobError) as fault:
        member_of(hole() + field(rows="9"))
    lines = (tmp_path / "job.toml").read_text(encoding="utf-8").splitlines()
    assert lines[fault.value.line - 1] == "rows = 9"


# --- end cuts -------------------------------------------------------------------------------------------


def cut(end, remove):
    return f'[[end_cut]]\nend = "{end}"\nremove = {remove}\n'


def test_end_cuts_shorten_the_member(member_of):
    m = member_of(cut("datum", 20) + cut("far", 5.5) + hole(at="[[571, 0]]"))
    assert m.length == 574.5
    assert m.sawn == ("datum end: 20 mm off", "far end: 5.5 mm off")
    with pytest.raises(JobError, match="runs over the end"):
        member_of(cut("datum", 20) + cut("far", 5.5) + hole(at="[[572, 0]]"))


def test_end_cuts_that_cannot_be_are_refused(member_of):
    with pytest.raises(JobError, match="the far end is sawn twice"):
        member_of(cut("far", 5) + cut("far", 5))
    with pytest.raises(JobError, match="leaves nothing"):
        member_of(cut("far", 400) + cut("datum", 300))
