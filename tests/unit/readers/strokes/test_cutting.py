"""Strokes cut by regions: where they are split, what stays, and what is whole."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.geometry.curves import ARC, Curves
from fillwork.readers.strokes.clip import as_region
from fillwork.readers.strokes.cutting import (
    Region,
    cut_table,
    look_inside,
    rebuild,
    split_at,
)
from fillwork.readers.strokes.meetings import Walls, find_meetings
from tests.unit.readers.strokes.tables import (
    Row,
    arc,
    box,
    cubic,
    ends,
    line,
    polygon,
    table,
)


def free(steps: int) -> None:
    """Spend without end."""


SQUARE = Region.rectangle((0.0, 0.0, 10.0, 10.0), affine.IDENTITY)
DISC = as_region(table([arc(0, 0, 5, 0, 360)], closed=True), np.zeros(1, bool))


def test_a_rectangle_is_laid_out_by_its_map() -> None:
    got = Region.rectangle((1.0, 2.0, 3.0, 4.0), (2.0, 0.0, 0.0, -1.0, 10.0, 20.0))
    assert got.outline.data[:, :4].tolist() == [
        [12, 18, 18, 18],
        [18, 18, 18, 14],
        [18, 14, 12, 14],
        [12, 14, 12, 18],
    ]
    assert got.loop.tolist() == got.shape.tolist() == [0] * 4
    assert not len(Region.empty().outline)


def test_chords_of_an_outline_join_without_a_gap() -> None:
    two = table([arc(0, 0, 5, 0, 360)], box(20, 0, 1, 1), closed=True)
    walls, curve, span = as_region(two, np.zeros(2, bool)).walls(0.01)
    n = int((curve == 0).sum())
    for part in (walls[:n], walls[n:]):
        assert (part[1:, :2] == part[:-1, 2:]).all()
        assert (part[0, :2] == part[-1, 2:]).all()
    assert curve[n:].tolist() == [1, 2, 3, 4]
    assert span[0, 0] == 0.0
    assert span[n - 1, 1] == 1.0


@pytest.mark.parametrize(
    ("row", "left"),
    [
        (line(2, 5, 8, 5), [[2, 5, 8, 5]]),
        (line(-5, 5, 5, 5), [[0, 5, 5, 5]]),
        (line(-5, 5, 15, 5), [[0, 5, 10, 5]]),
        (line(-5, 5, -1, 5), []),
        (line(5, 15, 5, 8), [[5, 10, 5, 8]]),
        (line(-2, 4, 4, -2), [[0, 2, 2, 0]]),
        # past a corner, and along a side
        (line(-3, 2, 2, -3), []),
        (line(3, 10, 7, 10), [[3, 10, 7, 10]]),
        (line(-3, 0, 13, 0), [[0, 0, 10, 0]]),
        # six figures of ten: 2e-5 beside it is on it
        (line(3, 10.000019, 7, 10.000019), [[3, 10.000019, 7, 10.000019]]),
        (line(3, 10.000021, 7, 10.000021), []),
        (line(-0.000019, 3, -0.000019, 7), [[-0.000019, 3, -0.000019, 7]]),
        (line(-0.000021, 3, -0.000021, 7), []),
    ],
)
def test_what_lies_in_a_square_stays(row: Row, left: list[list[float]]) -> None:
    got, source, whole = cut_table(table([row]), SQUARE, free, 0.0)
    assert ends(got) == left
    assert source.tolist() == [0] * len(left)
    assert whole.tolist() == [left == [row[1][:4]]] * len(left)


def test_what_lies_along_the_rim_can_be_left_out() -> None:
    told = table([line(3, 10, 7, 10)], [line(5, 5, 5, 10)], [line(-5, 4, 5, 4)])
    got, source, _ = cut_table(told, SQUARE, free, 0.0, rim=False)
    assert source.tolist() == [1, 2]
    assert ends(got) == [[5, 5, 5, 10], [0, 4, 5, 4]]


def test_the_slack_may_be_given() -> None:
    beside = table([line(3, -0.00001, 7, 0.00001)])
    assert len(cut_table(beside, SQUARE, free, 0.0)[1]) == 1
    # of a large region no more than a thousandth of a millimetre
    large = Region.rectangle((0.0, 0.0, 1e4, 1e4), affine.IDENTITY)
    for off, left in ((0.0009, 1), (0.0011, 0)):
        told = table([line(3, -off, 7, -off)])
        assert len(cut_table(told, large, free, 0.0)[1]) == left


def test_strokes_are_cut_apart_and_keep_their_items() -> None:
    across = [line(5, 5, 15, 5), line(15, 5, 15, 8), line(15, 8, 5, 8)]
    told = table([line(1, 1, 2, 1)], across, box(2, 2, 1, 1), closed=True)
    got, source, whole = cut_table(told, SQUARE, free, 0.0)
    assert got.item.tolist() == source.tolist() == [0, 1, 1, 2]
    assert whole.tolist() == got.closed.tolist() == [True, False, False, True]
    assert ends(got)[1:3] == [[5, 5, 10, 5], [10, 8, 5, 8]]
    assert got.start.tolist() == [0, 1, 2, 3, 7]
    # a corner on the outline is one part still
    bent = table([line(2, 5, 10, 5), line(10, 5, 2, 8)])
    assert cut_table(bent, SQUARE, free, 0.0)[0].start.tolist() == [0, 2]
    nothing = cut_table(told, Region.empty(), free, 0.0)
    assert [len(some) for some in nothing[1:]] == [0, 0]
    assert len(nothing[0].closed) == 0


def test_curves_are_cut_where_the_formula_says() -> None:
    # a circle about a corner of the square: a quarter stays
    got, _, whole = cut_table(table([arc(0, 0, 4, 0, 360)]), SQUARE, free, 0.0)
    assert np.allclose(got.data[0, 6:], [0, math.pi / 2])
    assert not whole.any()
    # a line through a disc at a height of 3 has 4 on either side
    got, _, _ = cut_table(table([line(-9, 3, 9, 3)]), DISC, free, 0.0)
    assert np.allclose(got.data[0, :4], [-4, 3, 4, 3])
    # two circles of radius 5, 6 apart, meet at (3, ±4)
    got, _, _ = cut_table(table([arc(6, 0, 5, 0, 360)]), DISC, free, 0.0)
    assert np.allclose(got.curves().starts(), [[3, 4]])
    assert np.allclose(got.curves().ends(), [[3, -4]])
    # a circle that touches from outside or inside
    for x, left in ((10.0, 0), (3.0, 1)):
        radius = 5.0 if left == 0 else 2.0
        told = table([arc(x, 0, radius, 10, 370)])
        assert len(cut_table(told, DISC, free, 0.0)[0].closed) == left


@pytest.mark.parametrize(
    ("point", "nonzero", "odd"),
    [
        ((1, 1), True, True),
        ((5, 5), True, False),
        ((12, 1), False, False),
        ((-1, 3), False, False),
        # at the height of corners, left of all and between
        ((-1, 0), False, False),
        ((2, 3), True, True),
        ((2, 7), True, True),
        ((8, 7), True, True),
        ((5, 3.5), True, False),
    ],
)
def test_inside_goes_by_the_rule_of_the_shape(
    point: tuple[float, float], nonzero: bool, odd: bool
) -> None:
    # a square in a square, both counter-clockwise
    rings = table(box(0, 0, 10, 10), box(3, 3, 4, 4), item=0)
    for rule, inside in ((False, nonzero), (True, odd)):
        region = as_region(rings, np.array([rule]))
        walls, curve, _ = region.walls(0.01)
        got, _ = look_inside(
            np.array([point], float), walls, region.shape[curve], region.even_odd, free
        )
        assert got.tolist() == [inside]


def test_curves_that_touch_an_outline_go_by_their_other_points() -> None:
    # from outside with the middle, and from inside
    outer = table([arc(10, 0, 5, 90, 270)])
    assert len(cut_table(outer, DISC, free, 0.0)[1]) == 0
    inner = table([arc(3, 0, 2, -180, 180)])
    for rim in (True, False):
        assert len(cut_table(inner, DISC, free, 0.0, rim=rim)[1]) == 1


def test_the_longer_side_of_a_region_says_what_is_on_it() -> None:
    tall = Region.rectangle((5.0, 5.0, 10.0, 100.0), affine.IDENTITY)
    for off, left in ((1.9e-4, 1), (2.1e-4, 0)):
        for told in (
            table([line(5 - off, 20, 5 - off, 30)]),
            table([line(15 + off, 20, 15 + off, 30)]),
            table([line(7, 105 + off, 9, 105 + off)]),
        ):
            assert len(cut_table(told, tall, free, 0.0)[1]) == left


def test_short_pieces_of_long_lines_stay() -> None:
    got, _, _ = cut_table(table([line(-1, 5, 99, 5)]), SQUARE, free, 0.0)
    assert ends(got) == [[0, 5, 10, 5]]


def test_inside_any_of_some_shapes_and_how_far_off() -> None:
    two = table(box(0, 0, 10, 10), box(20, 0, 4, 4), polygon((2, 2), (2, 8), (8, 8)))
    two.item[:] = 0, 1, 0
    # the third turns the other way round: a hole of the first
    told = two.pick(np.array([0, 2, 1]))
    region = as_region(told, np.zeros(2, bool))
    walls, curve, _ = region.walls(0.01)
    points = np.array([[1, 5], [3, 7], [7, 3], [22, 1], [15, 2], [13, 14], [-3, 5]])
    shape = region.shape[curve]
    spent: list[int] = []
    got, off = look_inside(points, walls, shape, region.even_odd, spent.append)
    assert got.tolist() == [True, False, True, True, False, False, False]
    half = math.sqrt(2)
    assert np.allclose(off, [1, 1, 2 * half, 1, 5, 5, 3])
    assert spent == [7 * 11]


def test_pieces_grow_together_again() -> None:
    told = table([line(0, 0, 8, 0), line(8, 0, 8, 8)], [line(0, 9, 8, 9)])
    curve = np.array([0, 0, 0, 0, 1, 2, 2])
    t0 = np.array([0, 0.25, 0.5, 0.75, 0, 0, 0.5])
    t1 = np.array([0.25, 0.5, 0.75, 1, 1, 0.5, 1])
    keep = np.array([True, True, False, True, True, True, True])
    got, source, whole = rebuild(told, told.curves(), curve, t0, t1, keep)
    assert ends(got) == [[0, 0, 4, 0], [6, 0, 8, 0], [8, 0, 8, 8], [0, 9, 8, 9]]
    assert got.start.tolist() == [0, 1, 3, 4]
    assert source.tolist() == [0, 0, 1]
    assert whole.tolist() == [False, False, True]
    none = rebuild(told, told.curves(), curve, t0, t1, np.zeros(7, bool))
    assert len(none[0].closed) == len(none[1]) == len(none[2]) == 0


def meet(one: Row, other: Row) -> tuple[list[float], int]:
    """Where a curve meets another, and what was spent."""
    curves, outline = table([line(50, 50, 51, 51)], [one]).curves(), table([other])
    walls = outline.curves().flatten(1e-3)
    spent: list[int] = []
    rows = np.array([1])
    index, t = find_meetings(
        curves, rows, outline.curves(), Walls(*walls), spent.append
    )
    assert (index == 1).all()
    return sorted(t.tolist()), sum(spent)


def scaled(row: Row, big: float) -> Row:
    """The same curve in other units."""
    kind, data = row
    return kind, [n * big if k < 6 or kind != ARC else n for k, n in enumerate(data)]


TURNED = ARC, [0.0, 0.0, 3.0, 4.0, -4.0, 3.0, 0.0, 2 * math.pi]
ACUTE = math.degrees(math.atan2(4, 3))


@pytest.mark.parametrize(
    ("one", "other", "at"),
    [
        (line(0, 0, 8, 0), line(2, -1, 2, 1), [0.25]),
        (line(0, 0, 8, 0), line(0.4, -1, 0.4, 1), [0.05]),
        (line(0, 0, 8, 0), line(2, 0.0004, 2, 1), []),
        (line(0, 0, 8, 0), line(8.003, -1, 8.003, 1), []),
        # a circle of radius 5 has (3, 4) and (-4, -3) on it, wherever it begins
        (arc(0, 0, 5, 0, 360), line(-9, -8, 9, 10), [ACUTE / 360, (270 - ACUTE) / 360]),
        (TURNED, line(4, 0, 4, 9), [(450 - 2 * ACUTE) / 360]),
        (TURNED, line(-9, 4, 0, 4), [(180 - 2 * ACUTE) / 360]),
        # the end of a line on it counts, an end beside it does not
        (arc(0, 0, 2, 0, 180), line(-1, math.sqrt(3), -1, 9), [2 / 3]),
        (arc(0, 0, 2, 0, 180), line(-1, math.sqrt(3) + 1e-6, -1, 9), []),
        # circles that all but touch all round
        (arc(0, 0, 5, 0, 360), arc(0, 0, 5.00001, 10, 370), []),
        (line(0, 0, 0, 8), line(-1, 6, 3, 6), [0.75]),
        # at an end of the other it counts, at its own end it does not
        (line(0, 0, 8, 0), line(2, 0, 2, 1), [0.25]),
        (line(0, 0, 8, 0), line(2, 0.01, 2, 1), []),
        (line(0, 0, 8, 0), line(8, -1, 8, 1), []),
        (line(0, 0, 8, 0), line(0, -1, 0, 1), []),
        (line(0, 0, 8, 0), line(1, 0, 5, 0), []),
        # an arc from 0° to 180° crosses at 60°, or at both sides
        (arc(0, 0, 2, 0, 180), line(1, 0, 1, 5), [1 / 3]),
        (arc(0, 0, 2, 180, 0), line(1, 0, 1, 5), [2 / 3]),
        (arc(0, 0, 2, 0, 180), line(-5, 1, 5, 1), [1 / 6, 5 / 6]),
        (arc(0, 0, 2, 0, 180), line(0, 1, 5, 1), [1 / 6]),
        (arc(0, 0, 2, 0, -180), line(-5, 1, 5, 1), []),
        (arc(3, 4, 2, 90, 450), line(4, 0, 4, 9), [7 / 12, 11 / 12]),
        (arc(0, 0, 2, 0, 180), line(-5, 2.1, 5, 2.1), []),
        # an ellipse of half axes 4 and 2 at a height of 1: 30° and 150°
        (arc(0, 0, 4, 0, 360, other=2), line(-9, 1, 9, 1), [1 / 12, 5 / 12]),
        (arc(0, 0, 4, 0, 360, other=2), line(2, -9, 2, 9), [1 / 6, 5 / 6]),
        (line(-8, 3, 8, 3), arc(0, 0, 5, 0, 360), [0.25, 0.75]),
        (arc(6, 0, 5, 90, 270), arc(0, 0, 5, 0, 360), None),
        # half way up a Bézier that is symmetrical
        (cubic(0, 0, 0, 4, 8, 4, 8, 0), line(4, 0, 4, 9), [0.5]),
        (cubic(0, 0, 1, 2, 2, 4, 3, 6), line(-9, 2.6, 9, 2.6), [2.6 / 6]),
        (line(-9, 2.6, 9, 2.6), cubic(0, 0, 1, 2, 2, 4, 3, 6), [10.3 / 18]),
        (line(0, 5, 8, 5), cubic(0, 0, 0, 4, 8, 4, 8, 0), []),
    ],
)
def test_curves_meet_where_the_formula_says(
    one: Row, other: Row, at: list[float] | None
) -> None:
    if at is None:
        # seen from (6, 0) the point (3, 4) is at 180° - acos(3/5)
        turn = math.degrees(math.acos(0.6))
        at = [(90 - turn) / 180, (90 + turn) / 180]
    for big in (1.0, 1e-3, 1e3):
        got, spent = meet(scaled(one, big), scaled(other, big))
        assert got == pytest.approx(at, rel=0, abs=1e-9)
        assert spent > 0


def test_pieces_lie_between_the_meetings() -> None:
    curves = Curves.from_segments(np.array([[0, 5, 20, 5], [5, 0, 5, 20]], float))
    walls = SQUARE.walls(1e-3)
    curve, t0, t1 = split_at(curves, np.array([0]), SQUARE.outline, walls, free)
    assert curve.tolist() == [0, 0, 1]
    assert t0.tolist() == [0, 0.5, 0]
    assert t1.tolist() == [0.5, 1, 1]
