"""Files that appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable
from pathlib import Path

Writer = Callable[[Path], None]


def write_whole(path: Path, write: Writer) -> None:
    """Have `write` write a file beside `path`, then move it there: whole, or nothing and the fault raised."""
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    try:
        write(Path(name))
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes, whole or not at all."""
    write_whole(path, lambda p: _bytes(p, data))


def _bytes(path: Path, data: bytes) -> None:
    path.write_bytes(data)


def write_text(path: Path, text: str) -> None:
    """Write a text file, UTF-8 with its line ends as they are, whole or not at all."""
    write_whole(path, lambda p: _text(p, text))


def _text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="")
