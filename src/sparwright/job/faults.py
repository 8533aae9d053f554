"""One clear message for everything that can be wrong in a file: place, key, value, what is allowed, what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from typing import Any

from pydantic import ValidationError

from sparwright.answers import BadInput
from sparwright.job.facts import Node, allowed_words, node_at
from sparwright.job.models import KeyFault, Table
from sparwright.job.positions import Key, Positions, key_text, value_at

_LISTED = 10  # further mistakes listed under the first


class JobError(BadInput):
    """Something in a job file, or a file it names, cannot be used.

    file, line (from 1; 0 where no line is to blame), key (dotted field), what (the fault in a sentence), value
    (as read), allowed, remedy; others: further mistakes of the same file. `str()` is one message with all of it.
    """

    def __init__(
        self,
        file: str,
        line: int,
        key: str,
        what: str,
        *,
        value: Any = None,
        allowed: str = "",
        remedy: str = "",
        others: Sequence[JobError] = (),
    ) -> None:
        self.file, self.line, self.key, self.what = file, line, key, what
        self.value, self.allowed, self.remedy, self.others = value, allowed, remedy, tuple(others)
        super().__init__(self._message())

    def _message(self) -> str:
        place = f"{self.file}, line {self.line}" if self.line else self.file
        lines = [f"{place}: {self.sentence()}"]
        lines += [f"  also line {other.line}: {other.sentence()}" for other in self.others[:_LISTED]]
        if len(self.others) > _LISTED:
            lines.append(f"  and {len(self.others) - _LISTED} more")
        return "\n".join(lines)

    def sentence(self) -> str:
        """The message without the place."""
        parts = [f"{self.key}: {self.what}" if self.key else self.what]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}")
        if self.remedy:
            parts.append(self.remedy[0].upper() + self.remedy[1:])
        return " ".join(p if p.endswith((".", "?")) else f"{p}." for p in parts)


def value_text(value: Any) -> str:
    """A value as the file writes it, shortened where long."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "a table"
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def nearest(word: Any, known: Iterable[str]) -> str:
    """The known word nearest to a misspelt one; empty where none is near."""
    names = {name.lower(): name for name in known}
    close = difflib.get_close_matches(str(word).lower(), list(names), n=1, cutoff=0.5)
    return names[close[0]] if close else ""


def faults_of(problem: ValidationError, model: type[Table], data: Any, text: str, file: str) -> JobError:
    """Everything a validation found wrong in a file as one error: the first by line, the others listed in it."""
    positions = Positions(text)
    errors = problem.errors()
    found = sorted(
        (_explain(e, model, data, positions, file) for e in errors if not _follows(e, errors)),
        key=lambda e: e.line,
    )
    first = found[0]
    return JobError(
        first.file,
        first.line,
        first.key,
        first.what,
        value=first.value,
        allowed=first.allowed,
        remedy=first.remedy,
        others=found[1:],
    )


def _follows(error: Any, errors: Sequence[Any]) -> bool:
    """Whether an error only follows from another one.

    A key is missing because it is there misspelt; a list is short because elements of it are at fault themselves.
    """
    loc = error["loc"]
    if error["type"] == "missing" and isinstance(loc[-1], str):
        beside = [
            e["loc"][-1] for e in errors if e["type"] == "extra_forbidden" and e["loc"][:-1] == loc[:-1]
        ]
        return bool(nearest(loc[-1], beside))
    return error["type"] == "too_short" and any(
        e["loc"][: len(loc)] == loc and len(e["loc"]) > len(loc) for e in errors
    )


def _explain(error: Any, model: type[Table], data: Any, positions: Positions, file: str) -> JobError:
    kind, cause = error["type"], error.get("ctx", {}).get("error")
    loc = error["loc"]
    if isinstance(cause, KeyFault):
        loc = (*loc, *cause.keys)
    elif kind.startswith("union_tag"):
        loc = (*loc, error["ctx"]["discriminator"].strip("'"))
    elif kind == "missing" and isinstance(loc[-1], int):
        loc = loc[:-1]  # a list of fixed length that is short
    node, key = node_at(model, loc, data)
    value = value_at(data, key)
    allowed = allowed_words(node)
    if kind.startswith("union_tag"):
        allowed = allowed_words({"enum": _shapes(model, loc[:-1], data)})
    what, remedy = str(cause), ""
    if kind == "extra_forbidden":
        known = list(node_at(model, loc[:-1], data)[0].get("properties", ()))
        what = f"unknown key (its value is {value_text(value)})"
        remedy = _did_you_mean(key[-1], known, "take it out, or write one of these")
        allowed = f"the keys {', '.join(known)}"
    elif kind == "missing" and isinstance(error["loc"][-1], int):
        what, remedy = f"{value_text(value)} is too short", "give all of them"
    elif kind in ("missing", "union_tag_not_found"):
        what, remedy = "this key is missing", _add(key, node)
    elif isinstance(cause, KeyFault):
        what = f"{value_text(value)}: {cause}" if value is not None else str(cause)
    elif cause is None:
        what, remedy = _refusal(kind, value, node, allowed, key)
    return JobError(
        file, positions.line(key), key_text(key), what, value=value, allowed=allowed, remedy=remedy
    )


def _shapes(model: type[Table], path: Key, data: Any) -> list[str]:
    """Names of the variants of the union at a path."""
    parent, _ = node_at(model, path[:-1], data)
    union = parent["properties"][path[-1]]
    return list(union["discriminator"]["mapping"])


def _did_you_mean(word: Any, known: Sequence[str], otherwise: str) -> str:
    hint = nearest(word, known)
    return f'did you mean "{hint}"?' if hint else otherwise


def _add(key: Key, node: Node) -> str:
    meaning = f" ({node['description']})" if "description" in node else ""
    if len(key) == 1 and node.get("type") == "object":
        return f"add a table [{key[0]}]{meaning}"
    under = f" to {key_text(key[:-1])}" if len(key) > 1 else ""
    return f"add {key[-1]} = ...{under}{meaning}"


def _refusal(kind: str, value: Any, node: Node, allowed: str, key: Key) -> tuple[str, str]:
    """What is wrong and what to do, for a value that is out of range, no choice of its key, or of the wrong kind."""
    shown, meaning = value_text(value), node.get("description", "")
    change = f"change {key_text(key[-1:])}" + (f" ({meaning})" if meaning else "")
    if kind.startswith(("greater_than", "less_than")):
        return f"{shown} is out of range", change
    if kind in ("literal_error", "union_tag_invalid"):
        known = allowed.split('"')[1::2] if isinstance(value, str) else ()
        return f"{shown} is not one of its choices", _did_you_mean(
            value, known, "write one of these in quotes"
        )
    if kind == "string_too_short":
        return "it is empty", "write something between the quotes"
    if kind in ("too_short", "too_long"):
        return f"{shown} is too {kind[4:]}", change
    if isinstance(value, dict) and "$ref" in node.get("items", {}):
        return "one table is not a list of tables", f"write its header as [[{key_text(key)}]]"
    if isinstance(value, list) and node.get("type") == "object":
        return "this is a list, not a table", f"write its header once, as [{key_text(key)}]"
    return f"{shown} is of the wrong kind", change
