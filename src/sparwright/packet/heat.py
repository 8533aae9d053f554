"""A field of figures as a coloured picture: the cividis map, and PNG bytes of it.

Cividis rises evenly in lightness (Nunez, Anderton and Renslow, 2018), so it reads the same without colour.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np

# Every sixteenth of the map, red, green, blue.
CIVIDIS = np.array(
    [
        (0, 34, 78), (0, 46, 106), (26, 56, 111), (50, 67, 109), (67, 78, 108), (83, 90, 109), (97, 101, 111),
        (111, 112, 115), (125, 124, 120), (140, 136, 120), (155, 148, 118), (171, 160, 114), (188, 174, 108),
        (205, 187, 99), (222, 201, 88), (240, 216, 70), (254, 232, 56),
    ],
    dtype=float,
)  # fmt: skip
PAPER = (255, 255, 255)


def colours(values: np.ndarray, low: float, high: float) -> np.ndarray:
    """Colours, uint8 (..., 3), of figures between low and high; what lies beyond has the end's colour, nan is paper."""
    share = np.clip((np.nan_to_num(values, nan=low) - low) / max(high - low, 1e-12), 0, 1) * (
        len(CIVIDIS) - 1
    )
    at = np.arange(len(CIVIDIS))
    found = np.stack([np.interp(share, at, CIVIDIS[:, k]) for k in range(3)], axis=-1)
    found[np.isnan(values)] = PAPER
    return np.round(found).astype(np.uint8)


def hex_colour(value: float, low: float, high: float) -> str:
    """The colour of one figure as #rrggbb."""
    r, g, b = colours(np.array([value]), low, high)[0]
    return f"#{r:02x}{g:02x}{b:02x}"


def png(pixels: np.ndarray) -> bytes:
    """PNG bytes of an RGB picture, uint8 (rows, columns, 3), first row on top (PNG, ISO/IEC 15948)."""
    rows, cols, _ = pixels.shape
    lines = np.zeros((rows, 1 + 3 * cols), dtype=np.uint8)  # each line begins with filter 0
    lines[:, 1:] = pixels.reshape(rows, -1)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", cols, rows, 8, 2, 0, 0, 0)
    packed = zlib.compress(lines.tobytes(), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", packed) + chunk(b"IEND", b"")


def thinned(values: np.ndarray, most: int) -> tuple[np.ndarray, int]:
    """The field with blocks of cells brought down to their least figure, so that it has at most `most` columns and
    the thinnest spot stays; and how many cells a block has along a side.
    """
    step = max(1, -(-values.shape[1] // most))
    if step == 1:
        return values, 1
    rows = np.arange(0, values.shape[0], step)
    cols = np.arange(0, values.shape[1], step)
    filled = np.where(np.isnan(values), np.inf, values)
    least = np.minimum.reduceat(np.minimum.reduceat(filled, rows, axis=0), cols, axis=1)
    return np.where(np.isinf(least), np.nan, least), step
