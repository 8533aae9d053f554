"""Where the wall model may be believed, and how far."""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from shapely.affinity import translate

from sparwright.stiffness.wall_place import Placement, WallPockets

# Least rib over the wall's thickness: a thicker rib bends and twists as a solid, not as a wall.
LEAST_RIB = 0.98
# Least flat run over its thickness; narrower is a bar.
LEAST_WIDTH = 4.0
# How far a pocket may run past the flat run into the corner, over the thickness.
INTO_CORNER = 0.1
# A little over the greatest error seen against the bay at order 3, fields with skins and fields with windows: see
# docs/stiffness.md.
SKINS = {"EA": 0.02, "EIy": 0.02, "EIz": 0.02, "GJ": 0.04, "GAy": 0.04, "GAz": 0.04}
WINDOWS = {"EA": 0.03, "EIy": 0.04, "EIz": 0.04, "GJ": 0.04, "GAy": 0.05, "GAz": 0.05}


def placement_trust(placement: Placement) -> str:
    """Why the wall model must not be believed, in one sentence; "" where it may be."""
    for face, reason in placement.astray:
        return f"{face}: {reason}."
    for pockets in placement.pockets:
        reason = _wall_trust(pockets)
        if reason:
            return f"{pockets.face}: {reason}."
    return ""


def spread(placement: Placement, misfit: float) -> dict[str, float]:
    """Relative half-width on each stiffness: the model's band, and the stretch that made a period."""
    windows = any(any(p.through) for p in placement.pockets)
    return {key: band + misfit for key, band in (WINDOWS if windows else SKINS).items()}


def _wall_trust(own: WallPockets) -> str:
    flat = own.flat[1] - own.flat[0]
    if all(own.free):
        return "the section is a bar, not walls that hold each other"
    if flat < LEAST_WIDTH * own.thickness:
        return (
            f"its wall is {flat:.1f} mm wide and {own.thickness:g} mm thick, more a bar than a wall "
            f"(at least {LEAST_WIDTH:g} times as wide as thick)"
        )
    rib = _rib(own)
    if rib < LEAST_RIB * own.thickness:
        return f"its ribs are {rib:.2f} mm wide in a wall {own.thickness:g} mm thick, thicker than wide"
    bounds = np.array([o.bounds for kind in own.kinds for o in kind])
    over = max(own.flat[0] - bounds[:, 1].min(), bounds[:, 3].max() - own.flat[1])
    if over > INTO_CORNER * own.thickness:
        return f"pockets reach {over:.2f} mm past the flat of its wall, into the corner zone"
    margins = (bounds[:, 1].min() + own.width / 2, own.width / 2 - bounds[:, 3].max())
    edge = min((m for m, free in zip(margins, own.free, strict=True) if free), default=np.inf)
    if edge < LEAST_RIB * own.thickness:
        return f"pockets leave {edge:.2f} mm to a free edge, less than the wall's thickness"
    return ""


def _rib(own: WallPockets) -> float:
    """Least metal between two pockets of the wall, mm."""
    outlines = [o for kind in own.kinds for o in kind]
    turned = [translate(o, k * own.period) for o in outlines for k in (-1, 0, 1)]
    tree = shapely.STRtree(turned)
    near = [
        outlines[i].distance(turned[j])
        for i, j in itertools.chain.from_iterable(
            ((i, j) for j in tree.query(o, predicate="dwithin", distance=2 * own.thickness))
            for i, o in enumerate(outlines)
        )
        if j != 3 * i + 1
    ]
    return float(min(near, default=np.inf))
