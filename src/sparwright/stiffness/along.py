"""The reworked member as a beam, piecewise along x: each plain end, field, hole, pocket and notch with its own constants."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sparwright.stiffness.along_cuts import pattern_key
from sparwright.stiffness.along_notch import notched_section, twist_factor
from sparwright.stiffness.along_zones import Bays, Zone, zone_pattern, zones_along
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.pattern import Pattern
from sparwright.stock.model import Member, NotchCut

STIFFNESSES = ("EA", "EIy", "EIz", "GJ", "GAy", "GAz")


@dataclass(frozen=True)
class Part:
    """A stretch of the member with one set of constants.

    start, end: along x, mm. kind: "plain", "field", "hole", "pocket" or "notch". names: the features in it,
    those too small to count among them. softest_GJ: at a notch, the twist stiffness of its open section free to
    warp, N mm²; the true one lies between it and `properties.GJ`. None elsewhere.
    """

    start: float
    end: float
    kind: str
    names: tuple[str, ...]
    properties: BeamProperties
    softest_GJ: float | None = None

    @property
    def length(self) -> float:
        """Its length, mm."""
        return self.end - self.start


def member_along(
    member: Member,
    intact: BeamProperties,
    constants: Callable[[Pattern], BeamProperties],
    fields: Callable[[Bays], BeamProperties],
) -> tuple[Part, ...]:
    """The member from 0 to its length as parts that follow one another.

    intact: of the section. constants: of an endless member with a pattern; fields: with fields that lie over the same stretch.
    Each is asked once for what occurs more than once. Raises what they raise.

    How the member is divided is told at the head of `along_zones`. Where a notch meets a field or a hole, both
    weakenings are multiplied.
    """
    asked: dict[object, BeamProperties] = {}

    def once(key: object, ask: Callable[[], BeamProperties]) -> BeamProperties:
        if key not in asked:
            asked[key] = ask()
        return asked[key]

    def part(zone: Zone) -> Part:
        names = tuple(dict.fromkeys(b.field for b in zone.bays))
        if zone.cut:
            pattern = zone_pattern(member, zone)
            found = once(pattern_key(pattern), lambda: constants(pattern))
            kind = "pocket" if any(f.kind == "pocket" for f in zone.cut) else "hole"
            names += tuple(f.name for f in zone.cut)
        elif zone.bays:
            found, kind = once(tuple(id(b) for b in zone.bays), lambda: fields(zone.bays)), "field"
        else:
            found, kind = intact, "plain"
        return Part(zone.start, zone.end, kind, names + zone.lumped, found)

    return tuple(_with_notches(member, intact, [part(z) for z in zones_along(member)]))


def _with_notches(member: Member, intact: BeamProperties, parts: Sequence[Part]) -> list[Part]:
    """Parts with the notches' stretches cut out of them."""
    spans = {n.id: _span(member, n) for n in member.notches}
    marks = sorted({x for span in spans.values() for x in span})
    out: list[Part] = []
    for part in parts:
        inner = [x for x in marks if part.start < x < part.end]
        for low, high in pairwise([part.start, *inner, part.end]):
            open_here = tuple(n for n in member.notches if spans[n.id][0] <= low and spans[n.id][1] >= high)
            piece = replace(part, start=low, end=high)
            out.append(_notched(member, intact, piece, open_here) if open_here else piece)
    return out


def _span(member: Member, notch: NotchCut) -> tuple[float, float]:
    low, _, high, _ = notch.outline.bounds
    return max(0.0, low), min(member.length, high)


def _notched(member: Member, intact: BeamProperties, part: Part, notches: tuple[NotchCut, ...]) -> Part:
    """A part over which notches are open.

    Its inner end goes on as the closed section, which does not warp; that much hold is a fact and is counted, but
    the part is never made stiffer in twist than the metal left beside the notch.
    """
    found = notched_section(member.section, member.material, notches)
    p = found.properties
    length = max(_span(member, n)[1] - _span(member, n)[0] for n in notches)
    left = p.EA / intact.EA
    held = min(p.GJ / twist_factor(length, found.warping), left * intact.GJ)
    ratio = {
        key: getattr(part.properties, key) / getattr(intact, key) for key in STIFFNESSES if key != "EIyz"
    }
    values = {key: getattr(p, key) * r for key, r in ratio.items()}
    values["GJ"] = max(held, p.GJ) * ratio["GJ"]
    values["EIyz"] = p.EIyz * (ratio["EIy"] * ratio["EIz"]) ** 0.5
    values["mass_kg_per_m"] = p.mass_kg_per_m * part.properties.mass_kg_per_m / intact.mass_kg_per_m
    names = tuple(n.id for n in notches) + part.names
    return Part(part.start, part.end, "notch", names, replace(p, **values), p.GJ * ratio["GJ"])
