"""How the member lies with one of its faces up, and in which order the sides must be cut.

The locating slots of all sides are cut about one line of the bed, so that one pose line serves every side:
`centre` is where that line runs across the face. Positions measured from it are called t: t = s - centre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon, box

from sparwright.job.models import Cutter
from sparwright.placing.reach import Needed, feature_positions
from sparwright.stock.model import Face, Member

STANDS = 0.05
"""Metal within this of the lowest point stands on the slot's floor, mm."""
SAME_WIDTH = 0.01
"""Slots whose widths differ by less than this are the same slot, mm."""


@dataclass(frozen=True)
class Lying:
    """The member with one face up; s and n of that face, mm.

    slot: s-extent of the lowest `slot_depth` mm, without clearance. body: s-extent of all of it. rest: s-extent of
    what stands on the slot's floor. height: of the face over the slot's floor. above: how far the section rises over the
    face. half_flat: half the face's width. middle: s of the section's centroid. section: outline in (s, n).
    needed: cutter-centre positions in (x, s).
    """

    face: str
    slot: tuple[float, float]
    body: tuple[float, float]
    rest: tuple[float, float]
    height: float
    above: float
    half_flat: float
    middle: float
    section: Polygon
    needed: Needed

    @property
    def centre(self) -> float:
        """s of the slot's middle."""
        return (self.slot[0] + self.slot[1]) / 2

    @property
    def half_width(self) -> float:
        """Half the slot's width without clearance, mm."""
        return (self.slot[1] - self.slot[0]) / 2


def seen_from(section: Polygon, face: Face) -> Polygon:
    """A polygon in (y, z) in the (s, n) of a face."""
    a, n, c = face.across, face.normal, np.asarray(face.centre)
    return affinity.affine_transform(section, [a[0], a[1], n[0], n[1], -float(a @ c), -float(n @ c)])


def lie_down(member: Member, name: str, slot_depth: float, cutters: Sequence[Cutter]) -> Lying:
    """The member lying with that face up in slots `slot_depth` mm deep; KeyError where there is no such face."""
    face = member.section.face(name)
    shape = seen_from(member.section.shape, face)
    smin, bottom, smax, top = shape.bounds

    def extent(height: float) -> tuple[float, float]:
        part = shape.intersection(box(smin - 1, bottom - 1, smax + 1, bottom + height))
        return (float(part.bounds[0]), float(part.bounds[2]))

    return Lying(
        face=name,
        slot=extent(slot_depth),
        body=(float(smin), float(smax)),
        rest=extent(STANDS),
        height=float(-bottom),
        above=float(max(0.0, top)),
        half_flat=face.width / 2,
        middle=float(shape.centroid.x),
        section=shape,
        needed=feature_positions(member, name, cutters),
    )


def slot_order(
    slots: Sequence[tuple[str, tuple[float, float]]], prefer: Sequence[str]
) -> tuple[tuple[str, ...], bool]:
    """The order in which sides can be cut when each needs its slot's walls, and whether there is one.

    slots: side and (from, to) across one common axis, mm. A side's slot must be cut before the side; a slot that
    takes away metal beside another's must come after that other side is cut, since a slot can only be widened.
    Among sides free to go next the one earliest in `prefer` goes. Where the slots form a circle (each spoils the
    other's wall) the second value is False and the order is `prefer`.
    """
    graph: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for side, (low, high) in slots:
        graph.setdefault(("side", side), set()).add(("slot", side))
        for other, (low2, high2) in slots:
            spoils = low < low2 - SAME_WIDTH or high > high2 + SAME_WIDTH
            if other != side and spoils:
                graph.setdefault(("slot", side), set()).add(("side", other))
    sorter = TopologicalSorter(graph)
    try:
        sorter.prepare()
    except CycleError:
        return tuple(prefer), False
    order: list[str] = []
    ready: list[tuple[str, str]] = []
    while sorter.is_active():
        ready += sorter.get_ready()
        slots_ready = [task for task in ready if task[0] == "slot"]
        task = min(slots_ready or ready, key=lambda t: list(prefer).index(t[1]))
        ready.remove(task)
        sorter.done(task)
        if task[0] == "side":
            order.append(task[1])
    return tuple(order), True


def metal_out(member: Member, face: str) -> float:
    """Metal cut from one face, mm³: pockets, notches and holes as straight-sided."""
    pockets = sum(p.outline.area * p.depth for p in member.pockets if p.face == face)
    notches = sum(n.outline.area * n.depth for n in member.notches if n.face == face)
    holes = sum(np.pi / 4 * h.diameter**2 * h.depth for h in member.holes if h.face == face)
    return float(pockets + notches + holes)


def side_order(member: Member, lyings: Sequence[Lying]) -> tuple[tuple[str, ...], str]:
    """The order of the sides, and why.

    The narrower slot goes first, since a slot can only be widened. Where the slots are alike the side that loses more
    metal goes first: the heavy cutting is then done while the opposite wall is whole, and the lighter side is
    left for the weakened member.
    """
    prefer = [lying.face for lying in sorted(lyings, key=lambda y: -metal_out(member, y.face))]
    slots = [(y.face, (-y.half_width, y.half_width)) for y in lyings]
    order, _ = slot_order(slots, prefer)
    widths = sorted(2 * y.half_width for y in lyings)
    if len(lyings) == 1:
        return order, f"Only side {order[0]} is cut."
    if widths[-1] - widths[0] > SAME_WIDTH:
        return order, (
            f"Side {order[0]} goes first: its slot is the narrower, and a slot can only be widened "
            f"({', '.join(f'{w:.2f}' for w in widths)} mm)."
        )
    return order, (
        f"Side {order[0]} goes first: it loses the most metal, so the heavy cutting is done while the other wall is "
        "whole. All sides share one slot."
    )
