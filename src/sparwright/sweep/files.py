"""A job on its way to workers elsewhere: with the drawing of its section, which they may not have beside them."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path, PurePosixPath

from sparwright.job.models import Job


@dataclass(frozen=True)
class Parcel:
    """A job and the files it still reads from its folder when a member is built: (name, bytes).

    Parcels of jobs with the same digest are equal.
    """

    digest: str
    files: tuple[tuple[str, bytes], ...]
    job: Job = field(compare=False)


def pack(job: Job) -> Parcel:
    """The job with its drawing, if it has one. Raises OSError where that is gone since the job was read."""
    name = getattr(job.file.stock.section, "file", None)
    if name is None:
        return Parcel(job.digest, (), job)
    return Parcel(job.digest, ((name, (Path(job.folder) / name).read_bytes()),), job)


@lru_cache(maxsize=4)
def unpacked(parcel: Parcel) -> Job:
    """The job with a folder that holds its files: its own where they are there unchanged, else one made for them."""
    own = Path(parcel.job.folder)
    if all(_same(own / name, data) for name, data in parcel.files):
        return parcel.job
    folder = Path(tempfile.mkdtemp(prefix="sweep-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    for name, data in parcel.files:
        place = folder / PurePosixPath(name.replace("\\", "/"))
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(data)
    return parcel.job.model_copy(update={"folder": str(folder)})


def _same(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:
        return False
