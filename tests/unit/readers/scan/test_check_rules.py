"""What lines and pixels must disagree by to be told: each limit from both sides."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import (
    _ink_across,
    bare_ink,
    bare_lines,
    draw_lines,
    drop_narrow_joins,
    ends_on,
    rims_that_meet,
    short_of_lines,
    small_at_forks,
    unlike_regions,
)
from fillwork.readers.scan.gaps import add_line
from fillwork.readers.scan.model import Drawing, Fork, Piece

WIDTH = 6.0
SCALE = 12.0


def frame(left: float, top: float, right: float, low: float) -> np.ndarray:
    """A closed frame whose paper lies within these limits, px, as a grid of ink."""
    ink = np.zeros((200, 200), bool)
    ink[round(top - WIDTH) : round(low + WIDTH),
        round(left - WIDTH) : round(right + WIDTH)] = True  # fmt: skip
    ink[round(top) : round(low), round(left) : round(right)] = False
    return ink


@pytest.mark.parametrize(("side", "told"), [(9, 0), (10, 1)])
def test_regions_that_show_less_than_six_tenths_of_a_millimetre_are_none(
    side: int, told: int
) -> None:
    # of 144 px² a square millimetre 86.4 px² are 0.6
    ink = frame(50, 50, 50 + side, 50 + side)
    found = unlike_regions(ink, np.zeros_like(ink), SCALE, WIDTH)
    # the paper around is the same in both
    assert len(found) == told
    for at, area in found:
        assert area == pytest.approx(side**2 / SCALE**2)
        assert 50 <= min(at) <= max(at) < 50 + side


@pytest.mark.parametrize(("wide", "high", "told"), [(33, 38, 0), (31, 40, 2)])
def test_regions_that_overlap_by_less_than_four_fifths_are_two(
    wide: int, high: int, told: int
) -> None:
    # of 40 by 40 px of paper so many are in a fitted one too, whose rim is 138 px and
    # whose lines are drawn 5 px wide instead of 6, half a pixel less paper along it:
    # 1254 or 1240 less 69. The pen's ink may fill 18 of the rest, 397 or 411, against a
    # fifth of the paper with half of the lines around it, 1600 + 3 * 138: 403
    ink = frame(50, 50, 90, 90)
    fitted = frame(50, 50, 50 + wide, 50 + high)
    found = unlike_regions(ink, fitted, SCALE, WIDTH)
    assert len(found) == told


@pytest.mark.parametrize(("long", "told"), [(11.0, 0), (13.5, 1)])
def test_lines_over_paper_are_told_from_two_widths_on(long: float, told: int) -> None:
    # the hand may stray by 3 px
    mask = np.zeros((100, 300), bool)
    mask[47:53, :100] = mask[47:53, round(106 + long) :] = True
    line = np.c_[np.arange(10.0, 290.0), np.full(280, 50.0)]
    found = bare_lines([line], mask, WIDTH, 3.0)
    assert len(found) == told
    if told:
        (at, size), *_ = found
        assert size == pytest.approx(long, abs=1.1)
        assert at == pytest.approx((102.5 + long / 2, 50.0), abs=1.0)


def left_ink(long: float, *, far: float = 60.0, off: float = 0.0) -> list:
    """A square whose ink has one more line between its sides, so long, that no fits.

    `far`: from its left side. `off`: how far from the middle of that line a fitted one
    runs; 0 for none.
    """
    paths = [np.array([[40.0, 40], [160, 40], [160, 160], [40, 160], [40, 40]])]
    bar = np.array([[40.0 + far, 40.0], [40.0 + far, 40.0 + long]])
    mask = draw_lines([*paths, bar], (200, 200), WIDTH)
    fitted = paths + ([bar + np.array([off, 0.0])] if off else [])
    return bare_ink(mask, draw_lines(fitted, (200, 200), 5), WIDTH, 2.0)


def test_ink_that_no_line_follows_is_told_where_it_parts_regions() -> None:
    (found,) = left_ink(120.0)
    _, tips, broad = found
    assert sorted(tips[:, 1]) == pytest.approx([40 + 5, 160 - 5], abs=3.0)
    assert tips[:, 0] == pytest.approx([100.0, 100.0], abs=3.0)
    assert broad <= WIDTH
    # an end that stops half-way has one region all round
    assert left_ink(80.0) == []
    # a line beside it, within the hand's slack and a tenth, follows it
    assert left_ink(120.0, off=3.0) == []
    assert len(left_ink(120.0, off=9.0)) == 1


@pytest.mark.parametrize(("high", "told"), [(18.0, 0), (26.0, 1)])
def test_ink_left_is_longer_than_it_is_wide(high: float, told: int) -> None:
    # between two lines that are followed: of its height both half widths and the slack
    # of 3 px go, 9.5 or 17.5 px are left, against 1.2 widths
    paths = [np.array([[20.0, y], [180.0, y]]) for y in (60.0, 60.0 + high)]
    bar = np.array([[100.0, 60.0], [100.0, 60.0 + high]])
    ends = [np.array([[x, 60.0], [x, 60.0 + high]]) for x in (20.0, 180.0)]
    mask = draw_lines([*paths, *ends, bar], (160, 200), WIDTH)
    fitted = draw_lines([*paths, *ends], (160, 200), 5)
    assert len(bare_ink(mask, fitted, WIDTH, 2.0)) == told


@pytest.mark.parametrize(("crosses", "told"), [(2.0, 0), (4.0, 1)])
def test_lines_that_cross_nearby_meet(crosses: float, told: int) -> None:
    # two lines to a vertex a width off the second: they cross some widths farther on
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([200.0, 50.0]))
    off = 1.2 * WIDTH
    slope = off / np.sqrt((crosses * WIDTH) ** 2 - off**2)
    at = np.array([100.0, 50.0])
    start = at - np.array([0.0, off])
    add_line(drawing, start - 90 * np.array([1.0, slope]), start)
    v = drawing.add(at)
    drawing.pieces[0].vertices.insert(1, v)
    drawing.pieces[1].vertices[1] = v
    # how far along the second it crosses, and the distance of that from the vertex
    found = rims_that_meet(drawing)
    assert len(found) == told
    if told:
        foot = off / np.hypot(1.0, slope)
        assert found[0][1] == pytest.approx(foot)
        assert found[0][0] == (100.0, 50.0)


def many(loose: int, joined: int) -> Drawing:
    """So many lines that end free, at y = 20, x = 10 k, on ones that close."""
    drawing = Drawing([], [], WIDTH)
    for k in range(loose):
        add_line(drawing, np.array([10.0 * k, 20.0]), np.array([10.0 * k, 60.0]))
        drawing.pieces[-1].vertices[1] = 1
    add_line(drawing, np.array([0.0, 60.0]), np.array([400.0, 60.0]))
    drawing.pieces[-1].vertices = [1, 1]
    for _ in range(joined):
        drawing.pieces.append(drawing.pieces[-1])
    return drawing


@pytest.mark.parametrize(
    ("loose", "joined", "on", "told"),
    [
        (5, 0, 5, False),
        (6, 0, 6, True),
        # a tenth of all lines: of 60 six, of 62 not
        (6, 53, 6, True),
        (6, 56, 6, False),
        # four of ten on other ink
        (10, 0, 4, True),
        (10, 0, 3, False),
    ],
)
def test_ends_on_another_ink_are_enough(
    loose: int, joined: int, on: int, told: bool
) -> None:
    other = np.zeros((100, 400), bool)
    # within one and a half widths of the ends, 9 px
    other[8:12, 0 : 10 * on - 13] = True
    other[8:12, 10 * on - 13 :] = False
    drawing = many(loose, joined)
    found = ends_on(drawing, other)
    assert (found is not None) == told
    if told:
        assert found == (0.0, 20.0)
    assert ends_on(drawing, None) is None


@pytest.mark.parametrize(("away", "told"), [(8, True), (11, False)])
def test_an_end_is_on_ink_within_a_width_and_a_half(away: int, told: bool) -> None:
    other = np.zeros((100, 400), bool)
    other[: 20 - away + 1] = True
    assert (ends_on(many(8, 0), other) is not None) == told


def tipped(long: float, share: float) -> tuple[Drawing, np.ndarray]:
    """A tip of two lines, a third from there, so long, to a line; its ink so wide."""
    drawing = Drawing([], [], WIDTH)
    tip = np.array([100.0, 50.0 + long * WIDTH])
    drawing.vertices += [
        np.array(p) for p in ([0.0, 50.0], [200.0, 50.0], [100.0, 50.0], tip,
                              [60.0, 150.0], [140.0, 150.0])
    ]  # fmt: skip
    for path in ([0, 2, 1], [3, 4], [5, 3, 2]):
        a, b = (drawing.vertices[v] for v in (path[0], path[-1]))
        way = (b - a) / np.hypot(*(b - a))
        drawing.pieces.append(Piece(False, np.r_[a, way], 0.0, path, np.vstack([a, b])))
    ink = np.zeros((200, 220), np.float32)
    half = share * WIDTH / 2
    ink[:, round(100 - half) : round(100 + half)] = 1.0
    return drawing, ink


@pytest.mark.parametrize(
    ("long", "share", "out"),
    [
        # of the pen's 6 px 3 or 5 join tip and line: 0.5 or 0.83 of its width
        (1.5, 0.5, 1),
        (1.5, 0.9, 0),
        # between one width and two long
        (0.9, 0.5, 0),
        (1.1, 0.5, 1),
        (1.9, 0.5, 1),
        (2.1, 0.5, 0),
    ],
)
def test_what_joins_a_tip_to_a_line_is_narrow_and_short(
    long: float, share: float, out: int
) -> None:
    drawing, ink = tipped(long, share)
    found = drop_narrow_joins(drawing, ink, 1.0)
    assert len(found) == out
    if out:
        at, size = found[0]
        assert size == pytest.approx(long * WIDTH)
        assert at == pytest.approx((100.0, 50.0 + long * WIDTH / 2))


@pytest.mark.parametrize(("a", "b"), [((20.0, 50.0), (180.0, 50.0))])
def test_ink_across_is_the_least_and_of_a_whole_line_all(a: tuple, b: tuple) -> None:
    ink = np.zeros((100, 200), np.float32)
    ink[47:53] = 0.8
    one, two = np.array(a) - (0, 0.5), np.array(b) - (0, 0.5)
    # it is asked over one and a half widths, and of them the line has two thirds
    assert _ink_across(one, two, ink, WIDTH) == pytest.approx(0.8, rel=0.1)
    ink[50:53, 90:95] = 0.0
    assert _ink_across(one, two, ink, WIDTH) == pytest.approx(0.4, rel=0.15)


@pytest.mark.parametrize(
    ("stub", "gap", "told"),
    [
        # an end that was a width past its line, and half a one more: the next is less
        # than twice that on
        (1.0, 2.7, True),
        (1.0, 3.3, False),
        (2.0, 4.5, True),
        # nearer than three quarters of a width its ink is the next line's
        (1.0, 0.9, True),
        (1.0, 0.6, False),
    ],
)
def test_an_end_was_on_its_way_to_a_line_less_than_twice_as_far_on(
    stub: float, gap: float, told: bool
) -> None:
    drawing = Drawing([], [], WIDTH)
    add_line(drawing, np.array([0.0, 50.0]), np.array([200.0, 50.0]))
    other = 50.0 + (stub + 0.5 + gap) * WIDTH
    add_line(drawing, np.array([0.0, other]), np.array([200.0, other]))
    foot, tip = np.array([100.0, 50.0]), np.array([100.0, 50.0 + stub * WIDTH])
    drawing.stubs.append((foot, tip))
    found = short_of_lines(drawing)
    assert len(found) == told
    if told:
        assert found[0][1] == pytest.approx(gap * WIDTH, abs=0.01)
        assert found[0][0] == pytest.approx((100.0, 50.0 + (stub + 0.5) * WIDTH))


@pytest.mark.parametrize(("away", "told"), [(40.0, 1), (50.0, 0)])
def test_the_region_before_a_fork_is_met_within_seven_widths(
    away: float, told: int
) -> None:
    # a square of 7 px of paper, so far along the middle from the fork
    ink = np.ones((200, 200), bool)
    ink[97:104, 97:104] = False
    fork = Fork(np.array([100.0 - away, 100.0]), np.array([1.0, 0.0]), 36.0)
    found = small_at_forks(ink, [fork], WIDTH)
    assert len(found) == told
    for _, area in found:
        assert area == 49.0
    # the same fork twice hides no more than once
    twice = small_at_forks(ink, [fork, fork], WIDTH)
    assert len(twice) == told
    assert small_at_forks(ink, [], WIDTH) == []
