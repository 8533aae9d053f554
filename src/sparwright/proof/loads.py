"""Loads along the program, as the cutters met the metal in simulation: engagement, chip, force, power, deflection.

Forces after Kienzle: F = kc1.1 b h^(1 - mc) on an edge b wide taking a chip h thick (Kienzle & Victor 1957). Over the
leading half circle a tooth's chip is the feed per tooth times the cosine between its direction and the travel
(undeformed-chip geometry, any machining handbook), and b is the depth of metal met in that direction. What was
met is summed over these directions by the simulation (kernels/meets.py), so no width or depth is nominal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparwright.job.models import Cutter
from sparwright.proof.case import Case, worst_per_move
from sparwright.proof.simulate import Cutaway
from sparwright.proof.stockforce import stock_force
from sparwright.proof.tiles import (
    AREA,
    ENGAGED,
    LEAN,
    MEAN_PULL,
    PEAK_S,
    PEAK_X,
    PULL,
    TOOTH_PULL,
    VOLUME,
    WIDTH,
)

CARBIDE_MODULUS = 600_000.0  # MPa; from memory (about 580 GPa seen second-hand)
CORE_SHARE = 0.75  # diameter of a fluted length in bending, over the cutter's: common practice, no source
TOUCH = 0.01  # metal met less deep than this is not a cut, mm
COSINE, DEPTH, PLUNGED = 0, 1, 3  # columns of what was seen


@dataclass(frozen=True)
class Peak:
    """The greatest figure of one kind along the programs, and where. at: (x, s, n). move: its index."""

    name: str
    value: float
    unit: str
    move: int
    program: str
    line: int
    at: tuple[float, float, float]
    feature: str


UNITS = {
    "engaged": "rad", "width": "mm", "depth": "mm", "chip": "mm", "force": "N", "tooth": "N", "steady": "N",
    "power": "W", "deflection": "mm", "rate": "mm3/min",
}  # fmt: skip


@dataclass(frozen=True)
class Loads:
    """Figures of each of k motions, (k,) float32; zero where a motion cuts nothing, or where its spindle stands still.

    engaged: angle of the cutter's rim in metal, radians; 2 pi where it plunges. width: radial width met, mm. depth:
    of metal over the tip, mm. chip: thickest, mm. force: on a tooth, mean while it is in the metal, tooth: its
    greatest, steady: mean over a turn, all N, tangential. power: W, at the cutter. deflection: of the cutter's end
    under `force`, mm. rate: greatest removal rate, mm3/min. Each is the greatest along the motion. volume: cut away, mm3.
    lean: mean sine of the directions met where the force is greatest, positive with metal to the left of the travel
    (against the feed, for a spindle that turns clockwise). at: (k, 3) place (x, s, n) of the greatest force.
    """

    engaged: np.ndarray
    width: np.ndarray
    depth: np.ndarray
    chip: np.ndarray
    force: np.ndarray
    tooth: np.ndarray
    steady: np.ndarray
    power: np.ndarray
    deflection: np.ndarray
    rate: np.ndarray
    volume: np.ndarray
    lean: np.ndarray
    at: np.ndarray

    def peak(self, case: Case, name: str) -> Peak | None:
        """The greatest of one kind (a key of UNITS), or None where nothing is cut."""
        figures = getattr(self, name)
        if len(figures) == 0 or not figures.max() > 0:
            return None
        k = int(figures.argmax())
        program, line = case.line_of(k)
        x, s, n = (float(v) for v in self.at[k])
        return Peak(
            name, float(figures[k]), UNITS[name], k, program, line, (x, s, n), case.feature_near(x, s)
        )

    def peaks(self, case: Case) -> tuple[Peak, ...]:
        """The greatest of every kind that is above zero."""
        found = (self.peak(case, name) for name in UNITS)
        return tuple(p for p in found if p is not None)


def compliance(cutter: Cutter) -> float:
    """Deflection of the cutter's end under a force there, mm/N: a cantilever of two diameters (beam theory).

    Flutes bend as CORE_SHARE of their diameter; the rest of the stick-out is shank.
    """
    fluted = min(cutter.flute_length, cutter.stick_out)
    i_flute = math.pi * (CORE_SHARE * cutter.diameter) ** 4 / 64
    i_shank = math.pi * cutter.shank**4 / 64
    return (fluted**3 / i_flute + (cutter.stick_out**3 - fluted**3) / i_shank) / (3 * CARBIDE_MODULUS)


def loads_of(case: Case, cut: Cutaway) -> Loads:
    """The loads of every motion of the case.

    A plunge takes the feed per tooth whole, over half its diameter on each edge. On ramps and helices the metal
    under the cutter is counted by the volume cut away over the motion's time.
    """
    moves, k = case.moves, case.move_of
    cutter = np.maximum(moves.cutter, 0)
    flutes = np.array([c.flutes for c in case.job.cutters], dtype=np.float32)[cutter]
    bend = np.array([compliance(c) for c in case.job.cutters], dtype=np.float32)[cutter]
    stock = stock_force(case)
    cuts = (moves.rpm > 0) & (moves.feed > 0) & (moves.spindle != 0) & ~moves.rapid & (moves.cutter >= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        fz = np.where(cuts, moves.feed / (moves.rpm * flutes), 0.0).astype(np.float32)
        minutes = np.where(cuts, moves.length / moves.feed, 0.0).astype(np.float32)
    count = len(moves.line)

    def most(figures: np.ndarray) -> np.ndarray:
        best = np.zeros(count, dtype=np.float32)
        np.maximum.at(best, k, figures)
        best[~cuts] = 0.0
        return best

    met, seen = cut.met, cut.seen
    plunged = most(seen[:, PLUNGED]) > TOUCH
    radius = np.asarray(case.tools.radius, dtype=np.float32)[cutter]
    volume = np.bincount(k, weights=met[:, VOLUME], minlength=count).astype(np.float32)
    edge = stock.kc11 * fz ** (1 - stock.exponent)  # N per mm of edge at the whole feed per tooth
    force, tooth = edge * most(met[:, MEAN_PULL]), edge * most(met[:, TOOTH_PULL])
    steady = edge * most(met[:, PULL]) * flutes / (2 * math.pi)
    turning = steady * 2 * math.pi * radius * moves.rpm / 60_000
    lever = np.where(plunged & (flutes > 1), 0.0, bend)  # two edges that plunge hold each other's force
    half = np.where(plunged, edge * radius, 0.0)  # a plunging edge is half the diameter wide
    force, tooth, steady = np.maximum(force, half), np.maximum(tooth, half), np.maximum(steady, half * flutes)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_rate = np.where(minutes > 0, volume / minutes, 0.0)
    area = np.where(plunged, math.pi * radius**2, most(met[:, AREA]))
    rate = np.where(cuts, np.maximum(area * moves.feed, mean_rate), 0.0).astype(np.float32)
    _, who = worst_per_move(case, met[:, PULL])
    at, lean = np.zeros((count, 3), dtype=np.float32), np.zeros(count, dtype=np.float32)
    known = who >= 0
    at[known, :2], lean[known] = met[who[known], PEAK_X : PEAK_S + 1], met[who[known], LEAN]
    ends = case.sweeps.end[np.maximum(who, 0)] if len(case.sweeps.kind) else np.zeros((count, 3))
    at[:, 2] = ends[:, 2]
    still = known & (met[np.maximum(who, 0), PULL] <= 0 if len(met) else known)
    at[still] = ends[still]
    figures = {
        "engaged": np.where(plunged, 2 * math.pi, most(met[:, ENGAGED])),
        "width": np.where(plunged, 2 * radius, most(met[:, WIDTH])),
        "depth": np.maximum(most(seen[:, DEPTH]), most(seen[:, PLUNGED])),
        "chip": fz * np.where(plunged, 1.0, most(seen[:, COSINE])),
        "force": force,
        "tooth": tooth,
        "steady": steady,
        "power": np.maximum(turning, _power(rate, fz, stock.kc11, stock.exponent)),
        "deflection": force * lever,
        "rate": rate,
        "volume": volume,
        "lean": lean,
        "at": at,
    }
    return Loads(**{name: value.astype(np.float32, copy=False) for name, value in figures.items()})


def _power(rate: np.ndarray, fz: np.ndarray, kc11: float, exponent: float) -> np.ndarray:
    """Power Q kc / 60000, W, of a removal rate Q, mm3/min, its chips as thick as the feed per tooth."""
    with np.errstate(divide="ignore"):
        kc = np.where(fz > 0, kc11 * np.where(fz > 0, fz, 1.0) ** -exponent, 0.0)
    return np.asarray(rate * kc / 60_000)
