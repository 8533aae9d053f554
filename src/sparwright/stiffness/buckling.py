"""Buckling of skins under pockets and of the walls between corners, under the service load.

A skin is taken as a plate of its pocket's bounding rectangle with hinged edges: larger and looser than it is, so the answer is
low. A wall is a long plate between hinged corner lines. Formulas: Timoshenko and Gere, Theory of Elastic Stability (shear
coefficients seen second-hand, EN 1993-1-5 has them too; the sum of shear squared and compression from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.answers import BadInput, Finding, Verdict
from sparwright.job.models import Material
from sparwright.stiffness.flows import Soft, wall_flow
from sparwright.stiffness.local_walls import hollow_walls
from sparwright.stiffness.model import SectionForces
from sparwright.stiffness.peak import strip_kept
from sparwright.stiffness.strength import Place, flow_of, forces_along, peaks_of, places
from sparwright.stock.model import Member

# Times the service load a plate should stand before it buckles: common practice, no source.
RESERVE = 1.5


def shear_coefficient(a: float, b: float, clamped: bool = False) -> float:
    """k of tau = k pi² D/(b² t) for a plate a by b, mm, whichever is longer: 5.34 + 4 (b/a)² hinged, 8.98 + 5.6 (b/a)² clamped.

    Within 1 % of a Ritz solution at a square. b in the stress formula is the shorter side.
    """
    share = min(a, b) / max(a, b)
    return 8.98 + 5.6 * share**2 if clamped else 5.34 + 4 * share**2


def compression_coefficient(a: float, b: float) -> float:
    """k of sigma = k pi² D/(b² t) for a hinged plate pressed along a, mm; b across: the least of (m b/a + a/(m b))² over half-waves m.

    4 for a long plate; toward (b/a)² where it is shorter than wide.
    """
    m = max(1, round(a / b))
    return min((n * b / a + a / (n * b)) ** 2 for n in (max(1, m - 1), m, m + 1))


def plate_stress(material: Material, thickness: float, b: float) -> float:
    """pi² E/(12 (1 - nu²)) (t/b)², MPa: what the coefficients multiply. Raises BadInput for a measure that is not above 0."""
    if not (thickness > 0 and b > 0):
        raise BadInput(f"a plate {thickness:g} mm thick and {b:g} mm wide: both must be above 0")
    return math.pi**2 * material.modulus / (12 * (1 - material.poisson**2)) * (thickness / b) ** 2


def load_factor(shear: float, compression: float) -> float:
    """How many times both may grow before the plate buckles, from their shares of the critical stress alone: (f s)² + f c = 1.

    inf without load.
    """
    if shear <= 0:
        return 1 / compression if compression > 0 else math.inf
    return 2 / (compression + math.sqrt(compression**2 + 4 * shear**2))


def skin_critical(outline: Polygon, skin: float, material: Material) -> tuple[float, float]:
    """Critical shear and compression of a skin, MPa: of the narrowest rectangle round its pocket, edges hinged.

    Compression is that of the plate pressed the long way or the short way, whichever it stands less.
    """
    short, long = rectangle_round(outline)
    unit = plate_stress(material, skin, short)
    short_way = compression_coefficient(short, long) * (short / long) ** 2
    return shear_coefficient(long, short) * unit, min(compression_coefficient(long, short), short_way) * unit


def rectangle_round(outline: Polygon) -> tuple[float, float]:
    """Shorter and longer side of the rectangle of least area round an outline, mm."""
    corners = np.asarray(shapely.minimum_rotated_rectangle(outline).exterior.coords)
    sides = sorted((math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])))
    return sides[0], sides[1]


def buckling_findings(member: Member, forces: Sequence[SectionForces]) -> list[Finding]:
    """The skin of each field that stands least, and the wall that stands least. Empty without forces."""
    if not forces:
        return []
    found = places(member)
    out = []
    worst: dict[str, tuple[float, Place, float]] = {}
    for place in found:
        if place.strip.skin <= 0:
            continue
        factor, x = _skin_factor(member, place, found, forces)
        if place.name not in worst or factor < 0.999 * worst[place.name][0]:
            worst[place.name] = (factor, place, x)
    for name, (factor, place, x) in worst.items():
        why = (
            f"The {place.strip.skin:g} mm skin at x = {x:.0f} mm, taken as a plate with hinged edges as large as the box round its pocket."
            " Leave a thicker skin or make the pockets smaller."
        )
        out.append(_finding(f"skin buckling, {name}", factor, why, f"{name} on {place.face}"))
    walls = _walls(member, found, forces)
    if walls:
        wall = min(walls, key=lambda w: w.factor)
        why = (
            f"The {wall.thickness:g} mm wall between corners {wall.width:.0f} mm apart, x = {wall.x:.0f} mm. Where it has pockets, "
            f"{100 * wall.kept:.0f} % of its plate stiffness is counted. Leave wider ribs or more skin there."
        )
        out.append(_finding("wall buckling", wall.factor, why, wall.face))
    return out


def _finding(name: str, factor: float, why: str, where: str) -> Finding:
    ok = factor >= RESERVE
    verdict = Verdict.GO if ok else Verdict.CAUTION if factor >= 1 else Verdict.NO_GO
    text = why if not ok else why[: why.rindex(". ") + 1]
    return Finding(
        name, verdict, factor, "times the service load", RESERVE, factor - RESERVE, None, text, where
    )


def _skin_factor(
    member: Member, place: Place, found: Sequence[Place], forces: Sequence[SectionForces]
) -> tuple[float, float]:
    """Load factor of the worst skin of a place, and x."""
    p = peaks_of(place, member.material.poisson)
    flow = flow_of(member, place, found)
    t = place.strip.thickness
    criticals = [skin_critical(o, place.strip.skin, member.material) for o in place.strip.outlines]
    tau_cr, sigma_cr = (min(c[k] for c in criticals) for k in (0, 1))

    def factor(f: SectionForces) -> float:
        q, n = flow.of(f.T, f.Vy, f.Vz) / t, flow.along(f.N, f.My, f.Mz) / t
        return load_factor(q * p.skin_shear / tau_cr, (n * p.skin_axial + q * p.skin_mixed) / sigma_cr)

    return min((factor(f), f.x) for f in forces_along(forces, place.span))


@dataclass(frozen=True)
class _Wall:
    """One stretch of wall: face, free width and thickness mm, share of plate stiffness counted, load factor and where."""

    face: str
    width: float
    thickness: float
    kept: float
    factor: float
    x: float


def _walls(member: Member, found: Sequence[Place], forces: Sequence[SectionForces]) -> list[_Wall]:
    out = []
    material = member.material
    soft = [
        Soft(p.face, p.strip.low, p.strip.high, p.strip.thickness, peaks_of(p, material.poisson).axial_kept)
        for p in found
        if p.span[1] - p.span[0] >= p.strip.period
    ]
    for face in member.section.faces:
        for wall in hollow_walls(member.section, face):
            mine = [
                p
                for p in found
                if p.face == face.name and p.strip.low < wall.high and p.strip.high > wall.low
            ]
            kept = min((_plate_kept(p, material.poisson) for p in mine), default=1.0)
            flow = wall_flow(member.section, face, wall.low, wall.high, wall.thickness, [] if mine else soft)
            width = wall.width + wall.side
            unit = kept * plate_stress(material, wall.thickness, width)
            t = wall.thickness
            factor, x = min(
                (
                    load_factor(
                        flow.of(f.T, f.Vy, f.Vz) / t / (5.34 * unit),
                        flow.along(f.N, f.My, f.Mz) / t / (4 * unit),
                    ),
                    f.x,
                )
                for f in forces
            )
            out.append(_Wall(face.name, width, t, kept, factor, x))
    return out


def _plate_kept(place: Place, poisson: float) -> float:
    """Least share of the plain wall's plate stiffness that a patterned wall keeps.

    Ribs alone bend about as they stretch, so what the pattern keeps as windows; the skin adds at least its own thickness
    cubed. That the skin also joins the ribs into one deeper section is left out.
    """
    ribs = strip_kept(replace(place.strip, skin=0.0), poisson)
    own = (place.strip.skin / place.strip.thickness) ** 3
    return min(ribs) + own
