"""The job as it stands on disk: read, watched, changed whole or not at all, and changed back."""

from __future__ import annotations

import hashlib
import os
import tempfile
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from threading import RLock
from typing import NamedTuple

from sparwright.answers import BadInput
from sparwright.job.basis import basis_of
from sparwright.job.positions import key_text
from sparwright.page.editing import Change, with_value

MOST_STEPS = 200
"""Steps back that are kept."""
NAMED = ("bed", "cutters", "served", "materials")
EDITABLE = ("job", "cutters")

Texts = dict[str, bytes]


class Stale(Exception):
    """A change made on a text that is no longer the one on disk."""


@dataclass(frozen=True)
class Step:
    """What some files held before a change, and in a few words which change it was."""

    files: dict[Path, bytes]
    words: str


class Digests(NamedTuple):
    """Of the texts of a job. text: of every byte, by which a change of them is noticed. basis: of what the answers rest on, which
    is all but `job.units`."""

    text: str
    basis: str


def digests_of(texts: Texts) -> Digests:
    """Both digests of the texts."""
    basis = {name: basis_of(data) if name == "job" else data for name, data in texts.items()}
    return Digests(digest_of(texts), digest_of(basis))


def digest_of(texts: Texts) -> str:
    """SHA-256 over the files by their part in the job, each after its name and length."""
    out = hashlib.sha256()
    for name in sorted(texts):
        data = texts[name]
        out.update(f"{name}\0{len(data)}\0".encode() + data)
    return out.hexdigest()


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all: beside it first, then in its place, its permissions kept."""
    target = path.resolve()
    handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            os.chmod(name, target.stat().st_mode & 0o7777)
        os.replace(name, target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


@dataclass
class JobText:
    """The job file and the files of its folder that it names.

    texts: bytes by part ("job", "bed", "cutters", "served", "materials", "section"); a file that ships is not among
    them. Every method may be called from any thread.
    """

    path: Path
    texts: Texts = field(default_factory=dict)
    back: list[Step] = field(default_factory=list)
    forth: list[Step] = field(default_factory=list)
    _files: dict[str, Path] = field(default_factory=dict)
    _seen: dict[str, tuple[int, int]] = field(default_factory=dict)
    _lock: RLock = field(default_factory=RLock)

    def __post_init__(self) -> None:
        self.texts = self._read()

    @property
    def digest(self) -> str:
        """Of all the text as last seen."""
        with self._lock:
            return digest_of(self.texts)

    @property
    def digests(self) -> Digests:
        """Of all the text as last seen, and of what the answers to it rest on."""
        with self._lock:
            return digests_of(self.texts)

    @property
    def files(self) -> dict[str, Path]:
        """Where each part of the job lies."""
        with self._lock:
            return dict(self._files)

    def steps(self) -> tuple[str | None, str | None]:
        """What undo and redo would take back, in words; None where there is nothing."""
        with self._lock:
            return (
                self.back[-1].words if self.back else None,
                self.forth[-1].words if self.forth else None,
            )

    def poll(self) -> bool:
        """Look at the disk; whether something there was changed by others since."""
        with self._lock:
            if self._stamps() == self._seen:
                return False
            before, files = self.texts, dict(self._files)
            self.texts = self._read()
            if self.texts == before:
                return False
            changed = {
                files[name]: before[name]
                for name in before
                if self._files.get(name) == files[name] and self.texts[name] != before[name]
            }
            self._remember(changed, "a change made outside")
            return True

    def tried(self, digest: str, changes: Sequence[Change]) -> Texts:
        """The texts with the changes made, nothing written. Raises Stale or CannotEdit."""
        with self._lock:
            self.poll()
            if digest != self.digest:
                raise Stale
            texts = dict(self.texts)
            for change in changes:
                if change.file not in EDITABLE or change.file not in texts:
                    raise BadInput(f"there is no file of the job called {change.file} beside it to change")
                try:
                    text = texts[change.file].decode("utf-8")
                    texts[change.file] = with_value(text, change.path, change.value).encode("utf-8")
                except (UnicodeDecodeError, tomllib.TOMLDecodeError):
                    raise BadInput(
                        "the file holds a mistake; mend it by hand before changing values here"
                    ) from None
            return texts

    def edit(self, digest: str, changes: Sequence[Change]) -> None:
        """Make changes in the files. Raises Stale or CannotEdit, and then nothing is written."""
        with self._lock:
            texts = self.tried(digest, changes)
            changed = [name for name in texts if texts[name] != self.texts[name]]
            if changed:
                words = ", ".join(key_text(c.path) for c in changes)
                self._remember({self._files[name]: self.texts[name] for name in changed}, words)
                self._write({self._files[name]: texts[name] for name in changed})

    def undo(self, digest: str) -> None:
        """One step back. Raises Stale."""
        self._step(digest, self.back, self.forth)

    def redo(self, digest: str) -> None:
        """One step forth. Raises Stale."""
        self._step(digest, self.forth, self.back)

    def _step(self, digest: str, source: list[Step], target: list[Step]) -> None:
        with self._lock:
            self.poll()
            if digest != self.digest:
                raise Stale
            if source:
                step = source.pop()
                target.append(Step({path: self._bytes(path) for path in step.files}, step.words))
                self._write(step.files)

    def _remember(self, before: dict[Path, bytes], words: str) -> None:
        if before:
            self.back.append(Step(before, words))
            del self.back[:-MOST_STEPS]
            self.forth.clear()

    def _write(self, files: dict[Path, bytes]) -> None:
        try:
            for path, data in files.items():
                write_whole(path, data)
        except OSError as problem:
            raise BadInput(
                f"{path} cannot be written: {problem.strerror}; check the disk and its permissions"
            ) from None
        finally:
            self.texts = self._read()

    def _stamps(self) -> dict[str, tuple[int, int]]:
        out = {}
        for name, path in self._files.items():
            try:
                stat = path.stat()
                out[name] = (stat.st_mtime_ns, stat.st_size)
            except OSError:
                out[name] = (0, 0)
        return out

    def _read(self) -> Texts:
        """All texts as they are on disk; a file that is not there is empty. Files outside the folder are not read."""
        job = self._bytes(self.path)
        names = self._named(job)
        if names is not None or not self._files:
            self._files = {"job": self.path} | (names or {})
        self._seen = self._stamps()
        return {name: job if name == "job" else self._bytes(path) for name, path in self._files.items()}

    def _named(self, job: bytes) -> dict[str, Path] | None:
        """Files beside the job that it names; None where the job cannot be read."""
        try:
            data = tomllib.loads(job.decode("utf-8-sig"))
        except (UnicodeDecodeError, tomllib.TOMLDecodeError):
            return None
        head, stock = data.get("job", {}), data.get("stock", {})
        section = stock.get("section", {}) if isinstance(stock, dict) else {}
        said = {name: head.get(name) for name in NAMED} if isinstance(head, dict) else {}
        said["section"] = section.get("file") if isinstance(section, dict) else None
        folder = self.path.parent
        out = {}
        for name, value in said.items():
            if isinstance(value, str) and value:
                path = folder / value
                if path.resolve().is_relative_to(folder.resolve()) and path.is_file():
                    out[name] = path
        return out

    @staticmethod
    def _bytes(path: Path) -> bytes:
        try:
            return path.read_bytes()
        except OSError:
            return b""
