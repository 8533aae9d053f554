"""Uncertainty of a figure from the uncertainties of what goes into it, by JCGM 100:2008 (GUM), first order."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import stdtrit

_MANY = 10**9  # degrees of freedom past which Student's distribution is the normal one


@dataclass(frozen=True)
class Part:
    """One input: its name, its standard uncertainty in its own unit, the figure's change per unit, and its freedom."""

    name: str
    u: float
    sensitivity: float = 1.0
    freedom: float = math.inf

    @property
    def share(self) -> float:
        """What it puts on the figure, in the figure's unit."""
        return abs(self.sensitivity) * self.u


def even(half_width: float) -> float:
    """Standard uncertainty of an input that may lie anywhere within a half-width (GUM 4.3.7)."""
    return half_width / math.sqrt(3)


def combined(parts: Sequence[Part]) -> float:
    """Combined standard uncertainty of inputs that do not depend on one another (GUM 5.1.2)."""
    return math.sqrt(sum(part.share**2 for part in parts))


def freedom(parts: Sequence[Part]) -> float:
    """Effective degrees of freedom (GUM G.4.1, Welch and Satterthwaite); infinite where all inputs' are."""
    below = sum(part.share**4 / part.freedom for part in parts)
    return combined(parts) ** 4 / below if below > 0 else math.inf


def expanded(parts: Sequence[Part], level: float = 0.9545) -> float:
    """Half-width that holds the figure with this level of confidence (GUM G.4.1, freedom cut to a whole number).

    The level that is usual stands for k = 2 where the freedom is infinite.
    """
    nu = freedom(parts)
    whole = math.floor(nu) if math.isfinite(nu) else _MANY
    return float(stdtrit(whole, (1 + level) / 2)) * combined(parts)
