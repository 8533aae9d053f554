"""The reworked member as a beam, piecewise along x: each plain end, field, hole, pocket and notch with its own constants."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from sparwright.stiffness.along_cuts import pattern_key
from sparwright.stiffness.along_notch import notch_pattern, open_twist_stiffness
from sparwright.stiffness.along_zones import Bays, Zone, zone_pattern, zones_along
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.pattern import Pattern
from sparwright.stiffness.section import wall_scale
from sparwright.stock.model import Member, NotchCut

STIFFNESSES = ("EA", "EIy", "EIz", "GJ", "GAy", "GAz")
# Notches that reach in no further than this share of the member's length are named only: solids showed 8 mm deep ones to
# add 2 mm of plain tube's twist, 30 mm ones 18 to 24 mm.
SHORT = 0.01


@dataclass(frozen=True)
class Part:
    """A stretch of the member with one set of constants.

    start, end: along x, mm. kind: "plain", "field", "hole", "pocket" or "notch". names: the features in it,
    those too small to count among them. softest_GJ: at a notch, the twist stiffness of its open section free to
    warp, N mm²; the true one lies between it and `properties.GJ`, which is for an end kept in shape (see
    `along_notch`). None elsewhere.
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

    parts = [part(z) for z in zones_along(member)]
    for end in ("datum", "far"):
        here = tuple(n for n in member.notches if n.end == end)
        notches = tuple(n for n in here if _depth(member, n) > SHORT * member.length)
        at = 0 if end == "datum" else -1
        short = tuple(n.id for n in here if n not in notches)
        parts[at] = replace(parts[at], names=parts[at].names + short)
        if notches:
            low, high = _notched_stretch(member, parts, notches)
            pattern = notch_pattern(member, notches, high - low)
            found = once(pattern_key(pattern), lambda pattern=pattern: constants(pattern))  # type: ignore[misc]
            softest = open_twist_stiffness(member.section, member.material, notches)
            parts = _with_notch(
                parts,
                intact,
                (low, high),
                Part(low, high, "notch", tuple(n.id for n in notches), found, softest),
            )
    return tuple(parts)


def _notched_stretch(
    member: Member, parts: Sequence[Part], notches: Sequence[NotchCut]
) -> tuple[float, float]:
    """From the member's end over the notch and half the section's larger side, or to the next field or hole.

    At least a wall's thickness of metal stays between the notch and its next copy.
    """
    y0, z0, y1, z1 = member.section.shape.bounds
    wall = wall_scale(member.section.shape)
    depth = max(_depth(member, n) for n in notches)
    far = notches[0].end == "far"
    first = parts[-1] if far else parts[0]
    reach = depth + max(y1 - y0, z1 - z0) / 2
    if first.kind == "plain":
        reach = min(reach, first.length)
    reach = min(max(reach, depth + wall), member.length)
    return (member.length - reach, member.length) if far else (0.0, reach)


def _depth(member: Member, notch: NotchCut) -> float:
    """How far the notch reaches in from its end, mm."""
    low, _, high, _ = notch.outline.bounds
    return high if notch.end == "datum" else member.length - low


def _with_notch(
    parts: Sequence[Part], intact: BeamProperties, span: tuple[float, float], notch: Part
) -> list[Part]:
    """Parts with the notch's stretch laid over them; over another part than a plain one both weakenings multiply."""
    out: list[Part] = []
    for part in parts:
        marks = [part.start, *(x for x in span if part.start < x < part.end), part.end]
        for low, high in pairwise(marks):
            inside = span[0] <= low and high <= span[1]
            piece = replace(part, start=low, end=high)
            out.append(_both(piece, intact, notch) if inside else piece)
    return out


def _both(part: Part, intact: BeamProperties, notch: Part) -> Part:
    ratio = {key: getattr(part.properties, key) / getattr(intact, key) for key in STIFFNESSES}
    values = {key: getattr(notch.properties, key) * r for key, r in ratio.items()}
    values["EIyz"] = notch.properties.EIyz * (ratio["EIy"] * ratio["EIz"]) ** 0.5
    values["mass_kg_per_m"] = (
        notch.properties.mass_kg_per_m * part.properties.mass_kg_per_m / intact.mass_kg_per_m
    )
    assert notch.softest_GJ is not None
    return replace(
        notch,
        start=part.start,
        end=part.end,
        names=notch.names + part.names,
        properties=replace(notch.properties, **values),
        softest_GJ=notch.softest_GJ * ratio["GJ"],
    )
