"""The second example, end to end: a drawn section, pockets with a skin above, open slots below."""

from sparwright.answers import Verdict
from sparwright.job.reading import load_job
from sparwright.packet.write import write_packet
from sparwright.plan.pipeline import make_plan


def test_the_webbed_rail_is_planned_proved_and_printed(examples, tmp_path):
    plan = make_plan(load_job(examples / "webbed-rail" / "job.toml"))
    bad = [
        (a.question, f.name, f.why) for a in plan.answers for f in a.findings if f.verdict is Verdict.NO_GO
    ]
    assert bad == []
    skinned = {p.id for p in plan.member.pockets if not p.window}
    assert {s.feature for proof in plan.proofs for s in proof.skins} >= skinned
    assert any(p.window for p in plan.member.pockets)
    assert "packet.pdf" in write_packet(plan, tmp_path / "rail")
