"""Bars of what is kept: one bar a figure, to scale, with the wish marked where it was said."""

import re
import xml.etree.ElementTree as ET

import pytest

from sparwright.packet.stiffness_bars import BAR, LABEL, ROWS, stiffness_bars

KEPT = {"mass": 0.76, "EA": 0.69, "EIy": 0.89, "EIz": 0.59, "GJ": 0.56, "GAy": 1.01, "GAz": 0.49}
WINDOWS = {"mass": 0.66, "EA": 0.54, "EIy": 0.83, "EIz": 0.41, "GJ": 0.24, "GAy": 1.15, "GAz": 0.18}


def bars(svg, fill):
    """Lengths of all bars of a fill, top to bottom."""
    found = []
    for path in ET.fromstring(svg):
        if path.get("fill") == fill and path.get("d", "").endswith("Z"):
            x = [float(n) for n in re.findall(r"[ML](-?[\d.]+) ", path.get("d"))]
            found.append(max(x) - min(x))
    return found


def test_lengths_are_in_proportion():
    svg = stiffness_bars(KEPT, WINDOWS)
    grey, white = bars(svg, "#aaa"), bars(svg, "#fff")
    scale = grey[0] / KEPT["mass"]
    assert [n / scale for n in grey] == pytest.approx([KEPT[k] for k, _ in ROWS], abs=1e-3)
    assert [n / scale for n in white] == pytest.approx([WINDOWS[k] for k, _ in ROWS], abs=1e-3)


def test_without_windows_there_are_no_open_bars():
    assert bars(stiffness_bars(KEPT, None), "#fff") == []


def test_a_wish_is_a_heavy_tick_at_its_share():
    svg = stiffness_bars(KEPT, WINDOWS, wishes={"GJ": 0.45, "EA": None})
    heavy = [p for p in ET.fromstring(svg) if p.get("stroke-width") == "0.8"]
    assert len(heavy) == 1
    x = [float(n) for n in re.findall(r"[ML](-?[\d.]+) ", heavy[0].get("d"))]
    scale = bars(svg, "#aaa")[0] / KEPT["mass"]
    assert x == pytest.approx([LABEL + 0.45 * scale] * 2, abs=1e-2)


def test_every_share_is_written_and_nothing_runs_off_the_sheet():
    svg = stiffness_bars(KEPT, WINDOWS, {k: 0.02 for k in KEPT})
    root = ET.fromstring(svg)
    width = float(root.get("width")[:-2])
    texts = {t.text for t in root.iter("{http://www.w3.org/2000/svg}text")}
    assert {f"{100 * v:.1f} %" for v in (*KEPT.values(), *WINDOWS.values())} <= texts
    assert LABEL + max(WINDOWS.values()) * bars(svg, "#aaa")[0] / KEPT["mass"] + 4 * BAR < width


def test_its_text_is_9_pt():
    sizes = [t.get("font-size") for t in ET.fromstring(stiffness_bars(KEPT, WINDOWS)).iter() if t.text]
    assert len(sizes) > 20
    assert min(map(float, sizes)) >= 9 / 72 * 25.4
