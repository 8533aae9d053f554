"""A machine of beams, rigid links, springs and masses: deflections, where the energy goes, natural modes.

Units: mm, N, N mm, radians; frequencies Hz. Motions and loads are six each at a node: along x, y, z, then about
them. Every function takes a Frame, or a Frame made ready by `prepare` where several questions are asked of it.
Method: displacement method with beam elements that are exact for loads at their ends (see `elements`); modes by
Lanczos iteration on the shifted inverse.
"""

from __future__ import annotations

from sparwright.loop.frame_parts import BeamLink, Frame, FrameError, Hold, Mass, Node, Rigid, Spring
from sparwright.loop.frame_statics import Displaced, Prepared, compliance, frame_mass, prepare, solve
from sparwright.loop.frame_vibration import FrameMode, frame_modes

__all__ = [
    "BeamLink",
    "Displaced",
    "Frame",
    "FrameError",
    "FrameMode",
    "Hold",
    "Mass",
    "Node",
    "Prepared",
    "Rigid",
    "Spring",
    "compliance",
    "frame_mass",
    "frame_modes",
    "prepare",
    "solve",
]
