"""Checks of what the cutters meet on their way, as seen in simulation: rapids, plunges, shank, holder, chip, depth."""

from __future__ import annotations

import math

import numpy as np

from sparwright.answers import Verdict
from sparwright.proof import kernels
from sparwright.proof.case import Case, blame_moves, passed, worst_per_move
from sparwright.proof.loads import climbing_shares
from sparwright.proof.model import ProofFinding
from sparwright.proof.plane import check_second
from sparwright.proof.simulate import Cutaway
from sparwright.proof.tiles import VOLUME

COSINE, DEPTH, RAPID_TOUCH, PLUNGE, SHANK, HOLDER = range(6)
TOUCH = 0.01  # metal standing less than this into a move is taken as a touch without a cut, mm
# A cutter that does not cut to its centre is led into metal at 2 to 5 degrees, seldom over 10: common practice, no source.
STEEP = 15.0
UNDER = 0.25  # of what its whole disc sweeps in falling: where more is cut away, metal lies under its middle
# A chip thinner than the feed per tooth is allowed for down to this share.
LEAST_THINNING = 1 / 3
SHAVED = 0.02  # mm2 of metal cut away on average along a motion from which it is a cut, however little the map's cells show
# Chip over the cutter's chip load. Lists of chip loads differ by half from one maker to the next (from memory), and
# a cusp left between two passes is met squarely for a moment however light the cut.
CHIP_CAUTION, CHIP_NO_GO = 1.5, 2.0


def check_touch(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Rapids through metal, plunges by cutters that cannot, shank or holder against metal left standing."""
    findings = []
    plunges = np.array([c.plunges for c in case.job.cutters])
    numbers = [c.number for c in case.job.cutters]
    sayings = (
        (
            "rapid",
            RAPID_TOUCH,
            "runs at rapid through {:.2f} mm of metal. Raise the cutter first, or feed here",
        ),
        (
            "plunge",
            PLUNGE,
            "plunges {:.2f} mm straight into metal with T{}, which does not cut to its centre. Ramp in",
        ),
        (
            "shank",
            SHANK,
            "rubs the shank of T{1} on metal {0:.2f} mm above its flutes. Use a cutter with longer flutes",
        ),
        ("holder", HOLDER, "runs the holder of T{1} {0:.2f} mm into metal. Set the cutter out further"),
    )
    for check, column, saying in sayings:
        depth, who = worst_per_move(case, cut.seen[:, column])
        bad = depth > TOUCH
        if check == "plunge":
            bad &= ~plunges[case.moves.cutter]

        def message(k: int, saying: str = saying, depth: np.ndarray = depth) -> str:
            return saying.format(depth[k], numbers[case.moves.cutter[k]])

        def at(k: int, who: np.ndarray = who) -> tuple[float, float, float]:
            x, s = cut.at[who[k]]
            low, _ = case.extents.of(np.array([k]))
            return float(x), float(s), float(min(low[0, 2], 0.0))

        findings += blame_moves(
            case, check, np.flatnonzero(bad), Verdict.NO_GO, message, value=depth, limit=0.0, unit="mm", at=at
        )
    findings += _steep(case, cut, plunges)
    return findings or [
        passed(
            "touch",
            "no rapid, shank or holder meets metal, and no cutter plunges that cannot",
            0.0,
            TOUCH,
            "mm",
        )
    ]


def _steep(case: Case, cut: Cutaway, plunges: np.ndarray) -> list[ProofFinding]:
    """Ramps and helices into metal so steep that they are plunges, by cutters that do not cut to their centre."""
    moves = case.moves
    cutter = np.maximum(moves.cutter, 0)
    fall = moves.start[:, 2] - moves.end[:, 2]
    along = np.sqrt(np.maximum(moves.length**2 - fall**2, 0.0))
    angle = np.degrees(np.arctan2(np.maximum(fall, 0.0), along))
    volume = np.bincount(case.move_of, weights=cut.met[:, VOLUME], minlength=len(fall))
    under = volume > UNDER * math.pi * case.tools.radius[cutter] ** 2 * fall
    bad = ~plunges[cutter] & (moves.cutter >= 0) & ~moves.rapid & (angle > STEEP) & (along > 1e-6) & under
    return blame_moves(
        case,
        "plunge",
        np.flatnonzero(bad),
        Verdict.NO_GO,
        lambda k: (
            f"falls into metal at {angle[k]:.0f} degrees with T{moves.tool[k]}, which does not cut to its centre. Ramp in at "
            "2 to 5 degrees"
        ),
        value=angle,
        limit=STEEP,
        unit="deg",
    )


def chip_shares(case: Case, cut: Cutaway) -> np.ndarray:
    """Chip met over the cutter's chip load, (k,) of every motion; -inf where a motion cuts nothing.

    The chip's thickness is the feed per tooth times the greatest cosine between the feed and a direction in
    which the cutter meets metal (thickness of a milled chip, h = fz sin of the engagement angle measured from
    the wall: any machining handbook). A plunge takes the feed per tooth whole. The map's cells make a light
    cut look wider than it is; motions that seem to take too much are therefore looked at again exactly.
    """
    moves, flutes = case.moves, np.array([c.flutes for c in case.job.cutters])
    with np.errstate(divide="ignore", invalid="ignore"):
        per_tooth = np.nan_to_num(moves.feed / (moves.rpm * flutes[moves.cutter]), nan=0.0, posinf=0.0)
    # over the cutter's chip load, where nothing thins the chip
    whole = (per_tooth / case.scene.chips[moves.cutter])[case.move_of] * climbing_shares(case)
    plunge = cut.seen[:, PLUNGE] > TOUCH
    cosine = np.where(case.sweeps.rapid, 0.0, np.where(plunge, 1.0, cut.seen[:, COSINE]))
    doubtful = np.flatnonzero(~plunge & (_thinned(cosine) * whole > CHIP_CAUTION))
    exact = cosine[doubtful].astype(float)
    kernels.meet_exactly(
        case.scene.before, case.scene.grid, case.scene.tops, case.scene.bottoms, cut.buckets, case.sweeps, case.tools,
        doubtful, exact,
    )  # fmt: skip
    cosine[doubtful] = exact
    cosine = np.where(_shaves(case, cut)[case.move_of], np.maximum(cosine, LEAST_THINNING), cosine)
    share, _ = worst_per_move(case, _thinned(cosine) * whole)
    return share


def _shaves(case: Case, cut: Cutaway) -> np.ndarray:
    """Feed motions that cut metal away, (k,) bool: side cuts thinner than the cells, and edges a V breaks with its flank
    above the height its width is taken at, are cuts as well.
    """
    moves = case.moves
    volume = np.bincount(case.move_of, weights=cut.met[:, VOLUME], minlength=len(moves.line))
    return np.asarray(~moves.rapid & (volume > SHAVED * moves.length) & (moves.length > 0))


def _thinned(cosine: np.ndarray) -> np.ndarray:
    return np.where(cosine > 0, np.maximum(cosine, LEAST_THINNING), 0.0)


def check_chip(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Chip thickness as met against the cutter's chip load."""
    share = chip_shares(case, cut)
    chips = case.scene.chips[case.moves.cutter]

    def message(k: int) -> str:
        return (
            f"cuts a chip of {share[k] * chips[k]:.3f} mm, {share[k]:.1f} times what T{case.moves.tool[k]} takes "
            f"({chips[k]:.3g} mm). Lower the feed of {case.moves.feed[k]:.0f} mm/min to "
            f"{case.moves.feed[k] / share[k]:.0f}"
        )

    findings = blame_moves(
        case,
        "chip",
        np.flatnonzero(share > CHIP_NO_GO),
        Verdict.NO_GO,
        message,
        value=share,
        limit=CHIP_CAUTION,
    )
    findings = findings or blame_moves(
        case,
        "chip",
        np.flatnonzero(share > CHIP_CAUTION),
        Verdict.CAUTION,
        message,
        value=share,
        limit=CHIP_CAUTION,
    )
    most = float(share.max(initial=0.0))
    return findings or [
        passed("chip", f"the thickest chip is {most:.2f} of what its cutter takes", most, CHIP_CAUTION)
    ]


def check_depth(case: Case, cut: Cutaway) -> list[ProofFinding]:
    """Depth of metal met against the cutter's flutes."""
    depth, _ = worst_per_move(case, cut.seen[:, DEPTH])
    flute = case.tools.flute[case.moves.cutter]
    bad = np.flatnonzero((depth > flute + TOUCH) & (case.moves.cutter >= 0))
    most = int((depth / flute).argmax()) if len(depth) else 0
    return blame_moves(
        case,
        "depth of cut",
        bad,
        Verdict.NO_GO,
        lambda k: (
            f"meets metal {depth[k]:.2f} mm deep with T{case.moves.tool[k]}, whose flutes are {flute[k]:g} mm long. "
            "Take it in more passes, or use longer flutes"
        ),
        value=depth,
        limit=float(flute[bad[0]]) if len(bad) else None,
        unit="mm",
    ) or [
        passed(
            "depth of cut",
            "metal is met no deeper than the flutes are long",
            float(max(depth[most], 0.0)) if len(depth) else 0.0,
            float(flute[most]) if len(depth) else None,
            "mm",
        )
    ]


CHECKS = (check_touch, check_chip, check_depth, check_second)
