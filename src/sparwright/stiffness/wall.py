"""Stiffness of the reworked member, quickly: each wall with pockets as one flat periodic strip, all walls joined.

The model gives what the pockets take away; the intact section itself comes from its own two-dimensional solution.
It knows where it must not be believed (wall_trust); the bay is the judge there.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.job.models import Material
from sparwright.stiffness.model import BeamProperties, least_of
from sparwright.stiffness.pattern import BayError, Pattern, field_pattern, stretches
from sparwright.stiffness.plate import patterned_wall, plain_wall
from sparwright.stiffness.section import section_properties
from sparwright.stiffness.strip import StripShape
from sparwright.stiffness.wall_join import TORSION, BeamStiffness, PlacedWall, join
from sparwright.stiffness.wall_place import WallPockets, place_pockets
from sparwright.stiffness.wall_trust import placement_trust, spread
from sparwright.stock.model import FieldBay, Member, Section
from sparwright.stock.walls import Wall, WallList, find_walls

# Elements along the smallest pocket, for skins and for windows, whose ribs want finer ones; and across a wall.
SKIN, WINDOW, ACROSS = 2.0, 6.0, 4.0
# Cutting plane as a share of the period from the best, and mesh size over the usual one, of each attempt to mesh.
ATTEMPTS = ((0.0, 1.0), (0.13, 1.0), (0.29, 0.7), (0.43, 1.3))
KEPT = 32


def wall_properties(member: Member, *, windows: bool = False) -> BeamProperties:
    """Constants of the beam with the member's pocket fields, method "wall".

    windows: the same pattern with the skins taken out, for comparison. Every field keeps its own pitch, so fields on
    different faces need no common period. A member without fields gives its section's properties. Single pockets,
    holes, notches and dropped pockets are not in it. Where fields lie one behind the other, the least of every
    stiffness is given, with mass and centres of the stretch weakest in twist. spread: trust band of the model.
    Raises BayError where the model must not be believed, with the reason, or where a strip could not be meshed.
    """
    if not member.bays:
        return section_properties(member.section, member.material)
    return least_of(
        [
            wall_stretch(member.section, member.material, bays, windows=windows)
            for bays in stretches(member.bays)
        ]
    )


def wall_stretch(
    section: Section, material: Material, bays: tuple[FieldBay, ...], *, windows: bool = False
) -> BeamProperties:
    """Constants of one stretch, over which these fields lie together; see wall_properties."""
    return _answer(section, material, _by_face(section, bays, windows))


def wall_pattern(section: Section, material: Material, pattern: Pattern) -> BeamProperties:
    """Constants of the endless beam with this pattern, method "wall"; a pattern without cuts is the plain prism.

    Raises BayError where the model must not be believed, or where a strip could not be meshed.
    """
    return _answer(section, material, (pattern,))


def wall_trust(section: Section, pattern: Pattern) -> str:
    """Why the wall model must not be believed for this pattern, in one sentence; "" where it may be."""
    return placement_trust(place_pockets(section, _walls(section), (pattern,)))


def _by_face(section: Section, bays: tuple[FieldBay, ...], windows: bool) -> tuple[Pattern, ...]:
    """One pattern a face, each with its own period."""
    faces = dict.fromkeys(b.face for b in bays)
    return tuple(
        field_pattern(section, tuple(b for b in bays if b.face == face), windows=windows) for face in faces
    )


def _answer(section: Section, material: Material, patterns: tuple[Pattern, ...]) -> BeamProperties:
    walls = _walls(section)
    placement = place_pockets(section, walls, patterns)
    reason = placement_trust(placement)
    if reason:
        raise BayError(f"the wall model must not be believed here: {reason} Use the bay instead")
    exact, intact = _intact(section, material)
    if not placement.pockets:
        return BeamProperties(**vars(exact) | {"method": "wall"})
    worked = _joined(section, walls, material.poisson, placement.pockets)
    taken = sum(p.taken for p in placement.pockets)
    bands = spread(placement, max(p.misfit for p in patterns))
    return _properties(exact, intact, worked, material, section, taken, bands)


@lru_cache(maxsize=KEPT)
def _walls(section: Section) -> WallList:
    return find_walls(section)


@lru_cache(maxsize=KEPT)
def _intact(section: Section, material: Material) -> tuple[BeamProperties, BeamStiffness]:
    """The section's own solution, and the wall model without pockets."""
    return section_properties(section, material), _joined(section, _walls(section), material.poisson, ())


def _joined(
    section: Section, walls: WallList, poisson: float, pockets: tuple[WallPockets, ...]
) -> BeamStiffness:
    origin = np.array([section.shape.centroid.x, section.shape.centroid.y])
    worked = {p.wall: p for p in pockets}
    placed = []
    for index, wall in enumerate(walls.walls):
        own = worked.get(index)
        placed.append(_plain(walls, wall, poisson, origin) if own is None else _worked(own, poisson, origin))
    return join(tuple(placed), len(walls.nodes))


def _plain(walls: WallList, wall: Wall, poisson: float, origin: np.ndarray) -> PlacedWall:
    low, high = (np.array(walls.nodes[end]) for end in wall.ends)
    width = float(np.linalg.norm(high - low))
    free = tuple(len(walls.at_node(end)) == 1 for end in wall.ends)
    stiffness = plain_wall(round(width, 6), wall.thickness, poisson, (free[0], free[1]))
    return PlacedWall((low + high) / 2 - origin, (high - low) / width, wall.ends, stiffness)


def _worked(own: WallPockets, poisson: float, origin: np.ndarray) -> PlacedWall:
    """The wall with its pockets, meshed in as many attempts as it takes."""
    troubles = []
    for shift, size in ATTEMPTS:
        try:
            shape = strip_shape(own, shift, size)
            stiffness = patterned_wall(shape, own.thickness, own.depths, poisson, own.free)
            return PlacedWall(np.array(own.middle) - origin, np.array(own.along), own.ends, stiffness)
        except _failures() as fault:
            troubles.append((str(fault).strip().splitlines() or [type(fault).__name__])[0])
    raise BayError(
        f"the strip of wall under {own.face} could not be meshed in {len(ATTEMPTS)} attempts; the last trouble: "
        f"{troubles[-1]}. Look for pockets that touch each other or leave slivers thinner than 0.1 mm, and change "
        "rib or cell a little"
    )


def _failures() -> tuple[type[BaseException], ...]:
    """What the modeller, the mesher and our own checks throw when a strip does not come out."""
    from netgen.meshing import NgException
    from netgen.occ import OCCException

    return (NgException, OCCException, RuntimeError, ValueError, np.linalg.LinAlgError)


def strip_shape(own: WallPockets, shift: float = 0.0, size: float = 1.0) -> StripShape:
    """The strip of a wall with pockets, cut open in the middle of the longest stretch where no outline begins or ends.

    shift: of the cutting plane, in periods. size: of the elements, over the usual.
    """
    bounds = np.array([o.bounds for kind in own.kinds for o in kind])
    least = float(np.min(bounds[:, 2:] - bounds[:, :2]))
    usual = min(least / (WINDOW if any(own.through) else SKIN), own.width / ACROSS)
    places = np.unique(np.round(bounds[:, [0, 2]].ravel() % own.period, 6))
    gaps = np.diff(np.append(places, places[0] + own.period))
    widest = int(np.argmax(np.round(gaps, 4)))
    plane = places[widest] + gaps[widest] / 2 + shift * own.period
    kinds = tuple(tuple(_in_period(o, own.period, plane) for o in kind) for kind in own.kinds)
    return StripShape(own.period, own.width, kinds, own.through, usual * size).shifted(plane)


def _in_period(outline: Polygon, period: float, plane: float) -> Polygon:
    """The outline moved by whole periods so that it begins in the period that starts at the plane."""
    low = outline.bounds[0]
    return translate(outline, -period * np.floor((low - plane) / period + 1e-6))


def _properties(
    exact: BeamProperties,
    intact: BeamStiffness,
    worked: BeamStiffness,
    material: Material,
    section: Section,
    taken: float,
    bands: dict[str, float],
) -> BeamProperties:
    """The section's constants less what the model says the pockets take.

    Stretch and bending: the section's own less the difference of the models, because what is taken away is modelled
    as it is. Twist and shear: the section's own times the ratio of the models, because corners and fillets that the
    model does not know stiffen both alike.
    """
    E = material.modulus
    C = np.array(worked.C) * E
    C[:3, :3] += _stretch_and_bending(exact, section) - intact.C[:3, :3] * E
    GJ = exact.GJ * worked.twist / intact.twist
    S = np.linalg.inv(C)
    bending = np.linalg.inv(S[1:3, 1:3])
    shear = np.diag(intact.compliance) / np.diag(worked.compliance)
    origin = np.array([section.shape.centroid.x, section.shape.centroid.y])
    moved = worked.shear_centre - intact.shear_centre
    return BeamProperties(
        method="wall",
        mass_kg_per_m=exact.mass_kg_per_m - material.density * taken * 1e-6,
        EA=float(C[0, 0] - C[0, TORSION] ** 2 / C[TORSION, TORSION]),
        EIy=float(bending[1, 1]),
        EIz=float(bending[0, 0]),
        EIyz=float(-bending[0, 1]),
        GJ=float(GJ),
        GAy=float(exact.GAy * shear[0]),
        GAz=float(exact.GAz * shear[1]),
        centroid=(float(origin[0] - C[0, 1] / C[0, 0]), float(origin[1] + C[0, 2] / C[0, 0])),
        shear_centre=(float(exact.shear_centre[0] + moved[0]), float(exact.shear_centre[1] + moved[1])),
        spread=bands,
    )


def _stretch_and_bending(exact: BeamProperties, section: Section) -> np.ndarray:
    """(3, 3) of the intact section about its outline's middle: stretch, strain -y, strain z."""
    y, z = np.array(exact.centroid) - np.array([section.shape.centroid.x, section.shape.centroid.y])
    own = np.array([[exact.EA, 0, 0], [0, exact.EIz, -exact.EIyz], [0, -exact.EIyz, exact.EIy]])
    move = np.array([[1.0, -y, z], [0, 1, 0], [0, 0, 1]])
    return np.asarray(move.T @ own @ move)
