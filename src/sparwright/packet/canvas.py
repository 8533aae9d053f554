"""A small drawing sheet: lines, hatching, dimensions and text in millimetres of paper, written as SVG.

Line widths follow the habit of ISO 128 (0.5 visible, 0.25 thin, dashes for hidden edges, chain lines for axes),
dimensions that of ISO 129 (thin lines, filled arrowheads, text above the line). The y axis points up.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterable, Sequence
from html import escape
from typing import Literal

import numpy as np
from shapely.geometry import Polygon

FONT = "Source Sans Pro, sans-serif"
Line = Literal[
    "none", "halo", "path", "rapid", "edge", "hair", "visible", "thin", "hidden", "axis", "heavy", "faint"
]
_PEN: dict[str, str] = {
    "none": "",
    "halo": 'stroke="#fff" stroke-width="1.8" stroke-opacity="0.85"',
    "edge": 'stroke="#fff" stroke-width="0.6" stroke-opacity="0.7"',
    "hair": 'stroke="#000" stroke-width="0.15"',
    "path": 'stroke="#fff" stroke-width="0.3"',
    "rapid": 'stroke="#fff" stroke-width="0.3" stroke-dasharray="1 1"',
    "visible": 'stroke="#000" stroke-width="0.5"',
    "heavy": 'stroke="#000" stroke-width="0.8"',
    "thin": 'stroke="#000" stroke-width="0.25"',
    "faint": 'stroke="#888" stroke-width="0.18"',
    "hidden": 'stroke="#000" stroke-width="0.3" stroke-dasharray="2 1"',
    "axis": 'stroke="#000" stroke-width="0.2" stroke-dasharray="6 1.2 0.8 1.2"',
}


def _n(value: float) -> str:
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Canvas:
    """A sheet of `width` x `height` mm of paper; origin at the lower left, y up."""

    def __init__(self, width: float, height: float) -> None:
        self.width, self.height = width, height
        self._parts: list[str] = []

    def _xy(self, x: float, y: float) -> str:
        return f"{_n(x)} {_n(self.height - y)}"

    def line(self, a: Sequence[float], b: Sequence[float], pen: Line = "visible") -> None:
        """A straight line from a to b."""
        self._parts.append(f'<path d="M{self._xy(*a)}L{self._xy(*b)}" fill="none" {_PEN[pen]}/>')

    def polyline(
        self,
        points: Iterable[Sequence[float]],
        pen: Line = "visible",
        *,
        close: bool = False,
        fill: str = "none",
    ) -> None:
        """A run of straight lines, closed and filled if wanted."""
        text = "L".join(self._xy(float(p[0]), float(p[1])) for p in points)
        self._parts.append(
            f'<path d="M{text}{"Z" if close else ""}" fill="{fill}" {_PEN[pen]} stroke-linejoin="round"/>'
        )

    def polylines(self, lines: Iterable[Iterable[Sequence[float]]], pen: Line = "visible") -> None:
        """Many runs of straight lines as one path."""
        text = "".join("M" + "L".join(self._xy(float(p[0]), float(p[1])) for p in line) for line in lines)
        if text:
            self._parts.append(f'<path d="{text}" fill="none" {_PEN[pen]} stroke-linejoin="round"/>')

    def area(self, shape: Polygon, pen: Line = "visible", fill: str = "none") -> None:
        """A polygon with its holes."""
        rings = [shape.exterior, *shape.interiors]
        text = "".join(
            "M" + "L".join(self._xy(x, y) for x, y in np.asarray(r.coords)[:-1, :2]) + "Z" for r in rings
        )
        self._parts.append(
            f'<path d="{text}" fill="{fill}" fill-rule="evenodd" {_PEN[pen]} stroke-linejoin="round"/>'
        )

    def hatch(self, shape: Polygon, spacing: float = 1.6, angle: float = 45.0) -> None:
        """Hatching of a cut area, as plain lines clipped to it."""
        from shapely import affinity
        from shapely.geometry import LineString, MultiLineString

        if shape.is_empty:
            return
        turned = affinity.rotate(shape, -angle, origin=(0, 0))
        low_x, low_y, high_x, high_y = turned.bounds
        rows = np.arange(math.floor(low_y / spacing) * spacing, high_y + spacing, spacing)
        lines = MultiLineString([LineString([(low_x - 1, y), (high_x + 1, y)]) for y in rows])
        inside = affinity.rotate(lines.intersection(turned), angle, origin=(0, 0))
        pieces = getattr(inside, "geoms", [inside])
        text = "".join(
            f"M{self._xy(*p.coords[0][:2])}L{self._xy(*p.coords[-1][:2])}"
            for p in pieces
            if p.geom_type == "LineString" and not p.is_empty
        )
        if text:
            self._parts.append(f'<path d="{text}" fill="none" stroke="#000" stroke-width="0.15"/>')

    def circle(
        self, centre: Sequence[float], radius: float, pen: Line = "visible", fill: str = "none"
    ) -> None:
        """A circle."""
        self._parts.append(
            f'<circle cx="{_n(centre[0])}" cy="{_n(self.height - centre[1])}" r="{_n(radius)}" fill="{fill}" {_PEN[pen]}/>'
        )

    def image(self, corner: Sequence[float], width: float, height: float, png: bytes) -> None:
        """A picture with its lower left corner at `corner`, stretched to width x height, its pixels left square-edged."""
        data = base64.b64encode(png).decode("ascii")
        self._parts.append(
            f'<image x="{_n(corner[0])}" y="{_n(self.height - corner[1] - height)}" width="{_n(width)}" '
            f'height="{_n(height)}" preserveAspectRatio="none" style="image-rendering:pixelated" '
            f'href="data:image/png;base64,{data}"/>'
        )

    def cross(self, centre: Sequence[float], size: float) -> None:
        """A centre mark."""
        x, y = centre
        self.line((x - size, y), (x + size, y), "axis")
        self.line((x, y - size), (x, y + size), "axis")

    def text(
        self,
        at: Sequence[float],
        text: str,
        size: float = 2.8,
        *,
        anchor: Literal["start", "middle", "end"] = "start",
        angle: float = 0.0,
        bold: bool = False,
        halo: bool = False,
    ) -> None:
        """Text with its base line at `at`; size in mm; halo puts white behind it."""
        x, y = at[0], self.height - at[1]
        turn = f' transform="rotate({_n(-angle)} {_n(x)} {_n(y)})"' if angle else ""
        weight = ' font-weight="bold"' if bold else ""
        plain = f'<text x="{_n(x)}" y="{_n(y)}" font-family="{FONT}" font-size="{_n(size)}" text-anchor="{anchor}"{weight}{turn}'
        if halo:
            self._parts.append(
                f'{plain} stroke="#fff" stroke-width="{_n(size / 3)}" stroke-linejoin="round">{escape(text)}</text>'
            )
        self._parts.append(f"{plain}>{escape(text)}</text>")

    def arrow(self, tip: Sequence[float], direction: float, size: float = 2.2) -> None:
        """A filled arrowhead with its tip at `tip`, pointing along `direction` (radians)."""
        c, s = math.cos(direction), math.sin(direction)
        back = (tip[0] - size * c, tip[1] - size * s)
        half = size * 0.17
        a = (back[0] - half * s, back[1] + half * c)
        b = (back[0] + half * s, back[1] - half * c)
        self._parts.append(f'<path d="M{self._xy(*tip)}L{self._xy(*a)}L{self._xy(*b)}Z" fill="#000"/>')

    def dimension(
        self, a: Sequence[float], b: Sequence[float], offset: float, text: str, *, size: float = 2.8
    ) -> None:
        """A linear dimension parallel to a-b, `offset` mm to its left (negative: right), with its text above the line.

        Where the text does not fit between the arrowheads they stand outside.
        """
        dx, dy = b[0] - a[0], b[1] - a[1]
        length = math.hypot(dx, dy)
        ux, uy = dx / length, dy / length
        nx, ny = -uy * math.copysign(1, offset), ux * math.copysign(1, offset)
        far = abs(offset)
        p, q = (a[0] + nx * far, a[1] + ny * far), (b[0] + nx * far, b[1] + ny * far)
        gap, over = min(0.8, far / 2), 1.5
        for start, end in ((a, p), (b, q)):
            self.line(
                (start[0] + nx * gap, start[1] + ny * gap), (end[0] + nx * over, end[1] + ny * over), "thin"
            )
        along = math.atan2(uy, ux)
        inside = length > 0.5 * size * len(text) + 5.5
        if inside:
            self.line(p, q, "thin")
            self.arrow(p, along + math.pi)
            self.arrow(q, along)
        else:
            self.line((p[0] - ux * 5, p[1] - uy * 5), (q[0] + ux * 5, q[1] + uy * 5), "thin")
            self.arrow(p, along)
            self.arrow(q, along + math.pi)
        angle = math.degrees(along)
        if angle > 90.01 or angle <= -89.99:
            angle += 180
        t = math.radians(angle)
        lift = 0.8
        if inside:
            mx, my = (p[0] + q[0]) / 2, (p[1] + q[1]) / 2
            self.text(
                (mx - math.sin(t) * lift, my + math.cos(t) * lift),
                text,
                size,
                anchor="middle",
                angle=angle,
                halo=True,
            )
        else:
            forward = (math.cos(t) * ux + math.sin(t) * uy) >= 0
            end = q if forward else p
            at = (
                end[0] + math.cos(t) * 3.2 - math.sin(t) * lift,
                end[1] + math.sin(t) * 3.2 + math.cos(t) * lift,
            )
            self.text(at, text, size, angle=angle, halo=True)

    def leader(self, tip: Sequence[float], knee: Sequence[float], text: str, *, size: float = 2.8) -> None:
        """A leader line with an arrowhead on `tip` and text on a short shelf at `knee`."""
        shelf = 0.5 * size * len(text) + 1
        right = knee[0] >= tip[0]
        end = (knee[0] + (shelf if right else -shelf), knee[1])
        self.polyline([tip, knee, end], "thin")
        self.arrow(tip, math.atan2(tip[1] - knee[1], tip[0] - knee[0]))
        self.text((min(knee[0], end[0]) + 0.5, knee[1] + 0.8), text, size)

    def svg(self) -> str:
        """The drawing as an SVG document."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(self.width)}mm" height="{_n(self.height)}mm" '
            f'viewBox="0 0 {_n(self.width)} {_n(self.height)}">' + "".join(self._parts) + "</svg>\n"
        )
