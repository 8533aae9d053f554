"""The order of the passes: where metal still stands beside the path, a march starts there, until none does."""

from __future__ import annotations

import numpy as np

from sparwright.cutting import grid as grids
from sparwright.cutting.clearing_entry import STEP, ClearingError, Entry
from sparwright.cutting.march import Grid, Rules, backed_up, close_starts, march, way_is_clear

MARGIN = 0.985
"""The march aims at this share of the target."""
GENTLE = 0.6
"""Share of that a march keeps, where it can, when it got stuck before."""
MUCH = 40
"""A march that got stuck is no failure once it removed this many times the least area."""
BACK = 0.005
"""A place this near the wall, in radii, touches it."""
FILM = 0.03
"""Where part is cleared already, metal thinner than this (mm) on its borders is left to the finishing cut."""


def march_rules(radius: float, engagement: float, film: float) -> Rules:
    """What the march keeps for a cutter and an engaged angle; metal thinner than film mm does not count as cutting."""
    step = STEP * radius
    depth = radius * (1 - np.cos(engagement))
    thin = max(0.02 * depth, film)
    return Rules(
        radius=radius,
        target=MARGIN * engagement,
        most=MARGIN * engagement,
        least=float(np.arccos(1 - thin / radius)),
        step=step,
        right=step / (0.8 * radius),
        left=step / (0.14 * radius),
        air=0.5 * radius,
        approach=3.0 * radius,
    )


class _Places:
    """All places the centre has been, with the run of each and whether metal still stands just right of it."""

    def __init__(self, runs: list[np.ndarray]) -> None:
        self.xyh = np.empty((0, 3))
        self.run = np.empty(0, dtype=np.int64)
        self.active = np.empty(0, dtype=bool)
        self.runs = 0
        for run in runs:
            self.add(run)

    def add(self, run: np.ndarray) -> None:
        self.xyh = np.concatenate([self.xyh, run])
        self.run = np.concatenate([self.run, np.full(len(run), self.runs)])
        self.active = np.concatenate([self.active, np.ones(len(run), dtype=bool)])
        self.runs += 1

    def open_stretches(self) -> np.ndarray:
        """First and last index of each stretch of neighbouring active places, (n, 2)."""
        edge = np.concatenate([[True], self.run[1:] != self.run[:-1]])
        before = np.concatenate([[False], self.active[:-1]])
        first = np.flatnonzero(self.active & (edge | ~before))
        after = np.concatenate([self.active[1:], [False]])
        end = np.concatenate([edge[1:], [True]])
        last = np.flatnonzero(self.active & (end | ~after))
        return np.column_stack([first, last])


def all_passes(
    metal: Grid, room: grids.Room, rules: Rules, entry: Entry, bound: float, depth: float
) -> tuple[list[np.ndarray], list[str]]:
    """All passes: rows (x, y, heading, angle) of each, and the link to each, "clear" or "up".

    Raises ClearingError after a number of passes that no sound path needs.
    """
    places = _Places(entry.runs)
    probes = [0.2 * depth, 0.04 * depth]
    probe = probes.pop(0)
    here = places.xyh[0, :2]
    passes: list[np.ndarray] = []
    links: list[str] = []
    limit = 100 + int(6 * bound / rules.radius)
    out = np.empty((max(1000, int(3 * bound / rules.step)), 4))
    for _ in range(limit):
        close_starts(metal, room.grid, places.xyh, places.active, rules.radius, probe)
        stretches = places.open_stretches()
        if not len(stretches):
            if not probes:
                return passes, links
            probe = probes.pop(0)
            places.active[:] = True
            continue
        first, last = _next_start(metal, room, places, stretches, here, rules)
        before = metal.values.copy()
        n, cut0, cut1 = _attempt(metal, room, rules, places, first, out)
        if n == 0:
            places.active[first : min(first + 5, last + 1)] = False
            continue
        places.add(out[:n, :3].copy())
        kept = out[max(cut0 - 3, 0) : min(cut1 + 2, n)].copy()
        earlier = metal._replace(values=before)
        clear = not passes and entry.kind == "outside"
        clear = clear or way_is_clear(earlier, room.grid, *here, *kept[0, :2], rules.radius)
        if not clear and way_is_clear(earlier, room.grid, *here, *out[0, :2], rules.radius):
            kept, clear = out[: min(cut1 + 2, n)].copy(), True
        links.append("clear" if clear else "up")
        passes.append(kept)
        here = kept[-1, :2]
    raise ClearingError(f"clearing did not end within {limit} passes; take another cutter or radial depth")


def _attempt(
    metal: Grid, room: grids.Room, rules: Rules, places: _Places, first: int, out: np.ndarray
) -> tuple[int, int, int]:
    """One march for the stretch from `first`: rows used, first and last row that cut; (0, 0, 0) if none is of use.

    A start further back along the wall is preferred if it gets anywhere. Where the march gets stuck early, a gentler
    approach is taken if it removes much more.
    """
    before = metal.values.copy()
    least = 0.02 * rules.radius**2 * (1 - np.cos(rules.most))
    gentle = rules._replace(target=GENTLE * rules.most)
    touch = places.xyh[_start(room, places, first, rules)]

    def run(start: np.ndarray, way: Rules) -> tuple[int, int, int, float, bool]:
        metal.values[:] = before
        return march(metal, room.grid, room.edges, way, start, out)

    for start in _from_along(metal, room, rules, touch):
        for way in (rules, gentle):
            n, cut0, cut1, area, stuck = run(start, way)
            if area > (MUCH if stuck else 1) * least:
                return n, cut0, cut1
    for start in (touch, places.xyh[first]):
        n, cut0, cut1, area, stuck = run(start, rules)
        if stuck and area < MUCH * least:
            found = run(start, gentle)
            if found[3] > max(3 * area, least):
                return found[:3]
            n, cut0, cut1, area, stuck = run(start, rules)
        if area > least:
            return n, cut0, cut1
    metal.values[:] = before
    return 0, 0, 0


def _from_along(metal: Grid, room: grids.Room, rules: Rules, start: np.ndarray) -> list[np.ndarray]:
    """A start a radius back along the wall, for one at the wall that does not head along it."""
    found = grids.back_along_wall(room, start[:2], rules.radius)
    if found is None or abs(np.mod(found[2] - start[2] + np.pi, 2 * np.pi) - np.pi) < 0.3:
        return []
    return [found[3:]] if way_is_clear(metal, room.grid, *start[:2], *found[3:5], rules.radius) else []


def _next_start(
    metal: Grid, room: grids.Room, places: _Places, stretches: np.ndarray, here: np.ndarray, rules: Rules
) -> tuple[int, int]:
    """The open stretch whose start is nearest to here, straight ways first."""
    starts = np.array([_start(room, places, int(a), rules) for a in stretches[:, 0]])
    gap = np.hypot(*(places.xyh[starts, :2] - here).T)
    order = np.argsort(gap, kind="stable")
    for k in order[:12]:
        if way_is_clear(metal, room.grid, *here, *places.xyh[starts[k], :2], rules.radius):
            return int(stretches[k, 0]), int(stretches[k, 1])
    return int(stretches[order[0], 0]), int(stretches[order[0], 1])


def _start(room: grids.Room, places: _Places, first: int, rules: Rules) -> int:
    """The place from which a pass for the stretch from `first` starts: back along its run to the wall."""
    step = rules.step / rules.radius
    near = BACK * rules.radius
    return int(backed_up(room.grid, places.xyh, places.run, first, int(1.5 / step), int(0.3 / step), near))
