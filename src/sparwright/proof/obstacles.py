"""Clamps, pads and the bed: no part of cutter, shank or holder may run into them, at feed or at rapid."""

from __future__ import annotations

import numpy as np
import shapely

from sparwright.answers import Verdict
from sparwright.proof.case import Case, blame_moves, passed
from sparwright.proof.extents import BLOCK
from sparwright.proof.kernels import ARC, Sweeps
from sparwright.proof.model import ProofFinding
from sparwright.proof.scene import Obstacle

KEEP = 1.0  # height wanted between a passing cutter and a clamp, mm: common practice, no source
ARC_PARTS = 16  # points that stand for an arc when it is held against an outline


def _stack(case: Case) -> tuple[tuple[str, np.ndarray, np.ndarray], ...]:
    """Parts of the cutters: name, height of its lower end over the tip, radius; arrays over the cutters."""
    tools = case.tools
    return (
        ("cutter", np.zeros_like(tools.radius), tools.radius),
        ("shank", tools.flute, tools.shank),
        ("holder", tools.stick, tools.holder),
    )


def _track(case: Case, k: int, ceiling: float) -> shapely.Geometry | None:
    """The cutter axis' track over the face in sweep k, as far as its tip is below `ceiling`."""
    sweeps = case.sweeps
    a, b = sweeps.start[k], sweeps.end[k]
    if sweeps.kind[k] == ARC:
        angle = sweeps.turn[k] * np.linspace(0, 1, ARC_PARTS + 1)
        d, centre = a[:2] - sweeps.centre[k], sweeps.centre[k]
        x = centre[0] + d[0] * np.cos(angle) - d[1] * np.sin(angle)
        s = centre[1] + d[0] * np.sin(angle) + d[1] * np.cos(angle)
        points = np.column_stack([x, s, np.linspace(a[2], b[2], ARC_PARTS + 1)])
        points = points[points[:, 2] < ceiling]
    else:
        if a[2] != b[2]:
            share = (ceiling - a[2]) / (b[2] - a[2])
            if a[2] > ceiling:
                a = a + (b - a) * share
            elif b[2] > ceiling:
                b = a + (b - a) * share
        points = np.array([a, b])
    if len(points) == 0:
        return None
    flat = points[:, :2]
    if (np.abs(flat - flat[0]) < 1e-9).all():
        return shapely.Point(flat[0])
    return shapely.LineString(flat)


def _boxes(sweeps: Sweeps, k: slice) -> tuple[np.ndarray, np.ndarray]:
    """Boxes that hold the cutter axis of some sweeps, (m, 3) each; generous for arcs."""
    start, end = sweeps.start[k], sweeps.end[k]
    arc = np.flatnonzero(sweeps.kind[k] == ARC)
    pad = np.zeros((len(start), 3))
    pad[arc, :2] = 2 * np.linalg.norm(start[arc, :2] - sweeps.centre[k][arc], axis=1)[:, None]
    return np.minimum(start, end) - pad, np.maximum(start, end) + pad


def _passing(
    obstacle: Obstacle, boxes: tuple[np.ndarray, np.ndarray], lift: np.ndarray, radius: np.ndarray
) -> np.ndarray:
    """Which of the boxes of sweeps come low and near enough to be looked at closely; lift, radius: (m,)."""
    x0, s0, x1, s1 = obstacle.outline.bounds
    low, high = boxes
    return np.flatnonzero(
        (low[:, 2] + lift < obstacle.top + _keep(obstacle))
        & (low[:, 0] - radius < x1)
        & (high[:, 0] + radius > x0)
        & (low[:, 1] - radius < s1)
        & (high[:, 1] + radius > s0)
    )


def _keep(obstacle: Obstacle) -> float:
    """Height wanted over an obstacle, mm."""
    return KEEP if obstacle.kind == "clamp" else 0.0


def _near(case: Case) -> list[list[np.ndarray]]:
    """The sweeps to be looked at closely, of each obstacle by part of the cutter, sought some sweeps at a time."""
    tools, obstacles = _stack(case), case.scene.obstacles
    found: list[list[list[np.ndarray]]] = [[[] for _ in tools] for _ in obstacles]
    for first in range(0, len(case.sweeps.kind), BLOCK):
        k = slice(first, first + BLOCK)
        boxes, tool = _boxes(case.sweeps, k), case.sweeps.tool[k]
        for p, (_, lift, radius) in enumerate(tools):
            lifts, radii = lift[tool], radius[tool]
            for o, obstacle in enumerate(obstacles):
                found[o][p].append(first + _passing(obstacle, boxes, lifts, radii))
    none = [np.empty(0, dtype=np.int64)]
    return [[np.concatenate(none + blocks) for blocks in parts] for parts in found]


def _depths(case: Case, obstacle: Obstacle, near: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """How far each motion's cutter comes below the top of an obstacle (at most -KEEP where it does not), and by
    which part of it, an index into the stack; near: sweeps by part.
    """
    depth = np.full(len(case.moves.line), -np.inf)
    part = np.zeros(len(depth), dtype=np.int8)
    for p, (_, lift, radius) in enumerate(_stack(case)):
        for k in near[p]:
            t = case.sweeps.tool[k]
            track = _track(case, int(k), obstacle.top + _keep(obstacle) - lift[t])
            if track is None or shapely.distance(track, obstacle.outline) >= radius[t]:
                continue
            low = min(case.sweeps.start[k, 2], case.sweeps.end[k, 2])
            move, into = case.move_of[k], obstacle.top - low - lift[t]
            if into > depth[move]:
                depth[move], part[move] = into, p
    return depth, part


def _judge(case: Case, obstacle: Obstacle, near: list[np.ndarray]) -> list[ProofFinding]:
    if not any(map(len, near)):
        return []
    keep = _keep(obstacle)
    depth, part = _depths(case, obstacle, near)
    names = [name for name, _, _ in _stack(case)]
    thing = f"{obstacle.kind} {obstacle.name}"

    def hit(k: int) -> str:
        how = "at rapid" if case.moves.rapid[k] else "at feed"
        return (
            f"the {names[part[k]]} runs {depth[k]:.2f} mm deep into {thing} {how}. Lift the move over it, or move the "
            f"{obstacle.kind}"
        )

    def close(k: int) -> str:
        if depth[k] <= 0:
            return f"passes only {-depth[k]:.2f} mm over {thing}"
        return f"cuts {depth[k]:.2f} mm into {thing}, as break-through does"

    bad = np.flatnonzero(depth > obstacle.soft + 1e-3)
    verdict, message = Verdict.NO_GO, hit
    if len(bad) == 0:
        bad = np.flatnonzero(depth > (-keep if keep else 1e-3))
        verdict, message = Verdict.CAUTION, close
    return blame_moves(
        case, obstacle.kind, bad, verdict, message, value=depth, limit=obstacle.soft, unit="mm"
    )


def check_obstacles(case: Case) -> list[ProofFinding]:
    """Cutter, shank and holder against clamps and pads, and the cutter's tip against the bed."""
    found = zip(case.scene.obstacles, _near(case), strict=True)
    findings = [f for obstacle, near in found for f in _judge(case, obstacle, near)]
    findings += _check_bed(case)
    if findings:
        return findings
    kinds = " and ".join(sorted({o.kind + "s" for o in case.scene.obstacles} | {"the bed"}))
    return [passed("obstacles", f"cutters, shanks and holders stay clear of {kinds}")]


def _check_bed(case: Case) -> list[ProofFinding]:
    low = case.extents.along(2)[0] + case.scene.height
    return blame_moves(
        case,
        "bed",
        np.flatnonzero(low < -1e-3),
        Verdict.NO_GO,
        lambda k: f"goes {-low[k]:.2f} mm into the bed. Cut no deeper than Z{-case.scene.height:.2f}",
        value=-low,
        limit=0.0,
        unit="mm",
    )
