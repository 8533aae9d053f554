"""The tap tone: free-free frequencies of the member, where to rest it and where to tap.

Rested on soft foam at the nodes of its first bending mode and tapped in the middle, a bar rings at that mode's
frequency; a phone's spectrum shows it. Beam elements of the loop room, with shear and rotary inertia.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sparwright.loop.elements import TX, Beam, Mode, Stretch, V, W, build_beam, first_of, modes

MODULUS_SPREAD = 0.02
"""Half-width of a metal's modulus, relative (EN 1999-1-1 gives 70 000 MPa; published values run from 68 300 to 71 700)."""
MASS_SPREAD = 0.01
"""Half-width of the mass, relative, before the piece is weighed: density and walls; from memory."""
_SEARCHED = 12


@dataclass(frozen=True)
class Tone:
    """First free-free frequencies, Hz, and where the member is at rest in each.

    spread: relative half-width of a bending frequency, twist_spread of the twist's. nodes_y, nodes_z: the two
    places, mm, where it does not move in the mode that moves in y, in z; node_twist: the one of the twist.
    """

    moving_in_y_Hz: float
    moving_in_z_Hz: float
    twist_Hz: float
    spread: float
    twist_spread: float
    nodes_y: tuple[float, float]
    nodes_z: tuple[float, float]
    node_twist: float


def _nodes(beam: Beam, mode: Mode, which: int) -> list[float]:
    """Places where a mode's motion passes through zero, mm."""
    w = mode.shape[:, which]
    at = np.flatnonzero(w[:-1] * w[1:] <= 0)
    return [float(beam.x[i] + (beam.x[i + 1] - beam.x[i]) * w[i] / (w[i] - w[i + 1])) for i in at]


def tap_tone(stretches: Sequence[Stretch], axis: tuple[float, float], bending: float, twist: float) -> Tone:
    """The tone of a member of these stretches; bending, twist: relative half-widths of those stiffnesses."""
    beam = build_beam(stretches, axis, elements=60)
    found = modes(beam.K, beam.M, _SEARCHED, rigid=6)
    y, z, turn = (first_of(found, kind) for kind in ("bend_y", "bend_z", "twist"))
    in_y, in_z, rest = _nodes(beam, y, V), _nodes(beam, z, W), _nodes(beam, turn, TX)
    middle = (beam.x[0] + beam.x[-1]) / 2
    return Tone(
        moving_in_y_Hz=y.frequency,
        moving_in_z_Hz=z.frequency,
        twist_Hz=turn.frequency,
        spread=math.hypot(bending, MASS_SPREAD) / 2,
        twist_spread=math.hypot(twist, MASS_SPREAD) / 2,
        nodes_y=(in_y[0], in_y[-1]),
        nodes_z=(in_z[0], in_z[-1]),
        node_twist=min(rest, key=lambda x: abs(x - middle)),
    )


def member_tones(
    before: Sequence[Stretch], after: Sequence[Stretch], own: Mapping[str, float]
) -> tuple[Tone, Tone]:
    """Tones of the plain stock at the member's length and of the finished member.

    own: relative half-widths of the reworked stiffnesses by the model's own estimate, by name.
    """
    bending = math.hypot(MODULUS_SPREAD, max(own.get("EIy", 0.0), own.get("EIz", 0.0)))
    twist = math.hypot(MODULUS_SPREAD, own.get("GJ", 0.0))
    axis = before[0].properties.centroid
    return tap_tone(before, axis, MODULUS_SPREAD, MODULUS_SPREAD), tap_tone(after, axis, bending, twist)
