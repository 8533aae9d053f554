"""Labels put where they cover nothing: each tries places round its point and takes the cheapest that is free."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from sparwright.packet.canvas import Canvas

SHORT = 1.6  # mm past its offset from which a label wants a leader
GAP = 0.7  # mm of paper left free round a label
SIZE = 3.2  # 9 pt
# mm a label is moved rather than cross a line, lie over metal, cross the outline, a leader, or cover what is drawn.
LINE_COST, METAL_COST, EDGE_COST, CROSSING_COST, TAKEN_COST = 12.0, 30.0, 30.0, 60.0, 200.0


class Labels:
    """Labels on a sheet: bounds (left, bottom, right, top) they stay in, and the metal they stay off."""

    def __init__(
        self,
        sheet: Canvas,
        bounds: tuple[float, float, float, float],
        metal: BaseGeometry,
        size: float = SIZE,
    ) -> None:
        self.size = size
        self.sheet, self.bounds, self.metal = sheet, shapely.box(*bounds), metal
        self.taken: list[BaseGeometry] = []
        self.lines: list[BaseGeometry] = []

    def keep_off(self, shape: BaseGeometry) -> None:
        """A place no label may cover."""
        self.taken.append(shape)

    def soft(self, line: BaseGeometry) -> None:
        """A line labels had better not cross."""
        self.lines.append(line)

    def place(self, point: tuple[float, float], text: str, off: float, *, bold: bool = False) -> None:
        """A label close to a point, without a leader."""
        places = [
            (0.3 * k + r - off, (point[0] + (r + half) * c, point[1] + r * s))
            for r in off + np.arange(0.0, 9.0, 0.8)
            for k, (c, s) in enumerate(_compass())
            for half in [math.copysign(self._length(text) / 2, c) if abs(c) > 0.1 else 0.0]
        ]
        self._put(text, self._cheapest(text, places, metal=LINE_COST / 6)[0], bold=bold)

    def point_out(self, point: tuple[float, float], text: str, off: float, *, bold: bool = False) -> None:
        """A label near a point, `off` from it or further, where it covers nothing; with a leader where it is not beside it."""
        r, degrees = np.meshgrid(off + np.arange(0.0, 26.0, 1.0), np.arange(0, 360, 15), indexing="ij")
        turn = np.radians(degrees.ravel())
        half = np.array([self._length(text) / 2, self.size / 2])
        way = np.column_stack([np.cos(turn), np.sin(turn)])
        centres = np.array(point) + (r.ravel()[:, None] + half) * way
        leaders = shapely.linestrings(np.stack([np.broadcast_to(point, centres.shape), centres], axis=1))
        costs = 0.5 * r.ravel()
        for other in (t for t in self.taken if not t.intersects(shapely.Point(point))):
            costs += CROSSING_COST / 4 * shapely.crosses(leaders, other) * (r.ravel() > off + SHORT)
        places = [(float(cost), (float(x), float(y))) for cost, (x, y) in zip(costs, centres, strict=True)]
        centre, _ = self._cheapest(text, places)
        leader = self._leader(text, centre, np.array(point))
        if leader.length > off + SHORT:
            self.sheet.line(leader.coords[0], leader.coords[1], "thin")
            self.taken.append(leader)
        self._put(text, centre, bold=bold)

    def beside(self, middle: np.ndarray, half: np.ndarray, thick: float, text: str) -> None:
        """A label beside a bar from middle - half to middle + half, 2 `thick` wide, with a leader into it."""
        length = float(np.hypot(*half))
        normal = np.array([-half[1], half[0]]) / length
        reach = abs(normal[0]) * self._length(text) / 2 + abs(normal[1]) * self.size / 2
        places = []
        for share in (0.0, 0.25, -0.25, 0.4, -0.4, 0.55, -0.55, 0.7, -0.7):
            for side in (1.0, -1.0):
                for gap in (2.5, 3.5, 5.0, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0):
                    foot = middle + share * half
                    centre = foot + side * (thick + gap + reach) * normal
                    places.append((gap + 3.0 * abs(share), (float(centre[0]), float(centre[1])), foot))
        costed = []
        for cost, at, foot in places:
            leader = self._leader(text, at, foot)
            cost += CROSSING_COST * sum(other.intersects(leader) for other in self.taken)
            # Into its own bar the leader runs `thick` deep; more metal on its way is another bar.
            cost += METAL_COST * float(self.metal.intersection(leader).length > thick + 0.3)
            costed.append((cost, at))
        centre, index = self._cheapest(text, costed)
        foot = places[index][2]
        leader = self._leader(text, centre, foot)
        self.sheet.line(leader.coords[0], leader.coords[1], "thin")
        self.sheet.circle((float(foot[0]), float(foot[1])), 0.45, "thin", "#000")
        self.taken.append(leader)
        self._put(text, centre)

    def _cheapest(
        self, text: str, places: list[tuple[float, tuple[float, float]]], metal: float = METAL_COST
    ) -> tuple[tuple[float, float], int]:
        """Centre of the cheapest free place, and its number; metal: cost of lying over metal."""
        centres = np.array([centre for _, centre in places])
        half = np.array([self._length(text) / 2, self.size / 2]) + GAP
        boxes = shapely.box(*(centres - half).T, *(centres + half).T)
        costs = np.array([cost for cost, _ in places], dtype=float)
        for line in self.lines:
            costs += LINE_COST * shapely.intersects(boxes, line)
        costs += metal * shapely.area(shapely.intersection(boxes, self.metal)) / shapely.area(boxes)
        costs += EDGE_COST * shapely.intersects(boxes, self.metal.boundary)
        for other in self.taken:
            costs += TAKEN_COST * shapely.intersects(boxes, other)
        costs += 5 * TAKEN_COST * ~shapely.contains(self.bounds, boxes)
        index = int(np.argmin(costs))
        return places[index][1], index

    def _put(self, text: str, centre: tuple[float, float], *, bold: bool = False) -> None:
        low = (centre[0], centre[1] - 0.35 * self.size)
        self.sheet.text(low, text, self.size, anchor="middle", bold=bold, halo=True)
        self.taken.append(self._box(text, centre).buffer(GAP))

    def _leader(self, text: str, centre: tuple[float, float], foot: np.ndarray) -> LineString:
        """From the edge of a label to the point it is about."""
        return shapely.shortest_line(self._box(text, centre), shapely.Point(foot))

    def _length(self, text: str) -> float:
        """Length of a text on paper, a little over the average of the face."""
        return 0.52 * self.size * len(text)

    def _box(self, text: str, centre: tuple[float, float]) -> Polygon:
        half, rise = self._length(text) / 2, self.size / 2
        return shapely.box(centre[0] - half, centre[1] - rise, centre[0] + half, centre[1] + rise)


def _compass() -> Iterator[tuple[float, float]]:
    """Unit vectors in the order labels like best: up right first."""
    for degrees in (45, 135, -45, -135, 0, 180, 90, -90):
        yield math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
