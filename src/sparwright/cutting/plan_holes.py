"""The cuts of holes and notches, about the hole or in place."""

from __future__ import annotations

import math

from sparwright.cutting import edges, holes, notch
from sparwright.cutting.clearing import ClearingError
from sparwright.cutting.finish import Lap, open_lap
from sparwright.cutting.paths_clear import clearing_path, levels_to
from sparwright.cutting.plan_pockets import finish_cutter, open_window, vee_feed
from sparwright.cutting.plan_work import CannotCut, Template, Work
from sparwright.stock.model import Hole, NotchCut

HELIX_SHARE = 0.25  # deepest turn of a bore's helix over the cutter's diameter
Spans = tuple[tuple[float, float], ...]


def hole_key(hole: Hole) -> tuple[object, ...]:
    """Equal for holes on one line along the member whose cuts are copies of one another."""
    s = hole.at[1] if hole.through == "all" else 0.0
    return ("hole", hole.diameter, hole.depth, hole.through, hole.counterbore, hole.edge_break, s)


def hole_templates(work: Work, hole: Hole) -> tuple[Template, ...]:
    """The cuts of one hole about its middle, its edge break aside: spot and drill, or bore, then its counterbore.

    Raises CannotCut with what stands in the way.
    """
    face = work.member.section.face(hole.face)
    spans = holes.metal_spans(work.member.section, face, hole, work.wishes.break_through)
    out = _round_hole(work, hole.diameter, spans, hole.through != "blind", 0.0)
    if hole.counterbore is not None:
        diameter, depth = hole.counterbore
        out += _round_hole(work, diameter, ((0.0, -depth),), False, hole.diameter)
    return out


def hole_break(work: Work, hole: Hole) -> Template:
    """The edge break of a hole's rim, or of its counterbore's. Raises CannotCut."""
    width = hole.edge_break
    diameter = hole.counterbore[0] if hole.counterbore else hole.diameter
    depth = hole.counterbore[1] if hole.counterbore else (hole.depth if hole.through == "blind" else math.inf)
    reasons = []
    for vee in work.vees:
        f = vee_feed(work, vee, width, diameter / 2)
        try:
            path = edges.hole_break(vee, (0.0, 0.0), diameter, width, depth, work.rates(f))
            return Template("break edges", "edge break", vee, path, f, 0.0)
        except edges.NoWindow as problem:
            reasons.append(f"{vee.name}: {problem}")
    raise CannotCut(
        "; ".join(reasons)
        or "no vee cutter is listed: list one, or set edge_break to 0 and break the edge by hand"
    )


def _round_hole(
    work: Work, diameter: float, spans: Spans, through: bool, pilot: float
) -> tuple[Template, ...]:
    wishes, bed, metal = work.wishes, work.job.bed, work.member.material
    try:
        made = holes.plan_hole(
            diameter, spans, work.job.cutters, pilot=pilot, by_milling=wishes.drill_by_milling
        )
    except holes.OutOfReach as problem:
        raise CannotCut(str(problem)) from None
    if isinstance(made, holes.Drilling):
        f = holes.drill_feed(made.cutter, metal, bed, wishes.thrust_limit)
        path = holes.drill_path((0.0, 0.0), made, through, work.rates(f))
        drill = Template("drill holes", "drill", made.cutter, path, f)
        return (*_spot(work, made.cutter.diameter), drill)
    share = min(wishes.depth_per_pass, HELIX_SHARE)
    f, last = holes.bore_feeds(made, metal, bed, wishes.thrust_limit, share)
    path = holes.bore_path((0.0, 0.0), made, work.rates(f), last.feed, share)
    name = "counterbore holes" if pilot else "bore holes"
    return (Template(name, "bore", made.cutter, path, f, made.cutter.diameter / 2),)


def _spot(work: Work, diameter: float) -> tuple[Template, ...]:
    """A spot for a drill where a vee is at hand, so that it does not wander."""
    if not work.vees:
        return ()
    vee = work.vees[-1]
    depth = holes.spot_depth(vee, diameter)
    f = vee_feed(work, vee, max(0.1, holes.SPOT_SHARE * diameter / 2), 0.0)
    path = edges.break_plunge((0.0, 0.0), edges.Break(diameter / 2, (-depth,)), work.rates(f))
    return (Template("spot holes", "drill", vee, path, f),)


def notch_templates(work: Work, cut: NotchCut) -> tuple[Template, ...]:
    """The cuts of one notch in place, its edge break aside, all by the cutter of its corners. Raises CannotCut."""
    depth, stock = cut.depth + work.wishes.break_through, work.wall_stock
    mouth = notch.mouth_of(cut, work.member.length)
    cutter = finish_cutter(work, cut.corner_radius, depth)
    radius = cutter.diameter / 2
    _, angle = work.engagement(cutter)
    count, f = work.clear_feed(cutter, depth)
    try:
        plan = notch.clear_notch(cut, mouth, radius, angle, min(stock, radius))
    except ClearingError as problem:
        raise CannotCut(f"{cutter.name}: {problem}") from None
    levels = levels_to(depth, depth / count)
    path = clearing_path(plan, levels, work.slot_feed(cutter).feed, work.rates(f), work.travel(cutter, f))
    last = work.finish_feed(cutter, min(depth, cutter.flute_length))
    chain = notch.open_chain(mouth, radius, radius + notch.BEYOND)
    lap = Lap(
        radius,
        stock,
        levels_to(depth, cutter.flute_length),
        notch.outside_of(mouth, radius),
        plan.cleared,
        work.rates(last),
    )
    return (
        Template("clear notches", "clear", cutter, path, f, radius),
        Template("finish notches", "wall", cutter, open_lap(chain, lap), last, radius),
    )


def notch_break(work: Work, cut: NotchCut) -> Template:
    """The edge break of a notch's three walls. Raises CannotCut."""
    mouth = notch.mouth_of(cut, work.member.length)
    rim = edges.Rim(cut.edge_break, mouth.high - mouth.low, math.inf, cut.corner_radius)
    vee, brk = open_window(work, lambda c: edges.edge_break(c, rim))
    f = vee_feed(work, vee, cut.edge_break, brk.distance)
    chain = notch.open_chain(mouth, brk.distance, vee.diameter / 2 + notch.BEYOND)
    path = edges.chain_break(chain, brk, work.rates(f))
    return Template("break edges", "edge break", vee, path, f, brk.distance)
