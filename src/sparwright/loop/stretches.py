"""The member as stretches of beam: before it is reworked, and after with each part's own constants and mass."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.loop.elements import Span, Stretch
from sparwright.loop.inertia import Inertia, part_inertia, plain_inertia, worked_inertia
from sparwright.stiffness.along import Part
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member


def worked_spans(member: Member) -> list[Span]:
    """Where along x the section is reworked: the union of the fields' spans, within the member."""
    spans: list[Span] = []
    for low, high in sorted(bay.span for bay in member.bays):
        low, high = max(low, 0.0), min(high, member.length)
        if high <= low:
            continue
        if spans and low <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], high))
        else:
            spans.append((low, high))
    return spans


def plain_stretches(member: Member, intact: BeamProperties) -> tuple[Stretch, ...]:
    """The member before it is reworked."""
    inertia = plain_inertia(member.section.shape, member.material.density * 1e-12)
    return (_stretch(0.0, member.length, intact, inertia),)


def stretches_from(member: Member, parts: Sequence[Part]) -> tuple[Stretch, ...]:
    """The reworked member's parts with their inertia: of all the metal really left in each, smeared along it."""
    density = member.material.density * 1e-12
    return tuple(
        Stretch(p.start, p.end, p.properties, part_inertia(member, density, p.start, p.end)) for p in parts
    )


def worked_stretches(member: Member, intact: BeamProperties, reworked: BeamProperties) -> tuple[Stretch, ...]:
    """The member reworked. Single pockets, holes and notches are not counted, only fields."""
    density = member.material.density * 1e-12
    plain = plain_inertia(member.section.shape, density)
    worked = worked_inertia(member, density, member.bays)
    out: list[Stretch] = []
    at = 0.0
    for low, high in worked_spans(member):
        if low > at:
            out.append(_stretch(at, low, intact, plain))
        out.append(_stretch(low, high, reworked, worked))
        at = high
    if at < member.length:
        out.append(_stretch(at, member.length, intact, plain))
    return tuple(out)


def _stretch(start: float, end: float, properties: BeamProperties, inertia: Inertia) -> Stretch:
    """A stretch whose mass is the stiffness model's, spread as the outlines spread it."""
    return Stretch(start, end, properties, inertia.scaled(properties.mass_kg_per_m * 1e-6))
