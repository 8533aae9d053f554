"""The second example, end to end: a drawn section, pockets with a skin above, open slots below."""

import pytest

from sparwright.answers import Verdict
from sparwright.packet.write import write_packet

pytestmark = pytest.mark.xdist_group("rail")


def test_the_webbed_rail_is_planned_proved_and_printed(rail_plan, tmp_path):
    plan = rail_plan
    bad = [
        (a.question, f.name, f.why) for a in plan.answers for f in a.findings if f.verdict is Verdict.NO_GO
    ]
    assert bad == []
    skinned = {p.id for p in plan.member.pockets if not p.window}
    assert {s.feature for proof in plan.proofs for s in proof.skins} >= skinned
    assert any(p.window for p in plan.member.pockets)
    assert "packet.pdf" in write_packet(plan, tmp_path / "rail")
