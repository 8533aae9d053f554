"""All local questions of a member at once: corners, skins, walls, threads, clamps, loads near pockets."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.answers import Finding
from sparwright.stiffness.buckling import buckling_findings
from sparwright.stiffness.local_ends import end_findings
from sparwright.stiffness.local_screws import clamp_findings, screw_findings
from sparwright.stiffness.model import SectionForces
from sparwright.stiffness.skin import floor_findings
from sparwright.stiffness.strength import peaks_of, places, strength_findings
from sparwright.stock.model import Member


def local_findings(
    member: Member,
    forces: Sequence[SectionForces],
    *,
    clamp_force_N: float,
    thrust_N: float,
    floor_tolerance: float,
    places: Sequence[float] = (),
) -> list[Finding]:
    """Findings on what the beam model does not see, one for the worst place of each field, hole group and kind.

    forces: in the member under the service load, at places along it in mm, N and N mm; between them in proportion, beyond the
    last as there; none leaves strength and buckling out. clamp_force_N: of one clamp. thrust_N: of the cutter on a floor.
    floor_tolerance, mm. places: x of supports and carriages, mm.
    Formulas, sources and limits: docs/local.md. Raises BadInput for a measure not above 0 or a place off the member, for pockets with
    sharp corners, and where a wall's pattern cannot be meshed.
    """
    return [
        *strength_findings(member, forces),
        *buckling_findings(member, forces),
        *floor_findings(member, thrust_N, floor_tolerance, _kept(member)),
        *screw_findings(member),
        *clamp_findings(member, clamp_force_N),
        *end_findings(member, places),
    ]


def _kept(member: Member) -> dict[tuple[str, str], float]:
    """Share of axial stiffness that the wall under each field keeps, by field and face, the least of its stretches."""
    out: dict[tuple[str, str], float] = {}
    for place in places(member):
        share = peaks_of(place, member.material.poisson).axial_kept
        out[place.name, place.face] = min(share, out.get((place.name, place.face), 1.0))
    return out
