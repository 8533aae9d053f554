"""The section where a notch is open: what is left of it, and how much stiffer than free its twist is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Material
from sparwright.stiffness.model import BeamProperties
from sparwright.stiffness.section import section_with_figures
from sparwright.stock.model import NotchCut, Section

# How far a notch's strip runs past the wall on both sides, mm.
OVER = 0.5


@dataclass(frozen=True)
class Notched:
    """The beam at a notch. warping: length sqrt(E Iw / GJ) over which its twist feels what holds its ends, mm."""

    properties: BeamProperties
    warping: float


def notched_section(section: Section, material: Material, notches: Sequence[NotchCut]) -> Notched:
    """Constants of the section with the notches' strips taken out; their rounded inner corners are left out.

    Where strips cut the section into pieces, each piece bends and twists on its own, and their stiffnesses add;
    that leaves out what the whole member beyond the notch and a plate at its end would do, and is too soft.
    """
    left = section.shape
    for notch in notches:
        left = left.difference(_strip(section, notch))
    pieces = [g for g in getattr(left, "geoms", [left]) if isinstance(g, Polygon) and g.area > 1e-3]
    found = [section_with_figures(replace(section, shape=piece), material) for piece in pieces]
    EIw = sum(material.modulus * figures.warping for _, figures in found)
    p = _together([p for p, _ in found])
    return Notched(p, math.sqrt(EIw / p.GJ))


def _strip(section: Section, notch: NotchCut) -> Polygon:
    """What the notch takes of the section plane."""
    face = section.face(notch.face)
    _, low, _, high = notch.outline.bounds
    sn = [(low, OVER), (high, OVER), (high, -notch.depth - OVER), (low, -notch.depth - OVER)]
    return Polygon(face.to_member(np.array([(0.0, s, n) for s, n in sn]))[:, 1:])


def _together(pieces: Sequence[BeamProperties]) -> BeamProperties:
    if len(pieces) == 1:
        return pieces[0]
    added = {
        key: sum(getattr(p, key) for p in pieces)
        for key in ("mass_kg_per_m", "EA", "EIy", "EIz", "EIyz", "GJ", "GAy", "GAz")
    }
    weights = np.array([p.EA for p in pieces]) / added["EA"]
    centres = {
        key: tuple(float(c) for c in weights @ np.array([getattr(p, key) for p in pieces]))
        for key in ("centroid", "shear_centre")
    }
    return replace(pieces[0], **added, **centres)


def twist_factor(length: float, warping: float, *, held: int = 1) -> float:
    """Twist of a thin open stretch over that of one free to warp, T L / GJ, below 1.

    held: ends at which the section may not warp, 1 or 2. With k = length / warping: 1 - tanh(k)/k and
    1 - tanh(k/2)/(k/2). Source: Vlasov's theory of thin-walled open bars (from memory). It leaves out the walls'
    shear, so that the true twist of a stretch shorter than the section is wide lies above it, and T L / GJ is always
    above the truth: the two are a bracket.
    """
    if held not in (1, 2):
        raise ValueError("one or two ends may be held against warping")
    k = length / warping / held
    return k * k / 3 if k < 1e-3 else 1 - math.tanh(k) / k
