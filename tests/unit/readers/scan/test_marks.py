"""Lettering and hatching: what stands alone, in rows, or side by side."""

from __future__ import annotations

import numpy as np
import pytest

from fillwork.readers.scan.check import draw_lines
from fillwork.readers.scan.marks import (
    Mark,
    _hatching,
    _in_a_row,
    _lettering,
    _pens,
    _strays,
    _uncrossed,
)
from fillwork.readers.scan.model import Strand

WIDTH = 4.0
SCALE = 8.0
SHAPE = (400, 600)


def laid(
    paths: list[list[tuple[float, float]]], nodes: dict | None = None
) -> tuple[list[Strand], dict[int, int]]:
    """Strands along paths, each with its own nodes, and how many ends meet at each."""
    strands, met = [], {}
    for k, path in enumerate(paths):
        corners = np.array(path, float)
        long = np.hypot(*np.diff(corners, axis=0).T)
        along = np.r_[0.0, np.cumsum(long)]
        at = np.arange(0.0, along[-1] + 0.5)
        points = np.stack([np.interp(at, along, c) for c in corners.T], 1)
        stops = [(0, 2 * k), (len(points) - 1, 2 * k + 1)]
        strands.append(Strand(points, np.ones(len(points)), stops, False))
        met |= {2 * k: 1, 2 * k + 1: 1}
    return strands, met | (nodes or {})


def ink(paths: list, width: float = WIDTH) -> np.ndarray:
    return draw_lines([np.array(p, float) for p in paths], SHAPE, width)


def letters(
    paths: list, *, joined: tuple[int, ...] = (), scale: float = SCALE
) -> list[Mark]:
    strands, met = laid(paths, dict.fromkeys(joined, 3))
    return _lettering(ink(paths), WIDTH, strands, met, scale)


def hook(x: float, y: float, side: float) -> list[tuple[float, float]]:
    """A letter of one bent stroke."""
    return [(x, y), (x, y + side), (x + 0.7 * side, y + side)]


FRAME = [(20.0, 20.0), (580.0, 20.0), (580.0, 380.0), (20.0, 380.0), (20.0, 22.0)]


@pytest.mark.parametrize(("side", "left"), [(66.0, 1), (74.0, 0)])
def test_letters_are_no_larger_than_nine_millimetres(side: float, left: int) -> None:
    # 72 px, the pen's width included
    found = letters([FRAME, hook(300.0, 150.0, side)], joined=(0, 1))
    assert len(found) == left
    for mark in found:
        assert mark.what == "lettering that was left out"
        assert not mark.weighs
        assert mark.left is not None
        own = np.zeros(SHAPE, bool)
        own.flat[mark.left] = True
        assert np.array_equal(own, ink([hook(300.0, 150.0, side)]))
        assert mark.size == pytest.approx(side + WIDTH, abs=2.0)


def test_a_straight_stroke_alone_is_no_letter_and_two_that_touch_are() -> None:
    stroke = [(300.0, 150.0), (340.0, 150.0)]
    assert letters([FRAME, stroke], joined=(0, 1)) == []
    # bent by 15 % of its chord, and half a width
    bent = [(300.0, 150.0), (320.0, 150.0 + 40 * 0.13), (340.0, 150.0)]
    assert letters([FRAME, bent], joined=(0, 1)) == []
    bent[1] = (320.0, 150.0 + 40 * 0.17)
    assert len(letters([FRAME, bent], joined=(0, 1))) == 1
    # a T: the second stroke's end is joined to the first
    second = [(320.0, 150.0), (320.0, 190.0)]
    assert len(letters([FRAME, stroke, second], joined=(0, 1, 4))) == 1


@pytest.mark.parametrize(("gap", "left"), [(20.0, 0), (29.0, 1)])
def test_a_piece_whose_ends_all_point_at_lines_is_none(gap: float, left: int) -> None:
    # a bent stroke between upright lines, whose ends point at them at a slope of 3 to
    # 4: their ink begins 22 or 34 px away, of 3.5 mm 28
    bent = [(100.0, 150.0), (120.0, 165.0), (140.0, 150.0)]
    sides = [[(x, 240.0), (x, 60.0)] for x in (100 - gap, 140 + gap)]
    assert len(letters([FRAME, *sides, bent], joined=(0, 1, 2, 3, 4, 5))) == left
    # one end of two that points at nothing is enough
    one = [FRAME, sides[0], bent]
    assert len(letters(one, joined=(0, 1, 2, 3))) == 1


def test_what_stands_in_a_row_with_letters_is_one_mark() -> None:
    row = [hook(100.0 + 60 * k, 150.0, 40.0) for k in range(4)]
    (mark,) = letters([FRAME, *row], joined=(0, 1))
    assert mark.size == pytest.approx(180 + 28 + WIDTH, abs=2.0)
    assert mark.at[1] == pytest.approx(170.0, abs=2.0)
    # with a closed ring, which may be an o: no doubt beside three, one beside one
    ring = [(360 + 14 * np.cos(a), 176 + 14 * np.sin(a)) for a in np.linspace(0, 6.283)]
    (mark,) = letters([FRAME, *row, ring], joined=(0, 1, 10, 11))
    assert not mark.weighs
    (mark,) = letters([FRAME, row[-1], ring], joined=(0, 1, 4, 5))
    assert mark.weighs
    # a ring far off is a figure, or part of the pattern, if it is as large
    for radius, told in ((14.0, 1), (8.0, 0)):
        away = [(450 + radius * np.cos(a), 300 + radius * np.sin(a))
                for a in np.linspace(0, 6.283)]  # fmt: skip
        marks = letters([FRAME, *row, away], joined=(0, 1, 10, 11))
        rest = [m for m in marks if m.left is None]
        assert len(rest) == told
        assert all(m.weighs for m in rest)


@pytest.mark.parametrize(("gap", "marks"), [(38.0, 1), (50.0, 2)])
def test_letters_are_one_mark_within_their_own_size(gap: float, marks: int) -> None:
    # of 40 px and the pen's width, 28 wide, beside a frame that is much larger
    row = [hook(100.0, 150.0, 40.0), hook(128.0 + WIDTH + gap, 150.0, 40.0)]
    assert len(letters([FRAME, *row], joined=(0, 1))) == marks


def test_boxes_stand_in_a_row_by_their_height_and_the_gap() -> None:
    # left, top, right, low: of heights of 20 px three tenths are 6
    boxes = np.array([[0, 0, 10, 20], [25, 13, 35, 33], [60, 15, 70, 35]])
    first, second = _in_a_row(boxes, 20.0)
    pairs = {(a, b) for a, b in zip(first.tolist(), second.tolist(), strict=True)}
    assert (0, 1) in pairs
    # 25 px of gap are too many, and 5 px of height too few
    assert (1, 2) not in pairs
    assert (0, 2) not in pairs
    assert (1, 2) in set(
        zip(*(v.tolist() for v in _in_a_row(boxes, 26.0)), strict=True)
    )
    assert (0, 2) not in set(
        zip(*(v.tolist() for v in _in_a_row(boxes, 99.0)), strict=True)
    )


def hatched(
    count: int = 6, step: float = 14.0, long: float = 80.0, *, free: bool = True,
    pen: float = WIDTH, lines: int = 8, short: float = 1.0, ends: int = 99,
) -> list[Mark]:  # fmt: skip
    """Strokes side by side, so far apart, and lines of the pattern elsewhere.

    `free`: whether their ends are; `ends`: of how many. `pen`: their width. `short`:
    how long every second one is, against the others.
    """
    strokes = [
        [
            (100.0, 60 + step * k),
            (100.0 + long * (short if k % 2 else 1.0), 60 + step * k),
        ]
        for k in range(count)
    ]
    others = [[(400.0, 30 + 40.0 * k), (570.0, 30 + 40.0 * k)] for k in range(lines)]
    strands, met = laid(strokes + others)
    met = {n: 1 if free and n // 2 < min(count, ends) else 3 for n in met}
    mask = ink(strokes, pen) | ink(others)
    return _hatching(mask, WIDTH, strands, met, SCALE)


@pytest.mark.parametrize(
    ("change", "what"),
    [
        ({}, "left out"),
        # four are no hatching
        ({"count": 4}, None),
        ({"count": 5}, "left out"),
        # 2.6 mm are 20.8 px; half a width is one line
        ({"step": 20.0}, "left out"),
        ({"step": 22.0}, None),
        # short strokes are three widths long
        ({"long": 13.0, "step": 6.0}, "left out"),
        ({"long": 11.0, "step": 6.0}, None),
        # neighbours have a fifth of each other's length
        ({"short": 0.23}, "left out"),
        ({"short": 0.17}, None),
        # none of their ends free: narrow regions perhaps
        ({"free": False}, "narrow regions"),
        # but by a thinner pen hatching
        ({"free": False, "pen": 2.0}, "left out"),
        # a quarter of their ends, 3 of 12
        ({"ends": 1}, "narrow regions"),
        ({"ends": 2}, "left out"),
    ],
)
def test_hatching_is_many_strokes_side_by_side(change: dict, what: str | None) -> None:
    found = hatched(**change)
    assert len(found) == (what is not None)
    if what is None:
        return
    (mark,) = found
    assert what in mark.what
    assert (mark.left is None) == (what == "narrow regions")
    # with every end free it is sure
    sure = what == "left out" and change.keys().isdisjoint({"free", "ends"})
    assert mark.weighs == (not sure)


def test_of_hatching_its_strokes_are_left_and_no_line_beside() -> None:
    (mark,) = hatched()
    left = np.zeros(SHAPE, bool)
    assert mark.left is not None
    left.flat[mark.left] = True
    strokes = ink([[(100.0, 60 + 14.0 * k), (180.0, 60 + 14.0 * k)] for k in range(6)])
    # their ends may stay: the half width where they run into what they end at
    assert (left & strokes)[:, 106:174].sum() == strokes[:, 106:174].sum()
    assert not (left & ~strokes).any()
    assert mark.size == pytest.approx(80.0)
    assert mark.at == pytest.approx((140.0, 95.0), abs=0.6)


@pytest.mark.parametrize(("passed", "kept"), [(15, True), (25, False)])
def test_a_stroke_is_crossed_by_none_but_near_its_end(passed: int, kept: bool) -> None:
    strands, _ = laid([[(0, 0), (100, 0)], [(passed, -50), (passed, 50)]])
    strands[0].stops.insert(1, (passed, 9))
    strands[1].stops.insert(1, (50, 9))
    assert _uncrossed(strands, [0], 20.0) == ([0] if kept else [])
    # strokes may cross each other
    assert _uncrossed(strands, [0, 1], 20.0) == [0, 1]
    assert _uncrossed(strands[:1], [0], 20.0) == [0]


def test_how_deep_ink_is_and_how_far_places_stray() -> None:
    paths = [[(50.0, 100.0), (150.0, 100.0)], [(50.0, 200.0), (150.0, 200.0)]]
    mask = ink(paths[:1], 4) | ink(paths[1:], 10)
    strands, _ = laid(paths)
    # half a width and what a row of pixels is off
    one, two = _pens(mask, strands)
    assert one == pytest.approx(2.0, abs=0.6)
    assert two == pytest.approx(5.0, abs=0.6)
    long, off = _strays(np.array([[0.0, 0.0], [3.0, 8.0], [6.0, -1.0], [10.0, 0.0]]))
    assert (long, off) == (10.0, 8.0)
