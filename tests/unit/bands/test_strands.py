"""Lines followed through points, and which of two is over: by construction."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.levels import choose_levels
from fillwork.bands.strands import (
    Lines,
    _circles,
    _matched,
    _parted,
    _settled,
    _smoothly_on,
    _where_lines_touch,
    follow_strands,
    gather_lines,
    straight_on,
)
from fillwork.geometry.curves import LINE, Curves
from tests.unit.helpers import (
    arc,
    circle,
    cubic,
    line,
    linework_from_curves,
    linework_from_segments,
    polyline,
)


def curves_of(*rows) -> Curves:
    return Curves(
        np.array([kind for kind, _ in rows], np.uint8),
        np.array([data for _, data in rows], float),
    )


def leaving(degrees: float, radius: float = 0.0):
    """Return a curve that leaves the origin so: a line, or an arc that bends left."""
    a = math.radians(degrees)
    if not radius:
        return line(0, 0, 30 * math.cos(a), 30 * math.sin(a))
    begin = a - math.copysign(math.pi / 2, radius)
    middle = -radius * math.sin(a), radius * math.cos(a)
    return arc(*middle, abs(radius), begin, begin + math.copysign(1.0, radius))


def star_of(*rows) -> Lines:
    """Return lines that all leave the origin, each to a point of its own."""
    pieces = curves_of(*rows)
    count = len(pieces)
    origin = np.stack([np.zeros(count, np.int64), 1 + np.arange(count)], axis=1)
    return Lines(np.vstack([[0.0, 0.0], pieces.ends()]), pieces, origin.reshape(-1))


def pairs_at_a_point(degrees, outer=None):
    """Return which directions go on in each other, those that end left out."""
    heading = np.radians(degrees)
    mask = None if outer is None else np.array([d in outer for d in degrees])
    onward = straight_on(np.zeros(len(degrees), np.int64), heading, mask)
    for k, other in enumerate(onward.tolist()):
        assert other < 0 or onward[other] == k
    return {
        (degrees[k], degrees[o]) for k, o in enumerate(onward.tolist()) if 0 <= k < o
    }


@pytest.mark.parametrize(("degrees", "pairs"), [
    ([40], set()),
    ([0, 30], {(0, 30)}),
    ([0, 180, 90], {(0, 180)}),
    ([90, 0, 180], {(0, 180)}),
    # four lines cross each other, be it aslant
    ([0, 60, 180, 240], {(0, 180), (60, 240)}),
    # what lies on one side of a line ends there, up to a bend of 3 degrees
    ([0, 60, 120, 182.9], {(0, 182.9)}),
    ([0, 60, 120, 183.1], {(0, 120), (60, 183.1)}),
    # but for lines that cross at a flat angle
    ([0, 2, 180, 182], {(0, 180), (2, 182)}),
    ([0, 60, 120, 180, 240, 300], {(0, 180), (60, 240), (120, 300)}),
    # of an odd number the straightest pairs, then the next
    ([0, 172, 90, 265, 30], {(90, 265), (0, 172)}),
    ([0, 100, 200, 300, 250], {(0, 200), (100, 300)}),
])  # fmt: skip
def test_lines_go_on_straight_where_they_meet(degrees, pairs) -> None:
    assert pairs_at_a_point(degrees) == pairs


@pytest.mark.parametrize(("last", "outer", "pairs"), [
    (199, [199], {(0, 199)}),
    (199, [0], {(0, 120), (60, 199)}),
    (199, None, {(0, 120), (60, 199)}),
    (201, [201], {(0, 120), (60, 201)}),
])  # fmt: skip
def test_a_frame_goes_on_where_joined_points_bend_it(last, outer, pairs) -> None:
    assert pairs_at_a_point([0, 60, 120, last], outer) == pairs


def test_points_of_several_degrees_keep_to_themselves() -> None:
    # at point 0 three lines, at point 1 two, at point 2 one; halves shuffled
    origin = np.array([1, 0, 2, 0, 1, 0])
    heading = np.radians([10, 0, 0, 90, 250, 180])
    assert straight_on(origin, heading).tolist() == [4, 5, -1, -1, 0, 1]


@pytest.mark.parametrize(("rows", "touch"), [
    # three lines or more, two of them within 3 degrees
    ([leaving(0, 20), leaving(2.9, -20), leaving(180)], True),
    ([leaving(0, 20), leaving(3.1, -20), leaving(180)], False),
    ([leaving(359, 20), leaving(1, -20), leaving(180)], True),
    ([leaving(0, 20), leaving(1, -20)], False),
    # of four, within half a degree
    ([leaving(0, 20), leaving(0.4, -20), leaving(180), leaving(90)], True),
    ([leaving(0, 20), leaving(0.6, -20), leaving(180), leaving(90)], False),
    # all within two degrees
    ([leaving(0), leaving(1), leaving(2, 20)], True),
    ([leaving(0, 20), leaving(1), leaving(2)], True),
    # two straight lines cross, one straight and one bent touch
    ([leaving(0), leaving(1), leaving(180)], False),
    ([leaving(0), leaving(1, 20), leaving(180)], True),
    ([leaving(0, 20), leaving(1), leaving(180)], True),
])  # fmt: skip
def test_lines_touch_that_leave_a_point_side_by_side(rows, touch) -> None:
    lines = star_of(*rows)
    found = _where_lines_touch(lines, lines.headings())
    assert found.tolist() == [touch] + [False] * len(rows)


def test_lines_that_touch_go_on_with_the_least_change_of_bend() -> None:
    # two circles side by side, each in two arcs from where they touch
    rows = [leaving(90, 10), leaving(90, -10), leaving(-90, -10), leaving(-90, 10)]
    lines = star_of(*rows)
    touching = _where_lines_touch(lines, lines.headings())
    assert touching[0]
    plain = straight_on(lines.origin, lines.headings())
    found = _smoothly_on(lines, lines.headings(), plain, touching)
    # halves 0 and 4 are of the circle on the left, 2 and 6 of the one on the right
    assert found[[0, 4, 2, 6]].tolist() == [4, 0, 6, 2]
    # the far ends end, and one aslant by more than 30 degrees ends here
    assert found[1::2].tolist() == [-1] * 4
    for lean, on in ((29.0, True), (31.0, False)):
        assert smoothly((90, 10), (90, -50), (-90 + lean, -10)) == (
            {(0, 2)} if on else set()
        )


def smoothly(*rows):
    """Return which of some arcs from a point, by direction and radius, go on."""
    told = set()
    for order in permutations(range(len(rows))):
        lines = star_of(*(leaving(*rows[k]) for k in order))
        heading = lines.headings()
        mask = np.arange(len(lines.vertices)) == 0
        plain = straight_on(lines.origin, heading)
        found = _smoothly_on(lines, heading, plain, mask)[0::2] >> 1
        told.add(
            frozenset(
                (min(order[i], order[j]), max(order[i], order[j]))
                for i, j in enumerate(found.tolist())
                if j >= 0
            )
        )
    # in whatever order they are drawn
    assert len(told) == 1
    return set(told.pop())


def test_of_lines_that_touch_the_straighter_goes_on_then_the_more_alike() -> None:
    # turns of half of three degrees are none; then the least change of curvature
    for turn in (0.0, 20.0, 200.0):
        one = (90 + turn, 10.0)
        assert smoothly(one, (-89 + turn, -10.0), (-90 + turn, -9.0)) == {(0, 1)}
        assert smoothly(one, (-88 + turn, -10.0), (-90 + turn, -9.0)) == {(0, 2)}
        assert smoothly(one, (-90 + turn, -9.9), (-90 + turn, -10.0)) == {(0, 2)}


def strands_of(rows, frame=False):
    if frame:
        box = polyline([(0, 0), (60, 0), (60, 40), (0, 40)], closed=True)
        rows = [*rows, *(line(*s) for s in box.tolist())]
    return follow_strands(gather_lines(build_arrangement(linework_from_curves(rows))))


def test_a_border_has_two_ends_at_it_and_is_crossed_by_none() -> None:
    level = line(5, 20, 55, 20)
    stems = [line(x, 5, x, 20) for x in (10, 20)]
    for rows, border in (
        ([level], False),
        ([level, stems[0]], False),
        ([level, *stems], True),
        ([level, *stems, line(40, 5, 40, 35)], False),
    ):
        found = strands_of(rows)
        told = {round(s.length): s.border for s in found.strands}
        assert told[50] == border
        assert not any(s.border for s in found.strands if round(s.length) != 50)
    # a frame of straight sides that a curve touches once is a border
    found = strands_of([circle(30, 10, 10)], frame=True)
    assert [s.border for s in found.strands] == [True, False]
    assert not strands_of([circle(30, 20, 10)], frame=True).strands[0].border


def test_strands_stand_by_length_and_hold_every_piece_once() -> None:
    rows = [line(5, 10, 25, 10), line(5, 20, 45, 20), line(10, 5, 10, 35)]
    found = strands_of(rows, frame=True)
    assert [round(s.length, 6) for s in found.strands] == [200, 40, 30, 20]
    lengths = found.lines.pieces.lengths()
    for row, strand in enumerate(found.strands):
        assert (found.of_piece[strand.halves >> 1] == row).all()
        assert lengths[found.of_piece == row].sum() == pytest.approx(strand.length)
        # walked from half to half: each begins where the one before it arrives
        origin = found.lines.origin
        assert (origin[strand.halves[1:]] == origin[strand.halves[:-1] ^ 1]).all()
        assert strand.closed == (row == 0)
    assert not found.touching.any()


def test_loose_lines_are_parted_where_they_meet() -> None:
    # two that cross, and one that ends on the first of them
    rows = [line(10, 10, 50, 10), line(30, 0, 30, 20), line(40, 10, 40, 30)]
    lines = gather_lines(build_arrangement(linework_from_curves(rows)))
    places = np.sort(lines.vertices.round(6).view("f8,f8").reshape(-1))
    assert places.tolist() == [
        (10, 10), (30, 0), (30, 10), (30, 20), (40, 10), (40, 30), (50, 10)
    ]  # fmt: skip
    assert sorted(lines.pieces.lengths().round(6).tolist()) == [10, 10, 10, 10, 20, 20]
    degree = np.bincount(lines.origin)
    at = {tuple(p): d for p, d in zip(lines.vertices.tolist(), degree, strict=True)}
    assert at[30, 10] == 4
    assert at[40, 10] == 3
    ends = lines.vertices[lines.origin].reshape(-1, 2, 2)
    assert np.allclose(ends[:, 0], lines.pieces.starts())
    assert np.allclose(ends[:, 1], lines.pieces.ends())


def test_ends_are_matched_with_points_within_a_slack() -> None:
    known = np.array([[0.0, 0.0]])
    ends = np.array([[0.1, 0], [5, 0], [9, 9], [5.09, 0], [0.11, 0]])
    vertices, of_end = _matched(known, ends, 0.1)
    assert of_end.tolist() == [0, 1, 2, 1, 3]
    assert vertices.tolist() == [[0, 0], [5, 0], [9, 9], [0.11, 0]]
    vertices, of_end = _matched(known[:0], ends[1:3], 0.1)
    assert of_end.tolist() == [0, 1]
    assert vertices.tolist() == [[5, 0], [9, 9]]
    assert _matched(known, ends[:1], 0.1)[0].tolist() == [[0, 0]]


def test_lines_begin_and_end_at_their_points_and_curves_stay() -> None:
    rows = curves_of(line(0.1, 0, 9.9, 0), arc(0, 0, 5, 0, 1))
    spots = np.array([[0.0, 0], [7, 7]]), np.array([[10.0, 0], [8, 8]])
    moved = _settled(rows, *spots)
    assert moved.data[0, :4].tolist() == [0, 0, 10, 0]
    assert moved.data[1].tolist() == rows.data[1].tolist()
    assert rows.data[0, 0] == 0.1
    assert moved.kind.tolist() == rows.kind.tolist()


def quarter(degrees: float):
    """Return a cubic along an arc of radius 30 from (30, 0), 90 degrees or less."""
    a = math.radians(degrees)
    leg = 4 / 3 * math.tan(a / 4) * 30
    c, s = math.cos(a), math.sin(a)
    return cubic(30, 0, 30, leg, 30 * c + leg * s, 30 * s - leg * c, 30 * c, 30 * s)


@pytest.mark.parametrize(("row", "closed", "parts"), [
    (line(0, 0, 30, 0), False, 1),
    # each part turns by 20 degrees at most
    (quarter(19.5), False, 1),
    (quarter(39.5), False, 2),
    (quarter(41.0), False, 3),
    (quarter(90.0), False, 5),
    # arcs of circles are parted where they come round to their beginning alone
    (arc(0, 0, 30, 0, 3.0), False, 1),
    (circle(0, 0, 30), True, 2),
])  # fmt: skip
def test_curves_are_parted_so_that_each_turns_little(row, closed, parts) -> None:
    pieces = curves_of(row)
    origin = np.array([[0, 0 if closed else 1]])
    vertices = np.vstack([pieces.starts(), pieces.ends()[: 1 - closed]])
    found = _parted(vertices, pieces, origin)
    assert len(found.pieces) == parts
    assert found.pieces.lengths().sum() == pytest.approx(pieces.lengths()[0], rel=1e-6)
    ends = found.vertices[found.origin].reshape(-1, 2, 2)
    assert np.allclose(ends[:, 0], found.pieces.starts())
    assert np.allclose(ends[:, 1], found.pieces.ends())
    assert len(found.vertices) == len(vertices) + parts - 1


def test_arcs_of_ellipses_are_no_circles() -> None:
    kind, data = circle(0, 0, 5)
    longer, aslant = list(data), list(data)
    longer[5], aslant[4] = 5.001, 0.001  # of the other half-axis
    round_ = (kind, [0, 0, 3, 4, -4, 3, 0, 1])
    rows = curves_of(
        line(0, 0, 1, 0), (kind, data), (kind, longer), (kind, aslant), round_
    )
    assert _circles(rows).tolist() == [False, True, False, False, True]


def levels_of(rows, frame=False):
    found = strands_of(rows, frame)
    return found, choose_levels(found)


def test_lines_that_end_at_one_point_of_a_frame_cross_there() -> None:
    met = [line(10, 0, 30, 40), line(50, 0, 30, 40)]
    for rows, crossed in ((met, 1), (met[:1], 0)):
        strands, levels = levels_of(rows, frame=True)
        assert len(levels.double) == crossed
        assert sorted(levels.level.tolist()) == [0, 1][: 2 * crossed]
        if crossed:
            places = strands.lines.vertices[levels.vertex]
            assert places.tolist() == [[30, 40], [30, 40]]
            assert levels.halves[:, 1].tolist() == [-1, -1]
        assert len(levels.stuck) == len(levels.piled) == 0


def test_what_ends_under_a_line_leaves_no_choice() -> None:
    # one that ends on another; with a second one beyond it crosses
    stem, level = line(30, 5, 30, 20), line(5, 20, 55, 20)
    assert len(levels_of([stem, level], frame=True)[1].vertex) == 0
    both = levels_of([line(30, 5, 30, 35), level], frame=True)[1]
    assert both.double.tolist() == [[0, 1]]
    assert sorted(both.level.tolist()) == [0, 1]


def test_where_lines_touch_turns_are_not_counted() -> None:
    # circles of 5 and 10 mm that touch from within at (20, 20), and a line across both
    rows = [circle(25, 20, 5, math.pi), circle(30, 20, 10, math.pi)]
    strands, levels = levels_of([*rows, line(27, 2, 27, 38)])
    touching = np.flatnonzero(strands.touching)
    assert strands.lines.vertices[touching] == pytest.approx(np.array([[20.0, 20]]))
    # the line crosses each circle twice, and over and under take turns along all
    assert len(levels.double) == 4
    assert not np.isin(levels.vertex[levels.double], touching).any()
    assert len(levels.stuck) == 0
    for one, other in levels.double.tolist():
        assert levels.level[one] != levels.level[other]
    at = strands.lines.vertices[levels.vertex]
    upright = np.abs(np.cos(strands.lines.headings()[levels.halves[:, 0]])) < 1e-6
    mine = np.flatnonzero(upright & (np.abs(at[:, 0] - 27) < 1e-6))
    told = levels.level[mine[np.argsort(at[mine, 1])]].tolist()
    assert told in ([0, 1, 0, 1], [1, 0, 1, 0])


def test_lines_of_a_plain_file_are_taken_as_they_are() -> None:
    work = linework_from_segments(polyline([(0, 0), (60, 0), (60, 40)]))
    lines = gather_lines(build_arrangement(work))
    assert (lines.pieces.kind == LINE).all()
    assert sorted(lines.pieces.lengths().tolist()) == [40, 60]


def test_turns_are_taken_along_the_first_piece_of_all() -> None:
    # a level line through (20, 20) and (40, 20), its inner piece first, and two across
    ends = [(20, 20), (40, 20), (5, 20), (55, 20), (20, 5), (20, 35), (40, 5), (40, 35)]
    origin = np.array([[0, 1], [0, 2], [1, 3], [0, 4], [0, 5], [1, 6], [1, 7]])
    vertices = np.array(ends, float)
    pieces = Curves.from_segments(vertices[origin].reshape(-1, 4))
    strands = follow_strands(Lines(vertices, pieces, origin.reshape(-1)))
    for start in ("over", "under"):
        levels = choose_levels(strands, start=start)
        assert len(levels.double) == 2
        assert len(levels.stuck) == 0
        level = {
            int(h): int(v)
            for h, v in zip(levels.halves[:, 0], levels.level, strict=True)
        }
        # halves 0 and 1 are those of the inner piece
        assert level[0] != level[1]
        # the strand that is first at the first point is over there
        assert level[0] == (start == "under")
