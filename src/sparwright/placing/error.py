"""The error at every feature: where it may come out against the datum end and the edge that bears on the slot.

Pads' slots and the stop are cut or set by the machine that then cuts the features, in the same place. So a fixed offset
of the machine cancels, and what is left grows with the distance from stop and bearing wall:

- the machine's map from commanded to true vectors is 1 + E, E = [[ex, g], [0, ey]]: scale errors of X and Y and the
  squareness g. Along the member (direction u, across it v) an error E gives, at (dx, dt) from the stop and ds from the
  bearing wall, x: dx uEu + dt (uEv + vEu), s: ds vEv; the member follows its slot, so its own turn drops out;
- backlash, at the feature and again at slot or stop; run-out; deflection under the cutting force; how well the member
  seats against the wall of each locating pad and against the stop; temperature.

Half-widths of rectangular distributions are combined by the law of propagation of uncertainty (JCGM 100:2008,
5.1.2): u² = sum (c a / sqrt 3)². Between two opposite sides errors of the machine enter with their difference:
scale along the member cancels, the shear term doubles, everything else is independent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Bed, Material
from sparwright.placing.lying import Lying
from sparwright.stock.model import Member

SEAT = 0.02
"""Half-width of how a clean edge seats against a wall or stop, mm (common practice, no source)."""
TEMPERATURE = 5.0
"""Half-width of the shop's temperature from that of the measuring room, K (common practice, no source)."""
COVERAGE = 2.0
ISO_2768_M = (
    (6.0, 0.1),
    (30.0, 0.2),
    (120.0, 0.3),
    (400.0, 0.5),
    (1000.0, 0.8),
    (2000.0, 1.2),
    (4000.0, 2.0),
)
"""ISO 2768-1 class m: (up to this length, +/- tolerance), mm."""


@dataclass(frozen=True)
class Situation:
    """What the budget needs to know.

    angle: of the member, rad. stop: (x, t) of the stop, mm. pads_x: x of the middles of the two locating pads, mm.
    half: half the slot's width, mm. Half-widths: scale (ratio), squareness (rad), backlash, runout, deflection (mm),
    expansion (ratio, over the shop's temperatures).
    """

    angle: float
    stop: tuple[float, float]
    pads_x: tuple[float, float]
    half: float
    scale: float
    squareness: float
    backlash: float
    runout: float
    deflection: float
    expansion: float


@dataclass(frozen=True)
class FeatureError:
    """Standard uncertainty of the place of one feature at (x, t), mm, along (x) and across (s) the member."""

    side: str
    feature: str
    at: tuple[float, float]
    u_x: float
    u_s: float


def situation(
    bed: Bed,
    material: Material,
    thrust: float,
    angle: float,
    stop: tuple[float, float],
    pads_x: tuple[float, float],
    half: float,
) -> Situation:
    """The budget's inputs from the machine that cuts; thrust: cutting force, N; the rest as in Situation."""
    return Situation(
        angle=angle,
        stop=stop,
        pads_x=pads_x,
        half=half,
        scale=bed.step_scale,
        squareness=bed.squareness / 1000,
        backlash=bed.backlash / 2,
        runout=bed.spindle.runout / 2,
        deflection=thrust / bed.frame_stiffness,
        expansion=material.expansion * TEMPERATURE,
    )


def combined(contributions: Sequence[float]) -> float:
    """Root of the sum of squares of independent contributions (JCGM 100:2008, 5.1.2)."""
    return math.sqrt(sum(c * c for c in contributions))


def machine_terms(s: Situation, dx: float, dt: float, ds: float) -> np.ndarray:
    """Contributions to (x, s) of the two scales and the squareness at their half-widths, shape (3, 2), mm.

    dx, dt: from the stop along and across the member; ds: across from the bearing wall, mm.
    """
    c, w = math.cos(s.angle), math.sin(s.angle)
    return np.array(
        [
            (s.scale * (dx * c * c - 2 * dt * c * w), s.scale * ds * w * w),
            (s.scale * (dx * w * w + 2 * dt * c * w), s.scale * ds * c * c),
            (s.squareness * (dx * c * w + dt * (c * c - w * w)), -s.squareness * ds * c * w),
        ]
    )


def own_terms(s: Situation, x: float, dt: float) -> np.ndarray:
    """Contributions to (x, s) that are made anew in every set-up, at their half-widths, shape (k, 2), mm."""
    c, w = math.cos(s.angle), math.sin(s.angle)
    first, second = s.pads_x
    span = second - first
    rows: list[tuple[float, float]] = []
    rows += 2 * [(s.backlash * c, -s.backlash * w), (s.backlash * w, s.backlash * c)]
    for size in (s.runout, s.deflection):
        rows += [(size, 0.0), (0.0, size)]
    rows += [
        (SEAT * dt / span, SEAT * (second - x) / span),
        (-SEAT * dt / span, SEAT * (x - first) / span),
        (SEAT, 0.0),
    ]
    return np.array(rows)


def error_at(s: Situation, x: float, t: float, wall: float) -> tuple[float, float]:
    """Standard uncertainty (u_x, u_s) of a feature at (x, t); wall: 1.0 where the member bears on the slot's left wall, -1.0 right."""
    dx, dt, ds = x - s.stop[0], t - s.stop[1], t - wall * s.half
    warm = np.array([(s.expansion * dx, s.expansion * ds)])
    rows = np.vstack([machine_terms(s, dx, dt, ds), own_terms(s, x, dt), warm]) / math.sqrt(3)
    return combined(rows[:, 0].tolist()), combined(rows[:, 1].tolist())


def mismatch_at(s: Situation, x: float, t: float) -> tuple[float, float]:
    """Standard uncertainty of the difference between two opposite sides at (x, t) of one and (x, -t) of the other, (x, s), mm.

    The member is turned about its long axis and pushed with the same edge against the slot: the shear term enters
    twice, the rest of the machine's map and the temperature cancel.
    """
    shear = machine_terms(s, 0.0, 2 * t, 0.0)[:, 0]
    one, other = own_terms(s, x, t - s.stop[1]), own_terms(s, x, -t - s.stop[1])
    along = [*shear.tolist(), *one[:, 0].tolist(), *other[:, 0].tolist()]
    across = [*one[:, 1].tolist(), *other[:, 1].tolist()]
    return combined(along) / math.sqrt(3), combined(across) / math.sqrt(3)


def tolerance(distance: float) -> float:
    """General tolerance for a distance, +/- mm (ISO 2768-1 class m)."""
    return next((t for upto, t in ISO_2768_M if distance <= upto), ISO_2768_M[-1][1])


def features_of(member: Member, face: str) -> tuple[tuple[str, tuple[float, float]], ...]:
    """Every feature of a face with the (x, s) of its middle."""
    found = [(h.id, h.at) for h in member.holes if h.face == face]
    shapes = [(p.id, p.outline) for p in member.pockets if p.face == face]
    shapes += [(n.id, n.outline) for n in member.notches if n.face == face]
    found += [(name, (float(o.centroid.x), float(o.centroid.y))) for name, o in shapes]
    return tuple(found)


def budget(
    member: Member, lyings: Sequence[Lying], walls: Sequence[float], s: Situation
) -> tuple[FeatureError, ...]:
    """The error of every feature of every side; walls: the slot's wall that each side bears on, as in error_at."""
    out = []
    for lying, wall in zip(lyings, walls, strict=True):
        for name, (x, across) in features_of(member, lying.face):
            u_x, u_s = error_at(s, x, across - lying.centre, wall)
            out.append(FeatureError(lying.face, name, (x, across - lying.centre), u_x, u_s))
    return tuple(out)


def error_findings(
    member: Member, lyings: Sequence[Lying], walls: Sequence[float], s: Situation, clearance: float
) -> tuple[Finding, ...]:
    """Question 3: the worst feature against ISO 2768-1 m, and how far opposite sides may disagree (k = 2)."""
    errors = budget(member, lyings, walls, s)
    if not errors:
        return ()

    def share(e: FeatureError) -> float:
        return COVERAGE * max(e.u_x / tolerance(abs(e.at[0])), e.u_s / tolerance(2 * s.half))

    worst = max(errors, key=share)
    along = worst.u_x / tolerance(abs(worst.at[0])) >= worst.u_s / tolerance(2 * s.half)
    value = COVERAGE * (worst.u_x if along else worst.u_s)
    limit = tolerance(abs(worst.at[0]) if along else 2 * s.half)
    widest = max(errors, key=lambda e: max(e.u_x, e.u_s))
    out = [
        Finding(
            "place of the worst feature",
            Verdict.GO if value <= limit else Verdict.CAUTION,
            value,
            "mm",
            limit,
            limit - value,
            why=f"How far off it may come out {'along' if along else 'across'} the member, coverage factor 2, against ISO 2768-1 m. "
            f"Furthest off: {widest.feature}, {COVERAGE * max(widest.u_x, widest.u_s):.3f} of "
            f"{tolerance(abs(widest.at[0])):g} mm, for errors grow with the distance from the stop. "
            f"Push the member against the same edge each time, or the slot adds {clearance / 2:.3f} mm across."
            + (
                ""
                if value <= limit
                else " Try the bed against a known length and a square, and state in its file what is left (step_scale, squareness)."
            ),
            where=f"{worst.feature} on {worst.side}",
        )
    ]
    if _opposite(member, lyings):
        at = max(errors, key=lambda e: max(mismatch_at(s, *e.at)))
        dx, ds = mismatch_at(s, *at.at)
        value, limit = COVERAGE * max(dx, ds), tolerance(30.0)
        out.append(
            Finding(
                "opposite sides against each other",
                Verdict.GO if value <= limit else Verdict.CAUTION,
                value,
                "mm",
                limit,
                limit - value,
                why=f"Along {COVERAGE * dx:.3f} mm, across {COVERAGE * ds:.3f} mm, coverage factor 2. Errors of scale and pose angle cancel when the "
                "member is turned and the same edge bears. An error of squareness counts twice."
                + (
                    ""
                    if value <= limit
                    else " Try the bed with a square, and state what is left (squareness)."
                ),
                where=f"{at.feature} on {at.side}",
            )
        )
    return tuple(out)


def _opposite(member: Member, lyings: Sequence[Lying]) -> bool:
    angles = [member.section.face(y.face).angle for y in lyings]
    return any(math.cos(a - b) < -0.999 for a in angles for b in angles)
