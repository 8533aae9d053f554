"""Which cutters make a pocket, and the path each takes about the pocket's own origin."""

from __future__ import annotations

import math
from collections.abc import Callable

from shapely import affinity
from shapely.geometry import MultiPolygon, Polygon

from sparwright.cutting import edges
from sparwright.cutting.clearing import ClearingError, ClearPath, clear_outline
from sparwright.cutting.feeds import MOST_THINNING, Feed, Limits, feed_for, thinning
from sparwright.cutting.finish import WANTED_FILLET, Lap, cleared_by, wall_lap
from sparwright.cutting.floor import Floor, floor_pass, stepover
from sparwright.cutting.paths_clear import clearing_path, levels_to
from sparwright.cutting.paths_outline import Outline, outline_of
from sparwright.cutting.plan_work import CannotCut, Template, Work, reaches
from sparwright.job.models import Cutter
from sparwright.stock.model import Pocket

LEAST_ENTRY = 0.3  # least radius of an entry helix over the cutter's
SLENDER = 2.0  # rooms this many times longer than wide are entered by a ramp along them
REST_COST = (
    1.5  # cutting the corners a large cutter leaves takes this much longer than their area says (own trial)
)
CHANGE_SECONDS = 180.0  # a change of cutter with its touch-off; common practice, no source
CHORD = 0.002  # mm, chords of the outlines given to clearing


def pocket_key(pocket: Pocket) -> tuple[object, ...]:
    """Equal for pockets whose cuts are copies of one another."""
    return ("pocket", pocket.shape_key, round(pocket.depth, 6), round(pocket.skin, 6), pocket.edge_break)


def pocket_templates(work: Work, pocket: Pocket, copies: int) -> tuple[Template, ...]:
    """The cuts of one pocket, its edge break aside. copies: how many pockets share them.

    Raises CannotCut with what stands in the way.
    """
    outline, polygon = _about_origin(pocket)
    wishes, stock = work.wishes, work.wall_stock
    depth = pocket.depth + (wishes.break_through if pocket.window else 0.0)
    floor_stock = 0.0 if pocket.window else min(wishes.floor_stock, pocket.depth / 2)
    finisher = finish_cutter(work, outline.radius, depth)
    clearer = _clear_cutter(work, outline, depth - floor_stock, finisher, copies)
    clear, first = _clearing(work, polygon, clearer, depth - floor_stock, None, "clear pockets")
    out = [first] if first is not None else []
    cleared: Polygon | MultiPolygon = clear.cleared
    if floor_stock > 0:
        out.append(_floor(work, outline, clearer, floor_stock, depth))
    if finisher.number != clearer.number:
        rest, more = _clearing(work, polygon, finisher, depth, cleared, "clear corners")
        cleared = rest.cleared
        out += [more] if more is not None else []
    f = work.finish_feed(finisher, min(depth, finisher.flute_length))
    radius = finisher.diameter / 2
    ground = outline.inset_shape(radius + stock).intersection(
        cleared_by(outline, radius, stock).buffer(-radius)
    )
    lap = Lap(radius, stock, levels_to(depth, finisher.flute_length), ground, cleared, work.rates(f))
    out.append(Template("finish walls", "wall", finisher, wall_lap(outline, lap), f, radius))
    return tuple(out)


def pocket_break(work: Work, pocket: Pocket) -> Template:
    """The edge break of a pocket's rim. Raises CannotCut."""
    outline, _ = _about_origin(pocket)
    rim = edges.rim_of(outline, pocket.edge_break, math.inf if pocket.window else pocket.depth)
    vee, brk = open_window(work, lambda c: edges.edge_break(c, rim))
    f = vee_feed(work, vee, pocket.edge_break, brk.distance)
    path = edges.break_laps(outline, brk, work.rates(f))
    return Template("break edges", "edge break", vee, path, f, brk.distance)


def finish_cutter(work: Work, radius: float, depth: float) -> Cutter:
    """The largest flat cutter that turns easily in corners of `radius`, else the largest that fits. Raises CannotCut."""
    fitting = [c for c in work.flats if c.diameter / 2 <= radius + 1e-9]
    deep = [c for c in fitting if reaches(c, depth)]
    easy = [c for c in deep if radius >= WANTED_FILLET * c.diameter / 2 - 1e-9]
    if not fitting:
        raise CannotCut(
            f"corners of {radius:.3f} mm radius need a flat cutter of {2 * radius:.3f} mm or less: list one, or ask for a larger "
            "corner_radius"
        )
    if not deep:
        longest = max(fitting, key=lambda c: c.flute_length)
        raise CannotCut(
            f"corners of {radius:.3f} mm radius are {depth:.2f} mm deep, and {longest.name} has only {longest.flute_length:g} mm of "
            "flutes. List a longer cutter, or ask for a larger corner_radius"
        )
    return (easy or deep)[0]


def open_window(work: Work, fit: Callable[[Cutter], edges.Break]) -> tuple[Cutter, edges.Break]:
    """The first vee cutter whose window is open, and how it breaks the edge. Raises CannotCut."""
    reasons = []
    for c in work.vees:
        try:
            return c, fit(c)
        except edges.NoWindow as problem:
            reasons.append(f"{c.name}: {problem}")
    if reasons:
        raise CannotCut("; ".join(reasons))
    raise CannotCut("no vee cutter is listed: list one, or set edge_break to 0 and break the edges by hand")


def vee_feed(work: Work, vee: Cutter, width: float, distance: float) -> Feed:
    """Feed of an edge break of `width` with the axis `distance` inside the edge.

    The speed is that of the widest circle that cuts, at the face, in whole mm; the chip load is the vee's as it
    stands, without more for a thin radial cut.
    """
    depth = width / edges.half_tangent(vee)
    widest = min(vee.diameter, float(math.ceil(2 * (distance + width))))
    chip = vee.chip / min(thinning(widest, width), MOST_THINNING)
    limits = Limits(work.wishes.thrust_limit, chip=chip, diameter=widest)
    return feed_for(vee, work.member.material, work.job.bed, width, depth, limits)


def _about_origin(pocket: Pocket) -> tuple[Outline, Polygon]:
    """The pocket's outline about its origin, exact and as chords. Raises CannotCut where the two disagree."""
    x, s = pocket.origin
    polygon = affinity.translate(pocket.outline, -x, -s)
    corners = tuple((a - x, b - s) for a, b in pocket.corners)
    try:
        outline = outline_of(corners, pocket.corner_radius, polygon)
    except ValueError as problem:
        raise CannotCut(f"its outline cannot be followed: {problem}") from None
    return outline, outline.inset_shape(0.0, CHORD)


def _clear_cutter(work: Work, outline: Outline, depth: float, finisher: Cutter, copies: int) -> Cutter:
    """The flat cutter, no smaller than the finisher, with which clearing takes the least time; the finisher's
    corner work and one change of cutter are counted."""
    stock = work.wall_stock
    (_, room), area = outline.inscribed, outline.inset_shape(stock).area
    slender = outline.shape.length > 2 * (1 + SLENDER) * 2 * room
    best: tuple[float, Cutter] | None = None
    for c in work.flats:
        radius = c.diameter / 2
        entry = room - stock - radius
        if c.diameter < finisher.diameter or not reaches(c, depth):
            continue
        if entry < (0.01 if slender else LEAST_ENTRY * radius):
            continue
        mine = min(cleared_by(outline, radius, stock).area, area)
        seconds = _seconds(work, c, depth, mine)
        if c.number != finisher.number:
            seconds += REST_COST * _seconds(work, finisher, depth, area - mine) + CHANGE_SECONDS / copies
        if best is None or seconds < best[0]:
            best = (seconds, c)
    if best is None:
        raise CannotCut(
            f"no flat cutter has room to enter it, {2 * room:.2f} mm across and {depth:.2f} mm deep. List a smaller or longer one"
        )
    return best[1]


def _seconds(work: Work, cutter: Cutter, depth: float, area: float) -> float:
    ae, _ = work.engagement(cutter)
    count, f = work.clear_feed(cutter, depth)
    return count * area / (ae * f.feed) * 60


def _clearing(
    work: Work,
    polygon: Polygon,
    cutter: Cutter,
    depth: float,
    cleared: Polygon | MultiPolygon | None,
    name: str,
) -> tuple[ClearPath, Template | None]:
    """Clearing with one cutter at every level; no template where it has nothing to cut. Raises CannotCut."""
    _, angle = work.engagement(cutter)
    radius = cutter.diameter / 2
    stock = min(work.wall_stock, radius)
    try:
        plan = clear_outline(polygon, radius, angle, cleared=cleared, wall_stock=stock)
    except ClearingError as problem:
        raise CannotCut(f"{cutter.name}: {problem}") from None
    if cleared is not None and not plan.passes:
        return plan, None
    count, f = work.clear_feed(cutter, depth)
    path = clearing_path(
        plan,
        levels_to(depth, depth / count),
        work.slot_feed(cutter).feed,
        work.rates(f),
        work.travel(cutter, f),
    )
    return plan, Template(name, "clear", cutter, path, f, radius + stock)


def _floor(work: Work, outline: Outline, cutter: Cutter, floor_stock: float, depth: float) -> Template:
    radius = cutter.diameter / 2
    f = work.feed(cutter, stepover(outline, radius), floor_stock)
    floor = Floor(radius, floor_stock, work.wall_stock, depth, work.rates(f))
    return Template("finish floors", "floor", cutter, floor_pass(outline, floor), f, radius + work.wall_stock)
