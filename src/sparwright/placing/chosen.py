"""Which of the poses that fit the job is cut in: the one it asks for, straight where that does, else the roomiest."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparwright.job.models import Bed, Placing
from sparwright.placing.fit import (
    EQUAL,
    Lie,
    Search,
    Uprights,
    hull,
    margin_between_uprights,
    sides_that_hold,
    upright_gaps,
    x_offset,
)

STRAIGHT_ROOM = 10.0
"""Margin from which lying straight is liked better than any turned pose, mm: a straight member is set up and checked with a
square, and its error along one axis stays on that axis (common practice, no source)."""


def uprights_of(bed: Bed) -> Uprights:
    """Inner faces of the uprights in X and the band they sweep in Y, in the reach's frame.

    The uprights are taken to stand in line with the spindle in Y, half their depth before and behind it.
    """
    middle = bed.reach[0] / 2 + bed.throat_offset
    return Uprights(
        middle - bed.throat / 2,
        middle + bed.throat / 2,
        -bed.upright_depth / 2,
        bed.reach[1] + bed.upright_depth / 2,
    )


@dataclass(frozen=True)
class Chooser:
    """What the job says of its pose, the bed, and the member's outline from above in (x, t), shape (m, 2), mm."""

    placing: Placing
    bed: Bed
    body: np.ndarray

    @property
    def asked(self) -> bool:
        """Whether the job itself names the pose, or its angle."""
        return self.placing.angle is not None

    def choose(self, points: np.ndarray, found: Search) -> Lie:
        """The lie for needed positions (k, 2) in (x, t), of which `found` is the search.

        Its margin is negative where the pose asked for, or any pose, leaves a position out of reach.
        """
        angle, at = self.placing.angle, self.placing.at
        if angle is not None and at is not None:
            return self._there(points, Lie(at[0], at[1], math.radians(angle), 0.0))
        if angle is not None:
            return self._at_angle(points, math.radians(angle))
        along = [self._at_angle(points, a) for a in (0.0, math.pi / 2)]
        straight = along[1] if along[1].margin > along[0].margin + EQUAL else along[0]
        roomy = straight.margin >= max(STRAIGHT_ROOM, self.placing.margin)
        return straight if roomy else found.best

    def _at_angle(self, points: np.ndarray, angle: float) -> Lie:
        reach, uprights = (self.bed.reach[0], self.bed.reach[1]), uprights_of(self.bed)
        corners, outline = hull(points), hull(self.body)
        margins, offsets = margin_between_uprights(corners, outline, reach, uprights, np.array([angle]))
        y = float(offsets[0])
        x = x_offset(corners, outline, reach[0], uprights, angle, y)
        return Lie(x, y, angle, float(margins[0]))

    def _there(self, points: np.ndarray, lie: Lie) -> Lie:
        held = sides_that_hold(lie, hull(points), (self.bed.reach[0], self.bed.reach[1]))
        gaps = upright_gaps(lie, self.body, uprights_of(self.bed))
        return Lie(lie.x, lie.y, lie.angle, min(*(d for d, _ in held.values()), *gaps))
