"""Arcs read back from chords."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon, box

from sparwright.stiffness.outline import enclosed_area, inner_corners, polygon_edges, ring_edges


def edges_of(shape):
    return ring_edges(np.asarray(shape.exterior.coords))


def test_rounded_box_is_four_lines_and_four_arcs():
    shape = box(0, 0, 50, 100).buffer(-4).buffer(4, quad_segs=16)
    edges = edges_of(shape)
    assert [e.middle is not None for e in edges].count(True) == 4
    assert len(edges) == 8
    assert enclosed_area(edges) == pytest.approx(5000 - (4 - math.pi) * 16, rel=1e-9)


def test_circle_is_two_arcs_of_its_true_area():
    edges = edges_of(Point(3, -2).buffer(20, quad_segs=500))
    assert len(edges) == 2
    assert enclosed_area(edges) == pytest.approx(math.pi * 400, rel=1e-9)


@pytest.mark.parametrize("sides", [3, 4, 6, 12])
def test_regular_polygons_keep_their_corners(sides):
    angles = 2 * np.pi * np.arange(sides) / sides
    shape = Polygon(np.column_stack([10 * np.cos(angles), 10 * np.sin(angles)]))
    edges = edges_of(shape)
    assert len(edges) == sides
    assert all(e.middle is None for e in edges)


def test_coarse_circle_that_may_be_meant_as_a_polygon_stays_straight():
    shape = Point(0, 0).buffer(50, quad_segs=8)
    assert all(e.middle is None for e in edges_of(shape))


@settings(max_examples=60, deadline=None)
@given(
    width=st.floats(20, 200),
    height=st.floats(20, 200),
    share=st.floats(0.02, 0.49),
    steps=st.integers(12, 64),
    start=st.integers(0, 40),
)
def test_area_and_closure_whatever_the_start(width, height, share, steps, start):
    radius = share * min(width, height)
    ring = np.asarray(
        box(0, 0, width, height).buffer(-radius).buffer(radius, quad_segs=steps).exterior.coords
    )
    ring = np.roll(ring[:-1], start, axis=0)
    edges = ring_edges(ring, sagitta=1.0)
    assert all(a.end == b.start for a, b in zip(edges, edges[1:] + edges[:1], strict=True))
    exact = width * height - (4 - math.pi) * radius**2
    assert enclosed_area(edges) == pytest.approx(exact, rel=1e-4)
    assert len(edges) <= 8


def test_free_curve_becomes_few_edges_of_the_same_area():
    t = np.linspace(0, 2 * np.pi, 4001)[:-1]
    radius = 40 + 3 * np.cos(3 * t)
    ring = np.column_stack([radius * np.cos(t), radius * np.sin(t)])
    edges = ring_edges(ring)
    assert len(edges) < 200
    assert enclosed_area(edges) == pytest.approx(Polygon(ring).area, rel=1e-4)


def test_inner_corners_are_those_that_point_into_the_metal():
    angle = box(0, 0, 60, 40).difference(box(5, 5, 61, 41))
    assert inner_corners(polygon_edges(angle)) == ((5.0, 5.0),)
    tube = box(0, 0, 50, 100).difference(box(4, 4, 46, 96))
    assert sorted(inner_corners(polygon_edges(tube))) == [(4, 4), (4, 96), (46, 4), (46, 96)]
    rounded = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(15, quad_segs=64))
    assert inner_corners(polygon_edges(rounded)) == ()


def test_too_few_corners_are_refused():
    with pytest.raises(ValueError, match="at least three corners"):
        ring_edges(np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 0.0]]))
