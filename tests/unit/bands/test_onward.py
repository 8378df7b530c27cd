"""Pieces that a frame leaves one rail of, and where these go on: by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.links import Pieces
from fillwork.bands.onward import links_by_rails
from fillwork.bands.pieces import read_faces
from fillwork.bands.runs import find_runs
from tests.unit.helpers import linework_from_segments, polyline


def linked(over=6.0, aside=0.0, lean=0.0, through=False, told=True):
    """Return which faces go on in each other where a frame cuts a band lengthwise.

    Its one rail lies at y = 40, 40 mm within the frame, and passes under an upright
    band `over` wide, beyond which it lies so far aside and leans by so many degrees.
    `through`: it is drawn through that band. `told`: whether that band is known.
    """
    a, b = 100 - over / 2, 100 + over / 2
    rise = math.tan(math.radians(lean))
    far = [200, 40 + aside + rise * 100]
    # turned about the middle of what lies between
    near = [b, 40 + aside + rise * over / 2]
    rows = [[a, 0, a, 200], [b, 0, b, 200], [0, 40, a, 40], [*near, *far]]
    if through:
        rows.append([a, 40, b, 40])
    frame = polyline([(0, 0), (200, 0), (200, 200), (0, 200)], closed=True)
    work = linework_from_segments(np.vstack([rows, frame]), 200, 200)
    arrangement = build_arrangement(work, close_gaps=0.0)
    left, right, middle, upper = arrangement.faces_at(
        np.array([[50.0, 20], [150, 20], [100, 20], [100, 150]])
    ).tolist()
    runs = find_runs(arrangement)
    pieces = Pieces(arrangement, runs, read_faces(arrangement, runs), None)
    pieces.alive[:] = False
    band = np.isin(np.arange(arrangement.face_count), [upper] if told else [])
    none = np.zeros(2 * len(pieces.alive), bool)
    found = links_by_rails(pieces, band, none[: len(band)] & False, none, 6.0)
    names = {left: "left", right: "right", middle: "over"}
    return [
        (*(names.get(int(v), "else") for v in row[:3]), round(float(row[3]), 6))
        for row in zip(*found, strict=True)
    ]


@pytest.mark.parametrize(("how", "on"), [
    ({}, True),
    # up to five widths of 6 mm out of sight
    ({"over": 29.0}, True), ({"over": 31.0}, False),
    # a tenth of a width off, on either side
    ({"aside": 0.5}, True), ({"aside": -0.5}, True),
    ({"aside": 0.7}, False), ({"aside": -0.7}, False),
    # turned by 14 degrees a width, or nine in all
    ({"lean": 13.5}, True), ({"lean": -13.5}, True),
    ({"lean": 14.5}, False), ({"lean": -14.5}, False),
    ({"lean": 8.5, "over": 2.0}, True), ({"lean": 9.5, "over": 2.0}, False),
    ({"lean": 20.0, "over": 9.0}, True), ({"lean": 22.0, "over": 9.0}, False),
    # by more than 4.5 degrees it is curved, and may lie twice as far off
    ({"lean": 5.0, "aside": 1.0}, True), ({"lean": 4.0, "aside": 1.0}, False),
    ({"lean": 5.0, "aside": 1.4}, False),
])  # fmt: skip
def test_one_rail_goes_on_in_line_under_a_band(how, on) -> None:
    # what lies on the other side of the rail is at the frame as well
    pairs = linked(**how)
    assert [{*row[:2]} for row in pairs] == [{"left", "right"}, {"else"}][: 2 * on]
    for *_, between, apart in pairs:
        assert between == "over"
        if set(how) <= {"over"}:
            assert apart == pytest.approx(how.get("over", 6.0))


def test_a_rail_that_is_drawn_on_goes_on() -> None:
    # between the two faces lies what the frame leaves of the crossing
    for how in ({}, {"told": False}):
        rows = [r for r in linked(through=True, **how) if r[2] == "over"]
        assert [{*row[:2]} for row in rows] == [{"left", "right"}]
        assert rows[0][3] == pytest.approx(6.0)
