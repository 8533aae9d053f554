"""The two jobs faults are planted in: a tube with thin walls on the skew, and a solid bar laid steeply across the bed."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from fault_job import Disc, Good, Layout, Rect, small, write
from shapely.geometry import Point, Polygon, box

from sparwright.job.models import Cutter, Job
from sparwright.placing.model import Clamp, Pad, Pose, Setup
from sparwright.stock.model import Face, Hole, Member, Pocket, Section

QUARTER = 64  # chords in a quarter of a round outline


def rounded(rect: Rect) -> Polygon:
    """A rectangle's outline, its corners as chords."""
    shape = box(rect.x - rect.a, rect.s - rect.b, rect.x + rect.a, rect.s + rect.b)
    return shape.buffer(-rect.corner).buffer(rect.corner, quad_segs=QUARTER)


def _pocket(rect: Rect, wall: float, face: str) -> Pocket:
    corners = (
        (rect.x + sx * rect.a, rect.s + ss * rect.b) for sx, ss in ((1, 1), (-1, 1), (-1, -1), (1, -1))
    )
    return Pocket(
        rect.name, face, "field", rect.name, (rect.x, rect.s), rounded(rect), tuple(corners), rect.corner,
        rect.depth, wall - rect.depth, rect.edge,
    )  # fmt: skip


def _round(disc: Disc, depth: float, skin: float) -> Pocket:
    shape = Point(disc.x, disc.s).buffer(disc.radius, quad_segs=QUARTER)
    return Pocket(
        disc.name, "top", "field", disc.name, (disc.x, disc.s), shape, (), disc.radius, depth, skin, 0.0
    )


def _drill(number: int) -> Cutter:
    return Cutter(
        number=number, name="3 drill", kind="drill", diameter=3, flutes=2, flute_length=30, shank=3, stick_out=36,
        holder=20, included_angle=118, chip=0.03, plunges=True,
    )  # fmt: skip


# --- the tube -------------------------------------------------------------------------------------------

TUBE = Layout(
    title="tube", pose=small.POSE, length=170.0, wall=small.WALL,
    rects=tuple(
        Rect(name, x, 0.0, small.HALF_X, small.HALF_S, small.CORNER, small.DEPTH, small.EDGE)
        for name, x in small.POCKETS.items()
    ),
    disc=Disc("round/1", 128.0, 0.0, 8.0, 2.0),
    bore=Disc("rail/1", *small.HOLE, small.HOLE_DIAMETER / 2, 3.4),
    window=Disc("window/1", 152.0, -9.0, 6.0, 3.4),
    drilled=(Disc("drill/1", 143.0, 11.0, 1.5, 4.6), Disc("drill/2", 160.0, 11.0, 1.5, 4.6)),
    back=Rect("back/1", 60.0, 0.0, 8.0, 5.0, 2.0, 1.8, 0.0),
    tools=(1, 2, 3, 4), feeds=(540, 300, 120, 500), rpm=18000, deep=0.9, way=1,
)  # fmt: skip


def tube() -> Good:
    """The proof tests' small tube made longer, with a round pocket, a window, two drilled holes and a far side."""
    job = small.job()
    first, second, vee = job.cutters
    cutters = (first.model_copy(update={"plunges": False}), second, _drill(3), vee)
    bed = job.bed.model_copy(update={"nose_height": 130, "reach": (200, 150, 100)})
    member, wall = small.member(), small.WALL
    pockets = (
        _round(TUBE.disc, TUBE.disc.depth, wall - TUBE.disc.depth),
        _round(TUBE.window, wall, 0.0),
        _pocket(TUBE.back, wall, "bottom"),
    )
    under = Face("bottom", -math.pi / 2, (small.WIDE / 2, 0.0), small.WIDE)
    holes = tuple(Hole(d.name, "top", "drilled", (d.x, d.s), 3.0, wall, "wall") for d in TUBE.drilled)
    member = replace(
        member,
        section=replace(member.section, faces=(*member.section.faces, under)),
        length=TUBE.length,
        pockets=(*member.pockets, *pockets),
        holes=(*member.holes, *holes),
    )
    setup = replace(small.setup(), body=box(0, -small.WIDE / 2, TUBE.length, small.WIDE / 2))
    return write(TUBE, job.model_copy(update={"cutters": cutters, "bed": bed}), member, setup)


# --- the bar --------------------------------------------------------------------------------------------

BROAD, THICK = 44.0, 12.0
BLIND = 7.0  # depth of the second drilled hole, mm
BAR = Layout(
    title="bar", pose=Pose(150.0, 32.0, math.radians(118)), length=150.0, wall=THICK,
    rects=(
        Rect("bay/1", 28.0, 1.0, 16.0, 9.0, 3.2, 4.0, 0.5),
        Rect("bay/2", 70.0, -1.5, 12.0, 11.0, 3.5, 3.6, 0.3),
    ),
    disc=Disc("well/1", 98.0, 2.0, 9.0, 2.0),
    bore=Disc("pin/1", 124.0, 13.0, 3.2, THICK + 0.4),
    window=Disc("gate/1", 122.0, -8.0, 10.0, THICK + 0.4, tab=1.0),
    drilled=(Disc("screw/1", 142.0, -13.0, 1.5, THICK + 1.5), Disc("screw/2", 142.0, 13.0, 1.5, BLIND)),
    back=Rect("back/1", 28.0, -12.0, 10.0, 5.0, 2.0, 5.6, 0.0),
    tools=(2, 5, 7, 9), feeds=(720, 200, 120, 320), rpm=17000, deep=1.3, way=-1,
)  # fmt: skip


def _bar_job() -> Job:
    job = small.job()
    vee = job.cutters[2].model_copy(update={"number": 9})
    cutters = (
        Cutter(
            number=2, name="5 flat", kind="flat", diameter=5, flutes=2, flute_length=14, shank=5, chip=0.03,
            plunges=False, stick_out=24, holder=20,
        ),
        Cutter(number=5, name="4 flat", kind="flat", diameter=4, flutes=1, flute_length=14, shank=4, chip=0.025, stick_out=20, holder=20),
        _drill(7),
        vee,
    )  # fmt: skip
    bed = job.bed.model_copy(update={"nose_height": 110, "reach": (210, 200, 100)})
    return job.model_copy(update={"cutters": cutters, "bed": bed})


def _bar_member() -> Member:
    shape = box(0, 0, BROAD, THICK)
    faces = (
        Face("top", math.pi / 2, (BROAD / 2, THICK), BROAD),
        Face("bottom", -math.pi / 2, (BROAD / 2, 0.0), BROAD),
    )
    pockets = (
        *(_pocket(r, THICK, "top") for r in BAR.rects),
        _round(BAR.disc, BAR.disc.depth, THICK - BAR.disc.depth),
        _round(BAR.window, THICK, 0.0),
        _pocket(BAR.back, THICK, "bottom"),
    )
    pin, (screw, blind) = BAR.bore, BAR.drilled
    holes = (
        Hole(pin.name, "top", "clearance", (pin.x, pin.s), 2 * pin.radius, THICK, "all"),
        Hole(screw.name, "top", "drilled", (screw.x, screw.s), 3.0, THICK, "all"),
        Hole(blind.name, "top", "drilled", (blind.x, blind.s), 3.0, BLIND, "blind"),
    )
    return Member(
        "bar",
        Section("flat bar", shape, faces),
        BAR.length,
        small.job().material,
        pockets=pockets,
        holes=holes,
    )


def _bar_setup() -> Setup:
    across = (-BROAD / 2 - 0.05, BROAD / 2 + 0.05)
    pads = tuple(
        Pad(f"pad {k}", (x, x + 20), (-40, 40), 18.0, {"top": across}, 4.0, True)
        for k, x in enumerate((0.0, 78.0), 1)
    )
    clamps = (
        Clamp("clamp 1", box(47.5, -27, 54.5, 27), 11.0, (51.0, 0.0), 800, 2.0, "M6"),
        Clamp("clamp 2", box(138, -4, 146, 4), 6.0, (142.0, 0.0), 800, 2.0, "M6"),
    )
    return Setup(
        side="top", face="top", order=1, station=1, pose=BAR.pose, face_height=18.0 - 4.0 + THICK, pad_top=18.0,
        body=box(0, -BROAD / 2, BAR.length, BROAD / 2), pads=pads, clamps=clamps, flip="", zero="",
    )  # fmt: skip


def bar() -> Good:
    """A solid bar with deeper pockets, a blind hole, a window on tabs, and arcs gone about clockwise."""
    return write(BAR, _bar_job(), _bar_member(), _bar_setup())


BASES: tuple[Callable[[], Good], ...] = (tube, bar)
