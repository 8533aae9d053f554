"""A small job with programs from a tiny generator of its own: a short tube, two pockets, one hole, on the skew.

Nothing here comes from the rooms that lay out, cut or write: the outlines are plain shapely boxes, the paths are
worked out on the spot, so that an error in those rooms cannot hide an error in the proof.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from sparwright.job.models import Bed, Cutter, Job, JobFile, Material
from sparwright.placing.model import Clamp, Pad, Pose, Setup
from sparwright.stock.model import Face, Hole, Member, Pocket, Section

WIDE, HIGH, WALL, LENGTH = 40.0, 30.0, 3.0, 120.0
POCKETS = {"field/top/r1c01": 30.0, "field/top/r1c02": 75.0}  # centres, x
HALF_X, HALF_S, CORNER, DEPTH, EDGE = 12.0, 10.0, 2.5, 1.8, 0.4
HOLE, HOLE_DIAMETER = (105.0, 3.0), 5.0
POSE = Pose(30.0, 25.0, math.radians(30))
FACE_HEIGHT = 44.0


def bed() -> Bed:
    return Bed(
        name="small router", reach=(200, 150, 80), throat=300, bridge_clearance=100, nose_height=110,
        bed_size=(250, 200), rapid=(6000, 6000, 2400), feed_limit=(4000, 4000, 1500),
        acceleration=(350, 350, 200), spindle={"power": 800, "slowest": 8000, "fastest": 24000},
    )  # fmt: skip


def cutters() -> tuple[Cutter, ...]:
    common = {"flutes": 1, "stick_out": 22, "holder": 20}
    return (
        Cutter(number=1, name="4 flat", kind="flat", diameter=4, flute_length=12, shank=4, chip=0.03, **common),
        Cutter(number=2, name="3 flat", kind="flat", diameter=3, flute_length=9, shank=3, chip=0.02, **common),
        Cutter(
            number=4, name="90 vee", kind="vee", diameter=6, flute_length=3, shank=6, chip=0.02,
            included_angle=90, tip=0.1, **common,
        ),
    )  # fmt: skip


def job() -> Job:
    material = Material(
        name="EN AW-6063-T6", modulus=69500, poisson=0.33, density=2700, proof_strength=170,
        tensile_strength=215, cutting_force=700, cutting_exponent=0.25, source="test",
    )  # fmt: skip
    section = {"shape": "rectangular tube", "width": WIDE, "height": HIGH, "wall": WALL}
    file = JobFile(
        job={"title": "short tube", "bed": "b", "cutters": "c"},
        stock={"material": material.name, "length": LENGTH, "section": section},
    )
    return Job(
        path="", folder="", digest="", file=file, bed=bed(), cutters=cutters(), material=material, served=None
    )


def rounded(x: float, s: float, inset: float = 0.0) -> Polygon:
    """A pocket's outline, or the same moved in by `inset`, with fine corner arcs."""
    r = CORNER - inset
    a, b = HALF_X - inset, HALF_S - inset
    points = []
    for k, (sx, ss) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        for t in np.linspace(0, math.pi / 2, 25):
            angle = k * math.pi / 2 + t
            points.append((x + sx * (a - r) + r * math.cos(angle), s + ss * (b - r) + r * math.sin(angle)))
    return Polygon(points)


def member() -> Member:
    shape = Polygon(
        box(0, 0, WIDE, HIGH).exterior.coords, [box(WALL, WALL, WIDE - WALL, HIGH - WALL).exterior.coords]
    )
    face = Face("top", math.pi / 2, (WIDE / 2, HIGH), WIDE)
    pockets = tuple(
        Pocket(
            id=name, face="top", field="field", shape_key="a", origin=(x, 0.0), outline=rounded(x, 0.0),
            corners=((x + HALF_X, HALF_S), (x - HALF_X, HALF_S), (x - HALF_X, -HALF_S), (x + HALF_X, -HALF_S)),
            corner_radius=CORNER, depth=DEPTH, skin=WALL - DEPTH, edge_break=EDGE,
        )
        for name, x in POCKETS.items()
    )  # fmt: skip
    hole = Hole("rail/1", "top", "drilled", HOLE, HOLE_DIAMETER, WALL, "wall")
    return Member(
        "short tube", Section("tube", shape, (face,)), LENGTH, job().material, pockets=pockets, holes=(hole,)
    )


def setup() -> Setup:
    pads = tuple(
        Pad(f"pad {k}", (x, x + 20), (-40, 40), 18.0, {"top": (-20.05, 20.05)}, 4.0, True)
        for k, x in enumerate((0.0, 95.0), 1)
    )
    clamp = Clamp("clamp 1", box(48, -25, 57, 25), 12.0, (52.5, 0.0), 800, 2.0, "M6")
    return Setup(
        side="top", face="top", order=1, station=1, pose=POSE, face_height=FACE_HEIGHT, pad_top=18.0,
        body=box(0, -WIDE / 2, LENGTH, WIDE / 2), pads=pads, clamps=(clamp,), flip="", zero="",
    )  # fmt: skip


# --- the tiny generator ---------------------------------------------------------------------------------


class Writer:
    """Writes lines in the bed frame from places on the face, and remembers where lines stand."""

    def __init__(self, tool: int, feed: float, pose: Pose = POSE) -> None:
        self.pose, self.at, self.marks = pose, np.zeros(2), {}
        self.lines = ["G21 G90 G17 G94 G54", f"T{tool} M6", "G0 Z25", "S18000 M3"]
        self.feed = feed

    def mark(self, name: str) -> None:
        """The next line is called `name`."""
        self.marks[name] = len(self.lines) + 1

    def bed(self, x: float, s: float) -> np.ndarray:
        c, w = math.cos(self.pose.angle), math.sin(self.pose.angle)
        return np.array([self.pose.x + c * x - w * s, self.pose.y + w * x + c * s])

    def rapid(self, x: float, s: float) -> None:
        self.at = self.bed(x, s)
        self.lines.append(f"G0 X{self.at[0]:.4f} Y{self.at[1]:.4f}")

    def rapid_z(self, n: float) -> None:
        self.lines.append(f"G0 Z{n:.4f}")

    def plunge(self, n: float, feed: float) -> None:
        self.lines.append(f"G1 Z{n:.4f} F{feed:g}")

    def line(self, x: float, s: float, n: float | None = None) -> None:
        self.at = self.bed(x, s)
        up = "" if n is None else f" Z{n:.4f}"
        self.lines.append(f"G1 X{self.at[0]:.4f} Y{self.at[1]:.4f}{up} F{self.feed:g}")

    def arc(self, x: float, s: float, cx: float, cs: float, n: float | None = None) -> None:
        """Counter-clockwise."""
        centre = self.bed(cx, cs) - self.at
        self.at = self.bed(x, s)
        up = "" if n is None else f" Z{n:.4f}"
        self.lines.append(
            f"G3 X{self.at[0]:.4f} Y{self.at[1]:.4f}{up} I{centre[0]:.4f} J{centre[1]:.4f} F{self.feed:g}"
        )

    def lap(self, x: float, s: float, inset: float) -> None:
        """Once round a pocket's outline moved in by `inset`, from the middle of its right side."""
        a, b, r = HALF_X - inset, HALF_S - inset, CORNER - inset
        self.line(x + a, s)
        for sx, ss, ex, es in ((1, 1, 0, 1), (-1, 1, -1, 0), (-1, -1, 0, -1), (1, -1, 1, 0)):
            cx, cs = x + sx * (a - r), s + ss * (b - r)
            bx, bs = (1, 0) if (sx, ss) == (1, 1) else (0, 1) if (sx, ss) == (-1, 1) else (
                (-1, 0) if (sx, ss) == (-1, -1) else (0, -1)
            )  # fmt: skip
            self.line(cx + bx * r, cs + bs * r)
            self.arc(cx + ex * r, cs + es * r, cx, cs)
        self.line(x + a, s)

    def text(self) -> str:
        return "\n".join([*self.lines, "G0 Z25", "M5", "M30", ""])


def pocket_program() -> Writer:
    w = Writer(1, 540)
    for k, x in enumerate(POCKETS.values()):
        w.mark(f"approach {k}")
        w.rapid(x - 9, -7)
        w.rapid_z(2)
        for n in (-0.9, -DEPTH):
            w.mark(f"ramp {k} {n}")
            w.plunge(0.2, 400)
            w.line(x - 9, 7, n)
            w.line(x - 9, -7)
            w.mark(f"floor {k} {n}")
            for i, across in enumerate(np.linspace(-7.6, 7.6, 7)):
                side = 1 if i % 2 == 0 else -1
                w.line(x - side * 9.6, across)
                w.line(x + side * 9.6, across)
            w.mark(f"wall {k} {n}")
            w.lap(x, 0, 2.0)
            w.line(x, 0)
            w.rapid_z(6)
            w.rapid(x - 9, -7)
        w.mark(f"retract {k}")
        w.rapid_z(20)
    return w


def hole_program() -> Writer:
    w = Writer(2, 300)
    x, s = HOLE
    w.rapid(x, s)
    w.rapid_z(2)
    w.plunge(0.1, 400)
    w.line(x + 1, s)
    w.mark("helix")
    n = 0.1
    while n > -3.4:
        n = max(n - 0.3, -3.4)
        w.arc(x - 1, s, x, s, (n + max(n, n + 0.15)) / 2)
        w.arc(x + 1, s, x, s, n)
    w.mark("bore")
    w.arc(x - 1, s, x, s)
    w.arc(x + 1, s, x, s)
    w.line(x, s)
    w.rapid_z(20)
    return w


def edge_program() -> Writer:
    w = Writer(4, 500)
    for x in POCKETS.values():
        w.rapid(x, 0)
        w.rapid_z(2)
        w.plunge(-1.0, 400)
        w.mark(f"edge {x:g}")
        w.lap(x, 0, 0.65)
        w.line(x, 0)
        w.rapid_z(20)
    return w


@dataclass(frozen=True)
class Sample:
    """The small job with its three programs, and the lines of note in each."""

    job: Job
    member: Member
    setup: Setup
    programs: tuple[tuple[str, str], ...]
    marks: dict[str, dict[str, int]]

    def with_text(self, name: str, text: str) -> Sample:
        return replace(self, programs=tuple((n, text if n == name else t) for n, t in self.programs))

    def text(self, name: str) -> str:
        return dict(self.programs)[name]


def make_sample() -> Sample:
    writers = {"pockets.nc": pocket_program(), "hole.nc": hole_program(), "edges.nc": edge_program()}
    return Sample(
        job(), member(), setup(), tuple((n, w.text()) for n, w in writers.items()),
        {n: w.marks for n, w in writers.items()},
    )  # fmt: skip


@pytest.fixture(scope="session")
def sample() -> Sample:
    return make_sample()


@pytest.fixture(scope="session")
def maker() -> SimpleNamespace:
    """The generator's parts, for tests that write programs of their own."""
    return SimpleNamespace(
        Writer=Writer, rounded=rounded, member=member, setup=setup, job=job, pockets=POCKETS, depth=DEPTH,
        half=(HALF_X, HALF_S), corner=CORNER, edge=EDGE, hole=(HOLE, HOLE_DIAMETER), wall=WALL, pose=POSE,
    )  # fmt: skip
