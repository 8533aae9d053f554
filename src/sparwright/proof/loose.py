"""Pieces cut free: metal that hangs on nothing once the programs have run, or before a later cut takes it away."""

from __future__ import annotations

import numpy as np
import shapely
from scipy import ndimage

from sparwright.answers import Verdict
from sparwright.proof.case import Case, named, passed
from sparwright.proof.freed import check_freed
from sparwright.proof.joined import FOIL, pieces
from sparwright.proof.kernels import AIR
from sparwright.proof.model import ProofFinding
from sparwright.proof.simulate import Cutaway

CRUMB = 1.0  # a piece smaller than this over the face is a chip, mm2


def check_loose(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Metal that no longer hangs on the rest, the section's own walls and webs counted, at the end and on the way.

    Of every piece of stock the largest part stays, and what a clamp bears on. Cutters are taken as grown by half a
    cell's diagonal, so that a bridge narrower than that holds nothing.
    """
    scene = case.scene
    fine = passed("loose piece", "no piece of metal is cut free", 0.0, CRUMB, "mm2")
    stock = scene.before > AIR / 2
    if not (stock & (cut.grown <= scene.bottoms[:, :1] + FOIL)).any():
        return [fine]  # nothing is cut through
    whole = pieces(scene.before, scene.tops, scene.bottoms)
    parts = pieces(cut.grown, scene.tops, scene.bottoms, whole.top)
    places = ndimage.find_objects(parts.top + 1, len(parts.bulk))
    findings = check_freed(case, cut)
    for part, place in enumerate(places):
        area = float(parts.cells[part] * scene.grid.cell**2)
        rivals = np.flatnonzero(parts.of == parts.of[part])
        if area < CRUMB or place is None or part == int(rivals[parts.bulk[rivals].argmax()]):
            continue
        findings += _piece(case, cut, parts.top, part, place, area)
    return findings or [fine]


def _piece(
    case: Case, cut: Cutaway, parts: np.ndarray, part: int, place: tuple[slice, ...], area: float
) -> list[ProofFinding]:
    grid = case.scene.grid
    wide = tuple(slice(max(p.start - 2, 0), p.stop + 2) for p in place)
    here = parts[wide] == part
    rows, cols = np.nonzero(here)
    s = grid.s0 + (wide[0].start + rows + 0.5) * grid.cell
    x = grid.x0 + (wide[1].start + cols + 0.5) * grid.cell
    if any(o.kind == "clamp" and shapely.contains_xy(o.outline, x, s).any() for o in case.scene.obstacles):
        return []
    rim = ndimage.binary_dilation(here, iterations=2) & ~here
    sweep = int(cut.grown_by[wide][rim].max(initial=-1))
    program, line = case.line_of_sweep(sweep)
    middle = float(x.mean()), float(s.mean())
    feature = case.feature_near(*middle)
    near = f" near {feature}" if feature else ""
    size = f"{np.ptp(x) + grid.cell:.1f} by {np.ptp(s) + grid.cell:.1f} mm"
    return [
        ProofFinding(
            "loose piece",
            Verdict.NO_GO,
            f"{named(program, line)} cuts free a piece of {size}{near} that hangs on nothing. Leave tabs, or clear it "
            "away in full",
            feature=feature,
            program=program,
            line=line,
            at=(*middle, 0.0),
            value=area,
            limit=CRUMB,
            unit="mm2",
        )
    ]
