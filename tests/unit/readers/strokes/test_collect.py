"""What a reader gathers: its order, its limits, and how curves are mapped."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fillwork.errors import ReadError
from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, CUBIC, LINE
from fillwork.readers.limits import NORMAL, Limits
from fillwork.readers.strokes.collect import (
    Collector,
    StrokeTable,
    drop_wild,
    merge_tables,
    merge_with,
    transform_rows,
)
from tests.unit.readers.strokes.tables import about, arc, box, cubic, ends, line, table

MAP = (2.0, 3.0, -5.0, 7.0, 11.0, 13.0)


def gathering(**limits: int) -> Collector:
    return Collector(replace(NORMAL, **limits), "a.svg")


def test_strokes_are_picked_with_their_curves() -> None:
    told = table([line(0, 0, 1, 0)], box(2, 2, 1, 1), [line(5, 5, 6, 6)])
    some = told.pick(np.array([2, 1]))
    assert some.start.tolist() == [0, 1, 5]
    assert some.item.tolist() == [2, 1]
    assert ends(some)[:2] == [[5, 5, 6, 6], [2, 2, 3, 2]]
    assert told.take(np.ones(3, bool)) is told
    assert told.take(np.array([False, True, False])).owner().tolist() == [0] * 4
    assert told.owner().tolist() == [0, 1, 1, 1, 1, 2]


def test_shapes_are_numbered_as_they_come() -> None:
    all_ = gathering()
    all_.contexts += [about(), about(colour="#ff0000")]
    assert all_.add_item(1, 4, "circle") == 0
    all_.add_ellipse(0, 1.0, 2.0, 3.0, 4.0)
    all_.add_line(0, 5, "line", (1.0, 2.0, 3.0, 4.0))
    assert all_.add_item(1, 6, "rect") == 2
    all_.add_box(2, (1.0, 2.0, 5.0, 6.0, 0.0, 0.0))
    more = table([line(0, 0, 9, 9)], [line(1, 1, 8, 8)])
    all_.add_strokes(np.array([0, 1]), np.array([7, 8]), ["a", "b"], more)
    assert all_.of_item.tolist() == [1, 0, 1, 0, 1]
    assert all_.item_line.tolist() == [4, 5, 6, 7, 8]
    assert all_.item_name == ["circle", "line", "rect", "a", "b"]
    got = all_.finish()
    assert got.item.tolist() == [0, 1, 2, 3, 4]
    assert got.kind.tolist() == [ARC] + [LINE] * 7
    assert got.closed.tolist() == [True, False, True, False, False]
    assert got.data[0].tolist() == [1, 2, 3, 0, 0, 4, 0, 2 * math.pi]
    assert ends(got)[1] == [1, 2, 3, 4]
    assert ends(got)[-2:] == [[0, 0, 9, 9], [1, 1, 8, 8]]


def test_limits_hold_to_the_number() -> None:
    few = gathering(elements=2)
    few.add_line(0, 1, "line", (0.0, 0.0, 1.0, 1.0))
    assert few.room() == (1, NORMAL.curves)
    few.add_item(0, 2, "path")
    assert few.room()[0] == 0
    with pytest.raises(ReadError, match="more than 2 shapes"):
        few.add_item(0, 3, "path")
    with pytest.raises(ReadError, match="elements = 2"):
        few.add_line(0, 3, "line", (0.0, 0.0, 1.0, 1.0))
    short = gathering(curves=4)
    index = np.zeros(1, np.int64)
    short.add_strokes(index, index, ["a"], table(box(0, 0, 1, 1)))
    assert short.room() == (NORMAL.elements - 1, 0)
    assert len(short.finish().kind) == 4
    short.add_strokes(index, index, ["a"], table([*box(0, 0, 1, 1), line(0, 0, 2, 2)]))
    with pytest.raises(ReadError, match="5 lines, arcs and curves"):
        short.finish()


def test_items_are_dashed_by_contexts_of_their_own() -> None:
    all_ = gathering()
    all_.contexts += [about(), about(colour="#ff0000")]
    for k in (0, 1, 0, 1, 0):
        all_.add_item(k, 1, "line")
    all_.dash([0, 2, 3])
    assert all_.of_item.tolist() == [2, 1, 2, 3, 0]
    assert [c.dash for c in all_.contexts] == [False, False, True, True]
    assert [c.colour for c in all_.contexts[2:]] == ["#000000", "#ff0000"]


def test_maps_of_contexts_are_followed_by_the_page() -> None:
    all_ = gathering()
    own = [(1.0, 2.0, 3.0, 4.0, 5.0, 6.0), (0.5, 0.0, 0.25, 2.0, -1.0, 1.0)]
    all_.contexts += [about(matrix=m) for m in own]
    # the product of matrices, as in SVG 1.1, section 7.6
    page = np.array([[2, -5, 11], [3, 7, 13], [0, 0, 1]])
    for m, got in zip(own, all_.matrices(MAP), strict=True):
        whole = page @ np.array([[m[0], m[2], m[4]], [m[1], m[3], m[5]], [0, 0, 1]])
        assert got.tolist() == whole[:2].T.ravel().tolist()


ROWS = [
    line(1, 2, 4, 8),
    arc(3, -1, 2, 20, 200, other=5),
    cubic(1, 1, 2, 5, 4, -3, 6, 2),
]


@pytest.mark.parametrize("which", [[0], [1], [2], [0, 1], [0, 2], [1, 2], [0, 1, 2]])
def test_curves_are_mapped_as_their_points_are(which: list[int]) -> None:
    told = table(*([ROWS[k]] for k in which))
    before = told.curves()
    index = np.arange(len(which))
    shares = np.linspace(0, 1, 7)
    points = [before.point(index, np.full(len(index), t)) for t in shares]
    angles = told.data[told.kind == ARC, 6:].tolist()
    transform_rows(told.kind, told.data, np.array([MAP]), np.zeros(len(index), int))
    for t, old in zip(shares, points, strict=True):
        new = told.curves().point(index, np.full(len(index), t))
        x, y = old.T
        assert np.allclose(new, np.stack([2 * x - 5 * y + 11, 3 * x + 7 * y + 13], 1))
    assert told.data[told.kind == ARC, 6:].tolist() == angles
    assert not told.data[told.kind == LINE, 4:].any()


def test_each_curve_has_the_map_that_is_named() -> None:
    told = table([line(0, 0, 1, 1)], [line(0, 0, 1, 1)], [arc(0, 0, 1, 0, 90)])
    maps = np.array([(1, 0, 0, 1, 5, 0), (2, 0, 0, 2, 0, 7), affine.IDENTITY], float)
    transform_rows(told.kind, told.data, maps, np.array([1, 0, 2]))
    assert ends(told)[:2] == [[0, 7, 2, 9], [5, 0, 6, 1]]
    assert told.data[2, :6].tolist() == [0, 0, 1, 0, 0, 1]


def boxed(*boxes: tuple[float, ...]) -> StrokeTable:
    all_ = gathering()
    all_.contexts.append(about())
    for numbers in boxes:
        all_.add_box(all_.add_item(0, 1, "rect"), numbers)
    return all_.finish()


def test_a_rectangle_runs_as_the_standard_says() -> None:
    # SVG 2, section 10.2: from the top left corner, clockwise on screen
    got = boxed((1.0, 2.0, 6.0, 4.0, 0.0, 0.0))
    assert got.kind.tolist() == [LINE] * 4
    assert ends(got) == [[1, 2, 7, 2], [7, 2, 7, 6], [7, 6, 1, 6], [1, 6, 1, 2]]
    # without one of the radii there is none
    for radii in ((1.0, 0.0), (0.0, 1.0)):
        assert boxed((1.0, 2.0, 6.0, 4.0, *radii)).kind.tolist() == [LINE] * 4


def test_round_corners_join_the_sides() -> None:
    got = boxed((1.0, 2.0, 12.0, 10.0, 2.0, 3.0))
    assert got.kind.tolist() == [LINE, ARC] * 4
    assert ends(got)[::2] == [
        [3, 2, 11, 2],
        [13, 5, 13, 9],
        [11, 12, 3, 12],
        [1, 9, 1, 5],
    ]
    curves = got.curves()
    assert np.allclose(curves.ends(), np.roll(curves.starts(), -1, axis=0))
    centres = [[11, 5], [11, 9], [3, 9], [3, 5]]
    assert got.data[1::2, :2].tolist() == centres
    assert got.data[1::2, 2:6].tolist() == [[2, 0, 0, 3]] * 4
    # middles of the corners lie outward of their centres
    middle = curves.point(np.arange(1, 8, 2), np.full(4, 0.5))
    way = np.sign(middle - np.array(centres)).tolist()
    assert way == [[1, -1], [1, 1], [-1, 1], [-1, -1]]


def test_sides_of_no_length_are_left_out() -> None:
    # corners that take the whole of two sides, and of all
    got = boxed((0.0, 0.0, 4.0, 10.0, 2.0, 3.0), (0.0, 0.0, 4.0, 6.0, 2.0, 3.0))
    assert np.diff(got.start).tolist() == [6, 4]
    assert got.kind[:6].tolist() == [ARC, LINE, ARC, ARC, LINE, ARC]
    assert (got.kind[6:] == ARC).all()
    # what has no sides at all is no stroke; a flat one keeps two
    got = boxed((1e20, 1e20, 1.0, 1.0, 0.0, 0.0), (0.0, 0.0, 5.0, 0.0, 0.0, 0.0))
    assert got.item.tolist() == [1]
    assert ends(got) == [[0, 0, 5, 0], [5, 0, 0, 0]]


def test_boxes_with_and_without_corners_keep_their_items() -> None:
    plain, round_ = (0.0, 0.0, 4.0, 4.0, 0.0, 0.0), (0.0, 0.0, 4.0, 4.0, 1.0, 1.0)
    got = boxed(round_, plain, round_)
    assert got.item.tolist() == [0, 1, 2]
    assert np.diff(got.start).tolist() == [8, 4, 8]
    assert got.closed.all()


def test_tables_are_merged_by_their_items() -> None:
    one = table([line(0, 0, 1, 1)], [line(2, 2, 3, 3)])
    one.item[:] = 0, 4
    two = table(box(9, 9, 1, 1), [line(5, 5, 6, 6)], item=4)
    none = merge_tables([])
    assert len(none.closed) == len(none.kind) == 0
    assert none.start.tolist() == [0]
    assert merge_tables([none, one, none]) is one
    got = merge_tables([two, one])
    assert got.item.tolist() == [0, 4, 4, 4]
    assert np.diff(got.start).tolist() == [1, 4, 1, 1]
    # strokes of one item stay in order
    assert ends(got)[-2:] == [[5, 5, 6, 6], [2, 2, 3, 3]]
    both, told = merge_with([two, one], [np.array([7, 8]), np.array([5, 6])])
    assert both.item.tolist() == [0, 4, 4, 4]
    assert told.tolist() == [5, 7, 8, 6]


def test_wild_numbers_are_left_out() -> None:
    told = table(
        [line(0, 0, 1, 1)],
        [line(0, 0, 1, 1), line(0, 0, 100, 1)],
        [line(0, 0, 1, 1), line(0, -100.5, 1, 1)],
        [line(0, 0, math.nan, 1)],
        [line(0, 0, 1, math.inf)],
    )
    left, count = drop_wild(told, 100.0)
    assert left.item.tolist() == [0, 1]
    assert count == 3
    same, none = drop_wild(left, 100.0)
    assert same is left
    assert none == 0


def test_lines_have_no_more_than_their_ends() -> None:
    data = np.arange(16.0).reshape(2, 8)
    each = StrokeTable.of_lines(data, np.array([3, 1]))
    assert each.start.tolist() == [0, 1, 2]
    assert each.item.tolist() == [3, 1]
    chain = StrokeTable.of_lines(data, 5, np.array([0, 2]))
    assert chain.item.tolist() == [5]
    assert chain.closed.tolist() == [False]
    assert (chain.kind == LINE).all()
    assert CUBIC not in chain.kind
    assert Limits() == NORMAL
