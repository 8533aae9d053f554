"""Shear centre and shear stiffness from stress fields, the same rule for the section and for the bay."""

from __future__ import annotations

import numpy as np


def shear_from_fields(energy: np.ndarray, forces: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Shear centre (y, z) from the origin, and the 2 x 2 shear compliance.

    energy: products of the three stress fields twist, shear 1, shear 2 with their strains, shape (3, 3).
    forces: rows (Vy, Vz, T about the origin) of the two shear fields, shape (2, 3).
    Twist is first taken out of the shear fields so that they share no energy with it (Trefftz).
    """
    share = energy[1:, 0] / energy[0, 0]
    torque = forces[:, 2] - share * energy[0, 0]
    free = energy[1:, 1:] - np.outer(share, energy[0, 1:])
    unit = np.linalg.inv(forces[:, :2])
    about = unit @ torque
    return np.array([about[1], -about[0]]), unit @ free @ unit.T
