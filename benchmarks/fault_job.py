"""What faults are planted in: a job with good programs, and the small generator that writes them from a layout.

Built on the proof tests' own generator, so that nothing here comes from the rooms that cut or write. Every line
remembers which feature it works on and what it does there: that is what a finding is held against.
"""

from __future__ import annotations

import importlib.util
import itertools
import math
import sys
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from types import ModuleType

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Pose, Setup
from sparwright.stock.model import Member

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
POCKETS, HOLES, DRILL, EDGES = ALL = ("pockets.nc", "holes.nc", "drill.nc", "edges.nc")


@dataclass(frozen=True)
class Rect:
    """A pocket with upright walls: middle, half its length and width, corner radius, depth and width of its edge break, mm."""

    name: str
    x: float
    s: float
    a: float
    b: float
    corner: float
    depth: float
    edge: float


@dataclass(frozen=True)
class Disc:
    """A round pocket, bore or window: middle, radius and how deep it is cut, mm. tab: thickness of three tabs that hold
    its middle, 0 where it is cleared.
    """

    name: str
    x: float
    s: float
    radius: float
    depth: float
    tab: float = 0.0


@dataclass(frozen=True)
class Layout:
    """What the generator needs. levels: of the rectangles' floors. tools: of pockets, holes, drill and edges, with their
    feeds. way: 1 where round walls are gone about counter-clockwise, -1 clockwise. back: a pocket of the opposite side.
    drilled: with the depth of the drill's point.
    """

    title: str
    pose: Pose
    length: float
    wall: float
    rects: tuple[Rect, ...]
    disc: Disc
    bore: Disc
    window: Disc
    drilled: tuple[Disc, ...]
    back: Rect
    tools: tuple[int, int, int, int]
    feeds: tuple[float, float, float, float]
    rpm: int
    deep: float
    way: int

    def rect(self, name: str) -> Rect:
        """The rectangle of that name."""
        return next(r for r in self.rects if r.name == name)

    @property
    def rect_names(self) -> tuple[str, ...]:
        """Names of the rectangles."""
        return tuple(r.name for r in self.rects)


@dataclass(frozen=True)
class Good:
    """A job with good programs. where: feature and deed of every line of a program, by name, from line 1."""

    layout: Layout
    job: Job
    member: Member
    setup: Setup
    programs: tuple[tuple[str, str], ...]
    where: dict[str, tuple[tuple[str, str], ...]]

    def lines(self, name: str) -> list[str]:
        """The lines of a program."""
        return dict(self.programs)[name].splitlines()

    def put(self, name: str, lines: Iterable[str]) -> Good:
        """The same with a program's lines changed."""
        return self.put_text(name, "\n".join(lines) + "\n")

    def put_text(self, name: str, text: str) -> Good:
        """The same with a program's text changed."""
        return replace(self, programs=tuple((n, text if n == name else t) for n, t in self.programs))

    def of(self, name: str, feature: str, deed: str = "") -> list[int]:
        """Lines (from 1) that work on a feature, or that do one deed on it."""
        return [i for i, (f, d) in enumerate(self.where[name], 1) if f == feature and deed in ("", d)]

    def features(self, name: str) -> list[str]:
        """The features a program works on, in name order."""
        return sorted({f for f, _ in self.where[name] if f})

    def cutter(self, name: str) -> Cutter:
        """The cutter of a program."""
        number = self.layout.tools[ALL.index(name)]
        return next(c for c in self.job.cutters if c.number == number)

    def with_cutter(self, name: str, **changes: float) -> Good:
        """The same with a program's cutter changed in the job's list, and a nose high enough for it."""
        mine = self.cutter(name)
        cutters = tuple(c.model_copy(update=changes) if c is mine else c for c in self.job.cutters)
        return replace(self, job=self.job.model_copy(update={"cutters": cutters}))

    def with_bed(self, **changes: object) -> Good:
        """The same with the machine changed."""
        return replace(self, job=self.job.model_copy(update={"bed": self.job.bed.model_copy(update=changes)}))

    def outline(self, feature: str) -> BaseGeometry:
        """Outline of a feature of the side that is cut, (x, s)."""
        for p in self.member.pockets:
            if p.id == feature:
                return p.outline
        hole = next(h for h in self.member.holes if h.id == feature)
        return shapely.Point(hole.at).buffer(hole.diameter / 2)

    def on_bed(self, x: float, s: float) -> np.ndarray:
        """Bed place of a place on the face, (2,)."""
        return np.asarray(self.setup.pose.to_bed(np.array([[x, s]]))[0])


class Pen(small.Writer):  # type: ignore[misc, name-defined]
    """The small generator's writer, noting of every line what it is for."""

    def __init__(self, layout: Layout, program: str) -> None:
        k = ALL.index(program)
        tool = layout.tools[k]
        super().__init__(tool, layout.feeds[k], layout.pose)
        self.way, self.level = layout.way, 0.0
        self.lines = [
            "G21 G90 G17 G94 G40 G80 G54", f"T{tool} M6", f"G43 H{tool}", "G0 Z25", f"S{layout.rpm} M3",
        ]  # fmt: skip
        self.where: list[tuple[str, str]] = [("", "head")] * len(self.lines)

    def note(self, feature: str, deed: str) -> None:
        """What every line since the last note was for."""
        self.where += [(feature, deed)] * (len(self.lines) - len(self.where))

    def begin(self, feature: str, x: float, s: float, first: float) -> None:
        """Over a feature, down at rapid, then down to its first level at feed."""
        self.rapid(x, s)
        self.note(feature, "approach")
        self.rapid_z(2)
        self.note(feature, "down")
        self.plunge(first, 400)
        self.note(feature, "feed down")
        self.level = first

    def done(self) -> tuple[str, tuple[tuple[str, str], ...]]:
        """The text, and what its lines are for."""
        text = self.text()
        self.where += [("", "tail")] * (len(text.splitlines()) - len(self.where))
        return text, tuple(self.where)

    def bow(self, x: float, s: float, cx: float, cs: float, n: float | None = None) -> None:
        """An arc the layout's way about."""
        self.arc(x, s, cx, cs, n)
        if self.way < 0:
            self.lines[-1] = self.lines[-1].replace("G3", "G2", 1)

    def turn(self, x: float, s: float, r: float, n: float | None = None) -> None:
        """Once round (x, s) from (x + r, s), falling to n by half and half."""
        half = None if n is None else (n + self.level) / 2
        self.bow(x - r, s, x, s, half)
        self.bow(x + r, s, x, s, n)
        self.level = self.level if n is None else n

    def lap_of(self, rect: Rect, inset: float) -> None:
        """Once round a rectangle's outline moved in by `inset`, counter-clockwise from the middle of its right side."""
        x, s, a, b, r = rect.x, rect.s, rect.a - inset, rect.b - inset, rect.corner - inset
        self.line(x + a, s)
        for (sx, ss), (ex, es) in zip(
            ((1, 1), (-1, 1), (-1, -1), (1, -1)), ((0, 1), (-1, 0), (0, -1), (1, 0)), strict=True
        ):
            cx, cs = x + sx * (a - r), s + ss * (b - r)
            self.line(cx + es * r, cs - ex * r)
            self.arc(cx + ex * r, cs + es * r, cx, cs)
        self.line(x + a, s)


def _rect(pen: Pen, rect: Rect, radius: float, deep: float) -> None:
    """A rectangle: ramps, straight passes and a lap on every level."""
    name, x, s = rect.name, rect.x, rect.s
    across, along = rect.b - radius - 1, rect.a - radius - 1
    count = math.ceil((2 * rect.b - 2 * radius - 0.8) / (1.3 * radius) - 1e-9) + 1
    levels = [-rect.depth * k / math.ceil(rect.depth / deep) for k in range(math.ceil(rect.depth / deep) + 1)]
    for above, n in itertools.pairwise(levels):
        last = "last " if n == levels[-1] else ""
        if above == 0:
            pen.begin(name, x - along, s - across, 0.2)
        else:
            pen.plunge(above + 0.2, 400)
            pen.note(name, "feed down")
        pen.line(x - along, s + across, n)
        pen.note(name, last + "ramp")
        pen.line(x - along, s - across)
        pen.note(name, "ramp back")
        for i in range(count):
            side = 1 if i % 2 == 0 else -1
            place = s + (rect.b - radius - 0.4) * (2 * i / (count - 1) - 1)
            pen.line(x - side * (rect.a - radius - 0.4), place)
            pen.note(name, last + "step")
            pen.line(x + side * (rect.a - radius - 0.4), place)
            pen.note(name, last + "pass")
        pen.lap_of(rect, radius)
        pen.note(name, last + "wall")
        pen.line(x, s)
        pen.note(name, "off the wall")
        pen.rapid_z(6)
        pen.rapid(x - along, s - across)
        pen.note(name, "back")
    pen.rapid_z(20)
    pen.note(name, "retract")


def _disc(pen: Pen, disc: Disc, radius: float) -> None:
    """A round pocket: a helix, rings, and a lap."""
    name, x, s = disc.name, disc.x, disc.s
    first, final = 0.75 * radius, disc.radius - radius
    pen.begin(name, x + first, s, 0.2)
    while pen.level > -disc.depth:
        pen.turn(x, s, first, max(pen.level - 0.6, -disc.depth))
    pen.note(name, "helix")
    for r in np.arange(first, final - 0.2, first):
        pen.line(x + float(r), s)
        pen.note(name, "step")
        pen.turn(x, s, float(r))
        pen.note(name, "ring")
    pen.line(x + final, s)
    pen.note(name, "step")
    pen.turn(x, s, final)
    pen.note(name, "last wall")
    pen.line(x + first, s)
    pen.note(name, "off the wall")
    pen.rapid_z(20)
    pen.note(name, "retract")


def bore(pen: Pen, hole: Disc, radii: tuple[float, ...]) -> None:
    """A hole right through: a helix, and rings about it on two levels where it is wider than that."""
    name, x, s = hole.name, hole.x, hole.s
    pen.begin(name, x, s, 0.1)
    pen.line(x + radii[0], s)
    pen.note(name, "step")
    while pen.level > -hole.depth:
        pen.turn(x, s, radii[0], max(pen.level - 0.3, -hole.depth))
    pen.note(name, "helix")
    for r in radii[1:]:
        for level in (-hole.depth / 2, -hole.depth):
            pen.line(x + radii[0], s)
            pen.plunge(level, 400)
            pen.line(x + r, s)
            pen.note(name, "step")
            pen.turn(x, s, r)
            pen.note(name, "last wall" if (r, level) == (radii[-1], -hole.depth) else "ring")
    if len(radii) == 1:
        pen.turn(x, s, radii[0])
        pen.note(name, "last wall")
    pen.line(x, s)
    pen.note(name, "off the wall")
    pen.rapid_z(20)
    pen.note(name, "retract")


def _on_tabs(pen: Pen, hole: Disc, radius: float, wall: float) -> None:
    """A window whose middle stays on three tabs: a helix down to their top, then laps that rise over them."""
    name, x, s, r = hole.name, hole.x, hole.s, hole.radius - radius
    pen.begin(name, x + r, s, 0.1)
    top = -(wall - hole.tab)
    while pen.level > top:
        pen.turn(x, s, r, max(pen.level - 0.3, top))
    pen.note(name, "helix")
    half = (2.0 + radius) / r
    for n in np.linspace(top, -hole.depth, 4)[1:]:
        pen.plunge(float(n), 120)
        pen.note(name, "feed down")
        for middle in (math.pi / 3, math.pi, 5 * math.pi / 3):
            begin, end = pen.way * (middle - half), pen.way * (middle + half)
            pen.bow(x + r * math.cos(begin), s + r * math.sin(begin), x, s)
            pen.note(name, "last wall")
            pen.plunge(top, 400)
            pen.note(name, "tab")
            pen.bow(x + r * math.cos(end), s + r * math.sin(end), x, s)
            pen.note(name, "over a tab")
            pen.plunge(float(n), 120)
            pen.note(name, "tab")
        pen.bow(x + r, s, x, s)
        pen.note(name, "last wall")
    pen.rapid_z(20)
    pen.note(name, "retract")


def _edge(pen: Pen, rect: Rect) -> None:
    """A rectangle's edge by a V of 90 degrees whose flat tip is 0.1 mm wide."""
    pen.begin(rect.name, rect.x, rect.s, -1.0)
    pen.lap_of(rect, 1.05 - rect.edge)
    pen.note(rect.name, "edge")
    pen.line(rect.x, rect.s)
    pen.note(rect.name, "off the wall")
    pen.rapid_z(20)
    pen.note(rect.name, "retract")


def write(layout: Layout, job: Job, member: Member, setup: Setup) -> Good:
    """The job with its good programs."""
    radius = {c.number: c.diameter / 2 for c in job.cutters}
    pens = {name: Pen(layout, name) for name in ALL}
    mill, fine = radius[layout.tools[0]], radius[layout.tools[1]]
    for rect in layout.rects:
        _rect(pens[POCKETS], rect, mill, layout.deep)
        _edge(pens[EDGES], rect)
    _disc(pens[POCKETS], layout.disc, mill)
    bore(pens[HOLES], layout.bore, (layout.bore.radius - fine,))
    if layout.window.tab:
        _on_tabs(pens[HOLES], layout.window, fine, layout.wall)
    else:
        bore(pens[HOLES], layout.window, (1.4, 2.9, layout.window.radius - fine))
    pen = pens[DRILL]
    for i, hole in enumerate(layout.drilled):
        at = pen.bed(hole.x, hole.s)
        how = f"G98 G83 Z{-hole.depth:.4f} R2.0000 Q1.5 F{layout.feeds[2]:g} " if i == 0 else ""
        own = f" Z{-hole.depth:.4f}" if i and hole.depth != layout.drilled[0].depth else ""
        pen.lines.append(f"{how}X{at[0]:.4f} Y{at[1]:.4f}{own}")
        pen.note(hole.name, "drill")
    pen.lines.append("G80")
    pen.note("", "cancel")
    done = {name: pen.done() for name, pen in pens.items()}
    programs = tuple((name, text) for name, (text, _) in done.items())
    return Good(layout, job, member, setup, programs, {name: where for name, (_, where) in done.items()})
