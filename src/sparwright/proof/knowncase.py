"""The case of programs from elsewhere: scene, job and readings made of what is known, boundless limits for the rest."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.geometry import Polygon, box

from sparwright.job.machines import Bed, Spindle
from sparwright.job.models import Cutting, FlatBar, Head, Job, JobFile, Stock
from sparwright.job.reading import shipped_material
from sparwright.placing.model import Pose
from sparwright.program.reader import read_program
from sparwright.proof.case import Case, case_of, passed_words
from sparwright.proof.casefile import Known, face_up, stock_box
from sparwright.proof.kernels import AIR, Grid
from sparwright.proof.prove import Say, start_of
from sparwright.proof.scene import Obstacle, Scene, metal_intervals

USUAL_MATERIAL = "EN AW-6063-T6"
BOUNDLESS = 1e9  # of a bed nobody stated: no limit of it is ever met
HIGH = 1000.0  # where the tip is taken to stand over the stock at first, where the bed is not known, mm
SAFE = 25.0  # height a message proposes for a first rapid, mm


def known_case(
    programs: Sequence[tuple[str, str]], known: Known, cell: float, say: Say = lambda _: None
) -> Case:
    """The programs as read, in the frame whose X0 Y0 is the reach's left front corner (or the program's zero, where
    that is not known) and whose Z0 is the stock's top.
    """
    words = known.words
    zero = zero_of(known)
    scene, job = _scene(known, cell), _job(known)
    start = (0.0, 0.0, HIGH)
    if known.bed is not None and known.cutters and words.height is not None:
        start = start_of(scene, job)
    # read in the machine's own frame, whose zero is taken to lie right up over the reach's left front corner, so that
    # G28 and G30 go up and not down; then put back
    below = {"G54": (zero[0], zero[1], zero[2] - start[2])}
    passes = passed_words(job)
    readings = (read_program(text, offsets=below, say=say, pass_over=passes) for _, text in programs)
    case = case_of(programs, readings, scene, job, start[2])
    return replace(case, moves=replace(case.moves, work=case.moves.work - np.asarray(zero)))


def _pose(known: Known) -> Pose:
    """Where the face's (0, 0) lies."""
    words, stock = known.words, known.words.stock
    zero = words.zero or (0.0, 0.0)
    if stock is None:
        return Pose(*zero, 0.0)
    _, s0, _, _ = stock_box(stock, known.section)
    angle = math.radians(stock.angle)
    x, y = stock.at[0] + zero[0], stock.at[1] + zero[1]
    return Pose(x + s0 * math.sin(angle), y - s0 * math.cos(angle), angle)


def _scene(known: Known, cell: float) -> Scene:
    words = known.words
    length, s0, s1, deep = stock_box(words.stock, known.section) if words.stock else (cell, 0.0, cell, 0.0)
    rows, cols = max(1, math.ceil((s1 - s0) / cell)), max(1, math.floor(length / cell))
    if words.stock is None:
        tops = bottoms = np.full((rows, 1), AIR, dtype=np.float32)
    elif known.section is not None:
        s = s0 + (np.arange(rows) + 0.5) * cell
        tops, bottoms = metal_intervals(known.section, face_up(words.stock, known.section), s)
    else:
        tops = np.zeros((rows, 1), dtype=np.float32)
        bottoms = np.full((rows, 1), -deep, dtype=np.float32)
    pose = _pose(known)
    return Scene(
        side="part",
        pose=pose,
        height=math.inf if words.height is None else words.height,
        grid=Grid(0.0, s0, float(cell)),
        before=np.ascontiguousarray(np.broadcast_to(tops[:, :1], (rows, cols))),
        tops=tops,
        bottoms=bottoms,
        targets=(),
        obstacles=_clamps(known, pose),
        body=box(0.0, s0, length, s1) if words.stock is not None else None,
        chips=np.array([c.chip for c in known.cutters or ()]),
    )


def _clamps(known: Known, pose: Pose) -> tuple[Obstacle, ...]:
    words = known.words
    zero, top = words.zero or (0.0, 0.0), words.stock.top if words.stock else 0.0
    found = []
    for clamp in words.clamp:
        corners = box(*clamp.low, *clamp.high).exterior.coords[:-1]
        outline = pose.to_face(np.asarray(corners) + zero)
        found.append(Obstacle(clamp.name, "clamp", Polygon(outline), clamp.top - top))
    return tuple(found)


def _job(known: Known) -> Job:
    """A job that holds what is known, and boundless limits for the rest."""
    words = known.words
    material = known.material or shipped_material(USUAL_MATERIAL)
    nominal = FlatBar(
        shape="flat bar", width=1, thickness=1
    )  # the scene holds the stock; a job must name some
    file = JobFile(
        job=Head(
            title=words.title or "programs from elsewhere", bed=words.bed or "", cutters=words.cutters or ""
        ),
        stock=Stock(material=material.name, length=1, section=nominal),
        cutting=Cutting(
            clearance=words.clearance,
            safe_height=max(SAFE, words.clearance),
            floor_tolerance=min(words.tolerance.floor, 1.0),
            wall_tolerance=min(words.tolerance.wall, 1.0),
        ),
    )
    return Job(
        path="",
        folder="",
        digest=known.digest,
        file=file,
        bed=known.bed or _boundless(),
        cutters=known.cutters or (),
        material=material,
    )


def _boundless() -> Bed:
    return Bed(
        name="unknown",
        reach=(BOUNDLESS,) * 3,
        throat=BOUNDLESS,
        bridge_clearance=BOUNDLESS,
        nose_height=BOUNDLESS,
        bed_size=(BOUNDLESS,) * 2,
        rapid=(BOUNDLESS,) * 3,
        feed_limit=(BOUNDLESS,) * 3,
        acceleration=(BOUNDLESS,) * 3,
        spindle=Spindle(power=BOUNDLESS, slowest=1e-9, fastest=BOUNDLESS),
    )


def zero_of(known: Known) -> tuple[float, float, float]:
    """The programs' zero in the case's frame."""
    x, y = known.words.zero or (0.0, 0.0)
    return x, y, -known.words.stock.top if known.words.stock else 0.0
