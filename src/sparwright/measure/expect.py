"""What to expect on the scale and in the tap tone, before anything is measured."""

from __future__ import annotations

from sparwright.answers import Finding, Verdict
from sparwright.job.models import Job
from sparwright.measure.taptone import member_tones
from sparwright.measure.weigh import mass_uncertainties
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

LATER = "Not measured yet."


def expect(
    member: Member, job: Job, intact: BeamProperties, reworked: BeamProperties, masses: tuple[float, float]
) -> tuple[Finding, ...]:
    """Findings for question 6 of a planned job. masses: of the stock at the member's length, and out, kg."""
    mass, out = masses
    u_stock, u_out = mass_uncertainties(member, job)
    before, after = member_tones(member, intact, reworked)
    rest = f"Rest it on foam at x = {after.nodes_y[0]:.0f} and {after.nodes_y[1]:.0f} mm and tap the"
    found = [
        Finding(
            "mass of the stock",
            Verdict.GO,
            mass,
            "kg",
            spread=u_stock,
            why=f"{LATER} Weigh it before cutting, at {member.length:g} mm.",
        ),
        Finding(
            "mass to come out",
            Verdict.GO,
            out,
            "kg",
            spread=u_out,
            why=f"{LATER} Weigh the member when it is clean and dry.",
        ),
    ]
    for plane, face, low, high in (
        ("y", "side that faces y, at its middle", before.moving_in_y_Hz, after.moving_in_y_Hz),
        ("z", "side that faces z, at its middle", before.moving_in_z_Hz, after.moving_in_z_Hz),
    ):
        found.append(
            Finding(
                f"tap tone, moving in {plane}",
                Verdict.GO,
                high,
                "Hz",
                spread=high * after.spread,
                why=f"{LATER} {rest} {face}; the plain stock rings at {low:.0f} Hz.",
            )
        )
    found.append(
        Finding(
            "tap tone, twist",
            Verdict.GO,
            after.twist_Hz,
            "Hz",
            spread=after.twist_Hz * max(after.spread, reworked.spread.get("GJ", 0.0) / 2),
            why=f"{LATER} Rest it at its middle and tap an edge at one end; a beam's figure, which racking of a thin section can lower by a tenth. The plain stock: {before.twist_Hz:.0f} Hz.",
        )
    )
    return tuple(found)
