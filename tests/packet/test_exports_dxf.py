"""DXF of the faces and the section, read back by the drawing library."""

import math
from collections import Counter
from dataclasses import replace

import ezdxf
import ezdxf.bbox
import numpy as np
import pytest
import shapely

from sparwright.packet.exports import dxf
from sparwright.stock.drawing import read_drawing


def polygon_of(entity):
    """A closed polyline with its bulges, by the drawing library's own reading of arcs."""
    path = ezdxf.path.make_path(entity)
    return shapely.Polygon([(p.x, p.y) for p in path.flattening(1e-4)])


def test_section_drawing_reads_back_as_the_section(folder, part):
    from sparwright.job.models import DrawnSection

    spec = DrawnSection(shape="drawn", file="section.dxf", chord=0.005)
    again = read_drawing(spec, folder)
    assert again.symmetric_difference(part.section.shape).area < 0.2
    assert again.area == pytest.approx(part.section.shape.area, rel=1e-4)
    assert len(again.interiors) == 1


def test_face_drawing_has_every_feature_on_its_layer(folder, part):
    space = ezdxf.readfile(folder / "face-front.dxf").modelspace()
    pockets = [polygon_of(e) for e in space.query('POLYLINE[layer=="POCKETS"]')]

    def place(p):
        return round(p.centroid.x, 3), p.centroid.y

    drawn = sorted(pockets, key=place)
    laid = sorted((p.outline for p in part.pockets if p.face == "front" and not p.window), key=place)
    assert len(drawn) == len(laid) > 3
    for a, b in zip(drawn, laid, strict=True):
        assert a.symmetric_difference(b).area < 0.02
    arcs = [v.dxf.bulge for v in space.query('POLYLINE[layer=="POCKETS"]')[0].vertices if v.dxf.bulge]
    assert arcs == pytest.approx([math.tan(math.radians(120) / 4)] * 3), "corners are true arcs"
    circles = [(*tuple(c.dxf.center)[:2], c.dxf.radius) for c in space.query('CIRCLE[layer=="HOLES"]')]
    holes = [(*h.at, h.diameter / 2) for h in part.holes if h.face == "front"]
    assert np.array(sorted(circles)) == pytest.approx(np.array(sorted(holes)))
    assert len(space.query('POLYLINE[layer=="NOTCHES"]')) == 1
    assert len(space.query('LINE[layer=="AXIS"]')) == 1


def test_face_drawing_holds_as_many_shapes_as_the_member_has_features(folder, part):
    """Per layer, by the drawing library's count; extents within the face, the note under it."""
    for face in part.worked_faces:
        space = ezdxf.readfile(folder / f"face-{face}.dxf").modelspace()
        counted = Counter((e.dxf.layer, e.dxftype()) for e in space)
        mine = [p for p in part.pockets if p.face == face]
        holes = [h for h in part.holes if h.face == face]
        expected = {
            ("FACE", "POLYLINE"): 1,
            ("AXIS", "LINE"): 1,
            ("NOTES", "TEXT"): 2,
            ("POCKETS", "POLYLINE"): sum(not p.window for p in mine),
            ("WINDOWS", "POLYLINE"): sum(p.window for p in mine),
            ("NOTCHES", "POLYLINE"): sum(n.face == face for n in part.notches),
            ("HOLES", "CIRCLE"): len(holes),
            ("COUNTERBORES", "CIRCLE"): sum(h.counterbore is not None for h in holes),
        }
        assert counted == {key: n for key, n in expected.items() if n}
        width = part.section.face(face).width
        outline = ezdxf.bbox.extents(space.query('POLYLINE[layer=="FACE"]'))
        assert tuple(outline.extmin)[:2] == pytest.approx((0, -width / 2))
        assert tuple(outline.extmax)[:2] == pytest.approx((part.length, width / 2))
        cut = ezdxf.bbox.extents(space.query('POLYLINE[layer=="POCKETS"]'))
        bounds = np.array([p.outline.bounds for p in mine if not p.window])
        # The library bounds an arc by points on it; the outline's own chords are within 0.005 mm of it.
        assert tuple(cut.extmin)[:2] == pytest.approx(bounds[:, :2].min(axis=0), abs=0.01)
        assert tuple(cut.extmax)[:2] == pytest.approx(bounds[:, 2:].max(axis=0), abs=0.01)
        units, note = space.query("TEXT")
        assert units.dxf.text == "Lengths in mm."
        assert note.dxf.text.startswith("Edge breaks are left out: pockets 0.4 mm.")
        assert note.dxf.insert.y + note.dxf.height < units.dxf.insert.y
        assert units.dxf.insert.y + units.dxf.height < -width / 2


def test_section_drawing_says_its_units(folder, part):
    space = ezdxf.readfile(folder / "section.dxf").modelspace()
    (units,) = space.query('TEXT[layer=="NOTES"]')
    assert units.dxf.text == "Lengths in mm."
    assert {e.dxf.layer for e in space} == {"OUTLINE", "CELLS", "NOTES"}
    outline = ezdxf.bbox.extents(space.query('POLYLINE[layer=="OUTLINE"]'))
    assert tuple(outline.size)[:2] == pytest.approx((50, 100), abs=1e-6)


def test_face_without_edge_breaks_has_no_note_on_them(part, tmp_path):
    plain = replace(part, pockets=tuple(replace(p, edge_break=0.0) for p in part.pockets))
    dxf.write_face_dxf(plain, plain.section.face("front"), tmp_path / "f.dxf")
    (units,) = ezdxf.readfile(tmp_path / "f.dxf").modelspace().query("TEXT")
    assert units.dxf.text == "Lengths in mm."


def test_windows_have_a_layer_of_their_own(folder, part):
    face = next(p.face for p in part.pockets if p.window)
    space = ezdxf.readfile(folder / f"face-{face}.dxf").modelspace()
    assert len(space.query('POLYLINE[layer=="WINDOWS"]')) == 1
