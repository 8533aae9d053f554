"""Kinds of fault in where the cutter goes: heights, depths, walls, passes and features left out. See fault_plant.py."""

from __future__ import annotations

import re

import shapely
from fault_job import ALL, DRILL, EDGES, HOLES, POCKETS, Good, Pen, bore
from fault_plant import (
    FORM,
    Draw,
    Kind,
    Planted,
    add,
    along,
    around,
    deeds,
    drop,
    edit,
    insert,
    own,
    pick,
    plant,
    plant_in,
    spoilt,
    value,
    want,
)  # fmt: skip

MILLED = (POCKETS, HOLES, EDGES)


def _first_and_second(g: Good) -> tuple[str, str, str]:
    return (*g.layout.rect_names, g.layout.bore.name)


# --- over the face --------------------------------------------------------------------------------------


def beyond_the_reach(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at, by = pick(rng, deeds(g, n, "approach")), rng.uniform(0.01, 50)
    x, y, _ = g.job.bed.reach
    word = pick(rng, (f"G0 X{x + by:.3f}", f"G0 Y{y + by:.3f}", f"G0 X-{by:.3f}", f"G0 Y-{by:.3f}"))
    return plant(insert(g, n, at, word), ["reach"], n, [at])


def above_the_travel(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    top = g.job.bed.nose_height - g.setup.face_height - g.cutter(n).stick_out
    return plant(insert(g, n, at, f"G0 Z{top + rng.uniform(0.1, 25):.3f}"), ["reach"], n, [at])


def _retract(g: Good, n: str, feature: str, z: float) -> tuple[Good, int]:
    at = g.of(n, feature, "retract")[0]
    return edit(g, n, at, lambda t: f"G0 Z{z:.3f}"), at


def retract_too_low_for_the_clamp(g: Good, rng: Draw) -> Planted:
    clamp = g.setup.clamps[0]
    done, at = _retract(g, POCKETS, g.layout.rect_names[0], rng.uniform(6.1, clamp.top - 0.1))
    return plant(done, ["clamp"], POCKETS, [at + 1], place=clamp.footprint.buffer(g.cutter(POCKETS).holder))


def clearance_lowered(g: Good, rng: Draw) -> Planted:
    first, second, bored = _first_and_second(g)
    n, feature = pick(rng, ((POCKETS, second), (HOLES, bored), (POCKETS, first)))
    done, at = _retract(g, n, feature, rng.uniform(0.3, 5.8))
    place = along(g, n, at + 1)
    return plant(done, ["clearance height", "clamp"], n, [at + 1], place=place, caution=True)


def retract_into_the_metal(g: Good, rng: Draw) -> Planted:
    first, second, bored = _first_and_second(g)
    n, feature = pick(rng, ((POCKETS, second), (HOLES, bored), (EDGES, first)))
    done, at = _retract(g, n, feature, -rng.uniform(0.1, 0.9))
    return plant(done, ["rapid"], n, [at + 1], place=along(g, n, at + 1))


def retract_left_out(g: Good, rng: Draw) -> Planted:
    first, _, bored = _first_and_second(g)
    n, feature = pick(rng, ((POCKETS, first), (HOLES, bored), (EDGES, first)))
    at = g.of(n, feature, "retract")[0]
    return plant(drop(g, n, [at]), ["rapid", "clamp"], n, [at], place=along(g, n, at + 1))


def rapid_for_feed(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "pass"))
    done = edit(g, POCKETS, at, lambda t: t.replace("G1", "G0", 1))
    return plant(
        done, ["rapid"], POCKETS, [at], own(g, POCKETS, at), spoilt(g, drop(g, POCKETS, [at]), POCKETS)
    )


def rapid_down_into_metal(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, HOLES))
    at = pick(rng, deeds(g, n, "down"))
    feature = own(g, n, at)
    done = edit(g, n, at, lambda t: f"G0 Z-{rng.uniform(0.05, 1.5):.3f}")
    return plant(done, ["rapid"], n, [at], feature, around(g, feature))


# --- depths ---------------------------------------------------------------------------------------------


def ramp_made_a_plunge(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "feed down", features=g.layout.rect_names))
    level, feature = value(g.lines(POCKETS)[at], "Z"), own(g, POCKETS, at)
    done = edit(g, POCKETS, at, lambda t: re.sub(r"Z-?[\d.]+", f"Z{level:.4f}", t))
    return plant(done, ["plunge"], POCKETS, [at], feature, around(g, feature))


def _last_fall(g: Good, rng: Draw, by: float) -> tuple[Good, str, int]:
    """The move that reaches a floor, lowered or raised."""
    feature = pick(rng, (*g.layout.rect_names, g.layout.disc.name))
    deed = "last ramp" if feature in g.layout.rect_names else "helix"
    at = g.of(POCKETS, feature, deed)[-1]
    return edit(g, POCKETS, at, lambda t: add(t, "Z", by)), feature, at


def deeper_by_a_little(g: Good, rng: Draw) -> Planted:
    done, feature, at = _last_fall(g, rng, -rng.uniform(0.03, 0.3))
    return plant_in(g, done, ["skin"], POCKETS, range(at, 999), [feature])


def shallower_by_a_little(g: Good, rng: Draw) -> Planted:
    done, feature, at = _last_fall(g, rng, rng.uniform(0.03, 0.3))
    return plant_in(g, done, ["skin"], POCKETS, range(at, 999), [feature])


def depth_sign_lost(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "last ramp"))
    done = edit(g, POCKETS, at, lambda t: t.replace("Z-", "Z"))
    return plant_in(g, done, ["skin"], POCKETS, None, [own(g, POCKETS, at)])


def depth_point_slipped(g: Good, rng: Draw) -> Planted:
    at = pick(rng, deeds(g, POCKETS, "last ramp", "ramp"))
    done = edit(g, POCKETS, at, lambda t: re.sub(r"Z-(\d)\.(\d)", r"Z-\1\2.", t))
    return plant_in(
        g, done, ["skin", "gouge", "depth of cut"], POCKETS, range(at, 999), [own(g, POCKETS, at)]
    )


def too_deep_for_the_other_side(g: Good, rng: Draw) -> Planted | None:
    """A floor lowered over a pocket of the opposite side of solid stock: too little is left between the two."""
    if g.member.section.shape.interiors:
        return None
    feature = g.layout.rect_names[0]
    at, by = g.of(POCKETS, feature, "last ramp")[0], rng.uniform(0.06, 0.6)
    done = edit(g, POCKETS, at, lambda t: add(t, "Z", -by))
    return plant_in(g, done, ["between sides"], POCKETS, range(at, 999), [feature])


def hole_not_through(g: Good, rng: Draw) -> Planted:
    n, wall = pick(rng, (HOLES, DRILL)), g.layout.wall
    point = 0.9 if n == DRILL else 0.0  # a drill of 3 mm goes so much deeper before it is through
    new = wall + point - rng.uniform(0.1, 0.6)
    done = g.put(
        n, [re.sub(r"Z-[\d.]+", lambda m: f"Z{max(float(m[0][1:]), -new):.4f}", t) for t in g.lines(n)]
    )
    features = g.features(HOLES) if n == HOLES else [d.name for d in g.layout.drilled if d.depth > wall]
    return plant_in(g, done, ["hole depth", "floor", "wall", "hole size"], n, None, features)


def blind_hole_off_its_depth(g: Good, rng: Draw) -> Planted | None:
    blind = next((d for d in g.layout.drilled if d.depth < g.layout.wall), None)
    if blind is None:
        return None
    at = g.of(DRILL, blind.name)[0]
    # A blind hole's depth may be meant with the drill's point, 0.9 mm, or without.
    by = float(rng.uniform(0.95, 3) * rng.choice([-1, 1]))
    done = edit(g, DRILL, at, lambda t: add(t, "Z", by))
    return plant_in(g, done, ["hole depth"], DRILL, None, [blind.name])


def far_wall_hit(g: Good, rng: Draw) -> Planted | None:
    if not g.member.section.shape.interiors:
        return None
    done = edit(g, DRILL, 6, lambda t: re.sub(r"Z-[\d.]+", f"Z-{rng.uniform(27.3, 29):.3f}", t))
    return plant_in(g, done, ["gouge"], DRILL)


def helix_too_steep(g: Good, rng: Draw) -> Planted:
    """A round pocket's whole depth in half a turn, by a cutter that does not cut to its centre."""
    disc = g.layout.disc
    mine = g.of(POCKETS, disc.name, "helix")
    at = mine[0]
    done = edit(g, POCKETS, at, lambda t: re.sub(r"Z-?[\d.]+", f"Z-{disc.depth:.4f}", t))
    del rng
    return plant_in(g, done, ["plunge"], POCKETS, [at], [disc.name])


# --- places and walls -----------------------------------------------------------------------------------


def _shifted(g: Good, rng: Draw, n: str, features: list[str], most: float) -> Planted:
    by, axis = float(rng.uniform(0.1, most) * rng.choice([-1, 1])), pick(rng, "XY")
    mine = {i for f in features for i in g.of(n, f)}
    done = g.put(n, [add(t, axis, by) if i in mine else t for i, t in enumerate(g.lines(n), 1)])
    return plant_in(g, done, ["wall", "gouge", "hole place", "hole size", "edge break"], n, None, features)


def one_feature_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _shifted(g, rng, n, [pick(rng, g.features(n))], 0.8)


def whole_program_off(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    return _shifted(g, rng, n, g.features(n), 1.0)


def scaled(g: Good, rng: Draw) -> Planted:
    n, by = pick(rng, ALL), float(rng.choice([0.99, 1.01, 1.0254, 0.98]))
    lines = [re.sub(r"([XYIJ])(-?[\d.]+)", lambda m: f"{m[1]}{float(m[2]) * by:.4f}", t) for t in g.lines(n)]
    return plant_in(g, g.put(n, lines), FORM, n)


def _lap_again(g: Good, rng: Draw, by: float) -> Planted:
    rect = pick(rng, g.layout.rects)
    old = g.of(POCKETS, rect.name, "last wall")
    pen = Pen(g.layout, POCKETS)
    count = len(pen.lines)
    pen.lap_of(rect, g.cutter(POCKETS).diameter / 2 + by)
    lines = g.lines(POCKETS)
    lines[old[0] - 1 : old[-1]] = pen.lines[count:]
    guilty = old if by < 0 else None
    return plant_in(g, g.put(POCKETS, lines), ["wall"], POCKETS, guilty, [rect.name])


def wall_gouged_by_the_lap(g: Good, rng: Draw) -> Planted:
    return _lap_again(g, rng, -rng.uniform(0.035, 0.3))


def sliver_left_by_the_lap(g: Good, rng: Draw) -> Planted:
    return _lap_again(g, rng, rng.uniform(0.035, 0.3))


def bore_off_its_size(g: Good, rng: Draw) -> Planted:
    hole = g.layout.bore
    by = float(rng.uniform(0.05, 0.3) * rng.choice([-1, 1]))
    pen = Pen(g.layout, HOLES)
    count = len(pen.lines)
    bore(pen, hole, (hole.radius - g.cutter(HOLES).diameter / 2 + by,))
    lines, old = g.lines(HOLES), g.of(HOLES, hole.name)
    lines[old[0] - 1 : old[-1]] = pen.lines[count:]
    return plant_in(g, g.put(HOLES, lines), ["hole size"], HOLES, None, [hole.name])


def dab_into_the_wall(g: Good, rng: Draw) -> Planted:
    rect, radius = pick(rng, g.layout.rects), g.cutter(POCKETS).diameter / 2
    at = g.of(POCKETS, rect.name, "off the wall")[-1]
    along = rect.s + rng.uniform(-0.6, 0.6) * rect.b
    wall, by = rect.x + rect.a - radius, rng.uniform(0.035, 0.5)
    points = [g.on_bed(wall + d, along) for d in (0.0, by, 0.0)]
    done = insert(g, POCKETS, at, *(f"G1 X{p[0]:.4f} Y{p[1]:.4f} F{g.layout.feeds[0]:g}" for p in points))
    place = shapely.Point(wall + radius, along).buffer(radius + 1)
    return plant(done, ["wall"], POCKETS, [at + 1, at + 2], rect.name, place)


def stray_cut(g: Good, rng: Draw) -> Planted:
    rect = pick(rng, g.layout.rects)
    at = g.of(POCKETS, rect.name, "off the wall")[-1]
    across = rect.s + float(rng.choice([-1, 1])) * (rect.b + rng.uniform(0, 4))
    end = g.on_bed(rect.x + rng.uniform(-0.6, 0.6) * rect.a, across)
    done = insert(g, POCKETS, at, f"G1 X{end[0]:.4f} Y{end[1]:.4f} F{g.layout.feeds[0]:g}")
    place = spoilt(g, done, POCKETS)
    return plant(done, ["gouge", "wall"], POCKETS, [at, at + 1], rect.name, place)


def hole_too_many(g: Good, rng: Draw) -> Planted:
    last = g.layout.drilled[-1]
    x, s = last.x - rng.uniform(5, 9), last.s + rng.uniform(-2, 2)
    at = g.on_bed(x, s)
    done = insert(g, DRILL, 8, f"X{at[0]:.4f} Y{at[1]:.4f}")
    return plant(done, ["gouge"], DRILL, [8], place=shapely.Point(x, s).buffer(last.radius + 0.5))


def edge_off_its_width(g: Good, rng: Draw) -> Planted:
    feature = pick(rng, g.layout.rect_names)
    at = g.of(EDGES, feature, "feed down")[0]
    by = float(rng.uniform(0.12, 0.3) * rng.choice([-1, 1]))
    return plant_in(
        g, edit(g, EDGES, at, lambda t: add(t, "Z", by)), ["edge break"], EDGES, range(at, 999), [feature]
    )


# --- left out -------------------------------------------------------------------------------------------


def pass_left_out(g: Good, rng: Draw) -> Planted:
    feature = pick(rng, g.layout.rect_names)
    at = pick(rng, g.of(POCKETS, feature, "last pass")[1:-1])
    done = drop(g, POCKETS, [at - 1, at])
    mine = want(["skin"], POCKETS, g.of(POCKETS, feature), feature, spoilt(g, done, POCKETS))
    return Planted(done, (mine,))


def ring_left_out(g: Good, rng: Draw) -> Planted:
    layout = g.layout
    able = [(POCKETS, layout.disc.name)] + ([] if layout.window.tab else [(HOLES, layout.window.name)])
    n, feature = pick(rng, able)
    done = drop(g, n, g.of(n, feature, "last wall"))
    return plant_in(g, done, ["wall", "skin", "floor"], n, None, [feature])


def feature_skipped(g: Good, rng: Draw) -> Planted:
    n = pick(rng, (POCKETS, HOLES, DRILL))
    feature = g.layout.drilled[1].name if n == DRILL else pick(rng, g.features(n))
    # The edge's program still goes round a rectangle: then its floor is too high.
    return _gone(
        g, drop(g, n, g.of(n, feature)), ["skin" if feature in g.layout.rect_names else "not cut"], [feature]
    )


def _gone(g: Good, done: Good, checks: list[str], features: list[str]) -> Planted:
    """What was left out has no guilty line: told of the feature."""
    return Planted(done, tuple(want(checks, "", None, f) for f in features))


def program_forgotten(g: Good, rng: Draw) -> Planted:
    n = pick(rng, ALL)
    left = Good(g.layout, g.job, g.member, g.setup, tuple(p for p in g.programs if p[0] != n), g.where)
    return _gone(
        g,
        left,
        ["edge break" if n == EDGES else "not cut"],
        [f for f in g.features(n) if n == EDGES or f not in g.layout.rect_names],
    )


def edge_forgotten(g: Good, rng: Draw) -> Planted:
    feature = pick(rng, g.layout.rect_names)
    return _gone(g, drop(g, EDGES, g.of(EDGES, feature)), ["edge break"], [feature])


def slug_cut_free(g: Good, rng: Draw) -> Planted | None:
    """The window outlined and not cleared: its middle drops."""
    del rng
    hole = g.layout.window
    if hole.tab:
        return None
    mine = g.of(HOLES, hole.name)
    pen = Pen(g.layout, HOLES)
    pen.at = g.on_bed(hole.x, hole.s)
    pen.level = 0.1
    count = len(pen.lines)
    r = hole.radius - g.cutter(HOLES).diameter / 2
    pen.line(hole.x + r, hole.s)
    while pen.level > -hole.depth:
        pen.turn(hole.x, hole.s, r, max(pen.level - 0.3, -hole.depth))
    pen.turn(hole.x, hole.s, r)
    pen.rapid_z(20)
    lines, new = g.lines(HOLES), pen.lines[count:]
    lines[mine[0] + 2 : mine[-1]] = new
    guilty = range(mine[0] + 3, mine[0] + 3 + len(new))
    return plant(g.put(HOLES, lines), ["loose piece"], HOLES, guilty, hole.name, around(g, hole.name))


def tabs_left_out(g: Good, rng: Draw) -> Planted | None:
    """The cutter does not rise over the tabs on the last lap: the window's middle drops."""
    del rng
    hole = g.layout.window
    if not hole.tab:
        return None
    deep = f"Z-{hole.depth:.4f}"
    lines = g.lines(HOLES)
    begin = next(i for i in g.of(HOLES, hole.name) if deep in lines[i - 1])
    done = drop(g, HOLES, [i for i in g.of(HOLES, hole.name, "tab") if i > begin])
    guilty = range(begin, g.of(HOLES, hole.name)[-1])
    return plant(done, ["loose piece"], HOLES, guilty, hole.name, around(g, hole.name))


def tabs_too_thin(g: Good, rng: Draw) -> Planted | None:
    hole, wall = g.layout.window, g.layout.wall
    if not hole.tab:
        return None
    top, low = f"Z-{wall - hole.tab:.4f}", f"Z-{wall - rng.uniform(0.02, 0.23):.4f}"
    mine = set(g.of(HOLES, hole.name, "tab"))
    lines = [t.replace(top, low) if i in mine else t for i, t in enumerate(g.lines(HOLES), 1)]
    return plant_in(g, g.put(HOLES, lines), ["tabs", "floor", "loose piece"], HOLES, None, [hole.name])


PATHS: tuple[Kind, ...] = (
    beyond_the_reach, above_the_travel, retract_too_low_for_the_clamp, clearance_lowered, retract_into_the_metal,
    retract_left_out, rapid_for_feed, rapid_down_into_metal, ramp_made_a_plunge, deeper_by_a_little,
    shallower_by_a_little, depth_sign_lost, depth_point_slipped, too_deep_for_the_other_side, hole_not_through,
    blind_hole_off_its_depth, far_wall_hit, helix_too_steep, one_feature_off, whole_program_off, scaled,
    wall_gouged_by_the_lap, sliver_left_by_the_lap, bore_off_its_size, dab_into_the_wall, stray_cut, hole_too_many,
    edge_off_its_width, pass_left_out, ring_left_out, feature_skipped, program_forgotten, edge_forgotten,
    slug_cut_free, tabs_left_out, tabs_too_thin,
)  # fmt: skip
