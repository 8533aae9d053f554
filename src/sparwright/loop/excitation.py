"""What shakes a machine in service - cutting edges, belt teeth, motor steps - against its first modes."""

from __future__ import annotations

from dataclasses import dataclass

from sparwright.answers import Finding, Verdict
from sparwright.job.machine_parts import ServedMachine
from sparwright.loop.machine_state import MachineState

APART = 0.2
"""Least distance of an excitation from a mode, ratio; common practice, no source (20 to 30 % is asked for)."""
LOOKED_AT = 4
"""Modes looked at; the higher ones move the tool little."""


@dataclass(frozen=True)
class Shake:
    """One thing that shakes: its frequency, Hz, and what it is in words."""

    frequency: float
    words: str


def shakes(machine: ServedMachine) -> tuple[Shake, ...]:
    """Tooth passing and turning of the spindle at every speed in use; teeth and full steps of the drives at every feed."""
    s = machine.service
    out = []
    for rpm in s.rpm:
        out.append(Shake(rpm / 60, f"the spindle turning at {rpm:.0f} rpm"))
        if s.flutes > 1:
            out.append(Shake(rpm / 60 * s.flutes, f"{s.flutes} edges passing at {rpm:.0f} rpm"))
    for feed in s.feeds:
        for axis in machine.axes:
            if axis.tooth:
                out.append(
                    Shake(feed / 60 / axis.tooth, f"drive teeth along {axis.name} at {feed:.0f} mm/min")
                )
            if axis.step:
                out.append(
                    Shake(feed / 60 / axis.step, f"motor steps along {axis.name} at {feed:.0f} mm/min")
                )
    return tuple(out)


def nearest(machine: ServedMachine, state: MachineState) -> tuple[float, Shake, int] | None:
    """The excitation nearest to a mode: frequency ratio, which, and the mode's number from 0; None without any."""
    pairs = [
        (shake.frequency / mode.frequency, shake, i)
        for shake in shakes(machine)
        for i, mode in enumerate(state.modes[:LOOKED_AT])
        if mode.frequency > 0
    ]
    return min(pairs, key=lambda p: abs(p[0] - 1), default=None)


def excitation_finding(machine: ServedMachine, after: MachineState, before: MachineState) -> Finding | None:
    """How near anything comes to a mode; None where the machine file tells of nothing that shakes."""
    found, was = nearest(machine, after), nearest(machine, before)
    if found is None or was is None:
        return None
    ratio, shake, i = found
    distance = abs(ratio - 1)
    mode = after.modes[i]
    verdict = Verdict.CAUTION if distance < APART else Verdict.GO
    why = (
        f"Nearest: {shake.words}, {shake.frequency:.0f} Hz. The mode there is at {mode.frequency:.0f} Hz: {mode.words}. "
        f"Before, {was[1].words} came within {100 * abs(was[0] - 1):.0f} % of a mode."
    )
    if verdict is Verdict.CAUTION:
        why += f" Stay {100 * APART:.0f} % away: use another speed or feed, or pass through it quickly."
    return Finding(
        "distance from excitation",
        verdict,
        100 * distance,
        "%",
        100 * APART,
        100 * (distance - APART),
        why=why,
        where=machine.name,
    )
