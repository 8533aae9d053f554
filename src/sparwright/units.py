"""Quantities in and out: strings with units become plain floats once, at the border.

Bare numbers pass through. The units a workshop writes every day are known here; pint is loaded only for the
others ("2 dyn"), since its import takes most of a second. Numbers are read here in every case, so that
"1-1/2 in" is one and a half inches and never a sum.
"""

from __future__ import annotations

import math
import re
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

# Pound and standard gravity are exact by agreement (NIST SP 811, appendix B).
_POUND = 0.45359237
_LBF = _POUND * 9.80665

# Everyday units of each kind, in its canonical unit. The inch is 25.4 mm exactly (ISO 80000-3).
_KNOWN: dict[str, dict[str, float]] = {
    "length": {"mm": 1, "cm": 10, "m": 1000, "um": 1e-3, "µm": 1e-3, "in": 25.4, "inch": 25.4, '"': 25.4},
    "angle": {"degree": 1, "degrees": 1, "deg": 1, "°": 1, "rad": 180 / math.pi, "mrad": 0.18 / math.pi},
    "speed": {"mm/min": 1, "m/min": 1000, "mm/s": 60, "m/s": 60000, "in/min": 25.4, "ft/min": 304.8},
    "acceleration": {"mm/s2": 1, "m/s2": 1000, "in/s2": 25.4},
    "spindle speed": {"rpm": 1, "1/min": 1, "/min": 1, "rev/min": 1, "1/s": 60, "rev/s": 60},
    "power": {"W": 1, "kW": 1000},
    "force": {"N": 1, "kN": 1000, "lbf": _LBF},
    "torque": {"N*m": 1, "N m": 1, "Nm": 1, "N*mm": 1e-3, "N mm": 1e-3, "Nmm": 1e-3, "in lbf": _LBF * 0.0254},
    "stress": {"MPa": 1, "GPa": 1000, "N/mm2": 1, "psi": _LBF / 25.4**2, "ksi": 1000 * _LBF / 25.4**2},
    "mass": {"kg": 1, "g": 1e-3, "lb": _POUND, "oz": _POUND / 16},
    "density": {"kg/m3": 1, "g/cm3": 1000, "kg/dm3": 1000},
    "stiffness": {"N/mm": 1, "N/um": 1000, "N/µm": 1000, "kN/mm": 1000, "lbf/in": _LBF / 25.4},
    "frequency": {"Hz": 1, "kHz": 1000, "1/s": 1},
    "ratio": {"%": 0.01, "‰": 1e-3},
}

# Turns, cycles and shares have no dimension, so a unit library would take one for another: only the units
# above will do for these.
_NO_DIMENSION = ("angle", "spindle speed", "frequency", "ratio")

_DECIMAL = r"(?:\d+(?:_\d+)*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_NUMBER = re.compile(
    rf"(?P<sign>[+-]?)(?:(?:(?P<whole>\d+)[ -])?(?P<top>\d+)/(?P<bottom>\d+)(?!\d)|(?P<decimal>{_DECIMAL}))"
)
_SIGNS = str.maketrans({"^": "", "2": "²", "3": "³", "*": " "})
_POWERS = str.maketrans({"²": "2", "³": "3", "μ": "µ", "·": "*", "″": '"'})


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _read_number(text: str) -> tuple[float, str] | None:
    """Number at the start of `text` and what follows it; None where it starts with none."""
    found = _NUMBER.match(text)
    if found is None:
        return None
    if found["decimal"]:
        size = float(found["decimal"])
    elif int(found["bottom"]) == 0:
        return None
    else:
        size = int(found["whole"] or 0) + int(found["top"]) / int(found["bottom"])
    return (-size if found["sign"] == "-" else size), text[found.end() :].strip()


def _foreign_factor(unit: str, kind: str) -> float | None:
    """Factor of a unit not known here, by pint; None where it is no unit of this kind."""
    if kind in _NO_DIMENSION:
        return None
    written = re.sub(r"(?<=[A-Za-z])(?=[23]\b)", "^", unit)
    try:
        quantity = _registry().Quantity(1.0, written)
        return float(quantity.to(CANONICAL[kind]).magnitude)
    except Exception:  # pint raises a dozen unrelated types for text it cannot read
        return None


def to_canonical(value: Any, kind: str) -> float:
    """`value` as a float in the canonical unit of `kind` (see CANONICAL).

    A number passes through; text may carry a unit ("1/4 in", "1-1/2 in", "900 W", "18000 rpm", "60 %").
    Raises ValueError with a sentence where it is no finite quantity of that kind.
    """
    unit = CANONICAL[kind].translate(_SIGNS)
    plain, wanted = f"a number in {unit}" if unit else "a plain number", _one(kind)
    if isinstance(value, bool):
        raise ValueError(f"{wanted} is wanted, not true or false")
    if isinstance(value, int | float):
        number, factor = float(value), 1.0
    elif isinstance(value, str):
        number, factor = _read_text(value, kind, plain)
    else:
        raise ValueError(f"{wanted} is wanted: {plain}, or text with a unit")
    if not math.isfinite(number * factor):
        raise ValueError(f"{wanted} must be a finite number")
    return number * factor


def _one(kind: str) -> str:
    """A kind of quantity with its article."""
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def _read_text(value: str, kind: str, plain: str) -> tuple[float, float]:
    """Number and factor to the canonical unit of a quantity written as text."""
    read = _read_number(value.strip())
    if read is None or read[1][:1] in (",", "."):
        comma = "; decimals take a point, not a comma" if "," in value else ""
        raise ValueError(f'"{value}" is not a quantity; write {plain}, or a number and a unit{comma}')
    number, unit = read
    if not unit:
        return number, 1.0
    known = _KNOWN[kind]
    written = unit.translate(_POWERS).replace("^", "").replace("**", "")
    factor = known.get(written) or known.get(unit) or _foreign_factor(unit, kind)
    if factor is None:
        some = ", ".join(list(known)[:4])
        raise ValueError(
            f'"{value}" is not {_one(kind)}; write {plain}, or a number and a unit such as {some}'
        )
    return number, factor
