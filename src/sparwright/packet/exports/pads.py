"""The pads as STEP, each by itself, as the machine leaves it for the first side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sparwright.cutting.model import SideCuts
from sparwright.packet.exports.step import write_shape
from sparwright.placing.model import Pad

OUT = 1.0  # mm, how far a cutting body stands out of the sheet
NOTE = (
    "Slot as cut for side {side}, holes as deep as they are bored. X across and Y along the member from the marked "
    "corner, Z0 on top."
)


def bored_depths(cuts: Sequence[SideCuts]) -> dict[str, float]:
    """Depth below the pads' top of every hole the machine bores, mm, by the name of the hole."""
    return {
        piece.feature: -float(piece.path.end[:, 2].min())
        for side in cuts
        for cut in side.cuts
        if cut.kind == "bore"
        for piece in cut.pieces
    }


def write_pads(pads: Sequence[Pad], side: str, depths: Mapping[str, float], folder: Path) -> tuple[str, ...]:
    """Write pad-1.step and on, as numbered on the sheet of the pads, and list their names.

    side: the first side, whose slot they have. depths: as bored_depths gives them.
    """
    names = []
    for number, pad in enumerate(pads, 1):
        name = f"pad-{number}.step"
        write_shape(pad_shape(pad, side, depths), f"Pad {number}", NOTE.format(side=side), folder / name)
        names.append(name)
    return tuple(names)


def pad_shape(pad: Pad, side: str, depths: Mapping[str, float]) -> Any:
    """A pad as a solid of the geometry kernel (netgen.occ), mm.

    X across and Y along the member from the corner marked on the pad's drawing, Z up from the pad's top. A hole whose
    depth is not in `depths`, drilled by hand, goes through the sheet.
    """
    from netgen.occ import Box, Cylinder, Dir, Pnt

    def across(s: float) -> float:
        return pad.s[1] - s

    long, wide = pad.x[1] - pad.x[0], pad.s[1] - pad.s[0]
    shape = Box(Pnt(0, 0, -pad.thickness), Pnt(wide, long, 0))
    low, high = pad.slot[side]
    shape = shape - Box(
        Pnt(across(high), -OUT, -pad.slot_depth),
        Pnt(across(low), long + OUT, OUT),
    )
    for (x, s), diameter, depth in _holes(pad, depths):
        top = Pnt(across(s), x - pad.x[0], OUT)
        shape = shape - Cylinder(top, Dir(0, 0, -1), diameter / 2, OUT + depth)
    return shape


def _holes(pad: Pad, depths: Mapping[str, float]) -> list[tuple[tuple[float, float], float, float]]:
    """Every hole of a pad: (x, s), diameter, depth below its top."""
    through = pad.thickness + OUT
    holes = [
        (at, pad.insert_diameter, depths.get(f"insert {i} of {pad.name}", through))
        for i, at in enumerate(pad.inserts, 1)
    ]
    holes += [(at, pad.insert_diameter, through) for at in pad.by_hand]
    if pad.stop is not None:
        holes.append((pad.stop, pad.stop_diameter, depths.get(f"stop pin of {pad.name}", through)))
    return holes
