"""Strokes followed through joints without a corner."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.smooth_lines import find_smooth_lines
from tests.unit.helpers import arc, line, linework_from_curves, polyline


def smooth(rows, stroke=None):
    curves = linework_from_curves(rows).curves
    own = (
        np.zeros(len(rows), np.int32) if stroke is None else np.array(stroke, np.int32)
    )
    return find_smooth_lines(curves, own, curves.lengths())


def bent(degrees):
    a = math.radians(degrees)
    return [line(0, 0, 10, 0), line(10, 0, 10 + 5 * math.cos(a), 5 * math.sin(a))]


def rounded(degrees):
    """Return a line and an arc that leaves its end at an angle."""
    a = math.radians(degrees)
    centre = 10 - 4 * math.sin(a), 4 * math.cos(a)
    return [line(0, 0, 10, 0), arc(*centre, 4, a - math.pi / 2, a)]


# straight lines turn by less than the 18.2 degrees of a cosine of 0.95, which is less
# than a dodecagon's 30; beside a curve by less than the 31.8 of 0.85
@pytest.mark.parametrize(
    ("rows", "one"),
    [
        (bent(18), True),
        (bent(18.5), False),
        (rounded(31.5), True),
        (rounded(32), False),
    ],
)
def test_a_line_goes_on_where_it_turns_little(rows, one) -> None:
    found = smooth(rows)
    assert found.run.tolist() == ([0, 0] if one else [0, 1])
    assert found.closed.tolist() == [False] * len(found.first)
    # another stroke is another line
    assert smooth(rows, [0, 1]).run.tolist() == [0, 1]


def test_what_does_not_begin_where_another_ends_is_a_line_of_its_own() -> None:
    rows = [line(0, 0, 10, 0), line(10.001, 0, 20, 0), line(20, 0, 30, 0)]
    assert smooth(rows).run.tolist() == [0, 1, 1]
    back = [line(0, 0, 10, 0), line(10, 0, 4, 0)]
    assert smooth(back).run.tolist() == [0, 1]


def test_polygons_of_many_sides_are_closed_lines_and_dodecagons_are_not() -> None:
    for sides, closed in ((12, False), (24, True)):
        way = 2 * math.pi * np.arange(sides) / sides
        ring = 30 * np.column_stack([np.cos(way), np.sin(way)])
        found = smooth([line(*row) for row in polyline(ring, closed=True).tolist()])
        assert len(found.first) == (1 if closed else sides)
        assert found.closed.tolist() == ([True] if closed else [False] * sides)


def test_places_along_a_line_are_told_in_millimetres_and_as_keys() -> None:
    rows = [line(0, 0, 10, 0), line(10, 0, 40, 0), line(40, 0, 40, 60)]
    found = smooth(rows)
    assert (found.first.tolist(), found.last.tolist()) == ([0, 2], [1, 2])
    assert found.total.tolist() == [40, 60]
    assert found.offset.tolist() == [0, 10, 0]
    curve, t = np.array([0, 1, 1, 2, 1]), np.array([0.5, 0.5, 2.0, 0.25, -1.0])
    assert found.places(curve, t).tolist() == [5, 25, 40, 15, 10]
    keys = found.keys(curve, t)
    assert keys == pytest.approx([5 / 40, 25 / 40, 1, 1.25, 10 / 40], abs=1e-8)
    assert keys[2] < 1
