"""Planted faults in good programs: each must be found, with its check, its feature and its line."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from shapely.geometry import box

from sparwright.answers import Verdict
from sparwright.placing.model import Clamp
from sparwright.proof.prove import prove_side

POCKETS, HOLE, EDGES = "pockets.nc", "hole.nc", "edges.nc"
FIRST, SECOND = "field/top/r1c01", "field/top/r1c02"


def lines_of(sample, name):
    return sample.text(name).splitlines()


def put(sample, name, lines):
    return sample.with_text(name, "\n".join(lines) + "\n")


def edit(sample, name, line, change):
    """The sample with one line (from 1) changed."""
    lines = lines_of(sample, name)
    before = lines[line - 1]
    lines[line - 1] = change(before)
    assert lines[line - 1] != before
    return put(sample, name, lines)


def insert(sample, name, line, *texts):
    lines = lines_of(sample, name)
    return put(sample, name, [*lines[: line - 1], *texts, *lines[line - 1 :]])


def shift_x(text, by):
    return re.sub(r"X(-?[\d.]+)", lambda m: f"X{float(m[1]) + by:.4f}", text)


# Every fault: a function from the sample to (sample, check, feature or None, program, lines that may be named).


def floor_deeper(s):
    m = s.marks[POCKETS]
    line = m["ramp 0 -1.8"] + 1
    done = edit(s, POCKETS, line, lambda t: t.replace("Z-1.8", "Z-2.1"))
    return done, "skin", FIRST, POCKETS, range(line, m["retract 0"])


def pocket_shifted(s):
    m, lines = s.marks[POCKETS], lines_of(s, POCKETS)
    span = range(m["approach 1"], m["retract 1"])
    for k in span:
        lines[k - 1] = shift_x(lines[k - 1], 0.5)
    return put(s, POCKETS, lines), "wall", SECOND, POCKETS, span


def rapid_through_stock(s):
    line = s.marks[POCKETS]["approach 1"] + 1
    return edit(s, POCKETS, line, lambda t: t.replace("Z2.0000", "Z-1")), "rapid", SECOND, POCKETS, [line]


def missing_retract(s):
    m, lines = s.marks[POCKETS], lines_of(s, POCKETS)
    at = m["retract 0"]
    # the lift, the way back over the pocket and the retract all go: the next rapid runs in the metal
    del lines[at - 3 : at]
    return put(s, POCKETS, lines), "rapid", None, POCKETS, [at - 2]


def wrong_units(s):
    return edit(s, POCKETS, 1, lambda t: t.replace("G21", "G20")), "units", None, POCKETS, [1]


def no_units(s):
    return edit(s, POCKETS, 1, lambda t: t.replace("G21 ", "")), "units", None, POCKETS, [3]


def spindle_never_started(s):
    lines = lines_of(s, POCKETS)
    line = lines.index("S18000 M3") + 1
    first = next(i for i, t in enumerate(lines, 1) if t.startswith("G1"))
    return edit(s, POCKETS, line, lambda t: "S18000"), "spindle", FIRST, POCKETS, [first]


def spindle_stopped_half_way(s):
    line = s.marks[POCKETS]["wall 0 -0.9"]
    return insert(s, POCKETS, line, "M5"), "spindle", FIRST, POCKETS, [line + 1]


def spindle_backward(s):
    lines = lines_of(s, EDGES)
    first = next(i for i, t in enumerate(lines, 1) if t.startswith("G1"))
    return (
        edit(s, EDGES, lines.index("S18000 M3") + 1, lambda t: t.replace("M3", "M4")),
        "spindle", FIRST, EDGES, [first],
    )  # fmt: skip


def spindle_too_fast(s):
    lines = lines_of(s, HOLE)
    first = next(i for i, t in enumerate(lines, 1) if t.startswith("G1"))
    done = edit(s, HOLE, lines.index("S18000 M3") + 1, lambda t: t.replace("18000", "30000"))
    return done, "spindle speed", "rail/1", HOLE, [first]


def smaller_cutter_swapped_in(s):
    m = s.marks[POCKETS]
    done = edit(s, POCKETS, 2, lambda t: t.replace("T1", "T2"))
    return done, "wall", FIRST, POCKETS, range(m["approach 0"], m["retract 0"])


def larger_cutter_swapped_in(s):
    done = edit(s, HOLE, 2, lambda t: t.replace("T2", "T1"))
    m = s.marks[HOLE]
    return done, "hole size", "rail/1", HOLE, range(m["helix"], m["bore"] + 4)


def unknown_cutter(s):
    done = edit(s, HOLE, 2, lambda t: t.replace("T2", "T7"))
    first = next(i for i, t in enumerate(lines_of(s, HOLE), 1) if t.startswith("G1"))
    return done, "cutter", "rail/1", HOLE, [first]


def no_cutter(s):
    done = edit(s, EDGES, 2, lambda t: "")
    first = next(i for i, t in enumerate(lines_of(s, EDGES), 1) if t.startswith("G1"))
    return done, "cutter", FIRST, EDGES, [first]


def beyond_the_reach(s):
    line = s.marks[POCKETS]["approach 1"]
    return insert(s, POCKETS, line, "G0 X203"), "reach", None, POCKETS, [line]


def above_the_reach(s):
    line = s.marks[POCKETS]["approach 1"]
    return insert(s, POCKETS, line, "G0 Z45"), "reach", None, POCKETS, [line]


def clamp_hit_at_rapid(s):
    line = s.marks[POCKETS]["retract 0"]
    done = edit(s, POCKETS, line, lambda t: t.replace("20", "8"))
    return done, "clamp", None, POCKETS, [line + 1]


def clamp_put_over_a_pocket(s):
    clamp = Clamp("clamp 2", box(84, -25, 93, 25), 12.0, (88.5, 0.0), 800, 2.0, "M6")
    done = replace(s, setup=replace(s.setup, clamps=(*s.setup.clamps, clamp)))
    m = s.marks[POCKETS]
    return done, "clamp", SECOND, POCKETS, range(m["approach 1"], m["retract 1"])


def holder_against_a_clamp(s):
    clamp = Clamp("tall", box(15, 16, 30, 25), 21.5, (20, 18), 800, 2.0, "M6")
    done = replace(s, setup=replace(s.setup, clamps=(*s.setup.clamps, clamp)))
    m = s.marks[POCKETS]
    return done, "clamp", FIRST, POCKETS, range(m["ramp 0 -0.9"], m["ramp 0 -0.9"] + 30)


def feed_five_times_too_fast(s):
    line = s.marks[POCKETS]["floor 1 -0.9"] + 4
    done = edit(s, POCKETS, line, lambda t: t.replace("F540", "F2700"))
    return done, "chip", SECOND, POCKETS, [line]


def edge_fed_too_fast(s):
    """A V breaks the edge with its flank: metal is cut where the map shows none in its way."""
    line = s.marks[EDGES]["edge 30"] + 1
    return edit(s, EDGES, line, lambda t: t.replace("F500", "F3000")), "chip", FIRST, EDGES, [line]


def feed_past_the_axis(s):
    line = s.marks[EDGES]["edge 30"] - 1
    return edit(s, EDGES, line, lambda t: t.replace("F400", "F1600")), "feed", FIRST, EDGES, [line]


def zero_shifted(s):
    line = s.marks[POCKETS]["approach 1"]
    return insert(s, POCKETS, line, "G55"), "work zero", None, POCKETS, [line + 1]


def machine_place(s):
    line = s.marks[POCKETS]["wall 0 -0.9"]
    return insert(s, POCKETS, line, "G28"), "machine place or rapid", FIRST, POCKETS, [line]


def unreadable_line(s):
    line = s.marks[HOLE]["bore"]
    return edit(s, HOLE, line, lambda t: t + " Q%"), "reading", None, HOLE, [line]


def sideways_before_raising(s):
    line = lines_of(s, EDGES).index("G0 Z25") + 1
    return edit(s, EDGES, line, lambda t: ""), "program start", None, EDGES, [line + 2]


def not_ended(s):
    lines = lines_of(s, HOLE)[:-1]
    return put(s, HOLE, lines), "program end", None, HOLE, [len(lines) - 1]


def ended_low(s):
    lines = lines_of(s, EDGES)
    del lines[-3]
    del lines[-3]
    return put(s, EDGES, [*lines[:-1], "G0 Z1", "M30"]), "program end", None, EDGES, [len(lines)]


def plunge_by_a_cutter_that_cannot(s):
    cutters = tuple(replace_model(c, plunges=False) if c.number == 1 else c for c in s.job.cutters)
    line = s.marks[POCKETS]["ramp 0 -0.9"]
    done = edit(s, POCKETS, line, lambda t: t.replace("Z0.2000", "Z-0.5000"))
    return replace(done, job=replace_model(s.job, cutters=cutters)), "plunge", FIRST, POCKETS, [line]


def ramp_steep_as_a_plunge(s):
    """Down 1.1 mm on 0.5 mm of way: not straight, and yet the middle of the cutter stands in metal."""
    cutters = tuple(replace_model(c, plunges=False) if c.number == 1 else c for c in s.job.cutters)
    line = s.marks[POCKETS]["ramp 0 -0.9"]
    x, y = re.search(r"X(\S+) Y(\S+)", lines_of(s, POCKETS)[line - 3]).groups()
    steep = f"G1 X{float(x) + 0.5:.4f} Y{y} Z-0.9 F300"
    lines = lines_of(s, POCKETS)
    lines.insert(line, steep)
    return (
        replace(put(s, POCKETS, lines), job=replace_model(s.job, cutters=cutters)),
        "plunge",
        FIRST,
        POCKETS,
        [line + 1],
    )


def deeper_than_the_flutes(s):
    cutters = tuple(replace_model(c, flute_length=0.7) if c.number == 1 else c for c in s.job.cutters)
    m = s.marks[POCKETS]
    return (
        replace(s, job=replace_model(s.job, cutters=cutters)),
        "depth of cut", FIRST, POCKETS, range(m["ramp 0 -0.9"], m["wall 0 -0.9"]),
    )  # fmt: skip


def shank_thicker_than_the_cutter(s):
    cutters = tuple(
        replace_model(c, flute_length=1.5, shank=6) if c.number == 1 else c for c in s.job.cutters
    )
    m = s.marks[POCKETS]
    return (
        replace(s, job=replace_model(s.job, cutters=cutters)),
        "shank", FIRST, POCKETS, range(m["ramp 0 -1.8"], m["retract 0"]),
    )  # fmt: skip


def holder_in_the_metal(s):
    cutters = tuple(
        replace_model(c, flute_length=1.2, stick_out=1.5) if c.number == 1 else c for c in s.job.cutters
    )
    bed = replace_model(s.job.bed, nose_height=90)
    m = s.marks[POCKETS]
    return (
        replace(s, job=replace_model(s.job, cutters=cutters, bed=bed)),
        "holder", FIRST, POCKETS, range(m["ramp 0 -1.8"], m["retract 0"]),
    )  # fmt: skip


def pass_left_out(s):
    m, lines = s.marks[POCKETS], lines_of(s, POCKETS)
    at = m["floor 0 -1.8"] + 6
    del lines[at - 1 : at + 1]
    return put(s, POCKETS, lines), "skin", FIRST, POCKETS, range(m["ramp 0 -0.9"], m["retract 0"])


def stray_cut(s):
    line = s.marks[POCKETS]["retract 1"] - 2
    # from the middle of the second pocket out over its end wall
    x, y = s.setup.pose.to_bed([[75 + 15, 0]])[0]
    return insert(s, POCKETS, line, f"G1 X{x:.3f} Y{y:.3f}"), "gouge", SECOND, POCKETS, [line]


def hole_shifted(s):
    m, lines = s.marks[HOLE], lines_of(s, HOLE)
    for k in range(1, len(lines) + 1):
        lines[k - 1] = shift_x(lines[k - 1], 0.1)
    return put(s, HOLE, lines), "hole place", "rail/1", HOLE, range(m["helix"], m["bore"] + 4)


def hole_not_through(s):
    lines = [re.sub(r"Z-(3|2\.9)[\d.]*", "Z-2.9", t) for t in lines_of(s, HOLE)]
    m = s.marks[HOLE]
    return put(s, HOLE, lines), "hole depth", "rail/1", HOLE, range(m["helix"], m["bore"] + 4)


def edges_forgotten(s):
    done = replace(s, programs=s.programs[:2])
    m = s.marks[POCKETS]
    return done, "edge break", FIRST, POCKETS, range(m["approach 0"], m["retract 0"])


def edges_too_wide(s):
    line = s.marks[EDGES]["edge 75"] - 1
    done = edit(s, EDGES, line, lambda t: t.replace("Z-1.0", "Z-1.2"))
    return done, "edge break", SECOND, EDGES, range(line, line + 14)


def pocket_forgotten(s):
    m, lines = s.marks[POCKETS], lines_of(s, POCKETS)
    del lines[m["approach 1"] - 1 : m["retract 1"] - 1]
    done = replace(put(s, POCKETS, lines), programs=put(s, POCKETS, lines).programs[:2])
    return done, "not cut", SECOND, "", [0]


def into_the_bed(s):
    line = s.marks[POCKETS]["approach 1"]
    return insert(s, POCKETS, line, "G0 X10 Y120", "G1 Z-45 F300", "G0 Z20"), "bed", None, POCKETS, [line + 1]


def into_a_pad(s):
    line = s.marks[POCKETS]["approach 1"]
    # beside the member, over the first pad's rim (x 10, s -30)
    x, y = s.setup.pose.to_bed([[10, -30]])[0]
    texts = (f"G0 X{x:.3f} Y{y:.3f}", "G1 Z-27 F300", "G0 Z20")
    return insert(s, POCKETS, line, *texts), "pad", None, POCKETS, [line + 1]


def opposite_wall_hit(s):
    m = s.marks[HOLE]
    line = m["bore"] + 3
    return (
        insert(s, HOLE, line, "G1 Z-28 F300"), "gouge", "rail/1", HOLE, [line, line + 1],
    )  # fmt: skip


def feed_forgotten(s):
    lines = [re.sub(r" F[\d.]+", "", t) for t in lines_of(s, HOLE)]
    first = next(i for i, t in enumerate(lines, 1) if t.startswith("G1"))
    return put(s, HOLE, lines), "feed or reading", "rail/1", HOLE, [first]


def replace_model(model, **changes):
    return model.model_copy(update=changes)


FAULTS = (
    floor_deeper, pocket_shifted, rapid_through_stock, missing_retract, wrong_units, no_units,
    spindle_never_started, spindle_stopped_half_way, spindle_backward, spindle_too_fast,
    smaller_cutter_swapped_in, larger_cutter_swapped_in, unknown_cutter, no_cutter, beyond_the_reach,
    above_the_reach, clamp_hit_at_rapid, clamp_put_over_a_pocket, holder_against_a_clamp,
    feed_five_times_too_fast, edge_fed_too_fast, feed_past_the_axis, zero_shifted, machine_place, unreadable_line,
    sideways_before_raising, not_ended, ended_low, plunge_by_a_cutter_that_cannot, ramp_steep_as_a_plunge,
    deeper_than_the_flutes, shank_thicker_than_the_cutter, holder_in_the_metal, pass_left_out, stray_cut, hole_shifted,
    hole_not_through, edges_forgotten, edges_too_wide, pocket_forgotten, into_the_bed, into_a_pad,
    opposite_wall_hit, feed_forgotten,
)  # fmt: skip


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.__name__)
def test_fault_is_found_with_its_line(sample, fault):
    planted, check, feature, program, lines = fault(sample)
    proof = prove_side(planted.programs, planted.member, planted.setup, planted.job)
    assert proof.verdict is Verdict.NO_GO
    found = [f for f in proof.findings if f.verdict is Verdict.NO_GO and f.check in check.split(" or ")]
    told = [(f.check, f.verdict.value, f.feature, f.program, f.line, f.message) for f in proof.findings]
    assert found, told
    if feature is not None and found[0].check != "reading":
        assert feature in {f.feature for f in found}, told
    assert any(f.program == program and f.line in lines for f in found), told
    assert all(f.program in f.message for f in found if f.program)
