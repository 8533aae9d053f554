"""Values in a program line: numbers, parameters, functions and bracketed expressions.

Source of the grammar and of every rule here: NIST IR 6556 (Kramer, Proctor, Messina, The NIST RS274/NGC
Interpreter, Version 3, 2000), section 3.3.2. The text handed in is lower case and holds no white space.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from sparwright.program.limits import INTEGER_TOLERANCE, PARAMETERS

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
_NAME = re.compile(r"[a-z]+")
_OPERATOR = re.compile(r"\*\*|\*|/|mod|\+|-|or|xor|and")
_LEVEL = {"**": 3, "*": 2, "/": 2, "mod": 2, "+": 1, "-": 1, "or": 1, "xor": 1, "and": 1}


class LineError(Exception):
    """A line of a program that cannot be carried out; the message is what the user is told."""


def number_text(value: float) -> str:
    """A value as it is shown in messages: up to six digits, without a needless fraction."""
    return f"{value:.6g}"


def shown(character: str) -> str:
    """A character as messages show it: itself in quotes, or its code where it cannot be seen or harms a screen."""
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # a byte that is no text, as the reader's decoding keeps it
        return f"the byte 0x{code - 0xDC00:02X}, which is no text,"
    return f'"{character}"' if character.isprintable() else f"the character U+{code:04X}"


def as_integer(value: float, what: str) -> int:
    """`value` as the integer it must be; `what` names it in the error."""
    nearest = round(value)
    if abs(value - nearest) > INTEGER_TOLERANCE:
        raise LineError(f"{what} must be a whole number, not {number_text(value)}")
    return nearest


def _round_half_away(v: float) -> float:
    return math.copysign(math.floor(abs(v) + 0.5), v) if abs(v) >= 0.5 else 0.0


def _arc(function: Callable[[float], float], v: float) -> float:
    return math.degrees(function(v))


_FUNCTIONS: dict[str, Callable[[float], float]] = {
    "abs": abs,
    "acos": lambda v: _arc(math.acos, v),
    "asin": lambda v: _arc(math.asin, v),
    "cos": lambda v: math.cos(math.radians(v)),
    "exp": math.exp,
    "fix": lambda v: float(math.floor(v)),
    "fup": lambda v: float(math.ceil(v)),
    "ln": math.log,
    "round": _round_half_away,
    "sin": lambda v: math.sin(math.radians(v)),
    "sqrt": math.sqrt,
    "tan": lambda v: math.tan(math.radians(v)),
}


def _power(a: float, b: float) -> float:
    if a < 0 and abs(b - round(b)) > INTEGER_TOLERANCE:
        raise LineError(f"{number_text(a)} ** {number_text(b)}: a negative number has no such power")
    return math.pow(a, round(b)) if a < 0 else math.pow(a, b)


def _modulo(a: float, b: float) -> float:
    rest = math.fmod(a, b)
    return rest + abs(b) if rest < 0 else rest


_BINARY: dict[str, Callable[[float, float], float]] = {
    "**": _power,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "mod": _modulo,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "or": lambda a, b: float(a != 0 or b != 0),
    "xor": lambda a, b: float((a != 0) != (b != 0)),
    "and": lambda a, b: float(a != 0 and b != 0),
}


def _finite(compute: Callable[[], float], what: str) -> float:
    """The result of `compute`; LineError naming `what` where it has no finite value."""
    try:
        value = compute()
    except ZeroDivisionError:
        raise LineError(f"{what} divides by zero") from None
    except (ValueError, OverflowError):
        raise LineError(f"{what} has no value") from None
    if not math.isfinite(value):
        raise LineError(f"{what} has no value")
    return value


class Scanner:
    """A place in a stripped line, and the reading of values from there.

    `parameter` gives the value of a numbered parameter as it stood before the line. Depth of calls grows with
    the brackets on a line, of which 256 characters hold few enough.
    """

    def __init__(self, text: str, parameter: Callable[[int], float]) -> None:
        self.text = text
        self.at = 0
        self._parameter = parameter

    @property
    def done(self) -> bool:
        """Whether the whole line has been read."""
        return self.at >= len(self.text)

    def peek(self) -> str:
        """The next character, empty at the end."""
        return self.text[self.at : self.at + 1]

    def expect(self, mark: str, after: str) -> None:
        """Step over `mark`, which must be next."""
        if not self.text.startswith(mark, self.at):
            found = shown(self.peek()) if self.peek() else "the end of the line"
            raise LineError(f'"{mark}" is wanted after {after}, not {found}')
        self.at += len(mark)

    def index(self) -> int:
        """A parameter number, read after its "#"."""
        number = as_integer(self.value("#"), "a parameter number")
        if not 1 <= number < PARAMETERS:
            raise LineError(f"there is no parameter #{number}; they run from #1 to #{PARAMETERS - 1}")
        return number

    def value(self, after: str) -> float:
        """A number, "#" and a parameter number, a bracketed expression or a function of one."""
        found = _NUMBER.match(self.text, self.at)
        if found:
            self.at = found.end()
            return _finite(lambda: float(found.group()), f"the number after {after}")
        mark = self.peek()
        if mark == "#":
            self.at += 1
            return self._parameter(self.index())
        if mark == "[":
            return self._expression()
        name = _NAME.match(self.text, self.at)
        if name and self.text[name.end() : name.end() + 1] == "[":
            self.at = name.end()
            return self._function(name.group())
        found_text = shown(mark) if mark else "the end of the line"
        raise LineError(f"a value is wanted after {after}, not {found_text}")

    def _function(self, name: str) -> float:
        if name == "atan":
            rise = self._expression()
            self.expect("/", "ATAN[...]")
            if self.peek() != "[":
                raise LineError("ATAN takes two bracketed values: ATAN[...]/[...]")
            run = self._expression()
            return math.degrees(math.atan2(rise, run))
        function = _FUNCTIONS.get(name)
        if function is None:
            raise LineError(f"there is no function {name.upper()}")
        argument = self._expression()
        return _finite(lambda: function(argument), f"{name.upper()}[{number_text(argument)}]")

    def _operator(self) -> str | None:
        found = _OPERATOR.match(self.text, self.at)
        if found is None:
            return None
        self.at = found.end()
        return found.group()

    def _expression(self) -> float:
        """A bracketed expression: values and operators kept on two short stacks until their level is due."""
        self.at += 1
        values = [self.value("[")]
        waiting: list[str] = []
        while self.peek() != "]":
            sign = self._operator()
            if sign is None:
                found = shown(self.peek()) if self.peek() else "the end of the line"
                raise LineError(f'an operator or "]" is wanted in an expression, not {found}')
            while waiting and _LEVEL[waiting[-1]] >= _LEVEL[sign]:
                _apply(values, waiting.pop())
            waiting.append(sign)
            values.append(self.value(sign.upper()))
        self.at += 1
        while waiting:
            _apply(values, waiting.pop())
        return values[0]


def _apply(values: list[float], sign: str) -> None:
    b, a = values.pop(), values.pop()
    what = f"{number_text(a)} {sign.upper()} {number_text(b)}"
    values.append(_finite(lambda: _BINARY[sign](a, b), what))
