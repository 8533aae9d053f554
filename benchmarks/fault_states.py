"""Kinds of fault in what a program states: units, spindle, cutters, feeds, zero, start and end. See fault_plant.py."""

from __future__ import annotations

import re

import numpy as np
from fault_job import ALL, DRILL, EDGES, HOLES, POCKETS, Good
from fault_plant import (
    Draw,
    Kind,
    Planted,
    arcs,
    around,
    deeds,
    drop,
    edit,
    feeds,
    insert,
    own,
    pick,
    plant,
    plant_in,
    want,
)  # fmt: skip

MILLED = (POCKETS, HOLES, EDGES)


def _first(g: Good, done: Good, checks: list[str], n: str, by: int = 0) -> Planted:
    """Told at the first line that feeds, `by` lines further down."""
    first = feeds(g, n)[0]
    return plant(done, checks, n, [first + by], own(g, n, first))


def inches_for_millimetres(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 1, lambda t: t.replace("G21", "G20")), ["units"], n, [1])


def units_left_out(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 1, lambda t: t.replace("G21 ", "")), ["units"], n, [4])


def inches_from_half_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    done = insert(g, n, at, "G20")
    return Planted(done, (want(["units"], n, [at]), want(["reach"], n, [at + 1])))


def spindle_never_started(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, edit(g, n, 5, lambda t: t.replace(" M3", "")), ["spindle"], n)


def spindle_stopped_half_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = pick(rng, feeds(g, n))
    return plant(insert(g, n, at, "M5"), ["spindle"], n, [at + 1], own(g, n, at))


def spindle_backward(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, edit(g, n, 5, lambda t: t.replace("M3", "M4")), ["spindle"], n)


def _speed(g: Good, n: str, rpm: float) -> Good:
    return edit(g, n, 5, lambda t: re.sub(r"S\d+", f"S{rpm:.0f}", t))


def spindle_too_fast(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, _speed(g, n, rng.integers(24100, 60000)), ["spindle speed"], n)


def spindle_too_slow(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, _speed(g, n, rng.integers(500, 7900)), ["spindle speed"], n)


def speed_halved(g: Good, rng: Draw) -> Planted:
    return plant_in(
        g, _speed(g, POCKETS, rng.integers(8000, 8101)), ["chip", "power"], POCKETS, feeds(g, POCKETS)
    )


def spindle_that_runs_slow(g: Good, rng: Draw) -> Planted:
    """A spindle that can turn at a twentieth of the speed, and is told to."""
    done = _speed(g, POCKETS, rng.integers(550, 950))
    spindle = g.job.bed.spindle.model_copy(update={"slowest": 500})
    return plant_in(g, done.with_bed(spindle=spindle), ["force"], POCKETS, feeds(g, POCKETS))


def spindle_too_weak(g: Good, rng: Draw) -> Planted:
    spindle = g.job.bed.spindle
    weak = spindle.model_copy(update={"power": spindle.power * rng.uniform(0.05, 0.3)})
    return plant_in(g, g.with_bed(spindle=weak), ["power"], POCKETS, feeds(g, POCKETS))


def cutter_changed_and_spindle_left_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, HOLES))
    at = pick(rng, deeds(g, n, "approach"))
    nth = next(i for i in feeds(g, n) if i >= at)
    return plant(insert(g, n, at, g.lines(n)[1]), ["spindle"], n, [nth + 1], own(g, n, nth))


def cutter_changed_low(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, HOLES))
    at = pick(rng, deeds(g, n, "pass", "ring", "last wall"))
    mill, fine, *_ = g.layout.tools
    number = fine if n == POCKETS else mill
    done = insert(g, n, at, f"T{number} M6", f"G43 H{number}", f"S{g.layout.rpm} M3")
    return plant(done, ["tool change"], n, [at + 3], own(g, n, at))


def feed_never_set(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    done = g.put(n, [re.sub(r" F[\d.]+", "", t) for t in g.lines(n)])
    return Planted(done, (*_first(g, done, ["feed"], n).wanted, want(["reading"], n, feeds(g, n)[:1])))


def _faster(text: str, by: float) -> str:
    return re.sub(r"F([\d.]+)", lambda m: f"F{by * float(m[1]):g}", text)


def feed_ten_times(g: Good, rng: Draw) -> Planted:
    """One line of a cut at the full width or along an edge."""
    n = pick(rng, (POCKETS, EDGES))
    at = pick(rng, deeds(g, n, "pass", "last pass", "ramp", "last ramp", "helix", "edge"))
    return plant(edit(g, n, at, lambda t: _faster(t, 10)), ["feed", "chip"], n, [at], own(g, n, at))


def feed_five_times(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    done = g.put(n, [_faster(t, 5) for t in g.lines(n)])
    return plant_in(g, done, ["feed", "chip"], n, feeds(g, n))


def feed_three_times_in_the_full_cut(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "pass"))
    return plant(edit(g, POCKETS, at, lambda t: _faster(t, 3)), ["chip"], POCKETS, [at], own(g, POCKETS, at))


def feed_past_the_axis(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "feed down"))
    done = edit(g, n, at, lambda t: re.sub(r"F\d+", f"F{int(rng.integers(1510, 9000))}", t))
    return plant(done, ["feed"], n, [at], own(g, n, at))


def feed_taken_as_time(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "feed down"))
    done = insert(g, n, at, "G93")
    wanted = tuple(
        want(["feed", "chip"], n, [i + 1 for i in g.of(n, f) if i >= at], f, around(g, f))
        for f in g.features(n)
    )
    return Planted(done, wanted)


def feed_a_turn(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    return plant(insert(g, n, at, "G95"), ["reading"], n, [at])


def another_cutter(g: Good, rng: Draw) -> Planted:
    mill, fine, _, vee = g.layout.tools
    n, other, checks = pick(
        rng,
        (
            (POCKETS, fine, ["wall", "skin"]),
            (HOLES, mill, ["wall", "hole size", "gouge"]),
            (EDGES, mill, ["gouge", "wall", "edge break", "plunge"]),
            (POCKETS, vee, ["wall", "skin"]),
        ),
    )
    lines = g.lines(n)
    lines[1], lines[2] = f"T{other} M6", f"G43 H{other}"
    return plant_in(g, g.put(n, lines), checks, n)


def cutter_unknown(g: Good, rng: Draw) -> Planted:
    n, number = pick(rng, ALL), int(rng.integers(10, 99))
    lines = g.lines(n)
    lines[1], lines[2] = f"T{number} M6", f"G43 H{number}"
    return _first(g, g.put(n, lines), ["cutter"], n)


def cutter_not_named(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, edit(g, n, 2, lambda t: ""), ["cutter"], n)


def length_of_another_cutter(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    right = g.lines(n)[2]
    wrong = pick(rng, [f"G43 H{k}" for k in range(1, 10) if f"G43 H{k}" != right])
    return _first(g, edit(g, n, 3, lambda t: str(wrong)), ["tool length"], n)


def length_left_out(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _first(g, edit(g, n, 3, lambda t: ""), ["tool length"], n)


def length_taken_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    nth = next(i for i in feeds(g, n) if i >= at)
    return plant(insert(g, n, at, "G49"), ["tool length"], n, [nth + 1], own(g, n, nth))


def no_end(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    count = len(g.lines(n))
    return plant(drop(g, n, [count]), ["program end"], n, [count - 2])


def cut_off_half_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = int(rng.integers(10, len(g.lines(n)) - 3))
    return plant(g.put(n, g.lines(n)[:at]), ["program end"], n, [at])


def cut_off_in_a_line(g: Good, rng: Draw) -> Planted:
    """The text ends in the middle of a line, as after a broken transfer."""
    n = pick(rng, MILLED)
    at = int(rng.integers(10, len(g.lines(n)) - 3))
    kept = g.lines(n)[:at]
    kept[-1] = kept[-1][: int(rng.integers(1, len(kept[-1])))]
    return plant(g.put_text(n, "\n".join(kept)), ["program end"], n, [at - 1, at])


def ended_low(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    lines = g.lines(n)
    lines[-3] = f"G0 Z{rng.uniform(0.5, 5.5):.3f}"
    return plant(g.put(n, lines), ["program end"], n, [len(lines) - 2])


def sideways_before_up(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    return plant(edit(g, n, 4, lambda t: ""), ["program start"], n, [6])


def down_first(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 4, lambda t: f"G0 Z{rng.uniform(-3, 3):.3f}"), ["program start"], n, [4])


# --- zero and modes -------------------------------------------------------------------------------------


def another_zero(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    line = pick(rng, deeds(g, n, "approach", "drill"))
    word = pick(rng, ("G55", "G56", "G57", "G59", "G59.1"))
    return plant(insert(g, n, line, word), ["work zero"], n, [line + 1])


def zero_in_the_head(g: Good, rng: Draw) -> Planted:
    n, word = pick(rng, ALL), pick(rng, ("G55", "G56", "G57", "G58", "G59", "G59.2", "G59.3"))
    return plant(edit(g, n, 1, lambda t: t.replace("G54", word)), ["work zero"], n, [4])


def zero_moved_by_g92(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    word = pick(rng, ("G92 X0 Y0", "G92 Z19.9", "G92 X10"))
    return plant(insert(g, n, at, word), ["work zero"], n, [at, at + 1])


def zero_moved_by_g10(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    word = f"G10 L2 P1 {pick(rng, 'XYZ')}{rng.uniform(0.1, 9):.3f}"
    return plant(insert(g, n, at, word), ["work zero"], n, [at + 1])


def home_from_below(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "pass", "wall", "ring"))
    return plant(insert(g, POCKETS, at, pick(rng, ("G28", "G30"))), ["machine place"], POCKETS, [at])


def machine_place_too_deep(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "down"))
    feature = own(g, n, at)
    bed = g.job.bed
    top = bed.nose_height - g.setup.face_height - max(c.stick_out for c in g.job.cutters)
    done = insert(g, n, at, f"G53 G0 Z{-(top + rng.uniform(6, 20)):.2f}")
    return plant(done, ["rapid", "reach", "pad", "bed"], n, [at], feature, around(g, feature))


def relative_by_slip(g: Good, rng: Draw) -> Planted | None:
    """The first line that then leaves the reach is guilty, or an arc before it, whose ends no longer fit it."""
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach", "step", "pass", "edge", "ring", "wall"))
    done = insert(g, n, at, "G91")
    place, lines = np.zeros(2), g.lines(n)
    for text in lines[: at - 1]:
        place = _moved(text, place, absolute=True)
    for i in range(at, len(lines) + 1):
        if i in arcs(g, n):
            return plant(done, ["reading"], n, [i + 1])
        place = _moved(lines[i - 1], place, absolute=False)
        if (place < 0).any() or (place > g.job.bed.reach[:2]).any():
            return plant(done, ["reach"], n, [i + 1])
    return None


def _moved(text: str, place: np.ndarray, *, absolute: bool) -> np.ndarray:
    done = place.copy()
    for k, letter in enumerate("XY"):
        hit = re.search(rf"{letter}(-?[\d.]+)", text)
        if hit:
            done[k] = float(hit[1]) + (0 if absolute else done[k])
    return done


def relative_in_the_head(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 1, lambda t: t.replace("G90", "G91")), ["reach"], n, [4])


def another_plane(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, arcs(g, n))
    return plant(insert(g, n, at, pick(rng, ("G18", "G19"))), ["reading"], n, [at + 1])


def another_plane_in_the_head(g: Good, rng: Draw) -> Planted:
    n, word = pick(rng, MILLED), pick(rng, ("G18", "G19"))
    return plant(edit(g, n, 1, lambda t: t.replace("G17", word)), ["reading"], n, arcs(g, n)[:1])


def cutter_radius_compensated(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "step", "feed down"))
    word = pick(rng, ("G41", "G42")) + pick(rng, ("", " D1"))
    return plant(insert(g, n, at, word), ["reading"], n, [at])


def cycle_that_does_not_rise(g: Good, rng: Draw) -> Planted:
    """G99 for G98: from hole to hole just over the face."""
    del rng
    at = g.of(DRILL, g.layout.drilled[1].name)[0]
    done = g.put(DRILL, [t.replace("G98", "G99") for t in g.lines(DRILL)])
    return plant(done, ["clearance height", "clamp"], DRILL, [at], caution=True)


def cycle_starts_in_the_metal(g: Good, rng: Draw) -> Planted:
    hole = g.layout.drilled[0].name
    done = edit(g, DRILL, 6, lambda t: t.replace("R2.0000", f"R-{rng.uniform(0.2, 2.5):.3f}"))
    return plant(done, ["rapid"], DRILL, [6], hole, around(g, hole))


def cycle_without_its_peck(g: Good, rng: Draw) -> Planted:
    word = pick(rng, (r" Q1\.5", r" R2\.0000", r" Z-[\d.]+"))
    return plant(edit(g, DRILL, 6, lambda t: re.sub(word, "", t)), ["reading"], DRILL, [6])


STATES: tuple[Kind, ...] = (
    inches_for_millimetres, units_left_out, inches_from_half_way, spindle_never_started, spindle_stopped_half_way,
    spindle_backward, spindle_too_fast, spindle_too_slow, speed_halved, spindle_that_runs_slow, spindle_too_weak,
    cutter_changed_and_spindle_left_off, cutter_changed_low, feed_never_set, feed_ten_times, feed_five_times,
    feed_three_times_in_the_full_cut, feed_past_the_axis, feed_taken_as_time, feed_a_turn, another_cutter,
    cutter_unknown, cutter_not_named, length_of_another_cutter, length_left_out, length_taken_off, no_end,
    cut_off_half_way, cut_off_in_a_line, ended_low, sideways_before_up, down_first, another_zero, zero_in_the_head,
    zero_moved_by_g92, zero_moved_by_g10, home_from_below, machine_place_too_deep, relative_by_slip,
    relative_in_the_head, another_plane, another_plane_in_the_head, cutter_radius_compensated,
    cycle_that_does_not_rise, cycle_starts_in_the_metal, cycle_without_its_peck,
)  # fmt: skip
