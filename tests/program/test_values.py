"""Values, lines and parameters. Outside checks: NIST IR 6556 (The NIST RS274/NGC Interpreter, Version 3, 2000)."""

from __future__ import annotations

import math

import pytest
from tests_program_help import clean, error_of

from sparwright.program.expressions import LineError, Scanner
from sparwright.program.reader import read_program


def evaluate(text: str, parameters: dict[int, float] | None = None) -> float:
    """The value of a bracketed expression."""
    stripped = f"[{text}]".replace(" ", "").lower()
    return Scanner(stripped, lambda n: (parameters or {}).get(n, 0.0)).value("x")


# NIST IR 6556, appendix C.2 (expression test program) and section 3.3.2: text, printed result, half its last digit.
PRINTED = [
    ("1 + 2", 3, 0),
    ("1 - 2", -1, 0),
    ("1 --3", 4, 0),
    ("2/5", 0.4, 1e-15),
    ("3.0 * 5", 15, 0),
    ("0 OR 0", 0, 0),
    ("0 OR 1", 1, 0),
    ("2 or 2", 1, 0),
    ("0 AND 0", 0, 0),
    ("0 AND 1", 0, 0),
    ("2 and 2", 1, 0),
    ("0 XOR 0", 0, 0),
    ("0 XOR 1", 1, 0),
    ("2 xor 2", 0, 0),
    ("15 MOD 4.0", 3, 0),
    ("1 + 2 * 3 - 4 / 5", 6.2, 1e-12),
    ("sin[30]", 0.5, 1e-12),
    ("cos[0.0]", 1, 0),
    ("tan[60.0]", 1.7321, 5e-5),
    ("sqrt[3]", 1.7321, 5e-5),
    ("atan[1.7321]/[1.0]", 60, 1e-3),
    ("asin[1.0]", 90, 1e-9),
    ("acos[0.707107]", 45, 1e-4),
    ("abs[-1.23]", 1.23, 0),
    ("round[-0.499]", 0, 0),
    ("round[-0.5001]", -1, 0),
    ("round[2.444]", 2, 0),
    ("round[9.975]", 10, 0),
    ("fix[-0.499]", -1, 0),
    ("fix[-0.5001]", -1, 0),
    ("fix[2.444]", 2, 0),
    ("fix[9.975]", 9, 0),
    ("fup[-0.499]", 0, 0),
    ("fup[-0.5001]", 0, 0),
    ("fup[2.444]", 3, 0),
    ("fup[9.975]", 10, 0),
    ("fix[-2.8]", -3, 0),
    ("fup[-2.8]", -2, 0),
    ("exp[2.3026]", 10, 1e-3),
    ("ln[10.0]", 2.3026, 5e-5),
    ("2 ** 3.0", 8, 0),
    ("sqrt[3**2 + 4**2]", 5, 1e-12),
    ("2.0 / 3 * 1.5 - 5.5 / 11.0", 0.5, 1e-12),
]


@pytest.mark.parametrize(("text", "printed", "tolerance"), PRINTED)
def test_printed_results(text: str, printed: float, tolerance: float) -> None:
    assert evaluate(text) == pytest.approx(printed, abs=tolerance, rel=0)


def test_expression_program_of_appendix_c_2() -> None:
    # The same list as one program: each line moves X to what the text says it should be.
    text = "n1 g21 g1 x3 f100 (expression test)\n"
    text += "".join(
        f"n{k} x[{value}] (x should be {printed})\n" for k, (value, printed, _) in enumerate(PRINTED, 2)
    )
    reached = clean(text + "m2").end[1:, 0]
    for x, (value, printed, tolerance) in zip(reached, PRINTED, strict=True):
        assert x == pytest.approx(printed, abs=tolerance, rel=0), value


def test_long_expression_of_section_3_3_2() -> None:
    # The text gives the expression, not its value; worked here step by step with the math module.
    fixed = math.degrees(math.atan2(4 * 2.1 * math.sqrt(16.8), -18.0))
    by_hand = 2 + math.degrees(math.asin(1 / 2.1 - 0.345)) / fixed**2
    text = "2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2"
    assert evaluate(text) == pytest.approx(by_hand, abs=1e-12)
    assert by_hand == pytest.approx(2.000545, abs=1e-6)


def test_operators_bind_by_level_and_run_left_to_right() -> None:
    assert evaluate("2 ** 3 ** 2") == 64
    assert evaluate("2 * 3 ** 2") == 18
    assert evaluate("7 - 2 - 1") == 4
    assert evaluate("1 - 1 or 0") == 0  # + - OR XOR AND are of one level (section 3.3.2.3)
    assert evaluate("-7 mod 4") == 1


def test_parameter_sign_binds_first() -> None:
    # NIST IR 6556, section 3.3.2.2: "#1+2" is the value of #1, plus 2.
    assert evaluate("#1+2", {1: 3.0}) == 5
    assert evaluate("##1", {1: 2.0, 2: 0.375}) == 0.375


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("1/0", "1 / 0 divides by zero"),
        ("5 mod 0", "5 MOD 0 has no value"),
        ("sqrt[-1]", "SQRT[-1] has no value"),
        ("ln[0]", "LN[0] has no value"),
        ("asin[1.5]", "ASIN[1.5] has no value"),
        ("exp[1000]", "EXP[1000] has no value"),
        ("[0-8] ** [1/3]", "-8 ** 0.333333: a negative number has no such power"),
        ("10 ** 400", "10 ** 400 has no value"),
        ("foo[1]", "there is no function FOO"),
        ("atan[1]", '"/" is wanted after ATAN[...], not "]"'),
        ("atan[1]/2", "ATAN takes two bracketed values: ATAN[...]/[...]"),
        ("1 2 +", 'a value is wanted after +, not "]"'),
        ("-#1", 'a value is wanted after [, not "-"'),
        ("#0", "there is no parameter #0; they run from #1 to #5399"),
        ("#5400", "there is no parameter #5400; they run from #1 to #5399"),
        ("#1.5", "a parameter number must be a whole number, not 1.5"),
        ("1 & 2", 'an operator or "]" is wanted in an expression, not "&"'),
    ],
)
def test_what_has_no_value_is_refused(text: str, message: str) -> None:
    with pytest.raises(LineError) as caught:
        evaluate(text)
    assert str(caught.value) == message


def test_unclosed_bracket() -> None:
    reading = read_program("g0 x[1+2")
    assert (
        reading.errors[0].message == 'an operator or "]" is wanted in an expression, not the end of the line'
    )


# --- lines, section 3.3 ---------------------------------------------------------------------------------


def ends(text: str, **options: object) -> list[list[float]]:
    """End points of the motions of a program without errors."""
    return clean(text, **options).end.tolist()


def test_spaces_inside_numbers() -> None:
    # NIST IR 6556, section 3.3: "g0x +0. 12 34y 7" is "g0 x+0.1234 y7".
    assert ends("g0x +0. 12 34y 7") == [[0.1234, 7.0, 0.0]]
    assert ends("G\t0 1 X 1 2") == [[12.0, 0.0, 0.0]]


def test_line_numbers_and_case() -> None:
    assert ends("n99999 g0 x1\nN0001Y2\nn1g1z3") == [[1, 0, 0], [1, 2, 0], [1, 2, 3]]
    assert error_of("n123456 g0 x1") == "the line number N123456 has more than five digits"
    assert error_of("n g0 x1") == "N takes a line number of one to five digits"
    assert error_of("g0 n1 x1") == "the line number N must be the first word of its line, and the only one"


def test_length_of_a_line() -> None:
    longest = "g0 x1" + " " * 251
    assert ends(longest) == [[1, 0, 0]]
    assert error_of(longest + " ") == "the line is longer than 256 characters, the most a line may have"


def test_comments() -> None:
    assert ends("(one) g0 (two) x1 (g1 y9)") == [[1, 0, 0]]
    assert error_of("g0 x1 (open") == 'the comment is not closed: a ")" is missing'
    assert error_of("g0 x1 (a (b) c)") == '"(" inside a comment: comments cannot hold comments'
    assert error_of("g0 x1 )") == '")" without a "(" before it'
    assert error_of("g0 x1 ; y") == '";" starts no comment here; write comments in round brackets'


def test_only_the_last_comment_can_be_a_message() -> None:
    # NIST IR 6556, sections 3.3.4 and 3.3.5.
    text = "(msg, first) g0 (last) x1\n( MSG , turn the bar over)\n(msg no comma)"
    assert read_program(text).messages == ((2, "turn the bar over"),)


def test_block_delete() -> None:
    text = "/g0 x1\n / g0 y1\ng0 z1"
    assert ends(text) == [[1, 0, 0], [1, 1, 0], [1, 1, 1]]
    assert ends(text, block_delete=True) == [[0, 0, 1]]


def test_percent_lines() -> None:
    inside = read_program("%\ng0 x1\n%\ng0 x2")
    assert inside.end.tolist() == [[1, 0, 0]]
    assert inside.ended
    assert error_of("g0 x1\n%\ng0 x2") == 'a "%" line here, but the program did not begin with one'
    assert not read_program("g0 x1").ended


def test_nothing_after_the_end_is_read() -> None:
    for end in ("m2", "m30"):
        reading = read_program(f"g0 x1\n{end}\nrubbish!")
        assert reading.ended
        assert reading.errors == ()
        assert reading.blocks == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("o100 sub", "O words (subprograms and loops) are refused: they are not part of NIST IR 6556"),
        ("g0 a90", "A is a rotary axis; this reader follows the straight axes X, Y and Z"),
        ("g0 u1", "U is not a word of NIST IR 6556"),
        ("g0 x1 $", '"$" cannot start a word'),
        ("g0 x1 é", 'the character "é" means nothing outside a comment'),
        ("g0 x٣", 'the character "٣" means nothing outside a comment'),
        ("g0 x", "a value is wanted after X, not the end of the line"),
        ("g0 xy1", 'a value is wanted after X, not "y"'),
        ("g0 x1 x2", "two X words on one line"),
        ("g0 x1e3", "E is not a word of NIST IR 6556"),
        ("g0 x2000000000", "X2e+09 is beyond ±1e+09"),
        ("g5 x1", "G5 is not a G word of NIST IR 6556"),
        ("g1.23 x1", "G1.23 is not a G word of NIST IR 6556"),
        ("m98", "M98 is not an M word of NIST IR 6556"),
        ("m3.5", "an M word must be a whole number, not 3.5"),
        ("t1.5", "T must be a whole number, not 1.5"),
        ("m3 m6 m7 m8 m48", "more than 4 M words on one line"),
        ("f-1", "F-1 cannot be negative"),
        ("s-1", "S-1 cannot be negative"),
        ("t-1", "T-1 cannot be negative"),
        ("#1 2", '"=" is wanted after #12, not the end of the line'),
    ],
)
def test_words_refused_by_name(text: str, message: str) -> None:
    assert error_of(text) == message


def test_values_near_integers_are_taken() -> None:
    # NIST IR 6556, section 3.3.2.1: within 0.0001 of an integer.
    reading = read_program("t2.00005\nm3.00005 g1.00005 x1\nm[1+2.00009]")
    assert reading.errors == ()
    assert reading.tool.tolist() == [2]
    assert reading.spindle.tolist() == [1]


def test_reading_goes_on_after_an_error() -> None:
    reading = read_program("g1 x1 f100\ng1 x2 q5\ng1 x3\ng1 x4 p1\nx5")
    assert [e.line for e in reading.errors] == [2, 4]
    assert reading.errors[0].message == "Q is not used on this line; it goes with G83"
    assert reading.end[:, 0].tolist() == [1, 3, 5]
    assert reading.line.tolist() == [1, 3, 5]
    assert reading.start[:, 0].tolist() == [0, 1, 3]


def test_errors_are_capped() -> None:
    reading = read_program("q1\n" * 1500 + "g0 x1")
    assert len(reading.errors) == 1000
    assert reading.end.tolist() == [[1, 0, 0]]


def test_line_ends() -> None:
    assert len(ends("g0 x1\r\ng0 x2\rg0 x3\n")) == 3


# --- parameters, sections 3.2.1 and 3.3.2 ---------------------------------------------------------------


def test_settings_take_effect_after_the_line() -> None:
    # NIST IR 6556, section 3.3.3: with #3 = 15, "#3=6 G1 x#3" moves to x = 15.
    assert ends("#3=15\n#3=6 g1 x#3\nx#3")[0][0] == 15
    # Appendix C.2: with #3 = 7, "#3=5.0 x #3" moves to 7; then "x #3 #3=1.1" moves to 5.
    assert [p[0] for p in ends("g1 x0\n#3=7\n#3=5.0 x #3\nx #3 #3=1.1\nx#3")] == [0, 7, 5, 1.1]


def test_parameter_set_through_a_parameter() -> None:
    # Appendix C.2: with #1 = 2, "##1=0.375" sets #2.
    assert ends("#1=2\n##1=0.375\ng0 x#2")[0][0] == 0.375


def test_the_last_of_two_settings_holds() -> None:
    assert ends("#3=1 #3=2\ng0 x#3")[0][0] == 2


def test_active_system_parameter() -> None:
    assert ends("g59.3\ng53 g0 x#5220")[0][0] == 9
