"""Clearing paths, judged by an independent bitmap simulation of the fitted moves."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from sparwright.cutting.clearing import ClearingError, clear_outline

sys.path.insert(0, str(Path(__file__).parent))
import judge as judging


def regular(count: int, side: float) -> Polygon:
    """Regular polygon about the origin."""
    t = np.arange(count) * 2 * np.pi / count + np.pi / 2
    big = side / (2 * np.sin(np.pi / count))
    return Polygon(big * np.column_stack([np.cos(t), np.sin(t)]))


def test_hexagon_keeps_its_engagement():
    radius, depth = 3.0, 0.9
    target = np.arccos(1 - depth / radius)
    shape = regular(6, 24 / np.sqrt(3))
    path = clear_outline(shape, radius, target)
    seen = judging.judge(shape, radius, path.passes, path.links, judging.entry_places(path))
    assert seen.over(1.10 * target) <= 0.001
    assert seen.length <= 1.20 * path.bound
    assert seen.air <= 0.05
    assert seen.gouge <= 0.005
    assert seen.right_share > 0.98


def test_cutter_too_large_is_refused_with_sizes():
    with pytest.raises(ClearingError, match=r"6\.350 mm.*5\.0"):
        clear_outline(box(0, 0, 5, 20), 3.175, 0.8)
