"""What lies on the bed and what is to become of it: stock, wanted features, and things not to be hit.

A scene is the same for a side of the member and for the pads, so one judge serves both. Everything is in the
(x, s, n) of the surface being cut: n = 0 on it, negative inside.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Point, Polygon, box

from sparwright.job.models import Job
from sparwright.placing.model import Pad, Placement, Pose, Setup
from sparwright.proof.kernels import AIR, Grid
from sparwright.stock.model import Face, Hole, Member, Section

CELL = 0.2  # size of a cell, mm; walls are probed exactly, so the cells need not resolve them
ROUND = 32  # chords in a quarter of a round outline: 0.0003 r off the circle
SHEET_CHIP = 0.025  # chip load in wood-based sheet over cutter diameter: common practice, no source


@dataclass(frozen=True)
class Target:
    """A feature wanted in this scene.

    outline: in (x, s). depth: of its floor, or of the metal's far side where `through`. at_least: how deep its
    floor must be where that is less than `depth`. skin: metal wanted under it, 0 where not stated. edge_break:
    width of the chamfer on its rim. circle: (x, s, diameter) where it is round. point: a blind hole, which a
    drill's point may make.
    """

    id: str
    kind: str
    outline: Polygon
    depth: float
    through: bool
    skin: float = 0.0
    edge_break: float = 0.0
    circle: tuple[float, float, float] | None = None
    point: bool = False
    at_least: float | None = None

    @property
    def least_depth(self) -> float:
        """How deep the floor must be, mm."""
        return self.depth if self.at_least is None else self.at_least


@dataclass(frozen=True)
class Obstacle:
    """Something that must not be hit: its outline in (x, s) and its top, n. soft: depth it may be cut into by
    break-through, mm.
    """

    name: str
    kind: str
    outline: Polygon
    top: float
    soft: float = 0.0


@dataclass(frozen=True)
class Scene:
    """before: (rows, cols) float32 height map of the stock. tops, bottoms: (rows, m) float32, metal intervals of
    each row, outermost first. height: of n = 0 over the bed's surface, mm. chips: (cutters,) chip load per tooth
    each cutter takes in this stock, mm. body: outline of what lies on the bed, (x, s). member, face: whose side this
    is, None and empty for pads. poses: face and pose of all sides that are cut.
    """

    side: str
    pose: Pose
    height: float
    grid: Grid
    before: np.ndarray
    tops: np.ndarray
    bottoms: np.ndarray
    targets: tuple[Target, ...]
    obstacles: tuple[Obstacle, ...]
    chips: np.ndarray
    body: Polygon | None = None
    member: Member | None = None
    face: str = ""
    poses: tuple[tuple[str, Pose], ...] = ()


# --- the member -----------------------------------------------------------------------------------------


def metal_intervals(section: Section, face: Face, s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Metal met going straight in from the face at each s: tops and bottoms, each (len(s), m) float32.

    Found by cutting the section's outline with the line at s, edge by edge; intervals are padded with AIR.
    """
    crossings: list[list[float]] = [[] for _ in s]
    for ring in (section.shape.exterior, *section.shape.interiors):
        d = np.asarray(ring.coords)[:, :2] - face.centre
        across, out = d @ face.across, d @ face.normal
        for a, b, na, nb in zip(across[:-1], across[1:], out[:-1], out[1:], strict=True):
            for row in np.flatnonzero((a <= s) != (b <= s)):
                crossings[row].append(na + (s[row] - a) / (b - a) * (nb - na))
    most = max((len(c) // 2 for c in crossings), default=1) or 1
    tops = np.full((len(s), most), AIR, dtype=np.float32)
    bottoms = tops.copy()
    for j, found in enumerate(crossings):
        found.sort(reverse=True)
        tops[j, : len(found) // 2], bottoms[j, : len(found) // 2] = found[0::2], found[1::2]
    return tops, bottoms


def _disc(x: float, s: float, diameter: float) -> Polygon:
    return Point(x, s).buffer(diameter / 2, quad_segs=ROUND)


def _hole_targets(hole: Hole) -> list[Target]:
    x, s = hole.at
    blind = hole.through == "blind"
    targets = [
        Target(
            hole.id,
            "hole",
            _disc(x, s, hole.diameter),
            hole.depth,
            through=not blind,
            edge_break=0.0 if hole.counterbore else hole.edge_break,
            circle=(x, s, hole.diameter),
            point=blind,
        )
    ]
    if hole.counterbore:
        diameter, depth = hole.counterbore
        targets.append(
            Target(
                hole.id,
                "counterbore",
                _disc(x, s, diameter),
                depth,
                through=False,
                edge_break=hole.edge_break,
                circle=(x, s, diameter),
            )
        )
    return targets


def member_targets(member: Member, face: str) -> tuple[Target, ...]:
    """Every feature of a face, as the member states it."""
    targets = [
        Target(p.id, "pocket", p.outline, p.depth, p.window, max(p.skin, 0.0), p.edge_break)
        for p in member.pockets
        if p.face == face
    ]
    for hole in member.holes:
        if hole.face == face:
            targets += _hole_targets(hole)
    targets += [
        Target(n.id, "notch", n.outline, n.depth, True, edge_break=n.edge_break)
        for n in member.notches
        if n.face == face
    ]
    return tuple(targets)


def _side_obstacles(setup: Setup, job: Job) -> tuple[Obstacle, ...]:
    found = [Obstacle(c.name, "clamp", c.footprint, c.top) for c in setup.clamps]
    top = setup.pad_top - setup.face_height
    for pad in setup.pads:
        x0, x1 = pad.x
        s0, s1 = pad.s
        a, b = pad.slot.get(setup.side, (s0, s0))
        found += [
            Obstacle(pad.name, "pad", box(x0, low, x1, high), top)
            for low, high in ((s0, a), (b, s1))
            if high > low
        ]
        if b > a:
            allowed = job.file.cutting.break_through + 0.1
            found.append(Obstacle(pad.name, "pad", box(x0, a, x1, b), top - pad.slot_depth, soft=allowed))
    return tuple(found)


def side_scene(
    member: Member, setup: Setup, job: Job, cell: float = CELL, setups: Sequence[Setup] = ()
) -> Scene:
    """The scene of one side of the member. setups: of all sides, where known."""
    face = member.section.face(setup.face)
    across = (np.asarray(member.section.shape.exterior.coords)[:, :2] - face.centre) @ face.across
    s0 = float(across.min())
    rows = max(1, math.ceil((float(across.max()) - s0) / cell))
    cols = max(1, math.floor(member.length / cell))
    s = s0 + (np.arange(rows) + 0.5) * cell
    tops, bottoms = metal_intervals(member.section, face, s)
    before = np.ascontiguousarray(np.broadcast_to(tops[:, :1], (rows, cols)))
    return Scene(
        side=setup.side,
        pose=setup.pose,
        height=setup.face_height,
        grid=Grid(0.0, s0, float(cell)),
        before=before,
        tops=tops,
        bottoms=bottoms,
        targets=member_targets(member, setup.face),
        obstacles=_side_obstacles(setup, job),
        chips=np.array([c.chip for c in job.cutters]),
        body=setup.body,
        member=member,
        face=setup.face,
        poses=tuple((s.face, s.pose) for s in setups),
    )


# --- the pads -------------------------------------------------------------------------------------------


def _slot_span(pad: Pad) -> tuple[float, float]:
    """From and to across of the slot once every side's has been cut."""
    spans = list(pad.slot.values())
    return min(a for a, _ in spans), max(b for _, b in spans)


def pad_targets(pads: tuple[Pad, ...]) -> tuple[Target, ...]:
    """Slots, insert holes and stop holes of the pads; slots run past both ends of their pad.

    Holes may go as deep as the sheet is thick, the bed left alone, and must go as deep as the slot, from where
    a hand drill follows them.
    """
    targets = []
    for pad in pads:
        if pad.slot:
            a, b = _slot_span(pad)
            outline = box(pad.x[0] - 5, a, pad.x[1] + 5, b)
            targets.append(Target(f"{pad.name}/slot", "slot", outline, pad.slot_depth, False))
        holes = [(f"{pad.name}/insert {i + 1}", at, pad.insert_diameter) for i, at in enumerate(pad.inserts)]
        if pad.stop is not None:
            holes.append((f"{pad.name}/stop", pad.stop, pad.stop_diameter))
        targets += [
            Target(
                name,
                "hole",
                _disc(*at, d),
                pad.thickness,
                False,
                circle=(*at, d),
                point=True,
                at_least=pad.slot_depth,
            )
            for name, at, d in holes
        ]
    return tuple(targets)


def pads_scene(placement: Placement, job: Job, cell: float = CELL) -> Scene:
    """The scene of the pads, blocks of sheet on the bed, in the axes of the first setup's pose."""
    setup = placement.setups[0]
    pads = setup.pads
    x0, x1 = min(p.x[0] for p in pads), max(p.x[1] for p in pads)
    s0, s1 = min(p.s[0] for p in pads), max(p.s[1] for p in pads)
    rows, cols = math.ceil((s1 - s0) / cell), math.ceil((x1 - x0) / cell)
    x, s = x0 + (np.arange(cols) + 0.5) * cell, s0 + (np.arange(rows) + 0.5) * cell
    before = np.full((rows, cols), AIR, dtype=np.float32)
    for pad in pads:
        inside = ((s > pad.s[0]) & (s < pad.s[1]))[:, None] & ((x > pad.x[0]) & (x < pad.x[1]))[None, :]
        before[inside] = 0.0
    thickness = max(p.thickness for p in pads)
    return Scene(
        side="pads",
        pose=setup.pose,
        height=setup.pad_top,
        grid=Grid(float(x0), float(s0), float(cell)),
        before=before,
        tops=np.zeros((rows, 1), dtype=np.float32),
        bottoms=np.full((rows, 1), -thickness, dtype=np.float32),
        targets=pad_targets(pads),
        obstacles=(),
        chips=np.array([SHEET_CHIP * c.diameter for c in job.cutters]),
    )
