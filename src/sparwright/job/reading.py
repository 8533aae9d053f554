"""Read a job file and the files it names; every error says file, line, field, value, allowed range and remedy."""

from __future__ import annotations

import difflib
import hashlib
import re
import tomllib
from collections.abc import Iterator
from importlib import resources
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo

from sparwright.answers import BadInput
from sparwright.job.models import Bed, CutterFile, Job, JobFile, Material, MaterialFile, Served, Table
from sparwright.job.positions import Key, Positions, value_at

Model = TypeVar("Model", bound=Table)
SHIPPED = "data"


class JobError(BadInput):
    """Something in a job file, or a file it names, cannot be used.

    file, line (from 1; 0 where no line is to blame), key (dotted field), value (as written), allowed, remedy.
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
    ) -> None:
        self.file, self.line, self.key, self.what = file, line, key, what
        self.value, self.allowed, self.remedy = value, allowed, remedy
        super().__init__(self._message())

    def _message(self) -> str:
        place = f"{self.file}, line {self.line}" if self.line else self.file
        parts = [f"{place}: {self.key + ': ' if self.key else ''}{self.what}"]
        if self.allowed:
            parts.append(f"Allowed: {self.allowed}.")
        if self.remedy:
            parts.append(f"{self.remedy[0].upper()}{self.remedy[1:]}")
        return " ".join(p if p.endswith((".", "?")) else p + "." for p in parts)


def key_text(key: Key) -> str:
    """A path as a reader writes it: field[1].rib, counting array elements from 1."""
    text = ""
    for part in key:
        text += f"[{part + 1}]" if isinstance(part, int) else (f".{part}" if text else part)
    return text


def _nearest(word: str, known: list[str]) -> str:
    close = difflib.get_close_matches(word.lower(), [k.lower() for k in known], n=1, cutoff=0.5)
    return next((k for k in known if close and k.lower() == close[0]), "")


def _parse(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(problem))
        line = int(found.group(1)) if found else text.count("\n") + 1
        what = re.sub(r" \(at .*\)$", "", str(problem))
        what = what[0].lower() + what[1:]
        raise JobError(
            file,
            line,
            "",
            f"not valid TOML: {what}",
            remedy="mend this line; text goes in quotes, lists in [ ]",
        ) from None


_LIMITS = {
    "greater_than": ("gt", "above {}"),
    "greater_than_equal": ("ge", "{} or more"),
    "less_than": ("lt", "below {}"),
    "less_than_equal": ("le", "{} or less"),
}


def _models_along(model: type[Table], key: Key) -> Iterator[type[Table]]:
    """The table models met on the way down a path."""
    current: list[type[Table]] = [model]
    yield model
    for part in key:
        if isinstance(part, str):
            fields = [m.model_fields[part] for m in current if part in m.model_fields]
            current = [t for info in fields for t in _tables_in(info.annotation)]
            yield from current


def _tables_in(annotation: Any) -> list[type[Table]]:
    if isinstance(annotation, type) and issubclass(annotation, Table):
        return [annotation]
    return [t for part in getattr(annotation, "__args__", ()) if part is not ... for t in _tables_in(part)]


def unit_of(info: FieldInfo) -> str | None:
    """The unit a bare number in this field has; None for fields that are no quantities."""
    extras = [info.json_schema_extra]
    for part in (info.annotation, *getattr(info.annotation, "__args__", ())):
        extras += [getattr(m, "json_schema_extra", None) for m in getattr(part, "__metadata__", ())]
    return next((str(e["unit"]) for e in extras if isinstance(e, dict) and "unit" in e), None)


def _range_of(model: type[Table], key: Key) -> str:
    """The allowed range of a field in words, from its own constraints and unit."""
    names = [k for k in key if isinstance(k, str)]
    if not names:
        return ""
    for m in reversed(list(_models_along(model, key[:-1]))):
        info = m.model_fields.get(names[-1])
        if info is None:
            continue
        words = [
            form.format(f"{value:g}")
            for _, (attr, form) in _LIMITS.items()
            for c in info.metadata
            if (value := getattr(c, attr, None)) is not None
        ]
        unit = unit_of(info)
        text = " and ".join(words)
        return f"{text} {unit}".strip() if text and unit and unit != "ratio" else text
    return ""


def _clean(loc: tuple[int | str, ...], data: Any) -> Key:
    """A validation location without the tags that unions put in: only parts that are in the data, or the last."""
    out: list[int | str] = []
    here = data
    for i, part in enumerate(loc):
        present = (isinstance(here, dict) and part in here) or (
            isinstance(here, list) and isinstance(part, int) and part < len(here)
        )
        if present:
            here = here[part]
            out.append(part)
        elif i == len(loc) - 1 and not (isinstance(here, dict) and here.get("shape") == part):
            out.append(part)
    return tuple(out)


def _explain(error: Any, model: type[Table], data: Any, positions: Positions, file: str) -> JobError:
    kind, context = error["type"], error.get("ctx", {})
    key = _clean(error["loc"], data)
    value = value_at(data, key)
    line, name = positions.line(key), key_text(key)
    shown = (
        f'"{value}"'
        if isinstance(value, str)
        else (str(value).lower() if isinstance(value, bool) else f"{value}")
    )
    if kind == "extra_forbidden":
        known = sorted({n for m in list(_models_along(model, key[:-1]))[-1:] for n in m.model_fields})
        hint = _nearest(str(key[-1]), known)
        remedy = f'did you mean "{hint}"?' if hint else f"known keys here: {', '.join(known)}"
        return JobError(file, line, name, "unknown key", value=value, remedy=remedy)
    if kind == "missing":
        allowed = _range_of(model, key)
        return JobError(
            file,
            line,
            name,
            "this key is missing",
            allowed=allowed,
            remedy=f"add it under [{key_text(key[:-1]) or 'the top'}]" if len(key) > 1 else f"add [{name}]",
        )
    if kind in _LIMITS:
        return JobError(
            file,
            line,
            name,
            f"{shown} is out of range",
            value=value,
            allowed=_range_of(model, key),
            remedy="change it to a value in that range",
        )
    if kind in ("literal_error", "union_tag_invalid"):
        expected = str(context.get("expected") or context.get("expected_tags"))
        known = re.findall(r"'([^']*)'", expected)
        if kind == "union_tag_invalid":
            key, value = (*key, "shape"), value_at(data, (*key, "shape"))
            line, name, shown = positions.line(key), key_text(key), f'"{value}"'
        hint = _nearest(str(value), known) if isinstance(value, str) else ""
        return JobError(
            file,
            line,
            name,
            f"{shown} is not one of its choices",
            value=value,
            allowed=", ".join(known),
            remedy=f'did you mean "{hint}"?' if hint else "pick one of them",
        )
    if kind == "union_tag_not_found":
        return JobError(
            file, line, f"{name}.shape", "this key is missing", remedy="say which shape the section has"
        )
    if kind == "value_error":
        what = str(context.get("error", error["msg"]))
        return JobError(file, line, name, what, value=value, allowed=_range_of(model, key))
    what = error["msg"][0].lower() + error["msg"][1:]
    return JobError(
        file,
        line,
        name,
        f"{shown}: {what}",
        value=value,
        allowed=_range_of(model, key),
        remedy="see the reference page for what goes here",
    )


def parse_table(text: str, model: type[Model], file: str) -> Model:
    """A TOML text as a model; JobError for the first thing wrong, saying how many more there are."""
    data = _parse(text, file)
    try:
        return model.model_validate(data)
    except ValidationError as problem:
        positions = Positions(text)
        found = sorted(
            (_explain(e, model, data, positions, file) for e in problem.errors()),
            key=lambda e: (e.what != "unknown key", e.line),
        )
        first = found[0]
        if len(found) > 1:
            others = ", ".join(sorted({str(e.line) for e in found[1:]}, key=int))
            first.args = (f"{first.args[0]} ({len(found) - 1} more on line {others})",)
        raise first from None


def _read_text(path: Path, shown: str, blame: tuple[str, int, str] | None = None) -> str:
    file, line, key = blame or (shown, 0, "")
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise JobError(
            file, line, key, f"no file {shown}", value=shown, remedy="check the name and the folder"
        ) from None
    except UnicodeDecodeError:
        raise JobError(
            file, line, key, f"{shown} is not UTF-8 text", value=shown, remedy="save it as plain UTF-8 text"
        ) from None
    except OSError as problem:
        raise JobError(file, line, key, f"{shown} cannot be read: {problem.strerror}", value=shown) from None


def shipped_names() -> tuple[str, ...]:
    """Names of the files that ship and a job may name."""
    folder = resources.files("sparwright.job").joinpath(SHIPPED)
    return tuple(sorted(p.name for p in folder.iterdir() if p.name.endswith(".toml")))


def find_named(name: str, folder: Path, blame: tuple[str, int, str]) -> Path:
    """A file a job names: beside the job file, else one that ships. Never outside the job's folder.

    blame: (file, line, key) an error points at. Raises JobError.
    """
    file, line, key = blame
    pure = PurePosixPath(name.replace("\\", "/"))
    if not name or pure.is_absolute() or PureWindowsPath(name).drive or ".." in pure.parts:
        raise JobError(
            file,
            line,
            key,
            f'"{name}" lies outside the job\'s folder',
            value=name,
            remedy="copy the file beside the job file and give its plain name",
        )
    beside = folder / pure
    if beside.is_file():
        if not beside.resolve().is_relative_to(folder.resolve()):
            raise JobError(
                file,
                line,
                key,
                f'"{name}" leads outside the job\'s folder',
                value=name,
                remedy="copy the file itself beside the job file",
            )
        return beside
    shipped = Path(str(resources.files("sparwright.job").joinpath(SHIPPED, name)))
    if name in shipped_names():
        return shipped
    known = [*sorted(p.name for p in folder.glob("*.toml")), *shipped_names()]
    hint = _nearest(name, known)
    raise JobError(
        file,
        line,
        key,
        f'no file "{name}" beside the job file, and none ships',
        value=name,
        remedy=f'did you mean "{hint}"?' if hint else f"these ship: {', '.join(shipped_names())}",
    )


def _material(
    name: str, own: tuple[Material, ...], shipped: tuple[Material, ...], blame: tuple[str, int, str]
) -> Material:
    every = (*own, *shipped)
    for m in every:
        if m.name == name:
            return m
    names = [m.name for m in every]
    hint = _nearest(name, names)
    raise JobError(
        *blame,
        f'no material "{name}"',
        value=name,
        allowed=", ".join(dict.fromkeys(names)),
        remedy=f'did you mean "{hint}"?' if hint else "name one of them, or write your own materials file",
    )


def load_job(path: str | Path) -> Job:
    """Read a job file with all it names.

    The digest is the SHA-256 over the bytes of the job file, bed, cutters, served, materials and drawn section, in
    that order, each preceded by its length. Raises JobError for the first thing wrong.
    """
    where = Path(path)
    if where.is_dir():
        raise JobError(
            str(path), 0, "", "this is a folder", remedy="name the job file in it, for example job.toml"
        )
    text = _read_text(where, str(path))
    file = parse_table(text, JobFile, str(path))
    positions, folder = Positions(text), where.parent

    def named(keys: Key, name: str) -> tuple[Path, str]:
        found = find_named(name, folder, (str(path), positions.line(keys), key_text(keys)))
        return found, _read_text(found, str(found), (str(path), positions.line(keys), key_text(keys)))

    texts = [text]

    def read(keys: Key, name: str, model: type[Model]) -> Model:
        found, inner = named(keys, name)
        texts.append(inner)
        return parse_table(inner, model, str(found))

    bed = read(("job", "bed"), file.job.bed, Bed)
    cutters = read(("job", "cutters"), file.job.cutters, CutterFile)
    served = read(("job", "served"), file.job.served, Served) if file.job.served is not None else None
    own = (
        read(("job", "materials"), file.job.materials, MaterialFile).material
        if file.job.materials is not None
        else ()
    )
    shipped_text = (
        resources.files("sparwright.job").joinpath(SHIPPED, "materials.toml").read_text(encoding="utf-8")
    )
    shipped = parse_table(shipped_text, MaterialFile, "materials.toml").material
    texts.append(shipped_text)
    if file.stock.section.shape == "drawn":
        texts.append(named(("stock", "section", "file"), file.stock.section.file)[1])
    blame = (str(path), positions.line(("stock", "material")), "stock.material")
    digest = hashlib.sha256()
    for t in texts:
        data = t.encode("utf-8")
        digest.update(len(data).to_bytes(8, "big") + data)
    return Job(
        path=str(where),
        folder=str(folder),
        digest=digest.hexdigest(),
        file=file,
        bed=bed,
        cutters=cutters.cutter,
        material=_material(file.stock.material, own, shipped, blame),
        served=served,
    )


def job_error(job: Job, keys: Key, what: str, allowed: str = "", remedy: str = "") -> JobError:
    """An error of a loaded job that points at the line of `keys`, for example ("field", 0, "rib")."""
    try:
        text = Path(job.path).read_text(encoding="utf-8")
        data: Any = tomllib.loads(text)
    except (OSError, ValueError):
        return JobError(job.path, 0, key_text(keys), what, allowed=allowed, remedy=remedy)
    return JobError(
        job.path,
        Positions(text).line(keys),
        key_text(keys),
        what,
        value=value_at(data, keys),
        allowed=allowed,
        remedy=remedy,
    )
