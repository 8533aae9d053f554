"""Upright walls of a body of triangles, held to a bound and no sample: looks along their rims and feet.

A cutter takes away all that stands over what it cuts, so an upright wall is cut into nowhere deeper than under its
rim, and holds nowhere more metal than over its foot: lines are looked at, not areas. Along such a line the
distance to all that is cut changes by no more than one goes (it is a least distance to fixed shapes less a radius, at one
height), so a look that shows g says of everything within r of it that it is off by at most |g| + r. Stretches that
this does not clear are halved until it does, or a look shows the fault, or they are FINEST long.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

UPRIGHT = 1e-4  # upright part of the normal up to which a triangle counts as upright
FINEST = 0.004  # length beyond which a stretch is not halved any more, mm
FIRST = 0.85  # share of the tolerance that half of a stretch is long at first
CLOSER = 17  # looks along the stretch at fault most
MOST_STRETCHES = 400_000  # at first; beyond, they are longer

Look = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray, np.ndarray]]


@dataclass(frozen=True)
class Lines:
    """Stretches of rim or foot. ends: (m, 2, 3) of (x, s, n). normals: (m, 3), of the wall, out of the body."""

    ends: np.ndarray
    normals: np.ndarray


@dataclass(frozen=True)
class Looks:
    """Looks along lines. at: (k, 3). off: (k,) mm at fault where positive, who: (k,) sweep. bound: the most that
    anything between them may be off, mm, where none of them is at fault.
    """

    at: np.ndarray
    off: np.ndarray
    who: np.ndarray
    bound: float


def rims_and_feet(triangles: np.ndarray, normals: np.ndarray) -> tuple[Lines, Lines]:
    """Upper and lower edges of the upright walls of a closed body; triangles (m, 3, 3), their unit normals (m, 3).

    An edge that one upright triangle has above itself and another below lies within a wall, and is neither.
    """
    use = np.flatnonzero(np.abs(normals[:, 2]) < UPRIGHT)
    corner = triangles[use]
    a, b, c = (np.concatenate([corner[:, (e + k) % 3] for e in range(3)]) for k in range(3))
    who = np.tile(use, 3)
    along = b[:, :2] - a[:, :2]
    length2 = (along**2).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = ((c[:, :2] - a[:, :2]) * along).sum(axis=1) / length2
    over = a[:, 2] + share * (b[:, 2] - a[:, 2])
    level = length2 > 1e-10  # others stand upright themselves
    a, b, who, upper = a[level], b[level], who[level], (c[:, 2] < over)[level]
    step = 1e-6 * max(float(np.ptp(triangles, axis=(0, 1)).max()), 1e-6)
    _, at = np.unique(np.round(np.concatenate([a, b]) / step).astype(np.int64), axis=0, return_inverse=True)
    one, two = at.ravel()[: len(a)], at.ravel()[len(a) :]
    pair = np.column_stack([np.minimum(one, two), np.maximum(one, two)])
    _, edge = np.unique(pair, axis=0, return_inverse=True)
    edge = edge.ravel()
    above, below = (np.bincount(edge, side, minlength=1) for side in (upper, ~upper))
    outer = ~((above > 0) & (below > 0))[edge] if len(edge) else np.zeros(0, dtype=bool)
    ends = np.stack([a, b], axis=1)
    return tuple(Lines(ends[k], normals[who[k]]) for k in (outer & upper, outer & ~upper))  # type: ignore[return-value]


def _halved(ends: np.ndarray, parts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each stretch (m, 2, 3) in equal parts (m,), and which stretch each part is of."""
    of = np.repeat(np.arange(len(ends)), parts)
    place = np.arange(len(of)) - np.repeat(np.cumsum(parts) - parts, parts)
    way = (ends[:, 1] - ends[:, 0])[of] / parts[of][:, None]
    first = ends[of, 0] + way * place[:, None]
    return np.stack([first, first + way], axis=1), of


def _closer(
    ends: np.ndarray, normal: np.ndarray, look: Look, sign: int, n: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Looks closer together along the stretch at fault most, at height n."""
    share = np.linspace(0, 1, CLOSER)[:, None]
    at = ends[0] + (ends[1] - ends[0]) * share
    at[:, 2] = n
    gap, who, seen = look(at, np.tile(normal, (CLOSER, 1)))
    return at[seen], sign * gap[seen], who[seen]


def bounded(lines: Lines, look: Look, sign: int, shift: float, tolerance: float) -> Looks:
    """Looks along lines until everything between them is cleared, found at fault, or FINEST.

    look: of places (k, 3) with normals (k, 3), the signed distance to what is cut, the sweep, and whether the place can
    be judged. sign: +1 metal left is the fault, -1 a cut is. shift: how far over (under) the line is looked, mm.
    """
    length = np.hypot(*(lines.ends[:, 1, :2] - lines.ends[:, 0, :2]).T)
    first = max(2 * FIRST * tolerance, float(length.sum()) / MOST_STRETCHES)
    ends, of = _halved(lines.ends, np.maximum(1, np.ceil(length / first)).astype(int))
    normals = lines.normals[of]
    found: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    bound = 0.0
    while len(ends):
        middle = ends.mean(axis=1)
        half = np.hypot(*(ends[:, 1, :2] - ends[:, 0, :2]).T) / 2
        safe = middle.copy()
        safe[:, 2] = (ends[..., 2].min(axis=1) if sign > 0 else ends[..., 2].max(axis=1)) + sign * shift
        gap, who, seen = look(safe, normals)
        off = sign * gap
        tilted = seen & (off > tolerance) & (np.ptp(ends[..., 2], axis=1) > 0)
        if tilted.any():  # the look was beside the line: what counts is on it
            true = middle[tilted] + (0, 0, sign * shift)
            gap, who[tilted], seen_true = look(true, normals[tilted])
            off[tilted] = np.where(seen_true, sign * gap, off[tilted])
            safe[tilted] = true
        fault = off > tolerance
        clear = ~tilted & (off + half <= tolerance)
        small = half <= FINEST / 2
        found.append((safe[seen], off[seen], who[seen]))
        worst = int(np.where(seen & fault, off, -np.inf).argmax())
        if seen[worst] and fault[worst]:
            found.append(_closer(ends[worst], normals[worst], look, sign, safe[worst, 2]))
        bound = max(bound, float((off + half)[seen & (clear | small)].max(initial=0.0)))
        again = seen & ~clear & ~fault & ~small
        ends, of = _halved(ends[again], np.full(int(again.sum()), 2))
        normals = normals[again][of]
    if not found:
        return Looks(np.empty((0, 3)), np.empty(0), np.empty(0, dtype=np.int64), 0.0)
    at, amount, by = (np.concatenate([f[k] for f in found]) for k in range(3))
    return Looks(at, amount, by, bound)
