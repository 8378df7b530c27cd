"""Bands with lines along them, against strands known from the graph of the pattern."""

from __future__ import annotations

import pytest

from tests.bench.bands import score
from tests.bench.strapwork import strapwork


@pytest.mark.parametrize("lines", [(-1 / 6, 1 / 6), (-0.1, 0.1)])
@pytest.mark.parametrize("woven", [False, True])
def test_a_band_with_two_middle_lines_is_one(lines, woven: bool) -> None:
    # in thirds, and two lines close together along the middle
    work = strapwork(
        "4.8^2", edge=20, side=100, angle=55, width=3.0, lined=lines, woven=woven
    )
    one = score(work)
    assert one.unseen == 0
    assert one.whole == one.strands
    assert one.found == one.regions
    assert one.false == 0
    assert one.crossed == one.crossings
