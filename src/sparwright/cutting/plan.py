"""All cuts of one side: which cutter does what, one path for each pocket shape placed many times, in a sound order."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon

from sparwright.answers import Finding, Verdict
from sparwright.cutting import edges, holes, notch
from sparwright.cutting.clearing import ClearingError, clear_outline
from sparwright.cutting.feeds import Feed, Limits, feed_for
from sparwright.cutting.finish import WANTED_FILLET, Lap, cleared_by, open_lap, wall_lap
from sparwright.cutting.floor import STEPOVER, Floor, floor_pass
from sparwright.cutting.model import Cut, Path, Peak, Piece, SideCuts
from sparwright.cutting.motion import path_seconds
from sparwright.cutting.paths import Rates, last_point, lifted
from sparwright.cutting.paths_clear import clearing_path, levels_to
from sparwright.cutting.paths_outline import Outline, outline_of
from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Clamp, Setup
from sparwright.stiffness.skin import skin_deflection
from sparwright.stock.model import Hole, Member, NotchCut, Pocket
from sparwright.stock.section import wall_thickness

HELIX = 0.6  # radius of the entry helix over the cutter's
SAME_PLACE = 1e-6
TAP_BREAK = 0.1  # mm a tapped hole's edge break is wider than half its pitch; common practice, no source


@dataclass(frozen=True)
class Step:
    """One kind of cut on one feature, not yet grouped. order: of kinds with one cutter. key: equal for copies of a path."""

    name: str
    kind: str
    cutter: int
    feature: str
    at: tuple[float, float]
    path: Path
    feed: Feed
    key: tuple[object, ...]


@dataclass
class _Side:
    """What planning one side gathers."""

    member: Member
    setup: Setup
    job: Job
    steps: list[Step] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    templates: dict[tuple[object, ...], list[tuple[str, str, int, Path, Feed]]] = field(default_factory=dict)

    @cached_property
    def flats(self) -> list[Cutter]:
        """Flat cutters, largest first."""
        return sorted((c for c in self.job.cutters if c.kind == "flat"), key=lambda c: -c.diameter)

    @cached_property
    def vees(self) -> list[Cutter]:
        """Vee cutters, largest first."""
        return sorted((c for c in self.job.cutters if c.kind == "vee"), key=lambda c: -c.diameter)

    def feed(
        self, cutter: Cutter, ae: float, ap: float, *, bends: float = math.inf, diameter: float | None = None
    ) -> Feed:
        """The feed of a cut in this job's metal; the cutter may bend by `bends` mm."""
        limits = Limits(force_N=self.job.file.cutting.thrust_limit, deflection_mm=bends, diameter=diameter)
        return feed_for(cutter, self.member.material, self.job.bed, ae, ap, limits)

    def rates(self, f: Feed) -> Rates:
        """Speeds and heights for a path."""
        return Rates(f.feed, f.plunge, self.job.bed.feed_limit[2], self.job.file.cutting.clearance)

    def no_go(self, name: str, feature: str, why: str) -> None:
        """A feature that cannot be cut: said, and left out."""
        self.findings.append(Finding(name, Verdict.NO_GO, why=why[0].upper() + why[1:], where=feature))


def _clear_cutter(side: _Side, outline: Outline, depth: float) -> Cutter | None:
    stock = side.job.file.cutting.wall_stock
    _, room = outline.inscribed
    for c in side.flats:
        if c.flute_length >= depth and room >= c.diameter / 2 * (1 + HELIX) + stock:
            return c
    return None


def _finish_cutter(side: _Side, radius: float, depth: float) -> Cutter | None:
    fitting = [c for c in side.flats if c.diameter / 2 <= radius + 1e-9 and c.flute_length >= depth]
    easy = [c for c in fitting if radius >= WANTED_FILLET * c.diameter / 2 - 1e-9]
    return next(iter(easy or fitting), None)


def _pocket_template(side: _Side, pocket: Pocket) -> list[tuple[str, str, int, Path, Feed]]:
    """Cuts of one pocket shape about its own origin. Raises ValueError with what stands in the way."""
    wishes = side.job.file.cutting
    x, s = pocket.origin
    local = tuple((a - x, b - s) for a, b in pocket.corners)
    polygon = affinity.translate(pocket.outline, -x, -s)
    outline = outline_of(local, pocket.corner_radius, polygon)
    depth = pocket.depth + (wishes.break_through if pocket.window else 0.0)
    floor_stock = 0.0 if pocket.window else wishes.floor_stock
    stock = wishes.wall_stock
    finisher = _finish_cutter(side, pocket.corner_radius, depth)
    clearer = _clear_cutter(side, outline, depth)
    if finisher is None:
        raise ValueError(
            f"no flat cutter up to {2 * pocket.corner_radius:g} mm with {depth:.1f} mm of flutes for the corners: list one, or ask for a larger corner_radius"
        )
    if clearer is None:
        raise ValueError(
            f"no flat cutter has room to enter this pocket {depth:.1f} mm deep: list a smaller or longer one"
        )
    out: list[tuple[str, str, int, Path, Feed]] = []

    def clear(cutter: Cutter, to: float, cleared: Polygon | MultiPolygon | None, name: str) -> None:
        radius, ae = cutter.diameter / 2, wishes.engagement * cutter.diameter
        levels = levels_to(to, wishes.depth_per_pass * cutter.diameter)
        f = side.feed(cutter, ae, to / len(levels), bends=stock / 2 or math.inf)
        slot = side.feed(cutter, cutter.diameter, min(0.25 * cutter.diameter, to))
        plan = clear_outline(polygon, radius, math.acos(1 - ae / radius), cleared=cleared, wall_stock=stock)
        if plan.passes:
            out.append(
                (
                    name,
                    "clear",
                    cutter.number,
                    clearing_path(plan, levels, slot.feed, side.rates(f), f.feed),
                    f,
                )
            )

    clear(clearer, depth - floor_stock, None, "clear pockets")
    radius = clearer.diameter / 2
    if floor_stock > 0:
        f = side.feed(clearer, STEPOVER * clearer.diameter, floor_stock)
        out.append(
            (
                "finish floors",
                "floor",
                clearer.number,
                floor_pass(outline, Floor(radius, floor_stock, stock, depth, side.rates(f))),
                f,
            )
        )
    cleared = cleared_by(outline, radius, stock)
    if finisher.number != clearer.number:
        clear(finisher, depth, cleared, "clear corners")
        cleared = cleared_by(outline, finisher.diameter / 2, stock).union(cleared)
    small = finisher.diameter / 2
    f = side.feed(finisher, max(stock, 0.02), depth, bends=wishes.wall_tolerance / 2)
    ground = outline.inset_shape(small + stock)
    lap = Lap(small, stock, levels_to(depth, finisher.flute_length), ground, cleared, side.rates(f))
    out.append(("finish walls", "wall", finisher.number, wall_lap(outline, lap), f))
    if pocket.edge_break > 0:
        out.append(_pocket_break(side, outline, pocket))
    return out


def _pocket_break(side: _Side, outline: Outline, pocket: Pocket) -> tuple[str, str, int, Path, Feed]:
    rim = edges.rim_of(outline, pocket.edge_break, math.inf if pocket.window else pocket.depth)
    vee, brk = _vee_break(side, lambda c: edges.edge_break(c, rim))
    f = _vee_feed(side, vee, pocket.edge_break, brk.distance)
    return ("break edges", "edge break", vee.number, edges.break_laps(outline, brk, side.rates(f)), f)


def _vee_break(side: _Side, fit: Callable[[Cutter], edges.Break]) -> tuple[Cutter, edges.Break]:
    """The first vee whose window is open. Raises ValueError with what closes them all."""
    reasons = []
    for c in side.vees:
        try:
            return c, fit(c)
        except edges.NoWindow as problem:
            reasons.append(str(problem))
    raise ValueError(
        "; ".join(reasons)
        if reasons
        else "no vee cutter is listed to break its edges: list one, or set edge_break to 0"
    )


def _vee_feed(side: _Side, vee: Cutter, width: float, distance: float) -> Feed:
    depth = width / edges.half_tangent(vee)
    return side.feed(vee, width, depth, diameter=max(2 * (distance + width), 0.5))


def _add_pockets(side: _Side) -> None:
    refused: dict[str, str] = {}
    for pocket in (p for p in side.member.pockets if p.face == side.setup.face):
        key = ("pocket", pocket.shape_key, pocket.depth, pocket.edge_break)
        if key not in side.templates and pocket.shape_key not in refused:
            try:
                side.templates[key] = _pocket_template(side, pocket)
            except (ValueError, ClearingError) as problem:
                refused[pocket.shape_key] = str(problem)
        if pocket.shape_key in refused:
            side.no_go("pocket cannot be cut", pocket.id, refused[pocket.shape_key])
            continue
        for i, (name, kind, cutter, path, feed) in enumerate(side.templates[key]):
            x, s = pocket.origin
            side.steps.append(
                Step(name, kind, cutter, pocket.id, pocket.origin, path.shifted(x, s), feed, (*key, i))
            )


def _add_holes(side: _Side) -> None:
    face = side.member.section.face(side.setup.face)
    for hole in (h for h in side.member.holes if h.face == side.setup.face):
        try:
            _add_hole(
                side,
                hole,
                holes.metal_spans(side.member.section, face, hole, side.job.file.cutting.break_through),
            )
        except (ValueError, ClearingError) as problem:
            side.no_go("hole cannot be cut", hole.id, str(problem))


def _add_hole(side: _Side, hole: Hole, spans: tuple[tuple[float, float], ...]) -> None:
    wishes = side.job.file.cutting
    wanted = [(hole.diameter, spans, "bore holes")]
    if hole.counterbore is not None:
        wanted.insert(0, (hole.counterbore[0], ((0.0, -hole.counterbore[1]),), "counterbores"))
    for diameter, metal, name in wanted:
        made = holes.plan_hole(diameter, metal, side.job.cutters, by_milling=wishes.drill_by_milling)
        key = (name, made.cutter.number, diameter, metal)
        if isinstance(made, holes.Drilling):
            f = holes.drill_feed(made.cutter, side.member.material, side.job.bed, wishes.thrust_limit)
            path = holes.drill_path(hole.at, made, hole.through != "blind", side.rates(f))
            side.steps.append(
                Step("drill holes", "drill", made.cutter.number, hole.id, hole.at, path, f, key)
            )
        else:
            share = min(wishes.depth_per_pass, 0.25)
            f, last = holes.bore_feeds(made, side.member.material, side.job.bed, wishes.thrust_limit, share)
            path = holes.bore_path(hole.at, made, side.rates(f), last.feed, share)
            side.steps.append(Step(name, "bore", made.cutter.number, hole.id, hole.at, path, f, key))
    width = hole.edge_break
    if width > 0:
        rim = hole.counterbore[0] if hole.counterbore is not None else hole.diameter
        depth = hole.counterbore[1] if hole.counterbore is not None else math.inf
        vee, brk = _vee_break(side, lambda c: edges.plunge_break(c, rim, width))
        f = _vee_feed(side, vee, width, brk.distance)
        path = edges.hole_break(vee, hole.at, rim, width, depth, side.rates(f))
        side.steps.append(
            Step(
                "break edges", "edge break", vee.number, hole.id, hole.at, path, f, ("hole break", rim, width)
            )
        )


def _add_notches(side: _Side) -> None:
    for n in (n for n in side.member.notches if n.face == side.setup.face):
        try:
            _add_notch(side, n)
        except (ValueError, ClearingError) as problem:
            side.no_go("notch cannot be cut", n.id, str(problem))


def _add_notch(side: _Side, n: NotchCut) -> None:
    wishes = side.job.file.cutting
    depth = n.depth + wishes.break_through
    mouth = notch.mouth_of(n, side.member.length)
    cutter = _finish_cutter(side, n.corner_radius, depth)
    if cutter is None:
        raise ValueError(
            f"no flat cutter up to {2 * n.corner_radius:g} mm with {depth:.1f} mm of flutes for its corners: list one or ask for a larger corner_radius"
        )
    radius, ae = cutter.diameter / 2, wishes.engagement * cutter.diameter
    levels = levels_to(depth, wishes.depth_per_pass * cutter.diameter)
    f = side.feed(cutter, ae, depth / len(levels), bends=wishes.wall_stock / 2 or math.inf)
    plan = notch.clear_notch(n, mouth, radius, math.acos(1 - ae / radius), wishes.wall_stock)
    rates = side.rates(f)
    path = clearing_path(plan, levels, f.feed, rates, f.feed)
    at = (float(n.outline.centroid.x), float(n.outline.centroid.y))
    side.steps.append(Step("clear notches", "clear", cutter.number, n.id, at, path, f, ("notch", n.id, 0)))
    last = side.feed(cutter, max(wishes.wall_stock, 0.02), depth, bends=wishes.wall_tolerance / 2)
    chain = notch.open_chain(mouth, radius, radius + notch.BEYOND)
    lap = Lap(
        radius,
        wishes.wall_stock,
        levels_to(depth, cutter.flute_length),
        notch.outside_of(mouth, radius),
        plan.cleared,
        side.rates(last),
    )
    side.steps.append(
        Step(
            "finish notches", "wall", cutter.number, n.id, at, open_lap(chain, lap), last, ("notch", n.id, 1)
        )
    )
    if n.edge_break > 0:
        rim = edges.Rim(n.edge_break, mouth.high - mouth.low, math.inf, n.corner_radius)
        vee, brk = _vee_break(side, lambda c: edges.edge_break(c, rim))
        fv = _vee_feed(side, vee, n.edge_break, brk.distance)
        open_edge = notch.open_chain(mouth, brk.distance, vee.diameter / 2 + notch.BEYOND)
        side.steps.append(
            Step(
                "break edges",
                "edge break",
                vee.number,
                n.id,
                at,
                edges.chain_break(open_edge, brk, side.rates(fv)),
                fv,
                ("notch", n.id, 2),
            )
        )


KINDS = (
    "drill holes",
    "counterbores",
    "bore holes",
    "clear pockets",
    "finish floors",
    "clear corners",
    "finish walls",
    "clear notches",
    "finish notches",
    "break edges",
)


def _middle_out(steps: list[Step], middle: float) -> list[Step]:
    """From the middle outward, left and right in turn, so that freed stress bends the member evenly."""
    left = sorted((s for s in steps if s.at[0] < middle), key=lambda s: (middle - s.at[0], s.at[1]))
    right = sorted((s for s in steps if s.at[0] >= middle), key=lambda s: (s.at[0] - middle, s.at[1]))
    out: list[Step] = []
    width = 4
    while left or right:
        out += right[:width] + left[:width]
        left, right = left[width:], right[width:]
    return out


def _along(steps: list[Step]) -> list[Step]:
    return sorted(steps, key=lambda s: (s.at[0], s.at[1]))


def _grouped(side: _Side) -> list[tuple[tuple[str, int], list[Step]]]:
    """Steps by cutter, flats from the largest down and vees last, and by kind within a cutter."""
    rank = {c.number: (c.kind == "vee", -c.diameter) for c in side.job.cutters}
    groups: dict[tuple[str, int], list[Step]] = {}
    for step in side.steps:
        groups.setdefault((step.name, step.cutter), []).append(step)
    ordered = sorted(groups.items(), key=lambda g: (rank[g[0][1]], KINDS.index(g[0][0])))
    middle = side.member.length / 2
    return [(k, _middle_out(v, middle) if k[0] == "clear pockets" else _along(v)) for k, v in ordered]


def _over_clamps(a: np.ndarray, b: np.ndarray, clamps: Sequence[Clamp], wide: float) -> float | None:
    """The top of the highest clamp that a straight move from a to b comes near, mm over the face."""
    line = (
        LineString([a[:2], b[:2]])
        if float(np.hypot(*(b - a)[:2])) > SAME_PLACE
        else LineString([a[:2], a[:2] + 1e-3])
    )
    tops = [c.top for c in clamps if c.footprint.distance(line) < wide]
    return max(tops) if tops else None


def _made(
    side: _Side, name: str, number: int, steps: list[Step], came_from: np.ndarray | None
) -> tuple[Cut, np.ndarray]:
    cutter = side.job.cutter(number)
    clearance = side.job.file.cutting.clearance
    wide = max(cutter.holder, cutter.diameter) / 2 + 1.0
    paths = [s.path for s in steps]
    before, after = [clearance] * len(paths), [clearance] * len(paths)
    for i, path in enumerate(paths):
        start = last_point(paths[i - 1]) if i else came_from
        if start is None:
            continue
        top = _over_clamps(start, path.start, side.setup.clamps, wide)
        if top is not None:
            before[i] = max(before[i], top + clearance)
            if i:
                after[i - 1] = max(after[i - 1], top + clearance)
    pieces, seconds, known = [], 0.0, {}
    rapid, accel = min(side.job.bed.rapid[:2]) / 60, min(side.job.bed.acceleration[:2])
    for i, (step, path) in enumerate(zip(steps, paths, strict=True)):
        if step.key not in known:
            known[step.key] = path_seconds(
                path.kind, path.start, path.end, path.centre, path.feed, side.job.bed
            )
        seconds += known[step.key]
        if i:
            seconds += float(np.hypot(*(path.start - last_point(paths[i - 1]))[:2])) / rapid + rapid / accel
        pieces.append(Piece(step.feature, lifted(path, before[i], after[i])))
    f = max((s.feed for s in steps), key=lambda f: f.force)
    peak = Peak(f.thickest, f.force, f.power, f.deflection)
    return Cut(name, steps[0].kind, number, steps[0].feed.rpm, tuple(pieces), peak, seconds), last_point(
        paths[-1]
    )


def _load_findings(side: _Side, cuts: Sequence[Cut]) -> list[Finding]:
    limit = side.job.file.cutting.thrust_limit
    spread = side.member.material.cutting_spread
    out = []
    for cut, steps in zip(cuts, (v for _, v in _grouped(side)), strict=True):
        f = max((s.feed for s in steps), key=lambda f: f.force)
        where = f"{cut.name}, cutter {cut.cutter}"
        out.append(
            Finding(
                f"cutting force, {cut.name}",
                Verdict.GO if f.force <= limit * (1 + 1e-9) else Verdict.NO_GO,
                f.force,
                "N",
                limit,
                limit - f.force,
                f.force * spread / (1 + spread),
                f"Upper end of the metal's spread; feed {f.feed:.0f} mm/min at {f.rpm:.0f} rpm, chip {f.chip:.4f} mm, held by {f.limited_by}.",
                where,
            )
        )
        out.append(
            Finding(
                f"spindle power, {cut.name}",
                Verdict.GO if f.power <= f.available else Verdict.NO_GO,
                f.power,
                "W",
                f.available,
                f.available - f.power,
                None,
                f"At {f.rpm:.0f} rpm.",
                where,
            )
        )
        for text in f.warnings:
            out.append(
                Finding(
                    f"chip, {cut.name}",
                    Verdict.CAUTION,
                    f.thickest,
                    "mm",
                    why=text[0].upper() + text[1:] + ".",
                    where=where,
                )
            )
    return out


def _skin_findings(side: _Side) -> list[Finding]:
    floors = {s.feature: s.feed for s in side.steps if s.kind == "floor"}
    worst: tuple[float, Pocket, float] | None = None
    for p in side.member.pockets:
        if p.id in floors and not p.window:
            wall = wall_thickness(side.member.section, side.member.section.face(p.face), p.origin[1])
            w = skin_deflection(p.outline, p.skin, wall, floors[p.id].steady, side.member.material)
            if worst is None or w > worst[0]:
                worst = (w, p, floors[p.id].steady)
    if worst is None:
        return []
    w, p, force = worst
    limit = side.job.file.cutting.floor_tolerance
    verdict = Verdict.GO if w <= 0.5 * limit else Verdict.CAUTION
    why = f"{force:.1f} N, the floor pass's mean force, taken as thrust on the skin's middle; it springs back, leaving the floor that much too thick."
    if verdict is Verdict.CAUTION:
        why += " Take less floor_stock, or leave a thicker skin."
    return [
        Finding(
            "skin under the cutter",
            verdict,
            w,
            "mm",
            limit,
            limit - w,
            w * side.member.material.cutting_spread,
            why,
            p.id,
        )
    ]


def plan_side(member: Member, setup: Setup, job: Job) -> SideCuts:
    """All cuts of one side in the order they are made, with the findings of question 4.

    A feature that no listed cutter can make gives a no-go finding and is left out.
    """
    side = _Side(member, setup, job)
    _add_pockets(side)
    _add_holes(side)
    _add_notches(side)
    cuts: list[Cut] = []
    at: np.ndarray | None = None
    number = 0
    for (name, cutter), steps in _grouped(side):
        cut, at = _made(side, name, cutter, steps, at if cutter == number else None)
        number = cutter
        cuts.append(cut)
    findings = [*side.findings, *_load_findings(side, cuts), *_skin_findings(side)]
    minutes = sum(c.seconds for c in cuts) / 60
    findings.append(
        Finding(
            f"time, side {setup.side}",
            Verdict.GO,
            minutes,
            "min",
            why="With this machine's speeds, accelerations and block rate.",
            where=setup.side,
        )
    )
    taps = sorted(
        {h.thread for h in member.holes if h.face == setup.face and h.kind == "tapped" and h.thread}
    )
    if taps:
        findings.append(
            Finding(
                f"threads, side {setup.side}",
                Verdict.GO,
                why=f"{', '.join(taps)}: the holes are made to tap size; tap them by hand while the member is held.",
                where=setup.side,
            )
        )
    return SideCuts(setup.side, tuple(cuts), tuple(findings))
