"""The warning that twist mixes with racking: where it speaks, what it says, what it refuses."""

import pytest

from sparwright.loop.racking_note import racking_warning


def test_it_speaks_from_the_stated_share_on():
    assert racking_warning(249.0, 1000.0) == ""
    words = racking_warning(946.6, 1792.9)
    assert "947 Hz is 53 % of the 1793 Hz" in words
    assert "the true one may be lower" in words
    assert "end plates or a bulkhead" in words
    assert "may be as low as 833 Hz" in racking_warning(946.6, 1792.9, 833.4)


@pytest.mark.parametrize("pair", [(0.0, 100.0), (100.0, 0.0), (100.0, float("nan"))])
def test_frequencies_that_are_none(pair):
    with pytest.raises(ValueError, match="above 0 Hz"):
        racking_warning(*pair)
