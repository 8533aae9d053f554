"""What is varied: words such as isogrid.rib=4:8:0.5, every combination of them, and the job each of them makes.

A word is FIELD.KEY=VALUES. Values are a list with commas or, for numbers, FROM:TO:STEP with both ends. Lengths are mm
or carry a unit; faces of one candidate are joined with +; `auto` takes a key that may be left out as left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product
from typing import get_args

from pydantic import ValidationError

from sparwright.job.facts import allowed_words, node_at
from sparwright.job.faults import nearest
from sparwright.job.features import PocketField, PocketShape
from sparwright.job.models import Job, JobFile, KeyFault
from sparwright.stock.model import Section
from sparwright.sweep.faults import SweepError, told
from sparwright.units import to_canonical

Value = float | int | bool | str | tuple[str, ...] | None
LENGTHS = ("cell", "rib", "width", "skin", "depth", "corner_radius", "end_margin", "edge_margin")
KEYS = ("pocket", *LENGTHS, "rows", "stagger", "faces")
AUTO = ("corner_radius", "rows")  # keys that may be left out, so that "auto" means something
MOST_VALUES = 1000  # of one word
MOST = 5000  # candidates of one sweep


class LeftOut(ValueError):
    """A candidate that cannot be; the message says why."""


@dataclass(frozen=True)
class Setting:
    """One key of one field with one value: a word, a length in mm, a number of rows, names of faces, None for auto."""

    field: str
    key: str
    value: Value

    @property
    def text(self) -> str:
        """The value as a word states it."""
        if self.value is None:
            return "auto"
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if isinstance(self.value, tuple):
            return "+".join(self.value)
        return f"{self.value:.9g}" if isinstance(self.value, float) else str(self.value)

    @property
    def words(self) -> str:
        """As one writes it: isogrid.rib=4.5."""
        return f"{self.field}.{self.key}={self.text}"


@dataclass(frozen=True)
class Change:
    """What makes a candidate out of the job."""

    settings: tuple[Setting, ...]

    @property
    def key(self) -> str:
        """Its name, the same for the same change however the words were ordered."""
        return " ".join(sorted(s.words for s in self.settings))


@dataclass(frozen=True)
class Axis:
    """One word: the field and key it varies, and the values in the order they are taken."""

    field: str
    key: str
    values: tuple[Value, ...]


# --- words ------------------------------------------------------------------------------------------------


def read_words(words: Sequence[str], job: Job, section: Section) -> tuple[Axis, ...]:
    """The axes that `words` span. Raises SweepError at the first word that says nothing sensible."""
    if not words:
        raise told(
            "a sweep needs something to vary",
            remedy='say for example --vary "FIELD.rib=4:8:0.5" with a field of the job',
        )
    if not job.file.field:
        raise told(
            "this job has no field of pockets, and a sweep varies fields", remedy="add a [[field]] to the job"
        )
    axes: list[Axis] = []
    for word in words:
        axis = _axis(word, job, section)
        for other in axes:
            if other.field == axis.field and other.key == axis.key:
                raise told(
                    f"{axis.field}.{axis.key} is varied twice", remedy="put all its values into one word"
                )
            if other.field == axis.field and {other.key, axis.key} == {"skin", "depth"}:
                raise told(
                    f"both skin and depth of {axis.field} are varied, and each follows from the other",
                    remedy="vary one of them",
                )
        axes.append(axis)
    return tuple(axes)


def _axis(word: str, job: Job, section: Section) -> Axis:
    place, sign, text = word.partition("=")
    name, dot, key = (part.strip() for part in place.rpartition("."))
    form = "FIELD.KEY=VALUES, for example isogrid.rib=4:8:0.5 or isogrid.skin=0,0.8,1.2"
    if not sign or not dot or not name or not key:
        raise told(f'"{word}" is not a word to vary by', form, "write it like that")
    names = [f.name for f in job.file.field]
    if name not in names:
        raise _unknown(f'"{word}": this job has no field "{name}"', name, names)
    if key not in KEYS:
        raise _unknown(f'"{word}": no key "{key}" that a sweep varies', key, KEYS)
    if not text.strip():
        raise told(f'"{word}" states no values', form, "add values after the =")
    readers: dict[str, Callable[[str], Value]] = {
        "pocket": partial(_choice, word, "pocket", get_args(PocketShape)),
        "faces": partial(_faces, word, section),
        "stagger": partial(_yes, word),
        "rows": partial(_count, word),
    }
    read = readers.get(key, partial(_length, word))
    numeric = key in LENGTHS or key == "rows"
    values: list[Value] = []
    for part in (p.strip() for p in text.split(",")):
        if part == "auto" and key in AUTO:
            found: list[Value] = [None]
        elif ":" in part and numeric:
            found = list(_range(word, part, read))
        else:
            found = [read(part)]
        values += [v for v in found if v not in values]
        if len(values) > MOST_VALUES:
            raise told(
                f'"{word}" states more than {MOST_VALUES} values',
                f"{MOST_VALUES} a word",
                "take a larger step",
            )
    for value in values:
        _refuse_out_of_range(word, job, Setting(name, key, value))
    return Axis(name, key, tuple(values))


def _unknown(what: str, word: str, known: Sequence[str]) -> SweepError:
    hint = nearest(word, known)
    return told(what, ", ".join(known), f'did you mean "{hint}"?' if hint else "take one of these")


def _length(word: str, part: str) -> float:
    try:
        return round(to_canonical(part, "length"), 9)
    except ValueError as problem:
        raise told(f'"{word}": {problem}', remedy="lengths are mm, or carry a unit") from None


def _count(word: str, part: str) -> int:
    try:
        return int(part)
    except ValueError:
        raise told(
            f'"{word}": "{part}" is not a number of rows',
            "whole numbers, or auto for as many as fit",
            "correct it",
        ) from None


def _yes(word: str, part: str) -> bool:
    return _choice(word, "stagger", ("yes", "no"), part) == "yes"


def _choice(word: str, key: str, choices: Sequence[str], part: str) -> str:
    if part not in choices:
        raise _unknown(f'"{word}": "{part}" is no {key}', part, choices)
    return part


def _faces(word: str, section: Section, part: str) -> tuple[str, ...]:
    known = [f.name for f in section.faces]
    names = tuple(n.strip() for n in part.split("+"))
    for name in names:
        if name not in known:
            raise _unknown(f'"{word}": the section has no face "{name}"', name, known)
    if len(set(names)) < len(names):
        raise told(f'"{word}": a face is named twice in "{part}"', remedy="name every face once")
    return names


def _range(word: str, part: str, read: Callable[[str], Value]) -> Iterator[float | int]:
    """The values FROM, FROM + STEP ... up to TO, which is one of them where the steps meet it."""
    ends = [read(p.strip()) for p in part.split(":") if p.strip()]
    numbers = [e for e in ends if isinstance(e, float | int)]
    if len(numbers) != 3 or part.count(":") != 2:
        raise told(
            f'"{word}": "{part}" is not a range', "FROM:TO:STEP, for example 4:8:0.5", "write it like that"
        )
    low, high, step = numbers
    if step <= 0 or high < low:
        raise told(
            f'"{word}": "{part}" does not rise', "FROM at most TO, and a STEP above zero", "turn it round"
        )
    count = math.floor((high - low) / step + 1e-9) + 1
    for k in range(min(count, MOST_VALUES + 1)):
        value = low + k * step
        yield value if isinstance(value, int) else round(value, 9)


def _refuse_out_of_range(word: str, job: Job, setting: Setting) -> None:
    """A value that the key itself refuses is a mistake of the word, not a candidate to be left out."""
    place = [f.name for f in job.file.field].index(setting.field)
    try:
        _changed_field(job.file.field[place], (setting,))
    except ValidationError as problem:
        if any(e["loc"][:1] == (setting.key,) for e in problem.errors()):
            node, _ = node_at(JobFile, ("field", 0, setting.key), {})
            raise told(
                f'"{word}": {setting.text} is out of range for {setting.key}',
                allowed_words(node),
                "take it out",
            ) from None


# --- candidates -------------------------------------------------------------------------------------------


def all_changes(axes: Sequence[Axis], job: Job, most: int = MOST) -> tuple[Change, ...]:
    """Every combination of the axes' values, the last word's values changing first.

    Combinations that make the same fields (a slot's width on pockets that are no slots) are taken once. Raises
    SweepError where there are more than `most`.
    """
    count = math.prod(len(axis.values) for axis in axes)
    if count > most:
        longest = max(axes, key=lambda a: len(a.values))
        raise told(
            f"these words make {count} candidates",
            f"at most {most}",
            f"take fewer values; {longest.field}.{longest.key} has the most, {len(longest.values)}",
        )
    out: list[Change] = []
    seen: set[object] = set()
    for values in product(*(axis.values for axis in axes)):
        change = Change(tuple(Setting(a.field, a.key, v) for a, v in zip(axes, values, strict=True)))
        try:
            made: object = changed_job(job, change).file.field
        except LeftOut:
            made = change
        if made not in seen:
            seen.add(made)
            out.append(change)
    return tuple(out)


def changed_job(job: Job, change: Change) -> Job:
    """The job with the change made, by the job file's own models. Raises LeftOut where its keys do not go together."""
    fields = list(job.file.field)
    for place, field in enumerate(fields):
        settings = tuple(s for s in change.settings if s.field == field.name)
        try:
            fields[place] = _changed_field(field, settings) if settings else field
        except ValidationError as problem:
            first = problem.errors()[0]
            cause = first.get("ctx", {}).get("error")
            raise LeftOut(f"{field.name}: {cause if isinstance(cause, KeyFault) else first['msg']}") from None
    return job.model_copy(update={"file": job.file.model_copy(update={"field": tuple(fields)})})


def _changed_field(field: PocketField, settings: Sequence[Setting]) -> PocketField:
    """The field with new values; skin and depth take each other's place, and only slots have a width."""
    data = field.model_dump()
    for s in settings:
        data[s.key] = s.value
        if s.key in ("skin", "depth"):
            data["depth" if s.key == "skin" else "skin"] = None
    if data["pocket"] != "slot":
        data["width"] = None
    return PocketField.model_validate(data)
