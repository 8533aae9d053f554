"""Supports and carriages near pockets: places where a load stands on a pocket or close to where a field stops."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.answers import BadInput, Finding, Verdict
from sparwright.stock.model import Member

# Distance from a load to a field's end, over the section's depth, from which the jump in stiffness no longer matters: local stress
# dies away within about the depth of the section (Saint-Venant); half of it is common practice, no source.
CLEAR = 0.5


def end_findings(member: Member, places: Sequence[float]) -> list[Finding]:
    """One finding a field for the place that stands worst: over a pocket, or nearer to the field's end than half the section's depth.

    places: x of supports, clamps and carriages' wheels, mm. A field without a place near it gives nothing.
    Raises BadInput for a place off the member.
    """
    for x in places:
        if not 0 <= x <= member.length:
            raise BadInput(f"a support at x = {x:g} mm is off the member; allowed: 0 to {member.length:g} mm")
    left, bottom, right, top = member.section.shape.bounds
    clear = CLEAR * max(right - left, top - bottom)
    spans: dict[str, list[tuple[float, float]]] = {}
    for pocket in member.pockets:
        low, _, high, _ = pocket.outline.bounds
        spans.setdefault(pocket.field or pocket.id, []).append((low, high))
    out = []
    for name, pockets in spans.items():
        worst = min(
            ((_distance(x, pockets), x) for x in places), default=(clear, 0.0), key=lambda p: (p[0], p[1])
        )
        if worst[0] < clear:
            out.append(_finding(name, worst[1], worst[0], clear))
    return out


def _distance(x: float, pockets: Sequence[tuple[float, float]]) -> float:
    """Distance along the member from a place to the nearest pocket, 0 over one, mm."""
    return min(max(low - x, x - high, 0.0) for low, high in pockets)


def _finding(name: str, x: float, distance: float, clear: float) -> Finding:
    if distance <= 0:
        what = f"A load at x = {x:.0f} mm stands over a pocket of {name}, where the wall is thinnest"
    else:
        what = f"A load at x = {x:.0f} mm stands {distance:.0f} mm from the nearest pocket of {name}, where stiffness jumps"
    return Finding(
        f"load near pockets, {name}",
        Verdict.CAUTION,
        distance,
        "mm",
        clear,
        distance - clear,
        why=f"{what}. Stop the field {clear:.0f} mm short of it with a keep-clear zone, or move the load.",
        where=f"x = {x:.0f} mm",
    )
