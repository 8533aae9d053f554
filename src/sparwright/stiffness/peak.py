"""Peak stress in a patterned wall: one period of the wall as a flat membrane in two-dimensional finite elements.

The strip lies in (x, s) of its face, from the middle of one side wall to the middle of the other. A stretch along x and a shear are put
on it; the displacement that repeats from period to period settles. Along both side lines the wall keeps its u_x,
because the walls beside it carry it; u_s is free there. A skin is a region of its own thickness in the same membrane,
so the bending that comes of its lying off the wall's middle is not in here: strength.py puts a factor on it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from shapely.affinity import translate
from shapely.geometry import Polygon

from sparwright.answers import BadInput
from sparwright.stiffness.outline import inner_corners, polygon_edges

ORDER = 4
# Elements on a circle's radius, and the most elements over the strip's shorter measure.
CURVES = 2.0
COARSE = 4
GRADING = 0.4
# Where the strip is cut open, as a share of the period, until a mesh comes out.
SHIFTS = (0.0, 0.37, 0.21, 0.61)
# Points along a triangle's side at which stress is looked at.
LOOK = 7
KEPT = 64


@dataclass(frozen=True)
class Strip:
    """One period of a patterned wall: x from 0 to period, s from low to high, mm.

    thickness: of the plain wall, mm. outlines: pockets of one period with their true corner radii; one that reaches over an end is
    listed once. skin: metal left in them, 0 for windows. held: whether walls beside carry the side lines; if not, as at the edges of a
    flat bar, they are free under axial force.
    """

    period: float
    low: float
    high: float
    thickness: float
    skin: float
    outlines: tuple[Polygon, ...]
    held: bool = True

    @property
    def width(self) -> float:
        """From side line to side line, mm."""
        return self.high - self.low


@dataclass(frozen=True)
class StripPeaks:
    """Stresses of a strip under unit loads.

    shear: peak von Mises stress in the full wall over sqrt(3) times the gross shear stress q/t; axial: over the gross axial
    stress n/t. shear_at, axial_at: (x, s) of those peaks, mm. skin_peak_shear, skin_peak_axial: the same peaks in the skins.
    shear_kept, axial_kept: stiffness of the strip over the plain wall's.
    skin_shear: greatest mean shear stress of one skin per q/t; skin_axial: greatest mean direct stress of a skin, along x or s, per n/t;
    skin_mixed: the same that the shear flow leaves, per q/t. What is of the skins is 0 for windows. elements: in the mesh.
    """

    shear: float
    axial: float
    shear_at: tuple[float, float]
    axial_at: tuple[float, float]
    skin_peak_shear: float
    skin_peak_axial: float
    shear_kept: float
    axial_kept: float
    skin_shear: float
    skin_axial: float
    skin_mixed: float
    elements: int


def make_strip(
    period: float,
    sides: tuple[float, float],
    thickness: float,
    skin: float,
    outlines: Sequence[Polygon],
    held: bool = True,
) -> Strip:
    """A strip with its measures rounded to 1e-6 mm, so that copies of a pattern are known as one."""
    rounded = tuple(Polygon(np.round(o.exterior.coords, 6) + 0.0) for o in outlines)
    low, high = (round(s, 6) for s in sides)
    return Strip(round(period, 6), low, high, round(thickness, 6), round(max(skin, 0.0), 6), rounded, held)


@lru_cache(maxsize=KEPT)
def strip_peaks(strip: Strip, poisson: float, order: int = ORDER, size: float = 1.0) -> StripPeaks:
    """Peaks under unit shear flow and under unit axial force per width, plane stress.

    size scales the mesh. The modulus drops out. Kept by geometry, so that each distinct pattern is computed once.
    Raises BadInput for a pocket with a sharp corner, which has no finite peak, and where no mesh comes out.
    """
    for outline in strip.outlines:
        if inner_corners(polygon_edges(outline.envelope.buffer(1.0).difference(outline))[1:]):
            raise BadInput(
                "a pocket with a sharp corner has no finite peak stress: give it a corner radius above 0, at least that of the cutter"
            )
    if strip.outlines:
        least = min(o.bounds[1] for o in strip.outlines), max(o.bounds[3] for o in strip.outlines)
        if least[0] <= strip.low or least[1] >= strip.high:
            raise BadInput(
                f"pockets reach from s = {least[0]:.2f} to {least[1]:.2f} mm, and the wall from {strip.low:.2f} to {strip.high:.2f} mm: "
                "keep them inside the wall"
            )
    trouble = ""
    for shift in SHIFTS:
        try:
            return _solved(strip, shift * strip.period, poisson, order, size)
        except _failures() as fault:
            trouble = str(fault).strip().splitlines()[0] if str(fault).strip() else type(fault).__name__
    raise BadInput(
        f"the wall's pattern could not be meshed for its peak stress ({trouble}); look for pockets that touch or leave "
        "slivers thinner than 0.1 mm, and change rib or cell a little"
    )


def _failures() -> tuple[type[BaseException], ...]:
    from netgen.meshing import NgException
    from netgen.occ import OCCException

    return (NgException, OCCException, RuntimeError, ValueError, np.linalg.LinAlgError)


def _copies(strip: Strip, shift: float) -> list[tuple[int, Polygon]]:
    """Every copy of every outline that reaches into the period, with the outline's number."""
    out = []
    for i, outline in enumerate(strip.outlines):
        low, _, high, _ = outline.bounds
        first = math.floor((shift - high) / strip.period + 1e-9) + 1
        last = math.ceil((shift + strip.period - low) / strip.period - 1e-9) - 1
        out += [(i, translate(outline, k * strip.period - shift)) for k in range(first, last + 1)]
    return out


def _mesh(strip: Strip, shift: float, order: int, size: float) -> Any:
    """Curved triangles on the strip, its ends tied, side lines named "side", skins "skin0", "skin1" ..."""
    from netgen import occ
    from ngsolve import Mesh

    from sparwright.stiffness.shapes import wire

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0], p[1], 0.0)

    P = strip.period
    sheet = occ.WorkPlane().MoveTo(0, strip.low).Rectangle(P, strip.width).Face()
    tools = [(i, occ.Face(wire(polygon_edges(o)[0], place))) for i, o in _copies(strip, shift)]
    wall = sheet - occ.Compound([t for _, t in tools]) if tools else sheet
    wall.faces.name = "wall"
    parts = [*wall.faces]
    if strip.skin > 0:
        for i, tool in tools:
            floor = tool * sheet
            floor.faces.name = f"skin{i}"
            parts += [*floor.faces]
    shape = occ.Glue(parts) if len(parts) > 1 else wall
    ends: tuple[list[Any], list[Any]] = ([], [])
    for edge in shape.edges:
        box_low, box_high = edge.bounding_box
        for edges, x in zip(ends, (0.0, P), strict=True):
            if abs(box_low.x - x) < 1e-5 and abs(box_high.x - x) < 1e-5:
                edges.append(edge)
        for s in (strip.low, strip.high):
            if abs(box_low.y - s) < 1e-5 and abs(box_high.y - s) < 1e-5:
                edge.name = "side"
    if len(ends[0]) != len(ends[1]) or not ends[0]:
        raise ValueError(f"{len(ends[0])} edges at one end, {len(ends[1])} at the other")
    move = occ.gp_Trsf.Translation(occ.gp_Vec(P, 0, 0))
    for edge in ends[0]:
        partner = min(ends[1], key=lambda e: abs(e.center.y - edge.center.y))
        edge.Identify(partner, "period", occ.IdentificationType.PERIODIC, move)
    options = {
        "maxh": size * min(P, strip.width) / COARSE,
        "curvaturesafety": CURVES / size,
        "grading": GRADING,
        "parallel_meshing": False,
    }
    mesh = Mesh(occ.OCCGeometry(shape, dim=2).GenerateMesh(**options))
    mesh.Curve(order)
    return mesh


def _solved(strip: Strip, shift: float, nu: float, order: int, size: float) -> StripPeaks:
    import ngsolve as ng

    mesh = _mesh(strip, shift, order, size)
    _check_area(strip, mesh, order)
    skins = {f"skin{i}": strip.skin for i in range(len(strip.outlines))}
    t = mesh.MaterialCF({"wall": strip.thickness, **skins}, default=strip.thickness)
    fields, S = _unit_fields(ng, mesh, strip, t, nu, order, held=True)
    if not strip.held:
        free, loose = _unit_fields(ng, mesh, strip, t, nu, order, held=False)
        fields, S = [free[0], fields[1]], np.diag([loose[0, 0], S[1, 1]])
    if not (S[0, 0] > 0 and S[1, 1] > 0):
        raise ValueError("the strip has no stiffness in some direction: it may be cut apart")
    points = mesh.MapToAllElements({ng.ET.TRIG: _lookouts(ng)}, ng.VOL)
    axial, shear = (_peak(ng, mesh, points, f) for f in fields)
    places = [((p.at[0] + shift) % strip.period, p.at[1]) for p in (axial, shear)]
    skin = _skins(ng, mesh, fields, order) if strip.skin > 0 and strip.outlines else (0.0, 0.0, 0.0)
    return StripPeaks(
        shear=shear.wall / math.sqrt(3),
        axial=axial.wall,
        shear_at=places[1],
        axial_at=places[0],
        skin_peak_shear=shear.skin / math.sqrt(3),
        skin_peak_axial=axial.skin,
        shear_kept=float(2 * (1 + nu) / S[1, 1]),
        axial_kept=float(1 / S[0, 0]),
        skin_shear=skin[0],
        skin_axial=skin[1],
        skin_mixed=skin[2],
        elements=int(mesh.ne),
    )


def _unit_fields(
    ng: Any, mesh: Any, strip: Strip, t: Any, nu: float, order: int, held: bool
) -> tuple[list[Any], np.ndarray]:
    """Stress fields (s_x, s_s, tau) under n/t = 1 and q/t = 1, modulus 1, and the compliance (2, 2); without held sides the first alone."""
    along = ng.H1(mesh, order=order, dirichlet="side" if held else "")
    space = ng.Periodic(along) * ng.Periodic(ng.H1(mesh, order=order))
    (u, w), (du, dw) = space.TnT()

    def strain(a: Any, b: Any) -> Any:
        return ng.CF((ng.grad(a)[0], ng.grad(b)[1], ng.grad(a)[1] + ng.grad(b)[0]))

    plane = ng.CF((1, nu, 0, nu, 1, 0, 0, 0, (1 - nu) / 2), dims=(3, 3)) / (1 - nu**2)
    area = strip.period * strip.width
    form = ng.BilinearForm(space, symmetric=True)
    # The last term only pins free shifts: the loads balance, so the answer is unchanged.
    form += t * (plane * strain(u, w)) * strain(du, dw) * ng.dx
    form += 1e-9 * strip.thickness / area * (u * du + w * dw) * ng.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
    stresses = []
    for macro in (ng.CF((1, 0, 0)), ng.CF((0, 0, 1)))[: 2 if held else 1]:
        load = ng.LinearForm(space)
        load += -t * (plane * macro) * strain(du, dw) * ng.dx
        load.Assemble()
        found = ng.GridFunction(space)
        found.vec.data = inverse * load.vec
        a, b = found.components
        stresses.append(plane * (macro + strain(a, b)))
    wanted = (0, 2)[: len(stresses)]
    rows = [ng.Integrate(ng.CF(tuple(t * s[k] for k in wanted)), mesh, order=2 * order) for s in stresses]
    stiffness = np.reshape(rows, (len(wanted), len(wanted))) / area / strip.thickness
    S = np.linalg.inv(stiffness)
    if not held:
        return [float(S[0, 0]) * stresses[0]], S
    return [float(row[0]) * stresses[0] + float(row[1]) * stresses[1] for row in S], S


def _check_area(strip: Strip, mesh: Any, order: int) -> None:
    """Raises ValueError where the mesh does not fill the strip."""
    from ngsolve import CF, Integrate

    left = strip.period * strip.width
    if strip.skin <= 0:
        left -= sum(o.area for o in strip.outlines)
    found = float(Integrate(CF(1), mesh, order=2 * order))
    if abs(found / left - 1) > 0.003:
        raise ValueError(f"the mesh covers {found:.0f} mm² of {left:.0f} mm²")


def _lookouts(ng: Any) -> Any:
    """Points of the reference triangle, its sides and corners included."""
    n = LOOK - 1
    grid = [(i / n, j / n) for i in range(n + 1) for j in range(n + 1 - i)]
    return ng.IntegrationRule(grid, [0.0] * len(grid))


@dataclass(frozen=True)
class _Peak:
    """Greatest von Mises stress in the full wall, where, and in the skins."""

    wall: float
    at: tuple[float, float]
    skin: float


def _peak(ng: Any, mesh: Any, points: Any, stress: Any) -> _Peak:
    sx, sy, txy = stress[0], stress[1], stress[2]
    mises = ng.sqrt(sx * sx - sx * sy + sy * sy + 3 * txy * txy)
    full = mesh.MaterialCF({"wall": 1.0}, default=0.0)
    values = np.asarray(ng.CF((mises * full, ng.x, ng.y, mises * (1 - full)))(points))
    best = values[int(np.argmax(values[:, 0]))]
    return _Peak(float(best[0]), (float(best[1]), float(best[2])), float(values[:, 3].max()))


def _skins(ng: Any, mesh: Any, fields: list[Any], order: int) -> tuple[float, float, float]:
    """Mean stresses of the worst skin: shear and direct ones as StripPeaks names them."""
    chosen = sorted({n for n in mesh.GetMaterials() if n.startswith("skin")})
    flat = ng.CF((1, *(f[k] for f in fields for k in range(3))))
    sums = np.array([ng.Integrate(flat, mesh, order=2 * order, definedon=mesh.Materials(n)) for n in chosen])
    means = np.abs(sums[:, 1:] / sums[:, :1])
    return float(means[:, 5].max()), float(means[:, :2].max()), float(means[:, 3:5].max())
