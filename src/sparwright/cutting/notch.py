"""Open notches: cleared from outside the end, then one lap round their three walls."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import Polygon, box

from sparwright.cutting.clearing import ClearPath, clear_outline
from sparwright.cutting.paths_outline import Segment
from sparwright.stock.model import NotchCut

BEYOND = 1.0  # mm between the cutter and the end where it goes down


@dataclass(frozen=True)
class Mouth:
    """A notch seen from the end it opens to: u in from the end, v across.

    reach: how far in; low, high: its walls; radius: of the inside corners. far: opens to the far end of a member
    `length` mm long, where x = length - u and s = -v; else x = u and s = v.
    """

    reach: float
    low: float
    high: float
    radius: float
    far: bool
    length: float

    def to_face(self, p: tuple[float, float]) -> tuple[float, float]:
        """A point (u, v) in the face's (x, s)."""
        return (self.length - p[0], -p[1]) if self.far else p


def mouth_of(notch: NotchCut, length: float) -> Mouth:
    """The notch from its end; its outline runs past the end it opens to."""
    x0, s0, x1, s1 = notch.outline.bounds
    if notch.end == "far":
        return Mouth(length - x0, -s1, -s0, notch.corner_radius, True, length)
    return Mouth(x1, s0, s1, notch.corner_radius, False, length)


def open_chain(mouth: Mouth, inside: float, start_out: float) -> tuple[Segment, ...]:
    """The three walls at a distance `inside` of them, from `start_out` mm off the end and back; metal on the right.

    Corners are true arcs of the corner radius less the distance, sharp where none is left.
    """
    end, low, high = mouth.reach - inside, mouth.low + inside, mouth.high - inside
    rho = max(mouth.radius - inside, 0.0)
    points: list[tuple[tuple[float, float], tuple[float, float], tuple[float, float] | None]] = [
        ((-start_out, low), (end - rho, low), None),
        ((end - rho, low), (end, low + rho), (end - rho, low + rho)),
        ((end, low + rho), (end, high - rho), None),
        ((end, high - rho), (end - rho, high), (end - rho, high - rho)),
        ((end - rho, high), (-start_out, high), None),
    ]
    chain = []
    for a, b, c in points:
        if abs(a[0] - b[0]) + abs(a[1] - b[1]) > 1e-6:
            chain.append(
                Segment(mouth.to_face(a), mouth.to_face(b), mouth.to_face(c) if c is not None else None)
            )
    return tuple(chain)


def outside_of(mouth: Mouth, radius: float) -> Polygon:
    """Ground off the end of the member, free of metal, wide enough for the cutter to start in."""
    far_out = 2 * radius + BEYOND + 2
    a = mouth.to_face((-far_out - radius, mouth.low - 2 * radius - 2))
    b = mouth.to_face((0.0, mouth.high + 2 * radius + 2))
    return box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))


def clear_notch(
    notch: NotchCut, mouth: Mouth, radius: float, engagement: float, wall_stock: float
) -> ClearPath:
    """Clearing of the notch that starts outside the end. Raises ClearingError where the cutter does not fit."""
    far_out = 2 * radius + BEYOND + 2
    a, b = mouth.to_face((-far_out, mouth.low)), mouth.to_face((mouth.reach / 2, mouth.high))
    whole = notch.outline.union(box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])))
    return clear_outline(whole, radius, engagement, cleared=outside_of(mouth, radius), wall_stock=wall_stock)
