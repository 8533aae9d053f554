"""Figures and counts as the sheets print them."""

from __future__ import annotations

import math

RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
ROUNDING = 1e-9
"""Figures nearer to nothing than this are rounding of the arithmetic and print as 0."""


def number(value: float | None, unit: str = "") -> str:
    """A figure with its unit, to four significant digits, as a sheet prints it; empty where there is none."""
    if value is None:
        return ""
    if unit == "%":
        return f"{value:.1f} %"
    if abs(value) < ROUNDING or not math.isfinite(value):
        text = "0" if abs(value) < ROUNDING else str(value)
    elif abs(value) >= 1e6 or abs(value) < 1e-4:
        mantissa, exponent = f"{value:.3e}".split("e")
        text = f"{mantissa} × 10{str(int(exponent)).translate(RAISED)}"
    else:
        text = f"{value:.{max(0, min(4, 3 - math.floor(math.log10(abs(value)))))}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".strip()


def counted(count: int, word: str) -> str:
    """A count with its word: 1 notch, 2 notches."""
    return f"{count} {word if count == 1 else word + ('es' if word.endswith('ch') else 's')}"
