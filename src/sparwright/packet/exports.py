"""The member in open formats: STEP, STL, 3MF and GLB of the solid, DXF of every worked face and of the section.

Every file is written whole or not at all, holds no date, and is in mm (GLB in metres, as glTF wants).
"""

from __future__ import annotations

import importlib.util
import json
import math
import re
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

import manifold3d
import numpy as np
import shapely
from ezdxf.addons import r12writer

from sparwright.packet.whole import write_whole
from sparwright.stock.model import Face, Member, NotchCut, Pocket
from sparwright.stock.outlines import arc_middle, with_bulges
from sparwright.stock.solids import OVER, member_solid

CREASE = math.radians(30)  # faces that meet at a sharper angle keep an edge in the GLB
VIEW_CHORD = 0.02  # mm, chord error of the arcs in the GLB, which is for looking at
NAME = "member"


def write_all(member: Member, folder: Path) -> tuple[str, ...]:
    """Write every export into `folder`, made where it is not there, and list the files' names.

    STEP is left out where its kernel has no build for this machine (see has_step).
    """
    folder.mkdir(parents=True, exist_ok=True)
    writers: dict[str, Callable[[Member, Path], None]] = {
        f"{NAME}.stl": write_stl,
        f"{NAME}.3mf": write_3mf,
        f"{NAME}.glb": write_glb,
        "section.dxf": write_section_dxf,
    }
    if has_step():
        writers[f"{NAME}.step"] = write_step
    for name, writer in writers.items():
        writer(member, folder / name)
    faces = []
    for face in member.worked_faces:
        name = f"face-{face}.dxf"
        write_face_dxf(member, member.section.face(face), folder / name)
        faces.append(name)
    return (*writers, *faces)


def has_step() -> bool:
    """Whether the geometry kernel that writes STEP is there (it has no build for Linux on ARM)."""
    return importlib.util.find_spec("netgen") is not None


def _triangles(solid: manifold3d.Manifold) -> tuple[np.ndarray, np.ndarray]:
    """Points (k, 3) and triangles (t, 3) of a solid, outward by the right-hand rule."""
    mesh = solid.to_mesh64()
    points = np.asarray(mesh.vert_properties)[:, :3]
    return points, np.asarray(mesh.tri_verts).astype(np.int64)


def _normals(points: np.ndarray, triangles: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Unit normals (t, 3) and areas (t,) of triangles."""
    a, b, c = (points[triangles[:, i]] for i in range(3))
    cross = np.cross(b - a, c - a)
    twice = np.linalg.norm(cross, axis=1)
    return cross / np.maximum(twice, 1e-300)[:, None], twice / 2


# --- STL ------------------------------------------------------------------------------------------------


def write_stl(member: Member, path: Path) -> None:
    """The member as binary STL, mm: an 80-byte header, the count, then 50 bytes a triangle."""
    points, triangles = _triangles(member_solid(member))
    normals, _ = _normals(points, triangles)
    records = np.zeros(
        len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    records["normal"] = normals
    records["corners"] = points[triangles]
    header = f"{member.title}, mm".encode("ascii", "replace")[:80].ljust(80)
    data = b"".join([header, struct.pack("<I", len(triangles)), records.tobytes()])
    write_whole(path, lambda p: _bytes(p, data))


def _bytes(path: Path, data: bytes) -> None:
    path.write_bytes(data)


# --- 3MF ------------------------------------------------------------------------------------------------

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>\n"
)
RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
    "</Relationships>\n"
)


def write_3mf(member: Member, path: Path) -> None:
    """The member as 3MF, mm: one mesh object, after the core specification of the 3MF Consortium."""
    points, triangles = _triangles(member_solid(member))
    rows = [f'<vertex x="{x:.7g}" y="{y:.7g}" z="{z:.7g}"/>' for x, y, z in points.tolist()]
    sides = [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles.tolist()]
    model = "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<model unit="millimeter" xml:lang="en" xmlns="{CORE}">',
            f'<metadata name="Title">{escape(member.title)}</metadata>',
            '<resources><object id="1" type="model"><mesh><vertices>',
            *rows,
            "</vertices><triangles>",
            *sides,
            "</triangles></mesh></object></resources>",
            '<build><item objectid="1"/></build>',
            "</model>\n",
        ]
    )

    def write(p: Path) -> None:
        with zipfile.ZipFile(p, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, text in (
                ("[Content_Types].xml", TYPES),
                ("_rels/.rels", RELATIONS),
                ("3D/3dmodel.model", model),
            ):
                archive.writestr(_undated(name), text)

    write_whole(path, write)


def _undated(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
    info.compress_type = zipfile.ZIP_DEFLATED
    return info


# --- GLB ------------------------------------------------------------------------------------------------


def write_glb(member: Member, path: Path) -> None:
    """The member as binary glTF 2.0 with creased normals; points in mm under a node that scales to metres, y up."""
    points, triangles = _triangles(member_solid(member, VIEW_CHORD))
    corners, normals, index = creased(points, triangles, CREASE)
    data = glb_bytes(corners, normals, index, member.title)
    write_whole(path, lambda p: _bytes(p, data))


def creased(
    points: np.ndarray, triangles: np.ndarray, crease: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Vertices with normals that are smooth across edges flatter than `crease` radians and sharp elsewhere.

    Returns points (v, 3), normals (v, 3) and triangles (t, 3) into them. A corner's normal is the
    area-weighted mean over the triangles at its point that lie within the crease angle of its own.
    """
    normals, areas = _normals(points, triangles)
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


# --- STEP -----------------------------------------------------------------------------------------------


def write_step(member: Member, path: Path) -> None:
    """The member as STEP, mm, arcs as true arcs; edge breaks are left out. One cut with a compound of all tools."""
    shape = step_shape(member)

    def write(p: Path) -> None:
        shape.WriteStep(str(p))
        p.write_text(_plain_header(p.read_text(encoding="utf-8"), member.title), encoding="utf-8")

    write_whole(path, write)


def _plain_header(text: str, title: str) -> str:
    """STEP text with a header of ours in place of the kernel's dated one (ISO 10303-21, clause on the header)."""
    name = re.sub(r"[^ -~]", "?", title).replace("'", "''")
    header = f"FILE_NAME('{name}','1970-01-01T00:00:00',(''),(''),'','Sparwright','');\n"
    text = re.sub(r"FILE_NAME\(.*?\);\s*\n", lambda _: header, text, count=1, flags=re.DOTALL)
    return re.sub(r"PRODUCT\('[^']*',\s*'[^']*'", lambda _: f"PRODUCT('{name}','{name}'", text, count=1)


def step_shape(member: Member) -> Any:
    """The member as a solid of the geometry kernel (netgen.occ), without edge breaks."""
    from netgen.occ import Compound, Vec

    section = member.section.shape
    profile = _plane_face(shapely.get_coordinates(section.exterior)[:-1], _in_section)
    for ring in section.interiors:
        profile = profile - _plane_face(shapely.get_coordinates(ring)[:-1], _in_section)
    shape = profile.Extrude(Vec(member.length, 0, 0))
    first = [*_recess_tools(member)]
    for face in member.section.faces:
        first += _hole_tools(member, face)
        if first:
            shape = shape - Compound(first)
        first = []
    return shape


def _in_section(points: np.ndarray) -> np.ndarray:
    """(y, z) of the section at the datum end, (k, 3)."""
    return np.column_stack([np.zeros(len(points)), points])


def _plane_face(ring: np.ndarray, place: Callable[[np.ndarray], np.ndarray]) -> Any:
    """A plane face bounded by a ring (k, 2), arcs as true arcs; `place` takes plane points to space, (k, 3)."""
    from netgen import occ

    vertices = with_bulges(ring)
    corners = np.array([v[:2] for v in vertices])
    middles = np.array(
        [
            arc_middle((x, y), (nx, ny), bulge)
            for (x, y, bulge), (nx, ny, _) in zip(vertices, [*vertices[1:], vertices[0]], strict=True)
        ]
    )
    ends = [occ.Pnt(*p) for p in place(corners).tolist()]
    halves = [occ.Pnt(*p) for p in place(middles).tolist()]
    edges = []
    for i, (_, _, bulge) in enumerate(vertices):
        a, b = ends[i], ends[(i + 1) % len(ends)]
        edges.append(occ.ArcOfCircle(a, halves[i], b) if bulge else occ.Segment(a, b))
    return occ.Face(occ.Wire(edges))


def _recess_tools(member: Member) -> list[Any]:
    """A prism for every pocket and notch, standing out over the face and under what it goes through."""
    from netgen.occ import Vec

    tools = []
    recesses: tuple[Pocket | NotchCut, ...] = (*member.pockets, *member.notches)
    for feature in recesses:
        face = member.section.face(feature.face)
        through = isinstance(feature, NotchCut) or feature.window

        def place(points: np.ndarray, face: Face = face) -> np.ndarray:
            return face.to_member(np.column_stack([points, np.full(len(points), OVER)]))

        height = OVER + feature.depth + (OVER if through else 0.0)
        ring = shapely.get_coordinates(feature.outline.exterior)[:-1]
        tools.append(_plane_face(ring, place).Extrude(Vec(0, *(-height * face.normal).tolist())))
    return tools


def _hole_tools(member: Member, face: Face) -> list[Any]:
    """A cylinder for every hole of a face, two for a counterbored one."""
    from netgen.occ import Cylinder, Dir, Pnt

    tools = []
    inward = Dir(0, *(-face.normal).tolist())
    for hole in member.holes:
        if hole.face != face.name:
            continue
        top = Pnt(*face.to_member(np.array([[*hole.at, OVER]]))[0].tolist())
        end = hole.depth + (0.0 if hole.through == "blind" else OVER)
        tool = Cylinder(top, inward, hole.diameter / 2, OVER + end)
        if hole.counterbore:
            wide, depth = hole.counterbore
            tool = tool + Cylinder(top, inward, wide / 2, OVER + depth)
        tools.append(tool)
    return tools


# --- DXF ------------------------------------------------------------------------------------------------


def write_section_dxf(member: Member, path: Path) -> None:
    """The cross-section in (y, z), mm, as closed polylines with true arcs: layers OUTLINE and CELLS."""

    def write(p: Path) -> None:
        with r12writer(p) as dxf:
            shape = member.section.shape
            _closed(dxf, shapely.get_coordinates(shape.exterior)[:-1], "OUTLINE")
            for ring in shape.interiors:
                _closed(dxf, shapely.get_coordinates(ring)[:-1], "CELLS")

    write_whole(path, write)


def write_face_dxf(member: Member, face: Face, path: Path) -> None:
    """A face as seen from outside, x to the right and s up, mm, edge breaks left out.

    Layers: FACE (the flat), POCKETS, WINDOWS, NOTCHES, HOLES, COUNTERBORES, AXIS (the centre line s = 0).
    """
    half = face.width / 2
    flat = np.array([[0.0, -half], [member.length, -half], [member.length, half], [0.0, half]])

    def write(p: Path) -> None:
        with r12writer(p) as dxf:
            _closed(dxf, flat, "FACE")
            dxf.add_line((0.0, 0.0), (member.length, 0.0), layer="AXIS")
            for pocket in member.pockets:
                if pocket.face == face.name:
                    layer = "WINDOWS" if pocket.window else "POCKETS"
                    _closed(dxf, shapely.get_coordinates(pocket.outline.exterior)[:-1], layer)
            for notch in member.notches:
                if notch.face == face.name:
                    _closed(dxf, shapely.get_coordinates(notch.outline.exterior)[:-1], "NOTCHES")
            for hole in member.holes:
                if hole.face == face.name:
                    dxf.add_circle(hole.at, hole.diameter / 2, layer="HOLES")
                    if hole.counterbore:
                        dxf.add_circle(hole.at, hole.counterbore[0] / 2, layer="COUNTERBORES")

    write_whole(path, write)


def _closed(dxf: Any, ring: np.ndarray, layer: str) -> None:
    dxf.add_polyline_2d(with_bulges(ring), format="xyb", closed=True, layer=layer)
