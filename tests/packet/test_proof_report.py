"""The report of a proof: its map against skins known exactly, its pictures, its page and its files."""

import importlib.util
import json
import struct
import sys
import zlib
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString

sys.path.insert(0, str(Path(__file__).parents[1] / "proof"))
from block_help import CASE, CUTTERS, binary_stl, block_program, block_triangles

from sparwright.answers import BadInput, Verdict
from sparwright.packet import proof_files
from sparwright.packet.heat import CIVIDIS, colours, png, thinned
from sparwright.packet.proof_close import close_up
from sparwright.packet.proof_files import set_report, write_report
from sparwright.packet.proof_map import LOSES, WRECKS, dangerous, map_strips, spots
from sparwright.packet.proof_page import page
from sparwright.packet.proof_report import build_report, report_json
from sparwright.packet.proof_run import prove_case
from sparwright.packet.proof_shown import Shown, part_edges, part_outline, target_outlines, thickness
from sparwright.packet.proof_time import binned, time_chart, tracks
from sparwright.proof.kinds import BY_NAME
from sparwright.proof.model import ProofFinding
from sparwright.proof.prove import prove_side

PROOF_TESTS = Path(__file__).parents[1] / "proof"


def _quiet(_: str) -> None:
    pass


@pytest.fixture(scope="module")
def case_file(tmp_path_factory):
    where = tmp_path_factory.mktemp("block")
    (where / "block.stl").write_bytes(binary_stl(block_triangles()))
    (where / "my-cutters.toml").write_text(CUTTERS)
    (where / "case.toml").write_text(CASE)
    return str(where / "case.toml")


@pytest.fixture(scope="module")
def good(case_file):
    return prove_case([("block.nc", block_program())], case_file, _quiet)


@pytest.fixture(scope="module")
def bad(case_file):
    text = block_program(deep=8.05, grow=0.04, stray=(70, 10))
    return prove_case([("block & co.nc", text)], case_file, _quiet)


@pytest.fixture(scope="module")
def member_shown():
    """The small member of the proof's own tests, its pockets' skins 1.2 mm."""
    spec = importlib.util.spec_from_file_location("proof_sample", PROOF_TESTS / "conftest.py")
    maker = importlib.util.module_from_spec(spec)
    sys.modules["proof_sample"] = maker
    spec.loader.exec_module(maker)
    sample = maker.make_sample()
    kept = []
    proof = prove_side(
        sample.programs,
        sample.member,
        sample.setup,
        sample.job,
        keep=lambda case, cut, loads: kept.append((case, cut, loads)),
    )
    case, cut, loads = kept[0]
    return Shown("short tube: top", "top", proof, case, cut, loads, target_outlines(case), "")


# --- the map --------------------------------------------------------------------------------------------


def test_the_figure_of_a_pocket_is_the_metal_left_under_it(good, bad):
    (place,) = spots(good.case, good.cut)
    assert place.left == pytest.approx(4.0, abs=1e-5)
    assert (place.x, place.s) == pytest.approx((40, 25), abs=20)
    assert place.room == pytest.approx(24, abs=0.5)
    found = spots(bad.case, bad.cut)
    assert [p.left for p in found] == pytest.approx([3.95, 11.7], abs=1e-5)
    assert "3.95" in map_strips(bad)[0]
    assert "4.00" in map_strips(good)[0]


def test_the_figures_of_a_hollow_member_are_its_skins(member_shown):
    figures = [p for p in spots(member_shown.case, member_shown.cut) if p.room > 10]
    assert [p.left for p in figures] == pytest.approx([1.2, 1.2], abs=1e-5)
    assert sorted(p.x for p in figures) == pytest.approx([30, 75], abs=12)
    left = thickness(member_shown.case, member_shown.cut)
    assert np.nanmax(left) == pytest.approx(30)  # over the upright walls of the tube
    grid = member_shown.case.scene.grid
    hole = left[int((3 - grid.s0) / grid.cell), int((105 - grid.x0) / grid.cell)]
    assert hole == 0  # right through the wall; the hollow and the far wall do not count
    assert any("1.20" in strip for strip in map_strips(member_shown))


def test_thinning_a_field_keeps_its_thinnest_spot():
    field = np.full((50, 400), 3.0)
    field[17, 333] = 0.4
    field[:, :8] = np.nan
    small, step = thinned(field, 100)
    assert step == 4
    assert np.nanmin(small) == 0.4
    assert np.isnan(small[:, :2]).all()
    assert (small[:, 2:] <= 3).all()


def test_colours_rise_in_lightness_and_paper_is_white():
    light = CIVIDIS @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(light) > 5).all()
    shown = colours(np.array([0.0, 1.0, 9.0, np.nan]), 0.0, 1.0)
    assert shown.tolist() == [[0, 34, 78], [254, 232, 56], [254, 232, 56], [255, 255, 255]]


def test_png_holds_the_pixels():
    pixels = np.arange(3 * 5 * 4, dtype=np.uint8).reshape(4, 5, 3)
    data = png(pixels)
    assert struct.unpack(">II", data[16:24]) == (5, 4)
    at = data.index(b"IDAT")
    (length,) = struct.unpack(">I", data[at - 4 : at])
    raw = np.frombuffer(zlib.decompress(data[at + 4 : at + 4 + length]), np.uint8).reshape(4, 16)
    assert (raw[:, 0] == 0).all()
    assert (raw[:, 1:].reshape(4, 5, 3) == pixels).all()


def test_a_part_s_edges_seen_from_above_are_its_box_and_its_pocket():
    edges = part_edges(block_triangles())
    assert edges.bounds == (0, 0, 80, 50)
    assert edges.intersects(LineString([(59, 25), (61, 25)]))
    assert edges.has_z
    assert not edges.intersects(LineString([(30, 20), (50, 30)]))


def test_of_a_part_s_edges_only_those_seen_from_above_are_drawn(good):
    """Pockets in the underside are not; rim and floor of the pocket on top are one outline seen so."""
    under = block_triangles(3.0) * [1, 1, -1] + [0, 0, 12]  # a shallow pocket from below
    turned = part_outline(under[:, ::-1] - [0, 0, 12], good.case)
    assert not turned.intersects(LineString([(59, 25), (61, 25)]))
    assert good.outline.length == pytest.approx(260 + 2 * (32 + 16) + 2 * np.pi * 4, rel=1e-3)


# --- along the time -------------------------------------------------------------------------------------


def test_the_greatest_in_each_spell_is_kept():
    best, total = binned(np.array([1.0, 2.0, 1.0]), np.array([5.0, np.nan, 7.0]), 4)
    assert total == 4
    assert best.tolist() == [5, 0, 0, 7]
    assert binned(np.array([]), np.array([]), 4)[1] == 0


def test_curves_show_the_loads_met(good):
    chart = time_chart(good, tracks(good))
    loads = good.loads
    assert {t.name for t in tracks(good)} == {
        "Engagement",
        "Depth met",
        "Chip",
        "Force",
        "Power",
        "Deflection",
        "Feed",
    }
    assert f"most {loads.tooth.max():.3g}<" in chart
    assert f"most {np.degrees(loads.engaged.max()):.3g}<" in chart
    told = {p["name"]: p["value"] for p in report_json(good)["loads"]}
    assert told["force"] == pytest.approx(loads.force.max())


# --- findings and close-ups -----------------------------------------------------------------------------


def test_findings_come_in_order_of_danger_each_with_line_text_and_picture(bad):
    doc = build_report(bad)
    ranks = [("no-go", "caution", "go").index(f["verdict"]) for f in doc.data["findings"]]
    assert ranks == sorted(ranks)
    stray = next(f for f in doc.data["findings"] if "0.300 mm deeper" in f["message"])
    assert stray["text"] == "G1 Z-0.3 F300"
    assert stray["line"].startswith("block & co.nc, line ")
    assert all(f["picture"] for f in doc.data["findings"] if f["where"])
    assert doc.data["summary"].endswith("findings must be put right before the first cut.")


def test_a_crash_comes_before_lost_metal_and_that_before_metal_left(bad):
    def made(check, verdict=Verdict.NO_GO, margin=None):
        return ProofFinding(check, verdict, check, limit=0.02, margin=margin)

    mixed = [
        made("extents", Verdict.GO), made("not judged", Verdict.CAUTION), made("metal left"), made("gouge", margin=-0.1),
        made("cut too deep", margin=-2.0), made("clamp"),
    ]  # fmt: skip
    order = [f.check for f in dangerous(mixed)]
    assert order == ["clamp", "cut too deep", "gouge", "metal left", "not judged"]


def test_the_kinds_put_in_order_are_kinds_a_proof_makes():
    assert set(BY_NAME) >= (WRECKS | LOSES)


def test_a_close_up_shows_the_guilty_path_and_the_outline(bad):
    wall = next(f for f in bad.proof.findings if "into a wall" in f.message)
    picture = close_up(bad, wall)
    assert 'stroke-width="0.8"' in picture  # the guilty path
    assert "stroke-dasharray" in picture  # the cutter's rim on it
    assert 'stroke-width="0.15"' in picture  # the outline wanted
    assert close_up(replace(bad, cut=None), wall) == ""


# --- the page, the sheets, the files --------------------------------------------------------------------


class _Outside(HTMLParser):
    """Collects what an HTML file would fetch or run."""

    def __init__(self):
        super().__init__()
        self.found, self.text = [], []

    def handle_starttag(self, tag, attrs):
        if tag in ("script", "link", "iframe", "object", "embed", "base", "img", "use", "foreignobject"):
            self.found.append(tag)
        for name, value in attrs:
            if name.startswith("on") or (
                name in ("src", "href", "xlink:href", "srcset", "action", "data")
                and not (value or "").startswith("data:image/png;base64,")
            ):
                self.found.append((tag, name))
            if name == "style" and "url(" in (value or ""):
                self.found.append((tag, name))

    def handle_data(self, data):
        self.text.append(data)


@pytest.mark.parametrize("which", ["good", "bad", "member_shown"])
def test_the_page_stands_alone_and_says_it_all(request, which):
    shown = request.getfixturevalue(which)
    text = page(build_report(shown))
    outside = _Outside()
    outside.feed(text)
    assert outside.found == []
    style = text[text.index("<style>") : text.index("</style>")]
    assert "url(" not in style
    assert "@import" not in style
    said = " ".join(outside.text)
    assert shown.proof.verdict.value in said
    for name, digest in shown.proof.digests.items():
        assert name in said
        assert digest in said
    for finding in shown.proof.findings:
        assert finding.message in said


def test_names_are_never_taken_for_markup(bad):
    assert "block &amp; co.nc" in page(build_report(bad))
    assert "block & co.nc<" not in page(build_report(bad))


def test_sheets_are_set(bad):
    pdf = set_report(build_report(bad))
    assert pdf.startswith(b"%PDF")
    assert set_report(build_report(bad), "us-letter") != pdf


def test_files_appear_together_and_a_report_is_replaced_whole(tmp_path, good, bad):
    out = tmp_path / "report"
    assert write_report(good, out) == ("proof.json", "report.html", "report.pdf")
    first = json.loads((out / "proof.json").read_text())
    assert first["verdict"] == "go"
    assert first["digests"] == good.proof.digests
    assert first["level_places"][0]["metal_left_mm"] == pytest.approx(4.0, abs=1e-5)
    write_report(bad, out)
    told = json.loads((out / "proof.json").read_text())
    assert told["verdict"] == "no-go"
    assert {"check", "line", "at_mm", "value", "limit", "message", "text"} <= set(told["findings"][0])
    assert [p.name for p in tmp_path.iterdir()] == ["report"]


def test_a_failure_half_way_leaves_the_old_report_and_nothing_else(tmp_path, good, bad, monkeypatch):
    out = tmp_path / "report"
    write_report(good, out)
    before = (out / "report.html").read_bytes()

    def broken(*_):
        raise RuntimeError("no paper")

    monkeypatch.setattr(proof_files, "set_report", broken)
    with pytest.raises(RuntimeError):
        write_report(bad, out)
    assert (out / "report.html").read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == ["report"]


def test_a_folder_that_holds_something_else_is_refused(tmp_path, good):
    (tmp_path / "mine.txt").write_text("keep")
    with pytest.raises(
        BadInput, match=r"holds something else than a report; name an empty or new folder with --report"
    ):
        write_report(good, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]


def test_with_nothing_known_there_is_still_a_report(tmp_path):
    shown = prove_case([("block.nc", block_program())], None, _quiet)
    write_report(shown, tmp_path / "report")
    text = (tmp_path / "report" / "report.html").read_text()
    assert "State them in a case file" in text
    assert "Depth" in text
    assert "Metal left" not in text
