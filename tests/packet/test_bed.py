"""The bed from above and the pads: labels stand clear, marks and tables agree, holes come out where the pose puts them."""

import math
import xml.etree.ElementTree as ET
from itertools import combinations

import pytest
from shapely.geometry import box

from sparwright.packet.bed import CLAMP_LETTERS, bed_drawing
from sparwright.packet.figures import Display
from sparwright.packet.pads import pad_drawing, pad_hole_table, pad_table
from sparwright.placing.place import place

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def setups(bridge_job, bridge_member):
    return place(bridge_member, bridge_job).setups


def shown(svg):
    """Texts once each (not their white edges), with their boxes on the sheet; turned ones have no box."""
    told = []
    for t in ET.fromstring(svg).iter(f"{SVG}text"):
        if t.get("stroke") is None:
            size, x, y = (float(t.get(k)) for k in ("font-size", "x", "y"))
            wide = 0.5 * size * len(t.text)
            left = x - {"start": 0.0, "middle": wide / 2, "end": wide}[t.get("text-anchor")]
            told.append((t.text, None if t.get("transform") else box(left, y - 0.65 * size, left + wide, y)))
    return told


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_labels_of_the_bed_stand_clear_of_each_other(setups, bridge_job, bridge_member, units):
    svg, scale, detail = bed_drawing(bridge_member, setups[0], bridge_job.bed, Display(inch=units == "inch"))
    assert (scale, detail) == ("1:10", "1:5")
    told = shown(svg)
    names = [t for t, _ in told]
    letters = CLAMP_LETTERS[: len(setups[0].clamps)]
    assert {*letters, "pad 1", "pad 4", "X0 Y0", "X", "Y", "Z", "Z (1:5)", "datum"} <= set(names)
    _, _, wide, high = map(float, ET.fromstring(svg).get("viewBox").split())
    for text, at in told:
        assert at is None or box(0, 0, wide, high).contains(at), text
    for (a, at_a), (b, at_b) in combinations([(t, at) for t, at in told if at is not None], 2):
        assert not at_a.intersects(at_b), (a, b)


def test_holes_of_the_pads_lie_where_the_pads_corner_and_the_pose_put_them(setups):
    """Reckoned from the corner by hand: across goes to the right of the member's way, along goes with it."""
    setup = setups[0]
    angle = setup.pose.angle
    rows = pad_hole_table(setup)
    assert len(rows) == sum(len(p.inserts) + len(p.by_hand) + (p.stop is not None) for p in setup.pads)
    for row in rows:
        pad = setup.pads[int(row["mark"][:-1]) - 1]
        x, y = setup.pose.x, setup.pose.y
        along, left = pad.x[0] + float(row["along"]), pad.s[1] - float(row["across"])
        assert float(row["x"]) == pytest.approx(
            x + along * math.cos(angle) - left * math.sin(angle), abs=0.02
        )
        assert float(row["y"]) == pytest.approx(
            y + along * math.sin(angle) + left * math.cos(angle), abs=0.02
        )
        assert 0 < float(row["along"]) < pad.x[1] - pad.x[0]
        assert 0 < float(row["across"]) < pad.s[1] - pad.s[0]


def test_marks_on_the_pads_are_those_of_the_table(setups):
    setup = setups[0]
    marks = {row["mark"] for row in pad_hole_table(setup)}
    drawn = set()
    for number, pad in enumerate(setup.pads, 1):
        svg, _ = pad_drawing(pad, number, setup.side)
        drawn |= {t for t, _ in shown(svg) if t[:-1].isdigit() and t[-1].isalpha()}
    assert drawn == marks
    assert len(pad_table(setup)) == len(setup.pads)
    assert all(len(row["corners"]) == 4 for row in pad_table(setup))
