"""The machine served, before and after the member is reworked: what the lightening buys and what it costs.

Play, the pressing of wheels into the member's wall, and whatever the base itself stands on are not in it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sparwright.answers import Finding, Verdict
from sparwright.job.machine_parts import ServedMachine
from sparwright.job.models import Wishes
from sparwright.loop.elements import Stretch
from sparwright.loop.excitation import excitation_finding
from sparwright.loop.ledger import Ledger, ledgers
from sparwright.loop.machine import Loaded
from sparwright.loop.machine_state import MachineState, link_spreads, machine_state
from sparwright.loop.push import Pushed, infer
from sparwright.stiffness.model import SectionForces
from sparwright.stock.model import Member

NOTE = "Not counted: play, wheels pressing into the member's wall, and what the base stands on."
SETTLED = 0.02
"""Share of a swing left when it is taken as settled; common practice in control."""
_SHOWN = 4

REMEDIES = {
    "carriage": "fit stiffer wheels or blocks, or set them further apart",
    "drive": "fit a wider belt, shorten its free span, or drive it by a screw",
    "joint": "use more or larger screws, further apart",
    "feet": "use more or larger screws, further apart",
    "plate": "use a thicker or shorter plate",
    "mount": "use a stiffer tool holder",
    "upright": "use a stouter or shorter upright",
    "rail": "use a stouter rail, or hold it in more places",
}


# What of the member to keep, by the kind of strain that gives most.
KINDS = {
    "bending": "on the faces furthest from its axis, since it bends",
    "twist": "in skins all round, since it twists",
    "shear": "in skins instead of windows, since it shears",
    "stretch": "anywhere along it, since it stretches",
}


@dataclass(frozen=True)
class Row:
    """One figure before and after; more_is_better tells which way is good."""

    name: str
    unit: str
    before: float
    after: float
    more_is_better: bool

    @property
    def change(self) -> float:
        """After over before, less one."""
        return self.after / self.before - 1 if self.before else 0.0


@dataclass(frozen=True)
class ServedResult:
    """The machine served with the plain member (before) and with the reworked one (after).

    pushes: what push tests found; spreads: half-widths of the links used, ratio.
    """

    name: str
    kind: str
    member: str
    force_N: float
    before: MachineState
    after: MachineState
    ledgers: tuple[Ledger, ...]
    pushes: tuple[Pushed, ...]
    spreads: Mapping[str, float]
    machine: ServedMachine

    @property
    def member_forces(self) -> tuple[SectionForces, ...]:
        """Forces in the reworked member under the service force, every service direction, worst place and middle."""
        return self.after.forces

    def settling_s(self, state: MachineState) -> tuple[float, float]:
        """Time until a swing of the first mode has died down to SETTLED, s, and its half-width.

        ln(1/SETTLED) / (zeta omega) for a lightly damped mode (any text on vibration; the logarithmic decrement is
        2 pi zeta).
        """
        s = self.machine.service
        time = math.log(1 / SETTLED) / (s.damping * 2 * math.pi * state.first_Hz)
        return time, time * math.hypot(s.damping_spread, state.spread["first_Hz"] / state.first_Hz)

    def acceleration(self, state: MachineState, axis: str) -> float | None:
        """Acceleration the motor's force gives along an axis, mm/s²; None where the force is not said."""
        force = self.machine.axis(axis).force
        kg = state.moving_kg[axis]
        return None if force is None or kg <= 0 else 1000 * force / kg

    def findings(self, wishes: Wishes) -> list[Finding]:
        """Everything found, against the job's wishes and what the machine file wants."""
        found = [self._tip(wishes), self._first(wishes), self._settling()]
        found += [f for axis in self.machine.axes for f in self._speeding(axis.name)]
        excited = excitation_finding(self.machine, self.after, self.before)
        if excited is not None:
            found.append(excited)
        for ledger in self.ledgers:
            found += ledger.findings(self.name)
        return found + [self._pushed(p) for p in self.pushes]

    def _tip(self, wishes: Wishes) -> Finding:
        a = self.after
        was = self.before.tips_mm
        parts = ", ".join(f"{k} {100 * v:.0f} %" for k, v in list(a.shares[a.direction].items())[:_SHOWN])
        at = ", ".join(f"{n} = {mm:.0f}" for n, mm in a.worst.at.items())
        others = "".join(
            f" Along {d}: {mm:.4f} mm, before {was[d]:.4f} mm."
            for d, mm in a.tips_mm.items()
            if d != a.direction
        )
        why = (
            f"Under {self.force_N:g} N along {a.direction} at the softest place{f' ({at} mm)' if at else ''}. "
            f"Before: {was[a.direction]:.4f} mm. It comes from: {parts}.{others} {NOTE}"
        )
        finding = Finding(
            "tip deflection", Verdict.GO, a.tip_mm, "mm", spread=a.spread["tip_mm"], why=why, where=self.name
        )
        kind = max(a.member, key=lambda k: a.member[k])
        remedy = self._remedy(a.weakest, f"keep more metal in it, {KINDS[kind]}")
        return _judge(finding, wishes.tip_deflection, remedy, upper=True)

    def _first(self, wishes: Wishes) -> Finding:
        a, b = self.after, self.before
        others = "".join(f" Next: {m.frequency:.0f} Hz, {m.words}." for m in a.modes[1:3])
        same = _way(a.modes[0].words) == _way(b.modes[0].words)
        before = f"Before: {b.first_Hz:.1f} Hz, {'the same way' if same else b.modes[0].words}."
        why = f"{_upper(a.modes[0].words)}. {before}{others}"
        finding = Finding(
            "first frequency",
            Verdict.GO,
            a.first_Hz,
            "Hz",
            spread=a.spread["first_Hz"],
            why=why,
            where=self.name,
        )
        remedy = self._remedy(a.modes[0].driver, "keep more metal in it")
        return _judge(finding, wishes.first_frequency, remedy, upper=False)

    def _remedy(self, link: str, own: str) -> str:
        """What to change first."""
        if link == self.member:
            return f"The {link} itself is the weakest link: {own}, or choose a larger section."
        for word, what in REMEDIES.items():
            if word in link:
                return f'The weakest link is "{link}": {what}. More metal left in the {self.member} helps little.'
        return f'The weakest link is "{link}": stiffen it first. More metal left in the {self.member} helps little.'

    def _settling(self) -> Finding:
        (after, wide), (before, _) = self.settling_s(self.after), self.settling_s(self.before)
        s = self.machine.service
        return Finding(
            "settling time",
            Verdict.GO,
            after,
            "s",
            spread=wide,
            why=f"Until a swing of the first mode is down to {100 * SETTLED:g} %. Before: {before:.3g} s. Damping is taken as "
            f"{100 * s.damping:g} % of critical, give or take {100 * s.damping_spread:.0f} % of that: common practice, not measured.",
            where=self.name,
        )

    def _speeding(self, axis: str) -> list[Finding]:
        after, before = self.acceleration(self.after, axis), self.acceleration(self.before, axis)
        if after is None or before is None:
            return []
        part = self.machine.axis(axis)
        wish = part.acceleration
        margin = None if wish is None else after - wish
        verdict = Verdict.CAUTION if margin is not None and margin < 0 else Verdict.GO
        a, b = self.after.moving_kg[axis], self.before.moving_kg[axis]
        why = f"{part.force:g} N move {a:.2f} kg along {axis}. Before: {b:.2f} kg, {float(f'{before:.3g}'):.0f} mm/s²."
        if verdict is Verdict.CAUTION:
            why += " Set a lower acceleration, or fit a stronger motor."
        return [
            Finding(
                f"acceleration along {axis}", verdict, after, "mm/s²", wish, margin, why=why, where=self.name
            )
        ]

    def _pushed(self, p: Pushed) -> Finding:
        if p.told:
            why = f"The push test makes it {p.factor:.3g} times as stiff as the machine file says. It gave {100 * p.share:.0f} % of the reading."
        else:
            why = (
                f"It gave only {100 * p.share:.0f} % of the reading, so the machine file's stiffness stays. "
                "Push and read right beside the link, so that little else moves."
            )
        verdict = Verdict.GO if p.told else Verdict.CAUTION
        return Finding(
            f"push test, {p.link}",
            verdict,
            p.factor,
            "",
            spread=p.factor * p.spread,
            why=why,
            where=self.name,
        )

    def side_by_side(self) -> tuple[Row, ...]:
        """The figures that matter, before and after, in the order to show them."""
        a, b = self.after, self.before
        rows = [
            Row(f"deflection along {d} under {self.force_N:g} N", "mm", b.tips_mm[d], a.tips_mm[d], False)
            for d in a.tips_mm
        ]
        rows += [
            Row("first frequency", "Hz", b.first_Hz, a.first_Hz, True),
            Row("settling time", "s", self.settling_s(b)[0], self.settling_s(a)[0], False),
        ]
        for axis in self.machine.axes:
            name = axis.name
            rows.append(
                Row(f"mass that moves along {name}", "kg", b.moving_kg[name], a.moving_kg[name], False)
            )
            before, after = self.acceleration(b, name), self.acceleration(a, name)
            if before is not None and after is not None:
                rows.append(Row(f"acceleration along {name}", "mm/s²", before, after, True))
        return tuple(rows)

    def as_dict(self) -> dict[str, Any]:
        """The result with units in its keys."""

        def bought(state: MachineState) -> dict[str, Any]:
            time, wide = self.settling_s(state)
            return {
                "settling_s": time,
                "settling_spread_s": wide,
                "acceleration_mm_per_s2": {
                    a.name: self.acceleration(state, a.name) for a in self.machine.axes
                },
            }

        return {
            "name": self.name,
            "kind": self.kind,
            "member": self.member,
            "force_N": self.force_N,
            "before": self.before.as_dict() | bought(self.before),
            "after": self.after.as_dict() | bought(self.after),
            "ledgers": [ledger.as_dict() for ledger in self.ledgers],
            "pushes": [
                {"link": p.link, "factor": p.factor, "spread": p.spread, "share": p.share, "told": p.told}
                for p in self.pushes
            ],
            "link_spreads": dict(self.spreads),
        }


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _way(words: str) -> str:
    """A mode's words without the share at their end."""
    return words.rpartition(" (")[0]


def _judge(finding: Finding, wish: float | None, remedy: str, *, upper: bool) -> Finding:
    if wish is None or finding.value is None:
        return finding
    margin = wish - finding.value if upper else finding.value - wish
    if margin < 0:
        verdict, tail = Verdict.NO_GO, f" The wish is missed. {remedy}"
    elif margin < (finding.spread or 0.0):
        verdict = Verdict.CAUTION
        tail = f" What is not known of the stiffnesses could use up the margin: measure with a push test. {remedy}"
    else:
        verdict, tail = Verdict.GO, ""
    return replace(finding, verdict=verdict, limit=wish, margin=margin, why=finding.why + tail)


def load_member(
    machine: ServedMachine,
    stretches: Sequence[Stretch],
    plain: Sequence[Stretch],
    scales: Mapping[str, float],
) -> Loaded:
    """The machine with a member in it, on the axis through the plain section's centroid."""
    return Loaded(machine, tuple(stretches), tuple(plain), plain[0].properties.centroid, dict(scales))


def serve(
    member: Member, before: Sequence[Stretch], after: Sequence[Stretch], machine: ServedMachine
) -> ServedResult:
    """The machine with the member as it was and as reworked, stretches of either from 0 to the member's length.

    Raises BadInput for a machine that hangs together badly, with the line of its file, and for a push test that
    nothing can explain.
    """
    plain, worked = load_member(machine, before, before, {}), load_member(machine, after, before, {})
    spreads = link_spreads(machine)
    pushes = infer(plain, worked, spreads)
    scales = {p.link: p.factor for p in pushes if p.told}
    spreads |= {p.link: p.spread for p in pushes if p.told}
    plain, worked = replace(plain, scales=scales), replace(worked, scales=scales)
    return ServedResult(
        name=machine.name,
        kind=machine.kind,
        member=machine.member,
        force_N=machine.service.force,
        before=machine_state(plain, spreads),
        after=machine_state(worked, spreads),
        ledgers=ledgers(machine),
        pushes=pushes,
        spreads=spreads,
        machine=machine,
    )
