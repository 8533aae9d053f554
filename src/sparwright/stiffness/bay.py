"""Stiffness of the reworked member: one period of its pattern in solid finite elements."""

from __future__ import annotations

from typing import Any

import numpy as np

from sparwright.job.models import Material
from sparwright.stiffness.mirror import NO_MIRRORS, Mirrors, find_mirrors
from sparwright.stiffness.model import STIFFNESSES, BeamProperties, between, least_of
from sparwright.stiffness.pattern import BayError, Pattern, check_pockets, field_patterns, stretches
from sparwright.stiffness.periodic import PeriodStiffness, solve_period
from sparwright.stiffness.quiet import quiet
from sparwright.stiffness.section import section_properties, wall_scale
from sparwright.stock.model import FieldBay, Member, Section

# Each attempt to mesh: whether mirror planes are used, else the cutting plane as a share of the period; and the
# mesh size over the usual one.
ATTEMPTS = ((True, 0.0, 1.0), (False, 0.37, 1.0), (False, 0.21, 0.7), (False, 0.61, 1.4))
# Mesh size over the mean wall thickness, and elements on a circle's radius, for skins and for windows.
SIZE = {"skin": 2.0, "window": 1.5}
CURVES = {"skin": 0.7, "window": 1.0}
# Least elements along a pocket, and most over all walls' middle faces in a period.
POCKET, OVER = 4, 500
# Smallest elements: half a wall, but this many along a pocket; so that small fillets do not rule the mesh.
LEAST_POCKET = 30
GRADING = 0.5
# Share of the change from one order lower that is stated as the error: see docs/stiffness.md.
ERROR_SHARE = 0.75
# Least error stated, because what two orders miss may cancel.
LEAST_ERROR = 0.002
# Share of what two stretched patterns differ by that is stated as the error of the value between them.
BETWEEN_SHARE = 0.25
# Greatest relative miss of volume, and of shear force against moment, that a solution may have.
VOLUME_MISS = 0.005
BALANCE_MISS = 0.02


def bay_properties(member: Member, *, order: int = 3, windows: bool = False) -> BeamProperties:
    """Constants of the beam with the member's pocket fields, method "bay".

    windows: the same pattern with the skins taken out, for comparison. order: of the elements, 3 for the
    answer; one order lower on the same mesh gives the error estimate in `spread` (relative, by stiffness).
    A member without fields gives its section's properties. Single pockets, holes, notches and dropped pockets
    are not in it. Where fields lie one behind the other, each stretch is solved and the least of every
    stiffness is given, with mass and centres of the stretch weakest in twist; stretch_properties gives each.
    Raises BayError where fields share no period or no mesh could be made; ValueError for an order below 2.
    """
    if not member.bays:
        return section_properties(member.section, member.material)
    return least_of(
        [
            stretch_properties(member.section, member.material, bays, order=order, windows=windows)
            for bays in stretches(member.bays)
        ]
    )


def stretch_properties(
    section: Section,
    material: Material,
    bays: tuple[FieldBay, ...],
    *,
    order: int = 3,
    windows: bool = False,
) -> BeamProperties:
    """Constants of one stretch of the member, method "bay": all of `bays` lie over it; () is the plain section.

    Fields of two pitches that share no period are solved twice, those of one pitch stretched a little too short and
    a little too long, and the answer lies between; a part of what the two differ by enters `spread`.
    order, windows and errors: see bay_properties.
    """
    if not bays:
        return section_properties(section, material)
    open_through = windows or any(b.skin <= 0 for b in bays)
    names = ", ".join(f"{b.field} on {b.face}" for b in bays)
    patterns = field_patterns(section, bays, windows=windows)
    for pattern, _ in patterns:
        check_pockets(pattern, bays)
    found = [
        retried(section, material, pattern, names, order=order, open_through=open_through)
        for pattern, _ in patterns
    ]
    return found[0] if len(found) == 1 else between(found[0], found[1], patterns[0][1], BETWEEN_SHARE)


def retried(
    section: Section,
    material: Material,
    pattern: Pattern,
    names: str,
    *,
    order: int = 3,
    open_through: bool = False,
) -> BeamProperties:
    """Constants of a pattern from the first attempt that meshes and balances; see pattern_properties.

    names: of what is in it, for the message. Raises BayError where no attempt does; ValueError for an order below 2.
    """
    if order < 2:
        raise ValueError("a bay needs elements of order 2 or more")
    troubles = []
    for mirrored, shift, size in ATTEMPTS:
        try:
            return pattern_properties(
                section,
                material,
                pattern.shifted(pattern.clear_shift(shift)),
                order=order,
                size=size,
                open_through=open_through,
                mirrored=mirrored,
            )
        except failures() as fault:
            troubles.append(
                str(fault).strip().splitlines()[0] if str(fault).strip() else type(fault).__name__
            )
    raise BayError(
        f"one period of {names} ({pattern.period:.2f} mm) could not be computed in {len(ATTEMPTS)} attempts with "
        f"other cutting planes and mesh sizes; the last trouble: {troubles[-1]}. "
        "Look for pockets that touch each other or leave slivers thinner than 0.1 mm, and change rib or cell a little"
    )


def failures() -> tuple[type[BaseException], ...]:
    """What the modeller, the mesher and our own checks throw when a bay does not come out."""
    from netgen.meshing import NgException
    from netgen.occ import OCCException

    return (NgException, OCCException, RuntimeError, ValueError, np.linalg.LinAlgError)


def pattern_properties(
    section: Section,
    material: Material,
    pattern: Pattern,
    *,
    order: int = 3,
    size: float = 1.0,
    open_through: bool = False,
    mirrored: bool = True,
) -> BeamProperties:
    """Constants of the endless beam with this pattern, in one attempt: solid, mesh, answer, and one order lower.

    size: scales the mesh; open_through: mesh it as windows want; mirrored: solve only the part between the planes
    that mirror section and pattern, where there are any. A pattern without cuts is the plain prism.
    Raises ValueError or what the mesher raises where the bay does not come out; bay_properties then tries again.
    """
    origin = (section.shape.centroid.x, section.shape.centroid.y)
    mirrors = find_mirrors(section, pattern) if mirrored else NO_MIRRORS
    mesh = bay_mesh(section, pattern, mesh_options(section, pattern, size, open_through), order, mirrors)
    fine, rough = (_at_order(mesh, pattern.period, material, p, mirrors) for p in (order, order - 1))
    if not fine.balance < BALANCE_MISS:
        raise ValueError(f"shear force misses the moment's slope by {100 * fine.balance:.1f} %")
    answer = _properties(fine, material, pattern.period, origin)
    lower = _properties(rough, material, pattern.period, origin)
    spread = {
        key: max(ERROR_SHARE * abs(getattr(lower, key) / getattr(answer, key) - 1), LEAST_ERROR)
        + pattern.misfit
        for key in STIFFNESSES
    }
    return BeamProperties(**vars(answer) | {"spread": spread})


def _at_order(mesh: Any, period: float, material: Material, order: int, mirrors: Mirrors) -> PeriodStiffness:
    """The period's stiffness with elements and their curves of one order.

    Curves of a higher order than the elements would keep them from following even a plain turn.
    """
    mesh.Curve(order)
    return solve_period(mesh, period, material.modulus, material.poisson, order, mirrors)


def mesh_options(section: Section, pattern: Pattern, size: float, open_through: bool) -> dict[str, Any]:
    """What the mesher is told: `size` over the usual size, and whether to mesh as windows want."""
    kind = "window" if open_through else "skin"
    wall = wall_scale(section.shape)
    pocket = min((c.outline.bounds[2] - c.outline.bounds[0] for c in pattern.cuts), default=pattern.period)
    middle_faces = section.shape.area / wall * pattern.period
    largest = max(min(SIZE[kind] * wall, pocket / POCKET), (middle_faces / OVER) ** 0.5)
    return {
        "maxh": size * largest,
        "minh": size * min(wall / 2, pocket / LEAST_POCKET),
        "curvaturesafety": CURVES[kind],
        "grading": GRADING,
        "parallel_meshing": False,
    }


def bay_mesh(
    section: Section, pattern: Pattern, options: dict[str, Any], order: int, mirrors: Mirrors = NO_MIRRORS
) -> Any:
    """Curved tetrahedra on one period, or the part between its mirror planes; y and z from the section's centroid.

    The ends are tied together where no plane across the member mirrors it. Raises ValueError where the mesh
    does not fill the solid, or what the mesher raises.
    """
    from netgen.occ import OCCGeometry
    from ngsolve import CF, Integrate, Mesh

    from sparwright.stiffness.shapes import bay_solid, identify_ends, name_planes

    with quiet():
        solid = bay_solid(section, pattern, (section.shape.centroid.x, section.shape.centroid.y), mirrors)
        if mirrors.x is None:
            identify_ends(solid, pattern.period)
        name_planes(solid, mirrors, pattern.period / 2)
        raw = OCCGeometry(solid).GenerateMesh(**options)
        if mirrors.x is None and not raw.GetIdentifications():
            raise ValueError(
                "the two ends of the period are not tied: a pocket may just touch the plane between"
            )
        mesh = Mesh(raw)
        mesh.Curve(order)
        volume = float(Integrate(CF(1), mesh, order=2 * order))
    if abs(volume / solid.mass - 1) > VOLUME_MISS:
        raise ValueError(f"the mesh holds {volume:.0f} mm³ of the solid's {solid.mass:.0f} mm³")
    return mesh


def _properties(
    found: PeriodStiffness, material: Material, period: float, origin: tuple[float, float]
) -> BeamProperties:
    """The period's stiffness as constants of a beam about its own centroid and shear centre.

    Each stiffness is that with every other force left free, as the parts of the inverse give it.
    """
    C, S = found.C, np.linalg.inv(found.C)
    bending = np.linalg.inv(S[1:3, 1:3])
    if np.linalg.eigvalsh(C)[0] <= 0:
        raise ValueError("the period has no stiffness in some direction: it may be cut apart")
    return BeamProperties(
        method="bay",
        mass_kg_per_m=material.density * found.volume / period * 1e-6,
        EA=float(C[0, 0] - C[0, 3] ** 2 / C[3, 3]),
        EIy=float(bending[1, 1]),
        EIz=float(bending[0, 0]),
        EIyz=float(-bending[0, 1]),
        GJ=float(1 / S[3, 3]),
        GAy=float(1 / found.compliance[0, 0]),
        GAz=float(1 / found.compliance[1, 1]),
        centroid=(float(origin[0] - C[0, 1] / C[0, 0]), float(origin[1] + C[0, 2] / C[0, 0])),
        shear_centre=(origin[0] + found.shear_centre[0], origin[1] + found.shear_centre[1]),
    )
