"""Jobs the placing tests share: the demo, and small ones written out in full."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from sparwright.job.models import Job
from sparwright.job.reading import load_job
from sparwright.stock.member import build_member
from sparwright.stock.model import Member

DEMO = Path(__file__).parents[2] / "examples" / "bridge-beam"


@pytest.fixture(scope="session")
def demo() -> tuple[Member, Job]:
    """The bridge beam and its job."""
    job = load_job(DEMO / "job.toml")
    return build_member(job), job


BAR = """
[job]
title = "A bar"
bed = "bench-router.toml"
cutters = "cutters.toml"

[stock]
material = "EN AW-6063-T6"
length = {length}

[stock.section]
{section}

{features}

[placing]
{placing}
"""

FLAT = """shape = "flat bar"
width = 60
thickness = 12"""


@pytest.fixture
def small_job(tmp_path: Path) -> Callable[..., tuple[Member, Job]]:
    """Makes a member and its job from the text of its feature tables; see _written for what may be said."""

    def make(features: str, **said: object) -> tuple[Member, Job]:
        return _written(tmp_path, features, **said)  # type: ignore[arg-type]

    return make


def _written(
    folder: Path, features: str, *, length: float = 500, section: str = FLAT, placing: str = "", bed: str = ""
) -> tuple[Member, Job]:
    """A member and its job from the text of its feature tables; bed: lines that replace those of the demo's bed."""
    for name in ("bench-router.toml", "cutters.toml"):
        shutil.copy(DEMO / name, folder / name)
    if bed:
        path = folder / "bench-router.toml"
        new = {line.split("=")[0].strip(): line for line in bed.splitlines() if "=" in line}
        lines = path.read_text().splitlines()
        path.write_text("\n".join(new.get(line.split("=")[0].strip(), line) for line in lines) + "\n")
    (folder / "job.toml").write_text(
        BAR.format(length=length, section=section, features=features, placing=placing)
    )
    job = load_job(folder / "job.toml")
    return build_member(job), job
