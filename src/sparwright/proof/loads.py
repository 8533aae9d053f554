"""Loads along the program, as the cutters met the metal in simulation: engagement, chip, force, power, deflection.

Forces after Kienzle: F = kc1.1 b h^(1 - mc) on an edge b wide taking a chip h thick (Kienzle & Victor 1957). Over the
leading half circle a tooth's chip is the feed per tooth times the cosine between its direction and the travel
(undeformed-chip geometry, any machining handbook), and b is the depth of metal met in that direction. What was
met is summed over these directions by the simulation (kernels/meets.py), so no width or depth is nominal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from sparwright.job.models import Cutter
from sparwright.proof.case import Case, worst_per_move
from sparwright.proof.extents import BLOCK
from sparwright.proof.kernels import ARC, BALL, FLAT, Sweeps, Tools
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

CARBIDE_MODULUS = (
    600_000.0  # MPa, see load_checks.STRENGTH for the source: 700 GPa with little cobalt to 350 with much
)
CORE_SHARE = 0.75  # diameter of a fluted length in bending, over the cutter's: common practice, no source
ONE_SIDED = 0.15  # mean sine short of that of metal on one side alone
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
    """The loads of every motion of the case, worked out some motions at a time."""
    count = len(case.moves.line)
    if count <= BLOCK:
        return _loads_of(case, cut)
    edges = np.append(np.arange(0, count, BLOCK), count)
    sweeps = np.searchsorted(case.move_of, edges)  # sweeps lie in the order of their motions
    whole: dict[str, np.ndarray] = {}
    for a, b, p, q in zip(edges[:-1], edges[1:], sweeps[:-1], sweeps[1:], strict=True):
        some = replace(
            case,
            moves=case.moves.part(slice(a, b)),
            sweeps=Sweeps(*(column[p:q] for column in case.sweeps)),
            move_of=case.move_of[p:q] - np.int32(a),
        )
        part = _loads_of(some, replace(cut, met=cut.met[p:q], seen=cut.seen[p:q]))
        for name, figures in vars(part).items():
            whole.setdefault(name, np.empty((count, *figures.shape[1:]), figures.dtype))[a:b] = figures
    return Loads(**whole)


def _loads_of(case: Case, cut: Cutaway) -> Loads:
    """The loads of every motion.

    A plunge takes the feed per tooth whole, on edges that reach as far out as its point is in the metal. On ramps and
    helices the metal under the cutter is counted by the volume cut away over the motion's time.
    """
    moves, k = case.moves, case.move_of
    turn = _turning(case)
    stock = stock_force(case)
    met, seen = _met(case, cut)
    mean, tooth, cosine = _pulls(case, met, seen, stock.exponent)

    def most(figures: np.ndarray) -> np.ndarray:
        best = np.zeros(len(moves.line), dtype=np.float32)
        np.maximum.at(best, k, figures)
        best[~turn.cuts] = 0.0
        return best

    deep = most(seen[:, PLUNGED])
    plunged = deep > TOUCH
    reach = np.where(plunged, radius_at(case.tools, turn.cutter, deep), 0.0).astype(np.float32)
    volume = np.bincount(k, weights=met[:, VOLUME], minlength=len(moves.line)).astype(np.float32)
    edge = stock.kc11 * turn.fz ** (1 - stock.exponent)  # N per mm of edge at the whole feed per tooth
    steady = edge * most(met[:, PULL]) * turn.flutes / (2 * math.pi)
    power = steady * 2 * math.pi * turn.radius * moves.rpm / 60_000
    half = edge * reach  # a plunging edge is half as wide as its hole
    force = np.maximum(edge * most(mean), half)
    lever = np.where(plunged & (turn.flutes > 1), 0.0, turn.bend)  # edges that plunge hold each other's force
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_rate = np.where(turn.minutes > 0, volume / turn.minutes, 0.0)
    area = np.where(plunged, math.pi * reach**2, most(met[:, AREA]))
    rate = np.where(turn.cuts, np.maximum(area * turn.feed, mean_rate), 0.0)
    at, lean = _places(case, met)
    figures = {
        "engaged": np.where(plunged, 2 * math.pi, most(met[:, ENGAGED])),
        "width": np.where(plunged, 2 * reach, most(met[:, WIDTH])),
        "depth": np.maximum(most(seen[:, DEPTH]), deep),
        "chip": turn.fz * np.where(plunged, 1.0, most(cosine)),
        "force": force,
        "tooth": np.maximum(edge * most(tooth), half),
        "steady": np.maximum(steady, half * turn.flutes),
        "power": np.maximum(power, _power(rate, turn.fz, stock.kc11, stock.exponent)),
        "deflection": force * lever,
        "rate": rate,
        "volume": volume,
        "lean": lean,
        "at": at,
    }
    return Loads(**{name: value.astype(np.float32, copy=False) for name, value in figures.items()})


@dataclass(frozen=True)
class _Turning:
    """Of each motion, (k,): cutter, its index; cuts, whether it feeds with a turning cutter; flutes, radius (mm) and
    compliance (mm/N) of it; feed over the face, mm/min, feed per tooth, mm, and minutes taken, 0 where it does not cut.
    """

    cutter: np.ndarray
    cuts: np.ndarray
    flutes: np.ndarray
    radius: np.ndarray
    bend: np.ndarray
    feed: np.ndarray
    fz: np.ndarray
    minutes: np.ndarray


def _turning(case: Case) -> _Turning:
    moves = case.moves
    cutter = np.maximum(moves.cutter, 0)
    flutes = np.array([c.flutes for c in case.job.cutters], dtype=np.float32)[cutter]
    bend = np.array([compliance(c) for c in case.job.cutters], dtype=np.float32)[cutter]
    radius = np.asarray(case.tools.radius, dtype=np.float32)[cutter]
    cuts = (moves.rpm > 0) & (moves.feed > 0) & (moves.spindle != 0) & ~moves.rapid & (moves.cutter >= 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        feed = moves.feed * _over_the_face(case)
        fz = np.where(cuts, feed / (moves.rpm * flutes), 0.0).astype(np.float32)
        minutes = np.where(cuts, moves.length / moves.feed, 0.0).astype(np.float32)
    return _Turning(cutter, cuts, flutes, radius, bend, feed, fz, minutes)


def _over_the_face(case: Case) -> np.ndarray:
    """Share of its feed each motion makes over the face, (k,); 1 but for what climbs."""
    share = np.ones(len(case.moves.line))
    share[case.move_of] = climbing_shares(case)
    return share


def climbing_shares(case: Case) -> np.ndarray:
    """Share of its feed each sweep makes over the face, (m,), where it climbs out; 1 for all others.

    A tooth's chip on the side is as thick as the feed over the face makes it, and a cutter that climbs has no metal under it.
    """
    rise = case.sweeps.end[:, 2] - case.sweeps.start[:, 2]
    flat = sweep_lengths(case)
    climbs = (rise > 0) & (flat > 0)
    return np.where(climbs, flat / np.where(climbs, np.hypot(flat, rise), 1.0), 1.0)


def radius_at(tools: Tools, cutter: np.ndarray, height: np.ndarray) -> np.ndarray:
    """Radius of cutters (indices, (k,)) at a height over their tips, within the flutes, mm."""
    form, radius = np.asarray(tools.form)[cutter], np.asarray(tools.radius)[cutter]
    point = np.asarray(tools.tip)[cutter] + height / np.asarray(tools.slope)[cutter]
    short = radius - np.minimum(height, radius)
    ball = np.sqrt(radius**2 - short**2)
    return np.where(form == FLAT, radius, np.where(form == BALL, ball, np.minimum(point, radius)))


def _met(case: Case, cut: Cutaway) -> tuple[np.ndarray, np.ndarray]:
    """What the sweeps met and saw, as the simulation has it, but nothing where a sweep takes too little away to have met
    it: the looks go half a cell ahead of the rim, and at a move's end what stands there is left to another.

    Who runs half a cell deep into metal whose section is A takes at least A cell / 3 away (a rim that meets a flat wall
    takes 2/3 of its section times its way). Sweeps shorter than a cell are believed.
    """
    cell = case.scene.grid.cell
    none = (sweep_lengths(case) >= cell) & (cut.met[:, VOLUME] < cut.met[:, AREA] * cell / 3)
    met, seen = cut.met.copy(), cut.seen.copy()
    met[none, :LEAN] = 0.0
    seen[none, : DEPTH + 1] = 0.0
    return met, seen


def _pulls(case: Case, met: np.ndarray, seen: np.ndarray, exponent: float) -> tuple[np.ndarray, ...]:
    """Of each sweep, (m,): the pull on a tooth, mean over the directions engaged and greatest, mm, and the greatest cosine
    of a direction engaged to the travel.

    Beside a wall the looks are blurred by a cell or so, which makes the chip of a narrow cut too thick. Where metal
    lies on one side alone, as its mean sine tells, a cut w wide engages an angle of acos(1 - w / r) from the wall,
    and no more pull is taken than that angle gives. w: as looked at, or by the volume taken, whichever is more.
    """
    radius = np.asarray(case.tools.radius)[case.sweeps.tool]
    deep = seen[:, DEPTH]
    with np.errstate(divide="ignore", invalid="ignore"):
        by_volume = np.where(deep > 0, met[:, VOLUME] / (deep * sweep_lengths(case)), 0.0)
        across = np.clip(np.maximum(met[:, WIDTH], by_volume) / radius, 0.0, 2.0)
        angle = np.arccos(1 - across)
        sine = np.where(angle > 0, np.sqrt(across * (2 - across)) / angle, np.inf)
    beside = abs(met[:, LEAN]) > sine - ONE_SIDED
    chip = np.sin(np.minimum(angle, math.pi / 2))
    fine = np.linspace(0, math.pi, 721)[1:]
    means = np.cumsum(np.sin(fine - fine[0] / 2) ** (1 - exponent)) / np.arange(1, 721)
    figures = (
        (met[:, MEAN_PULL], deep * np.interp(angle, fine, means)),
        (met[:, TOOTH_PULL], deep * chip ** (1 - exponent)),
        (seen[:, COSINE], chip),
    )
    mean, tooth, cosine = (np.where(beside, np.minimum(looked, most), looked) for looked, most in figures)
    return np.minimum(mean, tooth), tooth, cosine


def sweep_lengths(case: Case) -> np.ndarray:
    """Length of each sweep over the face, mm, (m,)."""
    sweeps = case.sweeps
    straight = np.hypot(*(sweeps.end - sweeps.start)[:, :2].T)
    arc = abs(sweeps.turn) * np.hypot(*(sweeps.start[:, :2] - sweeps.centre[:, :2]).T)
    return np.where(sweeps.kind == ARC, arc, straight)


def _places(case: Case, met: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each motion pulls hardest, (x, s, n), (k, 3), and its lean there, (k,); the end of what only goes down."""
    count = len(case.moves.line)
    at, lean = np.zeros((count, 3), dtype=np.float32), np.zeros(count, dtype=np.float32)
    if len(met) == 0:
        return at, lean
    pull, who = worst_per_move(case, met[:, PULL])
    known = who >= 0
    at[known] = case.sweeps.end[who[known]]
    pulls = known & (pull > 0)
    at[pulls, :2], lean[pulls] = met[who[pulls], PEAK_X : PEAK_S + 1], met[who[pulls], LEAN]
    return at, lean


def _power(rate: np.ndarray, fz: np.ndarray, kc11: float, exponent: float) -> np.ndarray:
    """Power Q kc / 60000, W, of a removal rate Q, mm3/min, its chips as thick as the feed per tooth."""
    with np.errstate(divide="ignore"):
        kc = np.where(fz > 0, kc11 * np.where(fz > 0, fz, 1.0) ** -exponent, 0.0)
    return np.asarray(rate * kc / 60_000)
