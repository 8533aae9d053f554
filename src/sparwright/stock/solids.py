"""Solids of the blank and the member, their volume, mass and centre of mass. Member frame, mm and kg.

Each kind of pocket, hole and notch becomes one cutting body, copied to its places and taken from the blank
in one step. Edge breaks are in the solid as 45 degree chamfers.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

import manifold3d
import numpy as np
import shapely

from sparwright.stock.model import Face, Hole, Member, Pocket, Section
from sparwright.stock.outlines import circle, fillet

OVER = 0.25  # mm, how far a cutting body stands out of the metal it goes through
CHORD = 0.005  # mm, greatest chord error of round parts
Ring = tuple[np.ndarray, float]


def blank_solid(member: Member) -> manifold3d.Manifold:
    """The stock as sawn, before any cut."""
    return _blank(member.section, member.length)


@lru_cache(maxsize=16)
def _blank(section: Section, length: float) -> manifold3d.Manifold:
    rings = [section.shape.exterior, *section.shape.interiors]
    outline = manifold3d.CrossSection(
        [shapely.get_coordinates(r)[:-1] for r in rings], manifold3d.FillRule.EvenOdd
    )
    along = np.array([[0.0, 0.0, 1.0, 0.0], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]])
    return manifold3d.Manifold.extrude(outline, length).transform(along)


@lru_cache(maxsize=4)
def member_solid(member: Member, chord: float = CHORD) -> manifold3d.Manifold:
    """The member with every feature cut; the pockets' and holes' arcs as chords within `chord` mm."""
    bodies = [*_pocket_bodies(member, chord), *_notch_bodies(member), *_hole_bodies(member, chord)]
    if not bodies:
        return blank_solid(member)
    return manifold3d.Manifold.batch_boolean([blank_solid(member), *bodies], manifold3d.OpType.Subtract)


# --- cutting bodies -------------------------------------------------------------------------------------


def offset_ring(ring: np.ndarray, distance: float) -> np.ndarray:
    """A convex counter-clockwise ring moved outward by `distance`, point for point, edges parallel, (k, 2)."""
    edges = np.roll(ring, -1, axis=0) - ring
    edges /= np.hypot(edges[:, 0], edges[:, 1])[:, None]
    out = np.column_stack([edges[:, 1], -edges[:, 0]])
    before = np.roll(out, 1, axis=0)
    share = 1 + np.einsum("ij,ij->i", out, before)
    return ring + distance * (out + before) / share[:, None]


def loft(rings: Sequence[Ring]) -> manifold3d.Manifold:
    """A body through rings of equally many points (k, 2) at rising heights, flat at both ends."""
    count = len(rings[0][0])
    points = np.vstack([np.column_stack([r, np.full(count, n)]) for r, n in rings])
    i = np.arange(count)
    j = (i + 1) % count
    sides = [
        np.vstack([np.column_stack([a + i, a + j, b + j]), np.column_stack([a + i, b + j, b + i])])
        for a, b in pairwise(range(0, count * len(rings), count))
    ]
    cap = np.asarray(manifold3d.triangulate([rings[0][0]]))
    top = np.asarray(manifold3d.triangulate([rings[-1][0]])) + count * (len(rings) - 1)
    triangles = np.vstack([*sides, cap[:, ::-1], top]).astype(np.uint64)
    return manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(points), triangles))


def _well(ring: np.ndarray, depth: float, edge_break: float, below: float) -> list[Ring]:
    """Rings of a straight-walled recess with its edge break, from `below` under the floor to over the face."""
    rings: list[Ring] = [(ring, -depth - below)]
    if edge_break > 0:
        rings.append((ring, -min(edge_break, depth)))
        rings.append((offset_ring(ring, edge_break + OVER), OVER))
    else:
        rings.append((ring, OVER))
    return rings


def face_frame(face: Face) -> np.ndarray:
    """The motion from (x, s, n) of a face to the member frame, (3, 4)."""
    frame = np.zeros((3, 4))
    frame[0, 0] = 1.0
    frame[1:, 1] = face.across
    frame[1:, 2] = face.normal
    frame[1:, 3] = face.centre
    return frame


def _ccw(polygon: shapely.Polygon) -> np.ndarray:
    return shapely.get_coordinates(shapely.geometry.polygon.orient(polygon).exterior)[:-1]


def pocket_ring(pocket: Pocket, chord: float = CHORD) -> np.ndarray:
    """A pocket's outline about its origin with arcs within `chord`, counter-clockwise, (k, 2)."""
    if not pocket.corners:
        return circle(pocket.corner_radius, chord)
    return fillet(np.asarray(pocket.corners) - np.asarray(pocket.origin), pocket.corner_radius, chord)


def _pocket_bodies(member: Member, chord: float) -> list[manifold3d.Manifold]:
    moulds: dict[tuple, manifold3d.Manifold] = {}
    bodies = []
    for p in member.pockets:
        key = (p.shape_key, p.depth, p.window, p.edge_break)
        if key not in moulds:
            moulds[key] = loft(_well(pocket_ring(p, chord), p.depth, p.edge_break, OVER if p.window else 0.0))
        frame = face_frame(member.section.face(p.face))
        bodies.append(moulds[key].translate((*p.origin, 0.0)).transform(frame))
    return bodies


def _notch_bodies(member: Member) -> list[manifold3d.Manifold]:
    return [
        loft(_well(_ccw(n.outline), n.depth, n.edge_break, OVER)).transform(
            face_frame(member.section.face(n.face))
        )
        for n in member.notches
    ]


def hole_rings(hole: Hole, chord: float = CHORD) -> list[Ring]:
    """Rings of a hole about its axis, from under its end to over the face; flat-ended."""
    radius = hole.diameter / 2
    wide = max(hole.diameter, hole.counterbore[0] if hole.counterbore else 0.0) / 2
    unit = circle(wide, chord) / wide
    rings: list[Ring] = [(unit * radius, -hole.depth - (0.0 if hole.through == "blind" else OVER))]
    if hole.counterbore:
        rings += [(unit * radius, -hole.counterbore[1]), (unit * wide, -hole.counterbore[1])]
    if hole.edge_break > 0:
        rings.append((unit * wide, -hole.edge_break))
        return [*rings, (unit * (wide + hole.edge_break + OVER), OVER)]
    return [*rings, (unit * wide, OVER)]


def _hole_bodies(member: Member, chord: float) -> list[manifold3d.Manifold]:
    return [
        loft(hole_rings(h, chord)).translate((*h.at, 0.0)).transform(face_frame(member.section.face(h.face)))
        for h in member.holes
    ]


# --- figures --------------------------------------------------------------------------------------------


def solid_volume(solid: manifold3d.Manifold) -> float:
    """Volume of a solid, mm³."""
    return float(solid.volume())


def mass_kg(member: Member) -> float:
    """Mass of the finished member, kg."""
    return solid_volume(member_solid(member)) * member.material.density * 1e-9


def blank_mass_kg(member: Member) -> float:
    """Mass of the stock as sawn, kg."""
    return member.section.shape.area * member.length * member.material.density * 1e-9


def mass_out_kg(member: Member) -> float:
    """Mass the cuts take out of the stock as sawn, kg; exactly 0 where nothing is cut."""
    if not member.worked_faces:
        return 0.0
    return blank_mass_kg(member) - mass_kg(member)


def centre_of_mass(member: Member) -> tuple[float, float, float]:
    """Centre of mass of the finished member, (x, y, z) mm: tetrahedra from the middle to every triangle."""
    mesh = member_solid(member).to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    middle = points.mean(axis=0)
    a, b, c = (points[np.asarray(mesh.tri_verts)[:, i]] - middle for i in range(3))
    volumes = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6
    x, y, z = middle + ((a + b + c) / 4 * volumes[:, None]).sum(axis=0) / volumes.sum()
    return float(x), float(y), float(z)
