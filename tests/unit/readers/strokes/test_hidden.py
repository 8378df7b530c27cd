"""What fills drawn later hide: by order, depth, colour, clip and fill rule."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from fillwork.readers.strokes.hidden import (
    _crossings_of,
    _linestrings,
    _narrowed,
    _near_pairs,
    _needless,
    _Outlines,
    _together,
    drop_covered,
    drop_hidden,
    find_fills,
    whole_items,
)
from fillwork.readers.strokes.outlines import measure_lengths
from tests.unit.readers.strokes.tables import (
    Row,
    about,
    arc,
    box,
    ends,
    fill,
    line,
    polygon,
    table,
)

if TYPE_CHECKING:
    from fillwork.readers.strokes.collect import StrokeTable

STAR = [
    (math.cos(math.radians(144 * k)), math.sin(math.radians(144 * k))) for k in range(5)
]


def free(steps: int) -> None:
    assert steps >= 0


def hide(
    strokes: list[list[Row]], *covers: list[Row], width: float = 0.0,
    even_odd: bool = False, ink: tuple[int, int] = (-1, 1),
    clip: tuple[int, int] = (-1, -1), first: int | None = None,
) -> StrokeTable:  # fmt: skip
    """Return what is seen of strokes under shapes that are drawn later.

    `first`: the number of the first shape, where it is not drawn after all strokes.
    """
    n, m = len(strokes), len(covers)
    told, cover = table(*strokes), table(*covers, closed=True)
    cover.item[:] += n if first is None else first
    items = n + m
    got, source = drop_hidden(
        told, np.full(n, width), cover, np.full(items, even_odd),
        (np.full(n, ink[0]), np.full(items, ink[1])),
        (np.full(n, clip[0]), np.full(items, clip[1])), free,
    )  # fmt: skip
    assert got.item.tolist() == source.tolist()
    return got


LINE = [line(0, 5, 20, 5)]
SHAPE = box(5, 0, 10, 10)


def test_a_line_is_hidden_between_the_edges_of_a_shape() -> None:
    assert ends(hide([LINE], SHAPE)) == [[0, 5, 5, 5], [15, 5, 20, 5]]
    # two shapes side by side are one
    assert ends(hide([LINE], SHAPE, box(15, 0, 3, 10))) == [
        [0, 5, 5, 5],
        [18, 5, 20, 5],
    ]
    two = ends(hide([LINE], box(2, 0, 4, 10), box(12, 0, 4, 10)))
    assert two == [[0, 5, 2, 5], [6, 5, 12, 5], [16, 5, 20, 5]]
    # another line beside it stays as it is
    got = hide([LINE, [line(0, 50, 20, 50)]], SHAPE)
    assert got.item.tolist() == [0, 0, 1]
    # one that lies deep inside is hidden whole
    assert hide([LINE, [line(6, 5, 14, 5)]], SHAPE).item.tolist() == [0, 0]
    assert len(hide([[line(7, 1, 13, 9)]], SHAPE).closed) == 0


def test_a_line_through_a_neck_is_hidden_by_what_lies_to_both_sides() -> None:
    # within the neck, in its middle, half of the line's width reaches out
    shape = polygon(
        (5, 0), (12, 0), (12, 4), (18, 4), (18, 0), (25, 0),
        (25, 10), (18, 10), (18, 6), (12, 6), (12, 10), (5, 10),
    )  # fmt: skip
    got = hide([[line(0, 5, 30, 5)]], shape, width=2.5)
    assert ends(got) == [[0, 5, 5, 5], [25, 5, 30, 5]]


@pytest.mark.parametrize(
    "changed",
    [
        {"first": 0},
        {"ink": (1, 1)},
        {"clip": (-1, 2)},
        {"clip": (3, 2)},
    ],
)
def test_what_hides_nothing(changed: dict[str, Any]) -> None:
    # drawn before, of the line's own colour, cut by a clip that the line has not
    assert ends(hide([LINE], SHAPE, **changed)) == [[0, 5, 20, 5]]


def test_what_the_same_clip_cuts_is_hidden() -> None:
    for clip in ((2, 2), (2, -1)):
        assert len(hide([LINE], SHAPE, clip=clip).closed) == 2


@pytest.mark.parametrize(
    ("deep", "width", "hidden"),
    [
        (0.45, 1.0, False),
        (0.55, 1.0, True),
        (0.05, 0.0, True),
        # along an edge that it shares, and within twice the chords' error, 2e-5 of 20
        (0.0, 0.0, False),
        (3e-4, 0.0, False),
        (5e-4, 0.0, True),
    ],
)
def test_a_line_is_hidden_from_half_of_its_width_on(
    deep: float, width: float, hidden: bool
) -> None:
    # across the shape at a depth below its upper edge
    along = [[line(0, 10 - deep, 20, 10 - deep)]]
    assert len(hide(along, SHAPE, width=width).closed) == 1 + hidden
    # and wholly over it
    within = [[line(7, 10 - deep, 13, 10 - deep)], [line(0, 99, 20, 99)]]
    assert len(hide(within, SHAPE, width=width).closed) <= 2
    # standing upright in it
    upright = [[line(5 + deep, -9, 5 + deep, 11)]]
    assert len(hide(upright, SHAPE, width=width).closed) == 1 + hidden


def test_curves_are_hidden_between_where_they_meet() -> None:
    circle = [arc(0, 0, 5, 0, 360)]
    # to the right of x = 3 lie 2 acos(3/5)
    got = hide([circle], box(3, -9, 9, 18))
    long = float(measure_lengths(got.kind, got.data).sum())
    assert long == pytest.approx(5 * (2 * math.pi - 2 * math.acos(0.6)), rel=1e-5)
    # a disc over a line at a height of 3
    got = hide([[line(-9, 3, 9, 3)]], circle)
    assert np.allclose(got.data[:, [0, 2]], [[-9, -4], [4, 9]], atol=1e-6)
    # and over another circle, 6 beside it: they meet at (3, ±4)
    got = hide([[arc(6, 0, 5, 0, 360)]], circle)
    long = float(measure_lengths(got.kind, got.data).sum())
    assert long == pytest.approx(5 * (2 * math.pi - 2 * math.acos(0.6)), rel=1e-5)
    # through the middle only: points a quarter from the ends lie outside
    got = hide([[arc(0, 0, 5, 0, 180)]], box(-1, 4, 2, 2))
    long = float(measure_lengths(got.kind, got.data).sum())
    assert long == pytest.approx(5 * (math.pi - 2 * math.asin(0.2)), rel=1e-5)


def test_a_ring_hides_by_its_rule() -> None:
    rings = [*box(5, 0, 10, 10)], [*box(8, 3, 4, 4)]
    told, cover = table(LINE), table(*rings, closed=True, item=1)
    for even_odd, left in ((True, 3), (False, 2)):
        got, _ = drop_hidden(
            told, np.zeros(1), cover, np.array([False, even_odd]),
            (np.array([-1]), np.array([1, 2])), (np.array([-1]), np.array([-1, -1])),
            free,
        )  # fmt: skip
        assert len(got.closed) == left


def covered(
    contexts: list[Any], strokes: StrokeTable, uncut: StrokeTable | None = None,
    scale: float = 1.0,
) -> list[list[float]] | None:  # fmt: skip
    of_item = np.arange(len(contexts))
    got = drop_covered(strokes, uncut or strokes, contexts, of_item, scale, free)
    if got is None:
        return None
    of = got[1][got[0].owner()]
    return [row for row, item in zip(ends(got[0]), of, strict=True) if item == 0]


def test_what_covers_is_told_by_how_it_is_painted() -> None:
    strokes = table(LINE, SHAPE, closed=True)
    seen = [[0, 5, 5, 5], [15, 5, 20, 5]]
    assert covered([about(), fill()], strokes) == seen
    assert covered([about(), fill(covers=False)], strokes) is None
    # the edge of a fill under its own colour stays, that of another is hidden
    assert covered([fill(), fill()], strokes) == [[0, 5, 20, 5]]
    assert covered([fill(fill="#00f"), fill()], strokes) == seen
    assert covered([about(fill="#ff0000"), fill()], strokes) == seen
    # what its clip cut hides what the same clip cuts, whole it hides all
    clipped = fill(clip=4)
    assert covered([about(), clipped], strokes) == seen
    larger = table(LINE, box(5, 0, 10, 20), closed=True)
    assert covered([about(), clipped], strokes, larger) == [[0, 5, 20, 5]]
    assert covered([about(clip=4), clipped], strokes, larger) == seen
    # a line as wide as 12 units is never deep in a shape of 10
    assert covered([about(width=12.0), fill()], strokes) == [[0, 5, 20, 5]]
    assert covered([about(width=6.0), fill()], strokes) == seen
    assert covered([about(width=6.0), fill()], strokes, scale=2.0) == [[0, 5, 20, 5]]


def test_items_that_nothing_cut_have_one_length() -> None:
    before = table(LINE, box(0, 0, 4, 4), [line(0, 0, 1, 0)], [line(2, 2, 2, 2)])
    after = table([line(0, 5, 20, 5)], box(0, 0, 4, 4)[:3], [line(0, 0, 1, 0)])
    assert whole_items(before, after).tolist() == [0, 2]
    assert whole_items(before, before).tolist() == [0, 1, 2, 3]
    nearly = table([line(0, 5, 20 - 1e-6, 5)], box(0, 0, 4, 4))
    assert whole_items(before, nearly).tolist() == [1]
    apart = table([line(0, 5, 9, 5)], [line(9, 5, 20, 5)], item=0)
    assert whole_items(before, apart).tolist() == [0]


def area(*rings: list[Row], even_odd: bool = False) -> float:
    shapes, items = find_fills(
        table(*rings, closed=True, item=0), 1e-3, np.array([even_odd]), free
    )
    assert items.tolist() == [0] * len(shapes)
    # what has no area hides nothing
    assert (shapely.area(shapes) > 0).all()
    return float(shapely.area(shapes).sum())


def test_a_fill_is_what_its_rings_turn_round() -> None:
    back = polygon((2, 2), (2, 4), (4, 4), (4, 2))
    assert area(box(0, 0, 9, 9)) == 81
    for rule, inner, size in (
        (False, back, 77), (True, back, 77), (True, box(2, 2, 2, 2), 77),
        (False, box(2, 2, 2, 2), 81), (False, box(8, 0, 9, 9), 153),
        (True, box(8, 0, 9, 9), 144),
    ):  # fmt: skip
        assert area(box(0, 0, 9, 9), inner, even_odd=rule) == pytest.approx(size)
    # three, so that one is left over when they are taken two by two
    three = [box(0, 0, 9, 9), box(2, 2, 5, 5), box(3, 3, 2, 2)]
    assert area(*three, even_odd=True) == pytest.approx(81 - 25 + 4)
    assert area(*three, box(20, 0, 1, 1), even_odd=True) == pytest.approx(61)
    # no area: two sides, and there and back
    assert area([line(0, 0, 5, 5), line(5, 5, 0, 0)]) == 0
    assert area(polygon((0, 0), (5, 5), (2, 2))) == 0


def test_a_star_in_one_go_fills_by_its_rule() -> None:
    # of circumradius 1: the pentagon inside has r = 1 / φ², the points make the rest
    golden = (1 + math.sqrt(5)) / 2
    pentagon = 2.5 * math.sin(math.radians(72)) / golden**4
    # and each point with its part of that is a kite from the centre to the tip
    kite = math.sin(math.radians(36)) / golden**2
    star = polygon(*STAR)
    assert area(star) == pytest.approx(5 * kite, rel=1e-6)
    assert area(star, even_odd=True) == pytest.approx(5 * kite - pentagon, rel=1e-6)
    assert _crossings_of(shapely.LinearRing(STAR)) == 5
    assert _crossings_of(shapely.LinearRing([(0, 0), (4, 4), (4, 0), (0, 4)])) == 1
    assert _crossings_of(shapely.LinearRing([(0, 0), (4, 0), (4, 4), (0, 4)])) == 0


def test_fills_keep_the_numbers_of_their_items() -> None:
    told = table(
        box(0, 0, 2, 2), [line(0, 0, 1, 1)], box(9, 9, 3, 3), box(5, 5, 1, 1),
        closed=True,
    )  # fmt: skip
    told.item[:] = 2, 4, 7, 7
    shapes, items = find_fills(told, 1e-3, np.zeros(8, bool), free)
    assert items.tolist() == [2, 7]
    assert shapely.area(shapes).tolist() == [4, 10]


def test_rings_together() -> None:
    a, b = shapely.box(0, 0, 4, 4), shapely.box(1, 1, 3, 3)
    rings = np.array([a, b])
    assert _together(rings, np.array([True, False]), False).area == 12
    assert _together(rings, np.array([True, True]), False).area == 16
    assert _together(rings, np.array([False, False]), False).area == 16
    assert _together(rings, np.array([True, True]), True).area == 12


def test_strokes_are_chains_of_chords() -> None:
    told = table(polygon((0, 0), (3, 0), (3, 4), closed=False), [arc(0, 0, 1, 0, 90)])
    one, two = _linestrings(told, 1e-3)
    assert list(one.coords) == [(0, 0), (3, 0), (3, 4)]
    assert two.length == pytest.approx(math.pi / 2, rel=2e-3)
    assert np.allclose(two.coords[0], (1, 0))
    assert np.allclose(two.coords[-1], (0, 1))


def test_outlines_are_found_by_item_and_place() -> None:
    cover = table(box(0, 0, 9, 9), [arc(20, 0, 2, 0, 360)], box(40, 0, 9, 9))
    cover.item[:] = 1, 3, 6
    got = _Outlines(cover, 0.1)
    assert got.of_items(np.array([1])).tolist() == [0, 1, 2, 3]
    assert got.of_items(np.array([3, 6])).tolist() == [4, 5, 6, 7, 8]
    every = np.arange(9)
    # within four errors of the chords
    for x, rows in ((9.39, [1]), (9.41, [])):
        assert got.near(every, np.array([[x, 5.0]])).tolist() == rows
    assert got.near(every, np.array([[20.0, 2.39], [4.0, -0.39]])).tolist() == [0, 4]
    assert got.near(every[:4], np.array([[20.0, 0.0]])).tolist() == []


def pairs(
    strokes: list[list[Row]], *shapes: Any, depth: float = 0.1
) -> list[list[int]]:
    told = table(*strokes)
    n, m = len(strokes), len(shapes)
    numbers = np.arange(n, n + m)
    ink = np.full(n, -1), np.zeros(n + m, int)
    clip = np.full(n, -1), np.full(n + m, -1)
    s, j = _near_pairs(
        told, _linestrings(told, 1e-3), np.array(shapes), numbers, ink, clip,
        np.full(n, depth), free,
    )  # fmt: skip
    return np.stack([s, j], 1).tolist()


@pytest.mark.parametrize(
    ("row", "near"),
    [
        # boxes that only touch hide nothing; a level line has a flat one
        (line(0, 0, 5.09, 9), False),
        (line(0, 0, 5.11, 9), True),
        (line(14.91, 0, 20, 9), False),
        (line(14.89, 0, 20, 9), True),
        (line(6, -5, 9, 0.09), False),
        (line(6, -5, 9, 0.11), True),
        (line(6, 9.91, 9, 20), False),
        (line(6, 9.89, 9, 20), True),
        (line(6, 5, 9, 5), True),
        (line(6, 0.09, 9, 0.09), False),
        (line(6, 0.11, 9, 0.11), True),
        (line(6, 9.91, 9, 9.91), False),
        (line(6, 9.89, 9, 9.89), True),
        (line(7, 2, 7, 8), True),
        (line(5.09, 2, 5.09, 8), False),
        (line(5.11, 2, 5.11, 8), True),
    ],
)
def test_boxes_that_reach_into_each_other_make_pairs(row: Row, near: bool) -> None:
    assert pairs([[row]], shapely.box(5, 0, 15, 10)) == [[0, 0]] * near


def test_pairs_of_many_strokes_come_in_order() -> None:
    strokes = [[line(6, 1 + 0.1 * k, 9, 1 + 0.1 * k)] for k in range(60)]
    got = pairs(strokes, shapely.box(5, 0, 15, 10), shapely.box(0, 0, 7, 3.05))
    assert sorted(got) == sorted(
        [[k, 0] for k in range(60)] + [[k, 1] for k in range(60) if 1 + 0.1 * k < 2.96]
    )


def test_strokes_deep_in_one_shape_make_no_pairs() -> None:
    lines = _linestrings(
        table([line(2, 2, 4, 4)], [line(2, 2, 30, 4)], [line(0.05, 1, 0.05, 9)]), 1e-3
    )
    shapes = np.array([shapely.box(0, 0, 10, 10), shapely.box(1, 1, 5, 5)])
    s, j = np.array([0, 0, 1, 1, 2]), np.array([0, 1, 0, 1, 0])
    items = np.array([0, 1, 2]), np.array([3, 4])
    got = _narrowed(s, j, items, lines, shapes, np.full(3, 0.1))
    assert sorted(zip(got[0].tolist(), got[1].tolist(), strict=True)) == [
        (1, 0), (1, 1), (2, 0),
    ]  # fmt: skip
    assert got[2].tolist() == [0]
    # shapes whose boxes alone meet a stroke are no pair
    far = _linestrings(table([line(0, 0, 10, 10)]), 1e-3)
    corner = np.array([shapely.box(6, 0, 9, 3)])
    none = _narrowed(np.zeros(1, int), np.zeros(1, int), items, far, corner, np.ones(1))
    assert [len(some) for some in none] == [0, 0, 0]


def test_a_shape_under_another_is_not_looked_at_twice() -> None:
    # shape 0 is item 1, which stroke 1 draws, and lies deep in shape 1
    shapes = np.array([shapely.box(2, 2, 4, 4), shapely.box(0, 0, 10, 10)])
    items = np.array([0, 1]), np.array([1, 2])
    under = np.array([-1, 1])
    s, j = np.array([0, 0]), np.array([0, 1])
    assert _needless(s, j, items, under, shapes).tolist() == [True, False]
    # not where the other does not hide the stroke too, nor where it reaches out
    assert _needless(s[:1], j[:1], items, under, shapes).tolist() == [False]
    shapes[0] = shapely.box(2, 2, 14, 4)
    assert _needless(s, j, items, under, shapes).tolist() == [False, False]
    none = np.array([-1, -1])
    shapes[0] = shapely.box(2, 2, 4, 4)
    assert not _needless(s, j, items, none, shapes).any()
