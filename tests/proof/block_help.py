"""A pocketed block as an STL and its program, both written down by hand: nothing of the planner is used.

The block is 80 x 50 x 12 mm. A pocket 40 x 24 mm with sharp corners seen by no cutter is rounded with radius 4;
it is 8 mm deep with its middle at (40, 25), so 4 mm of metal remain under it.
"""

from __future__ import annotations

import math
import struct

import numpy as np

LONG, WIDE, HIGH = 80.0, 50.0, 12.0
HALF_X, HALF_Y, CORNER, DEEP = 20.0, 12.0, 4.0, 8.0
MIDDLE = (40.0, 25.0)
CHORDS = 24  # in a corner's quarter: sag 4 (1 - cos(pi / 96)) = 0.002 mm


def ring() -> np.ndarray:
    """The pocket's outline, counter-clockwise, (k, 2)."""
    points = []
    for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        for t in np.linspace(0, math.pi / 2, CHORDS + 1):
            angle = k * math.pi / 2 + t
            points.append(
                (
                    MIDDLE[0] + sx * (HALF_X - CORNER) + CORNER * math.cos(angle),
                    MIDDLE[1] + sy * (HALF_Y - CORNER) + CORNER * math.sin(angle),
                )
            )
    return np.array(points)


def block_triangles(deep: float = DEEP) -> np.ndarray:
    """The pocketed block, (m, 3, 3), its low corner at the origin, triangles counter-clockwise from outside."""
    import manifold3d as m3

    body = m3.Manifold.cube((LONG, WIDE, HIGH))
    hole = m3.CrossSection([ring()]).extrude(HIGH).translate((0, 0, HIGH - deep))
    mesh = (body - hole).to_mesh()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype(float)


def binary_stl(triangles: np.ndarray) -> bytes:
    """As a binary STL."""
    out = [b"made by hand".ljust(80), struct.pack("<I", len(triangles))]
    for t in triangles:
        out.append(struct.pack("<12fH", 0, 0, 0, *t.ravel(), 0))
    return b"".join(out)


def ascii_stl(triangles: np.ndarray) -> bytes:
    """As an ASCII STL."""
    lines = ["solid block"]
    for t in triangles:
        lines += ["facet normal 0 0 0", "  outer loop"]
        lines += [f"    vertex {x:.9g} {y:.9g} {z:.9g}" for x, y, z in t]
        lines += ["  endloop", "endfacet"]
    return "\n".join([*lines, "endsolid block", ""]).encode()


def block_program(
    *, deep: float = DEEP, grow: float = 0.0, short: float = 0.0, stray: tuple[float, float] | None = None
) -> str:
    """The pocket cut with T1, 6 mm flat, in four levels, then once round its wall; X0 Y0 on the block's corner.

    deep: of the last level. grow: how much too wide the wall laps run. short: how far the last lap keeps off the
    right side. stray: a place (X, Y) where the cutter is
    driven 0.3 mm into the block's top.
    """
    r, (mx, my) = 3.0, MIDDLE
    lines = ["G21 G90 G54 G17 G94", "T1 M6", "G0 Z20", "S16000 M3"]
    for level in (2.0, 4.0, 6.0, deep):
        lines += [f"G0 X{mx - 10:g} Y{my:g}", "G0 Z1", "G1 Z0.2 F400"]
        lines += [f"G1 X{mx + 10:g} Z{-level + 1:.4f} F500", f"G1 X{mx - 10:g} Z{-level:.4f}"]
        inset = 8.0
        while inset > 0.25:  # rings from the middle outward, 1.9 mm apart and less
            a, b = HALF_X - r - inset, HALF_Y - r - inset
            lines += [f"G1 X{mx + a:.4f} Y{my + b:.4f}"]
            lines += [f"G1 X{mx - a:.4f}", f"G1 Y{my - b:.4f}", f"G1 X{mx + a:.4f}", f"G1 Y{my + b:.4f}"]
            inset -= 1.9
        a, b, c = HALF_X - r + grow, HALF_Y - r + grow, CORNER - r + grow
        off = short if level == deep else 0.0
        lines += [f"G1 X{mx + a - off:.4f} Y{my:.4f}"]
        lines += [
            f"G1 Y{my + b - c:.4f}",
            f"G1 X{mx + a:.4f}",
            f"G3 X{mx + a - c:.4f} Y{my + b:.4f} I{-c:.4f} J0",
        ]
        lines += [f"G1 X{mx - a + c:.4f}", f"G3 X{mx - a:.4f} Y{my + b - c:.4f} I0 J{-c:.4f}"]
        lines += [f"G1 Y{my - b + c:.4f}", f"G3 X{mx - a + c:.4f} Y{my - b:.4f} I{c:.4f} J0"]
        lines += [f"G1 X{mx + a - c:.4f}", f"G3 X{mx + a:.4f} Y{my - b + c:.4f} I0 J{c:.4f}"]
        lines += [f"G1 X{mx + a - off:.4f}", f"G1 Y{my:.4f}", f"G1 X{mx:.4f}", "G0 Z20"]
    if stray is not None:
        lines += [f"G0 X{stray[0]:g} Y{stray[1]:g}", "G0 Z1", "G1 Z-0.3 F300", "G0 Z20"]
    return "\n".join([*lines, "M5", "M30", ""])


CUTTERS = """
[[cutter]]
number = 1
name = "6 flat"
kind = "flat"
diameter = 6
flutes = 1
flute_length = 16
stick_out = 26
shank = 6
chip = 0.05
"""
CASE = """
title = "pocketed block"
bed = "bench-router.toml"
cutters = "my-cutters.toml"
material = "EN AW-6063-T6"
zero = [100, 80]
height = 30

[stock]
size = [80, 50, 12]
at = [0, 0]

[part]
file = "block.stl"
"""


def slot_triangles(deep: float = 5.0) -> np.ndarray:
    """A block with a round-bottomed slot 6 mm wide along its middle, end to end."""
    import manifold3d as m3

    body = m3.Manifold.cube((LONG, WIDE, HIGH))
    bottom = (
        m3.Manifold.cylinder(LONG + 20, 3, 3, 360).rotate((0, 90, 0)).translate((-10, 25, HIGH - deep + 3))
    )
    above = m3.Manifold.cube((LONG + 20, 6, 20)).translate((-10, 22, HIGH - deep + 3))
    mesh = (body - bottom - above).to_mesh()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)].astype(float)


def slot_program(deep: float = 5.0, off: float = 0.0) -> str:
    """The slot in five passes of T2, a 6 mm ball; off: how far beside its place the last one runs."""
    lines = ["G21 G90 G54 G17 G94", "T2 M6", "G0 Z20", "S16000 M3"]
    for level in (1.0, 2.0, 3.0, 4.0, deep):
        y = 25 + (off if level == deep else 0.0)
        lines += [f"G0 X-6 Y{y:.4f}", f"G0 Z{-level:.4f}", "G1 X86 F300", "G0 Z20"]
    return "\n".join([*lines, "M5", "M30", ""])


BALL = """
[[cutter]]
number = 2
name = "6 ball"
kind = "ball"
diameter = 6
flutes = 2
flute_length = 12
stick_out = 26
shank = 6
chip = 0.05
"""
