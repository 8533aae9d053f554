"""Shapes in open formats: STEP, STL, 3MF and GLB of the member, DXF of its worked faces and section; STEP of the pads.

Every file is written whole or not at all, holds no date, and is in mm (GLB in metres, as glTF wants).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sparwright.packet.exports.dxf import write_face_dxf, write_section_dxf
from sparwright.packet.exports.glb import write_glb
from sparwright.packet.exports.pads import bored_depths, write_pads
from sparwright.packet.exports.step import has_step, write_step
from sparwright.packet.exports.stl import write_stl
from sparwright.packet.exports.three_mf import write_3mf
from sparwright.stock.model import Member

NAME = "member"

__all__ = ["bored_depths", "has_step", "write_all", "write_pads"]


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
