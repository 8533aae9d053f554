"""Cutters as stacked shapes: the cutting end, the shank above the flutes, the holder above the stick-out."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparwright.job.models import Cutter
from sparwright.proof.kernels import BALL, CONE, FLAT, Tools

FORM = {"flat": FLAT, "ball": BALL, "vee": CONE, "drill": CONE}


def _slope(cutter: Cutter) -> float:
    """Rise of the point's flank over radius, 1 / tan(half the included angle); 1 for ends without a point."""
    return 1.0 / math.tan(cutter.half_angle) if FORM[cutter.kind] == CONE else 1.0


def tools_of(cutters: Sequence[Cutter]) -> Tools:
    """The cutters as arrays for the kernels, in their order."""
    return Tools(
        form=np.array([FORM[c.kind] for c in cutters], dtype=np.int64),
        radius=np.array([c.diameter / 2 for c in cutters]),
        tip=np.array([c.tip / 2 if c.kind == "vee" else 0.0 for c in cutters]),
        slope=np.array([_slope(c) for c in cutters]),
        flute=np.array([c.flute_length for c in cutters]),
        shank=np.array([c.shank / 2 for c in cutters]),
        stick=np.array([c.stick_out for c in cutters]),
        holder=np.array([c.holder / 2 for c in cutters]),
    )
