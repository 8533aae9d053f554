"""Figures and words as the sheets print them."""

import pytest

from sparwright.answers import Finding, Verdict, share_used
from sparwright.packet.figures import counted, number


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (None, "mm", ""),
        (-2.2e-16, "mm", "0 mm"),
        (0.70583, "kg", "0.7058 kg"),
        (1348.31, "N", "1348 N"),
        (55.56, "%", "55.6 %"),
        (3.26e10, "N mm²", "3.260 × 10¹⁰ N mm²"),
    ],
)
def test_figures(value, unit, text):
    assert number(value, unit) == text


def test_counts():
    assert counted(1, "notch") == "1 notch"
    assert counted(2, "notch") == "2 notches"
    assert counted(0, "hole") == "0 holes"


def test_share_of_a_limit_above_and_below():
    assert share_used(Finding("f", Verdict.GO, 30, "N", 60, 30)) == pytest.approx(0.5)
    assert share_used(Finding("f", Verdict.GO, 80, "%", 40, 40)) == pytest.approx(0.5)
    assert share_used(Finding("f", Verdict.NO_GO, 20, "%", 40, -20)) == pytest.approx(2.0)
    assert share_used(Finding("f", Verdict.GO, 20, "%")) is None
