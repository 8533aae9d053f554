"""The member in three dimensions, the floors of its pockets coloured by the metal left under them."""

from __future__ import annotations

from functools import partial

import numpy as np

from sparwright.job.models import Job
from sparwright.packet.figures import Display
from sparwright.page.pictures import PictureData
from sparwright.stock.model import Member, Pocket
from sparwright.stock.solids import member_solid

CHORD = 0.15
"""mm; arcs on the screen as chords within this."""
SHARP = 25.0
"""Degrees between two triangles from which their edge is drawn."""
NEAR = 0.02
"""mm; how near a triangle must lie to a pocket's floor to be part of it."""


def build(job: Job, member: Member) -> PictureData:
    """points (n, 3) mm in the member frame; triangles (m, 3); thickness (m,): the skin under a floor, mm, -1 elsewhere;
    edges (k, 2).

    meta: length and size of the section, mm; least and greatest skin of the pockets, None without any; words.
    """
    mesh = member_solid(member, CHORD).to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    triangles = np.asarray(mesh.tri_verts)
    thickness = floor_skins(member, points, triangles)
    skins = [p.skin for p in member.pockets if not p.window]
    low_y, low_z, high_y, high_z = member.section.shape.bounds
    meta = {
        "length_mm": member.length,
        "size_mm": [high_y - low_y, high_z - low_z],
        "skin_mm": [min(skins), max(skins)] if skins else None,
        "words": partial(_words, member, skins),
    }
    edges = sharp_edges(points, triangles)
    arrays = {"points": points, "triangles": triangles, "thickness": thickness, "edges": edges}
    return PictureData(meta, arrays)


def _words(member: Member, skins: list[float], show: Display) -> str:
    words = f"The member, {show.size(member.length)} of {member.section.drawing}, with {len(member.pockets)} pockets"
    if skins and min(skins) < max(skins):
        return f"{words}, skins {show.length(min(skins))} to {show.size(max(skins))}."
    return words + (f", skins {show.size(skins[0])}." if skins else ".")


def sharp_edges(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """Edges whose two triangles meet at more than SHARP, as pairs of points, (k, 2)."""
    normals = _normals(points, triangles)
    pairs = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    owner = np.repeat(np.arange(len(triangles)), 3)
    order = np.lexsort((pairs[:, 1], pairs[:, 0]))
    pairs, owner = pairs[order], owner[order]
    twins = np.flatnonzero((pairs[1:] == pairs[:-1]).all(axis=1))
    cosine = np.einsum("ij,ij->i", normals[owner[twins]], normals[owner[twins + 1]])
    return np.ascontiguousarray(pairs[twins[cosine < np.cos(np.radians(SHARP))]])


def _normals(points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    corners = points[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(normals / np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None])


def floor_skins(member: Member, points: np.ndarray, triangles: np.ndarray) -> np.ndarray:
    """The skin under every triangle that is a pocket's floor, mm; -1 for all others. Shape (m,)."""
    out = np.full(len(triangles), -1.0)
    corners, normals = points[triangles], _normals(points, triangles)
    for name in {p.face for p in member.pockets}:
        face = member.section.face(name)
        up = normals[:, 1:] @ face.normal > 0.999
        middles = face.from_member(corners[up].mean(axis=1))
        skins = np.full(len(middles), -1.0)
        for depth, skin in {(p.depth, p.skin) for p in member.pockets if p.face == name and not p.window}:
            here = np.abs(middles[:, 2] + depth) < NEAR
            inside = _within([p for p in member.pockets if p.face == name and p.depth == depth], middles)
            skins[here & inside] = skin
        out[up] = skins
    return out


def _within(pockets: list[Pocket], places: np.ndarray) -> np.ndarray:
    """Whether places (x, s, ...) lie within the outline of any of the pockets, (k,) of bool."""
    import shapely

    tree = shapely.STRtree([p.outline.buffer(NEAR) for p in pockets])
    hit, _ = tree.query(shapely.points(places[:, :2]), predicate="within")
    inside = np.zeros(len(places), dtype=bool)
    inside[hit] = True
    return inside
