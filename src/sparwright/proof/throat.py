"""The member against the uprights of a bridge that travels over it while the programs run."""

from __future__ import annotations

import numpy as np
import shapely

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named, passed
from sparwright.proof.model import ProofFinding


def check_throat(case: Case) -> list[ProofFinding]:
    """The uprights, in line with the spindle in Y, pass the member on the Y the programs go to."""
    bed, body = case.job.bed, case.scene.body
    if body is None or len(case.moves.line) == 0:
        return []
    outline = shapely.Polygon(case.scene.pose.to_bed(np.asarray(body.exterior.coords)[:, :2]))
    lows, highs = case.extents.along(1)
    first, last = int(lows.argmin()), int(highs.argmax())
    half, middle = bed.upright_depth / 2, bed.reach[0] / 2 + bed.throat_offset
    low, high = float(lows[first]) - half, float(highs[last]) + half
    wide = 1e6
    swept = outline.intersection(shapely.box(-wide, low, wide, high))
    if swept.is_empty:
        return [passed("throat", "the uprights pass beside the member's ends")]
    x0, _, x1, _ = swept.bounds
    left, right = x0 - (middle - bed.throat / 2), middle + bed.throat / 2 - x1
    room = float(min(left, right))
    if room >= 0:
        return [
            passed("throat", f"the uprights pass the member with {room:.1f} mm to spare", room, 0.0, "mm")
        ]
    at = x0 if left < right else x1
    y = float(np.mean([p[1] for p in np.asarray(shapely.get_coordinates(swept)) if abs(p[0] - at) < 1e-6]))
    guilty = first if abs(y - low) < abs(y - high) else last
    program, line = case.line_of(guilty)
    x, s = case.scene.pose.to_face(np.array([[at, y]]))[0]
    return [
        ProofFinding(
            "throat",
            Verdict.NO_GO,
            f"{named(program, line)}: takes the {'left' if left < right else 'right'} upright {-room:.1f} mm into the member. "
            "Turn or shift the member, or cut it in stations",
            program=program,
            line=line,
            at=(float(x), float(s), 0.0),
            value=room,
            limit=0.0,
            unit="mm",
        )
    ]
