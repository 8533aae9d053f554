"""Every export read back by other code than wrote it, and compared with the member."""

import json
import math
import re
import struct
import xml.etree.ElementTree as ET
import zipfile
from collections import Counter
from dataclasses import replace

import ezdxf
import ezdxf.bbox
import manifold3d
import numpy as np
import pytest
import shapely

from sparwright.cutting.slots import plan_pads
from sparwright.packet import exports, whole
from sparwright.packet.exports import dxf, glb, notes, step, three_mf
from sparwright.placing.model import Pad
from sparwright.placing.place import place
from sparwright.stock.drawing import read_drawing
from sparwright.stock.outlines import arc_middle, circle, fillet, with_bulges
from sparwright.stock.solids import member_solid, solid_volume


@pytest.fixture(scope="module")
def folder(tmp_path_factory, part):
    path = tmp_path_factory.mktemp("shapes")
    exports.write_all(part, path)
    return path


@pytest.fixture(scope="module")
def part(bridge_member):
    """A short piece of the bridge beam: the same tube with its first pockets, holes and the notch, and a window."""
    length = 300.0
    pockets = [p for p in bridge_member.pockets if p.outline.bounds[2] < 230]
    window = replace(pockets[-1], depth=4.0, skin=0.0)
    return replace(
        bridge_member,
        length=length,
        pockets=(*pockets[:-1], window),
        holes=tuple(h for h in bridge_member.holes if h.at[0] < 230),
    )


def signed_volume(corners):
    """Volume of a closed surface of triangles (t, 3, 3)."""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def volume(part):
    return solid_volume(member_solid(part))


def volume_without_breaks(part):
    """By sums of exact areas; arcs are true arcs, so corners take (tan(phi/2) - phi/2) r^2 each."""
    outside = 50 * 100 - (4 - math.pi) * 4**2 - 42 * 92
    side = 44 - 5 * math.sqrt(3)
    tips = 3 * (math.tan(math.pi / 3) - math.pi / 3) * 2.1**2
    triangle = side**2 * math.sqrt(3) / 4 - tips
    taken = sum(p.depth for p in part.pockets) * triangle
    taken += sum(math.pi / 4 * h.diameter**2 * 4 for h in part.holes)
    r = part.notches[0].corner_radius
    taken += 4 * (14 * 8 - 2 * (1 - math.pi / 4) * r**2)
    return outside * 300 - taken


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


def test_meshes_hold_the_volume_reckoned_by_hand(folder, part):
    """Signed tetrahedra from each file's own bytes, against exact areas, not against the solid they were written from.

    A break of c at 45 degrees takes, all round a convex outline of length P whose corners are arcs, the outline's
    offset from 0 to c: c^2 / 2 * P + pi / 3 * c^3. Chords within e of an arc of length l leave at most 2/3 * e * l off:
    too little metal at the section's corners, too much in pockets and holes.
    """
    exact = volume_without_breaks(part)
    side = 44 - 5 * math.sqrt(3)
    length = 3 * (side - 2 * 2.1 * math.sqrt(3)) + 2 * math.pi * 2.1
    exact -= sum(p.edge_break**2 / 2 * length + math.pi / 3 * p.edge_break**3 for p in part.pockets)
    assert {p.edge_break for p in part.pockets} == {0.4}
    data = (folder / "member.stl").read_bytes()
    records = np.frombuffer(data[84:], dtype=np.uint8).reshape(-1, 50)
    stl = np.ascontiguousarray(records[:, 12:48]).view("<f4").reshape(-1, 3, 3).astype(float)
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
    assert exact < volume_without_breaks(part) - 2 * corners * 0.005, "breaks weigh more than chords do"


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


# --- STEP -----------------------------------------------------------------------------------------------


@pytest.mark.skipif(not exports.has_step(), reason="the geometry kernel has no build for this machine")
def test_step_holds_the_member_without_edge_breaks(folder, part):
    from netgen.occ import OCCGeometry

    shape = OCCGeometry(str(folder / "member.step")).shape
    assert shape.mass == pytest.approx(volume_without_breaks(part), rel=1e-7)
    assert len(shape.solids) == 1
    low, high = shape.bounding_box
    assert tuple(low) == pytest.approx((0, 0, 0), abs=1e-3)
    assert tuple(high) == pytest.approx((300, 50, 100), abs=1e-3)


@pytest.mark.skipif(not exports.has_step(), reason="the geometry kernel has no build for this machine")
def test_step_cuts_counterbores_and_crossing_holes(part):
    holes = (
        replace(part.holes[0], id="a", at=(250, 0), face="front", through="all", depth=50, diameter=8),
        replace(part.holes[0], id="b", at=(250, 0), face="top", through="all", depth=100, diameter=8),
        replace(part.holes[0], id="c", at=(280, 0), face="back", counterbore=(9.0, 2.0), diameter=5),
    )
    bare = replace(part, pockets=(), notches=(), holes=())
    drilled = replace(bare, holes=holes)
    taken = step.step_shape(bare).mass - step.step_shape(drilled).mass
    assert taken == pytest.approx(4 * 4 * math.pi * 16 + math.pi / 4 * (25 * 4 + (81 - 25) * 2), rel=1e-6)


@pytest.mark.skipif(not exports.has_step(), reason="the geometry kernel has no build for this machine")
def test_step_says_what_it_leaves_out(folder, part, tmp_path):
    """Read as text: the note is in the header and is the product's description; nothing of the kernel's date is left."""
    text = (folder / "member.step").read_text(encoding="ascii")
    note = "Edge breaks are left out: pockets 0.4 mm. Edges are shown as they are before they are broken."
    assert f"FILE_DESCRIPTION(('{note}'),'2;1');" in text
    assert re.search(rf"PRODUCT\('{part.title}','{part.title}',\s*'{re.escape(note)}'", text)
    plain = replace(part, title="it's a \\ path", pockets=())
    step.write_step(plain, tmp_path / "plain.step")
    text = (tmp_path / "plain.step").read_text(encoding="ascii")
    assert "FILE_DESCRIPTION((''),'2;1');" in text
    assert "PRODUCT('it''s a / path','it''s a / path',''," in text


def test_edge_note_names_each_kind_with_its_sizes(part):
    hole = replace(part.holes[0], face="back", edge_break=0.3)
    mixed = replace(part, holes=(hole, replace(hole, edge_break=0.5)), pockets=())
    told = (
        "Edge breaks are left out: holes 0.3 and 0.5 mm. Edges are shown as they are before they are broken."
    )
    assert notes.edge_note(mixed) == notes.edge_note(mixed, "back") == told
    assert notes.edge_note(mixed, "front") == ""


# --- pads -----------------------------------------------------------------------------------------------


def lens(radius, reach):
    """Area of the part of a circle beyond a line `reach` from its centre."""
    return radius**2 * math.acos(reach / radius) - reach * math.sqrt(radius**2 - reach**2)


@pytest.mark.skipif(not exports.has_step(), reason="the geometry kernel has no build for this machine")
def test_pad_holds_what_is_cut_by_hand_reckoning(tmp_path):
    """A slot off the middle, two bored holes of their own depths, one by hand through the sheet, a stop across the wall."""
    from netgen.occ import OCCGeometry

    pad = Pad(
        name="pad 1",
        x=(20.0, 90.0),
        s=(-80.0, 100.0),
        thickness=18.0,
        slot={"front": (-25.0, 25.0), "back": (-30.0, 26.0)},
        slot_depth=5.0,
        locates=True,
        inserts=((40.0, 60.0), (70.0, -50.0)),
        insert_diameter=8.5,
        by_hand=((55.0, 80.0),),
        stop=(30.0, 24.0),
        stop_diameter=6.0,
    )
    depths = {"insert 1 of pad 1": 15.0, "insert 2 of pad 1": 12.0, "stop pin of pad 1": 14.0}
    assert exports.write_pads((pad,), "front", depths, tmp_path) == ("pad-1.step",)
    shape = OCCGeometry(str(tmp_path / "pad-1.step")).shape
    insert, stop = math.pi / 4 * 8.5**2, math.pi / 4 * 6**2
    left = 70 * 180 * 18 - 70 * 50 * 5 - insert * (15 + 12 + 18)
    left -= stop * (14 - 5) + lens(3.0, 1.0) * 5
    assert shape.mass == pytest.approx(left, rel=1e-7)
    assert len(shape.solids) == 1
    low, high = shape.bounding_box
    assert tuple(low) == pytest.approx((0, 0, -18), abs=1e-3)
    assert tuple(high) == pytest.approx((180, 70, 0), abs=1e-3)
    balance = [(70 * 180 * 18, 90.0), (-70 * 50 * 5, 100.0), (-insert * 15, 40.0), (-insert * 12, 150.0)]
    balance += [(-insert * 18, 20.0), (-stop * 9, 76.0)]
    beyond = lens(3.0, 1.0)
    # Of a part of a circle beyond a chord the first moment about the centre is (r^2 - d^2)^(3/2) * 2 / 3.
    balance.append((-beyond * 5, 76.0 - 2 / 3 * (9 - 1) ** 1.5 / beyond))
    assert shape.center.x == pytest.approx(sum(v * x for v, x in balance) / left, rel=1e-7)
    text = (tmp_path / "pad-1.step").read_text(encoding="ascii")
    assert "Slot as cut for side front" in text


@pytest.mark.skipif(not exports.has_step(), reason="the geometry kernel has no build for this machine")
def test_pads_of_the_bridge_beam_have_the_holes_its_programs_bore(bridge_job, bridge_member, tmp_path):
    from netgen.occ import OCCGeometry

    placement = place(bridge_member, bridge_job)
    setup = placement.setups[0]
    depths = exports.bored_depths(plan_pads(placement, bridge_job))
    bored = [at for pad in setup.pads for at in (*pad.inserts, pad.stop) if at is not None]
    assert len(depths) == len(bored) > 0
    assert all(0 < depth < pad.thickness for depth in depths.values() for pad in setup.pads)
    names = exports.write_pads(setup.pads, setup.side, depths, tmp_path)
    for pad, name in zip(setup.pads, names, strict=True):
        shape = OCCGeometry(str(tmp_path / name)).shape
        low, high = pad.slot[setup.side]
        long = pad.x[1] - pad.x[0]
        left = long * ((pad.s[1] - pad.s[0]) * pad.thickness - (high - low) * pad.slot_depth)
        for i in range(len(pad.inserts)):
            left -= math.pi / 4 * pad.insert_diameter**2 * depths[f"insert {i + 1} of {pad.name}"]
        left -= len(pad.by_hand) * math.pi / 4 * pad.insert_diameter**2 * pad.thickness
        assert pad.stop is None, "the beam is stopped by a dowel in the collet"
        assert shape.mass == pytest.approx(left, rel=1e-7)


# --- DXF ------------------------------------------------------------------------------------------------


def polygon_of(entity):
    """A closed polyline with its bulges, by the drawing library's own reading of arcs."""
    path = ezdxf.path.make_path(entity)
    return shapely.Polygon([(p.x, p.y) for p in path.flattening(1e-4)])


def test_section_drawing_reads_back_as_the_section(folder, part):
    from sparwright.job.models import DrawnSection

    spec = DrawnSection(shape="drawn", file="section.dxf", chord=0.005)
    again = read_drawing(spec, folder)
    assert again.symmetric_difference(part.section.shape).area < 0.2
    assert again.area == pytest.approx(part.section.shape.area, rel=1e-4)
    assert len(again.interiors) == 1


def test_face_drawing_has_every_feature_on_its_layer(folder, part):
    space = ezdxf.readfile(folder / "face-front.dxf").modelspace()
    pockets = [polygon_of(e) for e in space.query('POLYLINE[layer=="POCKETS"]')]

    def place(p):
        return round(p.centroid.x, 3), p.centroid.y

    drawn = sorted(pockets, key=place)
    laid = sorted((p.outline for p in part.pockets if p.face == "front" and not p.window), key=place)
    assert len(drawn) == len(laid) > 3
    for a, b in zip(drawn, laid, strict=True):
        assert a.symmetric_difference(b).area < 0.02
    arcs = [v.dxf.bulge for v in space.query('POLYLINE[layer=="POCKETS"]')[0].vertices if v.dxf.bulge]
    assert arcs == pytest.approx([math.tan(math.radians(120) / 4)] * 3), "corners are true arcs"
    circles = [(*tuple(c.dxf.center)[:2], c.dxf.radius) for c in space.query('CIRCLE[layer=="HOLES"]')]
    holes = [(*h.at, h.diameter / 2) for h in part.holes if h.face == "front"]
    assert np.array(sorted(circles)) == pytest.approx(np.array(sorted(holes)))
    assert len(space.query('POLYLINE[layer=="NOTCHES"]')) == 1
    assert len(space.query('LINE[layer=="AXIS"]')) == 1


def test_face_drawing_holds_as_many_shapes_as_the_member_has_features(folder, part):
    """Per layer, by the drawing library's count; extents within the face, the note under it."""
    for face in part.worked_faces:
        space = ezdxf.readfile(folder / f"face-{face}.dxf").modelspace()
        counted = Counter((e.dxf.layer, e.dxftype()) for e in space)
        mine = [p for p in part.pockets if p.face == face]
        holes = [h for h in part.holes if h.face == face]
        expected = {
            ("FACE", "POLYLINE"): 1,
            ("AXIS", "LINE"): 1,
            ("NOTES", "TEXT"): 1,
            ("POCKETS", "POLYLINE"): sum(not p.window for p in mine),
            ("WINDOWS", "POLYLINE"): sum(p.window for p in mine),
            ("NOTCHES", "POLYLINE"): sum(n.face == face for n in part.notches),
            ("HOLES", "CIRCLE"): len(holes),
            ("COUNTERBORES", "CIRCLE"): sum(h.counterbore is not None for h in holes),
        }
        assert counted == {key: n for key, n in expected.items() if n}
        width = part.section.face(face).width
        outline = ezdxf.bbox.extents(space.query('POLYLINE[layer=="FACE"]'))
        assert tuple(outline.extmin)[:2] == pytest.approx((0, -width / 2))
        assert tuple(outline.extmax)[:2] == pytest.approx((part.length, width / 2))
        cut = ezdxf.bbox.extents(space.query('POLYLINE[layer=="POCKETS"]'))
        bounds = np.array([p.outline.bounds for p in mine if not p.window])
        # The library bounds an arc by points on it; the outline's own chords are within 0.005 mm of it.
        assert tuple(cut.extmin)[:2] == pytest.approx(bounds[:, :2].min(axis=0), abs=0.01)
        assert tuple(cut.extmax)[:2] == pytest.approx(bounds[:, 2:].max(axis=0), abs=0.01)
        (note,) = space.query("TEXT")
        assert note.dxf.text.startswith("Edge breaks are left out: pockets 0.4 mm.")
        assert note.dxf.insert.y + note.dxf.height < -width / 2


def test_face_without_edge_breaks_has_no_note(part, tmp_path):
    plain = replace(part, pockets=tuple(replace(p, edge_break=0.0) for p in part.pockets))
    dxf.write_face_dxf(plain, plain.section.face("front"), tmp_path / "f.dxf")
    assert not ezdxf.readfile(tmp_path / "f.dxf").modelspace().query("TEXT")


def test_windows_have_a_layer_of_their_own(folder, part):
    face = next(p.face for p in part.pockets if p.window)
    space = ezdxf.readfile(folder / f"face-{face}.dxf").modelspace()
    assert len(space.query('POLYLINE[layer=="WINDOWS"]')) == 1


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
