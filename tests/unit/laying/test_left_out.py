"""What a drawn frame has that is not drawn anew is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fillwork.laying.left_out import LeftOut, find_left_out
from fillwork.laying.repeats import find_parts, find_repeat
from fillwork.pipeline.laying import lay_drawing
from fillwork.pipeline.laying_inputs import border_from
from fillwork.plans.model import Plan
from tests.bench.patterns import svg_of
from tests.unit.helpers import linework_from_segments

EIGHTHS = np.arange(8) * np.pi / 4


def box(x, y, width, height):
    at = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    return [(*at[k - 1], *at[k]) for k in range(4)]


def star(x, y, reach, points, inner=0.45, turn=0.0):
    angle = np.arange(2 * points) * np.pi / points + turn
    out = reach * np.where(np.arange(2 * points) % 2, inner, 1.0)
    at = np.stack([x + out * np.cos(angle), y + out * np.sin(angle)], axis=1)
    return [(*at[k - 1], *at[k]) for k in range(2 * points)]


def lozenges(start, stop, put):
    rows = []
    for at in np.arange(start, stop, 20.0):
        ring = [(at, 10.0), (at + 10, 0.0), (at + 20, 10.0), (at + 10, 20.0)]
        rows += [(*put(*ring[k - 1]), *put(*ring[k])) for k in range(4)]
    return rows


def teeth(start, stop, put):
    rows = []
    for at in np.arange(start, stop, 10.0):
        tip = put(at + 5, 0.0)
        rows += [(*put(at, 10.0), *tip), (*tip, *put(at + 10, 10.0))]
    return rows


def panel(points, *, second):
    """Return a field of stars, a border of lozenges with stars in its corners.

    `points`: of the four. `second`: whether a border of teeth goes round it.
    """
    width, height = 280.0, 240.0
    rows, rim = box(0, 0, width, height), 0.0
    if second:
        rim = 10.0
        rows += box(rim, rim, width - 20, height - 20)
        for x, y in ((0, 0), (width - 10, 0), (0, height - 10)):
            rows += box(x, y, 10, 10)
        rows += box(width - 10, height - 10, 10, 10)
        rows += teeth(10, width - 10, lambda a, b: (a, b))
        rows += teeth(10, width - 10, lambda a, b: (a, height - b))
        rows += teeth(10, height - 10, lambda a, b: (b, a))
        rows += teeth(10, height - 10, lambda a, b: (width - b, a))
    right, top, inner = width - rim - 20, height - rim - 20, rim + 20
    rows += box(inner, inner, right - inner, top - inner)
    rows += lozenges(inner, right, lambda a, b: (a, rim + b))
    rows += lozenges(inner, right, lambda a, b: (a, top + b))
    rows += lozenges(inner, top, lambda a, b: (rim + b, a))
    rows += lozenges(inner, top, lambda a, b: (right + b, a))
    corners = [(rim, rim), (right, rim), (rim, top), (right, top)]
    for number, (x, y) in zip(points, corners, strict=True):
        rows += box(x, y, 20, 20) + star(x + 10, y + 10, 7, number)
    for x in np.arange(inner + 10, right, 20.0):
        for y in np.arange(inner + 10, top, 20.0):
            rows += star(x, y, 10, 8, inner=0.6, turn=np.pi / 8)
    return np.array(rows), width, height


@pytest.mark.parametrize(
    ("points", "second", "told"),
    [
        ((4, 4, 4, 4), False, None),
        ((4, 4, 4, 4), True, LeftOut(2, 20.0, corners=False)),
        ((4, 5, 4, 5), False, LeftOut(1, 20.0, corners=True)),
    ],
)
def test_a_second_border_and_unlike_corners_are_left_out(points, second, told):
    rows, width, height = panel(points, second=second)
    part = next(find_parts(linework_from_segments(rows, width, height), {2}))
    found = find_left_out(part)
    assert (found is None) == (told is None)
    if told is not None:
        assert found == replace(told, width=pytest.approx(told.width))


def test_what_is_left_out_is_told_when_the_panel_is_laid():
    data = svg_of(panel((4, 5, 4, 4), second=True)[0])
    laying = replace(
        Plan().laying, over=(360.0, 300.0), **border_from(data, "panel.svg", ())
    )
    laid = lay_drawing(data, Plan(laying=laying), name="panel.svg")
    told = [n.text for n in laid.linework.notes if n.type == "left out"]
    assert len(told) == 2
    assert "2 borders" in told[0]
    assert "corners" in told[1]


def test_a_field_of_figures_on_one_ground_shows_its_repeat():
    rows, width, height = panel((4, 4, 4, 4), second=False)
    found = find_repeat(linework_from_segments(rows, width, height))
    assert found is not None
    # a star stands in each square of 20 mm
    assert abs(np.linalg.det(found.way.basis)) == pytest.approx(400.0)


@pytest.mark.parametrize("off", [0.0, 40.0])
def test_figures_that_a_medallion_hides_are_not_missing_from_the_repeat(off):
    # stars of sixteen sides on one ground, none within 41 mm of a disc of 30 mm
    width, height, at = 280.0, 240.0, np.array([140.0 + off, 120.0])
    rows = box(0, 0, width, height)
    for x in np.arange(10, width, 20.0):
        for y in np.arange(10, height, 20.0):
            if np.hypot(*(at - [x, y])) > 41:
                rows += star(x, y, 9, 8, inner=0.6, turn=np.pi / 8)
    rim = at + 30 * np.stack([np.cos(EIGHTHS), np.sin(EIGHTHS)], axis=1)
    rows += [(*rim[k - 1], *rim[k]) for k in range(8)]
    rows += [(*at, *tip) for tip in rim]
    laying = replace(Plan().laying, over=(400.0, 300.0))
    laid = lay_drawing(svg_of(np.array(rows)), Plan(laying=laying), name="stars.svg")
    assert laid.open_joins == ()
    # of each repeat one star, whichever way it is cut
    assert laid.motif.curves.lengths().sum() == pytest.approx(16 * side_of_star())
    assert (laid.medallion is not None) == (off == 0)
    told = [n.text for n in laid.linework.notes if n.type == "medallion"]
    assert len(told) == (off > 0)


def side_of_star():
    (side,) = star(0, 0, 9, 8, inner=0.6)[:1]
    return np.hypot(side[2] - side[0], side[3] - side[1])
