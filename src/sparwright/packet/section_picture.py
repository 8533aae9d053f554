"""A picture of a section with its axes, centres, walls and main figures, and beside it the figures as a list."""

from __future__ import annotations

import math
import textwrap
from typing import Any

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from sparwright.packet.canvas import Canvas
from sparwright.packet.faces import scale_for, scale_name
from sparwright.packet.figures import METRIC, RAISED, Display, mm
from sparwright.packet.labels import Labels
from sparwright.stiffness.section import SectionFigures, wall_scale
from sparwright.stock.model import Section
from sparwright.stock.walls import WallList

WIDTH, HEIGHT = 180.0, 140.0
COLUMN = 66.0  # mm of paper at the right for the list of figures
ROOM = (33.0, 36.0)  # mm of paper beside and over the section for dimensions and labels
TEXT = 3.2  # 9 pt
LEADING = 4.5
METAL = "#e6e6e6"
TORQUE = 10_000.0  # N mm, the torque the list gives a stress for
# A centre further off than this many times the section's size is told, not drawn.
FAR = 1.6
# Least share of coupling, and of skew, that is worth a line.
SHARE = 1e-3
# mm of paper below which a wall drawn with thick lines would be all line.
THIN = 1.6
# A curved part is a wall where its widest place is at most this many times its mean thickness.
EVEN = 1.08
# Sine of the slope up to which an axis counts as level, for the end that carries its number.
LEVEL = 1e-2

Point2 = tuple[float, float]


def figure(value: float, digits: int = 4) -> str:
    """A figure with that many significant digits, in powers of ten where it is large: "1.129 × 10⁶"."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    if value < 0:
        return f"−{figure(-value, digits)}"
    power = math.floor(math.log10(float(f"{value:.{digits - 1}e}")))
    if power < 5:
        return mm(value, max(digits - 1 - power, 0))
    return f"{value / 10**power:.{digits - 1}f} × 10{str(power).translate(RAISED)}"


def section_picture(
    section: Section,
    figures: SectionFigures,
    walls: WallList,
    show: Display = METRIC,
    *,
    printed: bool = True,
) -> str:
    """The section to a standard scale, metal grey, as SVG of WIDTH x HEIGHT mm of paper.

    printed: whether it is seen at that size, so that its scale is told.
    Shown: overall dimensions, every wall with its thickness, the centroid C and the shear centre S, the principal
    axes 1 (greatest second moment) and 2, and beside it a list of figures.
    """
    width, height = WIDTH, HEIGHT
    sheet = Canvas(width, height)
    shown, far = _extent(section, figures)
    low_y, low_z, high_y, high_z = shown
    room_y, room_z = width - COLUMN - ROOM[0], height - ROOM[1]
    scale = min(scale_for(high_y - low_y, room_y), scale_for(high_z - low_z, room_z))
    x0 = (width - COLUMN - 8) / 2 - (low_y + high_y) / 2 * scale
    y0 = height / 2 + 3 - (low_z + high_z) / 2 * scale

    def at(point: Point2) -> Point2:
        return (x0 + point[0] * scale, y0 + point[1] * scale)

    paper = affinity.affine_transform(section.shape, [scale, 0, 0, scale, x0, y0])
    thin = wall_scale(section.shape) * scale < THIN
    sheet.area(paper, "thin" if thin else "visible", METAL)
    labels = Labels(sheet, (2.0, 2.0, width - COLUMN - 4, height - 2), paper)
    left, bottom, right, top = paper.bounds
    sheet.dimension(
        (left, bottom), (right, bottom), -13, show.length(right / scale - left / scale), size=TEXT
    )
    sheet.dimension((right, bottom), (right, top), -17, show.length(top / scale - bottom / scale), size=TEXT)
    labels.keep_off(shapely.box(left - 1, bottom - 15, right + 1, bottom - 9))
    labels.keep_off(shapely.box(right + 13, bottom - 1, right + 19, top + 1))
    _triad(sheet, labels, (7.0, 12.0))
    _principal_axes(sheet, labels, figures, at(figures.centroid), paper)
    _centres(sheet, labels, figures, at, far)
    _walls(labels, walls, at, scale, show)
    told = f"scale {scale_name(scale)}, lengths" if printed else "Lengths"
    sheet.text((24, 4), f"{told} in {show.unit_word}", TEXT)
    _list(sheet, section, figures, far, show)
    return sheet.svg()


def _extent(section: Section, figures: SectionFigures) -> tuple[tuple[float, float, float, float], bool]:
    """Bounds of what is drawn, and whether the shear centre is too far off to be."""
    box = shapely.box(*section.shape.bounds)
    size = max(box.bounds[2] - box.bounds[0], box.bounds[3] - box.bounds[1])
    centre = Point(figures.shear_centre)
    if centre.distance(box) > FAR * size:
        return box.bounds, True
    return shapely.union(box, centre.buffer(1e-3 * size)).bounds, False


def _triad(sheet: Canvas, labels: Labels, at: Point2) -> None:
    """The directions of y and z, at the lower left."""
    for direction, name in ((0.0, "y"), (math.pi / 2, "z")):
        tip = (at[0] + 9 * math.cos(direction), at[1] + 9 * math.sin(direction))
        sheet.line(at, tip, "thin")
        sheet.arrow(tip, direction)
        sheet.text(
            (tip[0] + (1 if direction == 0 else -0.6), tip[1] + (-0.8 if direction == 0 else 1)), name, TEXT
        )
    labels.keep_off(shapely.box(at[0] - 3, at[1] - 9, at[0] + 13, at[1] + 13))


def _skewed(figures: SectionFigures) -> bool:
    return abs(figures.Iyz) > SHARE * figures.I_max


def _all_alike(figures: SectionFigures) -> bool:
    return figures.I_max - figures.I_min < 1e-4 * figures.I_max


def _principal_axes(
    sheet: Canvas, labels: Labels, figures: SectionFigures, centre: Point2, paper: Polygon
) -> None:
    """Chain lines through the centroid with their numbers at the ends that point up or to the left."""
    corners = np.asarray(shapely.box(*paper.bounds).exterior.coords) - centre
    for number, angle in (("1", figures.angle), ("2", figures.angle + math.pi / 2)):
        along = np.array([math.cos(angle), math.sin(angle)])
        if along[1] < -LEVEL or (abs(along[1]) < LEVEL and along[0] > 0):
            along = -along
        reach = corners @ along
        tip, tail = centre + (reach.max() + 5) * along, centre + (reach.min() - 4) * along
        sheet.line(tail, tip, "axis")
        labels.soft(shapely.LineString([tail, tip]))
        if not _all_alike(figures):
            where = tip + 2.0 * along
            sheet.text(
                (where[0], where[1] - 0.35 * TEXT), number, TEXT, anchor="middle", bold=True, halo=True
            )
            labels.keep_off(Point(where).buffer(1.8))


def _centres(sheet: Canvas, labels: Labels, figures: SectionFigures, at: Any, far: bool) -> None:
    """The centroid, a quartered circle, and the shear centre, a diamond, with their labels."""
    c, s = at(figures.centroid), at(figures.shear_centre)
    labels.keep_off(Point(c).buffer(2))
    if not far:
        d = 1.5
        sheet.polyline(
            [(s[0] + d, s[1]), (s[0], s[1] + d), (s[0] - d, s[1]), (s[0], s[1] - d)],
            "thin",
            close=True,
            fill="#fff",
        )
        labels.keep_off(Point(s).buffer(2))
    sheet.circle(c, 1.1, "thin", "#fff")
    for quarter in (0.0, math.pi):
        arc = [
            (c[0] + 1.1 * math.cos(a), c[1] + 1.1 * math.sin(a))
            for a in quarter + np.linspace(0, math.pi / 2, 7)
        ]
        sheet.polyline([c, *arc], "thin", close=True, fill="#000")
    if not far and math.dist(c, s) < 1.0:
        labels.place(c, "C, S", off=2.4)
        return
    labels.place(c, "C", off=2.4)
    if not far:
        labels.place(s, "S", off=2.4)


def _walls(labels: Labels, walls: WallList, at: Any, scale: float, show: Display) -> None:
    """Every wall's name and thickness beside it; the thickness of curved parts where it is even."""
    for wall in sorted(walls.walls, key=lambda w: -w.length):
        a, b = np.array(at(wall.start)), np.array(at(wall.end))
        middle = (a + b) / 2
        words = f"{wall.name}: {show.length(wall.thickness)}"
        labels.beside(middle, (b - a) / 2, wall.thickness * scale / 2, words)
    for part in walls.thick:
        widest = 2 * shapely.maximum_inscribed_circle(part, 1e-3 * math.sqrt(part.area)).length
        mean = 2 * part.area / (part.exterior.length + sum(r.length for r in part.interiors))
        across = _across(part, widest) if widest < EVEN * mean else None
        if across is not None:
            a, b = (np.array(at(p)) for p in across.coords)
            labels.beside(
                (a + b) / 2,
                np.array([a[1] - b[1], b[0] - a[0]]),
                widest * scale / 2,
                f"wall: {show.length(widest)}",
            )


def _across(part: Polygon, thickness: float) -> LineString | None:
    """A line straight through a curved wall, away from its axes; None where none is as long as the wall is thick."""
    middle = np.array(shapely.convex_hull(part).centroid.coords[0])
    far = part.length
    for degrees in (35, 145, 215, 325, 60, 120, 240, 300):
        ray = far * np.array([math.cos(math.radians(degrees)), math.sin(math.radians(degrees))])
        for piece in shapely.get_parts(part.intersection(LineString([middle, middle + ray]))):
            if abs(piece.length / thickness - 1) < EVEN - 1:
                return LineString(piece)
    return None


def _rows(f: SectionFigures, show: Display) -> list[tuple[str, str]]:
    """The list of figures: name and value, the value with its unit."""

    def told(value: float, unit: str, digits: int = 4) -> str:
        scaled, shown = show.scaled(value, unit)
        return f"{figure(scaled, digits)} {shown}"

    def place(y: float, z: float) -> str:
        return f"{show.length(y)}, {show.size(z)}".replace("-", "−")

    rows = [
        ("area", told(f.area, "mm²")),
        ("C  y, z", place(*f.centroid)),
        ("S  y, z", place(*f.shear_centre)),
    ]
    rows += [("Iy", told(f.Iy, "mm⁴")), ("Iz", told(f.Iz, "mm⁴"))]
    if _skewed(f):
        rows += [
            ("Iyz", told(f.Iyz, "mm⁴")),
            ("I1", told(f.I_max, "mm⁴")),
            ("I2", told(f.I_min, "mm⁴")),
            ("axis 1 from y", f"{_signed(math.degrees(f.angle))}°"),
            ("W1", told(f.W_max, "mm³")),
            ("W2", told(f.W_min, "mm³")),
        ]
    else:
        rows += [("Wy", told(f.W_y, "mm³")), ("Wz", told(f.W_z, "mm³"))]
    iy, iz, least = f.gyration
    rows.append(("radii iy, iz", place(iy, iz)))
    if _skewed(f):
        rows.append(("least radius", show.size(least)))
    rows += [("J", told(f.J, "mm⁴")), ("Iw about S", told(_warping(f), "mm⁶", 3))]
    areas = [show.scaled(share * f.area, "mm²") for share in (f.shear_y, f.shear_z)]
    rows.append(("shear areas y, z", f"{', '.join(figure(a, 3) for a, _ in areas)} {areas[0][1]}"))
    share = shear_coupling(f)
    if abs(share) > SHARE:
        rows.append(("shear coupling", f"{_signed(100 * share, 1)} %"))
    stress = told(TORQUE * f.torsion_peak, "MPa", 3)
    rows.append((f"stress at {show.number(TORQUE / 1000, 'N m')}", stress))
    return rows


def _signed(value: float, decimals: int = 2) -> str:
    return mm(value, decimals).replace("-", "−")


def _warping(figures: SectionFigures) -> float:
    """Warping constant, 0 where it is but rounding beside a radius of gyration times the second moment."""
    return figures.warping if figures.warping > 1e-6 * figures.I_max**2 / figures.area else 0.0


def shear_coupling(figures: SectionFigures) -> float:
    """Off-diagonal term of the shear compliance over the mean of the diagonal ones (geometric); between -1 and 1."""
    (yy, yz), (_, zz) = figures.shear_compliance
    return yz / math.sqrt(yy * zz)


def _list(sheet: Canvas, section: Section, figures: SectionFigures, far: bool, show: Display) -> None:
    """The title, the figures and the notes, in the column at the right."""
    left, right, down = sheet.width - COLUMN, sheet.width - 3.0, sheet.height - 8.0
    for line in textwrap.wrap(section.drawing, 36):
        sheet.text((left, down), line, 3.2, bold=True)
        down -= LEADING
    down -= 1.0
    for name, value in _rows(figures, show):
        sheet.text((left, down), name, TEXT)
        sheet.text((right, down), value, TEXT, anchor="end")
        sheet.line((left, down - 1.2), (right, down - 1.2), "faint")
        down -= LEADING
    notes = ["C centroid, S shear centre; y, z from the lower left corner of the section's box."]
    if _all_alike(figures):
        notes.append("Bending is alike about every axis.")
    else:
        notes.append("Bending is stiffest about axis 1, softest about axis 2.")
    if far:
        notes.append("S lies outside the picture.")
    if figures.sharp_corners:
        plural = "corners" if figures.sharp_corners > 1 else "corner"
        notes.append(
            f"{figures.sharp_corners} sharp inner {plural}: the stress right there is left out; a fillet decides it."
        )
    down -= 0.5
    for note in notes:
        for line in textwrap.wrap(note, 42):
            sheet.text((left, down), line, TEXT)
            down -= 4.0
