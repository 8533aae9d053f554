"""Kinds of fault round the programs: cutters, clamps, pads, bed, uprights, and programs of another side. See fault_plant.py."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import shapely
from fault_job import ALL, HOLES, POCKETS, Good, Pen
from fault_plant import Draw, Kind, Planted, deeds, feeds, insert, pick, plant, plant_in, want
from shapely.geometry import box

from sparwright.placing.model import Clamp

MILLED = (POCKETS, HOLES)


def _set_out(g: Good, name: str, **changes: float) -> Good:
    """A program's cutter changed, the nose as far over its tip as before."""
    by = changes.get("stick_out", g.cutter(name).stick_out) - g.cutter(name).stick_out
    return g.with_cutter(name, **changes).with_bed(
        nose_height=g.job.bed.nose_height + max(by, 0), reach=(*g.job.bed.reach[:2], g.job.bed.reach[2] + 60)
    )


def cutter_set_out_too_far(g: Good, rng: Draw) -> Planted:
    done = _set_out(g, POCKETS, stick_out=rng.uniform(55, 80))
    return plant_in(g, done, ["deflection"], POCKETS, feeds(g, POCKETS), caution=True)


def cutter_set_too_short(g: Good, rng: Draw) -> Planted:
    """Flutes and stick-out shorter than the pockets are deep: shank or holder in the metal."""
    least = min(*(r.depth for r in g.layout.rects), g.layout.disc.depth)
    done = _set_out(g, POCKETS, flute_length=0.7 * least, stick_out=rng.uniform(0.75, 0.95) * least)
    return plant_in(g, done, ["holder", "shank"], POCKETS, feeds(g, POCKETS))


def flutes_too_short(g: Good, rng: Draw) -> Planted:
    done = _set_out(g, POCKETS, flute_length=rng.uniform(0.3, 0.7))
    return plant_in(g, done, ["depth of cut"], POCKETS, feeds(g, POCKETS))


def holder_in_the_bore(g: Good, rng: Draw) -> Planted:
    out = rng.uniform(0.5, 0.9) * g.layout.bore.depth
    done, wide = _set_out(g, HOLES, flute_length=out, stick_out=out), g.cutter(HOLES).holder / 2
    return plant_in(g, done, ["holder"], HOLES, feeds(g, HOLES), room=wide + 1)


def into_a_pad(g: Good, rng: Draw) -> Planted:
    n = pick(rng, MILLED)
    at, pad = pick(rng, deeds(g, n, "approach")), pick(rng, g.setup.pads)
    half = g.setup.body.bounds[3]
    x, s = rng.uniform(pad.x[0] + 2, pad.x[1] - 2), rng.uniform(half + 4, pad.s[1] - 4)
    down = g.setup.face_height - g.setup.pad_top + rng.uniform(0.2, 10)
    to = g.on_bed(x, s)
    done = insert(g, n, at, f"G0 X{to[0]:.3f} Y{to[1]:.3f}", f"G1 Z-{down:.3f} F300", "G0 Z20")
    return plant(done, ["pad"], n, [at + 1], place=shapely.Point(x, s).buffer(1))


def into_the_bed(g: Good, rng: Draw) -> Planted:
    """At the corner of the reach furthest from all that lies on the bed."""
    n = pick(rng, MILLED)
    at = pick(rng, deeds(g, n, "approach"))
    x, y, _ = g.job.bed.reach
    lies = shapely.union_all([g.setup.body, *(box(p.x[0], p.s[0], p.x[1], p.s[1]) for p in g.setup.pads)])
    corners = np.array([(a, b) for a in (8, x - 8) for b in (8, y - 8)], dtype=float)
    far = shapely.distance(lies, shapely.points(g.setup.pose.to_face(corners)))
    to, down = corners[int(far.argmax())], g.setup.face_height + rng.uniform(0.05, 11)
    done = insert(g, n, at, f"G0 X{to[0]:.3f} Y{to[1]:.3f}", f"G1 Z-{down:.3f} F300", "G0 Z20")
    spot = shapely.Point(g.setup.pose.to_face(to[None])[0])
    return plant(done, ["bed"], n, [at + 1], place=spot.buffer(1))


def _with_clamps(g: Good, *clamps: Clamp) -> Good:
    return replace(g, setup=replace(g.setup, clamps=clamps))


def clamp_in_the_way(g: Good, rng: Draw) -> Planted:
    rect = pick(rng, g.layout.rects)
    x, half = rect.x + rng.uniform(-0.7, 0.7) * rect.a, g.setup.body.bounds[3] + 5
    clamp = Clamp("clamp 9", box(x - 4, -half, x + 4, half), 12.0, (x, 0.0), 800, 2.0, "M6")
    done = _with_clamps(g, *g.setup.clamps, clamp)
    # The holder, wider than the cutter, or the way there may meet it first.
    near = clamp.footprint.buffer(g.cutter(POCKETS).holder)
    lines = g.of(POCKETS, rect.name) + [g.of(POCKETS, r.name)[0] for r in g.layout.rects]
    return plant(done, ["clamp"], POCKETS, lines, place=near)


def clamp_higher_than_thought(g: Good, rng: Draw) -> Planted:
    """The strap between two pockets stands higher than the cutter is raised."""
    first, *rest = g.setup.clamps
    top = rng.uniform(20.2, 40)
    at = g.of(POCKETS, g.layout.rect_names[1])[0]
    near = first.footprint.buffer(g.cutter(POCKETS).holder)
    holder = [i for i in g.of(POCKETS, g.layout.rect_names[0])]  # the holder passes low beside it as well
    return plant(
        _with_clamps(g, replace(first, top=top), *rest), ["clamp"], POCKETS, [at, *holder], place=near
    )


def uprights_too_close(g: Good, rng: Draw) -> Planted:
    """A bridge narrower than the member lies wide."""
    outline = shapely.Polygon(g.setup.pose.to_bed(np.asarray(g.setup.body.exterior.coords)[:, :2]))
    x0, _, x1, _ = outline.bounds
    done = g.with_bed(throat=(x1 - x0) * rng.uniform(0.3, 0.9))
    far = {n: [float(m[1]) for t in g.lines(n) for m in [re.search(r"Y(-?[\d.]+)", t)] if m] for n in ALL}
    ends = (min(v for ys in far.values() for v in ys), max(v for ys in far.values() for v in ys))
    wanted = []
    for n in ALL:
        able = [
            i for i, t in enumerate(g.lines(n), 1) for m in [re.search(r"Y(-?[\d.]+)", t)] if m and float(m[1]) in ends
        ]  # fmt: skip
        wanted.append(want(["throat"], n, able, place=g.setup.body.buffer(1)))
    return Planted(done, tuple(wanted))


def turned_end_for_end(g: Good, rng: Draw) -> Planted:
    """The whole side's programs as for a member lying the other way round."""
    del rng
    pose = g.setup.pose

    def place(m: re.Match[str]) -> str:
        x, s = pose.to_face(np.array([[float(m[1]), float(m[2])]]))[0]
        bx, by = g.on_bed(g.member.length - x, -s)
        return f"X{bx:.4f} Y{by:.4f}"

    def turned(m: re.Match[str]) -> str:
        return f"I{-float(m[1]):.4f} J{-float(m[2]):.4f}"

    done = g
    for n in ALL:
        lines = [re.sub(r"X(-?[\d.]+) Y(-?[\d.]+)", place, t) for t in g.lines(n)]
        done = done.put(n, [re.sub(r"I(-?[\d.]+) J(-?[\d.]+)", turned, t) for t in lines])
    return Planted(done, tuple(want(["wrong side"], n, feeds(g, n)) for n in ALL))


def program_of_the_other_side(g: Good, rng: Draw) -> Planted:
    """A program that cuts the opposite side's pocket, run with this side's or in their place."""
    back, radius = g.layout.back, g.cutter(POCKETS).diameter / 2
    pen = Pen(g.layout, POCKETS)
    a, b = back.a - radius, back.b - radius
    pen.rapid(back.x - a, back.s - b)
    pen.rapid_z(14)
    pen.plunge(0.2, 400)
    for n in (-0.6, -1.2, -1.8):
        pen.line(back.x - a, back.s + b, n)
        for across in np.linspace(b, -b, 4):
            pen.line(back.x - a, back.s + float(across))
            pen.line(back.x + a, back.s + float(across))
        pen.line(back.x - a, back.s - b)
    pen.rapid_z(20)
    text = pen.text()
    alone = bool(rng.integers(2))
    programs = (("back.nc", text),) if alone else (*g.programs, ("back.nc", text))
    cuts = [i for i, t in enumerate(text.splitlines(), 1) if t.startswith("G1 X")]
    return plant(replace(g, programs=programs), ["wrong side"], "back.nc", cuts)


SETUP: tuple[Kind, ...] = (
    cutter_set_out_too_far, cutter_set_too_short, flutes_too_short, holder_in_the_bore, into_a_pad, into_the_bed,
    clamp_in_the_way, clamp_higher_than_thought, uprights_too_close, turned_end_for_end, program_of_the_other_side,
)  # fmt: skip
