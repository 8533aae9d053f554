"""What a machine is made of for its stiffness: nodes, beams, springs, rigid links, masses, and what is held.

All in one frame of the machine, right-handed: mm, N, N mm, radians, kg. A motion is (x, y, z, turn about x,
turn about y, turn about z), and a load is (Fx, Fy, Fz, Mx, My, Mz).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from sparwright.answers import BadInput
from sparwright.loop.elements import Stretch
from sparwright.loop.inertia import Inertia
from sparwright.stiffness.model import BeamProperties

Vector = tuple[float, float, float]
Matrix = tuple[Vector, Vector, Vector]

AXES: Matrix = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
ALL_SIX = (True,) * 6
# Elements of a beam where nothing is said: first bending mode within 0.02 %, third within 0.5 % (tested).
ELEMENTS = 8
# How far nodes may miss the place a beam gives them, mm.
MISS = 1e-3
# The shortest beam, mm: of one as short as that miss no piece could be made.
LEAST = 10 * MISS


class FrameError(BadInput):
    """A machine that hangs together badly; the message names the part, what is wrong and what to do."""


@dataclass(frozen=True)
class Node:
    """A point of the machine at (x, y, z) mm."""

    name: str
    at: Vector


@dataclass(frozen=True)
class BeamLink:
    """A straight beam from node `start` to node `end`.

    up: direction of the section's z; the part of it square to the beam counts. x runs from start to end.
    stretches: of the member, in order along its x, the first at `start`; or else `properties` and `inertia` of a
    uniform beam (without inertia it weighs nothing).
    axis: (y, z) in the section's frame of the line the nodes lie on, mm; where not given, the centroid of the
    first stretch. between: further nodes on that line. elements: least number the beam is cut into.
    """

    name: str
    start: str
    end: str
    up: Vector = (0.0, 0.0, 1.0)
    stretches: tuple[Stretch, ...] | None = None
    properties: BeamProperties | None = None
    inertia: Inertia | None = None
    axis: tuple[float, float] | None = None
    between: tuple[str, ...] = ()
    elements: int = ELEMENTS


@dataclass(frozen=True)
class Spring:
    """A spring between nodes a and b, or from a to the ground where b is None.

    turn: its three axes as rows. stiffness: six along and about them, N/mm and N mm/rad, 0 where it is free, or
    a symmetric 6 x 6. at: the point where it acts, mm; node a's where not given.
    """

    name: str
    a: str
    b: str | None
    stiffness: tuple[float, ...] | tuple[tuple[float, ...], ...]
    turn: Matrix = AXES
    at: Vector | None = None


@dataclass(frozen=True)
class Rigid:
    """Nodes a and b move as one solid body."""

    name: str
    a: str
    b: str


@dataclass(frozen=True)
class Mass:
    """A lumped mass: kg, its centre `offset` mm from the node, inertia about its own centre kg mm² (3 x 3)."""

    name: str
    node: str
    mass_kg: float
    offset: Vector = (0.0, 0.0, 0.0)
    inertia: Matrix = ((0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Hold:
    """A node held in some of its six directions, along the rows of `turn`; all six make it clamped."""

    node: str
    directions: tuple[bool, ...] = ALL_SIX
    turn: Matrix = AXES


@dataclass(frozen=True)
class Frame:
    """A machine. held: names of clamped nodes, or Holds for nodes held in some directions only.

    Beams, springs, rigid links and masses have names of their own, no two alike.
    """

    nodes: tuple[Node, ...]
    beams: tuple[BeamLink, ...] = ()
    springs: tuple[Spring, ...] = ()
    rigids: tuple[Rigid, ...] = ()
    masses: tuple[Mass, ...] = ()
    held: tuple[str | Hold, ...] = ()


def holds(frame: Frame) -> tuple[Hold, ...]:
    """What is held, clamped nodes as Holds of all six directions."""
    return tuple(Hold(h) if isinstance(h, str) else h for h in frame.held)


def beam_stretches(beam: BeamLink, length: float) -> tuple[Stretch, ...]:
    """The beam's stretches; a uniform one of the given length as a single stretch from 0."""
    if beam.stretches is not None:
        return beam.stretches
    assert beam.properties is not None
    return (Stretch(0.0, length, beam.properties, beam.inertia or Inertia(0.0, (0.0, 0.0), (0.0, 0.0, 0.0))),)


def beam_axes(beam: BeamLink, places: dict[str, np.ndarray]) -> tuple[np.ndarray, float]:
    """The beam's own x, y, z as rows (3, 3), and its length in mm."""
    along = places[beam.end] - places[beam.start]
    length = float(np.linalg.norm(along))
    x = along / length
    z = np.asarray(beam.up, dtype=float)
    z = z - (z @ x) * x
    z /= np.linalg.norm(z)
    return np.array([x, np.cross(z, x), z]), length


def check(frame: Frame) -> None:
    """Raises FrameError for the first fault of a frame."""
    names = [n.name for n in frame.nodes]
    _unique(names, "node")
    parts = [b.name for b in frame.beams] + [s.name for s in frame.springs]
    parts += [r.name for r in frame.rigids] + [m.name for m in frame.masses]
    _unique(parts, "part")
    for what, node in _mentions(frame):
        if node not in names:
            raise FrameError(
                f'{what} leads to node "{node}", which is not there; nodes: {", ".join(names) or "none"}. '
                "Name one of these, or add the node"
            )
    places = {n.name: np.asarray(n.at, dtype=float) for n in frame.nodes}
    for name, at in places.items():
        if at.shape != (3,) or not np.isfinite(at).all():
            raise FrameError(f'node "{name}": its place is not three numbers in mm; say x, y and z')
    for beam in frame.beams:
        _check_beam(beam, places)
    for spring in frame.springs:
        _check_spring(spring)
    for rigid in frame.rigids:
        if rigid.a == rigid.b:
            raise FrameError(f'rigid link "{rigid.name}" ties node "{rigid.a}" to itself; name two nodes')
    for mass in frame.masses:
        _check_mass(mass)
    for hold in holds(frame):
        _check_turn(f'what holds node "{hold.node}"', hold.turn)
        if len(hold.directions) != 6:
            raise FrameError(
                f'what holds node "{hold.node}": say for each of six directions whether it holds'
            )


def _mentions(frame: Frame) -> Iterator[tuple[str, str]]:
    """Every node that a part names, with the part in words."""
    for beam in frame.beams:
        for node in (beam.start, *beam.between, beam.end):
            yield f'beam "{beam.name}"', node
    for spring in frame.springs:
        yield f'spring "{spring.name}"', spring.a
        if spring.b is not None:
            yield f'spring "{spring.name}"', spring.b
    for rigid in frame.rigids:
        for node in (rigid.a, rigid.b):
            yield f'rigid link "{rigid.name}"', node
    for mass in frame.masses:
        yield f'mass "{mass.name}"', mass.node
    for hold in holds(frame):
        yield "what is held", hold.node


def _unique(names: list[str], what: str) -> None:
    for name in names:
        if names.count(name) > 1:
            raise FrameError(f'"{name}" names more than one {what}; give each a name of its own')


def _check_beam(beam: BeamLink, places: dict[str, np.ndarray]) -> None:
    start, along = places[beam.start], places[beam.end] - places[beam.start]
    length = float(np.linalg.norm(along))
    if length < LEAST:
        raise FrameError(f'beam "{beam.name}" has no length: its nodes lie on one point; move one of them')
    if np.linalg.norm(np.cross(along / length, beam.up)) < 1e-6:
        raise FrameError(
            f'beam "{beam.name}": up {beam.up} runs along the beam; give a direction across it for the section\'s z'
        )
    for node in beam.between:
        at = places[node] - start
        far = float(at @ along) / length
        if np.linalg.norm(at - far * along / length) > MISS or not -MISS < far < length + MISS:
            raise FrameError(
                f'beam "{beam.name}": node "{node}" does not lie on its line between "{beam.start}" and "{beam.end}"; '
                "put it there, or tie it on with a rigid link"
            )
    if (beam.stretches is None) == (beam.properties is None):
        raise FrameError(
            f'beam "{beam.name}": give either its stretches, or the properties of a uniform beam'
        )
    found = beam_stretches(beam, length)
    if not found:
        raise FrameError(f'beam "{beam.name}" has no stretch; give at least one')
    if abs(found[-1].end - found[0].start - length) > MISS:
        raise FrameError(
            f'beam "{beam.name}": its stretches are {found[-1].end - found[0].start:g} mm long together, its nodes '
            f"{length:g} mm apart; make them agree"
        )
    for a, b in itertools.pairwise(found):
        if abs(a.end - b.start) > MISS:
            raise FrameError(
                f'beam "{beam.name}": one stretch ends at x = {a.end:g} mm and the next starts at {b.start:g}; '
                "let them follow one another"
            )
    for stretch in found:
        for key in ("EA", "EIy", "EIz", "GJ", "GAy", "GAz"):
            value = getattr(stretch.properties, key)
            if not 0 < value < np.inf:
                raise FrameError(
                    f'beam "{beam.name}": {key} is {value:g} from x = {stretch.start:g} mm; it must be above 0'
                )


def _check_spring(spring: Spring) -> None:
    what = f'spring "{spring.name}"'
    if spring.a == spring.b:
        raise FrameError(f'{what} ties node "{spring.a}" to itself; name two nodes, or the ground')
    k = np.asarray(spring.stiffness, dtype=float)
    if np.isinf(k).any():
        raise FrameError(
            f"{what} is infinitely stiff; allowed: 0 and above, finite. Use a rigid link instead"
        )
    if k.shape not in ((6,), (6, 6)) or np.isnan(k).any():
        raise FrameError(f"{what}: its stiffness is six numbers, or a 6 x 6 matrix, in N/mm and N mm/rad")
    if k.ndim == 1 and (k < 0).any():
        raise FrameError(f"{what} has a stiffness of {k.min():g}; allowed: 0 (free) and above")
    if k.ndim == 2:
        # Judged with lengths and turns brought to one scale, so that neither hides the other.
        scale = np.sqrt(np.maximum(np.abs(np.diag(k)), 1e-300))
        unit = k / np.outer(scale, scale)
        if np.abs(unit - unit.T).max() > 1e-9 or np.linalg.eigvalsh((unit + unit.T) / 2)[0] < -1e-9:
            raise FrameError(
                f"{what}: its 6 x 6 stiffness must be symmetric and give no energy away; check its signs"
            )
    _check_turn(what, spring.turn)


def _check_turn(what: str, turn: Matrix) -> None:
    t = np.asarray(turn, dtype=float)
    if t.shape != (3, 3) or np.abs(t @ t.T - np.eye(3)).max() > 1e-6 or np.linalg.det(t) < 0:
        raise FrameError(f"{what}: its axes are not three unit directions square to each other, right-handed")


def _check_mass(mass: Mass) -> None:
    if not 0 <= mass.mass_kg < np.inf:
        raise FrameError(f'mass "{mass.name}" is {mass.mass_kg:g} kg; allowed: 0 and above')
    J = np.asarray(mass.inertia, dtype=float)
    if (
        J.shape != (3, 3)
        or not np.isfinite(J).all()
        or np.abs(J - J.T).max() > 1e-9 * max(1.0, np.abs(J).max())
    ):
        raise FrameError(f'mass "{mass.name}": its inertia must be a symmetric 3 x 3 in kg mm²')
    if np.linalg.eigvalsh(J)[0] < -1e-9 * max(1.0, np.abs(J).max()):
        raise FrameError(f'mass "{mass.name}": its inertia is negative about some axis; check its signs')
