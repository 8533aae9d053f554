"""What holes and single pockets take out of the member, as cuts of a short stretch that is thought to repeat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.stiffness.pattern import PAST_WALL, Cut, Pattern
from sparwright.stock.model import Face, Hole, Member, Pocket, Section
from sparwright.stock.outlines import circle
from sparwright.stock.section import metal_below

CHORD = 0.005  # mm, greatest error of a hole's chords


@dataclass(frozen=True)
class Feature:
    """A hole or a single pocket: what it cuts, from and to along x, and the metal it takes, mm³."""

    name: str
    kind: str
    start: float
    end: float
    cut: Cut
    volume: float

    @property
    def middle(self) -> float:
        """Its middle along x."""
        return (self.start + self.end) / 2


def features(member: Member) -> tuple[Feature, ...]:
    """Holes, and pockets that no field's regular part counts, in order along x."""
    counted = {(b.field, b.face) for b in member.bays}
    single = [p for p in member.pockets if (p.field, p.face) not in counted]
    found = [_pocket(member.section, p) for p in single]
    found += [_hole(member.section, h) for h in member.holes]
    return tuple(sorted(found, key=lambda f: (f.start, f.name)))


def _pocket(section: Section, pocket: Pocket) -> Feature:
    low, _, high, _ = pocket.outline.bounds
    depth = pocket.depth + PAST_WALL if pocket.window else pocket.depth
    cut = Cut(section.face(pocket.face), pocket.outline, depth)
    return Feature(pocket.id, "pocket", low, high, cut, float(pocket.outline.area) * pocket.depth)


def _hole(section: Section, hole: Hole) -> Feature:
    """A counterbore is counted as a wider hole that takes the same metal."""
    face = section.face(hole.face)
    depth = hole.depth if hole.through == "blind" else hole.depth + PAST_WALL
    metal = metal_in_reach(section, face, hole.at[1], hole.depth)
    radius = hole.diameter / 2
    if hole.counterbore:
        wide, deep = hole.counterbore[0] / 2, min(hole.counterbore[1], metal)
        radius = ((wide**2 * deep + radius**2 * (metal - deep)) / metal) ** 0.5 if metal > 0 else radius
    outline = Polygon(circle(radius, CHORD) + np.asarray(hole.at))
    cut = Cut(face, outline, depth)
    x = hole.at[0]
    return Feature(hole.id, "hole", x - radius, x + radius, cut, float(outline.area) * metal)


def metal_in_reach(section: Section, face: Face, s: float, depth: float) -> float:
    """Metal met going in from the face at s to a depth, hollow cells left out, mm."""
    return sum(max(0.0, top - max(bottom, -depth)) for top, bottom in metal_below(section, face, s))


def cell_pattern(found: Sequence[Feature], start: float, end: float) -> Pattern:
    """A stretch with these features as one period, moved along so that they lie round its middle.

    Where a period is cut open does not matter; so features that lie alike give one and the same pattern.
    """
    period = round(end - start, 3)
    middle = (min(f.start for f in found) + max(f.end for f in found)) / 2
    cuts = [replace(f.cut, outline=translate(f.cut.outline, period / 2 - middle)) for f in found]
    cuts.sort(key=_key)
    return Pattern(period, 0.0, tuple(cuts))


def repeated(pattern: Pattern, count: int) -> Pattern:
    """Several periods of a pattern as one."""
    cuts = [
        replace(c, outline=translate(c.outline, k * pattern.period))
        for k in range(count)
        for c in pattern.cuts
    ]
    return Pattern(count * pattern.period, pattern.misfit, tuple(cuts))


def with_features(pattern: Pattern, found: Sequence[Feature], origin: float) -> Pattern:
    """A field's period with features added at their place; x = 0 of the period lies at `origin` on the member.

    Pockets of the field that a feature of their own face would meet were dropped there, and are left out.
    """
    turn = pattern.period * np.floor((found[0].middle - origin) / pattern.period)
    added = [replace(f.cut, outline=translate(f.cut.outline, -origin - turn)) for f in found]

    def stays(cut: Cut) -> bool:
        near = [translate(cut.outline, k * pattern.period) for k in (-1, 0, 1)]
        return not any(
            a.face.name == cut.face.name and any(n.intersects(a.outline) for n in near) for a in added
        )

    return replace(pattern, cuts=(*(c for c in pattern.cuts if stays(c)), *added))


def pattern_key(pattern: Pattern) -> tuple[object, ...]:
    """Equal for patterns that take the same metal from the same places."""
    return (round(pattern.period, 3), *(_key(c) for c in pattern.cuts))


def _key(cut: Cut) -> tuple[object, ...]:
    # Rounded first, so that the ring starts at the same corner whatever the last digits say.
    ring = Polygon(np.round(np.asarray(cut.outline.exterior.coords), 4) + 0.0).normalize()
    return (cut.face.name, round(cut.depth, 4), ring.wkb)
