"""Changes to a TOML text that touch nothing but the value meant: comments, order and layout stay."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sparwright.answers import BadInput
from sparwright.job.positions import Key, Positions, key_text

Value = bool | int | float | str | Sequence["Value"] | None


class CannotEdit(BadInput):
    """A change that cannot be made in the text without touching more than its value."""


@dataclass(frozen=True)
class Change:
    """One value in one file: `value` None takes the key out. file: "job" or "cutters"."""

    file: str
    path: Key
    value: Value


def toml_value(value: Value) -> str:
    """A value as TOML writes it, numbers in their shortest form."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        if not math.isfinite(value):
            raise CannotEdit("a value must be a finite number")
        short = f"{value:.9g}"
        return short if "e" not in short else repr(value)
    if value is None:
        raise CannotEdit("a list cannot hold nothing")
    return "[" + ", ".join(toml_value(part) for part in value) + "]"


def with_value(text: str, path: Key, value: Value) -> str:
    """The text with one value changed, added where its key is missing, or (None) its key taken out.

    Raises CannotEdit where that cannot be done without writing the text anew; the result always reads as the old
    text with this one value changed.
    """
    if not path or not isinstance(path[-1], str):
        raise CannotEdit(f"{key_text(path) or 'the file'} is no key of a table")
    data, positions = text.encode("utf-8"), Positions(text)
    if value is None:
        new = _without(data, positions, path)
    elif path in positions.values:
        start, end = positions.values[path]
        new = data[:start] + toml_value(value).encode() + data[end:]
    else:
        new = _with_key(data, positions, path, toml_value(value))
    changed = new.decode("utf-8")
    _check(text, changed, path, value)
    return changed


def _line_end(data: bytes) -> bytes:
    return b"\r\n" if b"\r\n" in data else b"\n"


def _with_key(data: bytes, positions: Positions, path: Key, written: str) -> bytes:
    """A new key: behind the last pair of its table, inside its inline table, or in a table of its own at the end."""
    table, key = path[:-1], path[-1]
    pair = f"{key} = {written}".encode()
    newline = _line_end(data)
    if table in positions.tables:
        at = _end_of_line(data, positions.tables[table][1])
        lead = b"" if data[:at].endswith(b"\n") else newline
        return data[:at] + lead + pair + newline + data[at:]
    if table in positions.values:
        start, end = positions.values[table]
        if data[start : start + 1] != b"{":
            raise CannotEdit(f"{key_text(table)} is not a table, so {key} cannot be added to it")
        inside = data[start + 1 : end - 1].rstrip()
        return data[: start + 1] + inside + (b", " if inside.strip() else b" ") + pair + b" }" + data[end:]
    if len(table) == 1 and isinstance(table[0], str) and table not in positions.lines:
        lead = b"" if not data or data.endswith(b"\n") else newline
        return data + lead + newline + f"[{table[0]}]".encode() + newline + pair + newline
    raise CannotEdit(f"there is no place for {key_text(path)} in the file; add it by hand")


def _without(data: bytes, positions: Positions, path: Key) -> bytes:
    """A key taken out with its line; a comment behind it keeps its line."""
    if path not in positions.pairs:
        return data
    start, end = positions.pairs[path]
    line = data.rfind(b"\n", 0, start) + 1
    stop = _end_of_line(data, end)
    rest = data[end:stop].strip()
    if data[line:start].strip() or (rest and not rest.startswith(b"#")):
        raise CannotEdit(f"{key_text(path)} shares its line with others; take it out by hand")
    if rest:
        return data[:start] + data[end:].lstrip(b" \t")
    return data[:line] + data[stop:]


def _end_of_line(data: bytes, at: int) -> int:
    """Just behind the newline that ends the line of a byte."""
    found = data.find(b"\n", at)
    return len(data) if found < 0 else found + 1


def _check(before: str, after: str, path: Key, value: Value) -> None:
    """CannotEdit unless the new text means the old one with this one change."""
    wanted: Any = tomllib.loads(before)
    here = wanted
    for part in path[:-1]:
        here = here[part] if isinstance(part, int) else here.setdefault(part, {})
    if value is None:
        here.pop(path[-1], None)
    else:
        here[path[-1]] = tomllib.loads(f"v = {toml_value(value)}")["v"]
    try:
        found = tomllib.loads(after)
    except tomllib.TOMLDecodeError as problem:
        raise CannotEdit(f"{key_text(path)} cannot be changed here ({problem}); change it by hand") from None
    if found != wanted:
        raise CannotEdit(f"{key_text(path)} cannot be changed without touching other keys; change it by hand")
