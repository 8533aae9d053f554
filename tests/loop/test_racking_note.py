"""The warning that twist mixes with racking: where it speaks, what it says, what it refuses."""

import pytest

from sparwright.loop.racking_note import racking_warning


def test_it_speaks_from_the_stated_share_on():
    assert racking_warning(349.0, 1000.0) == ""
    words = racking_warning(951.8, 1276.0)
    assert "952 Hz is 75 % of the 1276 Hz" in words
    assert "the true one is lower" in words
    assert "end plates or a bulkhead" in words


@pytest.mark.parametrize("pair", [(0.0, 100.0), (100.0, 0.0), (100.0, float("nan"))])
def test_frequencies_that_are_none(pair):
    with pytest.raises(ValueError, match="above 0 Hz"):
        racking_warning(*pair)
