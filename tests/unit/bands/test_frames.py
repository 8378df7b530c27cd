"""Bands that a frame cuts, against strands known from the graph of the pattern."""

from __future__ import annotations

import pytest

from tests.bench.bands import panel, score


@pytest.mark.parametrize(
    ("kind", "name", "noise"),
    [
        # a scrap beyond a crossing lies in the way of two bands there
        ("plain", "3.12^2", 0.0),
        # middles of bands of which the frame leaves less than the one half
        ("middle line", "6^3", 0.0),
        # a rail that a hand's faults part from the frame by two short edges
        ("two widths, middle line, woven", "4^4", 0.01),
    ],
)
def test_what_a_frame_cuts_is_one_strand_and_no_other(kind, name, noise) -> None:
    one = score(panel(kind, name, noise, 50117))
    assert one.whole == one.strands
    assert one.crossed == one.crossings
