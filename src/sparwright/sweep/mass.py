"""Mass that the cuts of a member take out, quickly: every kind of pocket once, times its number."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import lru_cache

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from sparwright.stock.model import Face, Member, Pocket, Section
from sparwright.stock.outlines import circle, fillet
from sparwright.stock.section import wall_range
from sparwright.stock.solids import CHORD, blank_mass_kg, mass_out_kg, offset_ring

EVEN = 1e-6  # mm of difference over a wall that counts as even
ROOM = 5.0  # mm of stock kept on both sides of a pocket whose metal is measured alone


def quick_mass_out(member: Member) -> float:
    """Mass the cuts take out of the stock as sawn, kg: exact where no two features take the same metal, as the layout
    sees to."""
    others = without_pockets(member)
    kinds: dict[tuple[object, ...], list[Pocket]] = defaultdict(list)
    for p in member.pockets:
        kinds[(p.face, p.shape_key, round(p.origin[1], 6), p.depth, p.window, p.edge_break)].append(p)
    return _mass_out(others) + sum(len(same) * _pocket_out(others, same[0]) for same in kinds.values())


def _pocket_out(others: Member, pocket: Pocket) -> float:
    """Mass one pocket takes, kg: of its own prisms where the wall is even under it, else measured on a solid."""
    volume = _even_volume(others.section, pocket)
    if volume is None:
        return _mass_out(_alone(others, pocket))
    return volume * others.material.density * 1e-9


def _even_volume(section: Section, pocket: Pocket) -> float | None:
    """Volume of a pocket in an even wall, mm³; None where the wall under it or its edge break is not even.

    Between two rings of parallel edges the volume is h (A0 + 4 Am + A1) / 6 (the prismatoid's, by Simpson's rule).
    """
    wide = pocket.edge_break
    face = section.face(pocket.face)
    _, left, _, right = pocket.outline.bounds
    left, right = round(left - wide, 6), round(right + wide, 6)
    if max(-left, right) > face.width / 2:
        return None
    least, most, _ = _under(section, face, left, right)
    if most - least > EVEN or pocket.depth > least + EVEN:
        return None
    x0, s0 = pocket.origin
    corners = tuple((round(x - x0, 6), round(s - s0, 6)) for x, s in pocket.corners)
    own, middle, top = _areas(corners, pocket.corner_radius, wide)
    return own * (pocket.depth - wide) + wide * (own + 4 * middle + top) / 6


@lru_cache(maxsize=512)
def _areas(
    corners: tuple[tuple[float, float], ...], radius: float, wide: float
) -> tuple[float, float, float]:
    """Areas inside an outline about its origin, and half and all of `wide` outside it, mm²."""
    ring = fillet(np.asarray(corners), radius, CHORD) if corners else circle(radius, CHORD)
    own, middle, top = (Polygon(offset_ring(ring, share * wide)).area for share in (0.0, 0.5, 1.0))
    return own, middle, top


@lru_cache(maxsize=256)
def _under(section: Section, face: Face, left: float, right: float) -> tuple[float, float, float]:
    return wall_range(section, face, left, right)


def without_pockets(member: Member) -> Member:
    """The member with its holes and notches only."""
    return replace(member, title="", pockets=(), dropped=(), bays=(), sawn=(), notes=())


def _alone(others: Member, pocket: Pocket) -> Member:
    """A short piece of the stock with this pocket only."""
    low, _, high, _ = pocket.outline.bounds
    by = ROOM - low
    moved = replace(
        pocket,
        id="",
        field="",
        origin=(round(pocket.origin[0] + by, 6), pocket.origin[1]),
        outline=affinity.translate(pocket.outline, by),
        corners=tuple((round(x + by, 6), s) for x, s in pocket.corners),
    )
    return replace(others, length=round(high - low, 6) + 2 * ROOM, pockets=(moved,), holes=(), notches=())


@lru_cache(maxsize=512)
def _mass_out(member: Member) -> float:
    return mass_out_kg(member)


def mass_kept(member: Member, out_kg: float) -> float:
    """Share of the stock's mass that stays."""
    return 1 - out_kg / blank_mass_kg(member)
