"""The surface of a solid as triangles, for the formats that hold meshes."""

from __future__ import annotations

import manifold3d
import numpy as np


def surface(solid: manifold3d.Manifold) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 3) and triangles (t, 3) of a solid, outward by the right-hand rule."""
    mesh = solid.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    return points, np.asarray(mesh.tri_verts).astype(np.int64)


def facets(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (t, 3) and areas (t,) of triangles."""
    a, b, c = (points[triangles[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    twice = np.linalg.norm(cross, axis=1)
    return cross / np.maximum(twice, 1e-300)[:, None], twice / 2
