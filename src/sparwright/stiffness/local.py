"""All local questions of a member at once: corners, skins, walls, threads, clamps, loads near pockets."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.answers import BadInput, Finding, Verdict
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
    Formulas, sources and limits: docs/local.md. A wall whose pattern cannot be computed (sharp corners, no mesh) is a caution that says so.
    Raises BadInput for a thrust or tolerance not above 0 and a place off the member.
    """
    try:
        kept = _kept(member)
        strength = [*strength_findings(member, forces), *buckling_findings(member, forces)]
    except BadInput as fault:
        kept, strength = {}, [_not_computed(fault)]
    return [
        *strength,
        *floor_findings(member, thrust_N, floor_tolerance, kept),
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


def _not_computed(fault: BadInput) -> Finding:
    reason = str(fault)
    return Finding(
        "stress and buckling of patterned walls",
        Verdict.CAUTION,
        why=f"Not computed: {reason[0].lower()}{reason[1:]}.",
        where="fields",
    )
