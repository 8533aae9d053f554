"""The second example: a drawn section of two cells, skinned pockets above, open slots below."""

import importlib.util
import math

import pytest
import shapely

from sparwright.job.models import DrawnSection
from sparwright.job.reading import load_job
from sparwright.stock.drawing import read_drawing
from sparwright.stock.member import build_member
from sparwright.stock.section import wall_thickness
from sparwright.stock.solids import member_solid


@pytest.fixture(scope="module")
def rail(examples):
    return build_member(load_job(examples / "webbed-rail" / "job.toml"))


def test_committed_drawing_is_what_its_script_draws(examples, tmp_path):
    folder = examples / "webbed-rail"
    text = (folder / "section.dxf").read_bytes()
    assert text.isascii()
    place = importlib.util.spec_from_file_location("draw_section", folder / "draw_section.py")
    script = importlib.util.module_from_spec(place)
    place.loader.exec_module(script)
    script.draw(tmp_path / "section.dxf")
    assert (tmp_path / "section.dxf").read_text().split() == text.decode().split()


def test_section_area_by_sums(examples):
    """70 x 40 less its corners, two 90 degree ridges 5 high, less two cells 30 x 32 with their fillets."""
    fine = read_drawing(DrawnSection(shape="drawn", file="section.dxf", chord=1e-4), examples / "webbed-rail")
    corner = 1 - math.pi / 4
    outline = 70 * 40 - 4 * corner * 1.5**2 + 2 * 5 * 5
    cells = 2 * (30 * 32 - 4 * corner * 2.5**2)
    assert fine.area == pytest.approx(outline - cells, rel=1e-5)
    assert fine.bounds == pytest.approx((0, 0, 80, 40))


def test_walls_between_three_and_four(rail):
    section = rail.section
    assert wall_thickness(section, section.face("top"), 20) == pytest.approx(4)
    assert wall_thickness(section, section.face("front"), 0) == pytest.approx(3.5)
    assert wall_thickness(section, section.face("top"), 0) == pytest.approx(40)


def test_running_edges_are_faces_of_their_own(rail):
    slants = sorted(f.name for f in rail.section.faces if f.name.startswith("slant"))
    assert slants == ["slant-135", "slant-225", "slant-315", "slant-45"]


def test_pockets_above_and_windows_below(rail):
    top = [p for p in rail.pockets if p.face == "top"]
    bottom = [p for p in rail.pockets if p.face == "bottom"]
    assert len(bottom) == 30
    assert all(p.window and p.depth == pytest.approx(4) for p in bottom)
    assert all(p.skin == 1.2 and p.depth == pytest.approx(2.8) for p in top)
    assert {d.reason for d in rail.dropped} == {"enters keep-clear zone label"}
    assert any(p.origin[1] == pytest.approx(0) for p in top), "a row runs over the web"
    web = shapely.box(0, -4, 900, 4)
    assert all(p.outline.disjoint(web) for p in bottom)


def test_only_windows_and_holes_break_through(rail):
    """Two cells give genus 2; each window and each hole through a wall one more."""
    assert member_solid(rail).genus() == 2 + 30 + 6
