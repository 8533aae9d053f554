"""The member as binary glTF 2.0, for looking at."""

from __future__ import annotations

import json
import math
import struct
from pathlib import Path
from typing import Any

import numpy as np

from sparwright.packet.exports.surface import facets, surface
from sparwright.packet.whole import write_bytes
from sparwright.stock.model import Member
from sparwright.stock.solids import member_solid

CREASE = math.radians(30)  # faces that meet at a sharper angle keep an edge
VIEW_CHORD = 0.02  # mm, chord error of the arcs: the file is for looking at


def write_glb(member: Member, path: Path) -> None:
    """The member as binary glTF 2.0 with creased normals; points in mm under a node that scales to metres, y up."""
    points, triangles = surface(member_solid(member, VIEW_CHORD))
    corners, normals, index = creased(points, triangles, CREASE)
    data = glb_bytes(corners, normals, index, member.title)
    write_bytes(path, data)


def creased(
    points: np.ndarray, triangles: np.ndarray, crease: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Vertices with normals that are smooth across edges flatter than `crease` radians and sharp elsewhere.

    Returns points (v, 3), normals (v, 3) and triangles (t, 3) into them. A corner's normal is the
    area-weighted mean over the triangles at its point that lie within the crease angle of its own.
    """
    normals, areas = facets(points, triangles)
    keys = np.round(normals, 4) + 0.0
    flat_keys, flat_of = np.unique(keys, axis=0, return_inverse=True)
    pairs = triangles.ravel() * len(flat_keys) + np.repeat(flat_of.ravel(), 3)
    groups, corner_group = np.unique(pairs, return_inverse=True)
    weighted = np.zeros((len(groups), 3))
    np.add.at(weighted, corner_group, np.repeat(normals * areas[:, None], 3, axis=0))
    point_of, flat = groups // len(flat_keys), groups % len(flat_keys)
    smooth = weighted.copy()
    starts = np.searchsorted(point_of, point_of)
    sizes = np.bincount(point_of, minlength=len(points))[point_of]
    limit = math.cos(crease)
    for k in range(int(sizes.max())):
        other = starts + k
        here = np.flatnonzero((k < sizes) & (other != np.arange(len(groups))))
        near = np.einsum("ij,ij->i", flat_keys[flat[here]], flat_keys[flat[other[here]]]) > limit
        smooth[here[near]] += weighted[other[here[near]]]
    smooth /= np.maximum(np.linalg.norm(smooth, axis=1), 1e-300)[:, None]
    merged = np.column_stack([point_of, np.round(smooth, 5) + 0.0])
    _, first, vertex = np.unique(merged, axis=0, return_index=True, return_inverse=True)
    return points[point_of[first]], smooth[first], vertex.ravel()[corner_group].reshape(-1, 3)


def glb_bytes(points: np.ndarray, normals: np.ndarray, triangles: np.ndarray, title: str) -> bytes:
    """A GLB container: a JSON chunk and one binary chunk of indices, points and normals."""
    wide = len(points) > 65535
    index = triangles.ravel().astype("<u4" if wide else "<u2").tobytes()
    index += b"\0" * (-len(index) % 4)
    place = points.astype("<f4")
    parts = [index, place.tobytes(), normals.astype("<f4").tobytes()]
    offsets = [0, len(parts[0]), len(parts[0]) + len(parts[1])]
    views = [
        {"buffer": 0, "byteOffset": o, "byteLength": len(p), "target": t}
        for o, p, t in zip(offsets, parts, (34963, 34962, 34962), strict=True)
    ]
    scene: dict[str, Any] = {
        "asset": {"version": "2.0", "generator": "Sparwright"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [
            {
                "mesh": 0,
                "name": title,
                "scale": [0.001, 0.001, 0.001],
                "rotation": [-math.sqrt(0.5), 0.0, 0.0, math.sqrt(0.5)],
            }
        ],
        "materials": [
            {
                "name": "aluminium",
                "pbrMetallicRoughness": {
                    "baseColorFactor": [0.78, 0.79, 0.81, 1.0],
                    "metallicFactor": 0.6,
                    "roughnessFactor": 0.5,
                },
            }
        ],
        "meshes": [
            {"primitives": [{"attributes": {"POSITION": 1, "NORMAL": 2}, "indices": 0, "material": 0}]}
        ],
        "accessors": [
            {
                "bufferView": 0,
                "componentType": 5125 if wide else 5123,
                "count": int(triangles.size),
                "type": "SCALAR",
            },
            {
                "bufferView": 1,
                "componentType": 5126,
                "count": len(points),
                "type": "VEC3",
                "min": place.min(axis=0).tolist(),
                "max": place.max(axis=0).tolist(),
            },
            {"bufferView": 2, "componentType": 5126, "count": len(points), "type": "VEC3"},
        ],
        "bufferViews": views,
        "buffers": [{"byteLength": sum(map(len, parts))}],
    }
    text = json.dumps(scene, separators=(",", ":")).encode()
    text += b" " * (-len(text) % 4)
    binary = b"".join(parts)
    chunks = struct.pack("<II", len(text), 0x4E4F534A) + text
    chunks += struct.pack("<II", len(binary), 0x004E4942) + binary
    return struct.pack("<III", 0x46546C67, 2, 12 + len(chunks)) + chunks
