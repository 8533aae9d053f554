"""Labels put where they cover nothing: each tries places round its point and takes the cheapest that is free."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from sparwright.packet.canvas import Canvas

GAP = 0.7  # mm of paper left free round a label
SIZE = 3.2  # 9 pt
# mm a label is moved rather than cross a line, lie over metal, cross the outline, a leader, or cover what is drawn.
LINE_COST, METAL_COST, EDGE_COST, CROSSING_COST, TAKEN_COST = 12.0, 30.0, 30.0, 60.0, 200.0


class Labels:
    """Labels on a sheet: bounds (left, bottom, right, top) they stay in, and the metal they stay off."""

    def __init__(self, sheet: Canvas, bounds: tuple[float, float, float, float], metal: BaseGeometry) -> None:
        self.sheet, self.bounds, self.metal = sheet, shapely.box(*bounds), metal
        self.taken: list[BaseGeometry] = []
        self.lines: list[BaseGeometry] = []

    def keep_off(self, shape: BaseGeometry) -> None:
        """A place no label may cover."""
        self.taken.append(shape)

    def soft(self, line: BaseGeometry) -> None:
        """A line labels had better not cross."""
        self.lines.append(line)

    def place(self, point: tuple[float, float], text: str, off: float) -> None:
        """A label close to a point, without a leader."""
        places = [
            (0.3 * k + r - off, (point[0] + (r + half) * c, point[1] + r * s))
            for r in off + np.arange(0.0, 9.0, 0.8)
            for k, (c, s) in enumerate(_compass())
            for half in [math.copysign(_length(text) / 2, c) if abs(c) > 0.1 else 0.0]
        ]
        self._put(text, self._cheapest(text, places, metal=LINE_COST / 6)[0])

    def beside(self, middle: np.ndarray, half: np.ndarray, thick: float, text: str) -> None:
        """A label beside a bar from middle - half to middle + half, 2 `thick` wide, with a leader into it."""
        length = float(np.hypot(*half))
        normal = np.array([-half[1], half[0]]) / length
        reach = abs(normal[0]) * _length(text) / 2 + abs(normal[1]) * SIZE / 2
        places = []
        for share in (0.0, 0.25, -0.25, 0.4, -0.4, 0.55, -0.55, 0.7, -0.7):
            for side in (1.0, -1.0):
                for gap in (2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0):
                    foot = middle + share * half
                    centre = foot + side * (thick + gap + reach) * normal
                    places.append((gap + 3.0 * abs(share), (float(centre[0]), float(centre[1])), foot))
        costed = []
        for cost, at, foot in places:
            leader = _leader(text, at, foot)
            cost += CROSSING_COST * sum(other.intersects(leader) for other in self.taken)
            # Into its own bar the leader runs `thick` deep; more metal on its way is another bar.
            cost += METAL_COST * float(self.metal.intersection(leader).length > thick + 0.3)
            costed.append((cost, at))
        centre, index = self._cheapest(text, costed)
        foot = places[index][2]
        leader = _leader(text, centre, foot)
        self.sheet.line(leader.coords[0], leader.coords[1], "thin")
        self.sheet.circle((float(foot[0]), float(foot[1])), 0.45, "thin", "#000")
        self.taken.append(leader)
        self._put(text, centre)

    def _cheapest(
        self, text: str, places: list[tuple[float, tuple[float, float]]], metal: float = METAL_COST
    ) -> tuple[tuple[float, float], int]:
        """Centre of the cheapest free place, and its number; metal: cost of lying over metal."""
        costs = []
        for cost, centre in places:
            box = _box(text, centre).buffer(GAP, join_style="mitre")
            cost += sum(LINE_COST for line in self.lines if line.intersects(box))
            cost += metal * self.metal.intersection(box).area / box.area
            cost += EDGE_COST * float(self.metal.boundary.intersects(box))
            cost += TAKEN_COST * sum(other.intersects(box) for other in self.taken)
            cost += 0.0 if self.bounds.contains(box) else 5 * TAKEN_COST
            costs.append(cost)
        index = int(np.argmin(costs))
        return places[index][1], index

    def _put(self, text: str, centre: tuple[float, float]) -> None:
        self.sheet.text((centre[0], centre[1] - 0.35 * SIZE), text, SIZE, anchor="middle", halo=True)
        self.taken.append(_box(text, centre).buffer(GAP))


def _leader(text: str, centre: tuple[float, float], foot: np.ndarray) -> LineString:
    """From the edge of a label to the point it is about."""
    return shapely.shortest_line(_box(text, centre), shapely.Point(foot))


def _compass() -> Iterator[tuple[float, float]]:
    """Unit vectors in the order labels like best: up right first."""
    for degrees in (45, 135, -45, -135, 0, 180, 90, -90):
        yield math.cos(math.radians(degrees)), math.sin(math.radians(degrees))


def _length(text: str) -> float:
    """Length of a text on paper, a little over the average of the face."""
    return 0.52 * SIZE * len(text)


def _box(text: str, centre: tuple[float, float]) -> Polygon:
    half = _length(text) / 2
    return shapely.box(centre[0] - half, centre[1] - SIZE / 2, centre[0] + half, centre[1] + SIZE / 2)
