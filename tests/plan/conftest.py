"""The two examples planned once a session for all who look at their plans, and the demo's packet."""

import sys
from pathlib import Path

import pytest

from sparwright.job.reading import load_job
from sparwright.packet.write import write_packet
from sparwright.plan.pipeline import make_plan

sys.path.insert(0, str(Path(__file__).parent))  # importlib mode adds no folder: the helper module stands here


@pytest.fixture(scope="session")
def plan(bridge_job):
    """The plan of the bridge beam; its tests run in one group (demo)."""
    return make_plan(bridge_job)


@pytest.fixture(scope="session")
def packet(plan, tmp_path_factory):
    """The folder of the bridge beam's packet, and its files."""
    out = tmp_path_factory.mktemp("packet") / "bridge-beam"
    return out, write_packet(plan, out)


@pytest.fixture(scope="session")
def rail_plan(examples):
    """The plan of the webbed rail; its tests run in one group (rail)."""
    return make_plan(load_job(examples / "webbed-rail" / "job.toml"))
