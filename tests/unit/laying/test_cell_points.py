"""Outlines of cells, special points of patterns and borders that repeats leave."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.errors import LineWorkError
from fillwork.geometry import affine
from fillwork.geometry.curves import Curves
from fillwork.laying.cell import cut_corners, default_slack, find_cell, find_outline
from fillwork.laying.figures import Figures, _firsts, _special_points
from fillwork.laying.panel import panel_from_curves, rectangle_panel
from fillwork.laying.whole import moved_place, plain_border, rest_border
from tests.unit.colouring.pattern_groups import (
    FRIEZE,
    PLANE,
    frieze_maps,
    plane_maps,
    rosette_maps,
)
from tests.unit.helpers import linework_from_segments, polyline
from tests.unit.symmetry.test_elements import FRIEZE as STRIP_COUNTS
from tests.unit.symmetry.test_elements import PLANE as PLANE_COUNTS

CELLS = [
    *(("plane", short, plane_maps(short), PLANE_COUNTS[short][0]) for short in PLANE),
    *(
        ("frieze", short, frieze_maps(short), STRIP_COUNTS[short][0])
        for short in FRIEZE
    ),
    ("rosette", "C5", rosette_maps(5, mirrors=False), {5: 1}),
    ("rosette", "D6", rosette_maps(6, mirrors=True), {6: 1}),
]


@pytest.mark.parametrize(("family", "short", "group", "orders"), CELLS)
def test_special_points_are_the_centres_of_turning(
    family, short, group, orders
) -> None:
    maps, basis = group
    moved = affine.translation(1.0, 1.5)
    back = affine.invert(moved)
    operations = tuple(
        affine.compose(moved, affine.compose(tuple(m), back)) for m in maps
    )
    outline = np.array([[0.0, 0], [5, 0], [5, 4], [0, 4]])
    points = _special_points(SimpleNamespace(outline=outline), basis, operations)
    told = [p.order for p in points]
    assert told == sorted(told, reverse=True)
    if orders:
        assert {n: told.count(n) for n in set(told)} == orders
        for p in points:
            assert p.name.startswith("a centre of ")
            assert ("half-turns" in p.name) == (p.order == 2)
            # the copy that lies nearest the cell's middle, along the shifts
            off = (np.array(p.at) - [2.5, 2]) @ np.linalg.pinv(basis)
            assert (np.abs(off) <= 0.5 + 1e-9).all()
            turns = [
                m
                for m in operations
                if abs(math.atan2(m[1], m[0])) > 1e-6
                and abs(abs(math.atan2(m[1], m[0])) - 2 * math.pi / p.order) < 1e-6
                and m[0] * m[3] - m[1] * m[2] > 0
            ]
            rests = [affine.apply(m, np.array(p.at)) - p.at for m in turns]
            along = [r @ np.linalg.pinv(basis) for r in rests]
            gaps = [r - np.rint(a) @ basis for r, a in zip(rests, along, strict=True)]
            assert min(np.hypot(*g) for g in gaps) < 1e-6
    elif short in ("pm", "cm", "p11m", "p1m1"):
        assert {p.name for p in points} == {"a mirror"}
        for p in points:
            images = [affine.apply(m, np.array(p.at)) - p.at for m in operations[1:]]
            along = images[0] @ np.linalg.pinv(basis)
            assert np.hypot(*(images[0] - np.rint(along) @ basis)) < 1e-6
    else:
        assert [(p.at, p.name) for p in points] == [
            ((0.0, 0.0), "the cell's corner"),
            ((2.5, 2.0), "the cell's middle"),
        ]


@pytest.mark.parametrize("basis", [[[7.0, 1], [-2, 5]], [[6.0, 2]]])
def test_of_points_that_shifts_carry_onto_each_other_the_first_is_kept(basis) -> None:
    basis = np.array(basis)
    rng = np.random.default_rng(1)
    own = rng.uniform(0, 4, (5, 2))
    whose = np.r_[np.arange(5), rng.integers(0, 5, 40)]
    steps = rng.integers(-4, 5, (45, len(basis))) @ basis
    assert _firsts(own[whose] + steps, basis).tolist() == list(range(5))


def test_corners_are_where_an_outline_bends() -> None:
    ring = np.array(
        [[0.0, 0], [10, 0.04], [20, 0], [20, 7], [20, 20], [9, 20], [0, 20]]
    )
    for given in (ring, ring[::-1], np.roll(ring, 3, axis=0)):
        found = cut_corners(given, 0.05)
        assert sorted(found.tolist()) == [[0, 0], [0, 20], [20, 0], [20, 20]]
        assert shapely.linearrings(found).is_ccw
    assert len(cut_corners(ring, 0.03)) == 5
    # what is narrower than the slack stays as it is
    sliver = np.array([[0.0, 0], [20, 0], [10, 0.01]])
    assert len(cut_corners(sliver, 0.1)) == 3


def test_misses_that_are_closed_are_a_fifth_of_short_lines() -> None:
    def slack(lengths, **facts):
        rows = [[0, 3 * k, v, 3 * k] for k, v in enumerate(lengths)]
        return default_slack(replace(linework_from_segments(rows), **facts))

    assert slack([9.0] * 10) == 0.5
    # the tenth shortest of ten decides, between 1 and 2 mm: 1.9
    assert slack([1.0, *[2.0] * 9]) == pytest.approx(0.2 * 1.9)
    assert slack([0.0, *[2.0] * 9]) == pytest.approx(0.4)
    # of a traced sheet two widths of the pen are the most
    traced = SimpleNamespace(pen_width=0.2)
    assert slack([9.0] * 10, trace=traced) == pytest.approx(0.4)
    # gaps that were closed there say nothing
    styles = (("ink", "#000000", 0.5, False), ("doubtful", "#000000", 0.5, False))
    style = np.array([1, 1, 1, 0, 0, 0], np.int32)
    told = slack([0.1] * 3 + [1.5] * 3, trace=traced, styles=styles, style=style)
    assert told == pytest.approx(0.3)


def guide(*points, closed=True):
    return linework_from_segments(polyline(points, closed), 200, 200, has_page=False)


def within(*rows):
    return linework_from_segments(list(rows), 200, 200, has_page=False)


def same_ring(found, expected, near=1e-6) -> bool:
    one, two = shapely.Polygon(found), shapely.Polygon(expected)
    return one.symmetric_difference(two).area < near


def test_an_outline_is_what_guide_lines_close() -> None:
    square = [(20, 20), (60, 20), (60, 60), (20, 60)]
    found = find_outline(guide(*square), slack=0.5)
    assert same_ring(found, square)
    # a gap of one slack at a corner is closed
    opened = [(20, 20.9), (20, 60), (60, 60), (60, 20), (20, 20)]
    assert same_ring(find_outline(guide(*opened, closed=False), slack=0.5), square, 2)
    with pytest.raises(LineWorkError, match="close nothing"):
        find_outline(guide((20, 20), (60, 20), closed=False), slack=0.5)
    # of two squares side by side the one in which lines lie
    rows = np.vstack(
        [polyline(square, True), polyline([(60, 20), (90, 20), (90, 60), (60, 60)])]
    )
    both = linework_from_segments(rows, 200, 200, has_page=False)
    lines = within([25, 25, 55, 50], [25, 50, 50, 25])
    assert same_ring(find_outline(both, slack=0.5, within=lines), square)
    # with a twentieth of the lines in the other one, both
    more = within([25, 25, 55, 25], [65, 30, 67, 30])
    wide = [(20, 20), (90, 20), (90, 60), (20, 60)]
    assert same_ring(find_outline(both, slack=0.5, within=more), wide)
    less = within([25, 25, 55, 25], [65, 30, 66, 30])
    assert same_ring(find_outline(both, slack=0.5, within=less), square)


@pytest.mark.parametrize("degrees", [30.0, 72.0, 120.0, 126.0])
def test_two_lines_from_a_middle_bound_a_sector(degrees: float) -> None:
    middle, angle = np.array([50.0, 40.0]), math.radians(degrees)
    ends = [
        middle + 30 * np.array([math.cos(a), math.sin(a)]) for a in (0.2, 0.2 + angle)
    ]
    rows = [[*middle, *ends[0]], [*ends[1], *middle]]
    # from (5, 4) to (18, 24) off the middle, 30 mm away
    lines = within([55, 44, 68, 64])
    if degrees > 125:
        with pytest.raises(LineWorkError, match="close nothing"):
            find_outline(within(*rows), slack=0.5, within=lines, sector=True)
        return
    apex, right, left = find_outline(
        within(*rows), slack=0.5, within=lines, sector=True
    )
    assert apex == pytest.approx(middle)
    for corner, heading in ((right, 0.2), (left, 0.2 + angle)):
        way = corner - middle
        assert math.atan2(way[1], way[0]) == pytest.approx(heading)
        # beyond what it holds by a twentieth, where its third side is nearest
        reach = math.hypot(*way) * math.cos(angle / 2)
        assert reach == pytest.approx(1.05 * 30)


def test_a_cell_without_guides_is_the_page_its_outline_or_its_box() -> None:
    # lines from side to side of a page: the page
    page = linework_from_segments([[0, 20, 60, 20], [30, 0, 30, 40]], 60, 40)
    cell = find_cell(page, None, slack=0.5)
    assert same_ring(cell.outline, [(0, 0), (60, 0), (60, 40), (0, 40)])
    assert not cell.guided
    # a triangle that is closed; lines that run out of it make the box
    corners = [(10, 10), (50, 10), (30, 44)]
    rows = polyline(corners, True).tolist()
    drawn = find_cell(within(*rows, [20, 15, 40, 15]), None, slack=0.5)
    assert same_ring(drawn.outline, corners)
    out = find_cell(within(*rows, [20, 15, 60, 15]), None, slack=0.5)
    assert same_ring(out.outline, [(10, 10), (60, 10), (60, 44), (10, 44)])
    # of a strip, four corners at least
    strip = find_cell(within(*rows, [20, 15, 40, 15]), None, slack=0.5, strip=True)
    assert same_ring(strip.outline, [(10, 10), (50, 10), (50, 44), (10, 44)])
    with pytest.raises(LineWorkError, match="as narrow as a line"):
        find_cell(within([10, 10, 50, 10]), None, slack=0.5)


def test_ends_set_by_hand_lie_on_both_sides_of_the_box_that_was_meant() -> None:
    # eight lines from side to side of a square of 40 mm, a little long or short
    off = [0.2, -0.2, 0.1, -0.1]
    rows = [[20 + o, 25 + 9 * k, 60 - o, 25 + 9 * k] for k, o in enumerate(off)]
    rows += [[25 + 9 * k, 20 + o, 25 + 9 * k, 60 - o] for k, o in enumerate(off)]
    cell = find_cell(within(*rows), None, slack=0.5)
    low, high = cell.outline.min(axis=0), cell.outline.max(axis=0)
    assert low == pytest.approx([20, 20], abs=1e-9)
    assert high == pytest.approx([60, 60], abs=1e-9)


def repeats(width: float, height: float) -> Figures:
    none = np.empty(0, object)
    return Figures(none, (), np.diag([width, height]), (affine.IDENTITY,), (), "")


def test_whole_repeats_leave_a_border_of_one_width() -> None:
    # 100 by 80 mm take 9 and 7 squares of 10: 5 mm on all sides; 10 and 8 leave none
    assert rest_border(repeats(10, 10), (100, 80), 1.0, 0.0) == pytest.approx((5, 1))
    assert rest_border(repeats(10, 10), (100, 100), 1.0, 0.0) == pytest.approx((5, 1))
    # at twice the size squares of 20: 4 and 3, with 10 mm
    assert rest_border(repeats(10, 10), (100, 80), 2.0, 0.0) == pytest.approx((10, 2))
    # of 12 mm 7 and 5: 8 mm; 8 and 6 would leave 2, under 3 in a hundred of 76
    assert rest_border(repeats(12, 12), (100, 76), 1.0, 0.0) == pytest.approx((8, 1))
    # 23 mm more one way are two repeats at 23/24 of the size
    width, scale = rest_border(repeats(12, 12), (100, 77), 1.0, 0.05)
    assert scale == pytest.approx(23 / 24)
    assert width == pytest.approx((100 - 8 * 11.5) / 2)
    with pytest.raises(LineWorkError, match="no border of equal width") as refused:
        rest_border(repeats(12, 12), (100, 77), 1.0, 0.01)
    assert "--scale-by 4.2%" in refused.value.mend
    slanted = Figures(
        np.empty(0, object), (), np.array([[10.0, math.pi], [1, 10]]), (), (), ""
    )
    with pytest.raises(LineWorkError, match="does not repeat along both sides"):
        rest_border(slanted, (100, 80), 1.0, 0.1)


def test_a_plain_border_leaves_its_field_within() -> None:
    rim = plain_border(rectangle_panel(100, 60), 8.0)
    assert rim.inset == pytest.approx((8, 8))
    assert (rim.field.width, rim.field.height) == pytest.approx((84, 44))
    assert len(rim.curves) == 0
    assert shapely.Polygon(*_rings(rim.panel)).area == pytest.approx(6000 - 84 * 44)
    # a triangle: each side moves in by the width, so that the field is like it
    edge = Curves.from_segments(polyline([(0, 0), (90, 0), (0, 120)], True))
    three = plain_border(panel_from_curves([edge]), 6.0)
    # sides of 90, 120 and 150 have a circle of 30 mm in them: 24 are left
    field = shapely.Polygon(three.field.rings[0])
    assert field.area == pytest.approx(90 * 120 / 2 * (24 / 30) ** 2)
    with pytest.raises(LineWorkError, match=r"a border 30\.0 mm wide leaves no room"):
        plain_border(rectangle_panel(100, 60), 30.0)
    assert moved_place((2, 0, 0, 2, 5, 6), (-1.0, 3.0)) == (2, 0, 0, 2, 4, 9)


def _rings(panel):
    return panel.rings[0], list(panel.rings[1:])
