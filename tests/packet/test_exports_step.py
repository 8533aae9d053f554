"""STEP of the member and the pads, read back by the kernel and held against hand reckoning."""

import math
import re
from dataclasses import replace

import pytest

from sparwright.cutting.slots import plan_pads
from sparwright.packet import exports
from sparwright.packet.exports import notes, step
from sparwright.placing.model import Pad
from sparwright.placing.place import place

needs_kernel = pytest.mark.skipif(
    not exports.has_step(), reason="the geometry kernel has no build for this machine"
)


@needs_kernel
def test_step_holds_the_member_without_edge_breaks(folder, volume_without_breaks):
    from netgen.occ import OCCGeometry

    shape = OCCGeometry(str(folder / "member.step")).shape
    assert shape.mass == pytest.approx(volume_without_breaks, rel=1e-7)
    assert len(shape.solids) == 1
    low, high = shape.bounding_box
    assert tuple(low) == pytest.approx((0, 0, 0), abs=1e-3)
    assert tuple(high) == pytest.approx((300, 50, 100), abs=1e-3)
    text = (folder / "member.step").read_text(encoding="ascii")
    assert re.findall(r"LENGTH_UNIT\(\)[^;]*SI_UNIT\(([^)]*)\)", text) == [".MILLI.,.METRE."]


@needs_kernel
def test_step_cuts_counterbores_and_crossing_holes(part):
    holes = (
        replace(part.holes[0], id="a", at=(250, 0), face="front", through="all", depth=50, diameter=8),
        replace(part.holes[0], id="b", at=(250, 0), face="top", through="all", depth=100, diameter=8),
        replace(part.holes[0], id="c", at=(280, 0), face="back", counterbore=(9.0, 2.0), diameter=5),
    )
    bare = replace(part, pockets=(), notches=(), holes=())
    drilled = replace(bare, holes=holes)
    taken = step.step_shape(bare).mass - step.step_shape(drilled).mass
    assert taken == pytest.approx(4 * 4 * math.pi * 16 + math.pi / 4 * (25 * 4 + (81 - 25) * 2), rel=1e-6)


@needs_kernel
def test_step_says_what_it_leaves_out(folder, part, tmp_path):
    """Read as text: the note is in the header and is the product's description; nothing of the kernel's date is left."""
    text = (folder / "member.step").read_text(encoding="ascii")
    note = "Edge breaks are left out: pockets 0.4 mm. Edges are shown as they are before they are broken."
    assert f"FILE_DESCRIPTION(('{note}'),'2;1');" in text
    assert re.search(rf"PRODUCT\('{part.title}','{part.title}',\s*'{re.escape(note)}'", text)
    plain = replace(part, title="it's a \\ path", pockets=())
    step.write_step(plain, tmp_path / "plain.step")
    text = (tmp_path / "plain.step").read_text(encoding="ascii")
    assert "FILE_DESCRIPTION((''),'2;1');" in text
    assert "PRODUCT('it''s a / path','it''s a / path',''," in text


def test_edge_note_names_each_kind_with_its_sizes(part):
    hole = replace(part.holes[0], face="back", edge_break=0.3)
    mixed = replace(part, holes=(hole, replace(hole, edge_break=0.5)), pockets=())
    told = (
        "Edge breaks are left out: holes 0.3 and 0.5 mm. Edges are shown as they are before they are broken."
    )
    assert notes.edge_note(mixed) == notes.edge_note(mixed, "back") == told
    assert notes.edge_note(mixed, "front") == ""


def lens(radius, reach):
    """Area of the part of a circle beyond a line `reach` from its centre."""
    return radius**2 * math.acos(reach / radius) - reach * math.sqrt(radius**2 - reach**2)


@needs_kernel
def test_pad_holds_what_is_cut_by_hand_reckoning(tmp_path):
    """A slot off the middle, two bored holes of their own depths, one by hand through the sheet, a stop across the wall."""
    from netgen.occ import OCCGeometry

    pad = Pad(
        name="pad 1",
        x=(20.0, 90.0),
        s=(-80.0, 100.0),
        thickness=18.0,
        slot={"front": (-25.0, 25.0), "back": (-30.0, 26.0)},
        slot_depth=5.0,
        locates=True,
        inserts=((40.0, 60.0), (70.0, -50.0)),
        insert_diameter=8.5,
        by_hand=((55.0, 80.0),),
        stop=(30.0, 24.0),
        stop_diameter=6.0,
    )
    depths = {"insert 1 of pad 1": 15.0, "insert 2 of pad 1": 12.0, "stop pin of pad 1": 14.0}
    assert exports.write_pads((pad,), "front", depths, tmp_path) == ("pad-1.step",)
    shape = OCCGeometry(str(tmp_path / "pad-1.step")).shape
    insert, stop = math.pi / 4 * 8.5**2, math.pi / 4 * 6**2
    left = 70 * 180 * 18 - 70 * 50 * 5 - insert * (15 + 12 + 18)
    left -= stop * (14 - 5) + lens(3.0, 1.0) * 5
    assert shape.mass == pytest.approx(left, rel=1e-7)
    assert len(shape.solids) == 1
    low, high = shape.bounding_box
    assert tuple(low) == pytest.approx((0, 0, -18), abs=1e-3)
    assert tuple(high) == pytest.approx((180, 70, 0), abs=1e-3)
    balance = [(70 * 180 * 18, 90.0), (-70 * 50 * 5, 100.0), (-insert * 15, 40.0), (-insert * 12, 150.0)]
    balance += [(-insert * 18, 20.0), (-stop * 9, 76.0)]
    beyond = lens(3.0, 1.0)
    # Of a part of a circle beyond a chord the first moment about the centre is (r^2 - d^2)^(3/2) * 2 / 3.
    balance.append((-beyond * 5, 76.0 - 2 / 3 * (9 - 1) ** 1.5 / beyond))
    assert shape.center.x == pytest.approx(sum(v * x for v, x in balance) / left, rel=1e-7)
    text = (tmp_path / "pad-1.step").read_text(encoding="ascii")
    assert "Slot as cut for side front" in text


@needs_kernel
def test_pads_of_the_bridge_beam_have_the_holes_its_programs_bore(bridge_job, bridge_member, tmp_path):
    from netgen.occ import OCCGeometry

    placement = place(bridge_member, bridge_job)
    setup = placement.setups[0]
    depths = exports.bored_depths(plan_pads(placement, bridge_job))
    bored = [at for pad in setup.pads for at in (*pad.inserts, pad.stop) if at is not None]
    assert len(depths) == len(bored) > 0
    assert all(0 < depth < pad.thickness for depth in depths.values() for pad in setup.pads)
    names = exports.write_pads(setup.pads, setup.side, depths, tmp_path)
    for pad, name in zip(setup.pads, names, strict=True):
        shape = OCCGeometry(str(tmp_path / name)).shape
        low, high = pad.slot[setup.side]
        long = pad.x[1] - pad.x[0]
        left = long * ((pad.s[1] - pad.s[0]) * pad.thickness - (high - low) * pad.slot_depth)
        for i in range(len(pad.inserts)):
            left -= math.pi / 4 * pad.insert_diameter**2 * depths[f"insert {i + 1} of {pad.name}"]
        left -= len(pad.by_hand) * math.pi / 4 * pad.insert_diameter**2 * pad.thickness
        assert pad.stop is None, "the beam is stopped by a dowel in the collet"
        assert shape.mass == pytest.approx(left, rel=1e-7)
