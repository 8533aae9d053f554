"""Feeding the member through: the fewest stations along x, with the seams in the widest ribs.

Features whose cutter-centre positions overlap along x cannot be parted and are merged. A station reaches
`window` mm along the feed; taking as much as possible from the left needs the fewest stations. Among plans with
that number the seams go where the metal between neighbours is widest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from sparwright.answers import BadInput

Span = tuple[float, float]


class TooLong(BadInput):
    """A run of features that cannot be parted is longer than a station reaches."""

    def __init__(self, cluster: Span, window: float) -> None:
        self.cluster = cluster
        super().__init__(
            f"the cuts between x = {cluster[0]:.1f} and {cluster[1]:.1f} mm overlap along the member, and one station "
            f"reaches {window:.1f} mm: leave a rib across the member there"
        )


@dataclass(frozen=True)
class Stations:
    """ranges: from and to along the member of each station, seam to seam. seams: rib width at each seam, mm."""

    ranges: tuple[Span, ...]
    seams: tuple[float, ...]


def merged(spans: Sequence[Span]) -> tuple[Span, ...]:
    """Spans along x with those that touch or overlap made one, in order."""
    out: list[list[float]] = []
    for low, high in sorted(spans):
        if out and low <= out[-1][1]:
            out[-1][1] = max(out[-1][1], high)
        else:
            out.append([low, high])
    return tuple((low, high) for low, high in out)


def fewest(clusters: Sequence[Span], window: float) -> int:
    """Fewest stations of `window` mm that hold every cluster (in order, not overlapping); raises TooLong."""
    count, limit = 0, -math.inf
    for low, high in clusters:
        if high - low > window:
            raise TooLong((low, high), window)
        if high > limit:
            count, limit = count + 1, low + window
    return count


def plan_stations(spans: Sequence[Span], window: float, length: float) -> Stations:
    """The fewest stations for features with these cutter-centre spans along x, on a member of `length` mm.

    Among the plans of that number, the one whose ribs at the seams are widest in sum, by dynamic programming
    over the clusters. Raises TooLong where a cluster is longer than the window.
    """
    clusters = merged(spans)
    count = fewest(clusters, window)
    if count <= 1:
        return Stations(((0.0, length),), ())
    n = len(clusters)
    # best[k][i]: greatest sum of seam ribs with the first i clusters in k stations; back[k][i]: where the last begins.
    best = [[-math.inf] * (n + 1) for _ in range(count + 1)]
    back = [[0] * (n + 1) for _ in range(count + 1)]
    best[0][0] = 0.0
    for k in range(1, count + 1):
        for i in range(1, n + 1):
            for j in range(i - 1, -1, -1):
                if clusters[i - 1][1] - clusters[j][0] > window:
                    break
                rib = clusters[j][0] - clusters[j - 1][1] if j else 0.0
                if best[k - 1][j] + rib > best[k][i]:
                    best[k][i], back[k][i] = best[k - 1][j] + rib, j
    cuts: list[int] = []
    i = n
    for k in range(count, 0, -1):
        i = back[k][i]
        cuts.append(i)
    inner = [j for j in reversed(cuts) if j]
    seams = [(clusters[j - 1][1] + clusters[j][0]) / 2 for j in inner]
    edges = [0.0, *seams, length]
    return Stations(
        tuple(pairwise(edges)),
        tuple(clusters[j][0] - clusters[j - 1][1] for j in inner),
    )
