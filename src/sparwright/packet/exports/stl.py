"""The member as STL."""

from __future__ import annotations

import struct
from pathlib import Path

import numpy as np

from sparwright.packet.exports.surface import facets, surface
from sparwright.packet.whole import write_bytes
from sparwright.stock.model import Member
from sparwright.stock.solids import member_solid


def write_stl(member: Member, path: Path) -> None:
    """The member as binary STL, mm: an 80-byte header, the count, then 50 bytes a triangle."""
    points, triangles = surface(member_solid(member))
    normals, _ = facets(points, triangles)
    records = np.zeros(
        len(triangles), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")]
    )
    records["normal"] = normals
    records["corners"] = points[triangles]
    header = f"{member.title}, mm".encode("ascii", "replace")[:80].ljust(80)
    data = b"".join([header, struct.pack("<I", len(triangles)), records.tobytes()])
    write_bytes(path, data)
