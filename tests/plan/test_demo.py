"""The main job on the demo, end to end: one plan, looked at from every side."""

import csv
import json
import re
import shutil
import subprocess
import tomllib

import pytest

from sparwright.answers import BadInput, Verdict
from sparwright.packet.exports import has_step
from sparwright.packet.write import write_packet

pytestmark = pytest.mark.xdist_group("demo")


def test_six_answers_and_no_no_go(plan):
    assert [a.question for a in plan.answers] == [1, 2, 3, 4, 5, 6]
    bad = [
        (a.question, f.name, f.why, f.where)
        for a in plan.answers
        for f in a.findings
        if f.verdict is Verdict.NO_GO
    ]
    assert bad == []


def test_every_skin_is_what_was_asked_for(plan):
    skins = {s.feature: s for proof in plan.proofs for s in proof.skins}
    assert set(skins) == {p.id for p in plan.member.pockets}
    for s in skins.values():
        assert s.least >= 1.2 - 0.02
        assert s.greatest <= 1.2 + 0.02


def test_it_fits_on_the_diagonal_only(plan):
    fit = plan.placement.fit
    assert fit.fits
    assert fit.margin > plan.job.file.placing.margin
    assert all((low > 0.6 and high < 0.98) or low > 2.1 for low, high in fit.angles)


def test_the_skin_is_worth_its_metal(plan):
    s = plan.stiff.member
    assert s.kept_windows is not None
    assert s.kept["GJ"] > 2 * s.kept_windows["GJ"]
    assert s.kept["mass"] - s.kept_windows["mass"] < 0.2


def test_the_metal_cut_in_simulation_is_the_metal_planned(plan):
    removed = sum(p.removed_mm3 for p in plan.proofs if p.side != "pads")
    planned = plan.mass_out_kg / (plan.member.material.density * 1e-9)
    assert removed == pytest.approx(planned, rel=0.01)


def test_every_program_was_proved_to_the_byte(plan):
    proved = {name: digest for proof in plan.proofs for name, digest in proof.digests.items()}
    assert proved == {p.name: p.digest for p in plan.programs}


def test_both_sides_are_held_together(plan):
    """A tube: its two walls have only air between them, so nothing thin lies between pockets 100 mm apart."""
    together = plan.proofs[-1]
    sides = plan.proofs[1:-1]
    assert together.side == "all sides together"
    assert together.digests == {n: d for p in sides for n, d in p.digests.items()}
    assert {f.verdict for f in together.findings} == {Verdict.GO}
    counted = next(f for f in together.findings if f.check == "not cut")
    features = len(plan.member.pockets) + len(plan.member.holes) + len(plan.member.notches)
    assert counted.message.startswith(
        f"All {features + sum(h.counterbore is not None for h in plan.member.holes)} "
    )
    assert "all sides together" in {f.where.removeprefix("side ") for f in plan.answers[4].findings}


def test_the_same_job_gives_the_same_programs(plan):
    from sparwright.cutting.plan import plan_side
    from sparwright.program.writer import write_programs

    setup = plan.placement.setups[0]
    again = write_programs(
        plan_side(plan.member, setup, plan.job), setup.pose, plan.job, station=setup.station
    )
    first = [p for p in plan.programs if p.side == setup.side]
    assert [p.text for p in again] == [p.text for p in first]


def test_the_packet_has_all_that_goes_to_the_machine(packet, plan):
    out, files = packet
    assert {"packet.pdf", "answers.json", "holes.csv", "cutters.csv"} <= set(files)
    if has_step():
        pads = range(1, 1 + len(plan.placement.setups[0].pads))
        assert {f"shapes/pad-{i}.step" for i in pads} <= set(files)
    for p in plan.programs:
        assert (out / "programs" / p.name).read_text() == p.text
    answers = json.loads((out / "answers.json").read_text())
    assert [a["question"] for a in answers["answers"]] == [1, 2, 3, 4, 5, 6]
    assert len((out / "holes.csv").read_text().splitlines()) == 1 + len(plan.member.holes)


def test_the_table_of_cutters_reads_back_as_the_cutters_of_the_job(packet, plan, examples):
    """Numbers, sizes and stick-outs from the cutters' own file; the minutes of each side's cuts fit into its programs."""
    with (packet[0] / "cutters.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    listed = tomllib.loads((examples / "bridge-beam" / "cutters.toml").read_text(encoding="utf-8"))["cutter"]
    asked = {str(c["number"]): (float(c["diameter"]), float(c["stick_out"])) for c in listed}
    told = {r["cutter"]: (float(r["diameter_mm"]), float(r["stick_out_mm"])) for r in rows}
    assert told == {number: asked[number] for number in told}
    assert {int(n) for n in told} == {n for p in plan.programs for n in p.cutters}
    for side in {r["side"] for r in rows}:
        cutting = sum(float(r["minutes"]) for r in rows if r["side"] == side)
        whole = sum(p.minutes for p in plan.programs if p.side == side)
        assert 0 < cutting <= 1.02 * whole + 0.1 * len(rows), side


def test_a_packet_is_replaced_whole_and_other_folders_are_left_alone(packet, plan, tmp_path):
    out, files = packet
    assert write_packet(plan, out) == files
    assert [p.name for p in out.parent.iterdir()] == [out.name]
    (tmp_path / "letter.txt").write_text("keep me")
    with pytest.raises(BadInput, match="something else"):
        write_packet(plan, tmp_path)
    assert (tmp_path / "letter.txt").read_text() == "keep me"


def test_a_failed_packet_leaves_nothing(plan, tmp_path, monkeypatch):
    import sparwright.packet.write as write

    def fail(*_: object) -> None:
        raise RuntimeError("disc full")

    monkeypatch.setattr(write.exports, "write_all", fail)
    with pytest.raises(RuntimeError):
        write_packet(plan, tmp_path / "new")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(shutil.which("pdffonts") is None, reason="poppler-utils is not installed")
def test_the_pdf_holds_one_sans_family(packet):
    out, _ = packet
    listed = subprocess.run(
        ["pdffonts", str(out / "packet.pdf")], capture_output=True, text=True, check=True
    ).stdout
    fonts = [line.split()[0] for line in listed.splitlines()[2:]]
    assert fonts
    assert all("SourceSansPro" in f for f in fonts)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_the_pdf_says_what_the_answers_say(packet, plan):
    out, _ = packet
    text = subprocess.run(
        ["pdftotext", "-layout", str(out / "packet.pdf"), "-"], capture_output=True, text=True, check=True
    ).stdout
    for a in plan.answers:
        assert a.title in text
    for p in plan.programs:
        assert p.name in text
        assert p.digest[:12] in text


SHEETS = {
    "Order of work": ("Weigh and measure", "STOP", "min of cutting", "Tap M3, M6 by hand"),
    "Dangers first": ("Why and where", "Programs, in this order", "min of cutting together"),
    "What is go": ("worst of", "1 Is it stiff enough?", "5 Do the programs cut exactly this part?"),
    "Pads": ("First corner X, Y (mm)", "Holes of the pads", "Pad 4: locates", "slot 100.1", "slot 4 mm deep"),
    "Setup 1: side back up": ("Torque", "N m", "Stick-out at least", "Zero point", "rpm"),
    "Run 2: side front": ("Before the first cut", "Before a clamp is opened", "SHA-256"),
    "Face front": ("scale 1:5", "lengths in mm", "ISO 2768-m", "A10", "measured", "1180", "datum"),
    "Section and pockets": ("skin 1.2", "wall 4", "3 x R2.1"),
    "Measured": ("tap tone, twist", "mass to come out", "Done by", "Cautions"),
}


def sheets_of(pdf):
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    return text.split("\f")[:-1]


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed")
def test_every_sheet_holds_what_it_must_and_the_packet_is_short(packet):
    sheets = sheets_of(packet[0] / "packet.pdf")
    assert len(sheets) <= 16
    for heading, words in SHEETS.items():
        sheet = next((s for s in sheets if any(line.strip() == heading for line in s.splitlines())), "")
        assert [w for w in words if w not in sheet] == [], heading


def test_drawings_are_told_apart_without_colour(packet):
    for svg in (packet[0] / "drawings").glob("*.svg"):
        if svg.name in ("bars.svg", "machine.svg"):
            continue
        for colour in re.findall(r"#([0-9a-f]{6}|[0-9a-f]{3})\b", svg.read_text(encoding="utf-8")):
            parts = re.findall("..", colour) if len(colour) == 6 else list(colour)
            assert len(set(parts)) == 1, (svg.name, colour)


def test_nothing_in_the_programs_is_dated(plan):
    import datetime

    year = str(datetime.date.today().year)
    for p in plan.programs:
        assert year not in "\n".join(line for line in p.text.splitlines() if line.startswith("("))
