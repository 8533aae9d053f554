"""Finite elements on a section's outline: the mesh, and the three warping displacements solved on it.

Curved triangles of high order on a coarse mesh. Round a sharp corner that points into the metal the stress has
no limit and high order alone converges slowly; there the mesh is cut geometrically toward the corner, which costs a
dozen elements a corner (Babuska and Guo's hp-method, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import splu
from shapely.geometry import Polygon

from sparwright.stiffness.outline import Edge, enclosed_area, inner_corners, polygon_edges
from sparwright.stiffness.quiet import quiet
from sparwright.stock.section import SectionError

ORDER = 5
# Element size over the section's mean thickness.
COARSE = 1.5
# About as many elements lie along a thin wall round a large section, however thin it is.
MOST_ALONG = 200
# A solid section of a few large elements has smooth energies but a rough stress at its edge.
LEAST_ELEMENTS = 30
# Where a mesh fails it is tried again: how much finer, and how fast elements may grow.
TRIES = ((1.0, 0.8), (1.7, 0.4), (3.0, 0.3), (0.6, 0.5))
# How near the mesh's area must be to the outline's: a face left out or turned inside out is further off.
WHOLE = 2e-4
# Rings of ever smaller elements round a sharp inner corner, and how much smaller each is.
CORNER_RINGS, SHRINK = 2, 0.15
# From this many sharp inner corners on a single ring is put round each, and from the second none.
MANY_CORNERS, MOST_CORNERS = 24, 120


@dataclass(frozen=True)
class Warping:
    """Products of the stress fields twist, shear 1 and shear 2 on a section, G = 1; coordinates from the centroid.

    area mm²; centroid (y, z) in the mesh's coordinates; second: (Iy, Iz, Iyz) mm⁴; energy, shape (3, 3), and forces,
    shape (2, 3): see flexure.shear_from_fields. squares: integrals of w², w y, w z of the twist's warp w (its mean
    is 0). peak: greatest shear stress of a unit twist on the outline, mm, and where, (y, z) from the centroid.
    """

    area: float
    centroid: tuple[float, float]
    second: tuple[float, float, float]
    energy: np.ndarray
    forces: np.ndarray
    squares: tuple[float, float, float]
    peak: float
    peak_at: tuple[float, float]


def wall_scale(shape: Polygon) -> float:
    """Mean thickness of a section, twice its area over all its edges, mm."""
    edge = shape.exterior.length + sum(r.length for r in shape.interiors)
    return float(2 * shape.area / edge)


def section_mesh(shape: Polygon, sagitta: float) -> tuple[Any, tuple[tuple[float, float], ...]]:
    """Curved triangles on the section with its centroid near the origin, and its sharp inner corners there.

    sagitta: see polygon_edges. Raises SectionError where no mesh of the whole section can be made.
    """
    rings = polygon_edges(shape, sagitta)
    origin = (shape.centroid.x, shape.centroid.y)
    thick = wall_scale(shape)
    size = max(COARSE * thick, 2 * shape.area / thick / MOST_ALONG)
    size = min(size, float(np.sqrt(2 * shape.area / LEAST_ELEMENTS)))
    corners = tuple((y - origin[0], z - origin[1]) for y, z in inner_corners(rings))
    drawn = enclosed_area(rings[0]) - sum(enclosed_area(ring) for ring in rings[1:])
    for finer, grading in TRIES:
        mesh = _mesh(rings, origin, size / finer, grading, corners)
        if mesh is not None and abs(_area(mesh) / drawn - 1) < WHOLE:
            return mesh, corners
    raise SectionError(
        "this section cannot be cut into elements for its stiffness; "
        "look for slits, spikes and steps far smaller than its walls, and draw it without them"
    )


def _area(mesh: Any) -> float:
    import ngsolve as ng

    return float(ng.Integrate(ng.CF(1), mesh, order=2 * ORDER))


def _mesh(
    rings: tuple[tuple[Edge, ...], ...],
    origin: tuple[float, float],
    size: float,
    grading: float,
    corners: tuple[tuple[float, float], ...],
) -> Any | None:
    """Triangles of about `size` mm; None where the mesher gives up."""
    from netgen import occ
    from netgen.meshing import NgException
    from ngsolve import Mesh

    from sparwright.stiffness.shapes import wire

    def place(p: tuple[float, float]) -> tuple[float, float, float]:
        return (p[0] - origin[0], p[1] - origin[1], 0.0)

    face = occ.Face(wire(rings[0], place))
    for ring in rings[1:]:
        face = face - occ.Face(wire(ring, place))
    refined = 0 < len(corners) <= MOST_CORNERS
    if refined:
        sharp = np.array(corners)
        for vertex in face.vertices:
            if np.hypot(*(sharp - [vertex.p.x, vertex.p.y]).T).min() < 1e-6:
                vertex.hpref = 1
    geometry = occ.OCCGeometry(face, dim=2)
    options = {"maxh": size, "curvaturesafety": 1.0, "grading": grading, "parallel_meshing": False}
    try:
        with quiet():
            mesh = Mesh(geometry.GenerateMesh(**options))
    except NgException:
        return None
    if refined:
        mesh.RefineHP(CORNER_RINGS if len(corners) < MANY_CORNERS else 1, SHRINK)
    mesh.Curve(ORDER)
    return mesh


def solve_warping(mesh: Any, nu: float, order: int, corners: tuple[tuple[float, float], ...]) -> Warping:
    """The warps of unit twist and of two unit curvatures that grow along x, at one polynomial order.

    nu: Poisson's ratio. A peak is not looked for within half the mean thickness of a sharp inner corner.
    """
    import ngsolve as ng

    whole = {"order": 2 * order}
    area, sy, sz = ng.Integrate(ng.CF((1, ng.x, ng.y)), mesh, **whole)
    yc, zc = sy / area, sz / area
    y, z = ng.x - yc, ng.y - zc
    # Shear strain besides the warp's slope: of twist, and of the in-plane displacement a free-sided bar of unit
    # curvature takes on.
    given = (
        ng.CF((-z, y)),
        nu * ng.CF(((y * y - z * z) / 2, y * z)),
        -nu * ng.CF((y * z, (z * z - y * y) / 2)),
    )
    flows = (*given, ng.CF((1, 0)), ng.CF((0, 1)))
    flat = [a * b for a in (y, z) for b in (y, z)]
    flat += [ng.InnerProduct(a, b) for a in given for b in flows]
    moments = np.array(ng.Integrate(ng.CF(tuple(flat)), mesh, **whole))
    Iz, Iyz, _, Iy = moments[:4]
    gram = moments[4:].reshape(3, 5)

    space = ng.H1(mesh, order=order)
    u, v = space.TnT()
    form = ng.BilinearForm(space)
    # The last term only pins the free constant: the loads balance, so the answer is unchanged.
    form += ng.grad(u) * ng.grad(v) * ng.dx + 1e-9 / area * u * v * ng.dx
    form.Assemble()
    rows, columns, values = (np.asarray(part) for part in form.mat.COO())
    stiffness = sp.csc_matrix((values, (rows, columns)), shape=(space.ndof, space.ndof))

    def vector(integrand: Any) -> np.ndarray:
        load = ng.LinearForm(space)
        load += integrand
        load.Assemble()
        return load.vec.FV().NumPy().copy()

    slopes = np.column_stack([vector(flow * ng.grad(v) * ng.dx) for flow in flows])
    heights = np.column_stack([vector(c * v * ng.dx) for c in (y, z)])
    loads = -slopes[:, :3]
    loads[:, 1:] += 2 * (1 + nu) * heights * np.array([-1.0, 1.0])
    factor = splu(
        stiffness, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    warps = factor.solve(loads)

    # The shear strains are slope of the warp plus what is given; their products come out of the vectors alone.
    crossed = warps.T @ slopes
    energy = warps.T @ loads + crossed[:, :3] + crossed[:, :3].T + gram[:, :3]
    forces = (crossed + gram)[1:, [3, 4, 0]]
    twist = ng.GridFunction(space)
    twist.vec.FV().NumPy()[:] = warps[:, 0]
    square = float(ng.Integrate(twist * twist, mesh, **whole))
    peak, at = _peak(mesh, twist, given[0], (yc, zc), corners, area)
    return Warping(
        area=float(area),
        centroid=(float(yc), float(zc)),
        second=(float(Iy), float(Iz), float(Iyz)),
        energy=energy,
        forces=forces,
        squares=(square, float(heights[:, 0] @ warps[:, 0]), float(heights[:, 1] @ warps[:, 0])),
        peak=peak,
        peak_at=at,
    )


def _peak(
    mesh: Any,
    twist: Any,
    given: Any,
    centroid: tuple[float, float],
    corners: tuple[tuple[float, float], ...],
    area: float,
) -> tuple[float, tuple[float, float]]:
    """Greatest stress of unit twist along the outline; the stress across a free edge is nought."""
    import ngsolve as ng

    rule = ng.IntegrationRule(ng.SEGM, 9)
    points = mesh.MapToAllElements({ng.SEGM: rule}, ng.BND)
    along = ng.specialcf.tangential(2)
    field = ng.CF((ng.x, ng.y, (ng.grad(twist).Trace() + given) * along))
    y, z, stress = np.asarray(field(points)).T
    stress = np.abs(stress)
    if corners:
        edge = float(ng.Integrate(ng.CF(1), mesh, ng.BND))
        near = np.hypot(y[:, None] - np.array(corners)[:, 0], z[:, None] - np.array(corners)[:, 1])
        stress = np.where(near.min(axis=1) < area / edge, 0.0, stress)
    best = int(np.argmax(stress))
    return float(stress[best]), (float(y[best]) - centroid[0], float(z[best]) - centroid[1])
