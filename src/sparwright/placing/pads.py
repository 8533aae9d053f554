"""Pads along the member: where they stand, what the machine cuts in them, and the arrangements to choose from.

An arrangement says where the outer pads begin and end, where the straps press and their screws stand, and
what stops the datum end: a pin in a hole of the datum-end pad, or, where that hole is out of reach, a dowel held in
the collet at the stop's place while the member is pushed against it. All positions here are (x, t).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from shapely import dwithin, polygons, prepare
from shapely.geometry import MultiPolygon, Point, Polygon, box
from shapely.ops import unary_union

from sparwright.job.models import Job, Placing
from sparwright.placing.lying import Lying, seen_from
from sparwright.placing.model import Pad
from sparwright.placing.reach import LEAD_IN, Needed, bored, flat_diameters, gathered, rectangle
from sparwright.placing.straps import HOLE_WALL, STRAP_WIDTH, TOE, Strap, strap_at
from sparwright.stock.model import Member

CLEARANCE = {"push": 0.05, "slide": 0.10, "loose": 0.20}
"""Width of the slot over the member's, mm, by the fit wanted."""
CARRY = 2.0
"""How much wider than the member the slots of pads that only carry are, each side, mm."""
STOP_PIN = 6.0
"""Diameter of the stop pin (parallel pin ISO 8734), mm."""
PIN_ROOM = 6.0
"""Pad material beyond the stop pin's hole, mm (common practice, no source)."""
PIN_REACH = 8.0
"""How far the stop pin stands out of the slot's floor, mm."""
BETWEEN_PADS = 10.0
"""Least gap between two pads, mm."""
HOLE_EDGE = 5.0
"""Least pad material between a hole and the pad's end, mm (common practice, no source)."""
SHORTEST = 15.0
"""Shortest pad that locates, mm (common practice, no source)."""
SHIFTS = tuple(float(d) for d in range(0, 45, 4))


@dataclass(frozen=True)
class Arrangement:
    """One way to set pads, straps and stop; x along the member, mm.

    outer: (from, to) of the two locating pads. contacts: x where the straps press at the datum and far end, None
    where there is no plain metal for them. shift: how far the screws stand nearer the middle than the contacts. stop: "pin",
    "dowel" or "none". by_hand: whether the screws' holes are drilled by hand.
    """

    outer: tuple[tuple[float, float], tuple[float, float]]
    contacts: tuple[float | None, float | None]
    shift: float
    stop: Literal["pin", "dowel", "none"]
    by_hand: bool


@dataclass(frozen=True)
class Bench:
    """What every arrangement shares: the sides as they lie, the wishes, and the metal that is cut, by side."""

    member: Member
    job: Job
    lyings: tuple[Lying, ...]
    cut: tuple[MultiPolygon | Polygon, ...]
    stop_t: float | None

    @property
    def placing(self) -> Placing:
        """The job's wishes for placing."""
        return self.job.file.placing

    @property
    def half(self) -> float:
        """Half the width of the widest slot, with its clearance, mm."""
        return max(y.half_width for y in self.lyings) + CLEARANCE[self.placing.fit] / 2

    @property
    def screw_t(self) -> float:
        """Where the clamp screws stand, either side of the slot's middle, mm."""
        return self.half + HOLE_WALL + self.placing.insert_hole / 2

    @property
    def signs(self) -> tuple[float, ...]:
        """Sides of the slot that carry a strap at each end: both, or the left alone where two toes would meet."""
        narrowest = min(y.half_flat for y in self.lyings)
        return (1.0, -1.0) if narrowest >= 2 * TOE else (1.0,)

    @property
    def pad_width_needed(self) -> float:
        """Least width of a pad that holds slot and clamp screws, mm."""
        return 2 * (self.screw_t + self.placing.insert_hole / 2 + HOLE_EDGE)

    @property
    def strap_width(self) -> float:
        """Width of a strap, mm."""
        return STRAP_WIDTH[self.placing.clamp_screw]

    @property
    def keep(self) -> float:
        """Least distance of a strap from any cut: the largest cutter's radius and 1 mm."""
        return max(c.diameter for c in self.job.cutters) / 2 + LEAD_IN


def make_bench(member: Member, job: Job, lyings: Sequence[Lying]) -> Bench:
    """Gather what every arrangement shares."""
    cut = tuple(unary_union(_cut_outlines(member, y.face)) for y in lyings)
    for shape in cut:
        prepare(shape)
    return Bench(member, job, tuple(lyings), cut, _stop_place(member, lyings))


def _cut_outlines(member: Member, face: str) -> list[Polygon]:
    out = [p.outline for p in member.pockets if p.face == face]
    out += [n.outline for n in member.notches if n.face == face]
    for hole in member.holes:
        if hole.face == face:
            widest = max(hole.diameter, hole.counterbore[0] if hole.counterbore else 0.0)
            out.append(Point(hole.at).buffer(widest / 2))
    return out


def _stop_place(member: Member, lyings: Sequence[Lying]) -> float | None:
    """t of the stop: nearest the middle where, on every side, low metal of the datum end meets it and no notch does."""
    notches = []
    for notch in member.notches:
        if notch.end == "datum":
            _, s0, _, s1 = notch.outline.bounds
            face = member.section.face(notch.face)
            corners = np.array([(0, s0, 0), (0, s1, 0), (0, s1, -notch.depth), (0, s0, -notch.depth)])
            notches.append(Polygon(face.to_member(corners)[:, 1:]))
    widest = max(y.half_width for y in lyings)
    r = STOP_PIN / 2
    for t in sorted(np.arange(-widest + r, widest - r + 1e-9, 0.5), key=lambda v: (abs(v), v)):
        if all(_stops(member, y, float(t), notches) for y in lyings):
            return float(t)
    return None


def _stops(member: Member, lying: Lying, t: float, notches: Sequence[Polygon]) -> bool:
    s, r = t + lying.centre, STOP_PIN / 2
    face = member.section.face(lying.face)
    wide = box(s - r - 1, -lying.height, s + r + 1, -lying.height + PIN_REACH)
    narrow = box(s - r, -lying.height, s + r, -lying.height + PIN_REACH)
    if any(seen_from(n, face).intersects(wide) for n in notches):
        return False
    return float(narrow.intersection(lying.section).area) > STOP_PIN


def straps_of(bench: Bench, lying: Lying, contact: float, screw_x: float) -> tuple[Strap, ...]:
    """The straps at one end for one side, in that side's (x, s), the left one first."""
    found = []
    for sign in bench.signs:
        edge = sign * lying.half_flat - lying.centre
        at = edge - sign * min(TOE, lying.half_flat / 2)
        strap = strap_at(
            (contact, at), (screw_x, sign * bench.screw_t), bench.placing.pad_width / 2, bench.strap_width
        )
        found.append(strap.moved(lying.centre))
    return tuple(found)


def strap_gap(bench: Bench, contact: float, screw_x: float) -> float:
    """Least distance of the straps at one end from any cut on any side, mm."""
    gaps = [float("inf")]
    for lying, cut in zip(bench.lyings, bench.cut, strict=True):
        if not cut.is_empty:
            gaps += [float(s.footprint.distance(cut)) for s in straps_of(bench, lying, contact, screw_x)]
    return min(gaps)


def _contacts(bench: Bench, shift: float) -> tuple[float | None, float | None]:
    """Where straps can press at the two ends: the innermost plain place in the outer tenth of the member."""
    length, half = bench.member.length, bench.strap_width / 2
    first = half + 2
    last = max(first, min(0.1 * length + half, length / 2 - half - shift))
    tries = np.arange(last, first - 1e-9, -1.0)
    ends: list[float | None] = []
    for contacts, inward in ((tries, shift), (length - tries, -shift)):
        plain = np.flatnonzero(_plain(bench, contacts, inward))
        ends.append(float(contacts[plain[0]]) if len(plain) else None)
    return ends[0], ends[1]


def _plain(bench: Bench, contacts: np.ndarray, inward: float) -> np.ndarray:
    """Whether straps pressing at each x keep their distance from every cut on every side, shape (k,)."""
    clear = np.ones(len(contacts), dtype=bool)
    for lying, cut in zip(bench.lyings, bench.cut, strict=True):
        for strap in straps_of(bench, lying, 0.0, inward) if not cut.is_empty else ():
            ring = np.asarray(strap.footprint.exterior.coords)
            along = np.zeros((len(contacts), 1, 2))
            along[:, 0, 0] = contacts
            clear &= ~dwithin(cut, polygons(ring + along), bench.keep)
    return clear


def _outer(
    bench: Bench, contacts: tuple[float | None, float | None], setback: float, pin: bool
) -> tuple[tuple[float, float], tuple[float, float]]:
    """(from, to) of the two locating pads: each begins `setback` mm outside its contact."""
    length, long = bench.member.length, bench.placing.pad_length
    low = max(2.0, (contacts[0] if contacts[0] is not None else 20.0) - setback)
    if pin:
        low = -(STOP_PIN + PIN_ROOM)
    high = min(length - 2.0, (contacts[1] if contacts[1] is not None else length - 20.0) + setback)
    long = min(long, (high - low - BETWEEN_PADS) / 2)
    return (low, low + long), (high - long, high)


def arrangements(bench: Bench) -> Iterator[Arrangement]:
    """All arrangements worth trying, best liked first.

    Liked: a pin rather than a dowel, screws' holes bored by the machine, straps straight across, pads that reach well past
    the straps. Last come pads drawn in from the ends, which leave the straps beyond them.
    """
    at = cache(lambda shift: _contacts(bench, shift))
    half = bench.strap_width / 2
    stops: tuple[Literal["pin", "dowel"], ...] = ("pin", "dowel") if bench.stop_t is not None else ()
    for by_hand in (False, True):
        for stop in (*stops, *(("none",) if by_hand or not stops else ())):
            for shift in SHIFTS if not by_hand else SHIFTS[:1]:
                for setback in (half + 4, 4.0):
                    outer = _outer(bench, at(shift), setback, stop == "pin")
                    found = Arrangement(outer, at(shift), shift, stop, by_hand)
                    if _makes_sense(bench, found):
                        yield found
    last_stops: tuple[Literal["dowel", "none"], ...] = ("dowel", "none") if stops else ("none",)
    for last_stop in last_stops:
        for setback in np.arange(-10.0, -bench.member.length / 3, -10.0):
            outer = _outer(bench, at(0.0), float(setback), False)
            found = Arrangement(outer, at(0.0), 0.0, last_stop, True)
            if _makes_sense(bench, found):
                yield found


def _makes_sense(bench: Bench, a: Arrangement) -> bool:
    """Pads long enough, and every hole the machine bores inside its pad."""
    if a.outer[0][1] - a.outer[0][0] < SHORTEST or a.outer[0][1] > a.outer[1][0]:
        return False
    room = bench.placing.insert_hole / 2 + HOLE_EDGE
    return a.by_hand or all(
        any(x0 + room <= x <= x1 - room for x0, x1 in a.outer) for x, _ in screws(bench, a)
    )


def screws(bench: Bench, a: Arrangement) -> tuple[tuple[float, float], ...]:
    """(x, t) of the clamp screws, at each end that has a place for straps."""
    xs = []
    if a.contacts[0] is not None:
        xs.append(a.contacts[0] + a.shift)
    if a.contacts[1] is not None:
        xs.append(a.contacts[1] - a.shift)
    return tuple((x, sign * bench.screw_t) for x in xs for sign in bench.signs)


def stop_at(bench: Bench) -> tuple[float, float]:
    """(x, t) of the stop: it touches the datum end."""
    return (-STOP_PIN / 2, bench.stop_t or 0.0)


def pad_positions(bench: Bench, a: Arrangement) -> Needed:
    """Cutter-centre positions for the pads in (x, t): slots of the locating pads, screw holes, stop.

    A slot is taken to be cut with the largest flat cutter, whose centre runs past both ends of the pad by its
    radius and 1 mm; holes are bored with the largest flat cutter that enters them; a dowel needs its centre.
    """
    flats = flat_diameters(bench.job.cutters)
    radius = (flats[-1] if flats else 0.0) / 2
    over = radius + LEAD_IN
    parts = []
    for x0, x1 in a.outer:
        points = rectangle((x0 - over, x1 + over), (-(bench.half - radius), bench.half - radius))
        parts.append(Needed(points, ("slot of a pad",) * len(points)))
    if not a.by_hand:
        for at in screws(bench, a):
            points = bored(at, bench.placing.insert_hole, flats)
            parts.append(Needed(points, ("hole of a clamp screw",) * len(points)))
    if a.stop == "pin":
        points = bored(stop_at(bench), STOP_PIN, flats)
        parts.append(Needed(points, ("hole of the stop pin",) * len(points)))
    if a.stop == "dowel":
        parts.append(Needed(np.array([stop_at(bench)]), ("stop dowel",)))
    return gathered(parts)


def make_pads(bench: Bench, a: Arrangement) -> tuple[Pad, ...]:
    """The pads in (x, t), from the datum end: the outer two locate, the others carry."""
    p = bench.placing
    long = a.outer[0][1] - a.outer[0][0]
    gap = a.outer[1][0] - a.outer[0][1]
    inner = max(0, min(p.pads - 2, int((gap - BETWEEN_PADS) // (long + BETWEEN_PADS))))
    starts = np.linspace(a.outer[0][0], a.outer[1][0], inner + 2)
    play = CLEARANCE[p.fit] / 2
    holes = screws(bench, a)
    pads = []
    for i, x0 in enumerate(float(v) for v in starts):
        locates = i in (0, len(starts) - 1)
        wide = max(y.half_width for y in bench.lyings) + CARRY
        slot = {
            y.face: (-(y.half_width + play), y.half_width + play) if locates else (-wide, wide)
            for y in bench.lyings
        }
        mine = tuple(h for h in holes if (h[0] < bench.member.length / 2) == (i == 0)) if locates else ()
        stop = stop_at(bench) if a.stop == "pin" and i == 0 else None
        pads.append(
            Pad(
                name=f"pad {i + 1}",
                x=(x0, x0 + long),
                s=(-p.pad_width / 2, p.pad_width / 2),
                thickness=p.pad_thickness,
                slot=slot,
                slot_depth=p.slot_depth,
                locates=locates,
                inserts=() if a.by_hand else mine,
                insert_diameter=p.insert_hole,
                stop=stop,
                stop_diameter=STOP_PIN if stop else 0.0,
                by_hand=mine if a.by_hand else (),
            )
        )
    return tuple(pads)


def shifted_pad(pad: Pad, ds: float) -> Pad:
    """The same pad with ds added to every position across, mm: from (x, t) to a side's (x, s)."""

    def place(at: tuple[float, float]) -> tuple[float, float]:
        return (at[0], at[1] + ds)

    return Pad(
        name=pad.name,
        x=pad.x,
        s=(pad.s[0] + ds, pad.s[1] + ds),
        thickness=pad.thickness,
        slot={side: (low + ds, high + ds) for side, (low, high) in pad.slot.items()},
        slot_depth=pad.slot_depth,
        locates=pad.locates,
        inserts=tuple(place(h) for h in pad.inserts),
        insert_diameter=pad.insert_diameter,
        stop=place(pad.stop) if pad.stop else None,
        stop_diameter=pad.stop_diameter,
        by_hand=tuple(place(h) for h in pad.by_hand),
    )
