"""The walls of a section, found from its outline alone: flat runs, the nodes where they meet, and what is neither."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.polygon import orient

from sparwright.stock.model import Section

# Greatest angle between the two sides of a wall, radians; more is a taper and kept as a thick part.
PARALLEL = math.radians(1.0)
# Least length of a flat run over its thickness; shorter is a lump.
LEAST_ASPECT = 1.5
# Turn up to which two chords of like length may stand for one curve, radians, and how like they must be.
CURVE_TURN = math.radians(25.0)
ALIKE = 2.5
# Height of a curve over its chord up to which it is taken for a curve, over the section's chord and in mm.
CURVE_HEIGHT = (4.0, 0.1)
# Metal of a joint outside the walls that run into it, over the greatest thickness squared, from which it is thick.
THICK_JOINT = 0.5
# How close things must be to touch, mm.
TOUCH = 1e-3

Pair = tuple[float, float]


@dataclass(frozen=True)
class Wall:
    """A flat run of even thickness.

    face: the outer face it lies under, None for a web. start, end: (y, z) of the ends of the flat run's middle
    line. thickness mm. ends: indices of the nodes beyond start and end; they lie on the middle line's extension
    where the walls meet there have one common point.
    """

    name: str
    face: str | None
    start: Pair
    end: Pair
    thickness: float
    ends: tuple[int, int]

    @property
    def length(self) -> float:
        """Length of the flat run, mm."""
        return math.dist(self.start, self.end)

    @property
    def along(self) -> np.ndarray:
        """Unit vector from start to end, shape (2,)."""
        return (np.array(self.end) - np.array(self.start)) / self.length

    @property
    def rectangle(self) -> Polygon:
        """The flat run's metal in (y, z)."""
        return _band(np.array(self.start), np.array(self.end), self.thickness)


@dataclass(frozen=True)
class WallList:
    """What a section is made of.

    nodes: (y, z) where middle lines meet, or where a leg ends. thick: joints with more metal than the walls that
    run into them, screw ports, curved walls, and solid parts, as they are drawn; ordinary corners are not in it.
    """

    walls: tuple[Wall, ...]
    nodes: tuple[Pair, ...]
    thick: tuple[Polygon, ...]

    def at_node(self, index: int) -> tuple[Wall, ...]:
        """The walls that meet at a node."""
        return tuple(w for w in self.walls if index in w.ends)


def find_walls(section: Section) -> WallList:
    """Walls, nodes and thick parts of a section; any number of cells and open legs.

    A wall is a pair of parallel straight edges with nothing but metal between, at least 1.5 times as long as
    thick. Its length ends where either edge does. Edges that are chords of a curve make no walls.
    """
    edges = _edges(section)
    runs = _runs(edges)
    metal = shapely.union_all([r.quad.buffer(1e-6, join_style="mitre") for r in runs])
    rest = [p for p in shapely.get_parts(section.shape.difference(metal)) if p.area > TOUCH]
    touching = _touching(runs, rest)
    nodes: list[Pair] = []
    thick: list[Polygon] = []
    at: dict[tuple[int, int], int] = {}
    for piece, ends in zip(rest, touching, strict=True):
        node = _node(piece, [(runs[i], side) for i, side in ends])
        if node is None or _excess(piece, node, [runs[i] for i, _ in ends]):
            thick.append(orient(piece))
        if node is not None:
            for end in ends:
                at[end] = len(nodes)
            nodes.append(node)
    for i, run in enumerate(runs):
        for side in (0, 1):
            if (i, side) not in at:
                at[i, side] = len(nodes)
                nodes.append(_pair((run.start, run.end)[side]))
    names = _names(section, runs)
    walls = tuple(
        Wall(name, face, _pair(r.start), _pair(r.end), round(r.thickness, 6), (at[i, 0], at[i, 1]))
        for i, (r, (name, face)) in enumerate(zip(runs, names, strict=True))
    )
    return WallList(walls, tuple(nodes), tuple(thick))


# --- flat runs ------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Edges:
    """Edges of all rings, metal on the left: ends (k, 2), and which are straight runs of their own (k,)."""

    start: np.ndarray
    end: np.ndarray
    straight: np.ndarray


@dataclass(frozen=True)
class _Run:
    start: np.ndarray
    end: np.ndarray
    thickness: float
    quad: Polygon


def _edges(section: Section) -> _Edges:
    starts, ends, straight = [], [], []
    height = max(CURVE_HEIGHT[0] * section.chord, CURVE_HEIGHT[1])
    shape = orient(section.shape)
    for ring in (shape.exterior, *shape.interiors):
        points = _corners(shapely.get_coordinates(ring)[:-1])
        after = np.roll(points, -1, axis=0)
        length = np.linalg.norm(after - points, axis=1)
        heading = np.arctan2(*(after - points).T[::-1])
        turn = np.abs((np.roll(heading, -1) - heading + math.pi) % (2 * math.pi) - math.pi)
        following = np.roll(length, -1)
        alike = np.maximum(length, following) < ALIKE * np.minimum(length, following)
        flat = np.maximum(length, following) * np.tan(turn / 4) / 2 < height
        curve = (turn < CURVE_TURN) & alike & flat
        starts.append(points)
        ends.append(after)
        straight.append(~(curve | np.roll(curve, 1)))
    return _Edges(np.vstack(starts), np.vstack(ends), np.concatenate(straight))


def _corners(points: np.ndarray) -> np.ndarray:
    """The ring without doubled points and points on a straight line."""
    points = points[np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) > 1e-7]
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    across = np.abs(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0])
    along = np.linalg.norm(before, axis=1) + np.linalg.norm(after, axis=1)
    return points[across > 1e-7 * along]


def _runs(edges: _Edges) -> list[_Run]:
    """Flat runs, each from the first of its two edges, in the order of the outline."""
    runs = []
    for i in np.flatnonzero(edges.straight):
        origin = edges.start[i]
        length = float(np.linalg.norm(edges.end[i] - origin))
        along = (edges.end[i] - origin) / length
        frame = np.column_stack([along, [-along[1], along[0]]])
        a, b = (edges.start - origin) @ frame, (edges.end - origin) @ frame
        for j, low, high in _opposite(a, b, int(i), length):
            slope = (b[j, 1] - a[j, 1]) / (b[j, 0] - a[j, 0])
            if j < i or not edges.straight[j] or b[j, 0] > a[j, 0] or abs(slope) > math.tan(PARALLEL):
                continue
            n_low, n_high = (a[j, 1] + slope * (s - a[j, 0]) for s in (low, high))
            thickness = (n_low + n_high) / 2
            if high - low < LEAST_ASPECT * thickness:
                continue
            local = np.array([[low, 0], [high, 0], [high, n_high], [low, n_low]])
            corners = local @ frame.T + origin
            runs.append(
                _Run(
                    (corners[0] + corners[3]) / 2,
                    (corners[1] + corners[2]) / 2,
                    float(thickness),
                    Polygon(corners),
                )
            )
    return runs


def _opposite(a: np.ndarray, b: np.ndarray, own: int, length: float) -> list[tuple[int, float, float]]:
    """What is met first across the metal from an edge lying on 0..length: (edge, from, to), neighbours joined."""
    stations = np.concatenate([[0.0, length], a[:, 0][(a[:, 0] > 1e-7) & (a[:, 0] < length - 1e-7)]])
    stations = np.unique(np.round(stations, 7))
    met: list[tuple[int, float, float]] = []
    for low, high in pairwise(stations):
        s = (low + high) / 2
        hit = (np.minimum(a[:, 0], b[:, 0]) < s) & (np.maximum(a[:, 0], b[:, 0]) > s)
        hit[own] = False
        index = np.flatnonzero(hit)
        n = a[index, 1] + (s - a[index, 0]) / (b[index, 0] - a[index, 0]) * (b[index, 1] - a[index, 1])
        index, n = index[n > 1e-9], n[n > 1e-9]
        if not len(index):
            continue
        first = int(index[np.argmin(n)])
        if met and met[-1][0] == first and met[-1][2] == low:
            met[-1] = (first, met[-1][1], float(high))
        else:
            met.append((first, float(low), float(high)))
    return met


# --- nodes ----------------------------------------------------------------------------------------------


def _touching(runs: list[_Run], rest: list[Polygon]) -> list[list[tuple[int, int]]]:
    """For every piece between the runs, the run ends (run, 0 start or 1 end) it touches."""
    found: list[list[tuple[int, int]]] = [[] for _ in rest]
    for i, run in enumerate(runs):
        for side, point in enumerate((run.start, run.end)):
            along = (run.end - run.start) / np.linalg.norm(run.end - run.start)
            cap = 0.4 * run.thickness * np.array([-along[1], along[0]])
            line = LineString([point - cap, point + cap])
            near = [k for k, piece in enumerate(rest) if piece.distance(line) < TOUCH]
            if near:
                best = max(near, key=lambda k: rest[k].intersection(line.buffer(10 * TOUCH)).area)
                found[best].append((i, side))
    return found


def _node(piece: Polygon, ends: list[tuple[_Run, int]]) -> Pair | None:
    """Where the middle lines that run into a piece meet; for a single leg its far end; None without walls."""
    if not ends:
        return None
    points = np.array([(run.start, run.end)[side] for run, side in ends])
    along = np.array([(run.end - run.start) / np.linalg.norm(run.end - run.start) for run, _ in ends])
    outward = along * np.array([[-1.0, 1.0][side] for _, side in ends])[:, None]
    if len(ends) == 1:
        reach = (shapely.get_coordinates(piece) - points[0]) @ outward[0]
        return _pair(points[0] + outward[0] * max(float(reach.max()), 0.0))
    # Least squares of the distances to the lines; the direction they leave free is settled by the piece's middle.
    across = np.column_stack([-along[:, 1], along[:, 0]])
    middle = np.array([piece.centroid.x, piece.centroid.y])
    shift = np.linalg.pinv(across, rcond=0.05) @ np.sum(across * (points - middle), axis=1)
    return _pair(middle + shift)


def _excess(piece: Polygon, node: Pair, runs: list[_Run]) -> bool:
    """Whether a joint holds clearly more metal than the walls drawn through to its node, or lies off them."""
    thickest = max(r.thickness for r in runs)
    bands = []
    for run in runs:
        ends = (run.start, run.end)
        near = min(ends, key=lambda p: math.dist(p, node))
        far = ends[0] if near is ends[1] else ends[1]
        toward = (near - far) / np.linalg.norm(near - far)
        length = max(float((np.array(node) - near) @ toward), 0.0) + thickest / 2
        bands.append(_band(near - toward * TOUCH, near + toward * length, run.thickness))
    return bool(piece.difference(shapely.union_all(bands)).area > THICK_JOINT * thickest**2)


# --- names ----------------------------------------------------------------------------------------------


def _names(section: Section, runs: list[_Run]) -> list[tuple[str, str | None]]:
    """Name and face of every run: the face's name, with a letter where it has several; webs are numbered."""
    faces = [_face(section, run) for run in runs]
    names: list[tuple[str, str | None]] = [("", None)] * len(runs)
    for name in dict.fromkeys(faces):
        members = [i for i, f in enumerate(faces) if f == name]
        for k, i in enumerate(members):
            if name is None:
                names[i] = ("web" if len(members) == 1 else f"web {k + 1}", None)
            else:
                names[i] = (name if len(members) == 1 else f"{name} {chr(97 + k)}", name)
    return names


def _face(section: Section, run: _Run) -> str | None:
    """The first face one of whose points lies on the run's surface, seen from outside."""
    middle = (run.start + run.end) / 2
    for face in section.faces:
        depth = float((np.array(face.centre) - middle) @ face.normal)
        side = (run.end - run.start) / np.linalg.norm(run.end - run.start)
        level = abs(float(side @ face.normal)) < math.sin(2 * PARALLEL)
        s = [float((p - np.array(face.centre)) @ face.across) for p in (run.start, run.end)]
        shared = min(max(s), face.width / 2) - max(min(s), -face.width / 2)
        if level and abs(depth - run.thickness / 2) < 0.05 + TOUCH and shared > TOUCH:
            return face.name
    return None


def _band(a: np.ndarray, b: np.ndarray, thickness: float) -> Polygon:
    along = (b - a) / np.linalg.norm(b - a)
    off = thickness / 2 * np.array([-along[1], along[0]])
    return Polygon([a - off, b - off, b + off, a + off])


def _pair(p: np.ndarray) -> Pair:
    y, z = np.round(p, 9) + 0.0
    return (float(y), float(z))
