"""Pocket outlines and the layout of fields: shapes with their corner radius, rows and columns on a face.

Face frame (x, s), mm. Nothing here knows of holes, notches or webs; `conflicts` does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry import Polygon

from sparwright.job.models import Cutter, PocketField, PocketShape
from sparwright.stock.outlines import circle, fillet, turned

CHORD = 0.002  # mm, greatest chord error of a pocket's arcs
ROOM_TO_TURN = 1.3  # corner radius over cutter radius: common practice, no source
CUTTER_SHARE = 0.2  # greatest cutter diameter over the inscribed circle's diameter, for a radius not stated


@dataclass(frozen=True)
class PocketForm:
    """One outline about its inscribed circle's centre.

    corners: sharp corners, counter-clockwise, empty for a round pocket. outline: with its corner radius.
    key: names shape, size, radius and turn; equal keys are equal outlines.
    """

    key: str
    corners: tuple[tuple[float, float], ...]
    corner_radius: float
    outline: Polygon

    @property
    def sharp(self) -> Polygon:
        """The outline before rounding; of a round pocket, the outline."""
        return Polygon(self.corners) if self.corners else self.outline


@dataclass(frozen=True)
class Site:
    """A place in a field: row and column from 1, centre (x, s), whether turned half round."""

    row: int
    column: int
    at: tuple[float, float]
    half_turned: bool


@dataclass(frozen=True)
class Layout:
    """Every place of a field on one face, and its period.

    pitch: period along x, mm. start: x of the first period's start; span: x from and to, a length of whole
    steps, so that span over pitch is the number of periods. period_sites: the places of one period, x from its start.
    """

    sites: tuple[Site, ...]
    rows: int
    pitch: float
    span: tuple[float, float]
    period_sites: tuple[Site, ...]


class LayoutError(ValueError):
    """A field or pocket that cannot be laid out; `key` is the key of the job at fault."""

    def __init__(self, key: str, what: str, allowed: str = "", remedy: str = "") -> None:
        super().__init__(what)
        self.key, self.what, self.allowed, self.remedy = key, what, allowed, remedy


# --- outlines -------------------------------------------------------------------------------------------


def sharp_corners(shape: PocketShape, size: float, width: float | None) -> np.ndarray:
    """Corners of a pocket about its inscribed circle's centre, counter-clockwise, (k, 2); (0, 2) when round.

    size as SinglePocket says: side of a triangle, square or diamond, across flats, diameter, slot length.
    Triangles point toward +s, hexagons have flats across x, diamonds stand on a corner.
    """
    if shape == "round":
        return np.empty((0, 2))
    if shape == "slot":
        assert width is not None
        x, s = size / 2, width / 2
        return np.array([[-x, -s], [x, -s], [x, s], [-x, s]])
    sides, first = {"triangle": (3, -150), "hexagon": (6, -90), "square": (4, -135), "diamond": (4, -90)}[
        shape
    ]
    outer = inscribed_radius(shape, size, width) / math.cos(math.pi / sides)
    angles = np.radians(first + 360 / sides * np.arange(sides))
    return outer * np.column_stack([np.cos(angles), np.sin(angles)])


def inscribed_radius(shape: PocketShape, size: float, width: float | None) -> float:
    """Radius of the largest circle inside the sharp outline, mm."""
    if shape == "triangle":
        return size / (2 * math.sqrt(3))
    if shape == "slot":
        assert width is not None
        return min(size, width) / 2
    return size / 2


def corner_radius_for(
    shape: PocketShape,
    size: float,
    width: float | None,
    stated: float | None,
    cutters: Sequence[Cutter],
) -> float:
    """The corner radius of a pocket, mm: as stated, or as the cutters at hand allow.

    Not stated: 1.3 times the radius of the largest flat cutter no wider than a fifth of the inscribed
    circle, else of the smallest; a slot gets its full radius, a round pocket its own.
    Raises LayoutError where no flat cutter is at hand, none fits, or the stated radius cannot be cut.
    """
    flats = sorted(c.diameter for c in cutters if c.kind == "flat")
    if not flats:
        raise LayoutError(
            "pocket", "no flat cutter is at hand to cut it", remedy="add a flat cutter to the cutters file"
        )
    least = flats[0] / 2
    room = inscribed_radius(shape, size, width)
    if room < least:
        raise LayoutError(
            "size",
            f"its inscribed circle is {2 * room:.3f} mm across, less than the smallest flat cutter of {flats[0]:g} mm",
            remedy="make the pocket larger or add a smaller flat cutter",
        )
    if shape == "round":
        return room
    if stated is not None:
        if stated < least - 1e-9 or stated > room + 1e-9:
            raise LayoutError(
                "corner_radius",
                f"a corner radius of {stated:g} mm cannot be cut in this {shape}",
                allowed=f"{least:g} (smallest flat cutter) to {room:.3f} mm (inscribed circle)",
                remedy="choose a radius in that range, or leave it out",
            )
        return stated
    if shape == "slot":
        return room
    fitting = [d for d in flats if d <= CUTTER_SHARE * 2 * room]
    return min(ROOM_TO_TURN * (fitting[-1] if fitting else flats[0]) / 2, room)


def pocket_form(
    shape: PocketShape, size: float, width: float | None, turn: float, radius: float
) -> PocketForm:
    """A pocket's outline, turned by `turn` degrees from x toward s, with corners of `radius` mm."""
    measure = f"{size:.4f}" if width is None else f"{size:.4f}x{width:.4f}"
    if shape == "round":
        return PocketForm(f"round {measure}", (), radius, Polygon(circle(size / 2, CHORD)))
    corners = turned(sharp_corners(shape, size, width), math.radians(turn))
    return PocketForm(
        f"{shape} {measure} r{radius:.4f} at {turn:g}",
        tuple((float(x), float(s)) for x, s in corners),
        radius,
        Polygon(fillet(corners, radius, CHORD)),
    )


def field_size(field: PocketField) -> float:
    """Size of a field's pockets from cell and rib, mm; raises LayoutError where nothing is left."""
    size = field.cell - (math.sqrt(3) * field.rib if field.pocket == "triangle" else field.rib)
    if size <= 0:
        limit = field.cell / (math.sqrt(3) if field.pocket == "triangle" else 1)
        raise LayoutError(
            "rib",
            f"ribs of {field.rib:g} mm leave no pocket in a cell of {field.cell:g} mm",
            allowed=f"less than {limit:.3f} mm",
            remedy="make the ribs thinner or the cell larger",
        )
    return size


# --- fields ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Grid:
    """step: between neighbouring places along x; stride: every place of a row used (1) or every other (2)."""

    step: float
    stride: int
    row_pitch: float
    half_length: float
    row_height: float


def _grid(field: PocketField) -> _Grid:
    cell, rib, size = field.cell, field.rib, field_size(field)
    high = cell * math.sqrt(3) / 2
    if field.pocket == "triangle":
        return _Grid(cell / 2, 1, high, size / 2, high - rib)
    if field.pocket == "hexagon":
        across_corners = size / math.cos(math.pi / 6)
        if field.stagger:
            return _Grid(cell / 2, 2, high, size / 2, across_corners)
        return _Grid(cell, 1, across_corners + rib, size / 2, across_corners)
    if field.pocket == "round":
        if field.stagger:
            return _Grid(cell / 2, 2, high, size / 2, size)
        return _Grid(cell, 1, cell, size / 2, size)
    if field.pocket == "square":
        return _Grid(cell, 1, cell, size / 2, size)
    if field.pocket == "diamond":
        diagonal = size * math.sqrt(2)
        return _Grid(cell / math.sqrt(2), 2, cell / math.sqrt(2), diagonal / 2, diagonal)
    assert field.width is not None
    return _Grid(cell, 1, field.width + rib, size / 2, field.width)


def lay_out(field: PocketField, face_width: float, length: float) -> Layout:
    """Every whole pocket of a field between its margins on a face `face_width` mm wide of a member `length` mm long.

    Rows are centred across the face, columns between the ends. Raises LayoutError where not one fits or
    fewer rows fit than the job asks for.
    """
    grid = _grid(field)
    rows = _rows(field, grid, face_width)
    if rows == 1 and grid.stride == 2:
        grid = _Grid(2 * grid.step, 1, grid.row_pitch, grid.half_length, grid.row_height)
    room = length - 2 * field.end_margin
    if room < 2 * grid.half_length:
        raise LayoutError(
            "end_margin",
            f"no whole pocket {2 * grid.half_length:.2f} mm long fits in the {max(room, 0):.2f} mm between the end margins",
            allowed=f"at most {max(length / 2 - grid.half_length, 0):.2f} mm",
            remedy="make the end margin or the cell smaller",
        )
    steps = math.floor((room - 2 * grid.half_length) / grid.step + 1e-9) + 1
    start = length / 2 - steps * grid.step / 2
    triangle = field.pocket == "triangle"
    per_period = 2 if triangle or grid.stride == 2 else 1
    sites = _places(field, grid, rows, range(steps), start)
    period = _places(field, grid, rows, range(per_period), 0.0)
    span = (start, start + steps * grid.step)
    return Layout(sites, rows, per_period * grid.step, span, period)


def _rows(field: PocketField, grid: _Grid, face_width: float) -> int:
    room = face_width - 2 * field.edge_margin
    fitting = max(0, math.floor((room - grid.row_height) / grid.row_pitch + 1e-9) + 1)
    wanted = field.rows or max(fitting, 1)
    if wanted > fitting:
        needed = (wanted - 1) * grid.row_pitch + grid.row_height
        raise LayoutError(
            "rows" if field.rows else "cell",
            f"{wanted} row{'s' if wanted > 1 else ''} of pockets need{'s' if wanted == 1 else ''} {needed:.2f} mm across, "
            f"and the face has {max(room, 0):.2f} mm between its edge margins",
            allowed=f"{fitting} row{'' if fitting == 1 else 's'}",
            remedy="take fewer rows, a smaller cell or a smaller edge margin",
        )
    return wanted


def _places(field: PocketField, grid: _Grid, rows: int, steps: range, start: float) -> tuple[Site, ...]:
    triangle = field.pocket == "triangle"
    sites = []
    for row in range(rows):
        middle = (row - (rows - 1) / 2) * grid.row_pitch
        used = [k for k in steps if grid.stride == 1 or k % 2 == row % 2]
        for column, k in enumerate(used):
            down = triangle and (k + row) % 2 == 1
            lift = grid.row_pitch / 6 * (1 if down else -1) if triangle else 0.0
            x = start + (k + 0.5) * grid.step
            sites.append(Site(row + 1, column + 1, (x, middle + lift), down))
    return tuple(sites)
