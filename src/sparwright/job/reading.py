"""Read a job file and the files it names; every error says file, line, field, value, allowed range and remedy."""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import resources
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any, TypeVar

from pydantic import ValidationError

from sparwright.answers import unread
from sparwright.job.basis import basis_of
from sparwright.job.expanding import expand
from sparwright.job.facts import allowed_words, node_at
from sparwright.job.faults import JobError, faults_of, nearest
from sparwright.job.models import (
    Bed,
    CutterFile,
    Job,
    JobFile,
    KeyFault,
    Material,
    MaterialFile,
    Served,
    ServedMachine,
    Table,
)
from sparwright.job.positions import Key, Positions, key_text, value_at
from sparwright.job.typical import typical_text

Model = TypeVar("Model", bound=Table)
_MATERIALS = "materials.toml"

__all__ = ["JobError", "job_error", "load_job", "parse_table", "shipped_material", "shipped_names"]


@dataclass(frozen=True)
class _Place:
    """Where in a file an error points: shown name, text, and the key."""

    file: str
    text: str
    key: Key

    def error(self, what: str, *, allowed: str = "", remedy: str = "") -> JobError:
        value = value_at(tomllib.loads(self.text), self.key)
        line = Positions(self.text).line(self.key)
        return JobError(
            self.file, line, key_text(self.key), what, value=value, allowed=allowed, remedy=remedy
        )


_TWICE = (
    ("Cannot overwrite a value", "this key stands twice in its table"),
    ("Cannot declare", "this table stands twice, or after it was written as a key"),
)
"""How the reader of TOML words what is there twice, and how we do."""


def _parse(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        found = re.search(r"\(at line (\d+), column (\d+)\)", str(problem))
        line = int(found.group(1)) if found else text.count("\n") + 1
        what = re.sub(r" \(at .*\)$", "", str(problem))
        lines = text.split("\n")
        written = lines[min(line, len(lines)) - 1].strip()
        twice = next((words for start, words in _TWICE if what.startswith(start)), "")
        remedy = "mend this line: key = value, text in quotes, lists in [ ]"
        if twice:
            remedy = "take one of the two out"
        what = f"{twice or f'not valid TOML, {what[0].lower()}{what[1:]}'}, in: {written[:60]}"
        raise JobError(file, line, "", what, value=written, remedy=remedy) from None
    except RecursionError:
        raise JobError(file, 1, "", "lists or tables nested too deeply", remedy="no key needs that") from None


@lru_cache(maxsize=32)
def _table(text: str, model: type[Model]) -> Model:
    """A text that was read before is not read again: tables are frozen, and of a job's files mostly one changes."""
    return model.model_validate(tomllib.loads(text))


def parse_table(text: str, model: type[Model], file: str) -> Model:
    """A TOML text as a model; `file` is its name in messages. JobError with everything wrong, first line first."""
    try:
        return _table(text, model)
    except (tomllib.TOMLDecodeError, RecursionError, ValidationError):
        data = _parse(text, file)
    try:
        return model.model_validate(data)
    except ValidationError as problem:
        raise faults_of(problem, model, data, text, file) from None


def _decode(data: bytes, file: str) -> str:
    """Text of a file, a leading byte-order mark dropped."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        what = f"this line holds a byte that is no UTF-8 text ({data[problem.start]:#04x})"
        raise JobError(file, line, "", what, remedy="save the file as UTF-8 text") from None


def _bytes_of(path: Path, blame: _Place | None) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        what, remedy = unread(path, problem), "check the name and the folder"
        raise (
            blame.error(what, remedy=remedy) if blame else JobError(str(path), 0, "", what, remedy=remedy)
        ) from None


def _shipped_folder() -> Path:
    return Path(str(resources.files("sparwright.job").joinpath("data")))


@lru_cache(maxsize=1)
def shipped_names() -> tuple[str, ...]:
    """Names of the files that ship and a job may name."""
    return tuple(sorted(p.name for p in _shipped_folder().glob("*.toml")))


def fitting_files(folder: Path, model: type[Table]) -> tuple[str, ...]:
    """Names of the files beside a job, and of those that ship, that read as such a file: what a job may name."""
    found = [*sorted(folder.glob("*.toml")), *(_shipped_folder() / name for name in shipped_names())]
    return tuple(dict.fromkeys(path.name for path in found if _fits(path, model)))


def _fits(path: Path, model: type[Table]) -> bool:
    try:
        _table(path.read_text(encoding="utf-8-sig"), model)
    except (
        OSError,
        ValueError,
        RecursionError,
    ):  # what is no TOML, and what does not validate, are ValueErrors
        return False
    return True


def _find_named(name: str, folder: Path, blame: _Place, model: type[Table] | None = None) -> Path:
    """A file a job names: beside the job file or in a folder beside it, else one that ships; never elsewhere."""
    pure = PurePosixPath(name.replace("\\", "/"))
    within = 'a plain name such as "bed.toml", of a file in the job\'s folder'
    if not name or pure.is_absolute() or PureWindowsPath(name).drive or ".." in pure.parts:
        raise blame.error(
            f'"{name}" lies outside the job\'s folder',
            allowed=within,
            remedy="copy the file beside the job file and give its plain name",
        )
    beside = folder / pure
    if beside.is_file():
        if not beside.resolve().is_relative_to(folder.resolve()):
            raise blame.error(
                f'"{name}" leads outside the job\'s folder',
                allowed=within,
                remedy="copy the file itself beside the job file",
            )
        return beside
    if name in shipped_names():
        return _shipped_folder() / name
    known = (
        sorted(p.name for p in folder.iterdir() if p.is_file())
        if model is None
        else fitting_files(folder, model)
    )
    hint = nearest(name, known)
    there = ", ".join(f'"{k}"' for k in known) if model is not None else ""
    raise blame.error(
        f'no file "{name}" beside the job file, and none of that name ships',
        allowed=there or "a file beside the job file",
        remedy=f'did you mean "{hint}"?' if hint else "put the file beside the job file",
    )


class FileReader:
    """Reads a job file, or another file that names files as a job does, and keeps all bytes for the digest."""

    def __init__(self, path: Path, instead: Mapping[Path, bytes] | None = None) -> None:
        """instead: bytes to take for those of the files on disk, by path."""
        self.folder = path.parent
        self.instead = instead or {}
        self.read: list[bytes] = []
        self.text = _decode(self._keep(path, None), str(path))
        self.file = str(path)

    def _keep(self, path: Path, blame: _Place | None) -> bytes:
        data = self.instead[path] if path in self.instead else _bytes_of(path, blame)
        self.read.append(data)
        return data

    def blame(self, *key: str | int) -> _Place:
        """A place in the job file."""
        return _Place(self.file, self.text, key)

    def named(self, key: Key, name: str, model: type[Model]) -> tuple[Model, _Place]:
        """A named file as a model, and its place for later errors."""
        found = _find_named(name, self.folder, self.blame(*key), model)
        text = _decode(self._keep(found, self.blame(*key)), str(found))
        return parse_table(text, model, str(found)), _Place(str(found), text, ())

    def bytes_named(self, key: Key, name: str) -> bytes:
        """The bytes of a file named at a key."""
        return self._keep(_find_named(name, self.folder, self.blame(*key)), self.blame(*key))

    def keep_drawing(self, name: str) -> None:
        """Counts a drawn section's file into the digest."""
        blame = self.blame("stock", "section", "file")
        self._keep(_find_named(name, self.folder, blame), blame)

    def shipped_materials(self) -> Sequence[Material]:
        """The materials that ship."""
        data = self._keep(_shipped_folder() / _MATERIALS, None)
        return parse_table(data.decode(), MaterialFile, _MATERIALS).material

    def digest(self) -> str:
        """SHA-256 over what was read, each file's bytes after their number as eight bytes, high first."""
        out = hashlib.sha256()
        for data in self.read:
            out.update(len(data).to_bytes(8, "big") + data)
        return out.hexdigest()


def shipped_material(name: str) -> Material:
    """The material of that name that ships; KeyError where there is none."""
    text = (_shipped_folder() / _MATERIALS).read_text(encoding="utf-8")
    return {m.name: m for m in parse_table(text, MaterialFile, _MATERIALS).material}[name]


def _find_material(file: JobFile, own: Sequence[Material], reader: FileReader) -> Material:
    wanted = file.stock.material
    for material in own:
        if material.name == wanted:
            return material
    known = [*own, *reader.shipped_materials()]
    for material in known:
        if material.name == wanted:
            return material
    names = list(dict.fromkeys(m.name for m in known))
    hint = nearest(wanted, names)
    raise reader.blame("stock", "material").error(
        f'no material "{wanted}"',
        allowed=", ".join(f'"{name}"' for name in names),
        remedy=f'did you mean "{hint}"?'
        if hint
        else "name one of them, or write a materials file of your own",
    )


def _expanded(file: JobFile, served: Served, place: _Place) -> ServedMachine:
    """The machine served in its parts, with the member as it is after sawing; its faults at their lines."""
    left = file.stock.length - sum(cut.remove for cut in file.end_cut)
    try:
        machine = expand(served, left)
    except KeyFault as fault:
        raise _Place(place.file, place.text, tuple(fault.keys)).error(str(fault)) from None
    positions = Positions(place.text)
    lines = {name: positions.line(key) for name, key in machine.keys.items()}
    return replace(machine, file=place.file, lines=lines)


def load_job(path: str | Path, instead: Mapping[Path, bytes] | None = None) -> Job:
    """Read a job file with all it names; instead: bytes to take for those of files on disk, by path.

    A named file is looked for beside the job file, then among those that ship; a material in the job's own
    materials file, then in the shipped one. The digest is the SHA-256 over the bytes of the job file (without its
    `job.units`, on which no program rests), bed, cutters, served and with it the shipped typical stiffnesses, own materials, drawn section and shipped
    materials, those of them that were read, in that order, each after its length. Raises JobError with everything wrong in the first file that has faults.
    """
    where = Path(path)
    if where.is_dir():
        remedy = "name the job file in it, for example job.toml"
        raise JobError(str(path), 0, "", "this is a folder", value=str(path), remedy=remedy)
    reader = FileReader(where, instead)
    file = parse_table(reader.text, JobFile, str(path))
    reader.read[0] = basis_of(reader.read[0])
    bed, _ = reader.named(("job", "bed"), file.job.bed, Bed)
    cutters, _ = reader.named(("job", "cutters"), file.job.cutters, CutterFile)
    served: ServedMachine | None = None
    if file.job.served is not None:
        served = _expanded(file, *reader.named(("job", "served"), file.job.served, Served))
        reader.read.append(typical_text())
    own: Sequence[Material] = ()
    if file.job.materials is not None:
        own = reader.named(("job", "materials"), file.job.materials, MaterialFile)[0].material
    section = file.stock.section
    if section.shape in ("drawn", "path") and section.file is not None:
        reader.keep_drawing(section.file)
    material = _find_material(file, own, reader)
    return Job(
        path=str(where),
        folder=str(where.parent),
        digest=reader.digest(),
        file=file,
        bed=bed,
        cutters=cutters.cutter,
        material=material,
        served=served,
    )


def job_error(job: Job, keys: Key, what: str, allowed: str = "", remedy: str = "") -> JobError:
    """An error of a loaded job that points at the line of `keys` in the job file, e.g. ("field", 0, "rib").

    Where `allowed` is not said and the key is a number, the models' own range is.
    """
    try:
        text = Path(job.path).read_bytes().decode("utf-8-sig")
        data: Any = tomllib.loads(text)
    except (OSError, ValueError):
        return JobError(job.path, 0, key_text(keys), what, allowed=allowed, remedy=remedy)
    node, _ = node_at(JobFile, keys, data)
    if not allowed and node.get("type") in ("number", "integer"):
        allowed = allowed_words(node)
    return JobError(
        job.path,
        Positions(text).line(keys),
        key_text(keys),
        what,
        value=value_at(data, keys),
        allowed=allowed,
        remedy=remedy,
    )
