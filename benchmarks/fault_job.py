"""The good programs that faults are planted in: a short tube with every kind of feature, in four programs.

Built on the proof tests' own small generator, so that nothing here comes from the rooms that cut or write. Every
line remembers which feature it works on and what it does there: that is what a finding is held against.
"""

from __future__ import annotations

import importlib.util
import math
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

from shapely.geometry import Point, box

from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Setup
from sparwright.stock.model import Face, Hole, Member, Pocket

ROOT = Path(__file__).parents[1]


def _generator() -> ModuleType:
    spec = importlib.util.spec_from_file_location("proof_sample", ROOT / "tests" / "proof" / "conftest.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["proof_sample"] = module
    spec.loader.exec_module(module)
    return module


small = _generator()
LENGTH = 170.0
ROUND = ("round/1", 128.0, 0.0, 8.0, 2.0)  # id, x, s, radius, depth
WINDOW = ("window/1", 152.0, -9.0, 6.0)  # id, x, s, radius
DRILLED = (("drill/1", 143.0, 11.0), ("drill/2", 160.0, 11.0))
DRILL, THROUGH, PECK = 3.0, 3.4, 4.6  # diameter; how deep mills and drills go to be through, mm
BACK = (
    "back/1",
    60.0,
    0.0,
    8.0,
    5.0,
    1.8,
)  # on the opposite side: id, x, s, half its length and width, depth


@dataclass(frozen=True)
class Good:
    """A job with good programs. where: feature and deed of every line of a program, by name, from line 1."""

    job: Job
    member: Member
    setup: Setup
    programs: tuple[tuple[str, str], ...]
    where: dict[str, tuple[tuple[str, str], ...]]

    def lines(self, name: str) -> list[str]:
        """The lines of a program."""
        return dict(self.programs)[name].splitlines()

    def put(self, name: str, lines: list[str]) -> Good:
        """The same with a program's lines changed."""
        text = "\n".join(lines) + "\n"
        return replace(self, programs=tuple((n, text if n == name else t) for n, t in self.programs))

    def of(self, name: str, feature: str, deed: str = "") -> list[int]:
        """Lines (from 1) that work on a feature, or that do one deed on it."""
        return [i for i, (f, d) in enumerate(self.where[name], 1) if f == feature and deed in ("", d)]


class Pen(small.Writer):  # type: ignore[misc, name-defined]
    """The small generator's writer, noting of every line what it is for."""

    def __init__(self, tool: int, feed: float) -> None:
        super().__init__(tool, feed, small.POSE)
        self.lines = ["G21 G90 G17 G94 G40 G80 G54", f"T{tool} M6", f"G43 H{tool}", "G0 Z25", "S18000 M3"]
        self.where: list[tuple[str, str]] = [("", "head")] * len(self.lines)

    def note(self, feature: str, deed: str) -> None:
        """What every line since the last note was for."""
        self.where += [(feature, deed)] * (len(self.lines) - len(self.where))

    def done(self) -> tuple[str, tuple[tuple[str, str], ...]]:
        """The text, and what its lines are for."""
        text = self.text()
        self.where += [("", "tail")] * (len(text.splitlines()) - len(self.where))
        return text, tuple(self.where)

    def turn(self, x: float, s: float, r: float, n: float | None = None) -> None:
        """Once round (x, s) from (x + r, s), falling to n by half and half."""
        half = None if n is None else (n + self.level) / 2
        self.arc(x - r, s, x, s, half)
        self.arc(x + r, s, x, s, n)
        self.level = self.level if n is None else n


def _pockets() -> Pen:
    pen = Pen(1, 540)
    for name, x in small.POCKETS.items():
        pen.rapid(x - 9, -7)
        pen.note(name, "approach")
        pen.rapid_z(2)
        pen.note(name, "down")
        for n in (-0.9, -small.DEPTH):
            last = "last " if n == -small.DEPTH else ""
            pen.plunge(0.2, 400)
            pen.note(name, "feed down")
            pen.line(x - 9, 7, n)
            pen.note(name, last + "ramp")
            pen.line(x - 9, -7)
            pen.note(name, "ramp back")
            for i in range(7):
                side = 1 if i % 2 == 0 else -1
                across = -7.6 + 15.2 * i / 6
                pen.line(x - side * 9.6, across)
                pen.note(name, last + "step")
                pen.line(x + side * 9.6, across)
                pen.note(name, last + "pass")
            pen.lap(x, 0, 2.0)
            pen.note(name, last + "wall")
            pen.line(x, 0)
            pen.note(name, "off the wall")
            pen.rapid_z(6)
            pen.rapid(x - 9, -7)
            pen.note(name, "back")
        pen.rapid_z(20)
        pen.note(name, "retract")
    name, x, s, radius, depth = ROUND
    pen.rapid(x + 1.5, s)
    pen.note(name, "approach")
    pen.rapid_z(2)
    pen.note(name, "down")
    pen.plunge(0.2, 400)
    pen.note(name, "feed down")
    pen.level = 0.2
    while pen.level > -depth:
        pen.turn(x, s, 1.5, max(pen.level - 0.6, -depth))
    pen.note(name, "helix")
    for r in (1.5, 3.0, 4.5):
        pen.line(x + r, s)
        pen.note(name, "step")
        pen.turn(x, s, r)
        pen.note(name, "ring")
    pen.line(x + radius - 2, s)
    pen.note(name, "step")
    pen.turn(x, s, radius - 2)
    pen.note(name, "last wall")
    pen.line(x + 1.5, s)
    pen.note(name, "off the wall")
    pen.rapid_z(20)
    pen.note(name, "retract")
    return pen


def _bore(pen: Pen, name: str, x: float, s: float, radii: tuple[float, ...], depth: float) -> None:
    pen.rapid(x, s)
    pen.note(name, "approach")
    pen.rapid_z(2)
    pen.note(name, "down")
    pen.plunge(0.1, 400)
    pen.note(name, "feed down")
    pen.line(x + radii[0], s)
    pen.note(name, "step")
    pen.level = 0.1
    while pen.level > -depth:
        pen.turn(x, s, radii[0], max(pen.level - 0.3, -depth))
    pen.note(name, "helix")
    for r in radii[1:]:
        for level in (-depth / 2, -depth):
            pen.line(x + radii[0], s)
            pen.plunge(level, 400)
            pen.line(x + r, s)
            pen.note(name, "step")
            pen.turn(x, s, r)
            pen.note(name, "last wall" if (r, level) == (radii[-1], -depth) else "ring")
    if len(radii) == 1:
        pen.turn(x, s, radii[0])
        pen.note(name, "last wall")
    pen.line(x, s)
    pen.note(name, "off the wall")
    pen.rapid_z(20)
    pen.note(name, "retract")


def _holes() -> Pen:
    pen = Pen(2, 300)
    (x, s), diameter = small.HOLE, small.HOLE_DIAMETER
    _bore(pen, "rail/1", x, s, (diameter / 2 - 1.5,), THROUGH)
    name, x, s, radius = WINDOW
    _bore(pen, name, x, s, (1.4, 2.9, radius - 1.5), THROUGH)
    return pen


def _drill() -> Pen:
    pen = Pen(3, 300)
    for i, (name, x, s) in enumerate(DRILLED):
        at = pen.bed(x, s)
        how = f"G98 G83 Z{-PECK:.4f} R2.0000 Q1.5 F120" if i == 0 else ""
        pen.lines.append(f"{how} X{at[0]:.4f} Y{at[1]:.4f}".strip())
        pen.note(name, "drill")
    pen.lines.append("G80")
    pen.note("", "cancel")
    return pen


def _edges() -> Pen:
    pen = Pen(4, 500)
    for name, x in small.POCKETS.items():
        pen.rapid(x, 0)
        pen.note(name, "approach")
        pen.rapid_z(2)
        pen.note(name, "down")
        pen.plunge(-1.0, 400)
        pen.note(name, "feed down")
        pen.lap(x, 0, 0.65)
        pen.note(name, "edge")
        pen.line(x, 0)
        pen.note(name, "off the wall")
        pen.rapid_z(20)
        pen.note(name, "retract")
    return pen


def good_job() -> Job:
    """The small job on a longer tube, with a drill, and with a T1 that does not cut to its centre."""
    job = small.job()
    first, second, vee = job.cutters
    drill = Cutter(
        number=3, name="3 drill", kind="drill", diameter=DRILL, flutes=2, flute_length=30, shank=DRILL, stick_out=36,
        holder=20, included_angle=118, chip=0.03, plunges=True,
    )  # fmt: skip
    cutters = (first.model_copy(update={"plunges": False}), second, drill, vee)
    bed = job.bed.model_copy(update={"nose_height": 130, "reach": (200, 150, 100)})
    return job.model_copy(update={"cutters": cutters, "bed": bed})


def good_member() -> Member:
    """The small member made longer, with a round pocket, a window and two drilled holes more."""
    member = small.member()
    wall = small.WALL
    name, x, s, radius, depth = ROUND
    disc = Point(x, s).buffer(radius, quad_segs=64)
    pockets = [
        Pocket(name, "top", "field", "r", (x, s), disc, (), radius, depth, wall - depth, 0.0),
        Pocket(
            WINDOW[0], "top", "field", "w", WINDOW[1:3], Point(*WINDOW[1:3]).buffer(WINDOW[3], quad_segs=64), (),
            WINDOW[3], wall, 0.0, 0.0,
        ),
    ]  # fmt: skip
    name, x, s, a, b, depth = BACK
    outline = box(x - a, s - b, x + a, s + b).buffer(-2).buffer(2, quad_segs=32)
    corners = tuple((float(p), float(q)) for p, q in box(x - a, s - b, x + a, s + b).exterior.coords[:4])
    pockets.append(
        Pocket(name, "bottom", "under", "b", (x, s), outline, corners, 2.0, depth, wall - depth, 0.0)
    )
    under = Face("bottom", -math.pi / 2, (small.WIDE / 2, 0.0), small.WIDE)
    section = replace(member.section, faces=(*member.section.faces, under))
    holes = [Hole(n, "top", "drilled", (x, s), DRILL, wall, "wall") for n, x, s in DRILLED]
    return replace(
        member,
        section=section,
        length=LENGTH,
        pockets=(*member.pockets, *pockets),
        holes=(*member.holes, *holes),
    )


def make_good() -> Good:
    """The job, its member, its setup and its good programs."""
    pens = {"pockets.nc": _pockets(), "holes.nc": _holes(), "drill.nc": _drill(), "edges.nc": _edges()}
    done = {name: pen.done() for name, pen in pens.items()}
    setup = replace(small.setup(), body=box(0, -small.WIDE / 2, LENGTH, small.WIDE / 2))
    return Good(
        good_job(),
        good_member(),
        setup,
        tuple((name, text) for name, (text, _) in done.items()),
        {name: where for name, (_, where) in done.items()},
    )
