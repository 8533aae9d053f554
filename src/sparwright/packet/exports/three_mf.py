"""The member as 3MF."""

from __future__ import annotations

import zipfile
from pathlib import Path
from xml.sax.saxutils import escape

from sparwright.packet.exports.surface import surface
from sparwright.packet.whole import write_whole
from sparwright.stock.model import Member
from sparwright.stock.solids import member_solid

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
    points, triangles = surface(member_solid(member))
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
