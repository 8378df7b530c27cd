"""Edges inside one fill: which shapes turn twice round a place, and their rims."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.readers.strokes.crossed import (
    _crossed_items,
    _on_other_curves,
    drop_inner_edges,
)
from fillwork.readers.strokes.outlines import measure_lengths
from tests.unit.readers.strokes.tables import Row, arc, box, polygon, table

if TYPE_CHECKING:
    from fillwork.readers.strokes.collect import StrokeTable

BACK = polygon((2, 2), (2, 4), (4, 4), (4, 2))


def spent(steps: int) -> None:
    assert steps >= 0


def star(radius: float, x: float = 0.0) -> list[Row]:
    """A star of five points drawn in one go."""
    angles = [math.radians(90 + 144 * k) for k in range(5)]
    return polygon(*((x + radius * math.cos(a), radius * math.sin(a)) for a in angles))


@pytest.mark.parametrize(
    ("rings", "crossed"),
    [
        ([box(0, 0, 9, 9)], False),
        ([star(5)], True),
        # beside each other, overlapping, one in the other, a hole
        ([box(0, 0, 9, 9), box(9, 0, 9, 9)], False),
        ([box(0, 0, 9, 9), box(8, 0, 9, 9)], True),
        ([box(0, 0, 9, 9), box(2, 2, 2, 2)], True),
        ([box(0, 0, 9, 9), BACK], False),
        # by a millionth of the area, or less
        ([box(0, 0, 10, 10), box(10 - 1e-4, 0, 10, 10)], True),
        ([box(0, 0, 10, 10), box(10 - 1e-6, 0, 10, 10)], False),
        # a figure of eight turns the other way in its second half
        ([polygon((0, 0), (4, 4), (4, 0), (0, 4))], True),
        ([[arc(0, 0, 5, 0, 360)], [arc(0, 0, 3, 360, 0)]], False),
        ([[arc(0, 0, 5, 0, 360)], [arc(0, 0, 3, 0, 360)]], True),
    ],
)
@pytest.mark.parametrize("big", [1e-3, 1.0, 1e3])
def test_shapes_that_turn_twice_round_a_place(
    rings: list[list[Row]], crossed: bool, big: float
) -> None:
    told = table(box(-30, -30, 5, 5), *rings, closed=True)
    told.item[1:] = 1
    told.data[:, :6] *= big
    got = _crossed_items(told, np.zeros(2, bool), spent)
    assert got.tolist() == [1] * crossed


def rim_length(told: StrokeTable, even_odd: bool = False, fills: bool = True) -> float:
    rules = np.full(int(told.item.max()) + 1, even_odd)
    got = drop_inner_edges(told, np.full(len(told.closed), fills), rules, spent)
    return float(measure_lengths(got.kind, got.data).sum())


def test_a_star_keeps_its_rim() -> None:
    # sides of 2 r cos 18°; points cut each at the golden ratio twice: of a side
    # 1 : 1/φ : 1 lie at the points and inside, so 2 / (2 + 1/φ) is its rim
    side = 2 * 5 * math.cos(math.radians(18))
    golden = (1 + math.sqrt(5)) / 2
    whole = table(star(5), closed=True)
    assert rim_length(whole) == pytest.approx(5 * side * 2 / (2 + 1 / golden))
    for left in (rim_length(whole, even_odd=True), rim_length(whole, fills=False)):
        assert left == pytest.approx(5 * side)


def test_rings_that_overlap_keep_the_rim_of_both() -> None:
    # squares of 10 that overlap by 4 by 4: 80 less 16
    both = table(box(0, 0, 10, 10), box(6, 6, 10, 10), closed=True, item=0)
    assert rim_length(both) == pytest.approx(64)
    # circles of radius 5, 6 apart: in the other lie 2 acos(3/5) of each
    discs = table([arc(0, 0, 5, 0, 360)], [arc(6, 0, 5, 0, 360)], closed=True, item=0)
    inside = 2 * 2 * 5 * math.acos(0.6)
    assert rim_length(discs) == pytest.approx(20 * math.pi - inside, rel=1e-6)
    # one that lies whole in the other goes whole
    inner = table(box(0, 0, 10, 10), box(3, 3, 4, 4), closed=True, item=0)
    assert rim_length(inner) == pytest.approx(40)


@pytest.mark.parametrize("degrees", [30.0, 45.0, 100.0])
def test_rims_are_the_same_however_a_shape_is_turned(degrees: float) -> None:
    a = math.radians(degrees)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    both = table(box(0, 0, 10, 10), box(6, 6, 10, 10), closed=True, item=0)
    both.data[:, :4] = (both.data[:, :4].reshape(-1, 2) @ turn).reshape(-1, 4)
    assert rim_length(both) == pytest.approx(64)


def test_sides_that_parts_share_stay() -> None:
    # two cells beside each other, and a third that makes the shape cross itself
    cells = [box(0, 0, 10, 10), box(10, 0, 10, 10), box(40, 0, 10, 10)]
    over = box(45, 0, 10, 10)
    told = table(*cells, over, closed=True, item=0)
    # 160, less the overlap's two upright sides; the sides along it are shared
    assert rim_length(told) == pytest.approx(160 - 20)


def test_other_items_are_left_as_they_are() -> None:
    told = table(star(5), box(30, 0, 4, 4), star(5, 60.0), closed=True)
    got = drop_inner_edges(told, np.ones(3, bool), np.zeros(3, bool), spent)
    assert np.unique(got.item).tolist() == [0, 1, 2]
    assert (np.diff(got.item) >= 0).all()
    plain = told.pick(np.array([1]))
    assert drop_inner_edges(plain, np.ones(1, bool), np.zeros(2, bool), spent) is plain
    none = np.zeros(3, bool)
    assert drop_inner_edges(told, none, none, spent) is told
    # of strokes that are no fills, in one item with fills that cross
    fills = np.array([True, False, False])
    got = drop_inner_edges(told, fills, np.zeros(3, bool), spent)
    assert (got.item == 2).sum() == 1
    assert (got.item == 0).sum() > 1


def test_points_on_another_curve_are_found() -> None:
    points = np.array([[5.0, 0.0], [5.0, 0.09], [5.0, 0.11]])
    walls = np.array([[0.0, 0.0, 9.0, 0.0], [0.0, 0.05, 9.0, 0.05]])
    of = np.array([3, 4], np.int32)
    curve = np.array([3, 3, 3])
    got = _on_other_curves(points, curve, walls, of, 0.05)
    assert got.tolist() == [True, True, False]
    assert not _on_other_curves(points, curve, walls[:1], of[:1], 1.0).any()
