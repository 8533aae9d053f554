"""The demo's own programs: proved good, and found bad for each of the planted faults, with the line named.

Here cutting and the program writer make the programs; the faults are planted in their text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

import pytest
from shapely.geometry import box

from sparwright.answers import Verdict
from sparwright.cutting.plan import plan_side
from sparwright.cutting.slots import plan_pads
from sparwright.job.models import Job
from sparwright.job.reading import load_job
from sparwright.placing.model import Clamp, Placement, Setup
from sparwright.placing.place import place
from sparwright.program.reader import read_program
from sparwright.program.writer import write_programs
from sparwright.proof.motion import collect, to_face
from sparwright.proof.prove import prove_pads, prove_side
from sparwright.stock.member import build_member
from sparwright.stock.model import Member

EXAMPLE = Path(__file__).parents[2] / "examples" / "bridge-beam" / "job.toml"


@dataclass(frozen=True)
class Demo:
    """The front side of the bridge beam: few enough programs to plant faults in, with holes and a notch."""

    job: Job
    member: Member
    placement: Placement
    setup: Setup
    programs: tuple[tuple[str, str], ...]

    def name_of(self, tool: int) -> str:
        """The program that runs a cutter."""
        return next(n for n, text in self.programs if re.search(rf"^T{tool}\b", text, re.MULTILINE))

    def lines(self, tool: int) -> list[str]:
        return dict(self.programs)[self.name_of(tool)].splitlines()

    def with_lines(self, tool: int, lines: list[str]) -> Demo:
        name = self.name_of(tool)
        text = "\n".join(lines) + "\n"
        return replace(self, programs=tuple((n, text if n == name else t) for n, t in self.programs))

    def prove(self):
        return prove_side(self.programs, self.member, self.setup, self.job)


@pytest.fixture(scope="module")
def demo() -> Demo:
    job = load_job(str(EXAMPLE))
    member = build_member(job)
    placement = place(member, job)
    setup = next(s for s in placement.setups if s.side == "front")
    programs = write_programs(plan_side(member, setup, job), setup.pose, job, station=setup.station)
    return Demo(job, member, placement, setup, tuple((p.name, p.text) for p in programs))


def faults_of(proof):
    return [
        (f.check, f.feature, f.program, f.line, f.message)
        for f in proof.findings
        if f.verdict is Verdict.NO_GO
    ]


def margins_wrong(proof):
    """Findings with value and limit whose margin is missing or has the wrong sign."""
    measured = [f for f in proof.findings if f.value is not None and f.limit is not None]
    assert len(measured) > 5
    return [
        (f.check, f.verdict, f.value, f.limit, f.margin)
        for f in measured
        if f.margin is None
        or (f.verdict is Verdict.GO and f.margin < 0)
        or (f.verdict is Verdict.NO_GO and f.margin >= 0)
    ]


def test_front_passes_with_every_skin_as_wanted(demo):
    proof = demo.prove()
    assert faults_of(proof) == []
    assert margins_wrong(proof) == []
    assert len(proof.skins) == sum(p.face == "front" for p in demo.member.pockets) > 50
    for skin in proof.skins:
        assert abs(skin.least - 1.2) <= 0.02
        assert abs(skin.greatest - 1.2) <= 0.02


def test_pads_pass(demo):
    programs = [
        (p.name, p.text)
        for cuts in plan_pads(demo.placement, demo.job)
        for p in write_programs(cuts, demo.placement.setups[0].pose, demo.job)
    ]
    assert faults_of(prove_pads(programs, demo.placement, demo.job)) == []


# --- planting -------------------------------------------------------------------------------------------


def moves_of(demo, tool):
    """Motions of a cutter's program, their lines, and where each ends on the face."""
    text = dict(demo.programs)[demo.name_of(tool)]
    moves = collect([read_program(text, start=(0, 0, 30))], demo.job.cutters)
    return moves, to_face(moves.end, demo.setup.pose)


def span_of(demo, tool, feature):
    """First and last line of a cutter's moves under a feature's name, as the program's comments say it."""
    lines = demo.lines(tool)
    first = next(i for i, t in enumerate(lines, 1) if t.startswith(f"({feature}"))
    others = [i for i, t in enumerate(lines, 1) if i > first and t.startswith("(") and "/" in t]
    return first, (others[0] if others else len(lines))


def some_pocket(demo):
    front = [p for p in demo.member.pockets if p.face == "front"]
    return front[len(front) // 2]


def floor_deeper(d):
    pocket, lines = some_pocket(d), d.lines(2)
    span = range(*span_of(d, 2, pocket.id))
    hit = [i for i in span if "Z-2.8" in lines[i - 1]]
    assert hit
    for i in hit:
        lines[i - 1] = lines[i - 1].replace("Z-2.8", "Z-3.1")
    return d.with_lines(2, lines), "skin", pocket.id, span


def pocket_shifted(d):
    pocket, lines = some_pocket(d), d.lines(2)
    span = range(*span_of(d, 2, pocket.id))
    for i in span:
        if not lines[i - 1].startswith("("):
            lines[i - 1] = re.sub(r"X(-?[\d.]+)", lambda m: f"X{float(m[1]) + 0.5:.3f}", lines[i - 1])
    return d.with_lines(2, lines), "wall", pocket.id, span


def rapid_through_stock(d):
    lines = d.lines(1)
    i = next(i for i, t in enumerate(lines) if t.startswith("G1 Z"))
    lines.insert(i, "G0 Z-1.5")
    return d.with_lines(1, lines), "rapid", None, [i + 1]


def missing_retract(d):
    """Lifts out of a pocket before going over to the next do not lift: the cutter runs there in the metal."""
    moves, face = moves_of(d, 1)
    across = next(
        k for k in range(300, len(moves.line))
        if moves.kind[k] == 0 and moves.kind[k - 1] == 0 and abs(face[k] - face[k - 1])[:2].max() > 35
    )  # fmt: skip
    first = across - 1
    while moves.kind[first - 1] == 0:
        first -= 1
    lines = d.lines(1)
    for k in range(first, across):
        line = int(moves.line[k])
        lines[line - 1] = re.sub(r"Z-?[\d.]+", f"Z{moves.start[first, 2]:.3f}", lines[line - 1])
    return d.with_lines(1, lines), "rapid", None, [int(moves.line[across])]


def wrong_units(d):
    lines = d.lines(1)
    i = next(i for i, t in enumerate(lines) if "G21" in t)
    lines[i] = lines[i].replace("G21", "G20")
    return d.with_lines(1, lines), "units", None, [i + 1]


def spindle_off(d):
    lines = d.lines(2)
    i = next(i for i, t in enumerate(lines) if re.search(r"\bM3\b", t))
    lines[i] = re.sub(r"\s*\bM3\b", "", lines[i])
    first = next(i for i, t in enumerate(lines, 1) if t.startswith("G1"))
    return d.with_lines(2, lines), "spindle", None, [first]


def cutter_swapped(d):
    lines = d.lines(2)
    done = [re.sub(r"^T2\b", "T1", t) for t in lines]
    planted = replace(
        d, programs=tuple((n, "\n".join(done) if n == d.name_of(2) else t) for n, t in d.programs)
    )
    return planted, "wall", None, range(1, len(lines))


def beyond_the_reach(d):
    lines = d.lines(1)
    i = next(i for i, t in enumerate(lines) if t.startswith("G1 Z"))
    lines.insert(i, "G0 X861.5")
    return d.with_lines(1, lines), "reach", None, [i + 1]


def clamp_hit(d):
    moves, face = moves_of(d, 2)
    cutting = moves.end[:, 2] < -2
    k = int(cutting.nonzero()[0][500])
    x, s = face[k, :2]
    clamp = Clamp("extra", box(x - 4, s - 4, x + 4, s + 4), 14.0, (x, s), 800, 2.0, "M6")
    planted = replace(d, setup=replace(d.setup, clamps=(*d.setup.clamps, clamp)))
    return planted, "clamp", None, range(1, len(d.lines(2)) + 50000)


def feed_five_times_too_fast(d):
    lines = d.lines(1)
    # the first clearing move that sets a feed of its own
    i = next(
        i
        for i, t in enumerate(lines)
        if i > 60 and re.search(r"F[4-9]\d\d$", t) and re.match(r"(G[123] )?X", t)
    )
    feed = float(re.search(r"F(\d+)", lines[i])[1])
    stop = next(j for j in range(i + 1, len(lines)) if "F" in lines[j])
    lines[i] = re.sub(r"F\d+", f"F{min(5 * feed, 3999):.0f}", lines[i])
    return d.with_lines(1, lines), "chip", None, range(i + 1, stop + 1)


def hole_too_deep_through_the_far_wall(d):
    hole = next(h for h in d.member.holes if h.face == "front" and h.thread == "M3")
    lines = d.lines(3)
    first, last = span_of(d, 3, hole.id)
    i = next(i for i in range(first, last) if re.search(r"Z-4\.[34]", lines[i - 1]))
    lines.insert(i, "G1 Z-48.5 F200")
    return d.with_lines(3, lines), "shank or holder or reach", None, range(i, i + 6)


def notch_too_narrow(d):
    notch = d.member.notches[0]
    tool = next(t for t in (1, 2, 3) if any(x.startswith(f"({notch.id}") for x in d.lines(t)))
    lines = d.lines(tool)
    spans = [i for i, t in enumerate(lines, 1) if t.startswith(f"({notch.id}")]
    first = spans[-1]
    last = next((i for i, t in enumerate(lines, 1) if i > first and t.startswith("(")), len(lines))
    for i in range(first, last):
        lines[i - 1] = re.sub(r"X(-?[\d.]+)", lambda m: f"X{float(m[1]) - 0.2:.3f}", lines[i - 1])
    return d.with_lines(tool, lines), "wall", notch.id, range(1, len(lines))


def edge_left_sharp(d):
    pocket, lines = some_pocket(d), d.lines(4)
    first, last = span_of(d, 4, pocket.id)
    del lines[first - 1 : last - 1]
    return d.with_lines(4, lines), "edge break", pocket.id, range(0, 100000)


FAULTS = (
    floor_deeper, pocket_shifted, rapid_through_stock, missing_retract, wrong_units, spindle_off, cutter_swapped,
    beyond_the_reach, clamp_hit, feed_five_times_too_fast, hole_too_deep_through_the_far_wall, notch_too_narrow,
    edge_left_sharp,
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.__name__)
def test_fault_in_the_demo_is_found_with_its_line(demo, fault):
    planted, check, feature, lines = fault(demo)
    proof = planted.prove()
    assert proof.verdict is Verdict.NO_GO
    assert margins_wrong(proof) == []
    told = faults_of(proof)
    found = [f for f in told if f[0] in check.split(" or ")]
    assert found, told[:10]
    assert feature is None or feature in {f[1] for f in found}, found[:10]
    assert any(f[3] in lines for f in found), found[:10]
