"""Small helpers for tests of the reader."""

from __future__ import annotations

from typing import Any

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
