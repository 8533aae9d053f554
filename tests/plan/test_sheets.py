"""Every sheet of the packet, on both papers and in both units: nothing cut off, large enough, black enough, with units."""

import json
import re
import shutil
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from sparwright.packet.document import build
from sparwright.packet.figures import Display
from sparwright.packet.setup_sheets import side_sheet
from sparwright.packet.write import font_folder, laid_out

sys.path.insert(0, str(Path(__file__).parent))
from sheet_help import contrasts, sizes, tables, words

pytestmark = [
    pytest.mark.xdist_group("demo"),
    pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not installed"),
]
MARGIN = 9.0 / 25.4 * 72  # points
PAPERS = {"a4": (595.28, 841.89), "us-letter": (612.0, 792.0)}
SMALLEST, AT_THE_MACHINE = 9.0, 10.0  # points: of any text, and of what is read beside a running machine
CONTRAST = 4.5  # WCAG 2.2, success criterion 1.4.3
MACHINE_SHEETS = ("Setup", "Run")
SMALL_PRINT = {27}  # the foot of a sheet and the line under a picture, thirds of a point


@pytest.fixture(scope="module", params=[(p, u) for p in PAPERS for u in ("mm", "inch")], ids="-".join)
def sheets(request, plan, tmp_path_factory):
    """Paper, units, the PDF, and its tables (of one paper: they are the same on the other)."""
    import typst

    paper, units = request.param
    settings = plan.job.file.job.model_copy(update={"units": units})
    file = plan.job.file.model_copy(update={"job": settings})
    doc = build(replace(plan, job=plan.job.model_copy(update={"file": file})))
    pdf = tmp_path_factory.mktemp("sheets") / "packet.pdf"
    with laid_out(doc, paper) as called:
        pdf.write_bytes(typst.compile(**called))
        source = called.pop("input")
        found = json.loads(typst.query(source, "table", **called)) if paper == "a4" else []
    found = [t for t in found if t["children"][0].get("func") == "header"]
    return paper, units, pdf, list(tables(found))


def test_no_word_of_any_sheet_stands_in_the_margin(sheets):
    paper, _, pdf, _ = sheets
    pages = words(pdf)
    assert 10 <= len(pages) <= 16
    for number, (wide, high, boxes) in enumerate(pages, 1):
        assert sorted((wide, high)) == pytest.approx(sorted(PAPERS[paper]), abs=0.5)
        assert boxes
        for x0, y0, x1, y1, word in boxes:
            assert MARGIN <= x0 <= x1 <= wide - MARGIN, (number, word)
            assert MARGIN / 2 <= y0 <= y1 <= high - MARGIN / 2, (number, word)


def test_drawings_keep_their_scale_on_the_paper(sheets):
    """Marks of the holes at 90 and 1090 mm stand 200 mm apart on the sheet drawn at 1:5."""
    page = next(b for _, _, b in words(sheets[2]) if [w for *_, w in b[:2]] == ["Face", "front"])
    marks = {
        w: (x0 + x1) / 2 for x0, y0, x1, y1, w in sorted(page, key=lambda b: -b[1]) if w in ("A1", "A10")
    }
    assert marks["A10"] - marks["A1"] == pytest.approx(1000 / 5 / 25.4 * 72, abs=1.0)


def test_no_sheet_is_nearly_empty(sheets):
    """A table that has slipped onto a sheet of its own leaves it nearly empty."""
    for number, (_, _, boxes) in enumerate(words(sheets[2]), 1):
        assert len(boxes) > 60, number


def test_text_is_large_enough_to_be_read(sheets):
    """Nothing is under 9 pt; beside the machine only small print is under 10 pt."""
    pages = words(sheets[2])
    for number, (found, (_, _, boxes)) in enumerate(zip(sizes(sheets[2]), pages, strict=True), 1):
        assert min(found) >= SMALLEST, number
        if boxes[0][4] in MACHINE_SHEETS:
            small = {round(3 * s) for s in found if s < AT_THE_MACHINE}
            assert small <= SMALL_PRINT, number


def test_text_stands_out_from_its_ground_in_grey(sheets):
    paper, units, pdf, _ = sheets
    if (paper, units) not in (("a4", "mm"), ("us-letter", "inch")):
        pytest.skip("grounds are the same on the other two")
    for number, page in enumerate(contrasts(pdf), 1):
        for contrast, word in page:
            assert contrast >= CONTRAST, (number, word)


def test_the_measures_see_what_is_wrong(tmp_path):
    """Grey and small text, and text past the margin, are found where they are put on purpose."""
    import typst

    source = """#set page(width: 100mm, height: 60mm, margin: 10mm)
#set text(font: "Source Sans Pro", size: 12pt)
black #text(fill: luma(140))[pale] #text(fill: luma(90))[grey] #text(size: 8pt)[small] #box(fill: black, text(fill: white)[white])
#place(dx: 70mm)[outside]"""
    (tmp_path / "page.typ").write_text(source)
    pdf = tmp_path / "page.pdf"
    fonts = [str(font_folder())]
    pdf.write_bytes(typst.compile(str(tmp_path / "page.typ"), font_paths=fonts, ignore_system_fonts=True))
    assert sizes(pdf) == [{8.0, 12.0}]
    (told,) = contrasts(pdf)
    found = {word: contrast for contrast, word in told}
    assert found["pale"] < CONTRAST < found["grey"] < found["black"]
    assert found["white"] > CONTRAST
    ((wide, _, boxes),) = words(pdf)
    assert [w for _, _, x1, _, w in boxes if x1 > wide - MARGIN] == ["outside"]


# Columns of names, which may hold figures that are no measure; all others are measures.
NAMES = {
    "", "Finding", "Verdict", "Why and where", "Program", "Cutter", "Proof", "Digest", "What", "Features",
    "Computed by", "Figure", "Share of the give", "Pad", "Use", "Hole", "For", "Made by", "Clamp", "Screw", "No.",
    "Mark", "What moves", "How",
}  # fmt: skip
LENGTH = {
    "mm": ("mm", "mm²", "mm³", "mm/min", "mm/s²"),
    "inch": ("in", "in²", "in³", "in/min", "in/s²", "thou"),
}
METRIC = ("N", "N m", "N mm²", "N/mm", "N/µm", "MPa", "kg", "kg/m", "µm")
POUNDS = ("lbf", "in lbf", "lbf in²", "lbf/in", "ksi", "lb", "lb/ft")
OTHER = ("%", "°", "Hz", "s", "min", "rpm", "W", "cells", "times the service load")
FIGURE = r"(?:(?:below |above )?[-+]?\d[\d.]*(?: × 10[⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)?)"
# Names of pockets, drills and threads, and what a metric hole's drill stands in for.
CALLED = r"\S+/\S+/\S+|\b(?:No\. \d+|\d+(?:-\d+)?/\d+|M\d+)\b|for [\d.]+ mm|[\d.]+ mm(?= \()"


def without_unit(cell, units):
    """What is left of a cell's figures when those with a unit are taken out."""
    known = (*LENGTH[units], *(METRIC if units == "mm" else POUNDS), *OTHER)
    unit = "|".join(re.escape(u) for u in sorted(known, key=len, reverse=True))
    several = rf"{FIGURE}(?:(?:, | ± | to | x ){FIGURE})* ?(?:{unit})(?![\w²³/])"
    return re.findall(r"\d[\d.]*", re.sub(several, "", re.sub(CALLED, "", cell)))


@pytest.mark.parametrize(
    ("cell", "units", "left"),
    [
        ("3.58 ± 0.31 kg", "mm", []),
        ("3.260 × 10¹⁰ N mm²", "mm", []),
        ("No. 9 (0.1960 in), for 5 mm", "inch", []),
        ("5 mm", "inch", ["5"]),
        ("12", "mm", ["12"]),
        ("x 84 mm, s -25", "mm", ["25"]),
    ],
)
def test_figures_without_a_unit_are_found(cell, units, left):
    assert without_unit(cell, units) == left


def test_every_figure_of_every_table_has_its_unit(sheets, plan):
    """In the head of its column, or beside it; only counts and ratios have none."""
    paper, units, _, found = sheets
    if paper != "a4":
        pytest.skip("tables are the same on both papers")
    show = Display(inch=units == "inch")
    shares = {
        show.number(figure)
        for a in plan.answers
        for f in a.findings
        if not f.unit
        for figure in (f.value, f.limit)
    }
    assert len(found) > 25
    checked = 0
    for heads, rows in found:
        for row in rows:
            for head, cell in zip(heads, row, strict=True):
                if head in NAMES or cell in shares or re.search(r"\((?:mm|in)\)$", head):
                    assert not head.endswith(f"({'in' if units == 'mm' else 'mm'})")
                    continue
                assert without_unit(cell, units) == [], (heads, row)
                checked += bool(cell)
    assert checked > 200


def test_a_station_has_its_number_on_its_sheets(plan):
    """A side fed through in two stations has two setups; one that takes one alone does not speak of stations."""
    first = plan.placement.setups[0]
    assert side_sheet(plan, first, Display())[0]["station"] == 0
    second = replace(first, station=2)
    fed = replace(plan, placement=replace(plan.placement, setups=(first, second)))
    told = [side_sheet(fed, s, Display())[0] for s in (first, second)]
    assert [t["station"] for t in told] == [1, 2]
    assert told[0]["picture"] != told[1]["picture"]
