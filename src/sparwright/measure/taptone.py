"""The tap tone: free-free frequencies of the member, where to rest it and where to tap.

Rested on soft foam at the nodes of its first bending mode and tapped at an end or the middle, a bar rings at that
mode's frequency; a phone's spectrum shows it. Beam elements as in the loop room, with shear and rotary inertia.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparwright.loop.elements import bending_matrices, chain, frequencies, twist_matrices, worked_spans
from sparwright.stiffness.model import BeamProperties
from sparwright.stock.model import Member

STIFFNESS_SPREAD = 0.02
"""Half-width of a metal's modulus, relative (EN 1999-1-1 gives 70 000 MPa; published values run from 68 300 to 71 700)."""


@dataclass(frozen=True)
class Tone:
    """First free-free bending modes and twist. Hz; spread: relative half-width. nodes: places of the soft rests, mm."""

    moving_in_y_Hz: float
    moving_in_z_Hz: float
    twist_Hz: float
    spread: float
    nodes_y: tuple[float, float]
    nodes_z: tuple[float, float]


def _first_bending(
    length: float,
    plain: BeamProperties,
    worked: BeamProperties | None,
    spans: list[tuple[float, float]],
    plane: str,
) -> tuple[float, tuple[float, float]]:
    c = chain(length, plain, worked, spans, plane=plane, elements=120)
    f, shapes = frequencies(*bending_matrices(c), 1, rigid=2)
    w = shapes[0::2, 0]
    at = np.flatnonzero(np.sign(w[:-1]) * np.sign(w[1:]) < 0)
    nodes = [float(c.x[i] + (c.x[i + 1] - c.x[i]) * w[i] / (w[i] - w[i + 1])) for i in at]
    return float(f[0]), (nodes[0], nodes[-1])


def tap_tone(
    length: float,
    plain: BeamProperties,
    worked: BeamProperties | None,
    spans: list[tuple[float, float]],
    spread: float,
) -> Tone:
    """The tone of a member of `length` mm; spread: relative half-width of its bending stiffness."""
    fy, ny = _first_bending(length, plain, worked, spans, "y")
    fz, nz = _first_bending(length, plain, worked, spans, "z")
    twist = frequencies(*twist_matrices(chain(length, plain, worked, spans, elements=120)), 1, rigid=1)[0][0]
    return Tone(fy, fz, float(twist), spread / 2, ny, nz)


def member_tones(member: Member, plain: BeamProperties, worked: BeamProperties) -> tuple[Tone, Tone]:
    """Tones of the plain stock (at the member's length) and of the finished member."""
    own = max(worked.spread.get("EIy", 0.0), worked.spread.get("EIz", 0.0))
    before = tap_tone(member.length, plain, None, [], STIFFNESS_SPREAD)
    after = tap_tone(
        member.length, plain, worked, worked_spans(member), float(np.hypot(STIFFNESS_SPREAD, own))
    )
    return before, after
