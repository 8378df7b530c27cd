"""Bands with lines along them, against strands known from the graph of the pattern."""

from __future__ import annotations

import pytest

from tests.bench.bands import panel as measured_panel
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


def test_what_a_frame_leaves_of_a_band_is_known_by_its_middle_line() -> None:
    # bands bend right at the frame, which leaves no rail of some on the one side
    kind = "two widths, middle line, woven"
    one = score(measured_panel(kind, "3^2.4.3.4", 0.0, 81307))
    assert one.found >= 0.97 * one.regions
    assert one.whole >= 0.95 * one.strands
    assert one.false == 0


@pytest.mark.parametrize(
    ("kind", "seed"),
    [("middle line, woven", 92601), ("two widths, middle line", 92411)],
)
def test_a_frame_in_line_with_a_middle_line_is_none(kind: str, seed: int) -> None:
    # a band that the corner cuts has a middle line that faces the frame's side
    one = score(measured_panel(kind, "3.6.3.6", 0.0, seed))
    assert one.found == one.regions
    assert one.false == 0
    assert one.whole >= 0.9 * one.strands
