"""Clamps of each side, and the statics of holding: slip, bending between pads, walls under the straps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString, Polygon

from sparwright.placing.heights import CLAMP_TOP
from sparwright.placing.lying import Lying, seen_from
from sparwright.placing.model import Clamp
from sparwright.placing.pads import Arrangement, Bench, straps_of
from sparwright.placing.straps import Strap, screw_torque
from sparwright.stock.model import Member

PLATE_FIXED, PLATE_HINGED = 0.0072, 0.0169
"""w = alpha P b² / D at the middle of a long wall under a point force: edges built in, edges hinged (plate theory; found
again by finite differences as 0.0073 and 0.0170)."""


def straps_for(bench: Bench, a: Arrangement, lying: Lying) -> tuple[tuple[str, Strap], ...]:
    """The straps of one side with their names, in its (x, s), at each end that has a plain place for them."""
    out: list[tuple[str, Strap]] = []
    for end, contact, inward in (("datum end", a.contacts[0], 1.0), ("far end", a.contacts[1], -1.0)):
        if contact is not None:
            straps = straps_of(bench, lying, contact, contact + inward * a.shift)
            out += [(f"{end}, {hand}", strap) for hand, strap in zip(("left", "right"), straps, strict=False)]
    return tuple(out)


def make_clamps(bench: Bench, a: Arrangement, lying: Lying) -> tuple[Clamp, ...]:
    """The clamps of one side. `at` is the screw; the force is that on the member; left is +s, seen along x."""
    p = bench.placing
    return tuple(
        Clamp(
            name=name,
            footprint=strap.footprint,
            top=CLAMP_TOP,
            at=strap.screw,
            force_N=p.clamp_force,
            torque_Nm=screw_torque(p.clamp_force / strap.lever, p.clamp_screw),
            screw=p.clamp_screw,
        )
        for name, strap in straps_for(bench, a, lying)
    )


def safety_against_slip(force: float, count: int, cutting: float, lift: float, friction: float) -> float:
    """Safety S with n clamps of force W: S = n W / (F / mu + U), Coulomb friction on the pads alone, all N."""
    return count * force / (cutting / friction + lift)


def bending_between_pads(force: float, span: float, stiffness: float) -> tuple[float, float]:
    """Deflection at mid-span, ends built in and ends hinged: F L³ / 192 EI and F L³ / 48 EI; N, mm, N mm²."""
    return force * span**3 / (192 * stiffness), force * span**3 / (48 * stiffness)


def second_moments(shape: Polygon) -> tuple[float, float]:
    """Second moments of a polygon with holes about its centroid: (for bending in n, for bending in s), mm⁴.

    Sums over the rings' edges (Green's theorem): I_n = integral of n², I_s = integral of s².
    """
    area = first_s = first_n = i_s = i_n = 0.0
    rings = [(shape.exterior, 1.0), *((r, -1.0) for r in shape.interiors)]
    for ring, sign in rings:
        p = np.asarray(ring.coords)[:, :2]
        s0, n0, s1, n1 = p[:-1, 0], p[:-1, 1], p[1:, 0], p[1:, 1]
        cross = s0 * n1 - s1 * n0
        sign *= np.sign(cross.sum())
        area += sign * float(cross.sum()) / 2
        first_s += sign * float(((s0 + s1) * cross).sum()) / 6
        first_n += sign * float(((n0 + n1) * cross).sum()) / 6
        i_s += sign * float(((s0 * s0 + s0 * s1 + s1 * s1) * cross).sum()) / 12
        i_n += sign * float(((n0 * n0 + n0 * n1 + n1 * n1) * cross).sum()) / 12
    return i_n - first_n**2 / area, i_s - first_s**2 / area


def weakened_section(member: Member) -> Polygon:
    """The section in (y, z) with all pockets cut at once and no ribs between them: a low bound for its stiffness."""
    shape = member.section.shape
    for face in member.section.faces:
        pockets = [p for p in member.pockets if p.face == face.name]
        if pockets:
            low = min(p.outline.bounds[1] for p in pockets)
            high = max(p.outline.bounds[3] for p in pockets)
            deep = max(p.depth for p in pockets)
            corners = np.array([(0, low, 1), (0, high, 1), (0, high, -deep), (0, low, -deep)], dtype=float)
            shape = shape.difference(Polygon(face.to_member(corners)[:, 1:]))
    if shape.geom_type != "Polygon":
        shape = max(shape.geoms, key=lambda g: g.area)
    return shape


def bending_stiffness(member: Member, lying: Lying) -> float:
    """The lesser of EI for bending up and down and sideways as the member lies, pockets cut, N mm²."""
    face = member.section.face(lying.face)
    return member.material.modulus * min(second_moments(seen_from(weakened_section(member), face)))


@dataclass(frozen=True)
class Squeeze:
    """How far a wall yields under a strap's toe, mm: between built-in and hinged webs. span: free width of the wall, mm."""

    least: float
    most: float
    span: float


def wall_squeeze(lying: Lying, s: float, force: float, modulus: float, poisson: float) -> Squeeze:
    """Yield of the wall under a point force at s of the face that is up, N, MPa, mm.

    In mid-wall alpha P b² / D with D = E t³ / 12 (1 - nu²); nearer a web in the ratio in which a beam between
    the webs yields there and in its middle: (4 e (b - e) / b²)² hinged, to the third power built in, e from the
    nearest web. No yield where metal goes down to the slot's floor below s.
    """
    x0, bottom, x1, _ = lying.section.bounds
    down = LineString([(s, 1.0), (s, bottom - 1)]).intersection(lying.section)
    runs = sorted(
        (g for g in getattr(down, "geoms", [down]) if g.geom_type == "LineString"), key=lambda g: -g.bounds[3]
    )
    if not runs or len(runs) == 1:
        return Squeeze(0.0, 0.0, 0.0)
    wall = float(runs[0].length)
    level = float(runs[0].bounds[1]) - 1e-3
    free = LineString([(x0 - 1, level), (x1 + 1, level)]).difference(lying.section)
    gaps = [g.bounds for g in getattr(free, "geoms", [free]) if g.bounds[0] <= s <= g.bounds[2]]
    if not gaps:
        return Squeeze(0.0, 0.0, 0.0)
    low, high = gaps[0][0], gaps[0][2]
    width = high - low
    shape = 4 * (s - low) * (high - s) / width**2
    plate = modulus * wall**3 / (12 * (1 - poisson**2))
    scale = force * width**2 / plate
    return Squeeze(PLATE_FIXED * scale * shape**3, PLATE_HINGED * scale * shape**2, width)
