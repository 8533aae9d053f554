"""Sentences in inches: every quantity turned, nothing else touched, nothing rounded coarser than it was."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.packet.figures import Display, display_of
from sparwright.packet.inches import UNITS, sentence


@pytest.mark.parametrize(
    ("metric", "inch"),
    [
        ("12.7 mm to spare.", "0.500 in to spare."),
        ("It is 25.4 mm, limited by hole 3.", "It is 1.000 in, limited by hole 3."),
        ("skins 1.5 to 2.25 mm", "skins 0.0591 to 0.0886 in"),
        ("reach 640 by 300 mm", "reach 25.197 by 11.811 in"),
        ("0.336 of 1.2 mm", "0.01323 of 0.04724 in"),
        ("at x 120.5, s -3.2, over 2.0 x 3.0 mm", "at x 4.744, s -0.126 in, over 0.079 x 0.118 in"),
        ("foam at x = 254 and 508 mm", "foam at x = 10.000 and 20.000 in"),
        ("(X 0 to 254, Y 0 to 508 mm)", "(X 0 to 10.000, Y 0 to 20.000 in)"),
        ("X 12.3 ± 0.1, Y 4.5 ± 0.2 mm, angle 0.1°", "X 0.484 ± 0.004, Y 0.177 ± 0.008 in, angle 0.1°"),
        ("+/- 0.3 to 0.7 mm (EN 755-9)", "+/- 0.012 to 0.028 in (EN 755-9)"),
        ("Ø8.5 mm; deepen it", "Ø0.335 in; deepen it"),
        ("a tooth's 48 N", "a tooth's 10.8 lbf"),
        ("at most 2.7 N m; more", "at most 23.9 in lbf; more"),
        ("254 mm/min at 15038 rpm", "10.00 in/min at 15038 rpm"),
        ("springs away 12 um", "springs away 0.47 thou"),
        ("706 g come out", "24.90 oz come out"),
        ("3.575 kg of stock", "7.882 lb of stock"),
        ("150 MPa", "21.8 ksi"),
    ],
)
def test_quantities_of_sentences(metric, inch):
    assert sentence(metric) == inch


@pytest.mark.parametrize(
    "text",
    [
        "tap M6, M6x1 and 1/4-20 by hand",
        "line 12 of front-01.nc: G1 X12.5 Y3 F600",
        'write "6 mm" here',
        "ISO 2768-1 m; EN 755-9 N",
        "a 6.35 mm two flute",  # the name of a cutter
        "pad 1, insert 3, 4 pads, 45 %, 44.89°, 24000 rpm, 52 Hz, 446 W, 109 min",
        "2 x 3 holes, 0.05 mm (0.002 in)",
        "x 3 % and N 4",
    ],
)
def test_what_is_no_quantity_stays(text):
    kept = sentence(text, ("6.35 mm two flute",))
    assert kept == text


@settings(deadline=None)
@given(st.decimals(0, 5000, places=3), st.integers(0, 3), st.sampled_from(sorted(UNITS)))
def test_never_coarser_than_it_was(value, places, unit):
    """Taken back to the metric unit and rounded as it was, the figure is the same."""
    text = f"{value:.{places}f} {unit}"
    number, shown = sentence(text).split(" ", 1)
    factor, sign = UNITS[unit]
    assert shown == sign
    assert abs(float(number) / factor - float(text.split()[0])) <= 0.5 * 10.0**-places + 1e-9


@settings(deadline=None)
@given(st.floats(0.001, 900), st.floats(0.001, 900))
def test_order_is_kept(a, b):
    """A value beyond its limit never shows on the good side of it."""
    low, high = sorted((a, b))
    first, second = (float(sentence(f"{v:.2f} mm").split()[0]) for v in (low, high))
    assert first <= second


def test_a_job_says_how_its_figures_are_shown(bridge_job):
    assert not display_of(bridge_job).inch
    inch = bridge_job.file.job.model_copy(update={"units": "inch"})
    job = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"job": inch})})
    assert display_of(job).inch
    assert not display_of(job, inch=False).inch
    names = [c.name for c in job.cutters]
    assert all(display_of(job).sentence(n) == n for n in names)
    assert Display().sentence("3 mm") == "3 mm"
