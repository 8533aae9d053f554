"""Jobs written for one test: a head and cutters around whatever the test states."""

from pathlib import Path

import pytest

HEAD = """
[job]
title = "test"
bed = "bench-router.toml"
cutters = "cutters.toml"

[stock]
material = "EN AW-6063-T6"
length = {length}

[stock.section]
{section}

"""
TUBE = 'shape = "rectangular tube"\nwidth = 50\nheight = 100\nwall = 4\nouter_radius = 4\n'
BAR = 'shape = "flat bar"\nwidth = 100\nthickness = 12\n'


@pytest.fixture
def job_of(tmp_path, examples):
    """A function from TOML text (features) to a job; section and length can be stated."""
    from sparwright.job.reading import load_job

    for name in ("bench-router.toml", "cutters.toml"):
        text = (examples / "bridge-beam" / name).read_text(encoding="utf-8")
        (tmp_path / name).write_text(text, encoding="utf-8")

    def make(features: str = "", section: str = TUBE, length: float = 600, stock: str = ""):
        head = HEAD.format(section=section, length=f"{length}\n{stock}")
        path = Path(tmp_path) / "job.toml"
        path.write_text(head + features, encoding="utf-8")
        return load_job(path)

    return make


@pytest.fixture
def member_of(job_of):
    """A function from TOML text (features) to a member."""
    from sparwright.stock.member import build_member

    def make(*args, **kwargs):
        return build_member(job_of(*args, **kwargs))

    return make
