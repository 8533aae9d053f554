"""When a twist frequency of the beam model may not be believed, because the section itself begins to rack."""

from __future__ import annotations

# A twist frequency from this share of the racking frequency on is warned of. Two lengths of one skinned tube, whole
# solids: at 0.67 of it the beam was 11 % too high; see test_solid_frequencies for what was found since.
SHARE = 0.35


def racking_warning(torsion_Hz: float, racking_Hz: float) -> str:
    """One sentence where twist may be mixed with racking of the section, else "".

    torsion_Hz: of the beam model. racking_Hz: of the section's lowest distortion in an endless member, which does
    not depend on the member's length. Raises ValueError for frequencies not above 0.
    """
    if not torsion_Hz > 0 or not racking_Hz > 0:
        raise ValueError("frequencies must be above 0 Hz")
    share = torsion_Hz / racking_Hz
    if share < SHARE:
        return ""
    return (
        f"The twist frequency of {torsion_Hz:.0f} Hz is {100 * share:.0f} % of the {racking_Hz:.0f} Hz at which the "
        "section itself racks out of square: the true one is lower, by a tenth or more; "
        "hold the section in shape with end plates or a bulkhead, or keep excitation well below it."
    )
