"""When a twist frequency of the beam model may not be believed, because the section itself begins to rack."""

from __future__ import annotations

# A twist frequency from this share of the racking frequency on is warned of: there racking takes about 2 % off it
# (half the coupling squared times the share squared). Whole solids of one tube, plain ends: at a share of 0.24, with
# windows, the beam was right within 0.5 %; at 0.53, with skins, it was 11 % too high.
SHARE = 0.25


def racking_warning(torsion_Hz: float, racking_Hz: float, lowered_Hz: float | None = None) -> str:
    """What to say where twist may be mixed with racking of the section, else "".

    torsion_Hz: of the beam model. racking_Hz: of the section's lowest distortion in an endless member, which does
    not depend on the member's length. lowered_Hz: twist with the distortion's part in it, where known (`Racking.torsion`);
    whole solids lay between that, or 2 % over it, and the beam's.
    Raises ValueError for frequencies not above 0.
    """
    if not torsion_Hz > 0 or not racking_Hz > 0:
        raise ValueError("frequencies must be above 0 Hz")
    share = torsion_Hz / racking_Hz
    if share < SHARE:
        return ""
    low = "lower" if lowered_Hz is None else f"as low as {min(lowered_Hz, torsion_Hz):.0f} Hz"
    return (
        f"The twist frequency of {torsion_Hz:.0f} Hz is {100 * share:.0f} % of the {racking_Hz:.0f} Hz at which the "
        f"section itself racks out of square. So the true one may be {low}. "
        "Hold the section in shape with end plates or a bulkhead, or keep all that shakes well below it."
    )
