"""Peak stress at pocket corners under the service load, against the metal's proof strength."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.answers import Finding, Verdict
from sparwright.stiffness.flows import Soft, WallFlow, wall_flow
from sparwright.stiffness.local_walls import hollow_walls
from sparwright.stiffness.model import SectionForces
from sparwright.stiffness.peak import StripPeaks, strip_peaks
from sparwright.stiffness.peak_mesh import Strip, make_strip
from sparwright.stock.model import FieldBay, Member, Pocket
from sparwright.stock.section import wall_range

# Peak in solid elements over that of the flat strip, least and greatest: windows 41 to 45 against 47. Over a skin the wall bends, because the
# skin hangs off its middle: 1.1 to 1.4 on fine meshes of order 3, 1.5 to 1.9 on coarse ones of order 2, where single bad elements
# rule; the upper end is kept. Under the skin itself 0.93 to 1.16. The foot of a sharp-edged floor has more and is not in
# it. (Own trials: hexagon 22, rib 4, wall 4, skins 0.5 to 2, corners 1.5 to 5 mm, in shear; in axial force 1.3 to 1.45 on a wall by itself.)
WINDOW = (0.87, 1.0)
OVER_SKIN = (1.1, 1.9)
UNDER_SKIN = (0.93, 1.2)
# Share of proof strength that a load coming back millions of times should stay under. Fully reversed tests of 6061-T6 run down to
# 96.5 MPa, about 0.4 of its 240 MPa proof strength, without an endurance limit; the design curve takes half (a collection of published tests
# with its fitted curve, seen second-hand). The same share is taken for the other alloys: common practice, no source.
FATIGUE = 0.2
# Length of a strip round a single pocket, over its own length on either side.
ALONE = 1.5


@dataclass(frozen=True)
class Place:
    """A patterned wall: a field's regular part, or a single pocket, on one face, over one stretch of wall.

    start: x on the member where the strip's x = 0 lies, mm; span: x from and to, mm.
    """

    name: str
    face: str
    strip: Strip
    start: float
    span: tuple[float, float]


@dataclass(frozen=True)
class Peak:
    """The worst of one place: value with half-width, MPa; x of it; gross flow q and axial force per width n there, N/mm."""

    place: Place
    value: float
    spread: float
    x: float
    q: float
    n: float
    pocket: str


def places(member: Member) -> tuple[Place, ...]:
    """Every patterned wall of the member, each field once a face and cell, then single pockets, the largest of each name and face."""
    found = []
    for bay in member.bays:
        found += _bay_places(member, bay)
    regular = {(b.field, b.face) for b in member.bays}
    single: dict[tuple[str, str], Pocket] = {}
    for pocket in member.pockets:
        key = (pocket.field or pocket.id, pocket.face)
        if key not in regular and (key not in single or pocket.outline.area > single[key].outline.area):
            single[key] = pocket
    for (name, _), pocket in single.items():
        found.append(_single_place(member, name, pocket))
    return tuple(found)


def _bay_places(member: Member, bay: FieldBay) -> list[Place]:
    out = []
    for low, high, thickness in stretches_under(member, bay.face, bay.outlines):
        mine = tuple(o for o in bay.outlines if low < o.centroid.y < high)
        if mine:
            strip = make_strip(bay.pitch, (low, high), thickness, bay.skin, mine, _held(member, bay.face))
            out.append(Place(bay.field, bay.face, strip, bay.span[0], bay.span))
    return out


def _single_place(member: Member, name: str, pocket: Pocket) -> Place:
    low, high, thickness = next(
        w
        for w in stretches_under(member, pocket.face, (pocket.outline,))
        if w[0] < pocket.outline.centroid.y < w[1]
    )
    left, _, right, _ = pocket.outline.bounds
    length = (1 + 2 * ALONE) * (right - left)
    start = left - ALONE * (right - left)
    outline = Polygon(np.asarray(pocket.outline.exterior.coords) - [start, 0.0])
    strip = make_strip(length, (low, high), thickness, pocket.skin, (outline,), _held(member, pocket.face))
    return Place(name, pocket.face, strip, start, (left, right))


def _held(member: Member, face: str) -> bool:
    """Whether walls beside carry the sides of the wall under a face: so over cells."""
    return bool(hollow_walls(member.section, member.section.face(face)))


def stretches_under(
    member: Member, face_name: str, outlines: Sequence[Polygon]
) -> list[tuple[float, float, float]]:
    """Stretches of wall that these pockets lie in: s from and to, and least thickness under the pockets, mm.

    Over cells each reaches to the middle of its side walls; pockets that lie over a web make one stretch of all. A
    profile without a cell there has one stretch, the face.
    """
    face = member.section.face(face_name)
    walls = hollow_walls(member.section, face)
    bottom, top = min(o.bounds[1] for o in outlines), max(o.bounds[3] for o in outlines)
    found = [(w.low - w.side / 2, w.high + w.side / 2) for w in walls]
    if any(not any(a < o.bounds[1] and o.bounds[3] < b for a, b in found) for o in outlines):
        ends = [v for pair in found for v in pair] + [-face.width / 2, face.width / 2]
        found = [(min(ends), max(ends))]
    out = []
    for low, high in found:
        mine = [o for o in outlines if low < o.centroid.y < high]
        if mine:
            bottom, top = min(o.bounds[1] for o in mine), max(o.bounds[3] for o in mine)
            out.append((low, high, wall_range(member.section, face, bottom, top)[0]))
    return out


def peaks_of(place: Place, poisson: float) -> StripPeaks:
    """The strip's peaks; see peak.py."""
    return strip_peaks(place.strip, poisson)


def flow_of(member: Member, place: Place, all_places: Sequence[Place]) -> WallFlow:
    """Gross flow per unit force at a place, every patterned wall met there along x softened."""
    nu = member.material.poisson
    met = [p for p in all_places if p.span[0] < place.span[1] and p.span[1] > place.span[0]]
    soft = [
        Soft(p.face, p.strip.low, p.strip.high, p.strip.thickness, peaks_of(p, nu).axial_kept)
        for p in met
        if not _alone(p)
    ]
    bottom = min(o.bounds[1] for o in place.strip.outlines)
    top = max(o.bounds[3] for o in place.strip.outlines)
    face = member.section.face(place.face)
    return wall_flow(member.section, face, bottom, top, place.strip.thickness, soft)


def _alone(place: Place) -> bool:
    """Whether the place is a single pocket, whose softness reaches no further than itself."""
    return place.span[1] - place.span[0] < place.strip.period


def forces_along(forces: Sequence[SectionForces], span: tuple[float, float]) -> list[SectionForces]:
    """The forces given inside a span, and those at its ends, between two places in proportion, beyond the last as there."""
    ordered = sorted(forces, key=lambda f: f.x)
    xs = [f.x for f in ordered]
    ends = []
    for x in span:
        values = {
            k: float(np.interp(x, xs, [getattr(f, k) for f in ordered]))
            for k in ("N", "Vy", "Vz", "T", "My", "Mz")
        }
        ends.append(SectionForces(x, **values))
    return [ends[0], *(f for f in ordered if span[0] < f.x < span[1]), ends[1]]


def peak_stress(member: Member, place: Place, flow: WallFlow, forces: Sequence[SectionForces]) -> Peak:
    """Peak von Mises stress at a place: the peaks of shear and of axial force added, whatever their signs and corners."""
    p = peaks_of(place, member.material.poisson)
    t = place.strip.thickness
    worst = None
    for f in forces_along(forces, place.span):
        q, n = flow.of(f.T, f.Vy, f.Vz), flow.along(f.N, f.My, f.Mz)
        shear, axial = math.sqrt(3) * q / t, n / t
        low, high = corner_band(p, shear, axial, place.strip.skin > 0)
        if worst is None or low + high > worst[0] + worst[1]:
            at = p.shear_at if shear * p.shear >= axial * p.axial else p.axial_at
            worst = (low, high, f.x, q, n, at)
    assert worst is not None
    low, high, x, q, n, at = worst
    return Peak(place, (low + high) / 2, (high - low) / 2, x, q, n, _pocket(member, place, x, at))


def corner_band(p: StripPeaks, shear: float, axial: float, skin: bool) -> tuple[float, float]:
    """Least and greatest likely peak stress, MPa, for a gross wall stress: sqrt(3) q/t and n/t, MPa."""
    wall = shear * p.shear + axial * p.axial
    if not skin:
        return WINDOW[0] * wall, WINDOW[1] * wall
    under = shear * p.skin_peak_shear + axial * p.skin_peak_axial
    return max(OVER_SKIN[0] * wall, UNDER_SKIN[0] * under), max(OVER_SKIN[1] * wall, UNDER_SKIN[1] * under)


def _pocket(member: Member, place: Place, x: float, at: tuple[float, float]) -> str:
    """The pocket whose corner has the peak, at the place along x nearest to where the forces are greatest."""
    period = place.strip.period
    turns = max(round((x - place.start - at[0]) / period), 0) if not _alone(place) else 0
    spot = np.array([place.start + at[0] + turns * period, at[1]])
    mine = [p for p in member.pockets if p.face == place.face and (p.field or p.id) == place.name]

    def gap(p: Pocket) -> float:
        corners = np.asarray(p.outline.exterior.coords)
        return float(np.linalg.norm(corners - spot, axis=1).min())

    return min(mine, key=gap).id if mine else f"{place.name} on {place.face}"


def strength_findings(member: Member, forces: Sequence[SectionForces]) -> list[Finding]:
    """One finding a field: its worst pocket corner on any face. Empty without forces or pockets."""
    found = places(member)
    if not forces or not found:
        return []
    worst: dict[str, Peak] = {}
    for place in found:
        peak = peak_stress(member, place, flow_of(member, place, found), forces)
        if place.name not in worst or peak.value > 1.001 * worst[place.name].value:
            worst[place.name] = peak
    return [_finding(member, peak) for peak in worst.values()]


def _finding(member: Member, peak: Peak) -> Finding:
    limit = member.material.proof_strength
    high = peak.value + peak.spread
    kind = "skin" if peak.place.strip.skin > 0 else "window"
    why = (
        f"Von Mises stress at the hardest loaded pocket corner, x = {peak.x:.0f} mm. The {peak.place.strip.thickness:g} mm wall carries "
        f"{peak.q:.2f} N/mm of shear flow and {peak.n:.2f} N/mm of axial force there."
    )
    guide = not peak.place.strip.held
    if guide:
        why += " The profile is open and its walls twist like plates: the figure is a guide only, so load a trial piece."
    if high > limit:
        verdict = Verdict.CAUTION if guide else Verdict.NO_GO
        why += " It may pass the proof strength: " + _remedy(kind)
    elif high > FATIGUE * limit:
        verdict = Verdict.CAUTION
        why += (
            f" Over {FATIGUE * limit:.0f} MPa aluminium tires in time. Where this load keeps coming back, "
            + _remedy(kind)
        )
    else:
        verdict = Verdict.GO
        why += f" Under {FATIGUE * limit:.0f} MPa, so a load that keeps coming back does no harm either."
    return Finding(
        f"peak stress, {peak.place.name}",
        verdict,
        peak.value,
        "MPa",
        limit,
        limit - peak.value,
        peak.spread,
        why,
        peak.pocket,
    )


def _remedy(kind: str) -> str:
    if kind == "window":
        return "leave a skin, or make the ribs wider or the corner radius larger."
    return "leave a thicker skin, make the ribs wider, or keep the field clear of the loaded stretch."
