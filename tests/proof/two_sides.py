"""A solid bar, or a tube, worked from two sides that look away from each other, its depths known by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from shapely.geometry import Polygon, box

from sparwright.proof.sidecut import SideCut, prove_and_keep
from sparwright.stock.model import Face, Hole, Pocket, Section

WIDE, HIGH = 40.0, 10.0


def section(kind: str = "bar") -> Section:
    """Solid, or a tube with walls of 3 mm and a web from wall to wall, 4 mm thick, in its middle."""
    shape = box(0, 0, WIDE, HIGH)
    if kind == "tube":
        shape = Polygon(
            shape.exterior.coords,
            [box(3, 3, 18, HIGH - 3).exterior.coords, box(22, 3, WIDE - 3, HIGH - 3).exterior.coords],
        )
    top = Face("top", math.pi / 2, (WIDE / 2, HIGH), WIDE)
    bottom = Face("bottom", -math.pi / 2, (WIDE / 2, 0.0), WIDE)
    side = Face("side", 0.0, (WIDE, HIGH / 2), HIGH)
    return Section(kind, shape, (top, bottom, side))


def rounded(x: float, s: float, a: float, b: float, r: float = 2.0) -> Polygon:
    """A rectangle 2 a by 2 b with the corners a cutter of radius r leaves."""
    return box(x - a + r, s - b + r, x + a - r, s + b - r).buffer(r, quad_segs=32)


def pocket(name: str, face: str, x: float, s: float, a: float, b: float, depth: float, skin: float) -> Pocket:
    return Pocket(name, face, face, name, (x, s), rounded(x, s, a, b), (), 2.0, depth, skin, 0.0)


def cut_pocket(w, x: float, s: float, a: float, b: float, depth: float) -> None:
    """Ramp down and clear in passes 1.2 mm deep with the 4 mm cutter, in lines across and a lap round the wall."""
    a, b = a - 2, b - 2
    levels = [-depth * (k + 1) / math.ceil(depth / 1.2) for k in range(math.ceil(depth / 1.2))]
    w.rapid(x - a, s - b)
    w.rapid_z(2)
    w.plunge(0.1, 400)
    for n in levels:
        w.line(x + a, s - b, n)
        w.line(x - a, s - b)
        for k, across in enumerate(np.linspace(s - b, s + b, max(2, math.ceil(2 * b / 3) + 1))):
            ends = (x - a, x + a) if k % 2 == 0 else (x + a, x - a)
            w.line(ends[0], across)
            w.line(ends[1], across)
        for cx, cs in ((x + a, s + b), (x - a, s + b), (x - a, s - b), (x + a, s - b), (x + a, s + b)):
            w.line(cx, cs)
        w.line(x - a, s - b)
    w.rapid_z(20)


def cut_hole(w, x: float, s: float, radius: float, depth: float) -> None:
    """Bore with a helix of the 3 mm cutter, steps of 0.3 mm, and once round at the bottom."""
    r = radius - 1.5
    w.rapid(x, s)
    w.rapid_z(2)
    w.plunge(0.1, 400)
    w.line(x + r, s)
    n = 0.1
    while n > -depth:
        low = max(n - 0.3, -depth)
        w.arc(x - r, s, x, s, (n + low) / 2)
        w.arc(x + r, s, x, s, low)
        n = low
    w.arc(x - r, s, x, s)
    w.arc(x + r, s, x, s)
    w.line(x, s)
    w.rapid_z(20)


@dataclass(frozen=True)
class Two:
    """A member, and program texts by face."""

    sample: object
    member: object
    texts: dict[str, str]

    def setup(self, face: str):
        pads = tuple(replace(p, slot={}) for p in self.sample.setup.pads)
        return replace(self.sample.setup, side=face, face=face, clamps=(), pads=pads)

    def records(self) -> list[SideCut]:
        found = []
        for face, text in self.texts.items():
            _, record = prove_and_keep([(f"{face}.nc", text)], self.member, self.setup(face), self.sample.job)
            found.append(record)
        return found


def two_sides(sample, maker, pockets=(), holes=(), kind="bar", deeper=None, shifted=None) -> Two:
    """pockets: (name, face, x, s, half length, half width, depth). holes: (name, face, x, s, diameter, depth). deeper: by
    name, mm the program cuts too deep. shifted: by name, mm the program is off along x.
    """
    deeper, shifted = deeper or {}, shifted or {}
    texts, made_pockets, made_holes = {}, [], []
    for face in dict.fromkeys(f[1] for f in (*pockets, *holes)):
        w, bore = maker.Writer(1, 540), maker.Writer(2, 300)
        for name, on, x, s, a, b, depth in pockets:
            if on == face:
                made_pockets.append(pocket(name, face, x, s, a, b, depth, 0.5))
                cut_pocket(w, x + shifted.get(name, 0), s, a, b, depth + deeper.get(name, 0))
        for name, on, x, s, diameter, depth in holes:
            if on == face:
                made_holes.append(Hole(name, face, "drilled", (x, s), diameter, depth, "blind"))
                cut_hole(bore, x + shifted.get(name, 0), s, diameter / 2, depth + deeper.get(name, 0))
        texts[face] = (bore if not any(p[1] == face for p in pockets) else w).text()
        if any(p[1] == face for p in pockets) and any(h[1] == face for h in holes):
            texts[face] = w.text().replace("M30\n", "") + "\n".join(bore.lines[1:]) + "\nG0 Z25\nM5\nM30\n"
    member = replace(
        sample.member, section=section(kind), pockets=tuple(made_pockets), holes=tuple(made_holes)
    )
    return Two(sample, member, texts)
