"""What to expect on the scale and in the tap tone, before anything is measured."""

from __future__ import annotations

import math

import numpy as np

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.measure.taptone import Tone
from sparwright.measure.weigh import predict
from sparwright.stiffness.racking import Racking
from sparwright.stock.model import Member

LATER = "Not measured yet."


def expect(
    member: Member,
    job: Job,
    tones: tuple[Tone, Tone],
    racking: Racking | None,
    masses: tuple[float, float],
) -> tuple[Finding, ...]:
    """Findings for question 6 of a planned job.

    tones: of the plain stock and of the finished member. racking: of its section, None where not known. masses: of
    the stock at the member's length, and out, kg.
    """
    mass, out = masses
    predicted = predict(member, job, mass, out)
    scale = [
        Finding(
            "mass of the stock",
            Verdict.GO,
            mass,
            "kg",
            spread=predicted.stock.u,
            why=f"{LATER} Weigh it before cutting, at {member.length:g} mm.",
        )
    ]
    if out > 0:
        scale.append(
            Finding(
                "mass to come out",
                Verdict.GO,
                out,
                "kg",
                spread=predicted.out.u,
                why=f"{LATER} Weigh the member again when it is clean and dry.",
            )
        )
    return tuple(scale) + _tones(member, *tones, racking)


def _tones(member: Member, before: Tone, after: Tone, racking: Racking | None) -> tuple[Finding, ...]:
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
    twist = after.twist_Hz if racking is None else racking.torsion(after.twist_Hz)
    # Whole solids lay between the figure with racking in it and the beam's.
    spread = math.hypot(twist * after.twist_spread, (after.twist_Hz - twist) / 2)
    found.append(
        Finding(
            "tap tone, twist",
            Verdict.GO,
            twist,
            "Hz",
            spread=spread,
            why=f"{LATER} Rest it on soft foam at x = {after.node_twist:.0f} mm, tap an edge at one end, listen at the other. The "
            f"plain stock, as a beam, rings at {before.twist_Hz:.0f} Hz and the finished member at {after.twist_Hz:.0f} Hz. "
            "What its section gives by racking out of square is taken off that.",
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
