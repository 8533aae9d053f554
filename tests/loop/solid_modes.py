"""Natural modes of a free member in solid finite elements, told apart by how its sections move."""

from dataclasses import dataclass

import numpy as np
import scipy.sparse.linalg as spl

SHIFT_HZ = 20.0


@dataclass(frozen=True)
class SolidMode:
    """Frequency Hz; kind "y", "z" (bending, moving in that direction), "twist", "stretch" or "racking"; share of it."""

    frequency: float
    kind: str
    share: float


def free_modes(section, pattern, material, options, order, count):
    """The first `count` modes with strain of the member from x = 0 to the pattern's period, and the unknowns."""
    import ngsolve as ng
    from netgen.occ import OCCGeometry

    from sparwright.stiffness.shapes import bay_solid

    solid = bay_solid(section, pattern, (section.shape.centroid.x, section.shape.centroid.y))
    mesh = ng.Mesh(OCCGeometry(solid).GenerateMesh(**options))
    mesh.Curve(order)
    mu = material.modulus / (2 * (1 + material.poisson))
    lam = 2 * mu * material.poisson / (1 - 2 * material.poisson)
    density = material.density * 1e-12
    space = ng.H1(mesh, order=order, dim=3)
    u, v = space.TnT()
    e, d = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
    elastic = (2 * mu * ng.InnerProduct(e, d) + lam * ng.Trace(e) * ng.Trace(d)) * ng.dx
    shift = (2 * np.pi * SHIFT_HZ) ** 2
    stiff = ng.BilinearForm(space, symmetric=True)
    stiff += elastic + shift * density * ng.InnerProduct(u, v) * ng.dx
    mass = ng.BilinearForm(space, symmetric=True)
    mass += density * ng.InnerProduct(u, v) * ng.dx
    stiff.Assemble()
    mass.Assemble()
    inverse = stiff.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky")
    field = ng.GridFunction(space)
    given, found = field.vec.CreateVector(), field.vec.CreateVector()
    size = len(field.vec.FV().NumPy())

    def through(matrix):
        def apply(x):
            given.FV().NumPy()[:] = x
            found.data = matrix * given
            return found.FV().NumPy().copy()

        return spl.LinearOperator((size, size), matvec=apply, dtype=float)

    # The greatest 1 / (omega^2 + shift): the six free motions come first.
    values, vectors = spl.eigsh(
        through(stiff.mat),
        k=count + 6,
        M=through(mass.mat),
        sigma=0.0,
        OPinv=through(inverse),
        tol=1e-8,
        v0=np.random.default_rng(1).standard_normal(size),
    )
    modes = []
    for k in np.argsort(values)[6:]:
        field.vec.FV().NumPy()[:] = vectors[:, k]
        kind, share = _kind(field, mesh, section, pattern.period)
        modes.append(SolidMode(float(np.sqrt(values[k] - shift) / (2 * np.pi)), kind, share))
    return modes, size


def _kind(field, mesh, section, length):
    """What the section does, from the motion of four corners at stations along x; shares of the corners' squares."""
    y0, z0, y1, z1 = section.shape.bounds
    centre = section.shape.centroid
    inset = 1.0
    corners = [
        (y - centre.x, z - centre.y) for y in (y0 + inset, y1 - inset) for z in (z0 + inset, z1 - inset)
    ]
    rigid = np.zeros((8, 3))
    for i, (y, z) in enumerate(corners):
        rigid[2 * i], rigid[2 * i + 1] = (1, 0, -z), (0, 1, y)
    squares = {"y": 0.0, "z": 0.0, "twist": 0.0, "racking": 0.0, "stretch": 0.0}
    polar = sum(y * y + z * z for y, z in corners)
    for x in np.linspace(0.02, 0.98, 49) * length:
        moved = np.array([field(mesh(float(x), y, z)) for y, z in corners])
        flat = moved[:, 1:].ravel()
        fit = np.linalg.lstsq(rigid, flat, rcond=None)[0]
        squares["y"] += 4 * fit[0] ** 2
        squares["z"] += 4 * fit[1] ** 2
        squares["twist"] += polar * fit[2] ** 2
        squares["racking"] += float(((flat - rigid @ fit) ** 2).sum())
        squares["stretch"] += 4 * moved[:, 0].mean() ** 2
    whole = sum(squares.values())
    kind = max(squares, key=lambda k: squares[k])
    return kind, squares[kind] / whole


def end_twist(section, material, length, notches, order):
    """Turn of the end x = 0 per torque, 1/(N mm), the far end held: the near one turns as a rigid figure, free to warp."""
    import ngsolve as ng
    from netgen import occ

    from sparwright.stiffness.outline import polygon_edges
    from sparwright.stiffness.pattern import Pattern
    from sparwright.stiffness.shapes import bay_solid, prism

    origin = (section.shape.centroid.x, section.shape.centroid.y)
    solid = bay_solid(section, Pattern(length, 0.0, ()), origin)
    for notch in notches:
        face, down = section.face(notch.face), -(notch.depth + 1.0)

        def place(p, face=face):
            x, y, z = face.to_member(np.array([[*p, 0.5]]))[0]
            return (float(x), float(y) - origin[0], float(z) - origin[1])

        along = (0.0, *(float(c) for c in down * face.normal))
        solid = solid - prism(polygon_edges(notch.outline), place, along)
    for face in solid.faces:
        low, high = face.bounding_box
        for x, name in ((0.0, "near"), (length, "far")):
            if abs(low.x - x) < 1e-4 and abs(high.x - x) < 1e-4:
                face.name = name
    mesh = ng.Mesh(occ.OCCGeometry(solid).GenerateMesh(maxh=8, parallel_meshing=False))
    mesh.Curve(order)
    space = ng.VectorH1(mesh, order=order, dirichletx="far", dirichlety="near|far", dirichletz="near|far")
    u, v = space.TnT()
    mu = material.modulus / (2 * (1 + material.poisson))
    lam = 2 * mu * material.poisson / (1 - 2 * material.poisson)
    e, d = ng.Sym(ng.Grad(u)), ng.Sym(ng.Grad(v))
    form = ng.BilinearForm(space, symmetric=True)
    form += (2 * mu * ng.InnerProduct(e, d) + lam * ng.Trace(e) * ng.Trace(d)) * ng.dx
    form.Assemble()
    field = ng.GridFunction(space)
    field.Set(ng.CF((0, -ng.z, ng.y)), definedon=mesh.Boundaries("near"))
    pull = field.vec.CreateVector()
    pull.data = form.mat * field.vec
    field.vec.data -= form.mat.Inverse(space.FreeDofs(), inverse="sparsecholesky") * pull
    pull.data = form.mat * field.vec
    return 1 / ng.InnerProduct(pull, field.vec)
