"""What question 4 hears of one side: force, power, chip, deflection, skin, cutters, minutes."""

from __future__ import annotations

from collections.abc import Sequence

from sparwright.answers import Finding, Verdict
from sparwright.cutting.feeds import LEAST_CHIP, PULSE
from sparwright.cutting.finish import WANTED_FILLET
from sparwright.cutting.model import Cut
from sparwright.cutting.plan_work import Step, Work

CLOSE = (
    0.1  # less spare than this share of the limit is a caution, where the limit is not one feeds are made for
)
Group = tuple[Cut, Sequence[Step]]


def side_findings(work: Work, groups: Sequence[Group]) -> tuple[Finding, ...]:
    """All findings on the cuts of one side, each cut with the steps it was made of."""
    if not groups:
        return ()
    out = [f for group in groups for f in _load(work, group)]
    out += _warnings(groups)
    for each in (_chip, _push, _flutes):
        out += each(work, groups)
    out += _corners(work, groups)
    out += _taps(work)
    out.append(_time(work, groups))
    return tuple(out)


def left_out(name: str, features: Sequence[str], why: str) -> Finding:
    """Features that cannot be cut for one reason, and are not in the programs."""
    first = ", ".join(features[:3]) + (f" and {len(features) - 3} more" if len(features) > 3 else "")
    text = why[0].upper() + why[1:]
    return Finding(
        name,
        Verdict.NO_GO,
        float(len(features)),
        "",
        why=text + ("" if text.endswith(".") else "."),
        where=first,
    )


def _where(cut: Cut, step: Step) -> str:
    return f"{cut.name}, {step.template.cutter.name}"


def _load(work: Work, group: Group) -> list[Finding]:
    """Force and power of the heaviest step of one cut."""
    cut, steps = group
    limit, spread = work.wishes.thrust_limit, work.member.material.cutting_spread
    heavy = max(steps, key=lambda s: s.template.feed.steady)
    f = heavy.template.feed
    back = spread / (1 + spread)
    fine, strong = f.steady <= limit * (1 + 1e-9), f.power <= f.available * (1 + 1e-9)
    force = Finding(
        f"cutting force, {cut.name}",
        Verdict.GO if fine else Verdict.NO_GO,
        f.steady,
        "N",
        limit,
        limit - f.steady,
        f.steady * back,
        why=f"Mean over a turn, metal at the hard end of its spread. A tooth peaks at {f.force:.0f} N of {PULSE * limit:.0f} N. "
        f"Feed {f.feed:.0f} mm/min at {f.rpm:.0f} rpm, chip {f.chip:.3g} mm, held by {f.limited_by}."
        + (
            ""
            if fine
            else " Take a shallower pass or a smaller cutter, or raise thrust_limit if the clamps hold."
        ),
        where=_where(cut, heavy),
    )
    power = Finding(
        f"spindle power, {cut.name}",
        Verdict.GO if strong else Verdict.NO_GO,
        f.power,
        "W",
        f.available,
        f.available - f.power,
        f.power * back,
        why=f"At {f.rpm:.0f} rpm. Below full speed the power falls with it."
        + ("" if strong else " Take a shallower pass or a smaller cutter."),
        where=_where(cut, heavy),
    )
    return [force, power]


def _warnings(groups: Sequence[Group]) -> list[Finding]:
    """Warnings of the feeds, each once a cut."""
    out = []
    for cut, steps in groups:
        told = {text: s for s in steps for text in s.template.feed.warnings}
        for text, step in told.items():
            out.append(
                Finding(
                    f"speed and chip, {cut.name}",
                    Verdict.CAUTION,
                    why=text[0].upper() + text[1:] + ".",
                    where=_where(cut, step),
                )
            )
    return out


def _chip(work: Work, groups: Sequence[Group]) -> list[Finding]:
    """The thinnest chip of the side against the least that forms."""
    cut, step = min(((c, s) for c, steps in groups for s in steps), key=lambda p: p[1].template.feed.thickest)
    f = step.template.feed
    margin = (f.thickest - LEAST_CHIP) * 1000
    return [
        Finding(
            "thinnest chip",
            Verdict.GO if margin >= 0 else Verdict.CAUTION,
            f.thickest * 1000,
            "um",
            LEAST_CHIP * 1000,
            margin,
            why=f"The chip where it is thickest, at {f.feed:.0f} mm/min, held by {f.limited_by}. Under the limit the edge rubs and does not cut."
            + ("" if margin >= 0 else f" Raise what holds it ({f.limited_by}), or take a shallower pass."),
            where=_where(cut, step),
        )
    ]


def _push(work: Work, groups: Sequence[Group]) -> list[Finding]:
    """How far the finishing laps and the clearing cuts push cutter and frame."""
    out = []
    walls = [(c, s) for c, steps in groups for s in steps if c.kind == "wall"]
    if walls:
        cut, step = max(walls, key=lambda p: p[1].template.feed.push)
        f, limit = step.template.feed, work.wishes.wall_tolerance
        margin = limit - f.push
        out.append(
            Finding(
                "push off finished walls",
                Verdict.GO if margin >= limit * CLOSE else Verdict.CAUTION,
                f.push,
                "mm",
                limit,
                margin,
                f.push * work.member.material.cutting_spread,
                why=f"The finishing lap's mean force of {f.steady:.1f} N pushes cutter and frame off, and the wall comes out that much too full."
                + (
                    ""
                    if margin >= limit * CLOSE
                    else " Let the cutter stick out less, or leave less wall_stock."
                ),
                where=_where(cut, step),
            )
        )
    rough = [(c, s) for c, steps in groups for s in steps if c.kind == "clear"]
    if rough:
        cut, step = max(rough, key=lambda p: p[1].template.feed.deflection)
        f, limit = step.template.feed, work.wall_stock
        out.append(
            Finding(
                "cutter's bending while clearing",
                Verdict.GO if f.deflection <= limit else Verdict.CAUTION,
                f.deflection,
                "mm",
                limit,
                limit - f.deflection,
                f.deflection * 0.2,
                why=f"Under one tooth's {f.force:.0f} N. It must stay within the wall stock."
                + (
                    ""
                    if f.deflection <= limit
                    else " Let the cutter stick out less, or leave more wall_stock."
                ),
                where=_where(cut, step),
            )
        )
    return out


def _flutes(work: Work, groups: Sequence[Group]) -> list[Finding]:
    """Depth of every cut against the cutter's flutes and stick-out: the least spare."""
    spare = []
    for cut, steps in groups:
        for s in steps:
            c = s.template.cutter
            reach = c.flute_length if c.shank > c.diameter - 0.1 else c.stick_out - 1.0
            spare.append((reach + s.template.deepest, reach, cut, s))
    margin, reach, cut, step = min(spare, key=lambda p: p[0])
    return [
        Finding(
            "flutes for the depth",
            Verdict.GO if margin >= 0 else Verdict.CAUTION,
            -step.template.deepest,
            "mm",
            reach,
            margin,
            why=f"The deepest {step.template.cutter.name} goes, against what its flutes or a thinner shank let through."
            + ("" if margin >= 0 else " Use a cutter with longer flutes, or make the feature less deep."),
            where=f"{_where(cut, step)}, {step.feature}",
        )
    ]


def _corners(work: Work, groups: Sequence[Group]) -> list[Finding]:
    """Inside corners against the cutter that finishes them."""
    pockets = {p.id: p for p in work.member.pockets if p.corners}
    radii = {**{k: p.corner_radius for k, p in pockets.items()}}
    radii |= {n.id: n.corner_radius for n in work.member.notches}
    found = [
        (radii[s.feature] / (s.template.cutter.diameter / 2), cut, s)
        for cut, steps in groups
        for s in steps
        if cut.kind == "wall" and s.feature in radii
    ]
    if not found:
        return []
    ratio, cut, step = min(found, key=lambda p: p[0])
    tight = ratio < WANTED_FILLET - 1e-6
    return [
        Finding(
            "corner radius over cutter radius",
            Verdict.CAUTION if tight else Verdict.GO,
            ratio,
            "",
            WANTED_FILLET,
            ratio - WANTED_FILLET,
            why="The finishing lap slows in tight corners, where the cutter bites wider."
            + (
                f" Ask for a corner_radius of {WANTED_FILLET * step.template.cutter.diameter / 2:.2f} mm, or list a smaller cutter."
                if tight
                else ""
            ),
            where=f"{_where(cut, step)}, {step.feature}",
        )
    ]


def _taps(work: Work) -> list[Finding]:
    holes = [h for h in work.member.holes if h.face == work.setup.face and h.thread and h.kind == "tapped"]
    if not holes:
        return []
    threads = sorted({h.thread or "" for h in holes})
    return [
        Finding(
            f"threads, side {work.setup.side}",
            Verdict.GO,
            float(len(holes)),
            "",
            why=f"{len(holes)} holes are made to their tap drill. Tap {', '.join(threads)} by hand, best while the member is still clamped.",
            where=", ".join(h.id for h in holes[:6]),
        )
    ]


def _time(work: Work, groups: Sequence[Group]) -> Finding:
    cuts = [cut for cut, _ in groups]
    longest = max(cuts, key=lambda c: c.seconds)
    order: list[int] = []
    for cut in cuts:
        if not order or order[-1] != cut.cutter:
            order.append(cut.cutter)
    return Finding(
        f"time, side {work.setup.side}",
        Verdict.GO,
        sum(c.seconds for c in cuts) / 60,
        "min",
        why=f"At this machine's speeds, accelerations and block rate. {len(order)} cutters in turn, changes not counted. "
        f"Longest: {longest.name}, {longest.seconds / 60:.0f} min.",
        where=work.setup.side,
    )
