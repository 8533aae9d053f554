"""A whole member in solid finite elements, held rigidly at one end and moved rigidly at the other."""

from dataclasses import replace

import numpy as np
from shapely.affinity import translate

from sparwright.stiffness.mirror import NO_MIRRORS
from sparwright.stiffness.pattern import Pattern

# Rows and columns of the end's stiffness and flexibility.
ALONG, Y, Z, TWIST, ABOUT_Y, ABOUT_Z = range(6)
# Signs of each motion in a mirror across y and z.
SIGNS = ((1, 1), (-1, 1), (1, -1), (-1, -1), (1, -1), (-1, 1))


def many_periods(pattern, count):
    """The pattern over `count` periods as one long pattern; it starts and ends where the period does."""
    cuts = tuple(
        replace(c, outline=translate(c.outline, k * pattern.period))
        for c in pattern.cuts
        for k in range(count)
    )
    return Pattern(count * pattern.period, pattern.misfit, cuts)


def end_flexibility(section, pattern, material, options, order, mirrors=NO_MIRRORS):
    """Flexibility (6, 6) of the far end about its middle: shifts x, y, z and turns about x, y, z; mm, N, rad.

    The same elements and mesh sizes as the bay, no periodicity, no homogenisation. mirrors: middle planes (not across x)
    that halve the solid. Also gives the number of nodes.
    """
    import ngsolve as ng
    from netgen.occ import OCCGeometry

    from sparwright.stiffness.shapes import bay_solid, name_planes

    length = pattern.period
    solid = bay_solid(section, pattern, (section.shape.centroid.x, section.shape.centroid.y), mirrors)
    name_planes(solid, mirrors, length)
    for face in solid.faces:
        low, high = face.bounding_box
        for x, name in ((0.0, "near"), (length, "far")):
            if abs(low.x - x) < 1e-4 and abs(high.x - x) < 1e-4:
                face.name = name
    mesh = ng.Mesh(OCCGeometry(solid).GenerateMesh(**options))
    mesh.Curve(order)
    mu = material.modulus / (2 * (1 + material.poisson))
    lam = 2 * mu * material.poisson / (1 - 2 * material.poisson)
    motions = [(1, 0, 0), (0, 1, 0), (0, 0, 1), (0, -ng.z, ng.y), (ng.z, 0, 0), (-ng.y, 0, 0)]
    stiffness = np.zeros((6, 6))
    sorts = [tuple(s[a - 1] for a in mirrors.axes) for s in SIGNS]
    nodes = 0
    for sort in dict.fromkeys(sorts):
        alike = [i for i in range(6) if sorts[i] == sort]
        # An even motion leaves a middle plane in its place; an odd one moves it across only.
        held = {axis: ["near", "far"] for axis in "xyz"}
        for axis, sign in zip(mirrors.axes, sort, strict=True):
            plane = "xyz"[axis]
            for i in "xyz":
                if (i == plane) == (sign > 0):
                    held[i].append(plane)
        conditions = {f"dirichlet{i}": "|".join(names) for i, names in held.items()}
        if mirrors.axes:
            space = ng.VectorH1(mesh, order=order, **conditions)
        else:
            space = ng.H1(mesh, order=order, dim=3, dirichlet="near|far")
        nodes = space.ndof // (3 if mirrors.axes else 1)
        u, v = space.TnT()
        form = ng.BilinearForm(space, symmetric=True)
        e, d = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
        form += (2 * mu * ng.InnerProduct(e, d) + lam * ng.Trace(e) * ng.Trace(d)) * ng.dx
        form.Assemble()
        inverse = form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
        fields, pulls = [], []
        for i in alike:
            field = ng.GridFunction(space)
            field.Set(ng.CF(motions[i]), definedon=mesh.Boundaries("far"))
            residual = field.vec.CreateVector()
            residual.data = form.mat * field.vec
            field.vec.data -= inverse * residual
            pull = field.vec.CreateVector()
            pull.data = form.mat * field.vec
            fields.append(field)
            pulls.append(pull)
        part = np.array([[ng.InnerProduct(f.vec, p) for p in pulls] for f in fields])
        stiffness[np.ix_(alike, alike)] = mirrors.copies * (part + part.T) / 2
    return np.linalg.inv(stiffness), nodes
