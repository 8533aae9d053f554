"""Small helpers for tests of the reader and the writer."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from sparwright.cutting.model import Path
from sparwright.job.models import Job
from sparwright.program.model import Reading
from sparwright.program.reader import read_program


def clean(text: str, **options: Any) -> Reading:
    """The reading of a program that has no errors."""
    reading = read_program(text, **options)
    assert reading.errors == ()
    return reading


def error_of(text: str) -> str:
    """The message of the one error in a program."""
    errors = read_program(text).errors
    assert len(errors) == 1
    return errors[0].message


NAN = math.nan


def path_of(start: Sequence[float], moves: Sequence[tuple[int, Sequence[float], Any, float]]) -> Path:
    """A path from moves (kind, end, centre or None, feed)."""
    return Path(
        np.array(start, float),
        np.array([m[0] for m in moves], np.int8),
        np.array([m[1] for m in moves], float).reshape(-1, 3),
        np.array([m[2] or (NAN, NAN) for m in moves], float).reshape(-1, 2),
        np.array([m[3] for m in moves], float),
    )


def controlled(job: Job, **more: Any) -> Job:
    """The job on a machine with another controller."""
    controller = job.bed.controller.model_copy(update=more)
    return job.model_copy(update={"bed": job.bed.model_copy(update={"controller": controller})})
