"""One result type for every stiffness model: the constants of a beam."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

STIFFNESSES = ("EA", "EIy", "EIz", "GJ", "GAy", "GAz")


@dataclass(frozen=True)
class BeamProperties:
    """Constants of a prismatic or periodic beam about its own centroid and shear centre.

    Units: mass kg/m; EA, GAy, GAz N; EIy, EIz, EIyz, GJ N mm²; centroid and shear centre (y, z) mm in the
    section's frame. EIy is bending about y (moves in z). method: "section", "bay" or "wall". spread: relative half-width the method puts on each stiffness,
    by name, from its own error estimate.
    """

    method: str
    mass_kg_per_m: float
    EA: float
    EIy: float
    EIz: float
    EIyz: float
    GJ: float
    GAy: float
    GAz: float
    centroid: tuple[float, float]
    shear_centre: tuple[float, float]
    spread: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class SectionForces:
    """Forces in the member at a place x (mm): N, Vy, Vz in N, T, My, Mz in N mm.

    They act on the part before x from the part behind it, N a pull; moments are about the section's own centroid,
    T about its shear centre; My bends about y (moves in z).
    """

    x: float
    N: float = 0.0
    Vy: float = 0.0
    Vz: float = 0.0
    T: float = 0.0
    My: float = 0.0
    Mz: float = 0.0


def kept(reworked: BeamProperties, intact: BeamProperties) -> dict[str, float]:
    """Ratios reworked / intact: keys mass, EA, EIy, EIz, GJ, GAy, GAz."""
    out = {"mass": reworked.mass_kg_per_m / intact.mass_kg_per_m}
    for key in ("EA", "EIy", "EIz", "GJ", "GAy", "GAz"):
        out[key] = getattr(reworked, key) / getattr(intact, key)
    return out


def least_of(found: Sequence[BeamProperties]) -> BeamProperties:
    """Of stretches that follow one another the least of every stiffness, with its spread.

    Mass, EIyz and centres are those of the stretch weakest in twist. Raises ValueError for none.
    """
    weakest = min(found, key=lambda p: p.GJ)
    least = {key: min(found, key=lambda p, k=key: getattr(p, k)) for key in STIFFNESSES}  # type: ignore[misc]
    values = vars(weakest) | {key: getattr(p, key) for key, p in least.items()}
    spread = {key: p.spread[key] for key, p in least.items() if key in p.spread}
    return BeamProperties(**values | {"spread": spread})


def between(a: BeamProperties, b: BeamProperties, share: float, unsure: float) -> BeamProperties:
    """Constants between two, `share` of the first; `unsure` of their difference is added to the spread."""

    def mean(x: float, y: float) -> float:
        return share * x + (1 - share) * y

    values = {key: mean(getattr(a, key), getattr(b, key)) for key in ("mass_kg_per_m", "EIyz", *STIFFNESSES)}
    (ay, az), (by, bz) = a.centroid, b.centroid
    (cy, cz), (dy, dz) = a.shear_centre, b.shear_centre
    spread = {
        key: mean(a.spread[key], b.spread[key])
        + unsure * abs(getattr(a, key) - getattr(b, key)) / values[key]
        for key in STIFFNESSES
        if key in a.spread and key in b.spread
    }
    return BeamProperties(
        a.method,
        **values,
        centroid=(mean(ay, by), mean(az, bz)),
        shear_centre=(mean(cy, dy), mean(cz, dz)),
        spread=spread,
    )
