"""The bed from above with the member as it lies, and all that the margin of another pose needs."""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
from shapely.geometry import Point, Polygon

from sparwright.job.models import Job
from sparwright.packet.figures import Display
from sparwright.page.pictures import PictureData
from sparwright.placing.chosen import uprights_of
from sparwright.placing.lying import Lying
from sparwright.placing.model import Placement, Setup
from sparwright.placing.moves import Moves, moves_of
from sparwright.placing.pads import Bench
from sparwright.placing.place import bench_of, place
from sparwright.placing.reach import Needed
from sparwright.stock.model import Member

FINE = 0.05
"""mm; outlines on the screen within this."""
GRAIN = 3.0
"""mm; needed positions nearer to each other than about this are drawn as one."""


def build(job: Job, member: Member) -> PictureData:
    """meta: the bed's sizes in mm; lie {x, y, angle in degrees, margin}; what the file says of
    the pose; moves, as in Moves; sides, each with its pads, straps and stop, in (x, t).

    arrays: needed (k, 2); for side i outlines_i (k, 2) of all that is cut in it, starts_i (n + 1) of each outline.
    """
    bed, placing = job.bed, job.file.placing
    meta: dict[str, Any] = {
        "reach": list(bed.reach[:2]),
        "table": [*bed.bed_offset[:2], *(o + b for o, b in zip(bed.bed_offset, bed.bed_size, strict=True))],
        "uprights": vars(uprights_of(bed)),
        "throat": bed.throat,
        "said": {
            k: k in placing.model_fields_set and getattr(placing, k) is not None for k in ("angle", "at")
        },
        "sides": [],
    }
    if not member.worked_faces:
        return PictureData({"nothing": "There is nothing to cut, so the member has no place on the bed."})
    (bench, _), placement = bench_of(member, job, member.worked_faces), place(member, job)
    moves = moves_of(bench)
    meta |= {"lie": _lie(placement, bench.lyings[0]), "moves": _moves(moves)}
    arrays = {"needed": _thinned(bench)}
    setups = {s.side: s for s in placement.setups}
    for i, lying in enumerate(bench.lyings):
        meta["sides"].append(_side(lying, setups.get(lying.face)))
        arrays[f"outlines_{i}"], arrays[f"starts_{i}"] = _outlines(member, lying)
    meta["words"] = partial(_words, job, meta["lie"])
    return PictureData(meta, arrays)


def _lie(placement: Placement, first: Lying) -> dict[str, float]:
    """The pose of the common line, from that of the first side."""
    taken = placement.fit.taken
    assert taken is not None
    pose, c = taken.pose, first.centre
    return {
        "x": pose.x - c * math.sin(pose.angle),
        "y": pose.y + c * math.cos(pose.angle),
        "angle": math.degrees(pose.angle),
        "margin": taken.margin,
    }


def _needed(needed: Needed) -> dict[str, Any]:
    return {"points": needed.points.tolist(), "names": list(needed.names)}


def _moves(moves: Moves) -> dict[str, Any]:
    return {
        "features": _needed(moves.features),
        "ways": [_needed(w.needed) | {"by_hand": w.by_hand} for w in moves.ways],
        "body": moves.body.tolist(),
        "wanted": moves.wanted,
        "room": moves.room,
    }


def _thinned(bench: Bench) -> np.ndarray:
    """Needed positions of all sides in (x, t), those in one square of GRAIN as one."""
    every = np.vstack([y.needed.points - (0.0, y.centre) for y in bench.lyings])
    _, first = np.unique(np.round(every / GRAIN), axis=0, return_index=True)
    return np.asarray(every[first])


def _side(lying: Lying, setup: Setup | None) -> dict[str, Any]:
    """One side's things on the bed in (x, t); none where there is no pose or no place for pads."""
    c = lying.centre
    body = [lying.body[0] - c, lying.body[1] - c]
    out: dict[str, Any] = {
        "name": lying.face,
        "body": body,
        "flip": "",
        "pads": [],
        "straps": [],
        "stop": None,
    }
    if setup is None:
        return out
    out["flip"] = setup.flip
    for pad in setup.pads:
        out["pads"].append({"x": list(pad.x), "t": [v - c for v in pad.s], "locates": pad.locates})
        if pad.stop is not None:
            out["stop"] = {
                "kind": "stop pin",
                "at": [pad.stop[0], pad.stop[1] - c],
                "size": pad.stop_diameter,
            }
    for clamp in setup.clamps:
        ring = np.asarray(clamp.footprint.exterior.coords)[:, :2] - (0.0, c)
        out["straps"].append({"ring": ring.tolist(), "name": clamp.name, "screw": clamp.screw})
    if setup.dowel is not None:
        out["stop"] = {"kind": "dowel", "at": [setup.dowel[0], setup.dowel[1] - c], "size": 6.0}
    return out


def _outlines(member: Member, lying: Lying) -> tuple[np.ndarray, np.ndarray]:
    """Rings of all that is cut in a face, one behind the other, (k, 2) in (x, t), and where each begins, (n + 1,)."""
    shapes: list[Polygon] = [p.outline for p in member.pockets if p.face == lying.face]
    shapes += [n.outline for n in member.notches if n.face == lying.face]
    shapes += [Point(h.at).buffer(h.diameter / 2) for h in member.holes if h.face == lying.face]
    rings = [np.asarray(s.simplify(FINE).exterior.coords)[:, :2] - (0.0, lying.centre) for s in shapes]
    starts = np.cumsum([0, *(len(r) for r in rings)])
    return np.vstack(rings) if rings else np.zeros((0, 2)), starts.astype(np.uint32)


def _words(job: Job, lie: dict[str, float], show: Display) -> str:
    bed = job.bed
    spare = f"{show.size(abs(lie['margin']), 1)} {'to spare' if lie['margin'] >= 0 else 'missing'}"
    return (
        f"The bed from above: reach {show.length(bed.reach[0])} by {show.size(bed.reach[1])}, {show.size(bed.throat)} between the uprights. "
        f"The member lies at {lie['angle']:.2f} degrees with {spare}."
    )
