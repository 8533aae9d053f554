"""Where along x the member's constants change, and which period stands for each stretch.

A hole or a single pocket disturbs its neighbourhood, not its own length only. Its constants are those of an endless
member with such a feature every period, and the period is the feature's own length and the section's larger side,
so that one disturbance has all but died away before the next. (Twist dies away slowest: a 40 mm window in one wall of
a tube 80 x 40 x 4 came out a tenth too soft in what it adds, to the safe side.) Where neighbours, fields or the
member's end come nearer, the period ends half-way to them. Features with less than half a wall thickness between them
share one period.

On a face with a field over it the field keeps metal round a hole by dropping pockets, which its constants count as
cut; so a hole or pocket there gets a stretch of its own only where it takes more than a pocket of that field.
The smallest features get none, as long as they take no more than LEAST_TOGETHER of the member's metal between them:
a few holes soften a thin plate by three times their open share (1 - 3 phi, the dilute limit), shear alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sparwright.stiffness.along_cuts import Feature, cell_pattern, features, repeated, with_features
from sparwright.stiffness.pattern import Pattern, field_patterns
from sparwright.stiffness.section import wall_scale
from sparwright.stock.model import FieldBay, Member

# Share of the member's metal that features without constants of their own may take together, and share of its own
# stretch's metal that one of them may take.
LEAST_TOGETHER, LEAST_ALONE = 0.001, 0.01
# Features closer than this many mean wall thicknesses share a period.
CLOSE = 0.5

Bays = tuple[FieldBay, ...]
Group = tuple[Feature, ...]


@dataclass(frozen=True)
class Zone:
    """A stretch from and to along x, mm: the fields over it, the features cut in, the names of those not counted."""

    start: float
    end: float
    bays: Bays = ()
    cut: Group = ()
    lumped: tuple[str, ...] = ()


def zones_along(member: Member) -> list[Zone]:
    """The member from 0 to its length as zones that follow one another."""
    fields = _field_zones(member)
    found = [_inside(member, zone, features(member)) for zone in fields]
    groups = [_groups(member, _candidates(zone, here)) for zone, here in zip(fields, found, strict=True)]
    small = _too_small(member, fields, groups)
    out: list[Zone] = []
    for zone, here, mine in zip(fields, found, groups, strict=True):
        counted = [g for g in mine if g not in small]
        out += _divided(member, zone, counted, [f for f in here if not any(f in g for g in counted)])
    return out


def zone_pattern(member: Member, zone: Zone) -> Pattern:
    """The period that stands for a zone with features cut in."""
    if zone.bays:
        low, high = _extent(zone.cut)
        return with_features(_periods(member, zone, high - low), zone.cut, zone.bays[0].span[0])
    wall = wall_scale(member.section.shape)
    low, high = _extent(zone.cut)
    # A feature that reaches past its stretch still wants metal between itself and its next copy.
    return cell_pattern(zone.cut, min(zone.start, low - wall), max(zone.end, high + wall))


def _periods(member: Member, zone: Zone, length: float) -> Pattern:
    """As many periods of the zone's fields as a feature of this length has room in."""
    found = field_patterns(member.section, zone.bays, windows=False)
    pattern, _ = max(found, key=lambda each: each[1])
    return repeated(pattern, math.ceil((length + wall_scale(member.section.shape)) / pattern.period))


def _field_zones(member: Member) -> list[Zone]:
    """The member divided where the set of fields changes.

    A stretch shorter than half a pitch (fields that end a little apart, a short plain end) goes to a neighbour with
    more fields, which is the softer.
    """
    L = member.length
    marks = sorted({0.0, L, *(min(max(x, 0.0), L) for b in member.bays for x in b.span)})
    zones: list[Zone] = []
    for low, high in pairwise(marks):
        met = tuple(b for b in member.bays if b.span[0] <= low and b.span[1] >= high)
        zones.append(Zone(low, high, met))
    at = 0
    while len(zones) > 1 and at < len(zones):
        zone = zones[at]
        beside = [i for i in (at - 1, at + 1) if 0 <= i < len(zones)]
        least = min((b.pitch for i in (at, *beside) for b in zones[i].bays), default=0.0) / 2
        into = max(beside, key=lambda i: len(zones[i].bays))
        same = [i for i in beside if zones[i].bays == zone.bays]
        if same or (zone.end - zone.start < least and len(zones[into].bays) >= len(zone.bays)):
            into = same[0] if same else into
            first, last = sorted((at, into))
            zones[first : last + 1] = [replace(zones[into], start=zones[first].start, end=zones[last].end)]
            at = max(0, first - 1)
        else:
            at += 1
    return zones


def _inside(member: Member, zone: Zone, every: Sequence[Feature]) -> list[Feature]:
    """Features whose middle lies in the zone."""
    last = zone.end >= member.length
    return [f for f in every if zone.start <= f.middle < zone.end or (last and f.middle >= zone.end)]


def _candidates(zone: Zone, here: Sequence[Feature]) -> list[Feature]:
    """Features that a field of their own face does not make up for."""
    largest = {b.face: max(o.area * b.depth for o in b.outlines) for b in zone.bays}
    return [f for f in here if f.volume > largest.get(f.cut.face.name, 0.0)]


def _groups(member: Member, found: Sequence[Feature]) -> list[Group]:
    """Features in order, those close together in one group."""
    close = CLOSE * wall_scale(member.section.shape)
    groups: list[Group] = []
    for feature in found:
        if groups and feature.start - _extent(groups[-1])[1] < close:
            groups[-1] = (*groups[-1], feature)
        else:
            groups.append((feature,))
    return groups


def _extent(group: Group) -> tuple[float, float]:
    return min(f.start for f in group), max(f.end for f in group)


def _too_small(member: Member, zones: Sequence[Zone], groups: Sequence[Sequence[Group]]) -> list[Group]:
    """Groups that go without constants of their own, the smallest first until LEAST_TOGETHER is used up."""
    area = member.section.shape.area
    room = LEAST_TOGETHER * area * member.length
    sized = []
    for zone, mine in zip(zones, groups, strict=True):
        for low, high, group in _stretches(member, zone, mine):
            sized.append((sum(f.volume for f in group), area * (high - low), group))
    small: list[Group] = []
    for volume, whole, group in sorted(sized, key=lambda s: s[0]):
        if volume <= min(room, LEAST_ALONE * whole):
            room -= volume
            small.append(group)
    return small


def _stretches(member: Member, zone: Zone, groups: Sequence[Group]) -> list[tuple[float, float, Group]]:
    """From, to and features of each stretch round a group, in order."""
    if not groups:
        return []
    y0, z0, y1, z1 = member.section.shape.bounds
    side = max(y1 - y0, z1 - z0)
    extents = [_extent(g) for g in groups]
    out: list[tuple[float, float, Group]] = []
    for i, (group, (low, high)) in enumerate(zip(groups, extents, strict=True)):
        whole = _periods(member, zone, high - low).period if zone.bays else high - low + side
        reach = (whole - (high - low)) / 2
        before = (extents[i - 1][1] + low) / 2 if i else zone.start
        after = (high + extents[i + 1][0]) / 2 if i + 1 < len(extents) else zone.end
        out.append((max(before, low - reach), min(after, high + reach), group))
    return out


def _divided(member: Member, zone: Zone, groups: Sequence[Group], small: Sequence[Feature]) -> list[Zone]:
    """The zone with the groups' stretches in it, and the names of the small features where they lie."""
    out: list[Zone] = []
    at = zone.start
    for low, high, group in _stretches(member, zone, groups):
        if low > at:
            out.append(replace(zone, start=at, end=low))
        out.append(replace(zone, start=low, end=high, cut=group))
        at = high
    if at < zone.end:
        out.append(replace(zone, start=at, end=zone.end))
    return [replace(z, lumped=tuple(f.name for f in _inside(member, z, small))) for z in out]
