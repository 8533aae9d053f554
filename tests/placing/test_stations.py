"""Stations: greedy against dynamic programming, the hand case, and seams in the widest ribs."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparwright.placing.stations import TooLong, fewest, merged, plan_stations


def fewest_by_dynamic_programming(clusters: list[tuple[float, float]], window: float) -> int:
    need = [0] + [10**9] * len(clusters)
    for i in range(1, len(clusters) + 1):
        for j in range(i):
            if clusters[i - 1][1] - clusters[j][0] <= window:
                need[i] = min(need[i], need[j] + 1)
    return need[-1]


spans = st.lists(
    st.tuples(st.floats(0, 3000), st.floats(0.1, 60)).map(lambda t: (t[0], t[0] + t[1])),
    min_size=1,
    max_size=40,
)


@settings(max_examples=300, deadline=None)
@given(spans, st.floats(60, 900))
def test_greedy_needs_no_more_stations_than_dynamic_programming(
    features: list[tuple[float, float]], window: float
) -> None:
    clusters = merged(features)
    if any(high - low > window for low, high in clusters):
        with pytest.raises(TooLong):
            fewest(clusters, window)
        return
    count = fewest(clusters, window)
    assert count == fewest_by_dynamic_programming(list(clusters), window)
    stations = plan_stations(features, window, 3100)
    assert len(stations.ranges) == count
    assert stations.ranges[0][0] == 0
    assert stations.ranges[-1][1] == 3100
    for low, high in stations.ranges:
        inside = [c for c in clusters if low <= c[0] and c[1] <= high]
        assert inside[-1][1] - inside[0][0] <= window
    assert sum(
        len([c for c in clusters if low <= c[0] and c[1] <= high]) for low, high in stations.ranges
    ) == len(clusters)


def test_forty_eight_hexagons_take_four_stations() -> None:
    """48 pockets at 30 mm pitch, 26 mm of centre positions each, reach 390: 13 to a station."""
    pockets = [(30.0 * i, 30.0 * i + 26) for i in range(48)]
    assert len(plan_stations(pockets, 390, 1440).ranges) == 4
    assert len(plan_stations(pockets, 385, 1440).ranges) == 4
    assert len(plan_stations(pockets[:13], 390, 400).ranges) == 1


def test_the_seam_goes_to_the_middle_of_the_widest_rib() -> None:
    # Greedy would cut after the third; the wide rib lies after the second and needs no more stations.
    stations = plan_stations([(0, 10), (20, 30), (60, 70), (75, 85), (95, 105)], 75, 110)
    assert stations.ranges == ((0, 45), (45, 110))
    assert stations.seams == (30,)


def test_a_run_longer_than_the_reach_is_refused_with_its_place() -> None:
    with pytest.raises(TooLong, match=r"between x = 0\.0 and 100\.0 mm .* one station reaches 80\.0 mm"):
        plan_stations([(0, 50), (50, 100), (120, 130)], 80, 200)
