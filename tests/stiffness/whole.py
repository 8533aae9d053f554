"""A whole member in solid finite elements, held rigidly at one end and moved rigidly at the other."""

from dataclasses import replace

import numpy as np
from shapely.affinity import translate

from sparwright.stiffness.pattern import Pattern

# Rows and columns of the end's stiffness and flexibility.
ALONG, Y, Z, TWIST, ABOUT_Y, ABOUT_Z = range(6)


def many_periods(pattern, count):
    """The pattern over `count` periods as one long pattern; it starts and ends where the period does."""
    cuts = tuple(
        replace(c, outline=translate(c.outline, k * pattern.period))
        for c in pattern.cuts
        for k in range(count)
    )
    return Pattern(count * pattern.period, pattern.misfit, cuts)


def end_flexibility(section, pattern, material, options, order):
    """Flexibility (6, 6) of the far end about its middle: shifts x, y, z and turns about x, y, z; mm, N, rad.

    The same elements and mesh sizes as the bay, no periodicity, no homogenisation.
    """
    import ngsolve as ng
    from netgen.occ import OCCGeometry

    from sparwright.stiffness.shapes import bay_solid

    length = pattern.period
    solid = bay_solid(section, pattern, (section.shape.centroid.x, section.shape.centroid.y))
    for face in solid.faces:
        low, high = face.bounding_box
        for x, name in ((0.0, "near"), (length, "far")):
            if abs(low.x - x) < 1e-4 and abs(high.x - x) < 1e-4:
                face.name = name
    mesh = ng.Mesh(OCCGeometry(solid).GenerateMesh(**options))
    mesh.Curve(order)
    mu = material.modulus / (2 * (1 + material.poisson))
    lam = 2 * mu * material.poisson / (1 - 2 * material.poisson)
    space = ng.H1(mesh, order=order, dim=3, dirichlet="near|far")
    u, v = space.TnT()
    form = ng.BilinearForm(space, symmetric=True)
    e, d = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
    form += (2 * mu * ng.InnerProduct(e, d) + lam * ng.Trace(e) * ng.Trace(d)) * ng.dx
    form.Assemble()
    inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
    motions = [(1, 0, 0), (0, 1, 0), (0, 0, 1), (0, -ng.z, ng.y), (ng.z, 0, 0), (-ng.y, 0, 0)]
    fields, pulls = [], []
    for motion in motions:
        field = ng.GridFunction(space)
        field.Set(ng.CF(motion), definedon=mesh.Boundaries("far"))
        residual = field.vec.CreateVector()
        residual.data = form.mat * field.vec
        field.vec.data -= inverse * residual
        pull = field.vec.CreateVector()
        pull.data = form.mat * field.vec
        fields.append(field)
        pulls.append(pull)
    stiffness = np.array([[ng.InnerProduct(f.vec, p) for p in pulls] for f in fields])
    return np.linalg.inv((stiffness + stiffness.T) / 2), space.ndof
