"""A part as an STL file, ASCII or binary: its triangles, once they are sure to bound a body of sensible size."""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np

from sparwright.answers import BadInput

UNITS = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
WELD = 1e-6  # vertices nearer than this share of the part's size are one
LEAST, MOST = 0.5, 20_000.0  # greatest measure a part may have, mm
HEAD = struct.Struct("<80xI")
FACET = np.dtype([("normal", "<f4", 3), ("corner", "<f4", (3, 3)), ("rest", "<u2")])
DIRECTIONS = {f"{sign}{axis}": (k, 1 if sign == "+" else -1) for k, axis in enumerate("xyz") for sign in "+-"}


class PartError(BadInput):
    """A part that cannot be used; the message says which file, what is wrong and what to do."""


@dataclass(frozen=True)
class Mesh:
    """A closed body. triangles: (m, 3, 3) corners, mm, counter-clockwise seen from outside. name: of its file."""

    name: str
    triangles: np.ndarray

    @property
    def low(self) -> np.ndarray:
        """Least x, y, z, (3,)."""
        return np.asarray(self.triangles.min(axis=(0, 1)))

    @property
    def size(self) -> np.ndarray:
        """Measures of the box round it, (3,)."""
        return np.asarray(self.triangles.max(axis=(0, 1)) - self.low)

    @property
    def volume(self) -> float:
        """mm3."""
        return signed_volume(self.triangles)


def signed_volume(triangles: np.ndarray) -> float:
    """Volume within triangles, negative where they face inward (divergence theorem)."""
    a, b, c = (triangles[:, k] - triangles[0, 0] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6)


def read_stl(data: bytes, name: str, units: str = "mm") -> Mesh:
    """The closed body in the bytes of an STL file.

    units: one of UNITS, what a unit of the file is. PartError where the bytes are no STL, the surface is not closed
    or the body is no sensible size.
    """
    if not data.strip():
        raise PartError(f"{name}: the file is empty; export the part again")
    triangles = (_binary(data, name) if _is_binary(data) else _ascii(data, name)) * UNITS[units]
    if not np.isfinite(triangles).all():
        first = int(np.flatnonzero(~np.isfinite(triangles).all(axis=(1, 2)))[0]) + 1
        raise PartError(f"{name}: triangle {first} has a corner that is no number; export the part again")
    _check_size(triangles, name, units)
    triangles = _check_closed(triangles, name)
    volume = signed_volume(triangles)
    if abs(volume) < 1e-9 * float(np.ptp(triangles, axis=(0, 1)).max()) ** 3:
        raise PartError(f"{name}: its surface holds no volume; export the part as a solid body")
    if volume < 0:
        triangles = np.ascontiguousarray(triangles[:, ::-1])  # drawn inside out
    return Mesh(name, triangles)


# --- the two forms --------------------------------------------------------------------------------------


def _is_binary(data: bytes) -> bool:
    """Binary by its length or, where a text cannot be meant, for want of better."""
    if len(data) >= HEAD.size and len(data) == HEAD.size + FACET.itemsize * HEAD.unpack_from(data)[0]:
        return True
    return data.lstrip()[:5].lower() != b"solid" or b"\0" in data[:1000]


def _binary(data: bytes, name: str) -> np.ndarray:
    if len(data) < HEAD.size:
        raise PartError(f"{name}: neither an ASCII nor a binary STL file; export the part as STL")
    (count,) = HEAD.unpack_from(data)
    wanted = HEAD.size + FACET.itemsize * count
    if len(data) != wanted:
        raise PartError(
            f"{name}: not an STL file, or a damaged one: as a binary STL of {count} triangles it would hold "
            f"{wanted} bytes, but it holds {len(data)}; export the part again"
        )
    if count == 0:
        raise PartError(f"{name}: it holds no triangle; export the part again")
    return np.frombuffer(data, FACET, count, HEAD.size)["corner"].astype(float)


def _ascii(data: bytes, name: str) -> np.ndarray:
    corners: list[tuple[float, float, float]] = []
    open_at = 0
    for number, line in enumerate(data.decode("latin-1").splitlines(), 1):
        words = line.split()
        word = words[0].lower() if words else ""
        if word == "outer":
            open_at = len(corners)
        elif word == "endloop" and len(corners) - open_at != 3:
            raise PartError(
                f"{name}, line {number}: a facet with {len(corners) - open_at} corners; each has 3; export again"
            )
        elif word == "vertex":
            try:
                x, y, z = map(float, words[1:])
            except ValueError:
                shown = line.strip()[:60]
                raise PartError(f'{name}, line {number}: "{shown}" is not "vertex" and 3 numbers') from None
            corners.append((x, y, z))
    if not corners:
        raise PartError(f"{name}: it holds no triangle; export the part again")
    if len(corners) % 3:
        raise PartError(f"{name}: it breaks off in the middle of a facet; export the part again")
    return np.array(corners).reshape(-1, 3, 3)


# --- is it a body? --------------------------------------------------------------------------------------


def size_text(size: np.ndarray, unit: str = "mm") -> str:
    """A size in words: 120 x 60 x 12 mm."""
    return " x ".join(f"{v:.4g}" for v in size) + f" {unit}"


def _check_size(triangles: np.ndarray, name: str, units: str) -> None:
    size = np.ptp(triangles, axis=(0, 1))
    largest = float(size.max())
    if LEAST <= largest <= MOST:
        return
    likely = [u for u, f in UNITS.items() if 10 <= largest / UNITS[units] * f <= 2000 and u != units]
    hint = f'; if it was drawn in another unit say so: units = "{likely[0]}"' if likely else ""
    raise PartError(
        f"{name}: the part would be {size_text(size)}; allowed: {LEAST:g} to {MOST:g} mm for its longest measure{hint}"
    )


def _check_closed(triangles: np.ndarray, name: str) -> np.ndarray:
    """The triangles that have an area; PartError unless every edge has as many triangles one way as the other."""
    step = WELD * float(np.ptp(triangles, axis=(0, 1)).max())
    grid = np.round(triangles.reshape(-1, 3) / step).astype(np.int64)
    _, at = np.unique(grid, axis=0, return_inverse=True)
    at = at.reshape(-1, 3)
    whole = (at[:, 0] != at[:, 1]) & (at[:, 1] != at[:, 2]) & (at[:, 2] != at[:, 0])
    at, triangles = at[whole], triangles[whole]
    start, end = at.ravel(), np.roll(at, -1, axis=1).ravel()
    low, high = np.minimum(start, end), np.maximum(start, end)
    edges, who = np.unique(np.column_stack([low, high]), axis=0, return_inverse=True)
    ways = np.bincount(who.ravel(), np.where(start < end, 1, -1), minlength=len(edges))
    torn = np.flatnonzero(ways)
    if len(torn) == 0:
        return triangles
    corner = int(np.flatnonzero(who.ravel() == torn[0])[0])
    x, y, z = triangles.reshape(-1, 3)[corner]
    raise PartError(
        f"{name}: its surface is not closed: {len(torn)} edge{'s have' * (len(torn) > 1) or ' has'} a triangle on one "
        f"side only, or triangles that face opposite ways, the first at ({x:.2f}, {y:.2f}, {z:.2f}) mm of its own "
        "axes; a part must be a closed body; mend it where it was drawn and export it again"
    )


# --- lying down -----------------------------------------------------------------------------------------


def lay(mesh: Mesh, up: str, along: str) -> np.ndarray:
    """The triangles turned so that the part's direction `up` points up and `along` lies along the stock, moved so
    that its box begins at x = 0, s = 0 and its top is at n = 0; (m, 3, 3) of (x, s, n).

    up, along: keys of DIRECTIONS; PartError where both name one axis.
    """
    (a, p), (c, q) = DIRECTIONS[along], DIRECTIONS[up]
    if a == c:
        raise PartError(f'along = "{along}" and up = "{up}" are the same axis of the part; name two')
    x, n = np.zeros(3), np.zeros(3)
    x[a], n[c] = p, q
    turned = mesh.triangles @ np.column_stack([x, np.cross(n, x), n])
    low, high = turned.min(axis=(0, 1)), turned.max(axis=(0, 1))
    return np.ascontiguousarray(turned - np.array([low[0], low[1], high[2]]))
