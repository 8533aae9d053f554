"""The demo planned once for all who look at its plan, and its packet. They run in one group (demo)."""

import pytest

from sparwright.packet.write import write_packet
from sparwright.plan.pipeline import make_plan


@pytest.fixture(scope="session")
def plan(bridge_job):
    """The plan of the bridge beam."""
    return make_plan(bridge_job)


@pytest.fixture(scope="session")
def packet(plan, tmp_path_factory):
    """The folder of the bridge beam's packet, and its files."""
    out = tmp_path_factory.mktemp("packet") / "bridge-beam"
    return out, write_packet(plan, out)
