"""Single strokes made into shapes: which are taken, and with which middle line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillwork.geometry.curves import ARC
from fillwork.readers.strokes.bars import _leave_regions, _shapes, _turn, single_lines
from fillwork.readers.strokes.expanded import middle_lines
from tests.unit.readers.strokes.tables import Row, arc, box, ends, line, polygon, table

if TYPE_CHECKING:
    from fillwork.readers.strokes.collect import StrokeTable

# two bars across two, which leave a square of 29 by 29 open between them
CROSSED = [box(0, 10, 60, 1), box(0, 40, 60, 1), box(10, 0, 1, 60), box(40, 0, 1, 60)]


def shapes(*items: list[list[Row]]) -> StrokeTable:
    """Items of one outline or several, closed."""
    told = table(*(ring for rings in items for ring in rings), closed=True)
    told.item[:] = np.repeat(np.arange(len(items)), [len(rings) for rings in items])
    return told


def middles(told: StrokeTable, likely: list[bool] | None = None) -> object:
    some = np.ones(len(told.closed), bool) if likely is None else np.array(likely)
    return single_lines(told, some)


def test_bars_across_each_other_are_lines() -> None:
    lines, taken, width = middles(shapes(*([bar] for bar in CROSSED)))
    assert width == 1.0
    assert taken.tolist() == [True] * 4
    assert lines.item.tolist() == [0, 1, 2, 3]
    assert lines.closed.tolist() == [False] * 4
    assert sorted(sorted(row) for row in ends(lines)) == sorted(
        [[0, 10.5, 10.5, 60], [0, 40.5, 40.5, 60]] * 2
    )


def test_shapes_as_wide_as_the_bands_are_taken_too() -> None:
    bars = [[bar] for bar in CROSSED]
    for wide, also in ((1.019, True), (1.021, False), (0.982, True), (0.975, False)):
        short = box(20, 20, 2, wide)
        got = middles(shapes(*bars, [short]), [True] * 4 + [False])
        assert got[1].tolist() == [True] * 4 + [also]
    # a square among them that looks like none is left; one that does undoes all
    square = [box(20, 20, 3, 3)]
    assert middles(shapes(*bars, square), [True] * 4 + [False])[1].tolist() == [
        *[True] * 4, False,
    ]  # fmt: skip
    assert middles(shapes(*bars, square)) is None


def test_where_none_is_thin_three_tell_lines() -> None:
    # closed strokes as two squares or two circles
    ring = [box(0, 0, 40, 40), box(1, 1, 38, 38)]
    disc = [[arc(0, 0, 20, 0, 360)], [arc(0, 0, 19, 0, 360)]]
    far = [box(100, 0, 40, 40), box(101, 1, 38, 38)]
    assert middles(shapes(ring, far)) is None
    got = middles(shapes(ring, disc, far))
    lines, taken, width = got
    assert taken.all()
    assert width == pytest.approx(1.0)
    assert lines.closed.tolist() == [True] * 3
    assert np.diff(lines.start).tolist() == [4, 1, 4]
    assert lines.kind[4] == ARC
    assert lines.data[4, :3].tolist() == [0, 0, 19.5]
    # two are enough where others are there that look like none
    more = [box(0, 100, 9, 9)]
    got = middles(shapes(ring, far, more), [True] * 4 + [False])
    assert got[1].tolist() == [True] * 4 + [False]


def test_lines_leave_more_open_than_they_cover() -> None:
    # a frame of width 1 covers 4 a - 4 of a²: twice that up to a = 4 + √8
    for side, open_ in ((6.7, False), (6.9, True)):
        told = shapes([box(0, 0, side, side), box(1, 1, side - 2, side - 2)])
        assert _leave_regions(told, np.ones(1)) == open_
    slats = shapes(*([box(0, 2 * k, 60, 1)] for k in range(5)))
    assert not _leave_regions(slats, np.ones(5))
    crossed = shapes(*([bar] for bar in CROSSED))
    assert _leave_regions(crossed, np.ones(4))


def test_outlines_come_item_by_item() -> None:
    told = shapes(
        [box(0, 0, 9, 9), box(2, 2, 2, 2)],
        [polygon((0, 0), (5, 0), (9, 0), (9, 9), (0, 9))],
        [[*box(0, 0, 4, 4), line(0, 0, 0, 0)]],
    )
    got = list(_shapes(told))
    assert [item for item, _ in got] == [0, 1, 2]
    assert [[len(loop) for loop in loops] for _, loops in got] == [[4, 4], [4], [4]]
    open_ = table(polygon((0, 0), (5, 0), (5, 5), closed=False))
    ((_, (loop,)),) = list(_shapes(open_))
    assert len(loop) == 3
    # four quarters are a circle
    quarters = [[arc(3, 4, 2, 90 * k, 90 * k + 90) for k in range(4)]]
    ((_, (circle,)),) = list(_shapes(shapes(quarters)))
    assert (circle.kind == ARC).all()


def test_polygons_turn_left_or_right() -> None:
    corners = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]])
    assert _turn(corners) == 12.0
    assert _turn(corners[::-1]) == -12.0


def grid(*holes: list[Row], outer: list[Row] | None = None) -> StrokeTable:
    return table(outer or box(0, 0, 21, 11), *holes, closed=True, item=0)


LEFT, RIGHT = box(1, 1, 9, 9), box(11, 1, 9, 9)


def lines_of(
    told: StrokeTable, width: float = 1.0
) -> list[list[tuple[float, float]]] | None:
    got = middle_lines(told, np.ones(1, bool), width)
    if got is None:
        return None
    assert np.diff(got.start).tolist() == [4] * len(got.closed)
    assert got.item.tolist() == [0] * len(got.closed)
    corners = got.curves().starts().reshape(-1, 4, 2).round(9).tolist()
    return sorted(sorted(map(tuple, four)) for four in corners)


def test_holes_grow_to_the_middles_of_the_lines() -> None:
    half = [(0.5, 0.5), (0.5, 10.5), (10.5, 0.5), (10.5, 10.5)]
    other = [(10.5, 0.5), (10.5, 10.5), (20.5, 0.5), (20.5, 10.5)]
    assert lines_of(grid(LEFT, RIGHT)) == [half, other]
    # in any size
    big = grid(LEFT, RIGHT)
    big.data[:] *= 1000
    assert lines_of(big, 1000.0) == [
        [(1000 * x, 1000 * y) for x, y in four] for four in (half, other)
    ]


@pytest.mark.parametrize(
    "told",
    [
        # one hole alone; a second of no size
        grid(LEFT),
        grid(LEFT, box(15, 5, 0.009, 0.009)),
        # lines of another width, and of two
        grid(box(2, 2, 7, 7), box(12, 2, 7, 7)),
        grid(LEFT, box(13, 1, 7, 9)),
        # a curve in the outline
        table([arc(5, 5, 5, 0, 360)], box(2, 4, 2, 2), box(6, 4, 2, 2), item=0),
    ],
)
def test_what_is_no_stroke_of_one_width(told: StrokeTable) -> None:
    assert lines_of(told) is None


@pytest.mark.parametrize(
    ("by", "read"),
    # a hole narrower by so much: its region misses 10 · by, of ink of 69 + 9 · by
    [(0.13, True), (0.15, False)],
)
def test_regions_may_miss_each_other_by_a_fiftieth(by: float, read: bool) -> None:
    got = lines_of(grid(LEFT, box(11, 1, 9 - by, 9)))
    assert (got is not None) == read
