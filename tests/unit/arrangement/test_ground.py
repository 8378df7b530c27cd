"""What the page's edge closes nearly all round is the ground."""

from __future__ import annotations

import pytest

from fillwork.arrangement.build import build_arrangement
from tests.unit.helpers import circle, line, linework_from_curves


def test_a_figure_that_runs_off_the_page_leaves_the_ground_open() -> None:
    # two circles cut by the sides of the page, one within
    rows = [circle(0, 50, 10), circle(100, 50, 10), circle(50, 50, 10)]
    found = build_arrangement(linework_from_curves(rows))
    assert found.face_count - 1 == 3
    assert found.cut.sum() == 2


def test_asked_for_the_page_closes_the_ground_too() -> None:
    rows = [circle(0, 50, 10), circle(100, 50, 10), circle(50, 50, 10)]
    found = build_arrangement(linework_from_curves(rows), page_edge="close")
    assert found.face_count - 1 == 4
    assert found.area.sum() == pytest.approx(100 * 100)


def test_halves_of_the_page_are_regions() -> None:
    found = build_arrangement(linework_from_curves([line(50, 0, 50, 100)]))
    assert found.face_count - 1 == 2
    assert found.cut.all(where=[False, True, True])
