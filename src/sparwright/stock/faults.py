"""Refusals that several parts of the stock room share, each told with its line of the job file."""

from __future__ import annotations

from sparwright.job.models import Job
from sparwright.job.reading import job_error
from sparwright.stock.model import Face, Section


def face_of(job: Job, section: Section, name: str, keys: tuple[str | int, ...]) -> Face:
    """The face a job names at `keys`; raises JobError listing the section's faces where there is none."""
    for face in section.faces:
        if face.name == name:
            return face
    names = ", ".join(f.name for f in section.faces)
    raise job_error(
        job,
        keys,
        f'{section.drawing} has no face "{name}"',
        allowed=names or "none: this section has no outer flat a cutter can come down on",
        remedy="name one of these" if names else "take a section with a flat",
    )


def unique_names(job: Job) -> None:
    """Raises JobError where two features would share a name."""
    seen: dict[str, str] = {}
    file = job.file
    named = {
        "field": [t.name for t in file.field],
        "pocket": [t.name for t in file.pocket],
        "hole": [t.name for t in file.hole],
        "notch": [t.name for t in file.notch],
    }
    for kind, names in named.items():
        for i, name in enumerate(names):
            if name in seen:
                raise job_error(
                    job,
                    (kind, i, "name"),
                    f'"{name}" already names a {seen[name]}',
                    remedy="give every field, pocket, hole group and notch a name of its own",
                )
            seen[name] = kind
