"""Pictures: what goes over the wire is what was meant, and every picture has its drawing."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

import sparwright.page
from sparwright.page.pictures import PICTURES, PictureData
from sparwright.page.pictures.member import build, sharp_edges

DRAWINGS = Path(sparwright.page.__file__).parent / "static" / "pictures"


def unpacked(body: bytes) -> tuple[dict, dict[str, np.ndarray]]:
    """Read as the page's data.js reads it."""
    length = int.from_bytes(body[:4], "little")
    head = json.loads(body[4 : 4 + length])
    arrays = {}
    for a in head["arrays"]:
        start = 4 + length + a["at"]
        assert start % 4 == 0, "a typed array must begin on a multiple of its size"
        flat = np.frombuffer(body, dtype=a["type"], count=int(np.prod(a["shape"])), offset=start)
        arrays[a["name"]] = flat.reshape(a["shape"])
    return head["meta"], arrays


def test_arrays_come_back_as_they_were():
    arrays = {
        "places": np.linspace(0, 1, 21).reshape(7, 3),
        "flags": np.array([True, False, True]),
        "corners": np.arange(6, dtype=np.int64).reshape(2, 3),
        "none": np.zeros((0, 3)),
        "last": np.array([7], dtype=np.uint8),
    }
    meta, found = unpacked(PictureData({"words": "größer"}, arrays).packed())
    assert meta == {"words": "größer"}
    assert {k: v.dtype.name for k, v in found.items()} == {
        "places": "float32",
        "flags": "uint8",
        "corners": "uint32",
        "none": "float32",
        "last": "uint8",
    }
    for name, array in arrays.items():
        assert found[name].shape == array.shape
        assert np.allclose(found[name], array, atol=1e-7)


def test_every_picture_has_its_drawing_and_every_drawing_its_picture():
    names = [p.name for p in PICTURES]
    assert {"member", "section"} <= set(names)
    assert len(names) == len(set(names))
    assert {p.stem for p in DRAWINGS.glob("*.js")} == set(names)
    assert all(1 <= p.band <= 6 for p in PICTURES)


def test_the_coloured_floors_have_the_area_of_the_pockets(bridge_job, bridge_member):
    found = build(bridge_job, bridge_member)
    corners = found.arrays["points"][found.arrays["triangles"]]
    area = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1) / 2
    thickness = found.arrays["thickness"]
    assert set(np.unique(thickness)) == {-1.0, 1.2}
    pockets = sum(p.outline.area for p in bridge_member.pockets)
    assert area[thickness > 0].sum() == pytest.approx(pockets, rel=0.01)  # arcs as chords of 0.15 mm
    assert found.meta["skin_mm"] == [1.2, 1.2]


def test_a_cubes_sharp_edges_are_its_twelve():
    import manifold3d

    mesh = manifold3d.Manifold.cube((1, 2, 3)).to_mesh64()
    edges = sharp_edges(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))
    assert edges.shape == (12, 2)
    assert len({tuple(e) for e in edges.tolist()}) == 12
