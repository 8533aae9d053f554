"""A line of a program taken apart into its words: NIST IR 6556, section 3.3."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from sparwright.program.expressions import LineError, Scanner, as_integer, number_text, shown
from sparwright.program.limits import GREATEST_VALUE, LONGEST_LINE, MOST_M_WORDS

WORD_LETTERS = frozenset("dfghijklmpqrstxyz")
ROTARY_LETTERS = frozenset("abc")
_SIMPLE = re.compile(
    r"([dfhijklpqrstxyz])([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))|(g)([0-9]{1,3})(?![0-9.])|(m)([0-9]{1,3})(?![0-9.])"
)


@dataclass
class Block:
    """The words of one line.

    values: by letter, those that may stand once. g: G words in tenths (G38.2 is 382). m: M words. settings:
    parameters to set after the line. message: text of a (MSG, ...) comment. words: whether the line holds any
    word or setting at all. passed: what was passed over, as it is told.
    """

    values: dict[str, float] = field(default_factory=dict)
    g: list[int] = field(default_factory=list)
    m: list[int] = field(default_factory=list)
    settings: list[tuple[int, float]] = field(default_factory=list)
    message: str = ""
    words: bool = False
    passed: list[str] = field(default_factory=list)


def g_name(tenths: int) -> str:
    """A G word as it is written: 382 is G38.2, 10 is G1."""
    whole, part = divmod(tenths, 10)
    return f"G{whole}.{part}" if part else f"G{whole}"


def _without_comments(line: str, cut: bool) -> tuple[str, str, str]:
    """The line without its comments, the text of the last comment (section 3.3.4), and what a ";" cut off.

    cut: whether a ";" outside comments ends the line.
    """
    if "(" not in line and ")" not in line and not (cut and ";" in line):
        return line, "", ""
    kept: list[str] = []
    comment = ""
    rest = line
    while True:
        before, opened, after = rest.partition("(")
        if cut and ";" in before:
            before, sign, tail = before.partition(";")
            return "".join([*kept, before]), comment, sign + tail + opened + after
        if ")" in before:
            raise LineError('")" without a "(" before it')
        kept.append(before)
        if not opened:
            return "".join(kept), comment, ""
        comment, closed, rest = after.partition(")")
        if not closed:
            raise LineError('the comment is not closed: a ")" is missing')
        if "(" in comment:
            raise LineError('"(" inside a comment: comments cannot hold comments')


def _message(comment: str) -> str:
    head, comma, text = comment.partition(",")
    return text.strip() if comma and head.strip().lower() == "msg" else ""


def split_line(
    line: str,
    parameter: Callable[[int], float],
    block_delete: bool,
    pass_over: frozenset[str] = frozenset(),
) -> Block:
    """The words of one line, without its line end.

    `parameter` gives values of parameters as they stood before the line. pass_over: words that are left out
    (see passing.py). Raises LineError with one message where the line breaks a rule of section 3.3.
    """
    if len(line) > LONGEST_LINE:
        raise LineError(f"the line is longer than {LONGEST_LINE} characters, the most a line may have")
    block = Block()
    line = line.lstrip(" \t")
    if line.startswith("/"):
        if block_delete:
            return block
        line = line[1:]
    code, comment, tail = _without_comments(line, ";" in pass_over)
    code = code.replace(" ", "").replace("\t", "")
    block.message = _message(comment)
    if tail:
        block.passed.append('";" and what follows it')
    if not code:
        return block
    if not code.isascii():
        strange = next(c for c in code if not c.isascii())
        raise LineError(f"{_naming(strange)} means nothing outside a comment")
    scanner = Scanner(code.lower(), parameter)
    _line_number(scanner)
    while not scanner.done:
        if not _simple_words(scanner, block, pass_over):
            _word(scanner, block, pass_over)
    block.words = bool(block.values or block.g or block.m or block.settings)
    return block


def _naming(character: str) -> str:
    text = shown(character)
    return f"the character {text}" if text.startswith('"') else text


def _line_number(scanner: Scanner) -> None:
    if scanner.peek() != "n":
        return
    text = scanner.text
    end = 1
    while end < len(text) and text[end].isdigit():
        end += 1
    if end == 1:
        raise LineError("N takes a line number of one to five digits")
    if end > 6:
        raise LineError(f"the line number N{text[1:end]} has more than five digits")
    scanner.at = end


def _simple_words(scanner: Scanner, block: Block, pass_over: frozenset[str]) -> bool:
    """Take words whose value is a plain number, as far as nothing is wrong with them; whether the line is done.

    A quicker way to what `_word` does.
    """
    text, values = scanner.text, block.values
    at, end = scanner.at, len(text)
    match = _SIMPLE.match
    while at < end:
        found = match(text, at)
        if found is None:
            break
        letter, figures = found.group(found.lastindex - 1, found.lastindex)  # type: ignore[operator, arg-type]
        if letter == "g" or letter == "m":
            if pass_over or len(block.m) >= MOST_M_WORDS:
                break
            if letter == "g":
                block.g.append(int(figures) * 10)
            else:
                block.m.append(int(figures))
        else:
            value = float(figures)
            if letter in values or abs(value) > GREATEST_VALUE:
                break
            values[letter] = value
        at = found.end()
    scanner.at = at
    return at >= end


def _word(scanner: Scanner, block: Block, pass_over: frozenset[str]) -> None:
    """Take one word, setting or passed-over word."""
    letter = scanner.peek()
    scanner.at += 1
    if letter == "#":
        number = scanner.index()
        scanner.expect("=", f"#{number}")
        block.settings.append((number, scanner.value("=")))
        return
    if letter == "o" and "o" in pass_over:
        block.passed.append(scanner.text[scanner.at - 1 :].upper())
        scanner.at = len(scanner.text)
        return
    if letter not in WORD_LETTERS and letter not in pass_over:
        raise LineError(_unknown(letter))
    value = scanner.value(letter.upper())
    if abs(value) > GREATEST_VALUE:
        raise LineError(f"{letter.upper()}{number_text(value)} is beyond ±{number_text(GREATEST_VALUE)}")
    if letter not in WORD_LETTERS:
        block.passed.append(f"{letter.upper()}{number_text(value)}")
    elif letter == "g":
        tenths = value * 10
        if abs(tenths - round(tenths)) > 1e-3:
            raise LineError(f"G{number_text(value)} is not a G word of NIST IR 6556")
        name = g_name(round(tenths))
        if name in pass_over:
            block.passed.append(name)
        else:
            block.g.append(round(tenths))
    elif letter == "m":
        number = as_integer(value, "an M word")
        if f"M{number}" in pass_over:
            block.passed.append(f"M{number}")
            return
        block.m.append(number)
        if len(block.m) > MOST_M_WORDS:
            raise LineError(f"more than {MOST_M_WORDS} M words on one line")
    elif letter in block.values:
        raise LineError(f"two {letter.upper()} words on one line")
    else:
        block.values[letter] = value


def _unknown(letter: str) -> str:
    if letter in ROTARY_LETTERS:
        return f"{letter.upper()} is a rotary axis; this reader follows the straight axes X, Y and Z"
    if letter == "o":
        return "O words (subprograms and loops) are refused: they are not part of NIST IR 6556"
    if letter == "n":
        return "the line number N must be the first word of its line, and the only one"
    if letter == ";":
        return '";" starts no comment here; write comments in round brackets'
    if letter == "%":
        return '"%" stands alone on the first and the last line of a program, nowhere else'
    if letter.isalpha():
        return f"{letter.upper()} is not a word of NIST IR 6556"
    return f"{shown(letter)} cannot start a word"
