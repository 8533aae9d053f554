"""Meshes, arcs and files: every export read back by other code than wrote it, and compared with the member."""

import json
import math
import re
import struct
import xml.etree.ElementTree as ET
import zipfile

import manifold3d
import numpy as np
import pytest

from sparwright.packet import exports, whole
from sparwright.packet.exports import glb, three_mf
from sparwright.stock.outlines import arc_middle, circle, fillet, with_bulges
from sparwright.stock.solids import member_solid, solid_volume


def signed_volume(corners):
    """Volume of a closed surface of triangles (t, 3, 3)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def volume(part):
    return solid_volume(member_solid(part))


# --- meshes ---------------------------------------------------------------------------------------------


def test_stl_holds_the_member(folder, part):
    data = (folder / "member.stl").read_bytes()
    (count,) = struct.unpack_from("<I", data, 80)
    assert len(data) == 84 + 50 * count
    assert not data.startswith(b"solid"), "readers take that for the text form"
    records = np.frombuffer(data[84:], dtype=np.uint8).reshape(count, 50)
    floats = np.ascontiguousarray(records[:, :48]).view("<f4").reshape(count, 4, 3).astype(float)
    normals, corners = floats[:, 0], floats[:, 1:]
    assert signed_volume(corners) == pytest.approx(volume(part), rel=1e-6)
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(cross, axis=1)
    whole = size > 1e-2
    assert np.einsum("ij,ij->i", normals, cross)[whole] / size[whole] == pytest.approx(1, abs=1e-3)
    assert corners.reshape(-1, 3).max(axis=0) == pytest.approx([300, 50, 100])


def test_3mf_is_a_package_whose_mesh_is_the_member(folder, part):
    with zipfile.ZipFile(folder / "member.3mf") as archive:
        assert archive.testzip() is None
        assert set(archive.namelist()) == {"[Content_Types].xml", "_rels/.rels", "3D/3dmodel.model"}
        relations = ET.fromstring(archive.read("_rels/.rels"))
        assert relations[0].get("Target") == "/3D/3dmodel.model"
        model = ET.fromstring(archive.read("3D/3dmodel.model"))
    space = {"m": three_mf.CORE}
    assert model.get("unit") == "millimeter"
    points = np.array([[float(v.get(k)) for k in "xyz"] for v in model.iterfind(".//m:vertex", space)])
    sides = np.array(
        [[int(t.get(k)) for k in ("v1", "v2", "v3")] for t in model.iterfind(".//m:triangle", space)]
    )
    assert model.find("m:build/m:item", space).get("objectid") == model.find(
        "m:resources/m:object", space
    ).get("id")
    solid = manifold3d.Manifold(
        manifold3d.Mesh(points.astype(np.float32), np.ascontiguousarray(sides, dtype=np.uint32))
    )
    assert solid.status() == manifold3d.Error.NoError, "a closed surface, each edge of two triangles"
    assert signed_volume(points[sides]) == pytest.approx(volume(part), rel=1e-6)
    assert solid.genus() == member_solid(part).genus()


def read_glb(path):
    data = path.read_bytes()
    magic, version, length = struct.unpack_from("<III", data)
    assert (magic, version, length) == (0x46546C67, 2, len(data))
    size, kind = struct.unpack_from("<II", data, 12)
    assert kind == 0x4E4F534A
    scene = json.loads(data[20 : 20 + size])
    binary = data[28 + size :]
    types = {5123: "<u2", 5125: "<u4", 5126: "<f4"}

    def accessor(number):
        a = scene["accessors"][number]
        view = scene["bufferViews"][a["bufferView"]]
        width = {"SCALAR": 1, "VEC3": 3}[a["type"]]
        flat = np.frombuffer(binary, types[a["componentType"]], a["count"] * width, view["byteOffset"])
        assert view["byteOffset"] % 4 == 0
        return flat.reshape(-1, width)

    primitive = scene["meshes"][0]["primitives"][0]
    points = accessor(primitive["attributes"]["POSITION"]).astype(float)
    normals = accessor(primitive["attributes"]["NORMAL"]).astype(float)
    return scene, points, normals, accessor(primitive["indices"]).reshape(-1, 3)


def test_meshes_hold_the_volume_reckoned_by_hand(folder, part, volume_without_breaks):
    """Signed tetrahedra from each file's own bytes, against exact areas, not against the solid they were written from.

    A break of c at 45 degrees takes, all round a convex outline of length P whose corners are arcs, the outline's
    offset from 0 to c: c^2 / 2 * P + pi / 3 * c^3. Chords within e of an arc of length l leave at most 2/3 * e * l off:
    too little metal at the section's corners, too much in pockets and holes.
    """
    exact = volume_without_breaks
    side = 44 - 5 * math.sqrt(3)
    length = 3 * (side - 2 * 2.1 * math.sqrt(3)) + 2 * math.pi * 2.1
    exact -= sum(p.edge_break**2 / 2 * length + math.pi / 3 * p.edge_break**3 for p in part.pockets)
    assert {p.edge_break for p in part.pockets} == {0.4}
    stl = stl_corners(folder / "member.stl").reshape(-1, 3, 3).astype(float)
    with zipfile.ZipFile(folder / "member.3mf") as archive:
        text = archive.read("3D/3dmodel.model").decode()
    points = np.array(re.findall(r'<vertex x="(.*?)" y="(.*?)" z="(.*?)"/>', text), dtype=float)
    sides = np.array(re.findall(r'<triangle v1="(\d+)" v2="(\d+)" v3="(\d+)"/>', text), dtype=int)
    _, seen, _, index = read_glb(folder / "member.glb")
    arcs = sum(p.depth * 2 * math.pi * 2.1 for p in part.pockets) + sum(
        4 * math.pi * h.diameter for h in part.holes
    )
    corners = 300 * 2 * math.pi * 4
    for corner, chord in ((stl, 0.005), (points[sides], 0.005), (seen[index], glb.VIEW_CHORD)):
        assert -2 / 3 * 0.005 * corners < signed_volume(corner) - exact < 2 / 3 * chord * arcs
    assert exact < volume_without_breaks - 2 * corners * 0.005, "breaks weigh more than chords do"


def stl_corners(path):
    records = np.frombuffer(path.read_bytes()[84:], dtype=np.uint8).reshape(-1, 50)
    return np.ascontiguousarray(records[:, 12:48]).view("<f4").reshape(-1, 3)


@pytest.mark.parametrize("form", ["stl", "glb"])
def test_the_solids_library_takes_the_mesh_as_one_closed_body(folder, part, form):
    """Corners at one place are one; the body then has the member's volume, size and number of handles."""
    if form == "stl":
        points = stl_corners(folder / "member.stl")
        sides = np.arange(len(points)).reshape(-1, 3)
    else:
        _, points, _, sides = read_glb(folder / "member.glb")
    mesh = manifold3d.Mesh(np.ascontiguousarray(points, np.float32), np.ascontiguousarray(sides, np.uint32))
    mesh.merge()
    solid = manifold3d.Manifold(mesh)
    assert solid.status() == manifold3d.Error.NoError
    assert len(solid.decompose()) == 1
    assert solid.volume() == pytest.approx(volume(part), rel=1e-6 if form == "stl" else 3e-4)
    assert solid.genus() == member_solid(part).genus()
    assert solid.bounding_box() == pytest.approx((0, 0, 0, 300, 50, 100), abs=1e-3)


def test_glb_holds_the_member_with_creased_normals(folder, part):
    scene, points, normals, sides = read_glb(folder / "member.glb")
    viewed = solid_volume(member_solid(part, glb.VIEW_CHORD))
    assert signed_volume(points[sides]) == pytest.approx(viewed, rel=1e-6)
    assert viewed == pytest.approx(volume(part), rel=3e-4)
    assert np.linalg.norm(normals, axis=1) == pytest.approx(1, abs=1e-4)
    cross = np.cross(points[sides[:, 1]] - points[sides[:, 0]], points[sides[:, 2]] - points[sides[:, 0]])
    size = np.linalg.norm(cross, axis=1)
    whole = size > 1e-3
    for k in range(3):
        cosine = np.einsum("ij,ij->i", normals[sides[:, k]], cross)[whole] / size[whole]
        assert cosine.min() > math.cos(glb.CREASE)
    bounds = scene["accessors"][1]
    assert bounds["max"] == pytest.approx([300, 50, 100])


def test_glb_node_stands_upright_in_metres(folder):
    """glTF has y up: the member's z must go to +y, x stay, and a millimetre become 0.001."""
    scene, *_ = read_glb(folder / "member.glb")
    node = scene["nodes"][0]
    qx, qy, qz, qw = node["rotation"]
    turn = np.array(
        [
            [1 - 2 * (qy**2 + qz**2), 2 * (qx * qy - qz * qw), 2 * (qx * qz + qy * qw)],
            [2 * (qx * qy + qz * qw), 1 - 2 * (qx**2 + qz**2), 2 * (qy * qz - qx * qw)],
            [2 * (qx * qz - qy * qw), 2 * (qy * qz + qx * qw), 1 - 2 * (qx**2 + qy**2)],
        ]
    ) * np.array(node["scale"])
    assert turn @ [0, 0, 1] == pytest.approx([0, 0.001, 0])
    assert turn @ [1, 0, 0] == pytest.approx([0.001, 0, 0])


def test_creased_normals_of_a_cube_and_a_ball():
    cube = manifold3d.Manifold.cube((1, 1, 1)).to_mesh64()
    points, normals, _ = glb.creased(
        np.asarray(cube.vert_properties), np.asarray(cube.tri_verts).astype(int), glb.CREASE
    )
    assert len(points) == 24
    assert np.sort(np.abs(normals), axis=1) == pytest.approx(np.tile([0, 0, 1], (24, 1)))
    ball = manifold3d.Manifold.sphere(1, 64).to_mesh64()
    count = len(np.asarray(ball.vert_properties))
    points, normals, _ = glb.creased(
        np.asarray(ball.vert_properties), np.asarray(ball.tri_verts).astype(int), glb.CREASE
    )
    assert len(points) == count
    assert np.einsum("ij,ij->i", points, normals).min() > 0.999


# --- arcs found again -----------------------------------------------------------------------------------


def test_arcs_of_a_rounded_outline_are_found_again():
    hexagon = 12 * np.array([[math.cos(a), math.sin(a)] for a in np.radians(range(0, 360, 60))])
    vertices = with_bulges(fillet(hexagon, 3.0, 0.002))
    bulges = [b for _, _, b in vertices if b]
    assert len(vertices) == 12
    assert bulges == pytest.approx([math.tan(math.radians(60) / 4)] * 6)


def test_a_circle_becomes_two_half_circles():
    vertices = with_bulges(circle(9.0, 0.002))
    assert [b for *_, b in vertices] == pytest.approx([1, 1])
    (x, y, bulge), (nx, ny, _) = vertices
    assert math.hypot(*arc_middle((x, y), (nx, ny), bulge)) == pytest.approx(9)


def test_straight_polygons_stay_straight():
    octagon = 5 * np.array([[math.cos(a), math.sin(a)] for a in np.radians(range(0, 360, 45))])
    assert [b for *_, b in with_bulges(octagon)] == [0] * 8


# --- files ----------------------------------------------------------------------------------------------


def test_same_member_gives_the_same_bytes(folder, part, tmp_path):
    names = exports.write_all(part, tmp_path)
    assert {"member.stl", "member.3mf", "member.glb", "section.dxf"} <= set(names)
    assert {"face-front.dxf", "face-back.dxf"} <= set(names)
    for name in names:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(names)


def test_a_failed_write_leaves_the_old_file_and_nothing_else(tmp_path):
    path = tmp_path / "member.stl"
    path.write_bytes(b"before")

    def fails(place):
        place.write_bytes(b"half")
        raise OSError("no space left")

    with pytest.raises(OSError, match="no space left"):
        whole.write_whole(path, fails)
    assert path.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [path]
