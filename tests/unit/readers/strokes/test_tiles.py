"""Tiles of a pattern: what each shows, where they lie, what meets at their edges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry import affine
from fillwork.readers.limits import NORMAL
from fillwork.readers.strokes.clip import Budget
from fillwork.readers.strokes.collect import Collector, Context, StrokeTable
from fillwork.readers.strokes.drawn import Clip, Drawn
from fillwork.readers.strokes.tiles import (
    Grid,
    Tile,
    _copies,
    _edge_context,
    _is_opaque,
    _joined,
    _less,
    _on_side,
    _part_rims,
    _straight,
    choose_places,
    lay_tile,
    make_tile,
)
from tests.unit.readers.strokes.tables import (
    Row,
    about,
    arc,
    box,
    cubic,
    ends,
    fill,
    line,
    polygon,
    table,
)

SIZE = (10.0, 6.0)


def free(steps: int) -> None:
    assert steps >= 0


@pytest.mark.parametrize(
    ("spans", "joined"),
    [
        ([], []),
        ([(0, 1), (2, 3)], [(0, 1), (2, 3)]),
        ([(2, 3), (0, 1)], [(0, 1), (2, 3)]),
        ([(0, 1), (1, 3)], [(0, 3)]),
        ([(0, 5), (1, 3)], [(0, 5)]),
        ([(0, 2), (1, 3), (2.5, 4), (9, 10)], [(0, 4), (9, 10)]),
    ],
)
def test_spans_that_touch_are_one(
    spans: list[tuple[float, float]], joined: list[tuple[float, float]]
) -> None:
    assert _joined(spans) == joined


@pytest.mark.parametrize(
    ("others", "left"),
    [
        ([], [(2, 8)]),
        ([(0, 2), (8, 9)], [(2, 8)]),
        ([(0, 1), (9, 10)], [(2, 8)]),
        ([(0, 3)], [(3, 8)]),
        ([(7, 12)], [(2, 7)]),
        ([(2, 8)], []),
        ([(0, 9)], []),
        ([(3, 4), (5, 6)], [(2, 3), (4, 5), (6, 8)]),
        ([(0, 3), (3, 5)], [(5, 8)]),
    ],
)
def test_what_is_left_of_a_span(
    others: list[tuple[float, float]], left: list[tuple[float, float]]
) -> None:
    assert _less([(2, 8)], others) == left
    assert _less([(2, 8), (20, 21)], others) == [*left, (20, 21)]


@pytest.mark.parametrize(
    ("row", "sides"),
    [
        # near and far edge of x, near and far of y
        (line(0, 1, 0, 5), "x"),
        (line(10, 5, 10, 1), "X"),
        (line(1, 0, 5, 0), "y"),
        (line(1, 6, 5, 6), "Y"),
        (line(0, 0, 5, 0.1), ""),
        (line(0, 0, 0.1, 5), ""),
        # within a millionth of the longer side
        (line(0.9e-5, 1, -0.9e-5, 5), "x"),
        (line(1.1e-5, 1, 0, 5), ""),
        (line(9.99999, 1, 10, 5), "X"),
        (line(9.99998, 1, 10, 5), ""),
        (cubic(0, 1, 0, 2, 0, 3, 0, 4), ""),
    ],
)
def test_what_lies_on_the_edges_of_a_tile(row: Row, sides: str) -> None:
    told = table([row])
    got = ""
    for axis, far, name in (
        (0, False, "x"),
        (0, True, "X"),
        (1, False, "y"),
        (1, True, "Y"),
    ):
        if _on_side(told.kind, told.data, SIZE, axis, far)[0]:
            got += name
    assert got == sides


def test_straight_lines_along_the_near_edges() -> None:
    got = _straight([(0, 1.0, 4.0), (1, 2.0, 5.0)], 7)
    assert ends(got) == [[0, 1, 0, 4], [2, 0, 5, 0]]
    assert got.item.tolist() == [7, 7]


def test_lines_on_both_edges_are_one() -> None:
    told = table(
        [line(0, 1, 0, 3), line(0, 3, 5, 3), line(5, 3, 5, 6)],
        [line(10, 4, 10, 2), line(10, 2, 8, 2)],
        [line(2, 6, 7, 6)],
        box(0, 0, 10, 6),
        [line(3, 3, 4, 4)],
        closed=True,
    )
    stroked = np.array([True, True, True, False, True])
    left, rims, way = _part_rims(told, stroked, SIZE)
    # later items come first: 1 has 2 to 4, so that 1 to 2 is left to item 0
    assert ends(rims) == [[0, 1, 0, 2], [0, 2, 0, 4], [2, 0, 7, 0]]
    assert rims.item.tolist() == [0, 1, 2]
    assert way.tolist() == [0, 0, 1]
    assert ends(left) == [
        [0, 3, 5, 3], [5, 3, 5, 6], [10, 2, 8, 2], [3, 3, 4, 4],
    ]  # fmt: skip
    assert left.item.tolist() == [0, 1, 4]
    assert left.closed.tolist() == [False, False, True]
    # a stroke that loses a part from its middle is two
    gap = table([line(5, 5, 0, 5), line(0, 5, 0, 1), line(0, 1, 5, 1)])
    left, rims, _ = _part_rims(gap, np.ones(1, bool), SIZE)
    assert left.start.tolist() == [0, 1, 2]
    assert ends(rims) == [[0, 1, 0, 5]]
    # two lines beside each other on one edge are one
    two = table([line(0, 1, 0, 3), line(0, 3, 0, 5)])
    assert ends(_part_rims(two, np.ones(1, bool), SIZE)[1]) == [[0, 1, 0, 5]]
    # nothing there, nothing done
    inner = table([line(1, 1, 2, 2)])
    same, none, way = _part_rims(inner, np.ones(1, bool), SIZE)
    assert same is inner
    assert len(none.closed) == len(way) == 0


def places(
    rows: list[Row], grid: Grid, most: int = 1000, even_odd: bool = False
) -> object:
    got = choose_places(table(rows, closed=True), even_odd, grid, most, free)
    if isinstance(got, float):
        return got
    return sorted(
        (*place, inside)
        for place, inside in zip(got[0].tolist(), got[1].tolist(), strict=True)
    )


GRID = Grid(affine.IDENTITY, 0.0, 0.0, 10.0, 6.0)


def test_tiles_that_a_shape_takes() -> None:
    # exactly two by two: its outline lies on their edges
    assert places(box(0, 0, 20, 12), GRID) == [
        (0, 0, False), (0, 1, False), (1, 0, False), (1, 1, False),
    ]  # fmt: skip
    # one whole in the middle
    got = places(box(-1, -1, 12, 8), GRID)
    assert len(got) == 9
    assert [place for place in got if place[2]] == [(0, 0, True)]
    assert (got[0], got[-1]) == ((-1, -1, False), (1, 1, False))
    # a small one lies in one tile, wherever the first is
    assert places(box(3, 2, 1, 1), GRID) == [(0, 0, False)]
    assert places(box(3, 2, 1, 1), GRID._replace(x=3.5, y=4.0)) == [
        (-1, -1, False), (0, -1, False),
    ]  # fmt: skip
    assert places(box(3, 2, 1, 1), GRID._replace(x=-20.0, y=-12.0)) == [(2, 2, False)]
    # turned by a quarter: columns go up, rows to the left
    turned = GRID._replace(matrix=(0.0, 1.0, -1.0, 0.0, 0.0, 0.0))
    assert places(box(-5, 11, 1, 1), turned) == [(1, 0, False)]
    half = GRID._replace(matrix=(0.5, 0.0, 0.0, 0.5, 1.0, 1.0))
    assert places(box(7, 5, 1, 0.5), half) == [(1, 1, False)]
    # over the limit the number comes back
    assert places(box(0, 0, 20, 12), GRID, 3) == 4.0
    assert places(box(0, 0, 20, 12), GRID, 4) != 4.0
    assert places(box(0, 0, 1000, 600), GRID, 1000) == 10_000.0
    assert places(box(0, 0, 1e6, 6e5), GRID, 1000) == 1e10
    assert places([line(5e10, 3, 5e10 + 1, 3)], GRID) == 1.0


def test_tiles_in_a_hole_are_not_taken() -> None:
    # a frame of 70 by 42 with a hole of 50 by 30, edges through the middle of tiles
    frame, hole = box(5, 3, 70, 42), box(15, 9, 50, 30)
    both = table(frame, hole, closed=True, item=0)
    got, inside = choose_places(both, True, GRID, 1000, free)
    assert not inside.any()
    # a hole of 30 by 18: of the 36 tiles within, its rim crosses 12 and 4 lie in it
    wide = table(frame, box(25, 15, 30, 18), closed=True, item=0)
    for even_odd, whole in ((True, 20), (False, 24)):
        got, inside = choose_places(wide, even_odd, GRID, 1000, free)
        assert int(inside.sum()) == whole
        assert len(got) == 28 + 12 + whole


def tile_of(
    *strokes: list[Row], rim: list[int], contexts: list[Context] | None = None
) -> Tile:
    """A tile as it is laid; what stands on its rim says on which edge."""
    n = len(strokes)
    return Tile(
        table(*strokes), contexts or [about()] * n, np.arange(n), np.arange(n),
        [f"n{k}" for k in range(n)], np.ones(n, bool), np.array(rim, np.int8), False,
    )  # fmt: skip


def test_copies_stand_at_their_places() -> None:
    rows = [line(1, 1, 2, 3)], [arc(4, 4, 1, 0, 90)], [cubic(1, 1, 2, 1, 3, 2, 4, 4)]
    grid = Grid(affine.IDENTITY, 100.0, 200.0, 10.0, 6.0)
    where = np.array([[0, 0], [2, -1]])
    got = _copies(table(*rows), np.arange(3), 3, grid, where, 7)
    assert got.item.tolist() == [7, 8, 9, 10, 11, 12]
    assert np.diff(got.start).tolist() == [1] * 6
    assert got.data[[0, 3], :4].tolist() == [[101, 201, 102, 203], [121, 195, 122, 197]]
    assert got.data[4].tolist() == [124, 198, 1, 0, 0, 1, 0, math.pi / 2]
    assert got.data[5].tolist() == [121, 195, 122, 195, 123, 196, 124, 198]
    # strokes of one item, and more than one curve
    two = table(box(0, 0, 1, 1), [line(0, 0, 1, 1)], item=0)
    got = _copies(two, np.zeros(2, int), 1, grid, where, 0)
    assert got.item.tolist() == [0, 0, 1, 1]
    assert got.start.tolist() == [0, 4, 5, 9, 10]


def test_what_stands_on_the_near_edge_closes_the_tile_before_too() -> None:
    tile = tile_of(
        [line(1, 1, 2, 2)], [line(0, 2, 0, 4)], [line(3, 0, 5, 0)], rim=[-1, 0, 1]
    )
    places = np.array([[0, 0], [1, 0]])
    got, item, cut = lay_tile(tile, GRID, places, np.array([True, False]))
    # inner lines at both places; upright edges at 0, 10 and 20; level ones at 0 and 6
    assert item.tolist() == [0, 0, 1, 1, 1, 2, 2, 2, 2]
    assert ends(got) == [
        [1, 1, 2, 2], [11, 1, 12, 2],
        [0, 2, 0, 4], [10, 2, 10, 4], [20, 2, 20, 4],
        [3, 0, 5, 0], [3, 6, 5, 6], [13, 0, 15, 0], [13, 6, 15, 6],
    ]  # fmt: skip
    # free of cuts is what lies between, or in, tiles that are inside
    assert cut.tolist() == [False, True] + [True] * 7
    _, _, cut = lay_tile(tile, GRID, places, np.array([True, True]))
    assert cut.tolist() == [False, False, True, False, True] + [True] * 4


def walked(items: list[Context], clips: list[Clip] | None = None) -> Drawn:
    walk = Drawn(NORMAL, "a.svg", Collector(NORMAL, "a.svg"), clips or [])
    for k, context in enumerate(items):
        walk.collector.add_item(walk.context(context), k, f"n{k}")
    return walk


def made(
    *items: tuple[list[Row], Context],
    drop: bool = True,
    clips: list[Clip] | None = None,
) -> Tile | None:
    told = table(*(rows for rows, _ in items), closed=False)
    walk = walked([context for _, context in items], clips)
    budget = Budget(NORMAL, "a.svg")
    return make_tile(walk, told, SIZE, 1.0, budget, drop=drop)


def rims(tile: Tile) -> list[tuple[int, list[float], str | None]]:
    """Return what stands on the edges: which, from where to where, in which colour."""
    some = np.flatnonzero(tile.rim >= 0)
    told = tile.table.pick(some)
    return sorted(
        (int(way), row, tile.contexts[tile.of_item[item]].colour)
        for way, row, item in zip(tile.rim[some], ends(told), told.item, strict=True)
    )


def test_a_tile_is_cut_to_its_box() -> None:
    tile = made(([line(-5, 3, 5, 3)], about(matrix=(1.0, 0, 0, 1.0, 1.0, 0.0))),
                ([line(2, 2, 3, 3)], about(colour="#b")))  # fmt: skip
    assert ends(tile.table) == [[0, 3, 6, 3], [2, 2, 3, 3]]
    assert tile.whole.tolist() == [False, True]
    assert tile.names == ["n0", "n1"]
    assert tile.line.tolist() == [0, 1]
    assert tile.rim.tolist() == [-1, -1]
    assert not tile.opaque
    assert made() is None
    assert made(([line(math.nan, 0, 1, 1)], about())) is None
    # what reaches to the edge exactly is whole, what lies on it is not
    tile = made(([line(0, 0, 10, 6)], about()), ([line(0, 1, 0, 5)], about(width=1.0)))
    assert tile.whole.tolist() == [True, False]
    assert tile.rim.tolist() == [-1, 0]


def test_later_fills_of_a_tile_hide() -> None:
    items = ([line(1, 3, 9, 3)], about()), (box(4, 1, 2, 4), fill())
    tile = made(*items)
    assert ends(tile.table)[:2] == [[1, 3, 4, 3], [6, 3, 9, 3]]
    assert tile.whole.tolist() == [False, True]
    tile = made(*items, drop=False)
    assert ends(tile.table)[0] == [1, 3, 9, 3]
    assert tile.whole.tolist() == [True, True]


def test_where_colours_differ_between_tiles_there_is_an_edge() -> None:
    # red on the left half: an edge where it meets the bare right half of the next
    (left,) = rims(made((box(0, 0, 5, 6), fill())))
    assert left == (0, [0, 0, 0, 6], "#ff0000")
    # told as of the fill that ends there
    tile = made(([line(6, 1, 7, 1)], about()), (box(0, 0, 5, 6), fill()))
    assert tile.names == ["n0", "n1", "n1"]
    assert tile.line.tolist() == [0, 1, 1]
    assert tile.whole.tolist() == [True, False, False]
    # from 2 to 5 alone; a fill all across has no edge left and right
    (part,) = rims(made((box(0, 2, 5, 3), fill())))
    assert part == (0, [0, 2, 0, 5], "#ff0000")
    assert rims(made((box(0, 2, 10, 3), fill()))) == []
    # across the lower edge, between 2 and 7
    (low,) = rims(made((box(2, 0, 5, 3), fill())))
    assert low == (1, [2, 0, 7, 0], "#ff0000")
    (high,) = rims(made((box(2, 3, 5, 3), fill())))
    assert high == (1, [2, 0, 7, 0], "#ff0000")
    # red against blue: the later of the two
    both = (box(0, 0, 5, 6), fill()), (box(5, 0, 5, 6), fill(fill="#0000ff"))
    assert rims(made(*both)) == [(0, [0, 0, 0, 6], "#0000ff")]
    same = (box(0, 0, 5, 6), fill()), (box(5, 0, 5, 6), fill())
    assert rims(made(*same)) == []
    # a line along it is the edge already, in part or whole
    lined = (*both, ([line(0, 0, 0, 2)], about()))
    assert rims(made(*lined)) == [
        (0, [0, 0, 0, 2], "#000000"),
        (0, [0, 2, 0, 6], "#0000ff"),
    ]
    # a fill that ends short of the edge by a thousandth of the tile makes none
    assert rims(made((box(0.01, 0.01, 5, 5), fill()))) == []


def test_what_shows_through_an_edge_counts() -> None:
    # glass over red on one side and red alone on the other differ
    glass = fill(covers=False, fill="#00f")
    red = box(0, 0, 10, 6), fill()
    assert len(rims(made(red, (box(0, 0, 5, 6), glass)))) == 1
    assert rims(made(red, (box(0, 0, 10, 6), glass))) == []
    # though it be of the colour of its edge
    glass = fill(covers=False)
    assert (
        len(rims(made((box(0, 0, 10, 6), fill(fill="#0f0")), (box(0, 0, 5, 6), glass))))
        == 1
    )
    assert (
        len(rims(made((box(0, 0, 5, 6), fill(fill="#0f0")), (box(0, 0, 10, 6), glass))))
        == 1
    )
    # what an opaque one covers does not
    lid = box(0, 0, 10, 6), fill(fill="#0f0")
    assert rims(made((box(0, 0, 5, 6), fill()), lid)) == []
    assert len(rims(made(lid, (box(0, 0, 5, 6), fill())))) == 1
    # a line and a fill of one colour cover, however the fill is marked
    inked = fill(covers=False, stroked=True, colour="#0f0", fill="#0f0", width=0.1)
    assert [
        way
        for way, _, _ in rims(
            made((box(0, 1, 5, 4), fill()), (box(-1, -1, 12, 8), inked))
        )
    ] == []


def test_edges_of_gradients_have_no_one_colour() -> None:
    context = about(
        stroked=True, dash=True, clip=3, pattern="p", gradient=True, width=2.0
    )
    got = _edge_context(context, "#00ff00")
    assert (got.colour, got.fill) == ("#00ff00", "#00ff00")
    assert (got.stroked, got.filled, got.dash, got.covers, got.gradient) == (
        False, True, False, False, False,
    )  # fmt: skip
    assert (got.width, got.clip, got.pattern) == (0.0, -1, "")
    assert _edge_context(context, "url(#g)").colour is None
    assert _edge_context(context, None).colour is None


@pytest.mark.parametrize(
    ("shape", "context", "opaque"),
    [
        (box(0, 0, 10, 6), fill(), True),
        (box(-1, -1, 12, 8), fill(), True),
        (box(0, 0, 10, 6), fill(covers=False), False),
        (box(0, 0, 10, 6), fill(clip=0), False),
        # all but a thousandth
        (box(0, 0, 9.995, 6), fill(), True),
        (box(0, 0, 9.985, 6), fill(), False),
        (polygon((0, 0), (10, 0), (10, 6), (0, 6), closed=False), fill(), True),
        (polygon((0, 0), (10, 0), (10, 6)), fill(), False),
    ],
)
def test_nothing_shows_through_an_opaque_tile(
    shape: list[Row], context: Context, opaque: bool
) -> None:
    told: StrokeTable = table(shape)
    assert _is_opaque(told, [context], [0], SIZE) == opaque
