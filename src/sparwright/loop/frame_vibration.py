"""Natural modes of a frame: least frequencies by Lanczos iteration, and where each keeps its energy."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg
import scipy.sparse as sp
import scipy.sparse.linalg as spl

from sparwright.loop.frame_build import Built
from sparwright.loop.frame_parts import Frame
from sparwright.loop.frame_statics import (
    Prepared,
    beam_ends,
    factorised,
    node_motions,
    prepare,
    strain_energies,
)

# Below this many unknowns the modes come from the full eigenproblem.
FULL = 60
# Shift of the eigenvalue problem, so that a machine free in space can be solved too.
SHIFT_HZ = 5.0


@dataclass(frozen=True)
class FrameMode:
    """A natural mode, its modal mass 1 tonne.

    frequency Hz. motions: (6,) by node. strain: share of the strain energy by beam and spring. kinetic: share of the
    kinetic energy by beam and mass. along: by beam, places x (k,) mm of its own x and motions (k, 6) in the machine's
    axes.
    """

    frequency: float
    motions: dict[str, np.ndarray]
    strain: dict[str, float]
    kinetic: dict[str, float]
    along: dict[str, tuple[np.ndarray, np.ndarray]]


def frame_modes(frame: Frame | Prepared, count: int, free: int = 0) -> tuple[FrameMode, ...]:
    """The first natural modes, lowest first; fewer where the masses allow no more.

    free: number of motions without strain that the machine may have (6 for one not held at all); they are left
    out. Raises FrameError for a mechanism where none is allowed.
    """
    ready = prepare(frame)
    built = ready.built
    if free == 0:
        _ = ready.factor  # speaks up for a mechanism
    squares, shapes = _eigen(built, count + free)
    return tuple(
        _mode(built, float(square), np.asarray(built.T @ shape))
        for square, shape in list(zip(squares, shapes.T, strict=True))[free:]
    )


def _mode(built: Built, square: float, d: np.ndarray) -> FrameMode:
    strain = strain_energies(built, d)
    whole = sum(strain.values())
    points = d.reshape(-1, 6)
    return FrameMode(
        float(np.sqrt(max(square, 0.0)) / (2 * np.pi)),
        node_motions(built, d),
        {name: part / whole for name, part in strain.items()},
        _kinetic(built, d),
        {
            b.name: (np.array([b.pieces[0].x[0], *(p.x[1] for p in b.pieces)]), points[list(b.points)])
            for b in built.beams
        },
    )


def _eigen(built: Built, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Least omega² (k,) and shapes (unknowns, k) with modal mass 1, from the greatest 1 / (omega² + shift)."""
    shift = (2 * np.pi * SHIFT_HZ) ** 2
    lifted = sp.csc_array(built.K + shift * built.M)
    size = lifted.shape[0]
    if size <= max(FULL, count + 1):
        span = [max(0, size - count), size - 1]
        inverse, shapes = scipy.linalg.eigh(built.M.toarray(), lifted.toarray(), subset_by_index=span)
    else:
        # Scaled to ones on the diagonal, and the mass to a greatest entry of 1: shifts and turns differ by powers of ten.
        scale = 1 / np.sqrt(lifted.diagonal())
        D = sp.diags_array(scale)
        mass = sp.csc_array(D @ built.M @ D)
        top = abs(mass).max()
        back = spl.LinearOperator(
            (size, size), matvec=factorised(sp.csc_array(D @ lifted @ D)).solve, dtype=float
        )
        values, vectors = spl.eigsh(
            sp.csc_array(D @ built.K @ D),
            k=count,
            M=mass / top,
            sigma=-shift * top,
            OPinv=back,
            v0=np.random.default_rng(1).standard_normal(size),
        )
        inverse = 1 / (values / top + shift)
        shapes = vectors * scale[:, None]
    order = np.argsort(-inverse)
    order = order[inverse[order] > 1e-14 * inverse.max()]
    inverse, shapes = inverse[order], shapes[:, order]
    masses = np.einsum("ik,ik->k", shapes, built.M @ shapes)
    return 1 / inverse - shift, shapes / np.sqrt(masses)


def _kinetic(built: Built, d: np.ndarray) -> dict[str, float]:
    out = {}
    for beam in built.beams:
        ends = beam_ends(beam, d)
        out[beam.name] = float(np.einsum("ei,eij,ej->", ends, np.array([p.M for p in beam.pieces]), ends))
    for name, (point, matrix) in built.part_M.items():
        at = d[6 * point : 6 * point + 6]
        out[name] = float(at @ matrix @ at)
    whole = sum(out.values())
    return {name: part / whole for name, part in out.items()}
