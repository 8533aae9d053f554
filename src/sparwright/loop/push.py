"""A push test: force and dial reading turned into the stiffness of one link, the rest of the machine as modelled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import brentq

from sparwright.answers import BadInput
from sparwright.job.machine_parts import ServedMachine, link_of
from sparwright.job.models import Push
from sparwright.loop.frame import compliance, solve
from sparwright.loop.machine import Loaded, prepared
from sparwright.loop.machine_modes import AXES, grouped
from sparwright.loop.machine_state import member_spreads, tip_spread

LEAST, MOST = 1e-3, 1e3  # of the stated stiffness, that a push may find
_PASSES = 12


@dataclass(frozen=True)
class Pushed:
    """What a push test found: the link's stiffness as a factor on what the file says, and its half-width, ratio.

    share: of the reading that the link gave itself. told: False where the test says less than was known before,
    so that the stated stiffness stays.
    """

    link: str
    factor: float
    spread: float
    share: float
    told: bool


def infer(before: Loaded, after: Loaded, spreads: Mapping[str, float]) -> tuple[Pushed, ...]:
    """All push tests of a machine, each with what the others found taken into account.

    before, after: the machine with the member in either state. spreads: of the links before any test. Raises
    BadInput where no stiffness of the link can explain a reading.
    """
    pushes = before.machine.pushes
    scales = {p.link: 1.0 for p in pushes}
    for _ in range(_PASSES if len(pushes) > 1 else 1):
        old = dict(scales)
        for number, push in enumerate(pushes, 1):
            loaded = after if push.member == "after" else before
            scales[push.link] = _factor(replace(loaded, scales=scales), push, number)
        if all(abs(scales[k] / old[k] - 1) < 1e-9 for k in scales):
            break
    out = []
    for push in pushes:
        loaded = replace(after if push.member == "after" else before, scales=scales)
        out.append(_judged(loaded, push, scales[push.link], spreads))
    idle = {p.link for p in out if not p.told}
    if not idle or len(idle) == len(out):
        return tuple(out)
    # What a test could not tell must not colour what the others found.
    kept = tuple(p for p in pushes if p.link not in idle)
    before, after = (replace(m, machine=replace(m.machine, pushes=kept)) for m in (before, after))
    return (*infer(before, after, spreads), *(p for p in out if not p.told))


def _position(machine: ServedMachine, push: Push) -> dict[str, float]:
    if push.position is None:
        return {}
    return {a.name: at - a.zero for a, at in zip(machine.axes, push.position, strict=True)}


def _yield(loaded: Loaded, push: Push) -> float:
    """The model's compliance where the dial stands, mm/N."""
    ready = prepared(loaded, _position(loaded.machine, push))
    i = AXES.index(push.direction)
    return float(compliance(ready, push.at, push.against)[i, i])


def _factor(loaded: Loaded, push: Push, number: int) -> float:
    measured = push.reading / push.force

    def excess(exponent: float) -> float:
        scaled = {**loaded.scales, push.link: 10.0**exponent}
        return _yield(replace(loaded, scales=scaled), push) / measured - 1

    low, high = np.log10(LEAST), np.log10(MOST)
    most, least = excess(low), excess(high)
    if most < 0 or least > 0:
        machine = loaded.machine
        rest = measured * (1 + least) * push.force
        full = measured * (1 + most) * push.force
        what = (
            f"the rest of the machine alone would read {rest:.4g} mm"
            if least > 0
            else f"even with next to no stiffness in it the dial would read {full:.4g} mm"
        )
        raise BadInput(
            f"{machine.file or machine.name}: push test {number} reads {push.reading:g} mm under {push.force:g} N, and no stiffness of "
            f'"{push.link}" can explain that: {what}. Allowed: a reading between {rest:.4g} and {full:.4g} mm. Check the force, the '
            "dial and the direction, or name the link that really yields there."
        )
    return float(10.0 ** brentq(excess, low, high, xtol=1e-10))


def _judged(loaded: Loaded, push: Push, factor: float, spreads: Mapping[str, float]) -> Pushed:
    """The half-width: the reading's, and that of all else that yields, over the link's share."""
    load = [0.0] * 6
    load[AXES.index(push.direction)] = push.force
    loads = {push.at: load}
    if push.against is not None:
        loads[push.against] = [-v for v in load]
    found = solve(prepared(loaded, _position(loaded.machine, push)), loads)
    shares = grouped(found.shares)
    share = shares[push.link]
    others = {n: s for n, s in shares.items() if n != push.link}
    whole = sum(found.energy.values())
    kinds = {k: v / whole for k, v in found.kinds[loaded.machine.member].items()}
    rest = tip_spread(others, kinds, loaded.machine.member, spreads, member_spreads(loaded))
    wide = float(np.hypot(push.reading_spread / push.reading, rest) / max(share, 1e-12))
    told = wide < spreads.get(link_of(push.link), 1.0)
    return Pushed(push.link, factor if told else 1.0, wide, share, told)
