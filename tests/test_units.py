"""Quantities: every kind, fractions, wrong kinds refused, and no unit library loaded without need."""

import math
import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparwright.units import _KNOWN, CANONICAL, to_canonical


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1/4 in", "length", 6.35),
        ("1-1/2 in", "length", 38.1),
        ("1 1/2 in", "length", 38.1),
        ("-1-1/2 in", "length", -38.1),
        ('3/8"', "length", 9.525),
        ("12.5", "length", 12.5),
        ("1.2e1 mm", "length", 12.0),
        ("10 thou", "length", 0.254),
        ("2 ft", "length", 609.6),
        ("25 µm", "length", 0.025),
        ("900 W", "power", 900.0),
        ("1.1 kW", "power", 1100.0),
        ("1 hp", "power", 745.69987),
        ("18000 rpm", "spindle speed", 18000.0),
        ("300 1/s", "spindle speed", 18000.0),
        ("60 %", "ratio", 0.6),
        ("0.03%", "ratio", 0.0003),
        ("1.5 kN", "force", 1500.0),
        ("10 lbf", "force", 44.482216),
        ("30 deg", "angle", 30.0),
        ("30°", "angle", 30.0),
        ("0.5 rad", "angle", math.degrees(0.5)),
        ("2 m/min", "speed", 2000.0),
        ("10 mm/s", "speed", 600.0),
        ("0.35 m/s^2", "acceleration", 350.0),
        ("0.35 m/s²", "acceleration", 350.0),
        ("10 Msi", "stress", None),
        ("10000 ksi", "stress", 68947.57),
        ("70 GPa", "stress", 70000.0),
        ("1100 N/mm²", "stress", 1100.0),
        ("500 g", "mass", 0.5),
        ("2 lb", "mass", 0.90718474),
        ("2.7 g/cm3", "density", 2700.0),
        ("0.0975 lb/in^3", "density", 2698.79),
        ("20 N/µm", "stiffness", 20000.0),
        ("80 Hz", "frequency", 80.0),
        ("2 N m", "torque", 2.0),
    ],
)
def test_text_with_units(text: str, kind: str, value: float | None) -> None:
    if value is None:
        with pytest.raises(ValueError, match="is not a stress"):
            to_canonical(text, kind)
    else:
        assert to_canonical(text, kind) == pytest.approx(value, rel=2e-6)


@pytest.mark.parametrize(
    ("value", "kind", "says"),
    [
        ("5 kg", "length", "is not a length; write a number in mm, or a number and a unit such as mm"),
        ("18000 rpm", "frequency", "is not a frequency"),
        ("50 Hz", "spindle speed", "is not a spindle speed"),
        ("5 rad", "ratio", "is not a ratio"),
        ("5 %", "length", "is not a length"),
        ("3 mm", "ratio", "is not a ratio"),
        ("abc", "length", "is not a quantity"),
        ("12,5 mm", "length", "decimals take a point"),
        ("1/0 in", "length", "is not a quantity"),
        ("5 10 mm", "length", "is not a length"),
        ("1.2.3", "length", "is not a quantity"),
        ("nan mm", "length", "is not a quantity"),
        ("1e999 mm", "length", "finite"),
        (math.nan, "length", "finite"),
        (-math.inf, "power", "finite"),
        (True, "length", "not true or false"),
        ([1], "mass", "a mass is wanted: a number in kg"),
        ([1], "acceleration", "an acceleration is wanted: a number in mm/s², or text with a unit"),
        (True, "angle", "an angle is wanted, not true or false"),
        ("5 kg", "torque", "is not a torque; write a number in N m, or"),
        (math.inf, "angle", "an angle must be a finite number"),
        (None, "ratio", "a plain number"),
    ],
)
def test_refused_with_a_sentence(value: object, kind: str, says: str) -> None:
    with pytest.raises(ValueError, match=re.escape(says)):
        to_canonical(value, kind)


def test_own_factors_agree_with_pint() -> None:
    import pint

    registry = pint.UnitRegistry(cache_folder=None)
    compared = 0
    for kind, units in _KNOWN.items():
        if kind in ("spindle speed", "ratio", "frequency"):
            continue
        for unit, factor in units.items():
            written = {
                '"': "inch",
                "N m": "N*m",
                "in lbf": "inch*lbf",
                "N mm": "N*mm",
                "Nm": "N*m",
                "Nmm": "N*mm",
                "°": "degree",
            }.get(unit, unit.replace("2", "^2").replace("3", "^3"))
            want = registry.Quantity(1, written).to(CANONICAL[kind]).magnitude
            assert factor == pytest.approx(want, rel=1e-12), (kind, unit)
            compared += 1
    assert compared > 35


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(sorted(CANONICAL)))
def test_bare_numbers_pass_through(number: float, kind: str) -> None:
    assert to_canonical(number, kind) == number
    assert to_canonical(repr(number), kind) == number


@given(st.integers(0, 40), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_mixed_fractions(whole: int, top: int, bottom: int) -> None:
    assert to_canonical(f"{whole}-{top}/{bottom} in", "length") == pytest.approx(
        (whole + top / bottom) * 25.4
    )


def test_pint_is_loaded_only_for_rarer_units() -> None:
    code = (
        "import sys; from sparwright.units import to_canonical as q\n"
        "q(12, 'length'); q('12', 'length'); q('1/4 in', 'length'); q('60 %', 'ratio'); q('1.1 kW', 'power')\n"
        "assert 'pint' not in sys.modules\n"
        "q('1 dyn', 'force'); assert 'pint' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
