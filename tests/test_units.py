"""Quantities in: the border where units stop."""

import subprocess
import sys

import pytest

from sparwright.units import to_canonical


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1/4 in", "length", 6.35),
        ("2 in", "length", 50.8),
        ("12", "length", 12.0),
        (12, "length", 12.0),
        ("900 W", "power", 900),
        ("1.1 kW", "power", 1100),
        ("18000 rpm", "spindle speed", 18000),
        ("1 m/min", "speed", 1000),
        ("60 %", "ratio", 0.6),
        (0.6, "ratio", 0.6),
        ("1.5 kN", "force", 1500),
        ("70 GPa", "stress", 70000),
        ("900 g", "mass", 0.9),
        ("0.5 rad", "angle", 28.6478897565),
        ("30 deg", "angle", 30),
    ],
)
def test_units(text, kind, value):
    assert to_canonical(text, kind) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("5 kg", "length"),
        ("many", "length"),
        (True, "length"),
        ([1], "length"),
        ("5 mm", "ratio"),
        ("x %", "ratio"),
    ],
)
def test_refusals_name_the_value_or_the_kind(text, kind):
    with pytest.raises(ValueError, match=rf"{kind}|quantity|percentage"):
        to_canonical(text, kind)


def test_bare_numbers_do_not_load_the_units_library():
    code = "import sys; from sparwright.units import to_canonical; to_canonical(5, 'length'); print('pint' in sys.modules)"
    assert (
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True
        ).stdout.strip()
        == "False"
    )
