"""Sections drawn as SVG paths: curves, turning over, nesting, files, and refusals with their places."""

import math

import pytest

from sparwright.job.models import PathSection
from sparwright.job.reading import JobError
from sparwright.stock.paths import read_path
from sparwright.stock.rings import OutlineError
from sparwright.stock.section import make_section

SVG = '<svg xmlns="http://www.w3.org/2000/svg"{head}>\n{body}\n</svg>\n'


@pytest.fixture
def file_of(tmp_path):
    """A function from the body of an SVG file to the polygon read from it."""

    def make(body, head="", **keys):
        (tmp_path / "section.svg").write_text(SVG.format(head=head, body=body), encoding="utf-8")
        return read_path(PathSection(shape="path", file="section.svg", **keys), tmp_path)

    return make


def inline(d, **keys):
    return read_path(PathSection(shape="path", d=d, **keys), ".")


# --- curves ---------------------------------------------------------------------------------------------


def test_lines_in_every_spelling():
    for d in ("M0,0 L40,0 40,20 0,20 Z", "m 0 0 h40v20h-40z", "M0 0H40V20H0Z", "M0 0L40 0L40 20L0 20L0 0"):
        shape = inline(d)
        assert shape.area == pytest.approx(800)
        assert shape.exterior.is_ccw


def test_the_drawing_is_taken_as_it_shows():
    """y of an SVG points down: an L with its foot at the bottom right on the screen has it there in the section."""
    shape = inline("M0 0 H5 V35 H30 V40 H0 Z")
    assert shape.bounds == pytest.approx((0, -40, 30, 0))
    section = make_section(PathSection(shape="path", d="M0 0 H5 V35 H30 V40 H0 Z"), ".")
    assert section.shape.bounds == pytest.approx((0, 0, 30, 40))
    assert section.face("bottom").width == pytest.approx(30)
    assert section.face("front").width == pytest.approx(40)
    assert section.shape.centroid.y < 20
    assert section.drawing == "section drawn as a path"


def test_turn_is_counter_clockwise_as_seen():
    shape = inline("M0 0 H5 V35 H30 V40 H0 Z", turn=90)
    # The foot that pointed right at the bottom now points up at the right.
    assert shape.bounds == pytest.approx((0, 0, 40, 30))
    assert shape.centroid.x > 20


def test_arcs_within_the_chord():
    """Stadium 40 x 20 with a bore of 12: area 400 + pi 10² - pi 6²."""
    d = "M0 0 H20 A10 10 0 0 1 20 20 H0 A10 10 0 0 1 0 0 Z M6 10 A6 6 0 0 0 -6 10 A6 6 0 0 0 6 10 Z"
    exact = 400 + math.pi * 64
    assert inline(d).area == pytest.approx(exact, rel=1e-3)
    fine = inline(d, chord=1e-4)
    assert fine.area == pytest.approx(exact, rel=2e-5)
    assert len(fine.interiors) == 1
    for coarse in (0.005, 0.1):
        ring = inline(d, chord=coarse).exterior
        for x, z in ring.coords:
            if x > 20:
                assert math.hypot(x - 20, z + 10) == pytest.approx(10, abs=1e-9)
        steps = [math.dist(a, b) for a, b in zip(ring.coords, ring.coords[1:], strict=False)]
        widest = max(s for s in steps if s < 19)
        assert widest**2 / 80 <= coarse * 1.01


def test_beziers_and_ellipses():
    """A parabola over a chord c with sagitta h encloses 2/3 c h; a quarter circle by the usual cubic is right to 2.7e-4."""
    assert inline("M0 0 Q20 -40 40 0 Z", chord=1e-4).area == pytest.approx(2 / 3 * 40 * 20, rel=1e-4)
    k = 10 * 4 / 3 * (math.sqrt(2) - 1)
    quarter = inline(f"M0 0 H10 C10 {k} {k} 10 0 10 Z", chord=1e-4)
    assert quarter.area == pytest.approx(math.pi * 25, rel=5e-4)
    assert inline("M-20 0 A20 10 0 0 1 20 0 A20 10 0 0 1 -20 0 Z", chord=1e-4).area == pytest.approx(
        math.pi * 200, rel=5e-5
    )


def test_two_cells_even_odd():
    shape = inline("M0 0H40V20H0Z M3 3V17H18V3Z M21 3H37V17H21Z")
    assert len(shape.interiors) == 2
    assert shape.area == pytest.approx(800 - 15 * 14 - 16 * 14)


def test_a_tube_path_equals_the_tube_by_its_measures(job_of):
    """The same outline in two ways: the same figures."""
    from sparwright.stiffness.section import section_figures
    from sparwright.stock.member import build_member

    d = "M6 0H44A6 6 0 0 1 50 6V94A6 6 0 0 1 44 100H6A6 6 0 0 1 0 94V6A6 6 0 0 1 6 0Z M6 4A2 2 0 0 0 4 6V94A2 2 0 0 0 6 96H44A2 2 0 0 0 46 94V6A2 2 0 0 0 44 4Z"
    drawn = build_member(job_of("", section=f'shape = "path"\nd = "{d}"\n')).section
    tube = (
        'shape = "rectangular tube"\nwidth = 50\nheight = 100\nwall = 4\nouter_radius = 6\ninner_radius = 2\n'
    )
    stated = build_member(job_of("", section=tube)).section
    a, b = section_figures(drawn, 0.33), section_figures(stated, 0.33)
    assert (a.area, a.J, a.Iy) == pytest.approx((b.area, b.J, b.Iy), rel=1e-4)
    assert [f.name for f in drawn.faces] == [f.name for f in stated.faces]


# --- files ----------------------------------------------------------------------------------------------

BOX = '<path id="box" d="M0 0H40V20H0Z"/>'


def test_transforms_of_the_path_and_of_groups(file_of):
    shape = file_of(f'<g transform="translate(100 50)"><g transform="scale(2,1)">{BOX}</g></g>')
    assert shape.bounds == pytest.approx((100, -70, 180, -50))
    shape = file_of('<path transform="rotate(90)" d="M0 0H40V20H0Z"/>')
    assert shape.bounds == pytest.approx((-20, -40, 0, 0))


@pytest.mark.parametrize(
    ("head", "keys", "width"),
    [
        ("", {}, 40),
        (' width="100mm" viewBox="0 0 100 60"', {}, 40),
        (' width="4in" height="2in" viewBox="0 0 4 2"', {"id": "box"}, 40 * 25.4),
        (' width="400px"', {}, 40 * 25.4 / 96),
        (' width="100mm" viewBox="0 0 50 30"', {}, 80),
        (' width="100mm" viewBox="0 0 50 30"', {"scale": 1}, 40),
        (' width="100%" viewBox="0 0 50 30"', {}, 40),
    ],
)
def test_the_scale_comes_from_the_job_then_from_the_file(file_of, head, keys, width):
    low, _, high, _ = file_of(BOX, head, **keys).bounds
    assert high - low == pytest.approx(width)


def test_the_right_path_of_several(file_of):
    two = BOX + '<path id="note" d="M0 0L5 5"/><defs><path id="mark" d="M0 0H1V1Z"/></defs>'
    assert file_of(two, id="box").area == pytest.approx(800)
    with pytest.raises(OutlineError, match=r'2 paths, with the ids "box", "note"; say which one with id'):
        file_of(two)
    with pytest.raises(
        OutlineError, match=r'no path with the id "bax"; it has "box", "note"; did you mean "box"\?'
    ):
        file_of(two, id="bax")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("nonsense", r"section\.svg, line 1: this is not well-formed XML \(.*\); save the drawing as plain SVG"),
        ("<html/>", "is no SVG file: its first element is html; save the drawing as SVG"),
        (SVG.format(head="", body="<rect/>"), "holds no path; turn rectangles, circles and text into paths"),
        ('<!DOCTYPE svg [<!ENTITY a "b">]>\n' + SVG.format(head="", body=BOX), "line 1: the file declares entities"),
        ('<!DOCTYPE svg [\n<!ENTITY a SYSTEM "file:///etc/hosts">]>\n<svg><path d="&a;"/></svg>', "line 2: the file declares"),
        (SVG.format(head="", body='<g style="transform: scale(2)"><path d="M0 0"/></g>'), "line 2: a transform in a style"),
        (SVG.format(head="", body='<path transform="scale(2mm)" d="M0 0H9V9Z"/>'), r'line 2: the transform "scale\(2mm\)"'),
        (SVG.format(head="", body='\n\n<path d="M0 0H40V20"/>'), r"section\.svg, line 4: the outline is open"),
    ],
)  # fmt: skip
def test_files_that_give_nothing_are_refused(tmp_path, text, words):
    (tmp_path / "section.svg").write_text(text, encoding="utf-8")
    with pytest.raises(OutlineError, match=words):
        read_path(PathSection(shape="path", file="section.svg"), tmp_path)


def test_a_file_that_is_missing_or_huge(tmp_path):
    with pytest.raises(OutlineError, match=r"none\.svg cannot be read: No such file"):
        read_path(PathSection(shape="path", file="none.svg"), tmp_path)
    (tmp_path / "huge.svg").write_bytes(b" " * 5_000_001)
    with pytest.raises(OutlineError, match=r"huge\.svg has 5\.0 MB; at most 5 MB are read"):
        read_path(PathSection(shape="path", file="huge.svg"), tmp_path)


# --- refusals -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("d", "words"),
    [
        ("M0 0H40V20H0", r"open: the part that begins at \(0\.000, 0\.000\) ends at \(0\.000, 20\.000\), 20 away"),
        ("M0 0L40 20V0L0 20Z", r"crosses itself at \(20\.000, 10\.000\)"),
        ("M0 0H40V20H0Z M30 5H50V10H30Z", r"two outlines cross or touch at \(40\.000, (5|10)\.000\)"),
        ("M0 0H40V20H0Z M50 0H60V20H50Z", r"2 separate outer outlines, .*\(50\.000, 0\.000\) to \(60\.000, 20\.000\)"),
        ("M0 0H40V20H0Z M3 3H37V17H3Z M9 9H12V12H9Z", r"loose inside a hole at \(9\.000, 9\.000\)"),
        ("M0 0H0.5V0.2Z", r"measures 0\.5 x 0\.2 mm with scale = 1; sides of 2 to 2000 mm are taken; say scale"),
        ("M0 0H40Z", "goes out and back on itself"),
        ("M0 0H40V20", "is open"),
        ("hello", r'not the text of an SVG path: "o" at character 5; it is made of the letters'),
        ("L0 0H4", "it does not begin with M"),
        ("", "it does not begin with M"),
        ("M0 0L10", "too few or too many numbers"),
        ("M0 0", "draws nothing"),
        ("M0 0H1e999V20H0Z", "out of all measure"),
        ("M0 0A1e300 1e300 0 0 1 10 10Z", "out of all measure"),
        ("M0 0" + "h1v1" * 10_001 + "Z", "has 20004 segments; at most 20000 are taken"),
    ],
)  # fmt: skip
def test_paths_that_give_no_section_are_refused(d, words):
    with pytest.raises(OutlineError, match=words):
        inline(d)


def test_a_small_gap_is_closed():
    assert inline("M0 0H40V20H0V0.01").area == pytest.approx(800, abs=0.5)
    assert inline("M0 0H40V20H0V0.4", gap=0.5).area == pytest.approx(800, abs=9)


@pytest.mark.parametrize(
    ("section", "line", "words"),
    [
        ('shape = "path"\nd = "M0 0H40V20"\n', 14, "stock.section.d: the path: the outline is open"),
        ('shape = "path"\nfile = "none.svg"\n', 14, 'stock.section.file: no file "none.svg" beside the job file'),
        ('shape = "path"\n', 12, "neither d nor file is said; say one of them"),
        ('shape = "path"\nd = "M0 0H40V20Z"\nfile = "a.svg"\n', 14, "both d and file are said; say one of them"),
        ('shape = "path"\nd = "M0 0H40V20Z"\nid = "a"\n', 15, "id names a path in a file; leave it out with d"),
        ('shape = "path"\nd = "M0 0H40V20Z"\nscale = 0\n', 15, "scale: 0 is out of range. Allowed: a number above 0"),
    ],
)  # fmt: skip
def test_a_job_tells_the_fault_with_its_line(member_of, section, line, words):
    with pytest.raises(JobError) as fault:
        member_of("", section=section)
    assert fault.value.line == line
    assert words in str(fault.value)


def test_an_svg_file_counts_in_the_digest(job_of, tmp_path):
    digests = []
    for width in (40, 41):
        (tmp_path / "section.svg").write_text(SVG.format(head="", body=BOX.replace("40", str(width))))
        digests.append(job_of("", section='shape = "path"\nfile = "section.svg"\n').digest)
    assert digests[0] != digests[1]
