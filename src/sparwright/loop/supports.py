"""Where along the member the machine served is fixed to it."""

from __future__ import annotations

import numpy as np

from sparwright.job.machine_parts import ServedMachine

SAME = 0.5  # places closer than this are one, mm


def member_supports(machine: ServedMachine) -> tuple[float, ...]:
    """Places along the member, mm from its datum end, at which joints and rigid parts hold it.

    Carriages that run along it are not among them: they stand anywhere in their travel.
    """
    at = {p.name: np.asarray(p.at, dtype=float) for p in machine.points}
    beam = next(b for b in machine.beams if b.name == machine.member)
    start = at[beam.start]
    along = at[beam.end] - start
    length = float(np.linalg.norm(along))
    tied = {name for pair in machine.rigids for name in pair}
    tied |= {name for j in machine.joints for name in (j.a, j.b) if name is not None}
    tied |= {p.name for p in machine.points if p.held}
    places = sorted(
        float((at[name] - start) @ along) / length
        for name in (beam.start, *beam.through, beam.end)
        if name in tied
    )
    out: list[float] = []
    for x in places:
        if not out or x - out[-1] > SAME:
            out.append(x)
    return tuple(out)
