"""How far the skin under a pocket gives when the cutter presses on its middle, and the metal that leaves on the floor."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import Polygon

from sparwright.answers import BadInput, Finding, Verdict
from sparwright.job.models import Material
from sparwright.stiffness.fastening import STRIP_BUILT_IN, wall_give
from sparwright.stiffness.local_walls import hollow_walls
from sparwright.stock.model import Member, Pocket

# Solid finite elements over the clamped plate, against skin over wall: hexagon 22 mm across flats, wall 4 mm, skins 0.5 to
# 2 mm, three bays with clamped ends, order 3 (own trial). Below the first the clamped plate itself, 1, is kept: the trial's
# 0.94 there would be on the light side.
SHARE = (0.125, 0.25, 0.375, 0.5)
FACTOR = (1.0, 1.16, 1.60, 2.25)
# Half-width of the skin's give against solid elements (own trial), and of the wall's, whose side walls are neither stiff nor slack.
SKIN_SPREAD, WALL_SPREAD = 0.12, 0.5
# Tolerances of give from which no more light passes will make good what the skin springs back: common practice, no source.
TOO_MUCH = 3.0


def skin_deflection(outline: Polygon, skin: float, wall: float, force: float, material: Material) -> float:
    """Deflection of a skin's middle against its rim, mm, under a point load of `force` N at right angles.

    F r a/(16 pi D), r the radius of the largest circle that goes into the outline, a = sqrt(area / pi), D = E t³/(12 (1 - nu²)): the
    clamped circular plate (Timoshenko and Woinowsky-Krieger; Roark) brought to other shapes, never more than a clamped strip
    2 r wide. Within -6..+7 % of clamped plates solved by series, from circle to triangle and long slot (tests). Times a factor for
    the give of the wall that holds it, 1 up to skin = wall/8, 1.16 at 1/4, 1.60 at 3/8, 2.25 at 1/2 and beyond,
    where shear and the wall rule and the figure is only a guide. Small deflection: the answer should stay under half the
    skin. The wall as a whole gives besides. outline, skin and wall in mm.
    Raises BadInput where skin or wall is not above zero, or the skin is thicker than the wall.
    """
    if not 0 < skin <= wall:
        raise BadInput(
            f"a skin of {skin:g} mm in a wall of {wall:g} mm: it must be above 0 and at most the wall"
        )
    plate = material.modulus * skin**3 / (12 * (1 - material.poisson**2))
    inside = float(shapely.maximum_inscribed_circle(outline, tolerance=0.01).length)
    shape = min(
        inside * math.sqrt(outline.area / math.pi) / (16 * math.pi), STRIP_BUILT_IN * (2 * inside) ** 2
    )
    factor = float(np.interp(skin / wall, SHARE, FACTOR))
    return factor * force * shape / plate


def floor_findings(
    member: Member, thrust: float, tolerance: float, kept: dict[tuple[str, str], float] | None = None
) -> list[Finding]:
    """By how much floors are left too full where the skin springs away under the cutter's thrust and returns, worst pocket of each field.

    The skin's give and that of the whole wall between its side walls, mm, against the floor's tolerance. thrust: of
    the cutter along its axis, N. kept: share of stiffness the patterned wall keeps by (field, face), 1 where not said.
    Raises BadInput for a thrust or tolerance not above 0.
    """
    if not (thrust > 0 and tolerance > 0):
        raise BadInput(
            f"a thrust of {thrust:g} N and a floor tolerance of {tolerance:g} mm: both must be above 0"
        )
    known: dict[tuple[str, str, float, float], tuple[float, float]] = {}
    worst: dict[str, tuple[Pocket, float, float]] = {}
    for pocket in member.pockets:
        if pocket.window:
            continue
        key = (pocket.face, pocket.shape_key, pocket.skin, pocket.depth)
        name = pocket.field or pocket.id
        if key not in known:
            wall = pocket.skin + pocket.depth
            own = skin_deflection(pocket.outline, pocket.skin, wall, thrust, member.material)
            share = (kept or {}).get((name, pocket.face), 1.0)
            known[key] = own, _wall_give(member, pocket, wall, thrust) / share
        own, wall_own = known[key]
        if name not in worst or own + wall_own > sum(worst[name][1:]):
            worst[name] = (pocket, own, wall_own)
    return [_floor(name, *found, thrust, tolerance) for name, found in worst.items()]


def _wall_give(member: Member, pocket: Pocket, thickness: float, thrust: float) -> float:
    """How far the plain wall under a pocket moves between its side walls, built in there, mm; 0 where it stands on metal."""
    walls = hollow_walls(member.section, member.section.face(pocket.face))
    s = pocket.outline.centroid.y
    width = next((w.width for w in walls if w.low < s < w.high), 0.0)
    return wall_give(thrust, width, thickness, member.material)[0]


def _floor(name: str, pocket: Pocket, own: float, wall: float, thrust: float, tolerance: float) -> Finding:
    give = own + wall
    spread = SKIN_SPREAD * own + WALL_SPREAD * wall
    why = (
        f"Under {thrust:.0f} N the middle of the {pocket.skin:g} mm skin springs away {1000 * own:.1f} µm, and the wall with it {1000 * wall:.1f} µm. "
        "It springs back after the cut, so the floor stays that much too full in the middle."
    )
    if own > pocket.skin / 2:
        why += " So large a give is overstated: the skin stretches too, which holds it back."
    if give + spread <= tolerance:
        verdict = Verdict.GO
    else:
        verdict = Verdict.CAUTION if give <= TOO_MUCH * tolerance else Verdict.NO_GO
        why += (
            " Go over the floor again at the same depth, press less (small sharp cutter, less floor_stock), pack the hollow behind it, "
            "or leave a thicker skin."
        )
    return Finding(
        f"floor left too full, {name}",
        verdict,
        give,
        "mm",
        tolerance,
        tolerance - give,
        spread,
        why,
        pocket.id,
    )
