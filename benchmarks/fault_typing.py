"""Kinds of fault of the pen: letters, signs, points, digits, lines twice or in the wrong order. See fault_plant.py."""

from __future__ import annotations

import math
import re

from fault_job import ALL, EDGES, HOLES, POCKETS, Good
from fault_plant import (
    FORM,
    HITS,
    Draw,
    Kind,
    Planted,
    add,
    along,
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
    round_walls,
    spoilt,
    value,
    want,
)  # fmt: skip

MILLED = (POCKETS, HOLES, EDGES)


def _stray(g: Good, done: Good, n: str, at: int) -> Planted:
    """One motion gone astray: what it hits, or that it cannot be read; told at it or at the motion back."""
    place = spoilt(g, done, n)
    return Planted(
        done, (want(FORM | HITS, n, [at, at + 1], place=place), want(["reading"], n, [at, at + 1]))
    )


def _in_feature(g: Good, done: Good, n: str, at: int) -> Planted:
    """One motion of a feature changed: that feature has it, at the place, by one of its lines; or it cannot be read."""
    feature, place = own(g, n, at), spoilt(g, done, n)
    lines = range(g.of(n, feature)[0], g.of(n, feature)[-1] + 2)
    return Planted(done, (want(FORM, n, lines, feature, place), want(["reading"], n, [at, at + 1])))


def stray_letters(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = pick(rng, feeds(g, n))
    word = pick(rng, (" %", " @", " Q%", " X", "É", " #", " A90", " G41 D1", " M98 P1000", " G7", " M17"))
    return plant(edit(g, n, at, lambda t: t + word), ["reading"], n, [at])


def word_twice(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, [i for i in feeds(g, n) if "X" in g.lines(n)[i - 1]])
    return plant(edit(g, n, at, lambda t: t + " X50"), ["reading"], n, [at])


def letter_for_nought(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, [i for i in feeds(g, n) if "0" in g.lines(n)[i - 1][3:]])
    return plant(edit(g, n, at, lambda t: t[:3] + t[3:].replace("0", "O", 1)), ["reading"], n, [at])


def comment_left_open(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = pick(rng, feeds(g, n))
    return plant(edit(g, n, at, lambda t: "(" + t), ["reading"], n, [at])


def comma_for_point(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    at = pick(rng, [i for i in feeds(g, n) if "." in g.lines(n)[i - 1]])
    every = bool(rng.integers(2))
    return plant(edit(g, n, at, lambda t: t.replace(".", ",", -1 if every else 1)), ["reading"], n, [at])


def sign_lost_or_put(g: Good, rng: Draw) -> Planted:
    n, axis = pick(rng, MILLED), pick(rng, "XY")
    at = pick(rng, [i for i in feeds(g, n) if axis in g.lines(n)[i - 1]])
    done = edit(g, n, at, lambda t: t.replace(axis, axis + "-", 1))
    return plant(done, ["reach", "reading"], n, [at])


def sign_of_a_retract(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "retract"))
    feature = own(g, n, at)
    done = edit(g, n, at, lambda t: t.replace("Z", "Z-"))
    there = want(["rapid", "pad", "bed", "reach", "gouge"], n, [at], feature, around(g, feature))
    if not g.where[n][at][0]:
        return Planted(done, (there,))
    on_the_way = want(["rapid", "clamp"], n, [at + 1], place=along(g, n, at + 1))  # to the next feature
    return Planted(done, (there, on_the_way))


def point_slipped(g: Good, rng: Draw) -> Planted:
    n, axis, by = pick(rng, MILLED), pick(rng, "XY"), float(rng.choice([0.1, 10]))
    at = pick(rng, [i for i in feeds(g, n) if axis in g.lines(n)[i - 1]])
    done = edit(g, n, at, lambda t: re.sub(rf"{axis}([\d.]+)", lambda m: f"{axis}{float(m[1]) * by:.4f}", t))
    return _stray(g, done, n, at)


def digits_swapped(g: Good, rng: Draw) -> Planted:
    able = []
    for i in deeds(g, POCKETS, "last pass", "last wall", features=g.layout.rect_names):
        hit = re.search(r"X\d*(\d)(\d)\.", g.lines(POCKETS)[i - 1])
        if hit and hit[1] != hit[2]:
            able.append(i)
    at = pick(rng, able)
    done = edit(g, POCKETS, at, lambda t: re.sub(r"X(\d*)(\d)(\d)\.", r"X\1\3\2.", t))
    wide = _stray(g, done, POCKETS, at)
    return Planted(done, (*wide.wanted, *_in_feature(g, done, POCKETS, at).wanted))


def digit_dropped(g: Good, rng: Draw) -> Planted:
    """A digit before the point: the motion ends 9 mm off and more."""
    n, axis = pick(rng, (POCKETS, EDGES)), pick(rng, "XY")
    able = [i for i in deeds(g, n, "pass", "last pass", "step", "last step", "edge", "last wall", "ring")]
    at = pick(rng, [i for i in able if re.search(rf"{axis}\d\d+\.", g.lines(n)[i - 1])])

    def change(text: str) -> str:
        hit = re.search(rf"{axis}(\d+)\.", text)
        assert hit is not None
        k = int(rng.integers(len(hit[1])))
        return text.replace(hit[0], f"{axis}{hit[1][:k]}{hit[1][k + 1 :]}.", 1)

    return _stray(g, edit(g, n, at, change), n, at)


def one_point_out(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, EDGES))
    at = pick(rng, deeds(g, n, "last wall", "edge", features=g.layout.rect_names))
    by, axis = float(rng.uniform(0.3, 5) * rng.choice([-1, 1])), pick(rng, "XY")
    return _in_feature(g, edit(g, n, at, lambda t: add(t, axis, by)), n, at)


def line_made_a_comment(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "last wall", features=g.layout.rect_names))
    return _in_feature(g, edit(g, POCKETS, at, lambda t: f"({t})"), POCKETS, at)


def line_left_out_of_a_lap(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, EDGES))
    at = pick(rng, deeds(g, n, "last wall", "edge", features=g.layout.rect_names))
    return _in_feature(g, drop(g, n, [at]), n, at)


def lines_swapped(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, EDGES))
    able = deeds(g, n, "last wall", "edge", features=g.layout.rect_names)
    at = pick(rng, [i for i in able[:-1] if i + 1 in able])
    lines = g.lines(n)
    lines[at - 1], lines[at] = lines[at], lines[at - 1]
    done = g.put(n, lines)
    return Planted(done, (*_in_feature(g, done, n, at).wanted, want(["reading"], n, [at + 2])))


def approach_after_going_down(g: Good, rng: Draw) -> Planted:
    """Down at the last place, then sideways to the next one, low over the face."""
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach")[1:])
    lines = g.lines(n)
    lines[at - 1], lines[at] = lines[at], lines[at - 1]
    return plant(
        g.put(n, lines), ["clearance height", "clamp"], n, [at + 1], place=along(g, n, at), caution=True
    )


def arc_twice(g: Good, rng: Draw) -> Planted:
    """Run again from its own end an arc is a full circle about another centre."""
    n = pick(rng, [n for n in MILLED if round_walls(g, n)])
    at = pick(rng, round_walls(g, n))
    done = insert(g, n, at, g.lines(n)[at - 1])
    return plant(done, FORM | HITS, n, [at + 1], place=spoilt(g, done, n))


def arc_the_other_way(g: Good, rng: Draw) -> Planted:
    n = pick(rng, [n for n in MILLED if round_walls(g, n)])
    at = pick(rng, round_walls(g, n))
    other = {"G2": "G3", "G3": "G2"}
    done = edit(g, n, at, lambda t: re.sub(r"^G[23]", lambda m: other[m[0]], t))
    return _in_feature(g, done, n, at)


def arc_centre_moved(g: Good, rng: Draw) -> Planted:
    n, axis = pick(rng, MILLED), pick(rng, "IJ")
    at = pick(rng, arcs(g, n))
    by = float(rng.uniform(0.1, 2) * rng.choice([-1, 1]))
    return _in_feature(g, edit(g, n, at, lambda t: add(t, axis, by)), n, at)


def arc_centre_sign(g: Good, rng: Draw) -> Planted:
    n, axis = pick(rng, MILLED), pick(rng, "IJ")
    at = pick(rng, [i for i in arcs(g, n) if abs(value(g.lines(n)[i - 1], axis) or 0) > 0.1])
    turned = -(value(g.lines(n)[at - 1], axis) or 0)
    done = edit(g, n, at, lambda t: re.sub(rf"{axis}-?[\d.]+", f"{axis}{turned:.4f}", t))
    return _in_feature(g, done, n, at)


def arc_centre_in_inches(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, arcs(g, n))
    done = edit(
        g, n, at, lambda t: re.sub(r"([IJ])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) / 25.4:.4f}", t)
    )
    return plant(done, ["reading"], n, [at])


def arc_centre_absolute(g: Good, rng: Draw) -> Planted:
    """I and J as the centre's place, not as the way to it."""
    n = pick(rng, MILLED)
    at = pick(rng, arcs(g, n))
    before = [value(t, "X") for t in g.lines(n)[: at - 1]], [value(t, "Y") for t in g.lines(n)[: at - 1]]
    x, y = (next(v for v in reversed(found) if v is not None) for found in before)
    done = edit(g, n, at, lambda t: add(add(t, "I", x), "J", y))
    return plant(done, ["reading"], n, [at])


def arc_by_another_radius(g: Good, rng: Draw) -> Planted:
    n = pick(rng, [n for n in (POCKETS, HOLES) if round_walls(g, n)])
    at = pick(rng, round_walls(g, n))
    text = g.lines(n)[at - 1]
    radius = math.hypot(value(text, "I") or 0, value(text, "J") or 0) * rng.uniform(2.0, 3.0)
    done = edit(g, n, at, lambda t: re.sub(r"I-?[\d.]+ J-?[\d.]+", f"R{radius:.4f}", t))
    return _in_feature(g, done, n, at)


TYPING: tuple[Kind, ...] = (
    stray_letters, word_twice, letter_for_nought, comment_left_open, comma_for_point, sign_lost_or_put,
    sign_of_a_retract, point_slipped, digits_swapped, digit_dropped, one_point_out, line_made_a_comment,
    line_left_out_of_a_lap, lines_swapped, approach_after_going_down, arc_twice, arc_the_other_way,
    arc_centre_moved, arc_centre_sign, arc_centre_in_inches, arc_centre_absolute, arc_by_another_radius,
)  # fmt: skip
