"""Natural modes of a machine in plain words: what moves which way, and which link lets it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sparwright.job.machine_parts import ServedMachine, link_of
from sparwright.loop.frame import FrameMode, Prepared, frame_modes

AXES = ("X", "Y", "Z")
_RADIUS = 40.0  # mm at which a beam's roll and twist are weighed against its shift


@dataclass(frozen=True)
class MachineMode:
    """A natural mode of the machine.

    words: its shape. strain: share of the strain energy by link; they add up to 1. driver: the link with the
    greatest. tip: (3,) motion of the tool against the work, greatest motion of the machine being 1. lines: for a
    picture, by beam and rigid link: places (k, 3) mm and motions (k, 3) of the same scale.
    """

    frequency: float
    words: str
    strain: Mapping[str, float]
    driver: str
    tip: tuple[float, float, float]
    lines: Mapping[str, tuple[np.ndarray, np.ndarray]]


def grouped(shares: Mapping[str, float]) -> dict[str, float]:
    """Shares by part summed to shares by link, greatest first."""
    total: dict[str, float] = defaultdict(float)
    for name, share in shares.items():
        total[link_of(name)] += share
    return dict(sorted(total.items(), key=lambda item: -item[1]))


def machine_modes(machine: ServedMachine, ready: Prepared, count: int) -> tuple[MachineMode, ...]:
    """The first modes of a prepared machine."""
    return tuple(_told(machine, ready, mode) for mode in frame_modes(ready, count))


def _told(machine: ServedMachine, ready: Prepared, mode: FrameMode) -> MachineMode:
    built = ready.built
    size = max(float(np.linalg.norm(m[:3])) for m in mode.motions.values()) or 1.0
    strain = grouped(mode.strain)
    driver = next(iter(strain))
    tip = mode.motions["tool"][:3] - (mode.motions[machine.work][:3] if machine.work else 0.0)
    lines: dict[str, tuple[np.ndarray, np.ndarray]] = {}
    for beam in built.beams:
        lines[beam.name] = (built.places[list(beam.points)], mode.along[beam.name][1][:, :3] / size)
    for rigid in built.frame.rigids:
        pair = [built.index[rigid.a], built.index[rigid.b]]
        motion = np.array([mode.motions[rigid.a][:3], mode.motions[rigid.b][:3]]) / size
        lines[rigid.name] = (built.places[pair], motion)
    words = f"{_shape(machine, ready, mode, driver)}, on the {driver} ({100 * strain[driver]:.0f} %)"
    t = tip / size
    return MachineMode(mode.frequency, words, strain, driver, (float(t[0]), float(t[1]), float(t[2])), lines)


def _shape(machine: ServedMachine, ready: Prepared, mode: FrameMode, driver: str) -> str:
    """What moves most, and how."""
    whole: dict[str, float] = defaultdict(float)
    for name, share in mode.kinetic.items():
        whole[_mover(machine, name)] += share
    most = max(whole, key=lambda n: whole[n])
    beam = next((b for b in ready.built.beams if b.name == most), None)
    if beam is not None:
        return f"{most} {_beam_motion(*mode.along[most], beam.turn[:3, :3], most == driver)}"
    # A mass, or one of several like beams ("uprights/1"), by what it moves with most.
    named = [m.point for m in machine.masses if link_of(m.name) == most]
    named += [b.end for b in machine.beams if link_of(b.name) == most]
    point = max(named, key=lambda n: float(np.linalg.norm(mode.motions[n][:3])))
    motion = mode.motions[point][:3]
    return f"{most} moves along {_axis_word(motion)}"


def _mover(machine: ServedMachine, name: str) -> str:
    """The thing a kinetic share belongs to: a beam, or what is lumped with the tool as the tool."""
    if not name.startswith("mass of "):
        return name if name in {b.name for b in machine.beams if "/" not in b.name} else link_of(name)
    plain = link_of(name.removeprefix("mass of "))
    return "tool" if plain in ("tool carriage", "moved with X", "tool") else plain


def _axis_word(v: np.ndarray) -> str:
    """The machine axis a direction lies along, or both where it leans half-way."""
    size = np.abs(v) / max(1e-30, float(np.abs(v).max()))
    return " and ".join(AXES[i] for i in np.argsort(-size) if size[i] > 0.6)


def _beam_motion(x: np.ndarray, motion: np.ndarray, own: np.ndarray, yields: bool) -> str:
    """How a beam moves: (k,) places, (k, 6) motions in machine axes, own (3, 3) the beam's axes as rows.

    yields: it is the beam itself that gives, so it bends or twists, wherever it is held.
    """
    line = np.column_stack([np.ones_like(x), x - x.mean()])
    fit, *_ = np.linalg.lstsq(line, motion[:, :3], rcond=None)
    roll = motion[:, 3:] @ own[0]
    if yields:
        whole = np.sqrt((motion[:, :3] ** 2).mean(axis=0))
        turned = float(np.sqrt((roll**2).mean())) * _RADIUS
        return "twists" if turned > np.linalg.norm(whole) else f"bends along {_axis_word(whole)}"
    bent = np.sqrt(((motion[:, :3] - line @ fit) ** 2).mean(axis=0))
    tilt = fit[1] * np.ptp(x) / np.sqrt(12)
    sizes = {
        f"moves along {_axis_word(fit[0])}": float(np.linalg.norm(fit[0])),
        f"swings about {_axis_word(np.cross(own[0], tilt))}": float(np.linalg.norm(tilt)),
        f"bends along {_axis_word(bent)}": float(np.linalg.norm(bent)),
        "rolls about its length": abs(float(roll.mean())) * _RADIUS,
        "twists": float(roll.std()) * _RADIUS,
    }
    return max(sizes, key=lambda w: sizes[w])
