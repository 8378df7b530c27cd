"""What zones are called: a second field, and corners within an outer frame."""

from __future__ import annotations

import numpy as np

from fillwork.arrangement.build import build_arrangement
from fillwork.symmetry.zones.find import find_zones
from tests.unit.helpers import linework_from_segments


def _box(x0, y0, x1, y1):
    return [[x0, y0, x1, y0], [x1, y0, x1, y1], [x1, y1, x0, y1], [x0, y1, x0, y0]]


def _crossed(x0, y0, x1, y1, wide, high):
    """Return rectangles with both diagonals."""
    rows = []
    for x in np.arange(x0, x1 - 1e-9, wide):
        for y in np.arange(y0, y1 - 1e-9, high):
            rows += [[x, y, x + wide, y + high], [x, y + high, x + wide, y]]
            rows += _box(x, y, x + wide, y + high)[:2]
    return rows


def _roles(rows):
    drawing = linework_from_segments(np.array(rows, float) + 5, 260, 200)
    zones = find_zones(build_arrangement(drawing))
    return [z.role for z in zones if z.symmetry.group.family != "none"]


def test_a_second_field_within_a_plain_frame_is_a_field():
    rows = _box(0, 0, 220, 120) + _box(10, 10, 110, 110) + _box(110, 10, 210, 110)
    rows += _crossed(10, 10, 110, 110, 20, 20)
    # squares with a small rectangle in each
    for x in np.arange(110, 210, 25):
        for y in np.arange(10, 110, 25):
            rows += _box(x, y, x + 25, y + 25) + _box(x + 5, y + 8, x + 20, y + 17)
    assert _roles(rows) == ["field", "field"]


def test_corner_squares_of_an_inner_border_are_corners():
    rows = _box(0, 0, 220, 160) + _box(10, 10, 210, 150) + _box(30, 30, 190, 130)
    for x in (30, 190):
        rows += [[x, 10, x, 30], [x, 130, x, 150]]
    for y in (30, 130):
        rows += [[10, y, 30, y], [190, y, 210, y]]
    for x in np.arange(30, 190, 20):
        for y in (10, 130):
            rows += [[x, y, x + 10, y + 20], [x + 10, y + 20, x + 20, y]]
    for y in np.arange(30, 130, 20):
        for x in (10, 190):
            rows += [[x, y, x + 20, y + 10], [x + 20, y + 10, x, y + 20]]
    for x in (10, 190):
        for y in (10, 130):
            rows += [[x, y, x + 20, y + 20], [x, y + 20, x + 20, y]]
            rows += [[x + 10, y, x + 20, y + 10], [x + 20, y + 10, x + 10, y + 20]]
            rows += [[x + 10, y + 20, x, y + 10], [x, y + 10, x + 10, y]]
    rows += _crossed(30, 30, 190, 130, 32, 25)
    assert sorted(_roles(rows)) == ["border"] * 4 + ["corner"] * 4 + ["field"]
