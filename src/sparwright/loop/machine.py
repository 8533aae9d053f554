"""The machine served as a frame, its axes at a stated position: stations on beams, contacts, drives, joints, masses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sparwright.answers import BadInput
from sparwright.job.machine_parts import (
    BeamPart,
    DrivePart,
    RunnerPart,
    ServedMachine,
    link_of,
)
from sparwright.job.resolving import level_and_up
from sparwright.job.vectors import Vector, cross
from sparwright.loop.elements import Stretch
from sparwright.loop.frame import BeamLink, Frame, FrameError, Mass, Node, Prepared, Rigid, Spring, prepare
from sparwright.loop.plain_sections import plain_section

NEAR = 1e-3  # stations of a beam closer than this are one, mm
MEMBER_ELEMENTS = 8
PLAIN_ELEMENTS = 4


@dataclass(frozen=True)
class Loaded:
    """A machine with a member put in: stretches as reworked, `plain` as it was; axis (y, z) its points lie on, mm.

    scales: factor on the stiffness of a link, by its name, where a push test has said so.
    """

    machine: ServedMachine
    stretches: tuple[Stretch, ...]
    plain: tuple[Stretch, ...]
    axis: tuple[float, float]
    scales: Mapping[str, float] = field(default_factory=dict)


Position = Mapping[str, float]


class _Gather:
    """Nodes as they come, and those on each beam in no order."""

    def __init__(self, loaded: Loaded, position: Position) -> None:
        self.machine = loaded.machine
        self.at: dict[str, np.ndarray] = {}
        for p in self.machine.points:
            shift = sum(
                (position.get(a, 0.0) * np.asarray(self.machine.axis(a).direction) for a in p.axes),
                start=np.zeros(3),
            )
            self.at[p.name] = np.asarray(p.at) + shift
        self.on: dict[str, list[tuple[float, str]]] = {}
        for beam in self.machine.beams:
            start, along, length = self.line(beam)
            self.on[beam.name] = [(0.0, beam.start), (length, beam.end)]
            for name in beam.through:
                self._through(beam, name, float((self.at[name] - start) @ along))

    def _through(self, beam: BeamPart, name: str, s: float) -> None:
        """A further point of a beam; one in the place of another is tied to it by the caller's rigid links."""
        self.on[beam.name].append((s, name))

    def line(self, beam: BeamPart) -> tuple[np.ndarray, np.ndarray, float]:
        """Start, unit direction and length of a beam."""
        start = self.at[beam.start]
        along = self.at[beam.end] - start
        length = float(np.linalg.norm(along))
        return start, along / length, length

    def station(self, beam: BeamPart, place: np.ndarray, who: str, beyond: bool = False) -> str:
        """The node of a beam beside a place; made where there is none.

        Where the beam does not reach there: its end if `beyond` is allowed, else BadInput.
        """
        start, along, length = self.line(beam)
        s = float((place - start) @ along)
        if beyond:
            s = min(max(s, 0.0), length)
        if not -NEAR <= s <= length + NEAR:
            raise BadInput(
                f'{self.machine.where(who)}: {who} stands at {s:.1f} mm of the beam "{beam.name}", which reaches from 0 to '
                f"{length:.1f} mm. Shorten the travel or lengthen the beam."
            )
        for known, name in self.on[beam.name]:
            if abs(known - s) <= NEAR:
                return name
        name = f"{beam.name} at {s:.3f}"
        self.at[name] = start + min(max(s, 0.0), length) * along
        self.on[beam.name].append((s, name))
        return name


def frame_at(loaded: Loaded, position: Position) -> Frame:
    """The frame of a machine with each axis at an offset, mm, from its middle position; axes not named stand there.

    Raises BadInput where a carriage would stand beyond its beam.
    """
    machine = loaded.machine
    gather = _Gather(loaded, position)
    beams = {b.name: b for b in machine.beams}
    springs: list[Spring] = []
    for runner in machine.runners:
        springs += _contacts(gather, runner, beams)
    for drive in machine.drives:
        springs += _spans(gather, drive, beams, position)
    for joint in machine.joints:
        k = (joint.linear,) * 3 + (joint.tilting,) * 3
        springs.append(Spring(joint.name, joint.a, joint.b, k))
    links = [_beam(gather, b, loaded) for b in machine.beams]
    ties = [Rigid(f"{a} to {b}", a, b) for a, b in (*machine.rigids, *_coincident(gather))]
    held = tuple(p.name for p in machine.points if p.held)
    return Frame(
        tuple(Node(name, _vector(at)) for name, at in gather.at.items()),
        tuple(_scaled_beam(b, loaded.scales.get(link_of(b.name), 1.0)) for b in links),
        tuple(_scaled(s, loaded.scales.get(link_of(s.name), 1.0)) for s in springs),
        tuple(ties),
        tuple(Mass(f"mass of {m.name}", m.point, m.mass, m.offset) for m in machine.masses),
        held,
    )


def prepared(loaded: Loaded, position: Position) -> Prepared:
    """The frame made ready, its mechanisms told with the line of the machine file to mend.

    Raises BadInput for a machine that hangs together badly.
    """
    try:
        ready = prepare(frame_at(loaded, position))
        _ = ready.factor
    except FrameError as fault:
        text = str(fault)
        named = [n for n in loaded.machine.lines if f'"{n}"' in text]
        where = loaded.machine.where(named[0]) if named else loaded.machine.file or loaded.machine.name
        raise BadInput(f"{where}: {text}.") from None
    return ready


def _vector(v: np.ndarray) -> Vector:
    return (float(v[0]), float(v[1]), float(v[2]))


def _scaled(spring: Spring, factor: float) -> Spring:
    if factor == 1.0:
        return spring
    k = np.asarray(spring.stiffness, dtype=float) * factor
    return replace(spring, stiffness=tuple(float(v) for v in k))


def _scaled_beam(beam: BeamLink, factor: float) -> BeamLink:
    if factor == 1.0 or beam.properties is None:
        return beam
    p = beam.properties
    stiff = {key: getattr(p, key) * factor for key in ("EA", "EIy", "EIz", "EIyz", "GJ", "GAy", "GAz")}
    return replace(beam, properties=replace(p, **stiff))


def _contacts(gather: _Gather, runner: RunnerPart, beams: Mapping[str, BeamPart]) -> list[Spring]:
    out = []
    for i, contact in enumerate(runner.contacts, 1):
        at = gather.at[runner.body] + np.asarray(contact.offset)
        other = None if runner.on is None else gather.station(beams[runner.on], at, runner.name)
        out.append(
            Spring(f"{runner.name}/{i}", runner.body, other, contact.stiffness, contact.turn, _vector(at))
        )
    return out


def drive_springs(drive: DrivePart, place: float) -> list[tuple[float | None, float]]:
    """Springs of a drive with its point `place` mm along the rail: (where its other end is along the rail, N/mm).

    None for an other end that travels along. Belt: EA/a of either free span, the second of a loop going round the
    idler and back to the motor. Screw: EA over the free length, with its bearings. Springs in parallel are then made
    softer together by what is in series with both (nut, motor).
    """
    if drive.ends is None:
        return [(None, 1 / drive.series)]
    first, last = drive.ends
    a, b = place - first, last - place
    if drive.kind == "belt":
        spans = [
            (first, drive.specific / a),
            (last, drive.specific / (b + (last - first if drive.loop else 0.0))),
        ]
    else:
        spans = [(first, 1 / (a / drive.specific + drive.bearing))]
        if drive.far_fixed:
            spans.append((last, 1 / (b / drive.specific + drive.bearing)))
    whole = sum(k for _, k in spans)
    factor = 1 / (1 + whole * drive.series)
    return [(end, k * factor) for end, k in spans]


def _spans(
    gather: _Gather, drive: DrivePart, beams: Mapping[str, BeamPart], position: Position
) -> list[Spring]:
    axis = gather.machine.axis(drive.axis)
    along = np.asarray(axis.direction)
    place = axis.zero + position.get(axis.name, 0.0)
    at = gather.at[drive.point] + np.asarray(drive.offset)
    level, _ = level_and_up(axis.direction)
    turn = (axis.direction, level, cross(axis.direction, level))
    spans = drive_springs(drive, place)
    if drive.on is None:
        spans = [(None, sum(k for _, k in spans))]
    out = []
    for i, (end, k) in enumerate(spans, 1):
        other = None
        if drive.on is not None:
            held = at if end is None else at + (end - place) * along
            # A motor or bearing on a bracket beyond the beam's end pulls on that end.
            other = gather.station(beams[drive.on], held, drive.name, beyond=True)
        out.append(
            Spring(f"{drive.name}/{i}", drive.point, other, (k, 0.0, 0.0, 0.0, 0.0, 0.0), turn, _vector(at))
        )
    return out


def _beam(gather: _Gather, beam: BeamPart, loaded: Loaded) -> BeamLink:
    inner = _distinct(gather.on[beam.name])
    if beam.section is None:
        stretches = loaded.plain if beam.plain else loaded.stretches
        return BeamLink(
            beam.name,
            beam.start,
            beam.end,
            beam.up,
            stretches=_fitted(stretches, gather.line(beam)[2]),
            axis=loaded.axis,
            between=inner,
            elements=MEMBER_ELEMENTS,
        )
    properties, inertia = plain_section(beam.section)
    return BeamLink(
        beam.name,
        beam.start,
        beam.end,
        beam.up,
        properties=properties,
        inertia=inertia,
        between=inner,
        elements=PLAIN_ELEMENTS,
    )


def _fitted(stretches: Sequence[Stretch], length: float) -> tuple[Stretch, ...]:
    """The member's stretches with rounding of the points' distance taken up by the last."""
    last = stretches[-1]
    return (*stretches[:-1], replace(last, end=stretches[0].start + length))


def _distinct(on: Sequence[tuple[float, str]]) -> tuple[str, ...]:
    """Names of the nodes within a beam, one a place; the first two are its ends."""
    taken = [on[0][0], on[1][0]]
    names = []
    for s, name in on[2:]:
        if all(abs(s - t) > NEAR for t in taken):
            taken.append(s)
            names.append(name)
    return tuple(names)


def _coincident(gather: _Gather) -> list[tuple[str, str]]:
    """Pairs of a beam's nodes that lie on one place: the later is tied to the earlier."""
    ties = []
    for on in gather.on.values():
        kept: list[tuple[float, str]] = []
        for s, name in on:
            same = next((k for t, k in kept if abs(s - t) <= NEAR), None)
            if same is None:
                kept.append((s, name))
            elif same != name:
                ties.append((same, name))
    return ties
