"""The order of cuts and of pieces within a cut: few changes of cutter, short ways, stress let out evenly."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from itertools import count

import numpy as np
from numba import njit

# What a cut waits for: every cut of these names on the side is done first. Names in the order cuts are liked.
WAITS: Mapping[str, tuple[str, ...]] = {
    "spot holes": (),
    "drill holes": ("spot holes",),
    "bore holes": (),
    "counterbore holes": ("drill holes", "bore holes"),
    "clear pockets": (),
    "finish floors": ("clear pockets",),
    "clear corners": ("clear pockets", "finish floors"),
    "finish walls": ("clear pockets", "finish floors", "clear corners"),
    "clear notches": ("finish walls",),
    "finish notches": ("clear notches",),
    "break edges": ("drill holes", "bore holes", "counterbore holes", "finish walls", "finish notches"),
}
RANK = {name: i for i, name in enumerate(WAITS)}
ZONE = 120.0  # mm along the member cut on one side of the middle before the other side's turn
Cutting = tuple[str, int]


def schedule(cuts: Sequence[Cutting]) -> tuple[Cutting, ...]:
    """Cuts (name, cutter number) in an order that keeps WAITS with the fewest changes of cutter.

    Among those, liked names come as early as they can. Dijkstra's search over what is done.
    """
    wanted = frozenset(cuts)
    tie = count()
    queue: list[tuple[tuple[int, int], int, frozenset[Cutting], tuple[Cutting, ...]]] = [
        ((0, 0), next(tie), frozenset(), ())
    ]
    seen: set[frozenset[Cutting]] = set()
    while queue:
        (blocks, late), _, done, made = heapq.heappop(queue)
        if done == wanted:
            return made
        if done in seen:
            continue
        seen.add(done)
        for cutter in sorted({c for _, c in wanted - done}):
            run = _run(wanted, done, cutter)
            if run:
                cost = late + blocks * sum(len(RANK) - RANK[name] for name, _ in run)
                heapq.heappush(queue, ((blocks + 1, cost), next(tie), done | set(run), (*made, *run)))
    raise AssertionError("WAITS has a circle")


def _run(wanted: frozenset[Cutting], done: frozenset[Cutting], cutter: int) -> list[Cutting]:
    """Every cut this cutter can make one after the other from here, liked ones first."""
    run: list[Cutting] = []
    names = sorted((name for name, c in wanted - done if c == cutter), key=lambda n: RANK[n])
    for name in names:
        left = {n for n, _ in wanted - done - set(run)}
        if not left & set(WAITS[name]):
            run.append((name, cutter))
    return run


def tour(points: np.ndarray) -> np.ndarray:
    """Order of places (k, 2) along a short open way from the one of least x: nearest neighbour, then 2-opt, (k,)."""
    if len(points) < 3:
        return np.argsort(points[:, 0], kind="stable")
    order = _nearest(np.ascontiguousarray(points, dtype=float), int(np.argmin(points[:, 0])))
    _two_opt(np.ascontiguousarray(points, dtype=float), order)
    return order


def middle_out(points: np.ndarray, middle: float) -> np.ndarray:
    """Order of places (k, 2) by zones of ZONE mm from the middle outward, right and left in turn, (k,).

    Within a zone a short way; so the stress that clearing lets free bends the member evenly.
    """
    side = points[:, 0] >= middle
    zone = np.floor(np.abs(points[:, 0] - middle) / ZONE).astype(int)
    out: list[np.ndarray] = []
    for z in np.unique(zone):
        for right in (True, False):
            there = np.flatnonzero((zone == z) & (side == right))
            if len(there):
                way = there[tour(points[there])]
                out.append(way if right else way[::-1])
    return np.concatenate(out) if out else np.zeros(0, dtype=int)


def way_length(points: np.ndarray, order: np.ndarray) -> float:
    """Length of the open way through places (k, 2) in that order, mm."""
    p = points[order]
    return float(np.hypot(*np.diff(p, axis=0).T).sum())


@njit(cache=True)
def _nearest(points: np.ndarray, first: int) -> np.ndarray:
    n = len(points)
    order = np.empty(n, np.int64)
    free = np.ones(n, np.bool_)
    here = first
    for k in range(n):
        order[k] = here
        free[here] = False
        best, gap = -1, np.inf
        for j in range(n):
            if free[j]:
                d = np.hypot(points[j, 0] - points[here, 0], points[j, 1] - points[here, 1])
                if d < gap:
                    best, gap = j, d
        here = best
    return order


@njit(cache=True)
def _gap(points: np.ndarray, a: int, b: int) -> float:
    return np.hypot(points[a, 0] - points[b, 0], points[a, 1] - points[b, 1])


@njit(cache=True)
def _two_opt(points: np.ndarray, order: np.ndarray) -> None:
    """Reverse stretches of the order, in place, while that shortens the open way; the first place stays."""
    n = len(order)
    for _ in range(50):
        better = False
        for i in range(n - 2):
            for j in range(i + 2, n):
                now = _gap(points, order[i], order[i + 1])
                then = _gap(points, order[i], order[j])
                if j + 1 < n:
                    now += _gap(points, order[j], order[j + 1])
                    then += _gap(points, order[i + 1], order[j + 1])
                if then < now - 1e-9:
                    order[i + 1 : j + 1] = order[i + 1 : j + 1][::-1].copy()
                    better = True
        if not better:
            return
