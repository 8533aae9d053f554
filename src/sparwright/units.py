"""Quantities in and out: strings with units become plain floats once, at the border.

Bare numbers pass through. pint is loaded only when a string carries a unit, since its import takes most of
a second.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

# Canonical unit of every kind of quantity a job may state.
CANONICAL = {
    "length": "mm",
    "angle": "degree",
    "speed": "mm/min",
    "acceleration": "mm/s^2",
    "spindle speed": "rpm",
    "power": "W",
    "force": "N",
    "torque": "N*m",
    "stress": "MPa",
    "mass": "kg",
    "density": "kg/m^3",
    "stiffness": "N/mm",
    "frequency": "Hz",
    "ratio": "",
}


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def to_canonical(value: Any, kind: str) -> float:
    """`value` as a float in the canonical unit of `kind` (see CANONICAL).

    A number passes through; a string may carry a unit ("1/4 in", "900 W", "18000 rpm", "60 %").
    Raises ValueError with a sentence where the text is no quantity or of the wrong kind.
    """
    if isinstance(value, bool):
        raise ValueError(f"a {kind} is wanted, not true or false")
    if isinstance(value, int | float):
        return float(value)
    if not isinstance(value, str):
        raise ValueError(
            f"a {kind} is wanted: a number in {CANONICAL[kind] or 'plain form'} or text with a unit"
        )
    text = value.strip()
    if kind == "ratio" and text.endswith("%"):
        try:
            return float(text[:-1]) / 100.0
        except ValueError:
            raise ValueError(f'"{value}" is not a percentage') from None
    unit = CANONICAL[kind]
    try:
        quantity = _registry().Quantity(text)
    except Exception:
        raise ValueError(
            f'"{value}" is not a quantity; write a number in {unit}, or a number and a unit'
        ) from None
    if isinstance(quantity, int | float) or quantity.unitless:
        return float(quantity.magnitude if hasattr(quantity, "magnitude") else quantity)
    try:
        return float(quantity.to(unit).magnitude)
    except Exception:
        raise ValueError(
            f'"{value}" is not a {kind}; it must be convertible to {unit or "a plain number"}'
        ) from None
