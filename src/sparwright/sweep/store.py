"""Finished candidates kept in a file, one JSON object a line, so that a killed sweep goes on where it was.

The first line says which job and which version the file belongs to; the rest are candidates in the order they were
finished. A last line that was torn when the sweep was killed is taken off.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from types import TracebackType
from typing import Any

from sparwright import __version__
from sparwright.sweep.faults import SweepError, told
from sparwright.sweep.model import Candidate, candidate_of, record_of

NAME = "sweep.jsonl"


def _line(record: dict[str, Any]) -> bytes:
    return json.dumps(record, ensure_ascii=False, allow_nan=False).encode() + b"\n"


class Store:
    """A file of finished candidates, open to be added to; use it as a context."""

    def __init__(self, path: Path, digest: str) -> None:
        """Opens or begins the file. Raises SweepError where it is another job's, another version's or unreadable."""
        self.path = path
        self._head = {"sweep of job": digest, "version": __version__}
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            whole = path.read_bytes() if path.exists() else b""
            text = whole[: whole.rfind(b"\n") + 1]
            if not text and not _line(self._head).startswith(whole):
                raise self._foreign(None)  # not even the torn first line of ours: leave it alone
            self.finished = {c.key: c for c in self._read(text.splitlines())}
            if len(text) < len(whole):
                with path.open("r+b") as torn:
                    torn.truncate(len(text))
            self._file = path.open("ab")
            if not text:
                self._write(self._head)
        except OSError as problem:
            raise told(
                f"{path} cannot be used: {problem.strerror}", remedy="name another folder with --out"
            ) from None

    def _read(self, lines: Iterable[bytes]) -> list[Candidate]:
        found: list[Candidate] = []
        for number, line in enumerate(lines, 1):
            try:
                record = json.loads(line)
                if number > 1:
                    found.append(candidate_of(record))
                elif record != self._head:
                    raise self._foreign(record)
            except SweepError:
                raise
            except (ValueError, KeyError, TypeError):
                raise told(
                    f"{self.path}, line {number}: this is no candidate of a sweep",
                    remedy="take the line out, or remove the file to begin anew",
                ) from None
        return found

    def _foreign(self, record: Any) -> SweepError:
        ours = isinstance(record, dict) and record.get("sweep of job")
        if ours and ours == self._head["sweep of job"]:
            what = (
                f"was made by version {record.get('version')}, and this is {__version__}: figures may differ"
            )
        elif ours:
            what = f"holds candidates of another job, or of this job before it was changed (digest {str(ours)[:12]})"
        else:
            what = "is not a file of a sweep"
        return told(
            f"{self.path} {what}", remedy="name another folder with --out, or remove the file to begin anew"
        )

    def add(self, candidate: Candidate) -> None:
        """Keep a finished candidate; faults of ours are not kept."""
        if not candidate.fault:
            self._write(record_of(candidate))

    def _write(self, record: dict[str, Any]) -> None:
        self._file.write(_line(record))
        self._file.flush()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, problem: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()
