"""What to expect on the scale and in the tap tone, before anything is measured."""

from __future__ import annotations

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.measure.taptone import Tone, member_tones
from sparwright.measure.weigh import predict
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

LATER = "Not measured yet."


def expect(
    member: Member, job: Job, intact: BeamProperties, reworked: BeamProperties, masses: tuple[float, float]
) -> tuple[Finding, ...]:
    """Findings for question 6 of a planned job. masses: of the stock at the member's length, and out, kg."""
    mass, out = masses
    predicted = predict(member, job, mass, out)
    scale = (
        Finding(
            "mass of the stock",
            Verdict.GO,
            mass,
            "kg",
            spread=predicted.stock.u,
            why=f"{LATER} Weigh it before cutting, at {member.length:g} mm.",
        ),
        Finding(
            "mass to come out",
            Verdict.GO,
            out,
            "kg",
            spread=predicted.out.u,
            why=f"{LATER} Weigh the member again when it is clean and dry.",
        ),
    )
    return scale + _tones(member, *member_tones(member, intact, reworked))


def _tones(member: Member, before: Tone, after: Tone) -> tuple[Finding, ...]:
    found = []
    for plane, low, high, nodes in (
        ("y", before.moving_in_y_Hz, after.moving_in_y_Hz, after.nodes_y),
        ("z", before.moving_in_z_Hz, after.moving_in_z_Hz, after.nodes_z),
    ):
        found.append(
            Finding(
                f"tap tone, moving in {plane}",
                Verdict.GO,
                high,
                "Hz",
                spread=high * after.spread,
                why=f"{LATER} Rest it on soft foam at x = {nodes[0]:.0f} and {nodes[1]:.0f} mm, tap {_tapped(member, plane)} at "
                f"its middle, listen at an end. The plain stock rings at {low:.0f} Hz.",
                where=f"x = {member.length / 2:.0f}",
            )
        )
    found.append(
        Finding(
            "tap tone, twist",
            Verdict.GO,
            after.twist_Hz,
            "Hz",
            spread=after.twist_Hz * after.twist_spread,
            why=f"{LATER} Rest it on soft foam at x = {after.node_twist:.0f} mm, tap an edge at one end, listen at the other. The "
            f"plain stock rings at {before.twist_Hz:.0f} Hz. It is a beam's figure: where a thin section can rack, the true one "
            "lies lower, by a tenth on tubes that were compared with solids.",
            where="x = 0",
        )
    )
    return tuple(found)


def _tapped(member: Member, plane: str) -> str:
    """The face to tap for a motion along y or z, in words."""
    along = 0 if plane == "y" else 1
    for face in member.section.faces:
        if np.abs(face.normal[along]) > 0.99:
            return f"the {face.name} face"
    return f"it along {plane}"
