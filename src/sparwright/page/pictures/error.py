"""The error at every feature as a ghost drawn far too large: where its outline may come out, side by side."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import Point

from sparwright.job.models import Job
from sparwright.packet.figures import Display
from sparwright.page.pictures import PictureData
from sparwright.placing.error import COVERAGE, FeatureError, budget
from sparwright.placing.fitting import fit_job
from sparwright.placing.place import bearing_walls, bench_of, errors_situation
from sparwright.stock.model import Member

LARGEST = 7.0
"""mm on the member that the greatest error is drawn as, at most."""
FINE = 0.05
FACTORS = (1000, 500, 200, 100, 50, 20, 10, 5, 2, 1)


def build(job: Job, member: Member) -> PictureData:
    """meta: length, mm; factor of the ghosts; sides with name, half width and words; note where there is nothing.

    arrays, for side i: outline_i (k, 2) in (x, t) with begins_i (n + 1), and the same as ghost_i, where_i.
    """
    meta: dict[str, Any] = {"length": member.length, "factor": 1, "sides": [], "note": ""}
    if not member.worked_faces:
        return PictureData(meta | {"note": "Nothing is cut."})
    bench, _ = bench_of(member, job, member.worked_faces)
    fitted = fit_job(bench)
    if fitted.arrangement is None or fitted.lie.margin < 0:
        return PictureData(
            meta | {"note": "It does not fit, so there are no set-ups whose errors could be told."}
        )
    errors = budget(
        member, bench.lyings, bearing_walls(bench), errors_situation(bench, fitted, fitted.arrangement)
    )
    most = COVERAGE * max(max(e.u_x, e.u_s) for e in errors)
    meta["factor"] = next((f for f in FACTORS if f * most <= LARGEST), 1)
    arrays: dict[str, np.ndarray] = {}
    for i, lying in enumerate(bench.lyings):
        mine = {e.feature: e for e in errors if e.side == lying.face}
        outlines = [
            shapely.affinity.translate(o, 0.0, -lying.centre) for o in _outlines(member, lying.face, mine)
        ]
        ghosts = [ghost(o, e, meta["factor"]) for o, e in zip(outlines, mine.values(), strict=True)]
        arrays[f"outline_{i}"], arrays[f"begins_{i}"] = _rings(outlines)
        arrays[f"ghost_{i}"], arrays[f"where_{i}"] = _rings(ghosts)
        worst = max(mine.values(), key=lambda e: max(e.u_x, e.u_s))
        body = [v - lying.centre for v in lying.body]
        meta["sides"].append({"name": lying.face, "body": body, "words": partial(_words, lying.face, worst)})
    return PictureData(meta, arrays)


def ghost(outline: shapely.Polygon, error: FeatureError, factor: float) -> shapely.Polygon:
    """Where an outline may come out within the coverage factor, `factor` times too large: its hull moved to all corners."""
    dx, ds = (factor * COVERAGE * u for u in (error.u_x, error.u_s))
    moved = [shapely.affinity.translate(outline, a * dx, b * ds) for a in (-1, 1) for b in (-1, 1)]
    return shapely.union_all(moved).convex_hull


def _words(face: str, worst: FeatureError, show: Display) -> str:
    return (
        f"Face {face}: least sure is {worst.feature}, ± {show.size(COVERAGE * worst.u_x, 3)} along and "
        f"± {show.size(COVERAGE * worst.u_s, 3)} across (coverage factor 2)."
    )


def _outlines(member: Member, face: str, errors: dict[str, FeatureError]) -> list[shapely.Polygon]:
    """The outline of every feature that has an error, in the order of those, in (x, s)."""
    found = {h.id: Point(h.at).buffer(h.diameter / 2) for h in member.holes if h.face == face}
    found |= {p.id: p.outline for p in member.pockets if p.face == face}
    found |= {n.id: n.outline for n in member.notches if n.face == face}
    return [found[name] for name in errors]


def _rings(shapes: list[shapely.Polygon]) -> tuple[np.ndarray, np.ndarray]:
    rings = [np.asarray(s.simplify(FINE).exterior.coords)[:, :2] for s in shapes]
    return np.vstack(rings), np.cumsum([0, *(len(r) for r in rings)]).astype(np.uint32)
