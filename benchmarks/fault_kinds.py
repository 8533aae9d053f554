"""Kinds of planted fault: each spoils good programs in one way, at a place drawn at random, and says what must be found.

A kind is a function of the good programs and a generator of random numbers. What it expects is known from how it
spoils, never from what the proof says: which checks may speak, which lines are guilty, which feature suffers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from fault_job import BACK, DRILLED, LENGTH, PECK, THROUGH, WINDOW, Good, Pen, small
from shapely.geometry import box

from sparwright.placing.model import Clamp

ALL = ("pockets.nc", "holes.nc", "drill.nc", "edges.nc")
RECTANGLES = tuple(small.POCKETS)
SHAPE = frozenset(
    {"gouge", "wall", "skin", "floor", "hole size", "hole place", "hole depth", "edge break", "not cut", "rapid", "clamp",
     "reach", "reading", "depth of cut", "shank", "holder", "pad", "bed", "plunge", "chip"}
)  # fmt: skip
Draw = np.random.Generator


@dataclass(frozen=True)
class Planted:
    """Spoiled programs. checks: that may tell of it. lines: guilty ones by program, None where no line is guilty.
    features: that suffer, None where the place has none. least: the verdict wanted at least.
    """

    good: Good
    checks: frozenset[str]
    lines: dict[str, frozenset[int]] | None
    features: frozenset[str] | None = None
    caution: bool = False


def plant(
    good: Good,
    checks: Iterable[str],
    name: str,
    lines: Iterable[int] | None,
    features: Iterable[str] | None = None,
    caution: bool = False,
) -> Planted:
    """What a kind gives back."""
    return Planted(
        good,
        frozenset(checks),
        None if lines is None else {name: frozenset(lines)},
        None if features is None else frozenset(features),
        caution,
    )


def pick(rng: Draw, items: Iterable) -> object:  # type: ignore[type-arg]
    """One of several at random."""
    items = list(items)
    return items[int(rng.integers(len(items)))]


def edit(good: Good, name: str, line: int, change: Callable[[str], str]) -> Good:
    """One line changed."""
    lines = good.lines(name)
    lines[line - 1] = change(lines[line - 1])
    return good.put(name, lines)


def insert(good: Good, name: str, line: int, *texts: str) -> Good:
    """Lines put in before a line."""
    lines = good.lines(name)
    return good.put(name, [*lines[: line - 1], *texts, *lines[line - 1 :]])


def drop(good: Good, name: str, gone: Iterable[int]) -> Good:
    """Lines taken out."""
    gone = set(gone)
    return good.put(name, [t for i, t in enumerate(good.lines(name), 1) if i not in gone])


def add(text: str, letter: str, by: float) -> str:
    """A line with one word's figure raised."""
    return re.sub(rf"{letter}(-?[\d.]+)", lambda m: f"{letter}{float(m[1]) + by:.4f}", text)


def value(text: str, letter: str) -> float | None:
    """The figure of a word of a line."""
    hit = re.search(rf"{letter}(-?[\d.]+)", text)
    return float(hit[1]) if hit else None


def feeds(good: Good, name: str) -> list[int]:
    """Lines that feed (a cycle's lines too)."""
    return [
        i
        for i, t in enumerate(good.lines(name), 1)
        if re.match(r"G[123] ", t) or "G83" in t or re.match(r"X.* Y", t)
    ]


def deeds(good: Good, name: str, *wanted: str, features: Iterable[str] | None = None) -> list[int]:
    """Lines with one of several deeds."""
    return [
        i
        for i, (f, d) in enumerate(good.where[name], 1)
        if d in wanted and (features is None or f in features)
    ]


def arcs(good: Good, name: str, lines: Iterable[int]) -> list[int]:
    """Of some lines, those that are arcs."""
    text = good.lines(name)
    return [i for i in lines if text[i - 1].startswith("G3")]


def own(good: Good, name: str, line: int) -> tuple[str, list[int]]:
    """The feature a line works on, and all lines of the program that do."""
    feature = good.where[name][line - 1][0]
    return feature, good.of(name, feature)


def on_bed(x: float, s: float) -> np.ndarray:
    """Bed place of a place on the face."""
    return np.asarray(small.POSE.to_bed(np.array([[x, s]]))[0])


# --- what the program states ----------------------------------------------------------------------------


def inches_for_millimetres(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 1, lambda t: t.replace("G21", "G20")), ["units"], n, [1])


def units_left_out(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 1, lambda t: t.replace("G21 ", "")), ["units"], n, [4])


def spindle_never_started(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    first = feeds(g, n)[0]
    return plant(edit(g, n, 5, lambda t: "S18000"), ["spindle"], n, [first], own(g, n, first)[:1])


def spindle_stopped_half_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = pick(rng, feeds(g, n))
    return plant(insert(g, n, at, "M5"), ["spindle"], n, [at + 1], own(g, n, at)[:1])


def spindle_backward(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    first = feeds(g, n)[0]
    done = edit(g, n, 5, lambda t: t.replace("M3", "M4"))
    return plant(done, ["spindle"], n, [first], own(g, n, first)[:1])


def spindle_too_fast(g: Good, rng: Draw) -> Planted:
    n, rpm = pick(rng, ALL), int(rng.integers(24100, 60000))
    done = edit(g, n, 5, lambda t: t.replace("18000", str(rpm)))
    return plant(done, ["spindle speed"], n, feeds(g, n)[:1])


def spindle_too_slow(g: Good, rng: Draw) -> Planted:
    n, rpm = pick(rng, ALL), int(rng.integers(500, 7900))
    done = edit(g, n, 5, lambda t: t.replace("18000", str(rpm)))
    return plant(done, ["spindle speed"], n, feeds(g, n)[:1])


def speed_halved(g: Good, rng: Draw) -> Planted:
    done = edit(g, "pockets.nc", 5, lambda t: t.replace("18000", "8100"))
    return plant(done, ["chip"], "pockets.nc", feeds(g, "pockets.nc"), [*RECTANGLES, "round/1"])


def cutter_changed_and_spindle_left_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL[:2])
    at = pick(rng, deeds(g, n, "approach"))
    nth = next(i for i in feeds(g, n) if i >= at)
    tool = g.lines(n)[1]
    return plant(insert(g, n, at, tool), ["spindle"], n, [nth + 1], own(g, n, nth)[:1])


def cutter_changed_low(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL[:2])
    at = pick(rng, deeds(g, n, "pass", "ring", "last wall"))
    number = {"T1 M6": 2, "T2 M6": 1}[g.lines(n)[1]]
    done = insert(g, n, at, f"T{number} M6", f"G43 H{number}", "S18000 M3")
    return plant(done, ["tool change"], n, range(at, at + 4))


def feed_never_set(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    done = g.put(n, [re.sub(r" F[\d.]+", "", t) for t in g.lines(n)])
    return plant(done, ["feed", "reading"], n, feeds(g, n)[:1])


def feed_ten_times(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "edges.nc"))
    at = pick(rng, feeds(g, n))
    done = edit(g, n, at, lambda t: re.sub(r"F([\d.]+)", lambda m: f"F{10 * float(m[1]):g}", t))
    return plant(done, ["feed", "chip"], n, [at], own(g, n, at)[:1])


def feed_three_times_in_the_full_cut(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, "pockets.nc", "pass"))
    done = edit(g, "pockets.nc", at, lambda t: t.replace("F540", "F1620"))
    return plant(done, ["chip"], "pockets.nc", [at], own(g, "pockets.nc", at)[:1])


def feed_past_the_axis(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = pick(rng, deeds(g, n, "feed down"))
    done = edit(g, n, at, lambda t: t.replace("F400", f"F{int(rng.integers(1510, 9000))}"))
    return plant(done, ["feed", "chip"], n, [at], own(g, n, at)[:1])


def feed_taken_as_time(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = pick(rng, deeds(g, n, "feed down"))
    return plant(insert(g, n, at, "G93"), ["feed", "chip", "reading"], n, feeds(insert(g, n, at, "G93"), n))


def another_cutter(g: Good, rng: Draw) -> Planted:
    n, other = pick(rng, (("pockets.nc", 2), ("holes.nc", 1), ("edges.nc", 1), ("pockets.nc", 4)))  # type: ignore[misc]
    lines = g.lines(n)
    lines[1], lines[2] = f"T{other} M6", f"G43 H{other}"
    return plant(g.put(n, lines), SHAPE, n, range(1, len(lines)), {f for f, _ in g.where[n] if f})


def cutter_unknown(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    number = int(rng.integers(5, 99))
    lines = g.lines(n)
    lines[1], lines[2] = f"T{number} M6", f"G43 H{number}"
    first = feeds(g, n)[0]
    return plant(g.put(n, lines), ["cutter"], n, [first], own(g, n, first)[:1])


def cutter_not_named(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    first = feeds(g, n)[0]
    return plant(edit(g, n, 2, lambda t: ""), ["cutter"], n, [first], own(g, n, first)[:1])


def length_of_another_cutter(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    right = g.lines(n)[2]
    wrong = pick(rng, [f"G43 H{k}" for k in range(1, 9) if f"G43 H{k}" != right])
    return plant(edit(g, n, 3, lambda t: str(wrong)), ["tool length"], n, [4, feeds(g, n)[0]])


def length_left_out(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 3, lambda t: ""), ["tool length"], n, [4, feeds(g, n)[0]])


def length_taken_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = pick(rng, deeds(g, n, "approach"))
    nth = next(i for i in feeds(g, n) if i >= at)
    return plant(insert(g, n, at, "G49"), ["tool length"], n, range(at, nth + 2))


def no_end(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    count = len(g.lines(n))
    return plant(drop(g, n, [count]), ["program end"], n, [count - 2])


def cut_off_half_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(rng.integers(10, len(g.lines(n)) - 3))
    return plant(g.put(n, g.lines(n)[:at]), ["program end"], n, [at])


def ended_low(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    lines = g.lines(n)
    lines[-3] = f"G0 Z{rng.uniform(0.5, 5.5):.3f}"
    return plant(g.put(n, lines), ["program end"], n, [len(lines) - 2])


def sideways_before_up(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    return plant(edit(g, n, 4, lambda t: ""), ["program start"], n, [6])


def down_first(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return plant(edit(g, n, 4, lambda t: f"G0 Z{rng.uniform(-3, 3):.3f}"), ["program start"], n, [4])


# --- zero, modes, reading -------------------------------------------------------------------------------


def another_zero(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    line = int(pick(rng, [i for i, (_, d) in enumerate(g.where[n], 1) if d in ("approach", "drill")]))
    word = pick(rng, ("G55", "G56", "G57", "G59", "G59.1"))
    return plant(insert(g, n, line, str(word)), ["work zero"], n, [line + 1])


def zero_moved_by_g92(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, deeds(g, n, "approach")))
    word = pick(rng, ("G92 X0 Y0", "G92 Z19.9", "G92 X10"))
    return plant(insert(g, n, at, str(word)), ["work zero"], n, [at, at + 1])


def zero_moved_by_g10(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, deeds(g, n, "approach")))
    word = f"G10 L2 P1 {pick(rng, 'XYZ')}{rng.uniform(0.1, 9):.3f}"
    return plant(insert(g, n, at, word), ["work zero"], n, [at + 1])


def home_from_below(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "pass", "wall", "ring")))
    word = pick(rng, ("G28", "G30"))
    return plant(
        insert(g, "pockets.nc", at, str(word)),
        ["work zero", "rapid", "machine place"],
        "pockets.nc",
        [at],
    )


def machine_place_too_deep(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, deeds(g, n, "down")))
    word = f"G53 G0 Z-{rng.uniform(66, 90):.2f}"
    return plant(insert(g, n, at, word), ["work zero", "rapid", "reach", "pad", "bed"], n, [at, at + 1])


def relative_by_slip(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, [i for i in deeds(g, n, "approach", "step", "pass", "edge", "ring", "wall")]))
    return plant(insert(g, n, at, "G91"), SHAPE, n, range(at + 1, len(g.lines(n)) + 1))


def other_plane(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, arcs(g, n, range(1, len(g.lines(n)) + 1))))
    word = pick(rng, ("G18", "G19"))
    return plant(insert(g, n, at, str(word)), ["reading"], n, range(at + 1, len(g.lines(n)) + 1))


def stray_letters(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = int(pick(rng, feeds(g, n)))
    word = pick(rng, (" %", " @", " Q%", " X", "É", " #", " A90", " G41 D1", " M98 P1000", " G7", " M17"))
    return plant(edit(g, n, at, lambda t: t + str(word)), ["reading"], n, [at])


def word_twice(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, [i for i in feeds(g, n) if "X" in g.lines(n)[i - 1]]))
    return plant(edit(g, n, at, lambda t: t + " X50"), ["reading"], n, [at])


def letter_for_nought(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    able = [i for i in feeds(g, n) if "0" in g.lines(n)[i - 1][3:]]
    at = int(pick(rng, able))
    return plant(edit(g, n, at, lambda t: t[:3] + t[3:].replace("0", "O", 1)), ["reading"], n, [at])


def comment_left_open(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = int(pick(rng, feeds(g, n)))
    return plant(edit(g, n, at, lambda t: "(" + t), ["reading"], n, [at])


# --- places and paths -----------------------------------------------------------------------------------


def beyond_the_reach(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, deeds(g, n, "approach")))
    by = rng.uniform(0.01, 50)
    word = pick(rng, (f"G0 X{200 + by:.3f}", f"G0 Y{150 + by:.3f}", f"G0 X-{by:.3f}", f"G0 Y-{by:.3f}"))
    return plant(insert(g, n, at, str(word)), ["reach"], n, [at])


def above_the_travel(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc", "edges.nc"))
    at = int(pick(rng, deeds(g, n, "approach")))
    return plant(insert(g, n, at, f"G0 Z{rng.uniform(64.1, 90):.3f}"), ["reach"], n, [at])


def retract_too_low_for_the_clamp(g: Good, rng: Draw) -> Planted:
    at = g.of("pockets.nc", RECTANGLES[0], "retract")[0]
    done = edit(g, "pockets.nc", at, lambda t: f"G0 Z{rng.uniform(6.1, 11.9):.3f}")
    return plant(done, ["clamp"], "pockets.nc", [at + 1])


def clearance_lowered(g: Good, rng: Draw) -> Planted:
    n, feature = pick(
        rng, (("pockets.nc", RECTANGLES[1]), ("holes.nc", "rail/1"), ("pockets.nc", RECTANGLES[0]))
    )  # type: ignore[misc]
    at = g.of(n, feature, "retract")[0]
    done = edit(g, n, at, lambda t: f"G0 Z{rng.uniform(0.3, 5.8):.3f}")
    return plant(done, ["clearance height", "clamp"], n, [at + 1], caution=True)


def retract_into_the_metal(g: Good, rng: Draw) -> Planted:
    n, feature = pick(
        rng, (("pockets.nc", RECTANGLES[1]), ("holes.nc", "rail/1"), ("edges.nc", RECTANGLES[0]))
    )  # type: ignore[misc]
    at = g.of(n, feature, "retract")[0]
    done = edit(g, n, at, lambda t: f"G0 Z-{rng.uniform(0.1, 0.9):.3f}")
    return plant(done, ["rapid"], n, [at + 1])


def retract_left_out(g: Good, rng: Draw) -> Planted:
    n, feature = pick(
        rng, (("pockets.nc", RECTANGLES[0]), ("holes.nc", "rail/1"), ("edges.nc", RECTANGLES[0]))
    )  # type: ignore[misc]
    at = g.of(n, feature, "retract")[0]
    return plant(drop(g, n, [at]), ["rapid", "clamp"], n, [at])


def rapid_for_feed(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "pass")))
    done = edit(g, "pockets.nc", at, lambda t: t.replace("G1", "G0", 1))
    return plant(done, ["rapid"], "pockets.nc", [at], own(g, "pockets.nc", at)[:1])


def rapid_down_into_metal(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ("pockets.nc", "holes.nc"))
    at = int(pick(rng, deeds(g, n, "down")))
    done = edit(g, n, at, lambda t: f"G0 Z-{rng.uniform(0.05, 1.5):.3f}")
    return plant(done, ["rapid"], n, [at], own(g, n, at)[:1])


def ramp_made_a_plunge(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "feed down", features=RECTANGLES)))
    done = edit(g, "pockets.nc", at, lambda t: t.replace("Z0.2000", f"Z-{rng.uniform(0.1, 0.9):.3f}"))
    again = value(g.lines("pockets.nc")[at], "Z") == -small.DEPTH  # the second level meets an emptied corner
    if again:
        done = edit(g, "pockets.nc", at, lambda t: t.replace("Z0.2000", "Z-1.8000"))
    return plant(done, ["plunge"], "pockets.nc", [at], own(g, "pockets.nc", at)[:1])


def deeper_by_a_little(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, (*RECTANGLES, "round/1")))
    at = g.of("pockets.nc", feature, "last ramp" if feature in RECTANGLES else "helix")[-1]
    by = rng.uniform(0.03, 0.3)
    done = edit(g, "pockets.nc", at, lambda t: add(t, "Z", -by))
    return plant(done, ["skin"], "pockets.nc", range(at, g.of("pockets.nc", feature)[-1] + 1), [feature])


def shallower_by_a_little(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, (*RECTANGLES, "round/1")))
    at = g.of("pockets.nc", feature, "last ramp" if feature in RECTANGLES else "helix")[-1]
    by = rng.uniform(0.03, 0.3)
    done = edit(g, "pockets.nc", at, lambda t: add(t, "Z", by))
    return plant(done, ["skin"], "pockets.nc", g.of("pockets.nc", feature), [feature])


def depth_sign_lost(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "last ramp")))
    feature, lines = own(g, "pockets.nc", at)
    done = edit(g, "pockets.nc", at, lambda t: t.replace("Z-", "Z"))
    return plant(done, ["skin"], "pockets.nc", lines, [feature])


def depth_point_slipped(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "last ramp", "ramp")))
    feature, lines = own(g, "pockets.nc", at)
    done = edit(g, "pockets.nc", at, lambda t: re.sub(r"Z-(\d)\.(\d)", r"Z-\1\2.", t))
    return plant(done, ["skin", "gouge", "depth of cut"], "pockets.nc", lines, [feature])


def hole_not_through(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("holes.nc", "drill.nc")))
    old = THROUGH if n == "holes.nc" else PECK
    new = rng.uniform(2.5, 2.9) if n == "holes.nc" else rng.uniform(3.2, 3.8)
    done = g.put(n, [t.replace(f"Z-{old:.4f}", f"Z-{new:.4f}") for t in g.lines(n)])
    if n == "holes.nc":
        lines = [re.sub(r"Z-(3\.[0-9]+|2\.95\d*)", f"Z-{new:.4f}", t) for t in done.lines(n)]
        done = done.put(n, lines)
    features = ("rail/1", WINDOW[0]) if n == "holes.nc" else [d[0] for d in DRILLED]
    return plant(done, ["hole depth", "floor", "wall", "hole size"], n, feeds(g, n), features)


def far_wall_hit(g: Good, rng: Draw) -> Planted:
    done = edit(g, "drill.nc", 6, lambda t: t.replace(f"Z-{PECK:.4f}", f"Z-{rng.uniform(27.3, 29):.3f}"))
    return plant(done, ["gouge"], "drill.nc", [6, 7], [d[0] for d in DRILLED])


def one_feature_off(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ALL))
    feature = str(pick(rng, sorted({f for f, _ in g.where[n] if f})))
    by, axis = float(rng.uniform(0.1, 0.8) * rng.choice([-1, 1])), str(pick(rng, "XY"))
    lines = g.lines(n)
    mine = g.of(n, feature)
    for i in mine:
        lines[i - 1] = add(lines[i - 1], axis, by)
    return plant(g.put(n, lines), SHAPE, n, mine, [feature])


def whole_program_off(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ALL))
    by, axis = float(rng.uniform(0.1, 1.0) * rng.choice([-1, 1])), str(pick(rng, "XY"))
    done = g.put(n, [add(t, axis, by) for t in g.lines(n)])
    return plant(done, SHAPE, n, range(1, len(g.lines(n)) + 1), {f for f, _ in g.where[n] if f})


def scaled(g: Good, rng: Draw) -> Planted:
    n, by = str(pick(rng, ALL)), float(rng.choice([0.99, 1.01, 1.0254, 0.98]))
    lines = [re.sub(r"([XYIJ])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) * by:.4f}", t) for t in g.lines(n)]
    return plant(g.put(n, lines), SHAPE, n, range(1, len(lines) + 1), None)


def _lap_again(g: Good, rng: Draw, inset: float) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    old = g.of("pockets.nc", feature, "last wall")
    pen = Pen(1, 540)
    pen.at = on_bed(small.POCKETS[feature] - 9.6, 7.6)
    count = len(pen.lines)
    pen.lap(small.POCKETS[feature], 0, inset)
    lines = g.lines("pockets.nc")
    lines[old[0] - 1 : old[-1]] = pen.lines[count:]
    return plant(g.put("pockets.nc", lines), ["wall"], "pockets.nc", g.of("pockets.nc", feature), [feature])


def wall_gouged_by_the_lap(g: Good, rng: Draw) -> Planted:
    return _lap_again(g, rng, 2.0 - rng.uniform(0.035, 0.3))


def sliver_left_by_the_lap(g: Good, rng: Draw) -> Planted:
    return _lap_again(g, rng, 2.0 + rng.uniform(0.035, 0.3))


def dab_into_the_wall(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    at = g.of("pockets.nc", feature, "off the wall")[-1]
    x, along = small.POCKETS[feature] + small.HALF_X, rng.uniform(-6, 6)
    by = rng.uniform(0.035, 0.5)
    points = [on_bed(x - 2, along), on_bed(x - 2 + by, along), on_bed(x - 2, along)]
    done = insert(g, "pockets.nc", at, *(f"G1 X{p[0]:.4f} Y{p[1]:.4f} F540" for p in points))
    return plant(done, ["wall", "gouge"], "pockets.nc", range(at, at + 4), [feature])


def line_left_out_of_a_lap(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "edges.nc")))
    at = int(pick(rng, deeds(g, n, "last wall", "edge", features=RECTANGLES)))
    feature, lines = own(g, n, at)
    return plant(drop(g, n, [at]), SHAPE, n, lines, [feature])


def line_made_a_comment(g: Good, rng: Draw) -> Planted:
    at = int(pick(rng, deeds(g, "pockets.nc", "last wall", features=RECTANGLES)))
    feature, lines = own(g, "pockets.nc", at)
    return plant(edit(g, "pockets.nc", at, lambda t: f"({t})"), SHAPE, "pockets.nc", lines, [feature])


def lines_swapped(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "edges.nc")))
    able = deeds(g, n, "last wall", "edge", features=RECTANGLES)
    at = int(pick(rng, [i for i in able[:-1] if i + 1 in able]))
    feature, mine = own(g, n, at)
    lines = g.lines(n)
    lines[at - 1], lines[at] = lines[at], lines[at - 1]
    return plant(g.put(n, lines), SHAPE, n, mine, [feature])


def pass_left_out(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    at = g.of("pockets.nc", feature, "last pass")[int(rng.integers(1, 6))]
    done = drop(g, "pockets.nc", [at - 1, at])
    return plant(done, ["skin"], "pockets.nc", g.of("pockets.nc", feature), [feature])


def ring_left_out(g: Good, rng: Draw) -> Planted:
    n, feature = pick(rng, (("pockets.nc", "round/1"), ("holes.nc", WINDOW[0])))  # type: ignore[misc]
    mine = g.of(n, feature, "last wall")
    return plant(drop(g, n, mine), SHAPE, n, g.of(n, feature), [feature])


def arc_the_other_way(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc", "edges.nc")))
    able = [i for i in deeds(g, n, "last wall", "edge") if g.where[n][i - 1][0] != "rail/1"]
    at = int(pick(rng, arcs(g, n, able)))
    feature, _ = own(g, n, at)
    lines = g.of(n, feature)
    return plant(edit(g, n, at, lambda t: t.replace("G3", "G2", 1)), SHAPE, n, lines, [feature])


def arc_centre_moved(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc", "edges.nc")))
    at = int(pick(rng, arcs(g, n, range(1, len(g.lines(n)) + 1))))
    feature, lines = own(g, n, at)
    by = float(rng.uniform(0.1, 2) * rng.choice([-1, 1]))
    axis = str(pick(rng, "IJ"))
    return plant(edit(g, n, at, lambda t: add(t, axis, by)), {*SHAPE, "reading"}, n, lines, [feature])


def arc_centre_sign(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc", "edges.nc")))
    axis = str(pick(rng, "IJ"))
    able = [
        i for i in arcs(g, n, range(1, len(g.lines(n)) + 1)) if abs(value(g.lines(n)[i - 1], axis) or 0) > 0.1
    ]
    at = int(pick(rng, able))
    turned = -(value(g.lines(n)[at - 1], axis) or 0)
    done = edit(g, n, at, lambda t: re.sub(rf"{axis}-?[\d.]+", f"{axis}{turned:.4f}", t))
    return plant(done, {*SHAPE, "reading"}, n, own(g, n, at)[1], own(g, n, at)[:1])


def arc_by_another_radius(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc")))
    able = [i for i in deeds(g, n, "last wall") if g.where[n][i - 1][0] != "rail/1"]
    at = int(pick(rng, arcs(g, n, able)))
    text = g.lines(n)[at - 1]
    radius = math.hypot(value(text, "I") or 0, value(text, "J") or 0) * rng.uniform(2.0, 3.0)
    done = edit(g, n, at, lambda t: re.sub(r"I-?[\d.]+ J-?[\d.]+", f"R{radius:.4f}", t))
    return plant(done, SHAPE, n, own(g, n, at)[1], own(g, n, at)[:1])


def sign_lost_or_put(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc", "edges.nc")))
    axis = str(pick(rng, "XY"))
    at = int(pick(rng, [i for i in feeds(g, n) if axis in g.lines(n)[i - 1]]))
    return plant(edit(g, n, at, lambda t: t.replace(axis, axis + "-", 1)), ["reach", "reading"], n, [at])


def point_slipped(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc", "edges.nc")))
    axis = str(pick(rng, "XY"))
    at = int(pick(rng, [i for i in feeds(g, n) if axis in g.lines(n)[i - 1]]))
    by = float(rng.choice([0.1, 10]))
    done = edit(g, n, at, lambda t: re.sub(rf"{axis}([\d.]+)", lambda m: f"{axis}{float(m[1]) * by:.4f}", t))
    return plant(done, SHAPE, n, [at, at + 1])


def digits_swapped(g: Good, rng: Draw) -> Planted:
    able = []
    for i in deeds(g, "pockets.nc", "last pass", "last wall", features=RECTANGLES):
        hit = re.search(r"X(\d)(\d)\.", g.lines("pockets.nc")[i - 1])
        if hit and hit[1] != hit[2]:
            able.append(i)
    at = int(pick(rng, able))
    done = edit(g, "pockets.nc", at, lambda t: re.sub(r"X(\d)(\d)\.", r"X\2\1.", t))
    return plant(done, SHAPE, "pockets.nc", own(g, "pockets.nc", at)[1])


def one_point_out(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "edges.nc")))
    at = int(pick(rng, deeds(g, n, "last wall", "edge", features=RECTANGLES)))
    by, axis = float(rng.uniform(0.3, 5) * rng.choice([-1, 1])), str(pick(rng, "XY"))
    done = edit(g, n, at, lambda t: add(t, axis, by))
    return plant(done, SHAPE, n, own(g, n, at)[1], own(g, n, at)[:1])


def stray_cut(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    at = g.of("pockets.nc", feature, "off the wall")[-1]
    end = on_bed(
        small.POCKETS[feature] + rng.uniform(-8, 8), float(rng.choice([-1, 1])) * rng.uniform(10, 14)
    )
    done = insert(g, "pockets.nc", at, f"G1 X{end[0]:.4f} Y{end[1]:.4f} F540")
    return plant(done, ["gouge", "wall"], "pockets.nc", [at, at + 1], [feature])


def hole_twice(g: Good, rng: Draw) -> Planted:
    at = on_bed(rng.uniform(147.5, 155.5), rng.uniform(8, 14))
    done = insert(g, "drill.nc", 8, f"X{at[0]:.4f} Y{at[1]:.4f}")
    return plant(done, ["gouge"], "drill.nc", [8])


def cycle_starts_in_the_metal(g: Good, rng: Draw) -> Planted:
    done = edit(g, "drill.nc", 6, lambda t: t.replace("R2.0000", f"R-{rng.uniform(0.2, 2.5):.3f}"))
    return plant(done, ["rapid"], "drill.nc", [6], [DRILLED[0][0]])


def cycle_without_its_peck(g: Good, rng: Draw) -> Planted:
    word = str(pick(rng, (" Q1.5", " R2.0000", f" Z-{PECK:.4f}")))
    return plant(edit(g, "drill.nc", 6, lambda t: t.replace(word, "")), ["reading"], "drill.nc", [6])


def feature_skipped(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ALL[:3]))
    feature = str(pick(rng, sorted({f for f, _ in g.where[n] if f})))
    gone = g.of(n, feature)
    if n == "drill.nc" and feature == DRILLED[0][0]:
        feature = DRILLED[1][0]
        gone = g.of(n, feature)
    return plant(drop(g, n, gone), ["not cut", "skin", "floor"], n, None, [feature])


def program_forgotten(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ALL))
    done = replace(g, programs=tuple(p for p in g.programs if p[0] != n))
    checks = ["not cut", "skin", "floor", "edge break"]
    return plant(done, checks, n, None, {f for f, _ in g.where[n] if f})


def edge_forgotten(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    return plant(drop(g, "edges.nc", g.of("edges.nc", feature)), ["edge break"], "edges.nc", None, [feature])


def edge_off_its_width(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    at = g.of("edges.nc", feature, "feed down")[0]
    by = float(rng.uniform(0.12, 0.3) * rng.choice([-1, 1]))
    done = edit(g, "edges.nc", at, lambda t: add(t, "Z", by))
    return plant(done, ["edge break"], "edges.nc", g.of("edges.nc", feature), [feature])


def into_a_pad(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc")))
    at = int(pick(rng, deeds(g, n, "approach")))
    x, y = on_bed(float(rng.choice([10, 105])) + rng.uniform(-8, 8), rng.uniform(24, 36))
    done = insert(g, n, at, f"G0 X{x:.3f} Y{y:.3f}", f"G1 Z-{rng.uniform(26.2, 40):.3f} F300", "G0 Z20")
    return plant(done, ["pad"], n, [at + 1])


def into_the_bed(g: Good, rng: Draw) -> Planted:
    n = str(pick(rng, ("pockets.nc", "holes.nc")))
    at = int(pick(rng, deeds(g, n, "approach")))
    done = insert(g, n, at, "G0 X10 Y120", f"G1 Z-{rng.uniform(44.05, 55):.3f} F300", "G0 Z20")
    return plant(done, ["bed"], n, [at + 1])


def clamp_in_the_way(g: Good, rng: Draw) -> Planted:
    feature = str(pick(rng, RECTANGLES))
    x = small.POCKETS[feature] + rng.uniform(-9, 9)
    clamp = Clamp("clamp 9", box(x - 4, -25, x + 4, 25), 12.0, (x, 0.0), 800, 2.0, "M6")
    done = replace(g, setup=replace(g.setup, clamps=(*g.setup.clamps, clamp)))
    return plant(done, ["clamp"], "pockets.nc", g.of("pockets.nc", feature), [feature])


def cutter_set_too_short(g: Good, rng: Draw) -> Planted:
    """Flutes and stick-out of T1 shorter than the pockets are deep: shank or holder in the metal."""
    short = g.job.cutters[0].model_copy(update={"flute_length": 1.2, "stick_out": rng.uniform(1.3, 1.7)})
    bed = g.job.bed.model_copy(update={"nose_height": 100})
    job = g.job.model_copy(update={"cutters": (short, *g.job.cutters[1:]), "bed": bed})
    return plant(
        replace(g, job=job),
        ["holder", "shank"],
        "pockets.nc",
        feeds(g, "pockets.nc"),
        [*RECTANGLES, "round/1"],
    )


def slug_cut_free(g: Good, rng: Draw) -> Planted:
    """The window outlined and not cleared: its middle drops."""
    name, x, s, radius = WINDOW
    mine = g.of("holes.nc", name)
    pen = Pen(2, 300)
    pen.at = on_bed(x, s)
    pen.level = 0.1
    r = radius - 1.5
    pen.line(x + r, s)
    count = len(pen.lines) - 1
    while pen.level > -THROUGH:
        pen.turn(x, s, r, max(pen.level - 0.3, -THROUGH))
    pen.turn(x, s, r)
    pen.rapid_z(20)
    lines = g.lines("holes.nc")
    new = pen.lines[count:]
    lines[mine[0] + 2 : mine[-1]] = new
    return plant(
        g.put("holes.nc", lines), ["loose piece"], "holes.nc", range(mine[0], mine[0] + 3 + len(new)), [name]
    )


def turned_end_for_end(g: Good, rng: Draw) -> Planted:
    """The whole side's programs as for a member lying the other way round."""
    del rng

    def place(m: re.Match[str]) -> str:
        x, s = small.POSE.to_face(np.array([[float(m[1]), float(m[2])]]))[0]
        bx, by = on_bed(LENGTH - x, -s)
        return f"X{bx:.4f} Y{by:.4f}"

    done = g
    for n in ALL:
        lines = [re.sub(r"X(-?[\d.]+) Y(-?[\d.]+)", place, t) for t in g.lines(n)]
        lines = [
            re.sub(r"I(-?[\d.]+) J(-?[\d.]+)", lambda m: f"I{-float(m[1]):.4f} J{-float(m[2]):.4f}", t)
            for t in lines
        ]
        done = done.put(n, lines)
    return Planted(done, frozenset({"wrong side"}), {n: frozenset(range(1, 200)) for n in ALL})


def program_of_the_other_side(g: Good, rng: Draw) -> Planted:
    """A program that cuts the opposite side's pocket, run with this side's or in their place."""
    _, x, s, *_ = BACK
    pen = Pen(1, 540)
    pen.rapid(x - 4, s - 3)
    pen.rapid_z(14)
    pen.plunge(0.2, 400)
    for i in range(3):
        pen.line(x - 4, s + 3, -0.6 * (i + 1))
        for across in (3.0, 1.0, -1.0, -3.0):
            pen.line(x - 6, s + across)
            pen.line(x + 6, s + across)
        pen.line(x - 4, s - 3)
    pen.rapid_z(20)
    text = pen.text()
    alone = bool(rng.integers(2))
    programs = (("back.nc", text),) if alone else (*g.programs, ("back.nc", text))
    return plant(replace(g, programs=programs), ["wrong side"], "back.nc", range(1, 99))


KINDS: tuple[Callable[[Good, Draw], Planted], ...] = (
    inches_for_millimetres, units_left_out, spindle_never_started, spindle_stopped_half_way, spindle_backward,
    spindle_too_fast, spindle_too_slow, speed_halved, cutter_changed_and_spindle_left_off, cutter_changed_low,
    feed_never_set, feed_ten_times, feed_three_times_in_the_full_cut, feed_past_the_axis, feed_taken_as_time,
    another_cutter, cutter_unknown, cutter_not_named, length_of_another_cutter, length_left_out, length_taken_off,
    no_end, cut_off_half_way, ended_low, sideways_before_up, down_first, another_zero, zero_moved_by_g92,
    zero_moved_by_g10, home_from_below, machine_place_too_deep, relative_by_slip, other_plane, stray_letters,
    word_twice, letter_for_nought, comment_left_open, beyond_the_reach, above_the_travel,
    retract_too_low_for_the_clamp, clearance_lowered, retract_into_the_metal, retract_left_out, rapid_for_feed,
    rapid_down_into_metal, ramp_made_a_plunge, deeper_by_a_little, shallower_by_a_little, depth_sign_lost,
    depth_point_slipped, hole_not_through, far_wall_hit, one_feature_off, whole_program_off, scaled,
    wall_gouged_by_the_lap, sliver_left_by_the_lap, dab_into_the_wall, line_left_out_of_a_lap, line_made_a_comment,
    lines_swapped, pass_left_out, ring_left_out, arc_the_other_way, arc_centre_moved, arc_centre_sign,
    arc_by_another_radius, sign_lost_or_put, point_slipped, digits_swapped, one_point_out, stray_cut, hole_twice,
    cycle_starts_in_the_metal, cycle_without_its_peck, feature_skipped, program_forgotten, edge_forgotten,
    edge_off_its_width, into_a_pad, into_the_bed, clamp_in_the_way, cutter_set_too_short, slug_cut_free,
    turned_end_for_end, program_of_the_other_side,
)  # fmt: skip
