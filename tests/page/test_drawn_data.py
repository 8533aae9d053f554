"""What the pictures drawn in the page are given: shares kept, the machine's links, ghosts of the errors."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from shapely.geometry import box

from sparwright.answers import Finding, Verdict, answer
from sparwright.loop.serve import serve
from sparwright.loop.stretches import plain_stretches, worked_stretches
from sparwright.packet.figures import Display
from sparwright.page.bands import band_of
from sparwright.page.pictures.bed import build as build_bed
from sparwright.page.pictures.error import build as build_error
from sparwright.page.pictures.error import ghost
from sparwright.page.pictures.kept import build as build_kept
from sparwright.page.pictures.paths import build as build_paths
from sparwright.page.pictures.playback import build as build_playback
from sparwright.page.pictures.served import build as build_served
from sparwright.page.quick import quick_stiffness
from sparwright.placing.error import FeatureError
from sparwright.stiffness.fast import fast_model, intact_properties


def test_the_bars_are_the_quick_answers_figures(bridge_job, bridge_member):
    rows = {r["key"]: r for r in build_kept(bridge_job, bridge_member).meta["rows"]}
    found = {f.name: f for f in quick_stiffness(bridge_job, bridge_member).findings}
    for key, name in (("GJ", "twist kept"), ("EIy", "bending kept, moving in z")):
        assert 100 * rows[key]["kept"] == pytest.approx(found[name].value)
        assert 100 * rows[key]["spread"] == pytest.approx(found[name].spread)
        assert 100 * rows[key]["wish"] == pytest.approx(found[name].limit)
        assert rows[key]["windows"] < rows[key]["kept"]


def test_the_link_named_first_is_the_weakest(bridge_job, bridge_member):
    intact = intact_properties(bridge_member.section, bridge_member.material)
    worked = worked_stretches(bridge_member, intact, fast_model(bridge_member)[0])
    result = serve(bridge_member, plain_stretches(bridge_member, intact), worked, bridge_job.served)
    found = build_served(SimpleNamespace(stiff=SimpleNamespace(served=result))).meta
    names, shares = zip(*found["links"], strict=True)
    assert names[0] == result.after.weakest
    assert list(shares) == sorted(shares, reverse=True)
    assert 0.9 < sum(shares) <= 1 + 1e-9
    assert names[0] in found["svg"]
    assert build_served(SimpleNamespace(stiff=SimpleNamespace(served=None))).meta["svg"] is None


def test_where_nothing_is_cut_pictures_say_so_instead_of_being_drawn(bridge_job, bridge_member):
    bare = replace(bridge_member, pockets=(), holes=(), notches=())
    assert "There is nothing to cut" in build_bed(bridge_job, bare).meta["nothing"]
    for build in (build_paths, build_playback):
        assert build(()).meta["nothing"] == "There are no programs."


def test_a_ghost_reaches_as_far_as_the_error_says():
    found = ghost(box(10, 20, 30, 26), FeatureError("front", "p", (20, 23), 0.05, 0.02), 20)
    assert found.bounds == pytest.approx((8, 19.2, 32, 26.8))


def test_every_feature_has_its_ghost_round_it(bridge_job, bridge_member):
    found = build_error(bridge_job, bridge_member)
    assert found.meta["factor"] > 1
    for i, side in enumerate(found.meta["sides"]):
        features = sum(
            f.face == side["name"]
            for f in (*bridge_member.pockets, *bridge_member.holes, *bridge_member.notches)
        )
        begins, where = found.arrays[f"begins_{i}"], found.arrays[f"where_{i}"]
        assert len(begins) == len(where) == features + 1
        for k in range(features):
            inner = found.arrays[f"outline_{i}"][begins[k] : begins[k + 1]]
            outer = found.arrays[f"ghost_{i}"][where[k] : where[k + 1]]
            assert (np.ptp(outer, axis=0) > np.ptp(inner, axis=0)).all()


@pytest.mark.parametrize(
    ("value", "limit", "margin", "words"),
    [
        (6091.0, 8170.0, -2079.0, "6091 N, at least 8170 N wanted: 2079 N too little"),
        (9000.0, 8170.0, 830.0, "9000 N, at least 8170 N wanted: 830 N to spare"),
        (40.0, 30.0, -10.0, "40 N, at most 30 N wanted: 10 N too much"),
        (20.0, 30.0, 10.0, "20 N, at most 30 N wanted: 10 N to spare"),
    ],
)
def test_a_bands_margin_is_told_in_plain_words(value, limit, margin, words):
    verdict = Verdict.GO if margin > 0 else Verdict.CAUTION
    band = band_of(
        answer(1, "", [Finding("thread", verdict, value, "N", limit, margin)]),
        "plan",
        "x",
        Display(inch=True),
    )
    assert band["margin"]["words"] == f"thread {words}"
