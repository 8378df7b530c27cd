"""Boxes, lengths and edges of fills, each limit from both sides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fillwork.geometry.curves import ARC
from fillwork.readers.strokes.outlines import (
    _band_width,
    _reach_edge,
    box_of,
    boxes,
    close_outlines,
    find_backgrounds,
    find_bands,
    free_length,
    measure_lengths,
    size_of,
)
from fillwork.readers.strokes.page import MM_PER_PX, Page
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


@pytest.mark.parametrize(
    ("row", "low", "high"),
    [
        (line(3, -1, 1, 4), [1, -1], [3, 4]),
        # of an arc the box of its whole ellipse, of a Bézier that of its points
        (arc(10, 20, 3, 0, 90, other=2), [7, 18], [13, 22]),
        (cubic(0, 5, -4, 1, 6, 2, 3, 9), [-4, 1], [6, 9]),
    ],
)
def test_boxes_of_each_sort(row: Row, low: list[float], high: list[float]) -> None:
    told = table([line(0, 0, 100, 50)], [row])
    got = boxes(told.kind, told.data)
    assert got[0].tolist() == [[0, 0], low]
    assert got[1].tolist() == [[100, 50], high]


def test_a_slanting_ellipse_has_its_box() -> None:
    # of half-diameters u and v the box reaches as far as sqrt(u² + v²) on each axis
    told = table([arc(0, 0, 1, 0, 360)])
    told.data[0, :6] = 1.0, 2.0, 3.0, 5.0, 4.0, -12.0
    low, high = boxes(told.kind, told.data)
    assert np.allclose([low[0], high[0]], [[-4, -11], [6, 15]])
    assert np.allclose(box_of(told), [[-4, -11], [6, 15]])
    assert size_of(told) == pytest.approx(26.0)


@pytest.mark.parametrize(
    ("row", "low", "high"),
    [
        # a part of a circle reaches its own extremes alone
        (arc(0, 0, 2, 0, 60), [1, 0], [2, math.sqrt(3)]),
        (arc(0, 0, 2, 60, 0), [1, 0], [2, math.sqrt(3)]),
        (arc(0, 0, 2, 30, 120), [-1, 1], [math.sqrt(3), 2]),
        (arc(5, 0, 2, 150, 240), [3, -math.sqrt(3)], [4, 1]),
        (arc(0, 7, 2, 300, 210), [-math.sqrt(3), 5], [1, 7 - 1]),
        (arc(0, 0, 2, 0, 90), [0, 0], [2, 2]),
        # (1 - t) t 3 is highest in the middle: 0.75
        (cubic(0, 0, 0, 1, 1, 1, 1, 0), [0, 0], [1, 0.75]),
        (cubic(0, 0, 0, -1, 1, -1, 1, 0), [0, -0.75], [1, 0]),
        (cubic(0, 0, 4, 0, 4, 2, 0, 2), [0, 0], [3, 2]),
        # 3 (1-t)² t - 3 (1-t) t² is highest and lowest where t = (3 ∓ √3) / 6
        (
            cubic(0, 0, 1, 1, 2, -1, 3, 0),
            [0, -math.sqrt(3) / 6],
            [3, math.sqrt(3) / 6],
        ),
        # a straight Bézier has no turning point
        (cubic(0, 0, 1, 2, 2, 4, 3, 6), [0, 0], [3, 6]),
        # its highest point is before it begins, or after it ends
        (cubic(0, 0, 1, -1, 2, -3, 3, -6), [0, -6], [3, 0]),
        (cubic(0, 0, 1, 1, 2, 5 / 3, 3, 2), [0, 0], [3, 2]),
    ],
)
def test_the_box_of_a_curve_is_exact(
    row: Row, low: list[float], high: list[float]
) -> None:
    assert np.allclose(box_of(table([row])), [low, high], atol=1e-12)
    # so it is wherever the curve lies
    kind, data = row
    by = np.tile([7.0, -3.0], 4)
    if kind == ARC:
        by[2:] = 0.0
    moved = table([(kind, (np.array(data) + by).tolist())])
    assert np.allclose(box_of(moved) - by[:2], [low, high], atol=1e-12)


def test_the_box_of_lines_and_curves_together() -> None:
    told = table([line(-3, 1, 0, 0)], [line(0, 0, 2, 8)], [arc(5, 5, 1, 0, 360)])
    assert np.allclose(box_of(told), [[-3, 0], [6, 8]])
    assert np.allclose(box_of(table([line(1, 2, 4, 0)])), [[1, 0], [4, 2]])
    assert size_of(table([line(1, 2, 4, 0)], [line(0, 9, 1, 9)])) == 9.0


def test_lengths_of_arcs_that_are_no_circle() -> None:
    # an ellipse of axes 2 and 1: 9.688448220547675, from 8 E(3/4) by the tables of
    # M. Abramowitz and I. Stegun (1964), 17.1: E = 1.2110560276
    told = table([arc(3, 0, 2, 0, 360, other=1)], [arc(3, 0, 1, 0, 360, other=2)])
    assert measure_lengths(told.kind, told.data) == pytest.approx(
        [8 * 1.2110560276] * 2, rel=1e-6
    )
    # half-diameters of one length that are not across each other are one too
    told.data[0, 2:6] = math.sqrt(2.5), 0.0, math.sqrt(0.9), math.sqrt(1.6)
    long = measure_lengths(told.kind, told.data)[0]
    assert abs(long - 2 * math.pi * math.sqrt(2.5)) > 0.1
    # nearly a circle: S. Ramanujan, Quarterly Journal of Mathematics 45 (1914), p. 371,
    # with axes 1 and 1.05 and h = (0.05 / 2.05)²
    near = table([arc(0, 0, 1, 0, 360, other=1.05)])
    exact = math.pi * 2.05 * (1 + (0.05 / 2.05) ** 2 / 4)
    assert measure_lengths(near.kind, near.data)[0] == pytest.approx(exact, rel=1e-6)
    # a circle that is turned: half-diameters 3, 4 and -4, 3
    near.data[0, 2:] = 3, 4, -4, 3, 0.5, 2.0
    assert measure_lengths(near.kind, near.data)[0] == pytest.approx(7.5)


def test_lengths_of_a_bent_curve() -> None:
    # a parabola y = x² from 0 to 1 as a cubic: length sqrt(5)/2 + asinh(2)/4
    bent = cubic(4, 2, 4 + 1 / 3, 2, 4 + 2 / 3, 2 + 1 / 3, 5, 3)
    told = table([bent], [line(-1, 3, 4, 15)])
    exact = math.sqrt(5) / 2 + math.asinh(2) / 4
    assert measure_lengths(told.kind, told.data) == pytest.approx([exact, 13], rel=1e-6)


def test_edges_of_fills_are_closed_by_a_straight_line() -> None:
    roof = polygon((0, 0), (4, 0), (4, 3), closed=False)
    told = table(roof, roof, box(0, 0, 1, 1), item=0)
    got = close_outlines(told, np.array([True, False, True]))
    assert got.start.tolist() == [0, 3, 5, 9]
    assert got.closed.tolist() == [True, False, True]
    assert ends(got)[:3] == [[0, 0, 4, 0], [4, 0, 4, 3], [4, 3, 0, 0]]
    assert ends(got)[3:5] == [[0, 0, 4, 0], [4, 0, 4, 3]]
    assert got.item.tolist() == [0, 0, 0]
    # one that says it is closed, and one that ends where it began, get none
    same = close_outlines(table(box(0, 0, 1, 1)), np.ones(1, bool))
    assert same.start.tolist() == [0, 4]
    assert same.closed.tolist() == [True]
    said = close_outlines(table(roof, closed=True), np.ones(1, bool))
    assert said.start.tolist() == [0, 2]


def test_one_coordinate_off_is_open() -> None:
    for corner in ((3.0, 0.0), (0.0, 3.0)):
        told = table(polygon((0, 0), (5, 5), corner, closed=False))
        got = close_outlines(told, np.ones(1, bool))
        assert ends(got)[-1] == [*corner, 0, 0]
    # rounding in the last digit of large numbers is no gap
    near = table(polygon((1e6, 0), (1e6 + 5, 5), (1e6 + 1e-9, 0), closed=False))
    assert len(close_outlines(near, np.ones(1, bool)).kind) == 2
    near.data[-1, 2] = 1e6 + 1e-5
    assert len(close_outlines(near, np.ones(1, bool)).kind) == 3


def page_of(width: float, height: float) -> Page:
    """A page of so many mm."""
    page = Page()
    page.width, page.height = width / MM_PER_PX, height / MM_PER_PX
    page.has_page = True
    return page


@pytest.mark.parametrize(
    ("shape", "background"),
    [
        (box(0, 0, 100, 50), True),
        (box(-5, -5, 110, 60), True),
        # within a thousandth of the longer side
        (box(0.09, 0, 99.91, 50), True),
        (box(0.11, 0, 99.89, 50), False),
        (box(0, 0.11, 100, 49.89), False),
        (box(0, 0, 99.91, 50), True),
        (box(0, 0, 99.89, 50), False),
        (box(0, 0, 100, 49.89), False),
        # a corner cut off; half of the page; two triangles that meet in its middle
        (polygon((0, 0), (100, 0), (100, 50), (50, 50), (0, 25)), False),
        (polygon((0, 0), (100, 0), (100, 50)), False),
        (polygon((0, 0), (100, 50), (100, 0), (0, 50)), False),
        # filling closes it
        (polygon((0, 0), (100, 0), (100, 50), (0, 50), closed=False), True),
        ([*box(0, 0, 100, 50), line(0, 0, 0, 0)], True),
        ([*box(0, 0, 100, 50), line(0, 0, 0, 0), line(0, 0, 0, 0)], False),
        ([*box(0, 0, 100, 50)[:3], arc(0, 25, 25, 90, 270)], False),
    ],
)
def test_a_background_reaches_the_page_on_all_sides(
    shape: list[Row], background: bool
) -> None:
    told = table(box(20, 20, 5, 5), shape)
    got = find_backgrounds(told, np.ones(2, bool), page_of(100, 50))
    assert got.tolist() == [False, background]


def test_a_background_is_one_fill_of_one_outline() -> None:
    whole, page = box(0, 0, 100, 50), page_of(100, 50)
    told = table(whole, box(20, 20, 5, 5))
    assert find_backgrounds(told, np.array([True, False]), page).tolist() == [
        True,
        False,
    ]
    assert not find_backgrounds(told, np.array([False, True]), page).any()
    # with a hole it is more
    holed = table(whole, box(20, 20, 5, 5), item=0)
    assert not find_backgrounds(holed, np.ones(2, bool), page).any()
    # without a page the box of all lines serves
    assert find_backgrounds(told, np.ones(2, bool), Page()).tolist() == [True, False]
    beside = table(whole, box(20, 20, 95, 5))
    assert not find_backgrounds(beside, np.ones(2, bool), Page()).any()


@pytest.mark.parametrize(
    ("shape", "background"),
    [
        # another fill along the edge leaves a field beside it
        (box(0, 10, 30, 30), False),
        (box(70, 10, 30, 30), False),
        (box(10, 0, 30, 30), False),
        (box(10, 20, 30, 30), False),
        (box(10, 10, 30, 30), True),
        # a side of less than a hundredth hardly lies along it
        (box(0, 10, 30, 0.9), True),
        (box(0, 10, 30, 1.1), False),
        # a tip at it does not
        (polygon((0, 25), (30, 10), (30, 40)), True),
    ],
)
def test_fills_along_the_edge_leave_a_field(shape: list[Row], background: bool) -> None:
    told = table(box(0, 0, 100, 50), shape)
    got = find_backgrounds(told, np.ones(2, bool), page_of(100, 50))
    assert got.tolist() == [background, False]


@pytest.mark.parametrize(("off", "background"), [(0.1, True), (0.125, False)])
def test_a_thousandth_of_the_longer_side_is_the_edge(
    off: float, background: bool
) -> None:
    # beside the box of all lines, of which a drawn one is the largest
    drawn, fills = box(0, 0, 100, 50), np.array([False, True])
    for shape in (
        polygon((off, 0), (100, 0), (100, 50), (off, 50)),
        polygon((0, 0), (100 - off, 0), (100 - off, 50), (0, 50)),
        polygon((0, 0), (100, 0), (100, 50 - off), (0, 50 - off)),
    ):
        got = find_backgrounds(table(drawn, shape), fills, Page())
        assert got.tolist() == [False, background]


def test_only_straight_sides_lie_along_the_edge() -> None:
    low, high = np.zeros(2), np.array([100.0, 50.0])
    # on the very limits: as far off as the slack, ten times as long
    assert _reach_edge(table([line(0.1, 10, 0.1, 20)]), low, high, 0.1)
    assert not _reach_edge(table([line(0, 10, 0, 11)]), low, high, 0.1)
    assert _reach_edge(table([line(0, 10, 0, 11.01)]), low, high, 0.1)
    assert _reach_edge(table([line(0, 10, 0, 20)]), low, high, 0.1)
    # on the edge at one end alone, or beside it by more than the slack
    assert not _reach_edge(table([line(0, 10, 9, 10)]), low, high, 0.1)
    assert not _reach_edge(table([line(0.2, 10, 0.2, 20)]), low, high, 0.1)
    assert _reach_edge(table([line(99.95, 10, 99.95, 20)]), low, high, 0.1)
    assert not _reach_edge(table([arc(0, 10, 0.05, 0, 90)]), low, high, 0.1)


def test_edges_clear_of_strokes_are_measured() -> None:
    edges = table(box(0, 0, 30, 10))
    # a line along the lower side, and one beyond its pen's width from the upper
    drawn = table([line(0, 0, 30, 0)], [line(0, 11, 30, 11)])
    assert free_length(edges, drawn, [0.5]) == pytest.approx(49, abs=0.05)
    assert free_length(edges, drawn, [1.01, 1.01]) == pytest.approx(18, abs=0.2)
    # the usual pen counts, not the widest
    assert free_length(edges, drawn, [0.5, 0.5, 9.0]) == pytest.approx(49, abs=0.05)
    # without widths a thousandth of the drawing's size: 0.03
    assert free_length(edges, drawn, []) == pytest.approx(50, abs=0.1)
    beside = table([line(0, -0.029, 30, -0.029)], [line(0, 11, 3, 11)])
    assert free_length(edges, beside, []) == pytest.approx(50, abs=0.1)
    beside = table([line(0, -0.031, 30, -0.031)], [line(0, 11, 3, 11)])
    assert free_length(edges, beside, []) == pytest.approx(80, abs=0.1)
    speck = table([line(1, 1, 1, 1)])
    assert free_length(speck, drawn, [0.5]) == 0.0


def test_edges_along_bent_strokes_are_not_clear() -> None:
    circle = table([arc(0, 0, 10, 0, 360)])
    assert free_length(circle, circle, [0.1]) == 0.0
    beside = table([arc(0, 0, 10.2, 0, 360)])
    free = free_length(beside, circle, [0.1])
    assert free == pytest.approx(2 * math.pi * 10.2, rel=1e-3)
    # in a drawing of any size
    for big in (1e-3, 1e3):
        edges = table(box(0, 0, 30 * big, 10 * big))
        drawn = table([line(0, 0, 30 * big, 0)], [line(0, 99 * big, 9 * big, 99 * big)])
        assert free_length(edges, drawn, []) == pytest.approx(50 * big, rel=0.01)


def bar(width: float, long: float = 50.0, x: float = 0.0) -> list[Row]:
    """A band standing upright."""
    return box(x, 0, width, long)


def test_bands_are_thin_in_most_of_their_length() -> None:
    told = table(bar(1), bar(1, x=5), bar(1, x=10))
    found, width, text = find_bands(told, np.ones(3, bool))
    assert found.tolist() == [True] * 3
    assert width == pytest.approx(1.0)
    assert text == "3 of 3"
    # only those that are asked about
    found, _, text = find_bands(told, np.array([True, False, True]))
    assert found.tolist() == [True, False, True]
    assert text == "2 of 2"
    none = find_bands(told, np.zeros(3, bool))
    assert (none[0].any(), none[1], none[2]) == (False, 0.0, "")


@pytest.mark.parametrize(
    ("long", "band"),
    # its edge is forty times as long as it is wide: 2 + 2 · 19
    [(18.9, False), (19.0, True), (25.0, True)],
)
def test_a_band_is_long_beside_its_width(long: float, band: bool) -> None:
    told = table(bar(1, long), bar(1, long, x=5))
    assert find_bands(told, np.ones(2, bool))[0].all() == band


def test_bands_make_up_most_of_the_edges() -> None:
    # 4 bars of 51 · 2 against a square of edge 4 a
    bars = [bar(1, x=5 * k) for k in range(4)]
    for side, found in ((101, True), (102, False), (103, False)):
        told = table(*bars, box(30, 0, side, side))
        assert find_bands(told, np.ones(5, bool))[0].any() == found
    told = table(*bars, box(30, 0, 101, 101))
    found, _, text = find_bands(told, np.ones(5, bool))
    assert found.tolist() == [True] * 4 + [False]
    assert text == "4 of 5"


def test_a_ring_is_a_band_whichever_way_its_hole_runs() -> None:
    outer = box(0, 0, 40, 40)
    hole = box(1, 1, 38, 38)
    back = polygon((1, 1), (1, 39), (39, 39), (39, 1))
    for inner in (hole, back):
        told = table(outer, inner, item=0)
        found, width, text = find_bands(told, np.ones(2, bool))
        assert found.tolist() == [True, True]
        assert width == pytest.approx(1.0)
        assert text == "1 of 1"


def test_bands_are_known_in_drawings_of_any_size() -> None:
    for big in (1e-3, 1e3):
        told = table(bar(big, 50 * big), bar(big, 50 * big, x=5 * big))
        found, width, _ = find_bands(told, np.ones(2, bool))
        assert found.all()
        assert width == pytest.approx(big)
        outer = box(0, 0, 40 * big, 40 * big)
        told = table(outer, box(big, big, 38 * big, 38 * big), item=0)
        assert find_bands(told, np.ones(2, bool))[1] == pytest.approx(big)


def test_a_round_band_is_as_wide_as_its_circles_are_apart() -> None:
    told = table([arc(0, 0, 20, 0, 360)], [arc(0, 0, 19, 360, 0)], item=0)
    found, width, _ = find_bands(told, np.ones(2, bool))
    assert found.all()
    assert width == pytest.approx(1.0, abs=0.06)


def test_more_than_half_of_what_is_thin_is_as_wide_all_along() -> None:
    def wedge(x: float) -> list[Row]:
        return polygon((x, 0), (x + 1, 0), (x, 60))

    wedges = [wedge(50), wedge(55)]
    told = table(bar(1), bar(1, x=5), *wedges)
    assert not find_bands(told, np.ones(4, bool))[0].any()
    told = table(bar(1), bar(1, x=5), bar(1, x=10), *wedges)
    found, width, text = find_bands(told, np.ones(5, bool))
    assert found.all()
    assert width == pytest.approx(1.0)
    assert text == "3 of 5"


def test_many_bands_are_told_by_some_of_them() -> None:
    told = table(*(bar(1, 30, x=5.0 * k) for k in range(400)))
    _, width, text = find_bands(told, np.ones(400, bool))
    assert text == "about 400 of 400"
    assert width == pytest.approx(1.0)


def segments(rows: list[Row]) -> np.ndarray:
    return np.array([data[:4] for _, data in rows])


def test_the_width_that_most_places_share() -> None:
    assert _band_width(segments(bar(1))) == pytest.approx(1.0)
    assert _band_width(segments(bar(1))[::-1]) == pytest.approx(1.0)
    # the other way round, and turned
    a = np.radians(31.0)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    turned = (segments(bar(2, 90)).reshape(-1, 2) @ turn).reshape(-1, 4)
    assert _band_width(turned) == pytest.approx(2.0)
    assert _band_width(turned[:, [2, 3, 0, 1]][::-1]) == pytest.approx(2.0)
    # too short for its width, nothing at all
    assert _band_width(segments(bar(1, 18))) == 0.0
    assert _band_width(np.zeros((2, 4))) == 0.0
    assert _band_width(segments([line(0, 0, 50, 0)])) == 0.0


@pytest.mark.parametrize(
    ("wide", "band"),
    # half as long again where the two thirds are alike, or where nearly all is
    [(20.0, True), (60.0, False)],
)
def test_a_band_is_as_wide_in_seven_of_ten_places(wide: float, band: bool) -> None:
    # 100 of width 1, then so many of width 2
    shape = polygon(
        (0, 0), (100, 0), (100, -1), (100 + wide, -1), (100 + wide, 2), (100, 2),
        (100, 1), (0, 1),
    )  # fmt: skip
    assert (_band_width(segments(shape)) > 0) == band


@pytest.mark.parametrize(("much", "band"), [(0.19, True), (0.21, False)])
def test_widths_are_alike_within_a_fifth(much: float, band: bool) -> None:
    # two thirds of it of width 1, a third wider by so much
    shape = polygon((0, 0), (60, 0), (60, -much), (90, -much), (90, 1), (60, 1), (0, 1))
    assert (_band_width(segments(shape)) > 0) == band
