"""Inch units: what each metric unit is shown as, and sentences whose quantities are written in them.

Findings are worded where they are found, in metric units, and the command line and its JSON tell them so. Where they
are shown in inches, the quantities in them are written anew here, in one place for every sentence: a number, a space
and a unit, two or three such numbers joined by a word ("3 to 5 mm"), or places along named axes ("x 120, s 4"). All
that is not so written stays: threads (M6, 1/4-20), words of programs (X12.5), files, text in quotes, and the names
that a job gives to its features, cutters and machines.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache

INCH = 25.4
# Pound 0.45359237 kg and standard gravity 9.80665 m/s² are exact by agreement (NIST SP 811, appendix B).
POUND_KG = 0.45359237
_LBF = 1 / (POUND_KG * 9.80665)
UNITS: dict[str, tuple[float, str]] = {
    "mm": (1 / INCH, "in"),
    "mm²": (1 / INCH**2, "in²"),
    "mm³": (1 / INCH**3, "in³"),
    "mm⁴": (1 / INCH**4, "in⁴"),
    "mm⁶": (1 / INCH**6, "in⁶"),
    "mm/min": (1 / INCH, "in/min"),
    "mm³/min": (1 / INCH**3, "in³/min"),
    "mm/s²": (1 / INCH, "in/s²"),
    "µm": (1 / INCH, "thou"),
    "m": (1000 / (12 * INCH), "ft"),
    "m/min": (1000 / (12 * INCH), "ft/min"),
    "N": (_LBF, "lbf"),
    "kN": (1000 * _LBF, "lbf"),
    "N m": (_LBF * 1000 / INCH, "in lbf"),
    "N mm²": (_LBF / INCH**2, "lbf in²"),
    "N/mm": (_LBF * INCH, "lbf/in"),
    "N/µm": (_LBF * INCH * 1000, "lbf/in"),
    "MPa": (_LBF * INCH**2 / 1000, "ksi"),
    "kg": (1 / POUND_KG, "lb"),
    "g": (16 / (1000 * POUND_KG), "oz"),
    "kg/m": (0.3048 / POUND_KG, "lb/ft"),
}
"""Metric unit: its size in the inch unit, and that unit's sign."""
LEAST_DECIMALS = {"in": 3}
"""A shop thinks in thousandths of an inch."""

_SIGNS = {"um": "µm", "mm2": "mm²", "mm3": "mm³", "mm3/min": "mm³/min", "mm/s2": "mm/s²"}
_NUMBER = r"[-+−]?\d+(?:\.\d+)?(?:e[-+]?\d+)?"
# Nothing that could make the digits part of a name, a thread, a fraction, a quoted text or a word of a program.
_FREE = r"(?<![A-Za-z0-9_.#/\"'µ-])"
_UNIT = "|".join(re.escape(u) for u in sorted([*UNITS, *_SIGNS], key=len, reverse=True))
_JOINED = rf"(?:\d+\.\d+ of )?{_NUMBER}(?:(?: to | by | x | × | ± | and (?={_NUMBER} mm\b)){_NUMBER})*"
_END = r"(?![\w/²³⁴⁶·*-])"
_QUANTITY = rf"{_FREE}(?P<numbers>{_JOINED})[ \u00a0](?P<unit>{_UNIT}){_END}(?! \([^)]* in\))"
_PLACE = rf"[xsyzXYZ] (?:= )?{_NUMBER}(?: (?:to|and|±) {_NUMBER})?(?![\w.]?\d| ?[%°])"
_PLACES = rf"(?<![\w.'])(?<!\d ){_PLACE}(?:(?:, | and ){_PLACE})*(?: mm{_END})?"


def decimals(unit: str, metric_decimals: int) -> int:
    """Decimals in the inch unit of a figure with so many in its metric unit: the last place is never coarser than it was."""
    factor, shown = UNITS[unit]
    return max(math.ceil(metric_decimals - math.log10(factor)), LEAST_DECIMALS.get(shown, 0), 0)


def _written(numbers: str, unit: str) -> str:
    """The numbers of a piece of a sentence in the inch unit of `unit`, all to as many places as the finest of them."""
    factor, _ = UNITS[unit]
    finest = max(len(n.partition(".")[2]) for n in re.findall(_NUMBER, numbers))
    places = decimals(unit, finest)

    def anew(found: re.Match[str]) -> str:
        plain = found[0].replace("−", "-")
        if plain.lstrip("+-") == "0":
            return found[0]
        value = float(plain) * factor
        text = f"{value:.3g}" if "e" in plain else f"{value:.{places}f}"
        sign = "+" if plain.startswith("+") else ""
        return sign + (text.replace("-", "−") if "−" in found[0] else text)

    return re.sub(rf"(?<!\w){_NUMBER}", anew, numbers)


@lru_cache(maxsize=256)
def _pattern(names: tuple[str, ...]) -> re.Pattern[str]:
    """What is looked for in a sentence: names that stay, quantities, places."""
    kept = "|".join(re.escape(n) for n in sorted(names, key=len, reverse=True))
    first = rf"(?P<kept>(?<!\w)(?:{kept})(?!\w))|" if kept else ""
    return re.compile(rf"{first}{_QUANTITY}|(?P<places>{_PLACES})")


@lru_cache(maxsize=8192)
def sentence(text: str, names: tuple[str, ...] = ()) -> str:
    """A sentence worded in metric units with its quantities in inch units; `names` stay as they are."""

    def anew(found: re.Match[str]) -> str:
        if found["numbers"]:
            unit = _SIGNS.get(found["unit"], found["unit"])
            return f"{_written(found['numbers'], unit)} {UNITS[unit][1]}"
        if found["places"]:
            return _written(found["places"].removesuffix(" mm"), "mm") + " in"
        return found[0]

    return _pattern(names).sub(anew, text)


def names_worth_keeping(names: Iterable[str]) -> tuple[str, ...]:
    """Those of many names that hold a digit, each once: no others could be taken for a quantity."""
    return tuple(sorted({n for n in names if any(c.isdigit() for c in n)}))
