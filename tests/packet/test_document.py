"""Figures and words as the sheets print them."""

from dataclasses import replace

import pytest

from sparwright.answers import Answer, Finding, Verdict, key_finding, share_used, worst
from sparwright.packet.figures import METRIC, Display, counted, fraction, nearest_drill, number
from sparwright.packet.findings_sheet import answer_data, at_ease, dangers
from sparwright.plan.answering import came_out_right


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (None, "mm", ""),
        (-2.2e-16, "mm", "0 mm"),
        (0.70583, "kg", "0.7058 kg"),
        (1348.31, "N", "1348 N"),
        (55.56, "%", "55.6 %"),
        (4.768e-6, "mm", "below 0.0001 mm"),
        (180.0, "deg", "180°"),
        (8.0, "um", "8 µm"),
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


def test_share_of_a_band_about_its_middle():
    """1 % more or less than 1000 is allowed: 4 off, either way, is 0.4 of it; 15 off is half as much again."""
    for value, margin, share in ((1004, 6, 0.4), (996, 6, 0.4), (1015, -5, 1.5), (985, -5, 1.5)):
        assert share_used(Finding("f", Verdict.GO, value, "mm3", 1000, margin)) == pytest.approx(share)


def test_a_limit_met_by_design_is_no_danger_and_not_the_tightest():
    met = Finding("corner radius", Verdict.GO, 1.3 - 2.3e-16, "", 1.3, -2.3e-16)
    assert share_used(met) == 1.0, "rounding does not put it beyond its limit"
    tight = Finding("force", Verdict.GO, 54, "N", 60, 6)
    assert key_finding(Answer(4, Verdict.GO, "", (met, tight))) == (pytest.approx(0.9), tight)
    assert key_finding(Answer(4, Verdict.GO, "", (met,))) == (1.0, met)
    uncertain = replace(met, spread=0.1)
    assert key_finding(Answer(4, Verdict.GO, "", (tight, uncertain))) == (1.0, uncertain)
    danger = Finding("force", Verdict.CAUTION, 60, "N", 60, 0)
    assert key_finding(Answer(4, Verdict.CAUTION, "", (tight, danger))) == (1.0, danger)


def test_the_cover_does_not_say_go_for_what_is_not_measured():
    expected = Finding("mass to come out", Verdict.GO, 0.7, "kg")
    cover = answer_data(came_out_right([expected]), METRIC)
    assert cover["verdict"] == "not measured"
    assert cover["headline"].startswith("Not measured yet")
    weighed = Answer(6, Verdict.GO, "", (replace(expected, limit=0.72, margin=0.02),))
    assert answer_data(weighed, METRIC)["verdict"] == "go"
    assert answer_data(Answer(6, Verdict.NO_GO, "", (expected,)), METRIC)["verdict"] == "no-go"


def test_a_spread_has_two_digits_and_its_figure_as_many_places():
    assert METRIC.spread(3.575, 0.3103, "kg") == "3.58 ± 0.31 kg"
    assert METRIC.spread(6091.2, 1218.0, "N") == "6091 ± 1218 N"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(25.4, "mm", "1 in"), (1.0, "kg", "2.205 lb"), (1.6, "N m", "14.16 in lbf"), (4.448222, "N", "1 lbf")],
)
def test_inch_display_of_figures(value, unit, text):
    assert Display(inch=True).number(value, unit) == text


def test_inch_lengths_keep_the_zeros_of_their_thousandths():
    assert Display(inch=True).size(12.7) == "0.500 in"


@pytest.mark.parametrize(("inches", "text"), [(0.375, "3/8"), (1.5, "1-1/2"), (2.0, "2"), (0.2, "13/64")])
def test_fractions_as_a_shop_writes_them(inches, text):
    assert fraction(inches) == text


def test_drills_are_named_as_a_shop_asks_for_them():
    # 1/4-20 is tapped after a No. 7, 0.201 in (printed example of a thread of 75.44 %); 1/4 is itself, not letter E.
    assert nearest_drill(0.201 * 25.4) == ("No. 7", pytest.approx(5.1054))
    assert nearest_drill(6.35)[0] == "1/4"
    assert Display(inch=True).drill(5.0) == "No. 9 (0.1960 in), for 5 mm"
    assert Display(inch=True).drill(30.0) == "30 mm (1.1811 in)"
    assert METRIC.drill(5.0) == "5 mm"


def answer(question, *findings):
    return Answer(question, worst(f.verdict for f in findings), "Headline.", tuple(findings))


def test_dangers_come_no_go_first_then_the_one_furthest_beyond_its_limit():
    told = dangers(
        (
            answer(
                1,
                Finding("mild", Verdict.CAUTION, 110, "N", 100, -10),
                Finding("fine", Verdict.GO, 1, "N", 2, 1),
            ),
            answer(3, Finding("bad", Verdict.CAUTION, 400, "N", 100, -300), Finding("wrong", Verdict.NO_GO)),
        ),
        METRIC,
    )
    assert [d["name"] for d in told] == ["wrong", "bad", "mild"]


def test_like_findings_that_are_go_share_a_row_with_the_nearest_to_its_limit():
    forces = [
        Finding(f"force, {n}", Verdict.GO, v, "N", 60, 60 - v) for n, v in (("a", 20), ("b", 50), ("c", 30))
    ]
    tones = [Finding(f"tone, {n}", Verdict.GO, v, "Hz") for n, v in (("y", 216), ("z", 444))]
    (told,) = at_ease((answer(4, *forces, *tones),), METRIC)
    assert told["rows"] == [
        ("force, worst of 3", "50 N", "60 N"),
        ("tone, y", "216 Hz", ""),
        ("tone, z", "444 Hz", ""),
    ]


def test_what_is_only_expected_is_not_called_go():
    expected = Finding("mass to come out", Verdict.GO, 0.7, "kg")
    weighed = Finding("mass out", Verdict.GO, 0.7, "kg", 0.72, 0.02)
    assert Answer(6, Verdict.GO, "", (expected,)).word == "not measured"
    assert Answer(6, Verdict.GO, "", (expected, weighed)).word == "go"
    assert Answer(6, Verdict.NO_GO, "", (expected,)).word == "no-go"
    assert Answer(1, Verdict.GO, "", (expected,)).word == "go"
    assert Answer(6, Verdict.GO, "", (expected,)).as_dict()["verdict"] == "go"
