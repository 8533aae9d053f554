"""Walls joined to a beam: four strains of the beam, and one warping displacement for every corner line.

Every wall gives its stiffness against five strains (plate.py); beam strains and warping decide those five, the
warping settles so that the energy is least. Cells and open legs need no care: the warping has one value a node.
Shear follows as in the bay (periodic.py), from curvature that grows along x.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sparwright.stiffness.flexure import shear_from_fields
from sparwright.stiffness.plate import INPLANE, PLATE, SHEAR, STRETCH, TWIST, WallStiffness

# Singular values under this share of the greatest are free motions: warping of all nodes alike, and of a leg's edge.
FREE = 1e-9


@dataclass(frozen=True)
class PlacedWall:
    """A wall in the section: its middle (y, z) from the beam's origin, the unit vector of its s, the nodes at its
    low and its high edge, and its stiffness. Its outward normal is `along` turned a quarter to the left."""

    middle: np.ndarray
    along: np.ndarray
    ends: tuple[int, int]
    stiffness: WallStiffness

    @property
    def normal(self) -> np.ndarray:
        """Unit vector of n, shape (2,)."""
        return np.array([-self.along[1], self.along[0]])

    @property
    def lever(self) -> float:
        """Moment about the origin of a unit force along s, mm."""
        return float(self.middle[0] * self.along[1] - self.middle[1] * self.along[0])


@dataclass(frozen=True)
class BeamStiffness:
    """The joined walls a unit of modulus, about the origin.

    C: (4, 4) for stretch, curvature with strain -y, curvature with strain z, twist. shear_centre (y, z) mm.
    compliance: of shear, (2, 2).
    """

    C: np.ndarray
    shear_centre: np.ndarray
    compliance: np.ndarray

    @property
    def twist(self) -> float:
        """Twist stiffness with all other forces left free."""
        return float(1 / np.linalg.inv(self.C)[TORSION, TORSION])


TORSION = 3


def join(walls: tuple[PlacedWall, ...], nodes: int) -> BeamStiffness:
    """Stiffness of a beam of these walls, with `nodes` corner lines."""
    beam, warping = _strains(walls, nodes)
    K = [w.stiffness.K for w in walls]
    CC, CU, UU = (
        sum(a.T @ k @ b for a, k, b in zip(left, K, right, strict=True))
        for left, right in ((beam, beam), (beam, warping), (warping, warping))
    )
    loose = np.linalg.pinv(UU, rcond=FREE, hermitian=True)
    settle = -loose @ CU.T
    C = CC + CU @ settle
    C = (C + C.T) / 2
    total = [b + a @ settle for b, a in zip(beam, warping, strict=True)]
    centre, compliance = _shear(walls, C, total, settle, warping, loose)
    return BeamStiffness(C, centre, compliance)


def _strains(walls: tuple[PlacedWall, ...], nodes: int) -> tuple[list[np.ndarray], list[np.ndarray]]:
    """Of every wall, the five strains a unit of each beam strain (5, 4) and of each node's warping (5, nodes)."""
    beam, warping = [], []
    for wall in walls:
        (y, z), (ay, az), (ny, nz) = wall.middle, wall.along, wall.normal
        b, a = np.zeros((5, 4)), np.zeros((5, nodes))
        b[STRETCH] = 1, -y, z, 0
        b[INPLANE] = 0, -ay, az, 0
        b[PLATE] = 0, -ny, nz, 0
        b[SHEAR, TORSION] = wall.lever
        b[TWIST, TORSION] = -1
        low, high = wall.ends
        a[SHEAR, high] += 1 / wall.stiffness.width
        a[SHEAR, low] -= 1 / wall.stiffness.width
        beam.append(b)
        warping.append(a)
    return beam, warping


def _shear(
    walls: tuple[PlacedWall, ...],
    C: np.ndarray,
    total: list[np.ndarray],
    settle: np.ndarray,
    warping: list[np.ndarray],
    loose: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Shear centre and shear compliance from the fields of curvature that grows along x."""
    pure = _pure(C)
    warp = settle @ pure
    shares, second = [], np.zeros((len(loose), 2))
    for wall, q in zip(walls, total, strict=True):
        low, high = (warp[end, 1:] for end in wall.ends)
        strains = q @ pure[:, 1:]
        share = np.vstack([strains, (low + high) / 2, (high - low) / wall.stiffness.width])
        shares.append(share)
        # What the growing stretch and in-plane bending pull on the two corner lines, less what shear there carries.
        pulled = wall.stiffness.K @ strains
        slope = (pulled[INPLANE] - wall.stiffness.given[:, SHEAR] @ share) / wall.stiffness.width
        second[wall.ends[0]] += pulled[STRETCH] / 2 - slope
        second[wall.ends[1]] += pulled[STRETCH] / 2 + slope
    second = loose @ second
    energy, torque = np.zeros((3, 3)), np.zeros(2)
    for wall, q, share, a in zip(walls, total, shares, warping, strict=True):
        s = wall.stiffness
        twist = q @ pure[:, 0]
        extra = (a @ second)[SHEAR]
        energy[0, 0] += twist @ s.K @ twist
        fields = share.T @ s.mixed + np.outer(extra, s.K[SHEAR])
        energy[1:, 0] += fields @ twist
        crossed = np.outer(share.T @ s.mixed[:, SHEAR], extra)
        energy[1:, 1:] += (
            share.T @ s.own @ share + crossed + crossed.T + np.outer(extra, extra) * s.K[SHEAR, SHEAR]
        )
        given = share.T @ s.given + np.outer(extra, s.K[SHEAR])
        torque += wall.lever * given[:, SHEAR] - given[:, TWIST]
    energy[0, 1:] = energy[1:, 0]
    bending = np.linalg.inv(np.linalg.inv(C)[1:3, 1:3])
    # The shear force is the slope of the bending moment.
    force = np.array([[-bending[0, 0], bending[0, 1]], [-bending[1, 0], bending[1, 1]]])
    return shear_from_fields(energy, np.column_stack([force, torque]))


def _pure(C: np.ndarray) -> np.ndarray:
    """Beam strains, columns: unit twist with nothing else held; unit curvatures free of force and torque."""
    S = np.linalg.inv(C)
    return np.column_stack([S[:, TORSION] / S[TORSION, TORSION], S[:, 1:3] @ np.linalg.inv(S[1:3, 1:3])])
