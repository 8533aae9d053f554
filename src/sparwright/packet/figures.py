"""Figures and counts as the sheets print them, in metric or inch units."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING

from sparwright.packet.inches import INCH, UNITS, names_worth_keeping, sentence

if TYPE_CHECKING:
    from sparwright.job.models import Job

RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
ROUNDING = 1e-9
"""Figures nearer to nothing than this are rounding of the arithmetic and print as 0."""
LEAST = 1e-4
"""Figures below this are printed as "below" it: no sheet has a use for more."""
DRILL_NEAR = 0.05
"""A standard drill within this of the size wanted is named, mm; tap drills give no more away."""

_UNITS = {"mm2": "mm²", "mm3": "mm³", "um": "µm", "deg": "°", "N/um": "N/µm"}


def mm(value: float, decimals: int = 2) -> str:
    """A length as drawings print it: no trailing zeros."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def number(value: float | None, unit: str = "") -> str:
    """A figure with its unit, to four significant digits, as a sheet prints it; empty where there is none."""
    if value is None:
        return ""
    unit = _UNITS.get(unit, unit)
    if unit == "%":
        return f"{value:.1f} %"
    if abs(value) < ROUNDING or not math.isfinite(value):
        text = "0" if abs(value) < ROUNDING else str(value)
    elif abs(value) < LEAST:
        text = f"below {LEAST:.4f}" if value > 0 else f"above -{LEAST:.4f}"
    elif abs(value) >= 1e6:
        mantissa, exponent = f"{value:.3e}".split("e")
        text = f"{mantissa} × 10{str(int(exponent)).translate(RAISED)}"
    else:
        text = f"{value:.{max(0, min(4, 3 - math.floor(math.log10(abs(value)))))}f}"
        text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text}{'' if unit == '°' else ' '}{unit}".strip()


def counted(count: int, word: str) -> str:
    """A count with its word: 1 notch, 2 notches."""
    return f"{count} {word if count == 1 else word + ('es' if word.endswith('ch') else 's')}"


@dataclass(frozen=True)
class Display:
    """How figures are shown: metric, or lengths in inches, forces and masses in pounds.

    names: of features, cutters and machines, which stay as the job gives them whatever figures they hold.
    """

    inch: bool = False
    names: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        """The unit of lengths."""
        return "in" if self.inch else "mm"

    @property
    def unit_word(self) -> str:
        """The unit of lengths as a sentence says it."""
        return "inches" if self.inch else "mm"

    def length(self, value: float, decimals: int = 2) -> str:
        """A length in mm as the packet shows it, without its unit; inches keep the zeros of their thousandths."""
        return f"{value / INCH:.{min(4, max(3, decimals + 1))}f}" if self.inch else mm(value, decimals)

    def size(self, value: float, decimals: int = 2) -> str:
        """A length in mm as the packet shows it, with its unit."""
        return f"{self.length(value, decimals)} {self.unit}"

    def scaled(self, value: float, unit: str) -> tuple[float, str]:
        """A figure given in a metric unit, and that unit, as the packet shows them."""
        unit = _UNITS.get(unit, unit)
        factor, shown = UNITS.get(unit, (1.0, unit)) if self.inch else (1.0, unit)
        return value * factor, shown

    def number(self, value: float | None, unit: str = "") -> str:
        """A figure given in metric units as the packet shows it, with its unit; empty where there is none."""
        return "" if value is None else number(*self.scaled(value, unit))

    def spread(self, value: float, spread: float | None, unit: str = "") -> str:
        """A figure with its half-width: the half-width to two digits, the figure to as many places."""
        if not spread:
            return self.number(value, unit)
        (value, shown), (spread, _) = self.scaled(value, unit), self.scaled(spread, unit)
        places = min(4, max(0, 1 - math.floor(math.log10(spread))))
        return f"{value:.{places}f} ± {spread:.{places}f} {shown}".strip()

    def sentence(self, text: str) -> str:
        """A sentence worded in metric units as it is shown: its quantities in inch units where those are wanted."""
        return sentence(text, self.names) if self.inch else text

    def drill(self, diameter: float) -> str:
        """A drill as a shop asks for it: 5 mm; with inches No. 9 (0.196 in), or the size itself where none is near."""
        if not self.inch:
            return f"{mm(diameter)} mm"
        name, size = nearest_drill(diameter)
        if abs(size - diameter) > DRILL_NEAR:
            return f"{mm(diameter)} mm ({diameter / INCH:.4f} in)"
        return f"{name} ({size / INCH:.4f} in), for {mm(diameter)} mm"


METRIC = Display()


def display_of(job: Job, inch: bool | None = None) -> Display:
    """How the figures of a job are shown: as its file says, or (inch) as is wished."""
    named = [job.title, job.bed.name, *(c.name for c in job.cutters)]
    named += [] if job.served is None else [job.served.name]
    named += [
        part.name
        for many in (job.file.field, job.file.pocket, job.file.hole, job.file.notch)
        for part in many
    ]
    wanted = job.file.job.units == "inch" if inch is None else inch
    return Display(inch=wanted, names=names_worth_keeping(named))


@lru_cache(maxsize=1)
def _drills() -> tuple[tuple[str, float], ...]:
    """Names and diameters in mm of the fractional (64ths up to 1 inch), number and letter drills."""
    table = tomllib.loads(files("sparwright.packet").joinpath("drills.toml").read_text(encoding="utf-8"))
    rows = [(fraction(k / 64), k / 64) for k in range(1, 65)]
    rows += [(f"No. {i}", size) for i, size in enumerate(table["number"]["sizes"], 1)]
    rows += list(zip("ABCDEFGHIJKLMNOPQRSTUVWXYZ", table["letter"]["sizes"], strict=True))
    return tuple((name, size * INCH) for name, size in rows)


def nearest_drill(diameter: float) -> tuple[str, float]:
    """Name and diameter in mm of the inch-series drill nearest to a diameter in mm; fractions before the others."""
    return min(_drills(), key=lambda row: round(abs(row[1] - diameter), 6))


def fraction(inches: float) -> str:
    """Inches to the nearest 64th as a shop writes them: 3/8, 1-1/2."""
    whole, part = divmod(round(inches * 64), 64)
    if part == 0:
        return str(whole)
    common = math.gcd(part, 64)
    text = f"{part // common}/{64 // common}"
    return f"{whole}-{text}" if whole else text
