"""How far a floor may come out from where the program puts it, at the machine."""

from __future__ import annotations

import math

from sparwright.job.models import Bed

COVERAGE = 2.0


def floor_spread(bed: Bed, diameter: float, depth: float) -> float:
    """Half-width of a floor's depth, coverage factor 2, mm.

    Touching off (one sigma), and as half-widths of rectangular distributions: the spindle out of square over the
    cutter's radius, half the axis' backlash, the scale of Z over the depth. Combined by the law of propagation of
    uncertainty (JCGM 100:2008, 5.1.2). The stock's own wall is measured before it is cut and not counted.
    """
    halves = (bed.tramming / 100 * diameter / 2, bed.backlash / 2, bed.step_scale * depth)
    return COVERAGE * math.sqrt(bed.touch_off**2 + sum(h * h for h in halves) / 3)
