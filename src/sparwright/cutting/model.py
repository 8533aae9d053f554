"""Cuts and paths: what the cutter does, in the (x, s, n) frame of the face it works on."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sparwright.answers import Finding

RAPID, LINE, ARC_CW, ARC_CCW = 0, 1, 2, 3


@dataclass(frozen=True)
class Path:
    """A run of moves of the cutter's tip, starting at `start`.

    start: (3,). kind: (k,) int8, one of RAPID, LINE, ARC_CW, ARC_CCW (seen from above; arcs may rise or fall,
    less than a full turn). end: (k, 3) mm. centre: (k, 2), centre of arcs, nan elsewhere. feed: (k,) mm/min of the tip's path, nan for rapids.
    """

    start: np.ndarray
    kind: np.ndarray
    end: np.ndarray
    centre: np.ndarray
    feed: np.ndarray

    def shifted(self, dx: float, ds: float, dn: float = 0.0) -> Path:
        """The same path moved."""
        d3, d2 = np.array([dx, ds, dn]), np.array([dx, ds])
        return Path(self.start + d3, self.kind, self.end + d3, self.centre + d2, self.feed)


@dataclass(frozen=True)
class Peak:
    """Greatest values along a cut, nominal: chip mm, force N, power W, deflection mm."""

    chip_mm: float = 0.0
    force_N: float = 0.0
    power_W: float = 0.0
    deflection_mm: float = 0.0


@dataclass(frozen=True)
class Piece:
    """The part of a cut that makes one feature: starts and ends at the clearance height."""

    feature: str
    path: Path


@dataclass(frozen=True)
class Cut:
    """One operation with one cutter on one or more features, in order.

    kind: "clear", "floor", "wall", "edge break", "bore", "drill", "outline" or "slot". rpm: spindle speed.
    """

    name: str
    kind: str
    cutter: int
    rpm: float
    pieces: tuple[Piece, ...]
    peak: Peak = field(default_factory=Peak)
    seconds: float = 0.0


@dataclass(frozen=True)
class SideCuts:
    """All cuts of one side in the order they are made, grouped by cutter. side is "pads" for the pads."""

    side: str
    cuts: tuple[Cut, ...]
    findings: tuple[Finding, ...] = ()
