"""Shared, built once a session and only when asked for: the bridge beam's job and member."""

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def examples() -> Path:
    """The folder of the examples."""
    return ROOT / "examples"


@pytest.fixture(scope="session")
def bridge_job(examples):
    """The bridge beam's job."""
    from sparwright.job.reading import load_job

    return load_job(examples / "bridge-beam" / "job.toml")


@pytest.fixture(scope="session")
def bridge_member(bridge_job):
    """The bridge beam as a member."""
    from sparwright.stock.member import build_member

    return build_member(bridge_job)
