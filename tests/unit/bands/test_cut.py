"""Rails cut to length, line by line, and how much room bands have: closed forms."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from fillwork.arrangement.build import build_arrangement
from fillwork.bands.cut import CutBands
from fillwork.bands.levels import choose_levels
from fillwork.bands.room import (
    _beside_touches,
    _chains,
    _clear_of_ends,
    _widths_out,
    find_fault,
    least_room,
    rails_lost,
)
from fillwork.bands.strands import follow_strands, gather_lines
from fillwork.bands.weave import _with_page_frame, weave_lines
from fillwork.errors import LineWorkError
from fillwork.geometry.curves import ARC, LINE, Curves
from fillwork.linework import Frame
from tests.unit.helpers import line, linework_from_segments, polyline

BOX = polyline([(0, 0), (60, 0), (60, 40), (0, 40)], closed=True)


def regions(*rows, frame=False):
    lines = np.vstack(
        [*(np.atleast_2d(row) for row in rows), *([BOX] if frame else [])]
    )
    return build_arrangement(linework_from_segments(lines, 60, 40), close_gaps=0.0)


def segments(curves) -> set:
    """Return straight curves by their ends, the lower first."""
    found = set()
    for row in curves.data[curves.kind == LINE, :4].round(6) + 0.0:
        found.add(tuple(sorted([tuple(row[:2].tolist()), tuple(row[2:].tolist())])))
    return found


def is_drawn(curves, *rows) -> bool:
    """Say whether each row is one of the straight curves, either way round."""
    found = curves.data[curves.kind == LINE, :4]
    found = np.concatenate([found, found[:, [2, 3, 0, 1]]])
    return all(np.isclose(found, row, atol=1e-6).all(axis=1).any() for row in rows)


def lines_of(*rows) -> set:
    return {tuple(sorted([(a, b), (c, d)])) for a, b, c, d in np.array(rows, float)}


LEVEL, UPRIGHT = [10, 20, 50, 20], [30, 5, 30, 35]
CAPS = [[10, 18, 10, 22], [50, 18, 50, 22], [28, 5, 32, 5], [28, 35, 32, 35]]


@pytest.mark.parametrize(("crossings", "gap", "level", "upright"), [
    # one passes over, and the other ends a gap before it
    ("woven", 0.0, [(10, 50)], [(5, 18), (22, 35)]),
    ("woven", 1.0, [(10, 50)], [(5, 17), (23, 35)]),
    ("crossed", 1.0, [(10, 50)], [(5, 35)]),
    ("open", 0.0, [(10, 28), (32, 50)], [(5, 18), (22, 35)]),
    ("open", 1.0, [(10, 27), (33, 50)], [(5, 17), (23, 35)]),
])  # fmt: skip
def test_rails_end_at_the_band_over_theirs(crossings, gap, level, upright) -> None:
    plain = regions(LEVEL, UPRIGHT)
    found = segments(weave_lines(plain, 4.0, gap=gap, crossings=crossings).curves)
    # 2 mm on both sides of each line; ends that are free are closed
    rows = [[a, y, b, y] for a, b in level for y in (18, 22)]
    rows += [[x, a, x, b] for a, b in upright for x in (28, 32)]
    other = [
        [a, y, b, y] for a, b in ((10, 28 - gap), (32 + gap, 50)) for y in (18, 22)
    ]
    other += [[x, 5, x, 35] for x in (28, 32)]
    if crossings != "woven":
        assert found == lines_of(*rows, *CAPS)
        return
    assert found in (lines_of(*rows, *CAPS), lines_of(*other, *CAPS))
    under = segments(weave_lines(plain, 4.0, gap=gap, start="under").curves)
    assert {frozenset(found), frozenset(under)} == {
        frozenset(lines_of(*rows, *CAPS)), frozenset(lines_of(*other, *CAPS))
    }  # fmt: skip


@pytest.mark.parametrize("degrees", [50.0, 75.0, 120.0])
def test_rails_end_aslant_at_a_band_that_crosses_aslant(degrees) -> None:
    # a line through (30, 20) at an angle: its rails meet those of the level one at
    # 2 / sin off its own middle, moved on by what lies beyond
    a = math.radians(degrees)
    c, s = math.cos(a), math.sin(a)
    cross = [30 - 14 * c, 20 - 14 * s, 30 + 14 * c, 20 + 14 * s]
    plain = regions(LEVEL, cross)
    for gap in (0.0, 0.8):
        for start in ("over", "under"):
            woven = weave_lines(plain, 4.0, gap=gap, start=start)
            found = segments(woven.curves)
            over = lines_of([10, 18, 50, 18], [10, 22, 50, 22])
            if over <= found:
                break
        reach = 2 + gap
        for side in (-2.0, 2.0):
            off = side / s  # where this rail crosses the level line
            for way in (-1, 1):
                y = 20 + way * reach
                x = 30 + off + way * reach * c / s
                far = (30 + way * 14 * c + side * s, 20 + way * 14 * s - side * c)
                assert is_drawn(woven.curves, [x, y, *far])


@pytest.mark.parametrize("corners", ["mitre", "round"])
def test_rails_turn_corners(corners) -> None:
    plain = regions(polyline([(10, 10), (40, 10), (40, 35)]))
    curves = weave_lines(plain, 4.0, corners=corners).curves
    inner = lines_of([10, 12, 38, 12], [38, 12, 38, 35])
    caps = lines_of([10, 8, 10, 12], [38, 35, 42, 35])
    if corners == "mitre":
        outer = lines_of([10, 8, 42, 8], [42, 8, 42, 35])
        assert (curves.kind == LINE).all()
    else:
        outer = lines_of([10, 8, 40, 8], [42, 10, 42, 35])
        (row,) = np.flatnonzero(curves.kind == ARC)
        assert curves.data[row, :2] == pytest.approx([40, 10])
        assert curves.lengths()[row] == pytest.approx(math.pi)
        middle = curves.point(np.array([row]), np.array([0.5]))[0]
        half = math.sqrt(2)
        assert middle == pytest.approx([40 + half, 10 - half])
    assert segments(curves) == inner | outer | caps


def test_a_line_that_ends_at_another_or_at_a_frame_ends_its_rails_there() -> None:
    # inside at the rail of the other, a gap before it; at the frame on its line
    level, stem = [0, 20, 60, 20], [30, 0, 30, 20]
    found = segments(weave_lines(regions(level, stem, frame=True), 4.0, gap=1.0).curves)
    frame = lines_of([0, 0, 60, 0], [60, 0, 60, 40], [0, 40, 60, 40], [0, 0, 0, 40])
    rails = lines_of([0, 18, 60, 18], [0, 22, 60, 22], [28, 0, 28, 17], [32, 0, 32, 17])
    assert found == frame | rails


def test_a_band_is_cut_past_its_bend_where_the_other_is_as_near() -> None:
    # a line turns by 45 degrees 1 mm after it crosses another
    bent = polyline([(30, 5), (30, 21), (42, 33)])
    level = [[10, y, 50, y] for y in (18, 22)]
    for start in ("over", "under"):
        curves = weave_lines(regions(LEVEL, bent), 4.0, start=start).curves
        if is_drawn(curves, *level):
            break
    assert is_drawn(curves, *level, [32, 5, 32, 18], [28, 5, 28, 18])
    # the inner rail comes out where it has turned, 2 sqrt 2 beside the bent line; the
    # outer one turns at y = 21 + 2 tan 22.5 = 21.8 and comes out 2 sqrt 2 on the left
    root = math.sqrt(2)
    for side in (1, -1):
        place = 31 + side * 2 * root, 22.0
        assert is_drawn(curves, [*place, 42 + side * root, 33 - side * root])
    with pytest.raises(LineWorkError, match="do not fit"):
        weave_lines(
            regions([10, 20, 45, 20], polyline([(30, 5), (30, 21), (50, 21)])), 4
        )


def cut(plain, width, mode="open"):
    strands = follow_strands(gather_lines(plain))
    bands = CutBands(strands, choose_levels(strands), width / 2, 0.0, mode)
    bands.cut_rails(round_outside=False)
    return bands


@pytest.mark.parametrize("width", [0.5, 2.0, 9.0])
def test_bands_that_cross_have_as_much_room_as_their_lines_are_apart(width) -> None:
    rows = [[x, 0, x, 40] for x in (15, 25, 45)] + [[0, y, 60, y] for y in (12, 26)]
    bands = cut(regions(*rows, frame=True), width)
    # the narrowest stretch is 10 mm; stubs at the frame, 12 and 15 mm, say nothing
    assert least_room(bands) == pytest.approx(10 * 0.999)
    assert find_fault(bands) is None
    assert rails_lost(bands) is None


@pytest.mark.parametrize("width", [1.0, 5.0])
def test_a_band_that_turns_twice_has_as_much_room_as_it_is_long_between(width) -> None:
    # both corners on one side take half a width off the inner rail
    bands = cut(regions(polyline([(20, 35), (20, 10), (32, 10), (32, 35)])), width)
    assert least_room(bands) == pytest.approx(12 * 0.999)
    # on both sides a rail that is cut at one end is longer at the other
    zed = cut(regions(polyline([(20, 35), (20, 10), (32, 10), (32, 2)])), width)
    assert least_room(zed) == pytest.approx(2 * 8 * 0.999)
    assert least_room(cut(regions(LEVEL), width)) == np.inf


@pytest.mark.parametrize(("width", "fits"), [(4.9, True), (5.1, False), (6.0, False)])
def test_bands_side_by_side_lie_on_each_other_when_wider_than_apart(
    width, fits
) -> None:
    # the second line is shorter
    bands = cut(regions([5, 15, 55, 15], [20, 20, 40, 20]), width)
    fault = find_fault(bands)
    assert (fault is None) == fits
    if fault is not None:
        assert fault.overlap
        assert fault.width == pytest.approx(5)
        x, y = fault.at
        assert 20 - width <= x <= 40 + width
        # at the rail of one, within the other
        assert min(abs(y - 15 - width / 2), abs(20 - width / 2 - y)) < 1e-6


def test_curves_become_lines_of_chords_from_end_to_end() -> None:
    rows = [line(0, 0, 3, 4), (ARC, [0, 0, 5, 0, 0, 5, 0, math.pi]), line(1, 1, 2, 1)]
    curves = Curves(
        np.array([k for k, _ in rows], np.uint8), np.array([d for _, d in rows], float)
    )
    found = _chains(curves, 0.01)
    assert [shapely.get_num_coordinates(f) > 2 for f in found] == [False, True, False]
    assert shapely.get_coordinates(found[0]).tolist() == [[0, 0], [3, 4]]
    assert shapely.get_coordinates(found[2]).tolist() == [[1, 1], [2, 1]]
    ring = shapely.get_coordinates(found[1])
    assert ring[[0, -1]] == pytest.approx(np.array([[5.0, 0], [-5, 0]]))
    assert np.hypot(*ring.T) == pytest.approx(np.full(len(ring), 5.0))
    assert shapely.length(found[1]) == pytest.approx(5 * math.pi, rel=1e-2)


def fan(degrees, half=1.0, bend=None, origin=None):
    heading = np.radians(degrees)
    return SimpleNamespace(
        strands=SimpleNamespace(
            lines=SimpleNamespace(
                origin=np.zeros(len(heading), int) if origin is None else origin
            )
        ),
        heading=heading, half=half,
        bend=np.zeros(len(heading)) if bend is None else np.array(bend),
    )  # fmt: skip


def test_bands_that_leave_a_point_are_apart_after_one_over_their_sine() -> None:
    # a twentieth more; no nearer than 1.5 widths, no farther than 20
    def out(angle):
        return 1.05 / math.sin(math.radians(angle))

    assert _widths_out(fan([0, 30])) == pytest.approx([out(30)] * 2)
    assert _widths_out(fan([0, 30, 180])) == pytest.approx([out(30), out(30), 1.5])
    # of two beside it the one that is nearer counts, whichever comes first
    assert _widths_out(fan([40, 0, 20, 350])) == pytest.approx(
        [out(20), out(10), out(20), out(10)]
    )
    assert _widths_out(fan([0, 90])).tolist() == [1.5, 1.5]
    assert _widths_out(fan([0, 1])).tolist() == [20, 20]
    assert _widths_out(fan([0])).tolist() == [1.5]
    # each point by itself
    two = fan([0, 30, 0, 20], origin=np.array([0, 0, 7, 7]))
    assert _widths_out(two) == pytest.approx([out(30)] * 2 + [out(20)] * 2)
    # where they bend, way * sine - bend * way² / 2 = 1, in widths: at 30 degrees and
    # 0.02 in all, for bands 2 mm wide: 0.5 w - 0.02 w² = 1
    way = (0.5 - math.sqrt(0.25 - 4 * 0.02)) / (2 * 0.02)
    assert _widths_out(fan([0, 30], bend=[0.01, -0.01])) == pytest.approx(
        [1.05 * way] * 2
    )
    # or never
    assert _widths_out(fan([0, 30], bend=[0.1, 0.1])).tolist() == [20, 20]


@pytest.mark.parametrize(("far", "told"), [(5.3, True), (5.4, False)])
def test_lines_that_touch_are_a_band_apart_where_circles_would_be(far, told) -> None:
    # circles of 10 mm on both sides bend by 0.2 in all: 1.2 * sqrt(4 / 0.2) = 5.37
    bands = fan([90, 90, 270, 270], bend=[0.1, -0.1, 0.1, -0.1], origin=np.full(4, 1))
    bands.strands.touching = np.array([False, True])
    bands.strands.lines.vertices = np.array([[50.0, 50], [3, 4]])
    points = np.array([[3.0, 4 + far], [3 - far, 4], [50, 50]])
    assert _beside_touches(bands, points).tolist() == [told, told, False]
    # as wide again, sqrt 2 times as far; never farther than twenty widths
    bands.half = 2.0
    points = np.array([[3.0, 4 + math.sqrt(2) * far]])
    assert _beside_touches(bands, points).tolist() == [told]
    bands.half, bands.bend = 1.0, np.full(4, 0.1)
    points = np.array([[3.0, 43.9], [3.0, 44.1]])
    assert _beside_touches(bands, points).tolist() == [True, False]


def test_pieces_are_looked_at_where_they_are_clear_of_ends() -> None:
    # a line from side to side of a frame, and one that ends at it
    rows = [[0, 20, 60, 20], [30, 20, 30, 32]]
    bands = cut(regions(*rows, frame=True), 2.0)
    size, border = bands.size, bands.border
    for at_borders in (True, False):
        away, stem = _clear_of_ends(bands, at_borders=at_borders)
        assert (away[border] == 0).all()
        level = np.flatnonzero(~border & (size == 30))
        upright = np.flatnonzero(~border & (size == 12))
        assert len(level) == 2
        assert stem[level].all()
        assert not stem[upright].any()
        low, high = (-np.inf, np.inf) if at_borders else (0.0, 1.0)
        # 1.5 widths of 2 mm
        told = {tuple(np.round(away[k], 9).tolist()) for k in level}
        assert told == {(0.1, high), (low, 0.9)}
        ends = np.round(away[upright[0]], 9).tolist()
        assert ends == ([low, high] if at_borders else ends)
        if not at_borders:
            assert sorted(ends) in ([0, 0.75], [0.25, 1])


def test_a_line_along_the_page_is_a_border() -> None:
    strands = follow_strands(gather_lines(regions([20, 20, 40, 20], frame=True)))
    frame = Frame(60, 40, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), has_page=True)
    told = {s.closed: s.border for s in _with_page_frame(strands, frame, 2.0).strands}
    assert told == {True: True, False: False}
    # no farther from its edge than half of a band's width
    for off, border in ((0.99, True), (1.01, False)):
        wide = Frame(60 + off, 40, (1.0, 0.0, 0.0, 1.0, 0.0, 0.0), has_page=True)
        found = _with_page_frame(strands, wide, 2.0).strands
        assert found[0].closed
        assert found[0].border == border
    # all of it must be closed
    open_ = follow_strands(gather_lines(regions(BOX[:3])))
    assert not any(s.border for s in _with_page_frame(open_, frame, 2.0).strands)


def test_words_and_lengths_that_mean_nothing_are_refused() -> None:
    plain = regions(LEVEL, UPRIGHT)
    words = {"corners": "square", "crossings": "over", "nodes": "knot", "start": "both"}
    for name, word in words.items():
        with pytest.raises(ValueError, match="no such way"):
            weave_lines(plain, 1.0, **{name: word})
    lengths = [(0.0, 0.0), (-1.0, 0.0), (np.inf, 0.0), (np.nan, 0.0)]
    for width, gap in [*lengths, (1.0, -0.1), (1.0, np.inf), (1.0, np.nan)]:
        with pytest.raises(ValueError, match="cannot be drawn"):
            weave_lines(plain, width, gap=gap)
    assert weave_lines(plain, 1e-2, gap=0.0).width == 1e-2


def test_room_is_measured_where_it_is_asked_for() -> None:
    plain = regions(LEVEL, UPRIGHT)
    assert weave_lines(plain, 1.0).widest is None
    # two lines of 40 and 30 mm that cross in their middles: 15 mm to the nearer end
    assert weave_lines(plain, 1.0, measure_room=True).widest == pytest.approx(
        30, rel=0.02
    )


@pytest.mark.parametrize(("apart", "meet"), [(4.0, True), (5.0, True), (9.0, False)])
def test_one_of_two_bands_that_lie_on_each_other_before_a_frame_passes_under(
    apart, meet
) -> None:
    # two lines up to a frame at y = 40, so far apart there, would cross behind it
    half = apart / 2
    one, other = [10, 10, 30 - half, 40], [50, 10, 30 + half, 40]
    curves = weave_lines(regions(one, other, frame=True), 6.0).curves
    way = np.array([20 - half, 30.0])
    way /= np.hypot(*way)
    # the inner rail of the left one, 3 mm on its right, up to x = 30 and to the frame
    begin = np.array([10 + 3 * way[1], 10 - 3 * way[0]])
    inner = begin + way * (30 - begin[0]) / way[0]
    far = begin + way * (40 - begin[1]) / way[1]
    assert (inner[1] < 40) == meet
    rails = {}
    for name, flip in (("left", False), ("right", True)):
        for end, place in (("inner", inner), ("frame", far)):
            row = np.concatenate([begin, place])
            if flip:
                row = np.where([True, False] * 2, 60 - row, row)
            rails[name, end] = is_drawn(curves, row)
    ends = [(rails[n, "inner"], rails[n, "frame"]) for n in ("left", "right")]
    if meet:
        assert sorted(ends) == [(False, True), (True, False)]
    else:
        assert [at_frame for _, at_frame in ends] == [True, True]


def bare(**told) -> CutBands:
    """Return bands of which only so much is known."""
    bands = object.__new__(CutBands)
    bands.half, bands.gap = 1.0, 0.0
    for name, value in told.items():
        setattr(bands, name, value)
    return bands


def test_rails_of_lines_that_touch_are_sought_where_circles_part() -> None:
    # pieces of 10, 40 and 2 mm leave vertex 1, where lines touch; bends 0.1 and -0.1
    lines = SimpleNamespace(origin=np.array([1, 2, 3, 1, 1, 4, 0, 1]))
    strands = SimpleNamespace(
        lines=lines, touching=np.array([False, True] + [False] * 3)
    )
    bands = bare(
        strands=strands, size=np.array([10.0, 40, 2, 5]),
        bend=np.array([0.1, 0, 0, -0.1, 0.3, 0, 0, 0.1]),
    )  # fmt: skip
    s, t = bands._begins(np.array([0, 0, 6, 0]), np.array([3, 4, 7, 5]))
    # bands 2 mm wide are apart after the root of 2 * 2 / 0.2: of both bends
    far = math.sqrt(2 * 2 / 0.2)
    assert s[:2] == pytest.approx([far / 10, far / 10])
    assert t[0] == pytest.approx(1 - far / 40)
    # never beyond nine tenths of a piece
    assert t[1] == pytest.approx(0.9)
    # where they do not touch at one point they are sought at the ends of pieces
    assert (s[2], t[2]) == (0, 1)
    assert (s[3], t[3]) == (0, 1)
    bands.gap = 1.0
    s, _ = bands._begins(np.array([0]), np.array([3]))
    assert s == pytest.approx([math.sqrt(2 * 3 / 0.2) / 10])


def test_walks_go_as_far_as_ten_widths_and_past_points_if_so() -> None:
    # pieces 0 - 1 - 2 - 3 in a row, of 8, 8, 8 and 8 mm, that go on in each other; a
    # third line meets them after the second
    lines = SimpleNamespace(origin=np.array([0, 1, 1, 2, 2, 3, 3, 4, 2, 9]))
    onward = np.full(10, -1)
    onward[[1, 2, 3, 4, 5, 6]] = [2, 1, 4, 3, 6, 5]
    bands = bare(
        strands=SimpleNamespace(lines=lines, onward=onward), size=np.full(5, 8.0),
        degree=np.array([1, 2, 3, 2, 1, 0, 0, 0, 0, 1]),
    )  # fmt: skip

    def steps(half, **how):
        return [s.tolist() for s in bands._steps(np.array(half), **how)]

    # ten widths of 2 mm: 20 are passed within the third piece
    assert steps([0], everywhere=True) == [[0], [2], [4]]
    assert steps([0], everywhere=False) == [[0], [2]]
    assert steps([7, 0], everywhere=True) == [[7, 0], [5, 2], [3, 4]]
    assert steps([7, 6], everywhere=False) == [[7, 6], [5, -1]]
    bands.gap = 1.0
    assert steps([0], everywhere=True) == [[0], [2], [4], [6]]


@pytest.mark.parametrize(("reach", "told"), [(0.003, True), (0.001, False)])
def test_bands_overlap_at_a_frame_whose_rails_pass_each_other(reach, told) -> None:
    # bands 2 mm wide end at (0, 0) and (1.9, 0), the one's right rail at x = 1 and the
    # other's left one before that by so much: a thousandth of their width is nothing
    rows = [line(1.0, -5, 1.0, 0), line(1 - reach, -5, 1 - reach, 0)]
    curves = Curves(
        np.array([k for k, _ in rows], np.uint8), np.array([d for _, d in rows], float)
    )
    lines = SimpleNamespace(
        origin=np.array([9, 0, 9, 1]), vertices=np.array([[0.0, 0], [1.9, 0]])
    )
    bands = bare(
        curves=curves, span=np.array([[0.0, 1], [0, 1]]),
        strands=SimpleNamespace(lines=lines),
    )  # fmt: skip
    assert bands._overlap(1, 3, 0, 1) is told
