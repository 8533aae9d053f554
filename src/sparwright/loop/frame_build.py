"""A frame as matrices: beams cut into elements, rigid links and holds eliminated exactly.

Every point (named nodes, then the points beams are cut at) has six motions in the machine's axes. Points tied by
rigid links follow one of them; what is held leaves only the motions that its directions allow. So full motions
are T q with q the free unknowns, and stiffness and mass are T' K T and T' M T.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy.sparse as sp

from sparwright.loop.elements import Stretch, element, own_flexibility, own_strains
from sparwright.loop.frame_parts import BeamLink, Frame, Mass, Spring, beam_axes, beam_stretches, check, holds


@dataclass(frozen=True)
class Piece:
    """One element: its stiffness and mass (12, 12) in the beam's axes, and its section's own figures (6, 6).

    own: from section forces on the node line to those about the section's own centroid and shear centre.
    flexibility: strains of those per force. x: where it starts and ends, mm of the beam's own x.
    """

    x: tuple[float, float]
    K: np.ndarray
    M: np.ndarray
    own: np.ndarray
    flexibility: np.ndarray


@dataclass(frozen=True)
class BuiltBeam:
    """A beam as pieces between points; turn (6, 6) takes motions from the machine's axes to the beam's."""

    name: str
    turn: np.ndarray
    points: tuple[int, ...]
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class BuiltSpring:
    """A spring: stretch = rows @ the motions of its points, stiffness (6, 6) in its own axes."""

    name: str
    points: tuple[int, ...]
    rows: np.ndarray
    stiffness: np.ndarray


@dataclass(frozen=True)
class Built:
    """A frame as matrices. index: of each named node among the points. T: (6 points, unknowns). K, M reduced.

    whole_M: (6 points, 6 points) mass before anything is tied or held; part_M: the same by mass name.
    """

    frame: Frame
    index: dict[str, int]
    places: np.ndarray
    beams: tuple[BuiltBeam, ...]
    springs: tuple[BuiltSpring, ...]
    T: sp.csr_array
    K: sp.csc_array
    M: sp.csc_array
    whole_M: sp.csr_array
    part_M: dict[str, tuple[int, np.ndarray]]


def build(frame: Frame) -> Built:
    """The frame's matrices. Raises FrameError where it hangs together badly."""
    check(frame)
    index = {n.name: i for i, n in enumerate(frame.nodes)}
    places = [np.asarray(n.at, dtype=float) for n in frame.nodes]
    beams = tuple(_beam(b, index, places) for b in frame.beams)
    springs = tuple(_spring(s, index, places) for s in frame.springs)
    lumped = {m.name: (index[m.node], _mass(m)) for m in frame.masses}
    size = 6 * len(places)
    K, M = _Sum(size), _Sum(size)
    for beam in beams:
        turn = both(beam.turn)
        pairs = np.array(list(itertools.pairwise(beam.points)))
        K.add(pairs, turn.T @ np.array([p.K for p in beam.pieces]) @ turn)
        M.add(pairs, turn.T @ np.array([p.M for p in beam.pieces]) @ turn)
    for spring in springs:
        K.add(np.array([spring.points]), (spring.rows.T @ spring.stiffness @ spring.rows)[None])
    for point, matrix in lumped.values():
        M.add(np.array([[point]]), matrix[None])
    T = _transform(frame, index, np.array(places))
    whole_K, whole_M = K.matrix(), M.matrix()
    return Built(
        frame,
        index,
        np.array(places),
        beams,
        springs,
        T,
        sp.csc_array(T.T @ whole_K @ T),
        sp.csc_array(T.T @ whole_M @ T),
        whole_M,
        lumped,
    )


def lever(reach: np.ndarray) -> np.ndarray:
    """(6, 6) motion of a point `reach` (3,) mm away on the same solid body."""
    x, y, z = reach
    out = np.eye(6)
    out[:3, 3:] = [[0, z, -y], [-z, 0, x], [y, -x, 0]]
    return out


def both(turn: np.ndarray) -> np.ndarray:
    """(6, 6) turn of shifts and of turns alike; of a (6, 6) the (12, 12) of two points."""
    half = len(turn)
    out = np.zeros((2 * half, 2 * half))
    out[:half, :half] = out[half:, half:] = turn
    return out


class _Sum:
    """A sparse matrix gathered block by block."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.rows: list[np.ndarray] = []
        self.columns: list[np.ndarray] = []
        self.values: list[np.ndarray] = []

    def add(self, points: np.ndarray, blocks: np.ndarray) -> None:
        """Blocks (n, 6 m, 6 m) between the six motions of points (n, m)."""
        at = (6 * points[:, :, None] + np.arange(6)).reshape(len(points), -1)
        self.rows.append(np.repeat(at, at.shape[1], axis=1).ravel())
        self.columns.append(np.tile(at, (1, at.shape[1])).ravel())
        self.values.append(blocks.ravel())

    def matrix(self) -> sp.csr_array:
        if not self.values:
            return sp.csr_array((self.size, self.size))
        values = np.concatenate(self.values)
        at = (np.concatenate(self.rows), np.concatenate(self.columns))
        return sp.csr_array(sp.coo_array((values, at), shape=(self.size, self.size)))


def _beam(beam: BeamLink, index: dict[str, int], places: list[np.ndarray]) -> BuiltBeam:
    """Cut a beam into pieces; the points it is cut at are added to `places`."""
    named = {name: places[i] for name, i in index.items()}
    turn, length = beam_axes(beam, named)
    stretches = beam_stretches(beam, length)
    axis = beam.axis if beam.axis is not None else stretches[0].properties.centroid
    first = stretches[0].start
    at = {first: index[beam.start], first + length: index[beam.end]}
    for name in beam.between:
        at[first + float((named[name] - named[beam.start]) @ turn[0])] = index[name]
    marks = _merged([*at, *(s.end for s in stretches[:-1])])
    x = [marks[0]]
    for a, b in itertools.pairwise(marks):
        count = max(1, round(beam.elements * (b - a) / length))
        x += [float(v) for v in np.linspace(a, b, count + 1)[1:]]
    points = []
    for place in x:
        known = min(at, key=lambda known, place=place: abs(known - place))  # type: ignore[misc]
        if abs(known - place) < 1e-6:
            points.append(at[known])
        else:
            points.append(len(places))
            places.append(named[beam.start] + (place - first) * turn[0])
    sections = [_section(s, axis) for s in stretches]
    pieces = []
    for a, b in itertools.pairwise(x):
        middle = (a + b) / 2
        which = next((i for i, s in enumerate(stretches) if middle < s.end), len(stretches) - 1)
        own, flexibility, whole, mass = sections[which]
        pieces.append(Piece((a, b), *_element(whole, mass, round(b - a, 9)), own, flexibility))
    return BuiltBeam(beam.name, both(turn), tuple(points), tuple(pieces))


def _merged(marks: list[float]) -> list[float]:
    """Marks in order, those closer than a thousandth of a millimetre taken as one; the first given stays."""
    kept: list[float] = []
    for mark in marks:
        if all(abs(mark - k) > 1e-3 for k in kept):
            kept.append(mark)
    return sorted(kept)


def _section(stretch: Stretch, axis: tuple[float, float]) -> tuple[np.ndarray, np.ndarray, bytes, bytes]:
    """A Piece's own and flexibility, and its flexibility and mass on the node line as an element wants them."""
    inverse = np.linalg.inv(own_strains(stretch.properties, axis))
    flexibility = own_flexibility(stretch.properties)
    mass = stretch.inertia.about(axis).astype(float)
    return inverse.T, flexibility, (inverse @ flexibility @ inverse.T).tobytes(), mass.tobytes()


@lru_cache(maxsize=2048)
def _element(flexibility: bytes, mass: bytes, length: float) -> tuple[np.ndarray, np.ndarray]:
    """Kept, because a machine is solved at many positions with the same members."""
    S, m = (np.frombuffer(b).reshape(6, 6) for b in (flexibility, mass))
    K, M = element(S, m, length)
    K.flags.writeable = M.flags.writeable = False
    return K, M


def _spring(spring: Spring, index: dict[str, int], places: list[np.ndarray]) -> BuiltSpring:
    ends = [index[spring.a]] + ([index[spring.b]] if spring.b is not None else [])
    at = places[ends[0]] if spring.at is None else np.asarray(spring.at, dtype=float)
    turn = both(np.asarray(spring.turn, dtype=float))
    rows = [sign * turn @ lever(at - places[i]) for sign, i in zip((-1.0, 1.0), ends, strict=False)]
    k = np.asarray(spring.stiffness, dtype=float)
    return BuiltSpring(
        spring.name, tuple(ends), np.hstack(rows), np.diag(k) if k.ndim == 1 else (k + k.T) / 2
    )


def _mass(mass: Mass) -> np.ndarray:
    """(6, 6) mass matrix at the node, tonne and mm."""
    own = np.zeros((6, 6))
    own[:3, :3] = mass.mass_kg * 1e-3 * np.eye(3)
    own[3:, 3:] = np.asarray(mass.inertia, dtype=float) * 1e-3
    reach = lever(np.asarray(mass.offset, dtype=float))
    return reach.T @ own @ reach


def _transform(frame: Frame, index: dict[str, int], places: np.ndarray) -> sp.csr_array:
    """T of the module's head: rigid bodies first found, then what each may still do."""
    named = len(index)
    leader = list(range(named))

    def find(i: int) -> int:
        while leader[i] != i:
            i = leader[i]
        return i

    for rigid in frame.rigids:
        a, b = find(index[rigid.a]), find(index[rigid.b])
        leader[max(a, b)] = min(a, b)
    rows: dict[int, list[np.ndarray]] = {}
    for hold in holds(frame):
        i = index[hold.node]
        own = both(np.asarray(hold.turn, dtype=float)) @ lever(places[i] - places[find(i)])
        rows.setdefault(find(i), []).append(own[np.asarray(hold.directions, dtype=bool)])
    size = max(1.0, float(np.ptp(places, axis=0).max()))
    free: dict[int, tuple[int, np.ndarray]] = {}
    unknowns = 0
    for i in range(named):
        if find(i) == i:
            allowed = _allowed(np.vstack(rows[i]), size) if i in rows else np.eye(6)
            free[i] = (unknowns, allowed)
            unknowns += allowed.shape[1]
    # Points that beams are cut at have no part but their own beam: their motions are unknowns as they stand.
    cut = 6 * (len(places) - named)
    data, at_row, at_column = [np.ones(cut)], [6 * named + np.arange(cut)], [unknowns + np.arange(cut)]
    for i in range(named):
        column, allowed = free[find(i)]
        block = allowed if find(i) == i else lever(places[i] - places[find(i)]) @ allowed
        data.append(block.ravel())
        at_row.append(np.repeat(6 * i + np.arange(6), block.shape[1]))
        at_column.append(np.tile(column + np.arange(block.shape[1]), 6))
    joined = (np.concatenate(data), (np.concatenate(at_row), np.concatenate(at_column)))
    return sp.csr_array(sp.coo_array(joined, shape=(6 * len(places), unknowns + cut)))


def _allowed(held: np.ndarray, size: float) -> np.ndarray:
    """(6, k) motions that the held rows leave, lengths and turns brought to one scale by the machine's size."""
    scale = np.array([size] * 3 + [1.0] * 3)
    scaled = held * scale
    scaled /= np.linalg.norm(scaled, axis=1, keepdims=True)
    _, values, vectors = np.linalg.svd(scaled)
    rank = int((values > 1e-9).sum())
    left = vectors[rank:].T * scale[:, None]
    return left / np.abs(left).max(axis=0) if left.size else left
