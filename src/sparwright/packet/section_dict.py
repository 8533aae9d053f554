"""Everything known of a section as a plain dictionary."""

from __future__ import annotations

import math
from typing import Any

from sparwright.packet.section_picture import shear_coupling
from sparwright.stiffness.section import SectionFigures
from sparwright.stock.model import Section
from sparwright.stock.walls import WallList


def section_dict(section: Section, figures: SectionFigures, walls: WallList) -> dict[str, Any]:
    """Everything known of a section, with stable keys that end in their units; places are (y, z) in the section's frame."""
    f = figures
    low_y, low_z, high_y, high_z = section.shape.bounds
    return {
        "section": section.drawing,
        "width_mm": high_y - low_y,
        "height_mm": high_z - low_z,
        "cells": len(section.shape.interiors),
        "area_mm2": f.area,
        "centroid_mm": list(f.centroid),
        "shear_centre_mm": list(f.shear_centre),
        "Iy_mm4": f.Iy,
        "Iz_mm4": f.Iz,
        "Iyz_mm4": f.Iyz,
        "I_max_mm4": f.I_max,
        "I_min_mm4": f.I_min,
        "axis_of_I_max_deg": math.degrees(f.angle),
        "J_mm4": f.J,
        "Iw_mm6": f.warping,
        "Wy_mm3": f.W_y,
        "Wz_mm3": f.W_z,
        "W_max_mm3": f.W_max,
        "W_min_mm3": f.W_min,
        "reach_y_mm": list(f.reach_y),
        "reach_z_mm": list(f.reach_z),
        "gyration_y_mm": f.gyration[0],
        "gyration_z_mm": f.gyration[1],
        "gyration_least_mm": f.gyration[2],
        "shear_area_y_mm2": f.shear_y * f.area,
        "shear_area_z_mm2": f.shear_z * f.area,
        "shear_compliance_per_mm2": [list(row) for row in f.shear_compliance],
        "shear_coupling": shear_coupling(f),
        "torsion_peak_per_mm3": f.torsion_peak,
        "torsion_peak_at_mm": list(f.torsion_peak_at),
        "sharp_inner_corners": f.sharp_corners,
        "faces": [
            {
                "name": face.name,
                "width_mm": face.width,
                "centre_mm": list(face.centre),
                "normal_deg": math.degrees(face.angle),
            }
            for face in section.faces
        ],
        "walls": [
            {
                "name": w.name,
                "face": w.face,
                "start_mm": list(w.start),
                "end_mm": list(w.end),
                "length_mm": w.length,
                "thickness_mm": w.thickness,
                "nodes": list(w.ends),
            }
            for w in walls.walls
        ],
        "nodes_mm": [list(node) for node in walls.nodes],
        "thick_parts": [
            {"area_mm2": part.area, "centroid_mm": list(part.centroid.coords[0])} for part in walls.thick
        ],
    }
