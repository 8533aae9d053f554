"""Vectors of three as plain tuples: enough for a machine's points, without loading an array library to read a job."""

from __future__ import annotations

import math
from collections.abc import Sequence

Vector = tuple[float, float, float]


def add(*vectors: Sequence[float]) -> Vector:
    """Sum of vectors."""
    x, y, z = (math.fsum(v[i] for v in vectors) for i in range(3))
    return (x, y, z)


def times(factor: float, v: Sequence[float]) -> Vector:
    """A vector times a number."""
    return (factor * v[0], factor * v[1], factor * v[2])


def minus(a: Sequence[float], b: Sequence[float]) -> Vector:
    """From b to a."""
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def dot(a: Sequence[float], b: Sequence[float]) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Sequence[float], b: Sequence[float]) -> Vector:
    """Vector product."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def length(v: Sequence[float]) -> float:
    """Length of a vector."""
    return math.sqrt(dot(v, v))


def unit(v: Sequence[float]) -> Vector:
    """A direction of length one; the vector must have a length."""
    return times(1 / length(v), v)
