"""What can be varied on the page, each beside the answer it changes: place in the files, value, range, choices."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from sparwright.job.facts import node_at
from sparwright.job.features import PocketField
from sparwright.job.models import Bed, CutterFile, Job, JobFile, Table
from sparwright.job.positions import Key
from sparwright.job.reading import fitting_files
from sparwright.page.help import of_control
from sparwright.stock.model import Section

Kind = Literal["number", "choice", "many"]

# Key: what it is called, from, to and step of its slider. The models' own limits hold besides.
_OF_A_FIELD: dict[str, tuple[str, float, float, float]] = {
    "rib": ("rib", 1.0, 20.0, 0.1),
    "skin": ("skin", 0.0, 6.0, 0.05),
    "depth": ("depth", 0.2, 20.0, 0.1),
    "cell": ("pocket cell", 8.0, 120.0, 0.5),
    "width": ("slot width", 3.0, 60.0, 0.5),
}
HINTS = {"skin": "0 opens a window."}
"""What a key's least value does where that is another thing than little of it."""
_OF_THE_JOB: tuple[tuple[int, Key, str, float, float, float], ...] = (
    (2, ("placing", "margin"), "margin wanted", 0.0, 50.0, 0.5),
    (3, ("placing", "slot_depth"), "slot depth", 1.0, 12.0, 0.5),
    (3, ("placing", "pads"), "pads", 2, 12, 1),
    (3, ("placing", "clamp_force"), "clamp force", 100.0, 3000.0, 50.0),
    (4, ("cutting", "engagement"), "side engagement", 0.02, 0.5, 0.01),
    (4, ("cutting", "depth_per_pass"), "depth a pass", 0.05, 3.0, 0.05),
    (4, ("cutting", "thrust_limit"), "greatest force", 10.0, 200.0, 5.0),
)


@dataclass(frozen=True)
class Control:
    """One value that can be varied.

    id: its name on the page. band: the question it changes. group: what it belongs to, e.g. the field's name. file and
    path: where it stands. low, high, step: of a number's slider. said: whether the file says it or it is assumed. auto:
    whether leaving the key out means something. hint: what stands below it to be seen at once. with_it: for a choice, what else must change with each value, as
    {value: [[path, value], ...]}.
    """

    id: str
    band: int
    group: str
    file: str
    path: Key
    label: str
    help: str
    unit: str
    kind: Kind
    value: Any
    low: float | None = None
    high: float | None = None
    step: float | None = None
    choices: tuple[str, ...] = ()
    said: bool = True
    auto: bool = False
    with_it: dict[str, list[tuple[Key, Any]]] = field(default_factory=dict)
    hint: str = ""


def controls(job: Job, section: Section, files: Collection[str]) -> tuple[Control, ...]:
    """Everything that can be varied in a job; files: the parts of the job ("job", "cutters") that can be written."""
    found = [*_of_fields(job, section), *_of_job(job), *_of_files(job)]
    if "cutters" in files:
        found += _of_cutters(job)
    return tuple(found)


def as_dicts(found: tuple[Control, ...]) -> list[dict[str, Any]]:
    """The controls as the page's state holds them; "derived" is the paragraph that tells of each."""
    return [asdict(c) | {"derived": _derived(c)} for c in found]


def _derived(c: Control) -> str | None:
    """Where the documentation tells of a value."""
    found = of_control(c.path)
    return None if found is None else found.place


def _number(
    model: type[Table],
    data: Any,
    spot: tuple[int, str, str, Key],
    value: Any,
    span: tuple[str, float, float, float],
) -> Control:
    """spot: band, group, file, path. span: label, low, high, step of the slider; it always takes in the value."""
    band, group, file, path = spot
    label, low, high, step = span
    node, _ = node_at(model, path, data)
    if value is not None:
        low, high = min(low, value), max(high, value)
    unit = node.get("unit", "")
    return Control(
        id=f"{file}:{'.'.join(map(str, path))}",
        band=band,
        group=group,
        file=file,
        path=path,
        label=label,
        help=node.get("description", ""),
        unit="" if unit == "ratio" else unit,
        kind="number",
        value=value,
        low=low,
        high=high,
        step=step,
    )


def _of_fields(job: Job, section: Section) -> Iterator[Control]:
    data = {"field": [f.model_dump() for f in job.file.field]}
    for i, f in enumerate(job.file.field):
        for key, span in _OF_A_FIELD.items():
            value = getattr(f, key)
            if value is not None:
                control = _number(JobFile, data, (1, f.name, "job", ("field", i, key)), value, span)
                yield replace(control, hint=HINTS.get(key, ""))
        rows = _number(JobFile, data, (1, f.name, "job", ("field", i, "rows")), f.rows, ("rows", 1, 12, 1))
        yield replace(rows, auto=True)
        yield _pattern(data, i, f)
        node, _ = node_at(JobFile, ("field", i, "faces"), data)
        yield Control(
            id=f"job:field.{i}.faces",
            band=1,
            group=f.name,
            file="job",
            path=("field", i, "faces"),
            label="faces",
            help=node.get("description", ""),
            unit="",
            kind="many",
            value=list(f.faces),
            choices=tuple(face.name for face in section.faces),
        )


def _pattern(data: Any, i: int, f: PocketField) -> Control:
    """The outline of the pockets; a slot needs a width and no other shape may have one."""
    path = ("field", i, "pocket")
    node, _ = node_at(JobFile, path, data)
    choices = tuple(node.get("enum", ()))
    width: Key = ("field", i, "width")
    some = round(f.cell / 3, 1)
    with_it: dict[str, list[tuple[Key, Any]]] = {
        c: [(width, (f.width or some) if c == "slot" else None)] for c in choices if c != f.pocket
    }
    return Control(
        id=f"job:field.{i}.pocket",
        band=1,
        group=f.name,
        file="job",
        path=path,
        label="pattern",
        help=node.get("description", ""),
        unit="",
        kind="choice",
        value=f.pocket,
        choices=choices,
        with_it=with_it,
    )


def _of_job(job: Job) -> Iterator[Control]:
    for band, path, label, low, high, step in _OF_THE_JOB:
        table, key = getattr(job.file, str(path[0])), str(path[1])
        if key not in type(table).model_fields:
            continue
        value, said = getattr(table, key), key in table.model_fields_set
        control = _number(JobFile, {}, (band, str(path[0]), "job", path), value, (label, low, high, step))
        yield replace(control, said=said, auto=type(table).model_fields[key].default is None)


def _of_files(job: Job) -> Iterator[Control]:
    """The files a job names of which there is a choice beside it or among those that ship."""
    for band, key, label, model in ((2, "bed", "bed file", Bed), (4, "cutters", "cutters file", CutterFile)):
        named = getattr(job.file.job, key)
        choices = dict.fromkeys((named, *fitting_files(Path(job.folder), model)))
        if len(choices) > 1:
            node, _ = node_at(JobFile, ("job", key), {})
            yield Control(
                id=f"job:job.{key}",
                band=band,
                group=label,
                file="job",
                path=("job", key),
                label=label,
                help=node.get("description", ""),
                unit="",
                kind="choice",
                value=named,
                choices=tuple(choices),
            )


def _of_cutters(job: Job) -> Iterator[Control]:
    data = {"cutter": [c.model_dump() for c in job.cutters]}
    for i, c in enumerate(job.cutters):
        path: Key = ("cutter", i, "chip")
        span = ("chip load", 0.002, 0.1, 0.001)
        yield _number(CutterFile, data, (4, f"cutter {c.number}, {c.name}", "cutters", path), c.chip, span)
