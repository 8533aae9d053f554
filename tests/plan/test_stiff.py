"""Question 1 whole: member, machine served, racking and local questions in one answer, by the fast model."""

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from sparwright.answers import Verdict
from sparwright.loop.supports import member_supports
from sparwright.packet.machine_picture import machine_picture
from sparwright.packet.stiffness_sheet import stiffness_sheet
from sparwright.plan.stiff import stiff_enough
from sparwright.stiffness.report import member_stiffness
from sparwright.stock.solids import blank_mass_kg, mass_out_kg


@pytest.fixture(scope="module")
def wall(bridge_member):
    return member_stiffness(bridge_member, "wall")


@pytest.fixture(scope="module")
def masses(bridge_member):
    return blank_mass_kg(bridge_member), mass_out_kg(bridge_member)


@pytest.fixture(scope="module")
def stiff(bridge_job, bridge_member, wall, masses):
    return stiff_enough(bridge_job, bridge_member, wall, masses, 10.0)


def test_every_part_of_the_question_is_answered(stiff):
    names = " | ".join(f.name for f in stiff.answer.findings)
    for part in (
        "mass out", "twist kept", "bending kept", "tip deflection", "first frequency", "travel along X",
        "racking of the section", "peak stress", "skin buckling", "floor left too full", "thread, head-rail",
        "clamp on the hollow wall",
    ):  # fmt: skip
        assert part in names


def test_wishes_are_judged_with_their_margins(stiff, bridge_job):
    found = {f.name: f for f in stiff.answer.findings}
    tip, twist = found["tip deflection"], found["twist kept"]
    assert tip.limit == bridge_job.file.wishes.tip_deflection
    assert tip.margin == pytest.approx(tip.limit - tip.value)
    assert twist.margin == pytest.approx(twist.value - 100 * bridge_job.file.wishes.twist_kept)


def test_a_wish_out_of_reach_is_a_no_go_that_says_what_to_change(bridge_job, bridge_member, wall, masses):
    wishes = bridge_job.file.wishes.model_copy(update={"twist_kept": 0.9})
    job = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"wishes": wishes})})
    found = stiff_enough(job, bridge_member, wall, masses, 10.0)
    assert found.answer.verdict is Verdict.NO_GO
    worst = next(f for f in found.answer.findings if f.verdict is Verdict.NO_GO)
    assert worst.name == "twist kept"
    assert "leave a thicker skin, wider ribs or fewer pockets" in worst.why


def test_too_little_mass_out_asks_for_more_to_be_cut(bridge_job, bridge_member, wall, masses):
    wishes = bridge_job.file.wishes.model_copy(update={"mass_out": 1.5 * masses[1]})
    job = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"wishes": wishes})})
    out = next(
        f
        for f in stiff_enough(job, bridge_member, wall, masses, 10.0).answer.findings
        if f.name == "mass out"
    )
    assert out.verdict is Verdict.NO_GO
    assert "thinner skin or narrower ribs" in out.why


def test_without_a_machine_the_member_is_answered_alone(bridge_job, bridge_member, wall, masses):
    found = stiff_enough(bridge_job.model_copy(update={"served": None}), bridge_member, wall, masses, None)
    assert found.served is None
    assert not [f for f in found.answer.findings if f.name in ("tip deflection", "peak stress, isogrid")]
    assert found.as_dict()["machine"] is None


def test_the_same_member_before_and_after_changes_nothing(bridge_job, bridge_member, wall, masses):
    plain = replace(wall, parts=(replace(wall.parts[0], start=0.0, end=bridge_member.length),))
    bare = replace(bridge_member, bays=(), pockets=(), holes=(), notches=())
    served = stiff_enough(bridge_job, bare, plain, masses, None).served
    for row in served.side_by_side():
        assert row.after == pytest.approx(row.before, rel=1e-4)


def test_supports_are_where_the_uprights_stand(bridge_job):
    assert member_supports(bridge_job.served) == pytest.approx((28, 1152))


def test_json_is_whole(stiff):
    told = json.loads(json.dumps(stiff.as_dict(), allow_nan=False))
    assert told["answer"]["question"] == 1
    assert told["machine"]["after"]["weakest"] == stiff.served.after.weakest
    assert sum(p["to_mm"] - p["from_mm"] for p in told["parts"]) == pytest.approx(1180)


def test_the_weakest_link_is_the_black_one(stiff):
    svg = machine_picture(stiff.served)
    texts = [t.text for t in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]
    share = stiff.served.after.shares[stiff.served.after.direction][stiff.served.after.weakest]
    assert f"{stiff.served.after.weakest} {100 * share:.0f} %" in texts
    black = [c for c in ET.fromstring(svg) if c.tag.endswith("circle") and c.get("fill") == "#000"]
    assert len(black) == 1


def test_everything_of_the_picture_is_on_the_paper(stiff):
    root = ET.fromstring(machine_picture(stiff.served))
    width, height = (float(root.get(k)[:-2]) for k in ("width", "height"))
    for path in root.iter("{http://www.w3.org/2000/svg}path"):
        for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d")):
            assert 0 <= float(x) <= width
            assert 0 <= float(y) <= height


def test_the_sheet_shows_what_was_found(stiff, bridge_member):
    data, pictures = stiffness_sheet(stiff, bridge_member.section, {"GJ": 0.45})
    assert set(pictures) == {data["section"], data["bars"], data["machine"]["picture"]}
    assert data["parts"][0][0].startswith("0 to")
    assert data["parts"][-1][0].endswith("1180")
    for column, direction in enumerate(data["machine"]["directions"], 1):
        total = sum(float(row[column].rstrip(" %")) for row in data["machine"]["shares"])
        assert total == pytest.approx(100, abs=0.6), direction
    for ledger in data["machine"]["ledgers"]:
        rows = dict(ledger["rows"])
        rail = float(rows.pop("rail").removesuffix(" mm"))
        assert sum(float(size.removesuffix(" mm")) for size in rows.values()) == pytest.approx(rail)
